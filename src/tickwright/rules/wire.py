"""Wires: which sides they join, where they point, and where level flows.

Small pure functions of a Layout; drawings and both engines use them.
"""

from __future__ import annotations

from tickwright.kinds import PARTS
from tickwright.rules.layout import Layout
from tickwright.space import FLANKS, HORIZONTAL, OPPOSITE, Cell, beside


def is_joined(layout: Layout, wire: Cell, side: str) -> bool:
    """Whether the wire joins what is at its horizontal `side`; even where no level can come down."""
    there = beside(wire, side)
    part = layout.parts.get(there)
    if part is not None:
        draws = PARTS[part.kind].draws_join
        if draws == "always" or (draws and part.facing == OPPOSITE[side]) or (draws == "axis" and part.facing == side):
            return True
    climbs = layout.is_wire(beside(there, "up")) and not layout.conducts(beside(wire, "up"))
    if climbs and layout.carries(there, "up"):
        return True
    return not layout.conducts(there) and layout.is_wire(beside(there, "down"))


def joins(layout: Layout, wire: Cell) -> tuple[str, ...]:
    """The horizontal sides that the wire joins."""
    return tuple(side for side in HORIZONTAL if is_joined(layout, wire, side))


def points(layout: Layout, wire: Cell) -> tuple[str, ...]:
    """The horizontal sides that the wire points to: what it powers weakly there, and which parts there hear it.

    It also always powers the cell under it, never the one above. Rule sets differ here (`wire.pointing`).
    """
    joined = joins(layout, wire)
    if not joined:
        return HORIZONTAL
    if layout.rules.wire.pointing == "through":
        return tuple(
            side
            for side in HORIZONTAL
            if OPPOSITE[side] in joined and not any(flank in joined for flank in FLANKS[side])
        )
    axis = {joined[0], OPPOSITE[joined[0]]}
    if all(side in axis for side in joined):
        return tuple(side for side in HORIZONTAL if side in axis)
    return joined


def inflows(layout: Layout, wire: Cell) -> tuple[Cell, ...]:
    """The wires from which level flows into this one, each with the loss of one cell."""
    found = []
    roofed = layout.conducts(beside(wire, "up"))
    for side in HORIZONTAL:
        there = beside(wire, side)
        if layout.is_wire(there):
            found.append(there)
        above = beside(there, "up")
        if not roofed and layout.is_wire(above) and layout.conducts(there):
            found.append(above)
        below = beside(there, "down")
        if layout.is_wire(below) and not layout.conducts(there):
            found.append(below)
    return tuple(found)


def outflows(layout: Layout, wire: Cell) -> tuple[Cell, ...]:
    """The wires into which level flows from this one."""
    found = []
    roofed = layout.conducts(beside(wire, "up"))
    carried_by_conductor = layout.conducts(beside(wire, "down"))
    for side in HORIZONTAL:
        there = beside(wire, side)
        if layout.is_wire(there):
            found.append(there)
        above = beside(there, "up")
        if not roofed and layout.is_wire(above):
            found.append(above)
        below = beside(there, "down")
        if carried_by_conductor and layout.is_wire(below) and not layout.conducts(there):
            found.append(below)
    return tuple(found)
