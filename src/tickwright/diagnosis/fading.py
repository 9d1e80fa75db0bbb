"""Findings of loops: a trigger that is too short, a level that dies on the way round, a loop that never fades."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.paths import Loop, replaceable_wires
from tickwright.diagnosis.suspicion import Suspicion, put, row_text, suspicion, take
from tickwright.diagnosis.taps import taps
from tickwright.durations import time_text
from tickwright.findings import Repair
from tickwright.kinds import BUTTONS, PASSING, Part
from tickwright.measurement.pulses import Pulse
from tickwright.space import VECTORS, Cell, beside

MOST_STEPS_TOLD = 20


def trigger_too_short(ev: Evidence) -> Iterator[Suspicion]:
    """A press that runs round a loop as pulses, a turn apart, instead of filling it."""
    for name, trigger in ev.triggers.items():
        for loop in ev.loops:
            train = _train(ev, name, loop)
            if train is None or loop.mean == 0:
                continue  # what never fades and goes round as pulses is a clock
            cell, found = train
            press = found[0].duration or 0
            message = (
                f'A press of "{name}" reaches the loop at {cell} for {time_text(press)}, but one turn of its '
                f"{len(loop.parts)} parts takes {time_text(loop.turn_steps)}: level and gap run round it as "
                f"{len(found)} pulses. A slower repeater only moves the pulse; a longer one fills the loop."
            )
            starts = [pulse.start for pulse in found[:MOST_STEPS_TOLD]]
            missing = loop.turn_steps - press
            yield suspicion(
                "trigger-too-short",
                message,
                (trigger.cell, *loop.cells),
                ev.steps_of(name, starts),
                _longer_triggers(ev, name, missing, press),
            )


def _train(ev: Evidence, trigger: str, loop: Loop) -> tuple[Cell, list[Pulse]] | None:
    """The part of the loop that pulses first after the press, with its pulses, if they come a turn apart."""
    firsts = []
    for cell in loop.parts:
        found = ev.pulses(trigger, cell)
        gaps = {after.start - before.start for before, after in pairwise(found)}
        if loop.turn_steps in gaps and (found[0].duration or 0) < loop.turn_steps:
            firsts.append((found[0].start, cell, found))
    return min(firsts)[1:] if firsts else None


def _longer_triggers(ev: Evidence, name: str, missing: int, press: int) -> Iterator[Repair]:
    cell = ev.plan.triggers[name]
    part = ev.plan.cells.get(cell)
    if part is not None and part.kind in BUTTONS:
        for kind in BUTTONS:
            if kind != part.kind and ev.rules.button_steps(kind) - ev.rules.button_steps(part.kind) >= missing:
                yield Repair(f"Use a {kind.replace('-', ' ')}.", (put(cell, part._replace(kind=kind)),))
    yield from taps(ev.setup, cell, missing, press)


# --- the level dies ----------------------------------------------------------------------------------------------


def level_dies_in_loop(ev: Evidence) -> Iterator[Suspicion]:
    """A ring of parts whose wires take all of the level."""
    for loop in ev.loops:
        if loop.closes:
            continue
        between = "between two repeaters of the loop" if loop.restores else "a turn"
        message = (
            f"The wires of the loop take {loop.loss} levels {between}, of {loop.top_level} that there are at most: "
            f"nothing comes round. The way: {row_text(loop.cells)}."
        )
        yield suspicion("level-dies-in-loop", message, loop.cells, (), _fewer_losses(ev, loop))


def _fewer_losses(ev: Evidence, loop: Loop) -> Iterator[Repair]:
    """Comparators in the place of straight wires, one more each time, spread over the loop."""
    cells = loop.cells
    straight = replaceable_wires(ev.geometry, (*cells, *cells[:2]))
    spread: list[tuple[Cell, str]] = []
    for cell, facing in straight:
        if not any(beside(cell, side) == other for other, _ in spread for side in VECTORS):
            spread.append((cell, facing))
    for count in range(1, len(spread) + 1):
        edits = tuple(put(cell, Part("comparator", facing)) for cell, facing in spread[:count])
        yield Repair(f"Put {_number(count, 'comparator')} in the place of wire.", edits)


def _number(count: int, word: str) -> str:
    return f"a {word}" if count == 1 else f"{count} {word}s"


# --- the level never dies ----------------------------------------------------------------------------------------


def loop_never_fades(ev: Evidence) -> Iterator[Suspicion]:
    """A ring that loses nothing, and that a press charges for ever."""
    for loop in ev.loops:
        if loop.mean != 0 or not loop.closes:
            continue
        for name in ev.triggers:
            for_ever = [cell for cell in loop.parts if _for_ever(ev, name, cell)]
            if not for_ever:
                continue
            why = "a repeater in it gives 15 anew" if loop.restores else "it loses no level"
            message = (
                f'What "{name}" lets into the loop never fades: {why}, so a turn costs no level (its max-plus mean is '
                f"{loop.mean} levels a step over a turn of {time_text(loop.turn_steps)}). "
                f"The way: {row_text(loop.cells)}."
            )
            yield suspicion("loop-never-fades", message, loop.cells, (), _some_losses(ev, loop))
            break


def _for_ever(ev: Evidence, trigger: str, cell: Cell) -> bool:
    seen, changes = ev.press(trigger), ev.changes(trigger, cell)
    if changes[0][1] > 0 or not seen.decided:
        return False
    return changes[-1][1] > 0 or seen.toggles_for_ever(str(cell))


def _some_losses(ev: Evidence, loop: Loop) -> Iterator[Repair]:
    parts = ev.plan.cells
    repeaters = [cell for cell in loop.parts if parts[cell].behaviour == "repeater"]
    if repeaters:
        edits = tuple(put(cell, Part("comparator", parts[cell].facing)) for cell in repeaters)
        yield Repair(f"Put {_number(len(edits), 'comparator')} in the place of the loop's repeaters.", edits)
    wires = {wire for hop in loop.hops for wire in hop.wires}
    for wire in sorted(wires):
        for side in VECTORS:
            block, above = beside(wire, side), beside(beside(wire, side), "up")
            if ev.geometry.kind(block) in PASSING and ev.geometry.is_wire(above):
                edits = (take(above), put(block, "wire"))
                yield Repair("Let the wire run on level instead of climbing.", edits)
    for cell in loop.parts:
        if parts[cell].behaviour == "comparator":
            yield Repair(f"Put a wire in the place of the comparator at {cell}.", (put(cell, "wire"),))
    for cell in repeaters:
        others = tuple(put(other, Part("comparator", parts[other].facing)) for other in repeaters if other != cell)
        yield Repair("Put comparators and a wire in the place of the loop's repeaters.", (*others, put(cell, "wire")))
