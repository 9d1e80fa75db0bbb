"""Findings of acting parts: lost pulses, torches that burn out, repeaters locked for good, lamps that flash."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from tickwright.diagnosis.evidence import Changes, Evidence
from tickwright.diagnosis.paths import Hop, replaceable_wires
from tickwright.diagnosis.suspicion import Suspicion, put, suspicion, take
from tickwright.durations import STEPS_PER_SECOND
from tickwright.findings import Finding, Repair
from tickwright.kinds import PARTS, Part
from tickwright.measurement.pulses import pulses
from tickwright.space import HORIZONTAL, Cell, zyx

MOST_RISES = 3
MOST_DELAY = 4


# --- short pulses ------------------------------------------------------------------------------------------------


def short_pulse_lost(ev: Evidence) -> Iterator[Suspicion]:
    """A pulse that comes to a comparator's back or a torch and leaves no mark on it."""
    told: set[tuple[Cell, Cell]] = set()
    for name, shown in ev.runs():
        for hop in ev.hops:
            part = ev.geometry.parts[hop.target]
            kind = part.kind
            if PARTS[kind].behaviour not in ("comparator", "torch") or hop.port not in ("rear", "power"):
                continue
            if (hop.source, hop.target) in told or hop.loss >= ev.rules.wire.top_level or _fed_else(ev, hop):
                continue
            source, target = shown.get(hop.source, []), shown.get(hop.target, [])
            delay = ev.rules.delay_steps(part)
            lost = [
                pulse.start
                for pulse in pulses(source)
                if pulse.duration is not None
                and pulse.duration <= delay
                and not any(pulse.start < step <= pulse.start + pulse.duration + delay for step, _ in target[1:])
            ]
            if not lost:
                continue
            told.add((hop.source, hop.target))
            message = (
                f"The {ev.geometry.kind(hop.source)} at {hop.source} gives a pulse of one tick, which the {kind} at "
                f"{hop.target} misses: it looks a tick later, and the pulse is over."
            )
            cells = (hop.target, hop.source, *hop.wires)
            yield suspicion("short-pulse-lost", message, cells, ev.steps_of(name, lost), _stretched(ev, hop))


def _fed_else(ev: Evidence, hop: Hop) -> bool:
    """Whether the target hears anything else there, so that the pulse may have made no difference."""
    return any(other.source != hop.source and other.port != "lock" for other in ev.into[hop.target])


def _stretched(ev: Evidence, hop: Hop) -> Iterator[Repair]:
    part = ev.plan.cells[hop.source]
    if part.behaviour == "repeater" and part.delay == 1:
        yield Repair(f"Give the repeater at {hop.source} two ticks.", (put(hop.source, part._replace(delay=2)),))
    for edit, facing in repeaters_on(ev, hop):
        yield Repair(
            f"Put a repeater of two ticks into the wire at {edit}.", (put(edit, Part("repeater", facing, delay=2)),)
        )


def repeaters_on(ev: Evidence, hop: Hop) -> list[tuple[Cell, str]]:
    """The wires of a hop that a repeater may take the place of, with the direction of the signal there."""
    return replaceable_wires(ev.geometry, (hop.source, *hop.wires, hop.target))


# --- torches -----------------------------------------------------------------------------------------------------


def torch_burns_out(ev: Evidence) -> Iterator[Suspicion]:
    """What the engine notes when a torch burns out, with the rings it lies in slowed down."""
    for finding in _noted(ev, "torch-burns-out"):
        yield Suspicion(finding, _slower(ev, finding.cells[0]))


def _noted(ev: Evidence, code: str) -> list[Finding]:
    """The engine's notes of that code, one for each place."""
    found: dict[tuple[Cell, ...], Finding] = {}
    for finding in ev.noted():
        if finding.code == code:
            found.setdefault(finding.cells, finding)
    return list(found.values())


def _slower(ev: Evidence, cell: Cell) -> Iterator[Repair]:
    """Slower repeaters among all that drives the cell, the nearest first; or repeaters in the place of its wires."""
    near = _behind(ev, cell)
    for delay in range(2, MOST_DELAY + 1):
        for source in near:
            part = ev.plan.cells[source]
            if part.behaviour == "repeater" and part.delay < delay:
                text = f"Give the repeater at {source} {delay} ticks."
                yield Repair(text, (put(source, part._replace(delay=delay)),))
    for hop in (hop for cell in near for hop in ev.into.get(cell, ())):
        if hop.port in ("rear", "power"):
            for delay in (2, MOST_DELAY):
                for wire, facing in repeaters_on(ev, hop):
                    text = f"Put a repeater of {delay} ticks into the wire at {wire}."
                    yield Repair(text, (put(wire, Part("repeater", facing, delay=delay)),))


