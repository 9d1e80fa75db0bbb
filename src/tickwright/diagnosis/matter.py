"""Findings of matter: containers that nothing comes into or goes out of; pistons and what they move."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tickwright.diagnosis.acting import repeaters_on
from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.suspicion import Suspicion, put, suspicion, take
from tickwright.findings import Edit, Repair
from tickwright.kinds import CONTAINERS, PARTS, Part
from tickwright.space import Cell, beside, zyx

ENGINE_CODES = ("piston-blocked", "piston-cannot-pull", "cell-left-behind", "part-broke", "item-lost")


def containers(ev: Evidence) -> Iterator[Suspicion]:
    """Hoppers that keep what they hold, and containers into which nothing comes, in all runs."""
    cells = ev.plan.cells
    if not ev.complete:
        return
    hoppers = [cell for cell in sorted(cells, key=zyx) if cells[cell].behaviour == "hopper"]
    stuck = {cell for cell in hoppers if cells[cell].items and not _moves(ev, cell, -1)}
    for cell in sorted(stuck, key=zyx):
        message = f"The hopper at {cell} holds {cells[cell].items} items and lets none go: {_why_kept(ev, cell)}."
        yield suspicion("container-never-drains", message, (cell, _goal(ev, cell)), (), _drained(ev, cell))
    for cell in sorted((cell for cell in cells if cells[cell].kind in CONTAINERS), key=zyx):
        feeders = [
            other
            for other in sorted(cells, key=zyx)
            if (cells[other].behaviour == "hopper" and _goal(ev, other) == cell)
            or (cells[other].behaviour == "ejector" and beside(other, str(cells[other].facing)) == cell)
        ]
        if not feeders or any(feeder in stuck for feeder in feeders) or _moves(ev, cell, 1):
            continue
        message = f"Not one item comes into the {cells[cell].kind} at {cell}: {_why_dry(ev, feeders[0])}."
        yield suspicion("container-never-fills", message, (cell, *feeders), (), _filled(ev, cell, feeders))


def _goal(ev: Evidence, hopper: Cell) -> Cell:
    return ev.geometry.hopper_ends(hopper)[0]


def _moves(ev: Evidence, cell: Cell, sign: int) -> bool:
    """Whether the count goes up (1) or down (-1) in any run or in the first steps of the world."""
    shown = [ev.idle[0].get(cell, []), *(changes.get(cell, []) for _, changes in ev.runs())]
    return any((after - before) * sign > 0 for changes in shown for (_, before), (_, after) in pairwise(changes))


def _why_kept(ev: Evidence, cell: Cell) -> str:
    goal = _goal(ev, cell)
    part = ev.plan.cells.get(goal)
    if part is None or part.kind not in CONTAINERS:
        return f"at {goal}, where it pushes, is no container"
    if part.items >= ev.rules.capacity(part.kind):
        return f"the {part.kind} at {goal} is full"
    return "it is powered in every run, and a powered hopper stands still"


def _why_dry(ev: Evidence, feeder: Cell) -> str:
    part = ev.plan.cells[feeder]
    if part.items == 0:
        return f"the {part.kind} at {feeder} is empty"
    return f"the {part.kind} at {feeder} is never powered" if part.behaviour == "ejector" else "it has no room"


def _drained(ev: Evidence, cell: Cell) -> Iterator[Repair]:
    part = ev.plan.cells[cell]
    for side in PARTS["hopper"].directions:
        other = ev.plan.cells.get(beside(cell, side))
        if side != part.facing and other is not None and other.kind in CONTAINERS:
            yield Repair(f"Turn the hopper to push {side}.", (put(cell, part._replace(facing=side)),))
    goal = _goal(ev, cell)
    there = ev.plan.cells.get(goal)
    if there is None:
        yield Repair("Put a crate where it pushes.", (put(goal, "crate"),))
    elif there.kind in CONTAINERS and there.items:
        yield Repair(f"Empty the {there.kind} at {goal}.", (put(goal, there._replace(items=0)),))
    yield from _unpowered(ev, cell)


def _unpowered(ev: Evidence, cell: Cell) -> Iterator[Repair]:
    """Without what powers the cell: a power-block if that does it, however far off, before what only passes it on."""
    sources = {other: part.kind for other, part in ev.plan.cells.items() if part.behaviour == "source"}
    for block in sorted(sources, key=zyx):
        yield Repair(f"Take away the {sources[block]} at {block}, whose power comes to it.", (take(block),))
    for source in sorted(ev.geometry.fan_in(cell).power, key=zyx):
        here = ev.plan.cells[source]
        if here.behaviour == "lever" and here.thrown:
            yield Repair(f"Throw the lever at {source} back.", (put(source, here._replace(thrown=False)),))
        yield Repair(f"Take away the {here.kind} at {source}, which powers it.", (take(source),))


def _filled(ev: Evidence, cell: Cell, feeders: list[Cell]) -> Iterator[Repair]:
    for feeder in feeders:
        part = ev.plan.cells[feeder]
        if part.items == 0:
            yield Repair(f"Put 16 items into the {part.kind} at {feeder}.", (put(feeder, part._replace(items=16)),))
    here = ev.plan.cells[cell]
    if here.items:
        yield Repair(f"Empty the {here.kind} at {cell}.", (put(cell, here._replace(items=0)),))
    for feeder in feeders:
        yield from _unpowered(ev, feeder)


def moved_matter(ev: Evidence) -> Iterator[Suspicion]:
    """What the engine notes of pistons and of items, each place once."""
    told: set[tuple[str, tuple[Cell, ...]]] = set()
    for finding in ev.noted():
        if finding.code in ENGINE_CODES and (finding.code, finding.cells) not in told:
            told.add((finding.code, finding.cells))
            proposals = _PROPOSALS[finding.code](ev, finding.cells)
            yield Suspicion(finding, proposals)


def _unblocked(ev: Evidence, cells: tuple[Cell, ...]) -> Iterator[Repair]:
    _, blocking = cells
    part = ev.plan.cells.get(blocking)
    if part is None:
        return
    yield Repair(f"Put a block in the place of the {part.kind} at {blocking}.", (put(blocking, "block"),))
    yield Repair(f"Take away the {part.kind} at {blocking}.", (take(blocking),))


def _longer_pulse(ev: Evidence, cells: tuple[Cell, ...]) -> Iterator[Repair]:
    for hop in ev.into.get(cells[0], ()):
        source = ev.plan.cells[hop.source]
        if source.behaviour == "repeater" and source.delay < 2:
            yield Repair(f"Give the repeater at {hop.source} two ticks.", (put(hop.source, source._replace(delay=2)),))
        for wire, facing in repeaters_on(ev, hop):
            edits = (put(wire, Part("repeater", facing, delay=2)),)
            yield Repair(f"Put a repeater of two ticks into the wire at {wire}.", edits)


def _kept(ev: Evidence, cells: tuple[Cell, ...]) -> Iterator[Repair]:
    part = ev.plan.cells.get(cells[0])
    if part is not None:
        yield Repair(f"Take away the {part.kind} at {cells[0]}.", (take(cells[0]),))


def _floored(ev: Evidence, cells: tuple[Cell, ...]) -> Iterator[Repair]:
    x, y, z = cells[0]
    room = (max(0, -x), max(0, -y), 0)  # beyond the edge of the grid: all moves on first
    far = (ev.plan.size[0] - 1, ev.plan.size[1] - 1, ev.plan.size[2] - 1)
    moved = (Edit("move", (0, 0, 0), last=far, offset=room),) if any(room) else ()
    for level in range(z - 1, -1, -1):
        if (x, y, level) not in ev.plan.cells:
            goal = (x + room[0], y + room[1], level)
            yield Repair(f"Put a block below, at {goal}.", (*moved, put(goal, "block")))


_PROPOSALS = {
    "piston-blocked": _unblocked,
    "piston-cannot-pull": _unblocked,
    "cell-left-behind": _longer_pulse,
    "part-broke": _kept,
    "item-lost": _floored,
}
