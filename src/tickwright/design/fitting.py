"""Whether, and where, a plan fits in a room, in all its rotations and mirror images."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tickwright.design.wish import Design, Fit, Room
from tickwright.plan import Plan, crop
from tickwright.space import Cell
from tickwright.verify.copies import oriented

__all__ = ["fit", "fits", "in_room", "lying", "plus"]


def fit(plan: Plan, room: Room) -> Fit | None:
    """The first way in which the plan, as it is laid, fits in the room; None if there is none.

    >>> from tickwright.kinds import parse_part
    >>> plan = Plan({(x, 0, 0): parse_part("block") for x in range(3)}, {"press": (0, 0, 0)}, {"lamp": (2, 0, 0)})
    >>> fit(plan, Room((1, 4, 1), blocked=frozenset({(0, 0, 0)})))
    Fit(quarter_turns=1, mirrored=False, offset=(0, 1, 0))
    >>> fit(plan, Room((2, 2, 1))) is None
    True
    """
    return next(fits(plan, room), None)


def fits(plan: Plan, room: Room) -> Iterator[Fit]:
    """Every way in which the plan fits: as it is, turned, then mirrored; of each, corners in (z, y, x) order.

    The plan's first trigger must lie where the room is entered, its first output where it is left.
    """
    laid = crop(plan)
    for mirrored in (False, True):
        for turns in range(4):
            yield from (Fit(turns, mirrored, offset) for offset in _offsets(oriented(laid, turns, mirrored), room))


def in_room(plan: Plan, room: Room, how: Fit) -> Plan:
    """The plan as it lies in the room, whose grid is the room's."""
    laid = oriented(crop(plan), how.quarter_turns, how.mirrored)

    def moved(cell: Cell) -> Cell:
        return plus(cell, how.offset)

    return replace(
        laid,
        cells={moved(cell): part for cell, part in laid.cells.items()},
        triggers={name: moved(cell) for name, cell in laid.triggers.items()},
        outputs={name: moved(cell) for name, cell in laid.outputs.items()},
        size=room.size,
    )


def lying(design: Design, room: Room | None) -> Plan:
    """A design's plan as it lies in the room that was wished for; as it is if there was none."""
    return design.plan if room is None or design.fit is None else in_room(design.plan, room, design.fit)


def _offsets(plan: Plan, room: Room) -> Iterator[Cell]:
    spare = [length - needed for length, needed in zip(room.size, plan.size, strict=True)]
    if min(spare) < 0:
        return
    trigger, output = (next(iter(names.values()), None) for names in (plan.triggers, plan.outputs))
    ways = [range(more + 1) for more in spare]
    for where, cell in ((room.enter, trigger), (room.leave, output)):
        if cell is None:
            continue
        for axis, value in room.fixed(where):
            only = value - cell[axis]
            if only not in ways[axis]:
                return
            ways[axis] = range(only, only + 1)
    held = {*plan.cells, *plan.triggers.values(), *plan.outputs.values()}
    forbidden = {
        (bx - x, by - y, bz - z) for bx, by, bz in room.blocked for x, y, z in held
    }  # at such an offset a part would lie in a blocked cell
    for z in ways[2]:
        for y in ways[1]:
            for x in ways[0]:
                if (x, y, z) not in forbidden:
                    yield x, y, z


def plus(cell: Cell, offset: Cell) -> Cell:
    """The cell moved by an offset."""
    return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])
