"""Findings that take many runs: answers that hang on the order of telling, and copies that stand too near."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import replace

from tickwright.diagnosis.acting import repeaters_on
from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.suspicion import Suspicion, put, row_text, suspicion
from tickwright.findings import Edit, Repair
from tickwright.kinds import PASSING, Part, kinds_with
from tickwright.measurement.observe import Observation, observe
from tickwright.measurement.press import find_trigger
from tickwright.plan.setup import Setup
from tickwright.space import Cell, zyx

PASSIVE = (*kinds_with("wire", "lamp"), *PASSING)
MOST_DELAY = 4
MOST_APART = 3


def order_sensitive(ev: Evidence) -> Iterator[Suspicion]:
    """A press that is answered differently in another order of telling, turned or mirrored."""
    from tickwright.verify.orders import order_verdicts

    for name in ev.triggers:
        if not ev.press(name).decided:
            continue  # it goes on for longer than a day: there is no answer to compare
        verdict = order_verdicts(ev.plan, ev.rules, name)[0]
        if not verdict.sensitive:
            continue
        variants = {parting.variant for parting in verdict.partings}
        outputs = ", ".join(dict.fromkeys(parting.output for parting in verdict.partings))
        step, tied = _tie(ev, name, variants)
        parts = ", ".join(f"the {ev.plan.cells[cell].kind} at {cell}" for cell in tied if cell in ev.plan.cells)
        message = (
            f'What "{name}" does to {outputs} hangs on a tie: it differs in {len(variants)} of '
            f"{len(verdict.variants)} orders and turns. Due in one step are {parts or 'parts that are not watched'}."
        )
        steps = ev.steps_of(name, [step] if step is not None else [])
        yield suspicion("order-sensitive", message, tied, steps, _separated(ev, tied))


def _tie(ev: Evidence, name: str, variants: set[str]) -> tuple[int | None, list[Cell]]:
    """The first step, from the press, at which any cell differs, and the parts of which one acts on the other then."""
    from tickwright.verify.copies import oriented
    from tickwright.verify.orders import ORDERS, ORIENTATIONS, order_text, turn_text

    laid = replace(ev.plan, outputs=ev.watched)
    first = ev.press(name)
    others: list[Observation] = []
    for order in ORDERS[1:]:
        if order_text(order) in variants:
            others.append(observe(Setup(laid, ev.rules, order), ev.triggers[name]))
            break
    for how in ORIENTATIONS:
        if not others and turn_text(*how) in variants:
            turned = oriented(laid, *how)
            setup = Setup(turned, ev.rules)
            others.append(observe(setup, find_trigger(setup, name)))
    best: tuple[int | None, list[Cell]] = (None, [])
    for other in others:
        apart = {key: _parting(first, other, key) for key in ev.watched}
        steps = [step for step in apart.values() if step is not None]
        if steps:
            step = min(steps)
            split = {ev.watched[key] for key, at in apart.items() if at == step}
            best = (step, _tied(ev, [first, other], split, step))
    return best


def _parting(one: Observation, other: Observation, key: str) -> int | None:
    """The first step at which the two observations show different values of that name."""
    found = set(one.changes[key]) ^ set(other.changes[key])
    return min((step for step, _ in found), default=None)


def _tied(ev: Evidence, seen: list[Observation], split: set[Cell], step: int) -> list[Cell]:
    """The acting parts that differ, and those that drive them and change in the same step."""
    changing = {cell for key, cell in ev.watched.items() for one in seen for at, _ in one.changes[key] if at == step}
    acting = {cell for cell in split if ev.geometry.kind(cell) not in (None, *PASSIVE)} or split
    tied = set(acting)
    for cell in acting:
        tied.update(hop.source for hop in ev.into.get(cell, ()) if hop.source in changing)
    return sorted(tied, key=zyx)


def _separated(ev: Evidence, tied: list[Cell]) -> Iterator[Repair]:
    """A tick more for one of the parts that tie, for one that drives it, or a repeater in its wire."""
    near = list(tied)
    for cell in near:
        near += [hop.source for hop in ev.into.get(cell, ()) if hop.source not in near]
        if len(near) > 12:
            break
    for cell in near:
        part = ev.plan.cells.get(cell)
        for delay in range(part.delay + 1, MOST_DELAY + 1) if part is not None and part.behaviour == "repeater" else ():
            ticks = f"{delay} ticks"
            yield Repair(f"Give the repeater at {cell} {ticks}.", (put(cell, part._replace(delay=delay)),))  # type: ignore[union-attr]
    for hop in (hop for cell in near for hop in ev.into.get(cell, ())):
        for wire, facing in repeaters_on(ev, hop):
            yield Repair(f"Put a repeater into the wire at {wire}.", (put(wire, Part("repeater", facing)),))


# --- neighbours --------------------------------------------------------------------------------------------------

_NUMBERED = re.compile(r"(.+)(-[0-9]+)")


def copy_of(name: str, names: Collection[str]) -> str:
    """Which copy a name belongs to: "-2" for "lamp-2" if there is a "lamp", "" for a name that is no other's copy.

    >>> copy_of("lamp-2-3", ["lamp", "lamp-2", "lamp-2-3"]), copy_of("lamp", ["lamp"])
    ('-2-3', '')
    """
    match = _NUMBERED.fullmatch(name)
    return copy_of(match[1], names) + match[2] if match and match[1] in names else ""


def neighbour_too_near(ev: Evidence) -> Iterator[Suspicion]:
    """A press of one copy that changes an output of another, where both copies have triggers and outputs."""
    plan = ev.plan
    owners = {name: copy_of(name, plan.triggers) for name in plan.triggers}
    holders = {name: copy_of(name, plan.outputs) for name in plan.outputs}
    copies = set(owners.values()) & set(holders.values())
    told: set[tuple[str, str]] = set()
    for name in ev.triggers if len(copies) > 1 else ():
        own = owners[name]
        for output, cell in plan.outputs.items():
            other = holders[output]
            if own == other or (own, other) in told or not copies >= {own, other}:
                continue
            if not ev.press(name).settled or len(ev.changes(name, cell)) < 2:
                continue
            told |= {(own, other), (other, own)}
            way = _way(ev, plan.triggers[name], cell)
            message = (
                f'A press of "{name}" changes {output}, an output of another copy: they stand too near. '
                f"The way: {row_text(way)}."
            )
            steps = ev.steps_of(name, [ev.changes(name, cell)[1][0]])
            yield suspicion("neighbour-too-near", message, way, steps, _moved_apart(ev, own, other))


def _way(ev: Evidence, start: Cell, end: Cell) -> list[Cell]:
    """The shortest way by hops from one cell to another, wires included; both alone if there is none."""
    came: dict[Cell, tuple[Cell, tuple[Cell, ...]]] = {start: (start, ())}
    queue = [start]
    for here in queue:
        for hop in ev.out_of.get(here, ()):
            if hop.target not in came:
                came[hop.target] = (here, hop.wires)
                queue.append(hop.target)
    if end not in came:
        return [start, end]
    way = [end]
    while way[0] != start:
        before, wires = came[way[0]]
        way = [before, *wires, *way]
    return way


def _moved_apart(ev: Evidence, own: str, other: str) -> Iterator[Repair]:
    """Everything beyond a cut between the two copies goes one, two or three cells on."""
    plan = ev.plan
    named = [(cell, copy_of(name, table)) for table in (plan.triggers, plan.outputs) for name, cell in table.items()]
    far = (plan.size[0] - 1, plan.size[1] - 1, plan.size[2] - 1)
    for distance in range(1, MOST_APART + 1):
        for axis in (0, 1):
            ones = [cell[axis] for cell, copy in named if copy == own]
            others = [cell[axis] for cell, copy in named if copy == other]
            low, high = (ones, others) if max(ones) < min(others) else (others, ones)
            for cut in range(max(low) + 1, min(high) + 1):
                first, offset = [0, 0, 0], [0, 0, 0]
                first[axis], offset[axis] = cut, distance
                edit = Edit("move", (first[0], first[1], first[2]), last=far, offset=(offset[0], offset[1], offset[2]))
                cells = "a cell" if distance == 1 else f"{distance} cells"
                yield Repair(f"Move the second copy {cells} away.", (edit,))
