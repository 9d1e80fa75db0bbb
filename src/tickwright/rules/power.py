"""Power: which sources power a cell, strongly or weakly, and which sources each port of a part hears.

A *source* is the cell of a part that gives a level: a wire, repeater, comparator, torch, lever, button, plate,
change-sensor or power-block. A conducting cell between a source and a listener adds nothing of its own, so each port
comes down to a set of sources, and the level at the port is the highest of theirs. Small pure functions of a Layout.
"""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.kinds import CONTAINERS, PARTS, Part
from tickwright.rules.layout import Layout
from tickwright.rules.wire import points
from tickwright.space import DIRECTIONS, FLANKS, HORIZONTAL, OPPOSITE, Cell, beside

Sources = frozenset[Cell]
NOTHING: Sources = frozenset()


def gives(layout: Layout, source: Cell, side: str) -> bool:
    """Whether the part in `source`, when on, gives its level straight to a listening part at its `side`.

    Wires are left out: whether they are heard depends on where they point.
    """
    part = layout.parts.get(source)
    if part is None:
        return False
    match PARTS[part.kind].gives:
        case "around":
            return True
        case "front":
            return part.facing == side
        case "not-support":
            return part.facing != side
        case "":
            return False


def powers(part: Part, side: str) -> bool:
    """Whether the part, when on, strongly powers a conducting cell at its `side`."""
    match PARTS[part.kind].powers:
        case "front" | "facing":
            return part.facing == side
        case "above":
            return side == "up"
        case "below":
            return side == "down"
        case "":
            return False


def strong_sources(layout: Layout, cell: Cell) -> Sources:
    """The sources that power a conducting cell strongly."""
    if not layout.conducts(cell):
        return NOTHING
    known = layout.strong.get(cell)
    if known is not None:
        return known
    found = set()
    for side in DIRECTIONS:
        there = beside(cell, side)
        part = layout.parts.get(there)
        if part is not None and powers(part, OPPOSITE[side]):
            found.add(there)
    layout.strong[cell] = strong = frozenset(found)
    return strong


def weak_sources(layout: Layout, cell: Cell) -> Sources:
    """The wires that power a conducting cell weakly: one on top of it, those that point into it."""
    if not layout.conducts(cell):
        return NOTHING
    found = {beside(cell, "up")} if layout.is_wire(beside(cell, "up")) else set()
    for side in HORIZONTAL:
        there = beside(cell, side)
        if layout.is_wire(there) and OPPOSITE[side] in points(layout, there):
            found.add(there)
    return frozenset(found)


def heard_through(layout: Layout, cell: Cell, side: str) -> Sources:
    """The sources that a part in `cell` which hears both kinds of power hears through its neighbour at `side`."""
    there = beside(cell, side)
    part = layout.parts.get(there)
    if part is None:
        return NOTHING
    if part.behaviour == "wire":
        heard = side == "up" or OPPOSITE[side] in points(layout, there)
        return frozenset((there,)) if heard else NOTHING
    direct = frozenset((there,)) if gives(layout, there, OPPOSITE[side]) else NOTHING
    return direct | strong_sources(layout, there) | weak_sources(layout, there)


def wire_sources(layout: Layout, wire: Cell) -> Sources:
    """The sources a wire hears at full level: neighbours that give to it, and strong power of its neighbours."""
    found: set[Cell] = set()
    for side in DIRECTIONS:
        there = beside(wire, side)
        if gives(layout, there, OPPOSITE[side]):
            found.add(there)
        found |= strong_sources(layout, there)
    return frozenset(found)


def rear_sources(layout: Layout, cell: Cell) -> Sources:
    """What a repeater or comparator hears at its back: also a wire directly behind it, whatever its shape."""
    back = OPPOSITE[str(layout.parts[cell].facing)]
    there = beside(cell, back)
    if layout.is_wire(there):
        return frozenset((there,))
    return heard_through(layout, cell, back)


def lock_sources(layout: Layout, cell: Cell) -> Sources:
    """The repeaters and comparators that lock the repeater in `cell` while they are on."""
    return frozenset(there for there, part in _facing_flanks(layout, cell) if PARTS[part.kind].locks)


def flank_sources(layout: Layout, cell: Cell) -> Sources:
    """What a comparator hears at its flanks: wires of any shape, power-blocks, and what faces into it."""
    found = {there for there, part in _facing_flanks(layout, cell) if PARTS[part.kind].at_flank == "facing"}
    for side in FLANKS[str(layout.parts[cell].facing)]:
        part = layout.parts.get(beside(cell, side))
        if part is not None and PARTS[part.kind].at_flank == "always":
            found.add(beside(cell, side))
    return frozenset(found)


def _facing_flanks(layout: Layout, cell: Cell) -> Iterator[tuple[Cell, Part]]:
    """What faces into either flank."""
    for side in FLANKS[str(layout.parts[cell].facing)]:
        there = beside(cell, side)
        part = layout.parts.get(there)
        if part is not None and part.facing == OPPOSITE[side]:
            yield there, part


def read_container(layout: Layout, cell: Cell) -> tuple[Cell, bool] | None:
    """The container a comparator reads, and whether directly (it lies behind) or through one conducting cell."""
    back = OPPOSITE[str(layout.parts[cell].facing)]
    behind = beside(cell, back)
    if layout.kind(behind) in CONTAINERS:
        return behind, True
    beyond = beside(behind, back)
    if layout.conducts(behind) and layout.kind(beyond) in CONTAINERS:
        return beyond, False
    return None


def power_sources(layout: Layout, cell: Cell) -> Sources:
    """What the part in the cell hears: a repeater or comparator at its back, others on the sides that their row says.

    A torch hears only the cell it is fixed to; a piston all neighbours but its face, and what would power the cell
    above it through any neighbour of that cell but the piston (`piston.hears_above`).
    """
    part = layout.parts[cell]
    kind = PARTS[part.kind]
    match kind.hears:
        case "back":
            return rear_sources(layout, cell)
        case "facing":
            sides: tuple[str, ...] = (str(part.facing),)
        case "not-face":
            sides = tuple(side for side in DIRECTIONS if side != part.facing)
        case "around":
            sides = DIRECTIONS
        case "":
            raise ValueError(f"a {part.kind} hears nothing")
    found: set[Cell] = set()
    for side in sides:
        found |= heard_through(layout, cell, side)
    if kind.behaviour == "piston" and layout.rules.piston.hears_above:
        above = beside(cell, "up")
        for side in DIRECTIONS:
            if side != "down":
                found |= heard_through(layout, above, side)
    return frozenset(found)


def watched_cell(layout: Layout, cell: Cell) -> Cell:
    """The cell a change-sensor watches: the one behind it."""
    return beside(cell, OPPOSITE[str(layout.parts[cell].facing)])


def is_ahead(layout: Layout, cell: Cell) -> bool:
    """Whether the cell in front holds a repeater or comparator that does not face head-on into this part.

    It decides the priority of a repeater's or comparator's schedule.
    """
    facing = str(layout.parts[cell].facing)
    front = layout.parts.get(beside(cell, facing))
    return front is not None and PARTS[front.kind].hastens and front.facing != OPPOSITE[facing]
