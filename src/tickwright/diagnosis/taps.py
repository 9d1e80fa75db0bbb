"""Parallel taps: a repeater and a detour round it, so that a pulse is joined with a later copy of itself."""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.findings import Edit, Repair
from tickwright.kinds import Part, part_text
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import FLANKS, HORIZONTAL, OPPOSITE, VECTORS, Cell, along, beside

WIDTH = 3  # cells along the line: wire, repeater, wire
DEPTH = 2  # cells to the side, for the detour
LONGEST_DELAY = 4


def taps(setup: Setup, trigger: Cell, missing: int, press: int) -> Iterator[Repair]:
    """Taps right behind the trigger that make its pulse longer by `missing` steps or a little more.

    The circuit beyond is moved three cells on. The direct way takes one tick, the detour over three repeaters three to
    twelve; it must not take longer than the press of `press` steps, or a gap would be left between the copies. Tried in
    every direction in which the trigger has a neighbour, with the detour on either side.
    """
    tick = setup.rules.repeater.steps_per_delay
    least = max(-(-missing // tick), 2)
    for extra in range(least, min(least + 2, press // tick, 3 * LONGEST_DELAY - 1) + 1):
        for side in HORIZONTAL:
            if setup.plan.cells.get(beside(trigger, side)) is None:
                continue
            for flank in FLANKS[side]:
                edits = _edits(setup.plan, trigger, side, flank, extra + 1)
                text = f"Lengthen the pulse by {extra} ticks with parallel taps behind the trigger."
                yield Repair(text, edits)


def _edits(plan: Plan, trigger: Cell, side: str, flank: str, detour: int) -> tuple[Edit, ...]:
    """The edits that lay taps with a detour of so many ticks on that flank of the line."""
    edits: list[Edit] = []
    size = plan.size
    far = (size[0] - 1, size[1] - 1, size[2] - 1)

    def shift(first: Cell, last: Cell, offset: Cell) -> None:
        if all(a <= b for a, b in zip(first, last, strict=True)):
            edits.append(Edit("move", first, last=last, offset=offset))

    axis = 0 if side in ("east", "west") else 1
    forward = side in ("east", "south")
    # What lies beyond the trigger goes on along the line; a trigger that looks back goes on itself, with all behind it.
    low = [0, 0, 0]
    low[axis] = trigger[axis] + (1 if forward else 0)
    offset = [0, 0, 0]
    offset[axis] = WIDTH
    shift((low[0], low[1], low[2]), far, (offset[0], offset[1], offset[2]))
    start = trigger if forward else (trigger[0] + offset[0], trigger[1] + offset[1], trigger[2])
    # Room for the detour where the grid ends.
    across = 1 - axis
    if VECTORS[flank][across] < 0 and start[across] < DEPTH:
        room = [0, 0, 0]
        room[across] = DEPTH - start[across]
        whole = (size[0] - 1 + offset[0], size[1] - 1 + offset[1], size[2] - 1)
        shift((0, 0, 0), whole, (room[0], room[1], room[2]))
        start = (start[0] + room[0], start[1] + room[1], start[2])
    delays = [min(max(detour - 2, 1), LONGEST_DELAY), 0, 0]
    delays[1] = min(max(detour - delays[0] - 1, 1), LONGEST_DELAY)
    delays[2] = detour - delays[0] - delays[1]
    first, middle, last = (along(start, side, number) for number in (1, 2, 3))
    laid = {
        first: Part("wire"),
        middle: Part("repeater", side),
        last: Part("wire"),
        beside(first, flank): Part("repeater", flank, delay=delays[0]),
        along(first, flank, 2): Part("wire"),
        along(middle, flank, 2): Part("repeater", side, delay=delays[1]),
        along(last, flank, 2): Part("wire"),
        beside(last, flank): Part("repeater", OPPOSITE[flank], delay=delays[2]),
    }
    floors = {beside(cell, "down") for cell in laid}
    edits += [Edit("place", cell, "block") for cell in sorted(floors)]
    edits += [Edit("place", cell, part_text(part)) for cell, part in sorted(laid.items())]
    return tuple(edits)