def _behind(ev: Evidence, cell: Cell) -> list[Cell]:
    """The cell and every part that drives it, the nearest first."""
    seen = [cell]
    for here in seen:
        for hop in ev.into.get(here, ()):
            if hop.port in ("rear", "power", "watch") and hop.source not in seen:
                seen.append(hop.source)
    return seen


# --- locks -------------------------------------------------------------------------------------------------------


def repeater_locked_for_good(ev: Evidence) -> Iterator[Suspicion]:
    """A repeater with something on at its flank from the start to the end of every run, of every trigger."""
    for cell in sorted(ev.plan.cells, key=zyx):
        if ev.plan.cells[cell].behaviour != "repeater" or not ev.complete:
            continue
        lockers = sorted(ev.geometry.fan_in(cell).lock, key=zyx)
        if not lockers:
            continue
        always = [locker for locker in lockers if all(_always_on(shown.get(locker, [])) for _, shown in ev.runs())]
        if not always:
            continue
        message = (
            f"The repeater at {cell} is locked by the {ev.plan.cells[always[0]].kind} at {always[0]}, which is on "
            "before and after every press: it never acts."
        )
        yield suspicion("repeater-locked-for-good", message, (cell, *always), (), _freed(ev, always))


def _always_on(changes: Changes) -> bool:
    return bool(changes) and all(value > 0 for _, value in changes)


def _freed(ev: Evidence, lockers: list[Cell]) -> Iterator[Repair]:
    for locker in lockers:
        for hop in ev.into.get(locker, ()):
            source = ev.plan.cells[hop.source]
            if source.behaviour == "lever" and source.thrown:
                text = f"Throw the lever at {hop.source} back."
                yield Repair(text, (put(hop.source, source._replace(thrown=False)),))
            if source.behaviour == "source":
                yield Repair(f"Take away the {source.kind} at {hop.source}.", (take(hop.source),))
    edits = tuple(take(locker) for locker in lockers)
    yield Repair("Take away what faces into its flank.", edits)
    for locker in lockers:
        part = ev.plan.cells[locker]
        for side in HORIZONTAL:
            if side != part.facing:
                yield Repair(
                    f"Turn the {part.kind} at {locker} to face {side}.", (put(locker, part._replace(facing=side)),)
                )


# --- flashing ----------------------------------------------------------------------------------------------------


def lamp_flashes(ev: Evidence) -> Iterator[Suspicion]:
    """A lamp that comes on more than three times within a second of a world at full speed (WCAG 2.2, 2.3.1)."""
    told: set[Cell] = set()
    for name, shown in ev.runs():
        for cell in sorted(shown, key=zyx):
            if ev.plan.cells.get(cell, Part("block")).behaviour != "lamp" or cell in told:
                continue
            most, step = most_rises(shown[cell])
            if most > MOST_RISES:
                told.add(cell)
                message = (
                    f"The lamp at {cell} comes on {most} times within one second: more than {MOST_RISES} flashes a "
                    "second can bring on seizures in people who are sensitive to it (WCAG 2.2, 2.3.1)."
                )
                yield suspicion("lamp-flashes", message, (cell,), ev.steps_of(name, [step]), _slower(ev, cell))


def most_rises(changes: Iterable[tuple[int, int]]) -> tuple[int, int]:
    """The most times that something comes on within any second (20 steps), and the step at which that second begins.

    Stricter than WCAG 2.2, 2.3.1, which counts pairs of opposing changes: a rise counts also if its fall comes later.

    >>> most_rises([(0, 0), (4, 15), (6, 0), (8, 15), (10, 0)])
    (2, 4)
    """
    rises = [pulse.start for pulse in pulses(changes)]
    best = (0, 0)
    first = 0
    for last, step in enumerate(rises):
        while rises[first] <= step - STEPS_PER_SECOND:
            first += 1
        if last - first + 1 > best[0]:
            best = (last - first + 1, rises[first])
    return best
