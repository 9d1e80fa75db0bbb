"""The solid of each part in its cell: convex pieces with flat faces, for the 3D scene and the models alike.

A cell is the cube 0..1 in x (east), y (south) and z (up). A face has a role, not a colour: whoever shows it decides
what "body" or "level" looks like. Shapes are plain and our own; signs on top follow the symbols of the drawings.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from tickwright.kinds import PARTS, Part
from tickwright.publish.pieces import LIFT, Making, Solid, disc, frame, rectangle, stroke
from tickwright.rules.layout import Layout, Posture, Stand
from tickwright.rules.wire import inflows, joins, outflows, points
from tickwright.space import HORIZONTAL, VECTORS, Cell, beside


class WireShape(NamedTuple):
    """Which horizontal sides a wire's arms reach, and on which of them it climbs to a wire above."""

    arms: tuple[str, ...]
    climbs: tuple[str, ...]


def wire_shape(layout: Layout, cell: Cell) -> WireShape:
    """The shape of the wire in the cell, as the rules join and point it."""
    reached = {*joins(layout, cell), *points(layout, cell)}
    above = {*inflows(layout, cell), *outflows(layout, cell)}
    return WireShape(
        tuple(side for side in HORIZONTAL if side in reached),
        tuple(side for side in HORIZONTAL if beside(beside(cell, side), "up") in above),
    )


@cache
def solid_of(part: Part, posture: Posture = "rest", wire: WireShape | None = None) -> Solid:
    """The solid of a part in its posture.

    >>> sorted(str(face.side) for face in solid_of(Part("block")).faces if face.whole)
    ['down', 'east', 'north', 'south', 'up', 'west']
    """
    made, kind = Making(), PARTS[part.kind]
    if posture == "arm":
        _arm(made, kind.pulls)
        made.turn_front(str(part.facing))
    elif kind.behaviour == "wire":
        _wire(made, wire or WireShape((), ()))
    else:
        MAKERS[kind.solid or kind.name](made, part)
        if kind.behaviour == "piston":
            _piston_head(made, kind.pulls, out=posture == "out")
        if kind.support == "facing":
            made.turn_foot(str(part.facing))
        elif part.facing is not None and kind.behaviour != "hopper":
            made.turn_front(part.facing)
    return made.solid()


def stand_solid(layout: Layout, cell: Cell, stand: Stand) -> Solid:
    """The solid of what stands in a cell of the layout."""
    if PARTS[stand.part.kind].behaviour == "wire" and not stand.inert:
        return solid_of(stand.part, stand.posture, wire_shape(layout, cell))
    return solid_of(stand.part, stand.posture)


# --- the parts, made with their front in the east or their foot below -------------------------------------------------


def _cube(made: Making, role: str) -> None:
    made.box((0, 0, 0), (1, 1, 1), role)
    made.cube = True


def _block(made: Making, _part: Part) -> None:
    _cube(made, "glow")


def _insulator(made: Making, _part: Part) -> None:
    _cube(made, "pale")
    for low, high in frame(0.2, 0.05):
        made.alldisc(rectangle(low, high), "ink")


def _lamp(made: Making, _part: Part) -> None:
    _cube(made, "body")
    made.alldisc(disc(0.5, 0.5, 0.4), "level")
    for sign in (1, -1):
        made.alldisc(stroke((0.5 - 0.26, 0.5 - 0.26 * sign), (0.5 + 0.26, 0.5 + 0.26 * sign), 0.035), "mark", LIFT)


def _power_block(made: Making, _part: Part) -> None:
    _cube(made, "body")
    made.alldisc(rectangle((0.14, 0.14), (0.86, 0.86)), "level")
    made.alldisc(rectangle((0.46, 0.26), (0.54, 0.74)), "mark", LIFT)
    made.alldisc(rectangle((0.26, 0.46), (0.74, 0.54)), "mark", LIFT)


def _wire(made: Making, shape: WireShape) -> None:
    half, high = 0.11, 0.07
    made.box((0.5 - 0.17, 0.5 - 0.17, 0), (0.5 + 0.17, 0.5 + 0.17, high), "level")
    for side in shape.arms:
        dx, dy, _ = VECTORS[side]
        ends = ((0.5 + dx * 0.17, 0.5 + dy * 0.17), (0.5 + dx * 0.5, 0.5 + dy * 0.5))
        across = (half * abs(dy), half * abs(dx))
        xs = sorted((ends[0][0] - across[0], ends[0][0] + across[0], ends[1][0] - across[0], ends[1][0] + across[0]))
        ys = sorted((ends[0][1] - across[1], ends[0][1] + across[1], ends[1][1] - across[1], ends[1][1] + across[1]))
        made.box((xs[0], ys[0], 0), (xs[-1], ys[-1], high), "level")
        if side in shape.climbs:
            low = [0.5 - half if not d else (0.0 if d < 0 else 1 - high) for d in (dx, dy)]
            far = [0.5 + half if not d else (high if d < 0 else 1.0) for d in (dx, dy)]
            made.box((low[0], low[1], high), (far[0], far[1], 1), "level")
    made.top = (0.5, 0.5, 0.22)


def _slab(made: Making) -> None:
    made.box((0.04, 0.04, 0), (0.96, 0.96, 0.14), "body")


def _repeater(made: Making, part: Part) -> None:
    """A delay box with one bar for each tick of its delay, and a nose at its output."""
    _slab(made)
    made.box((0.1, 0.2, 0.14), (0.7, 0.8, 0.36), "level")
    made.prism([(0.7, 0.28), (0.95, 0.5), (0.7, 0.72)], 0.14, 0.36, "level")
    made.bar((0.1, 0.29), (0.7, 0.33), 0.36, "mark")
    made.bar((0.1, 0.67), (0.7, 0.71), 0.36, "mark")
    for tick in range(part.delay):
        x = 0.16 + 0.13 * tick
        made.bar((x, 0.2), (x + 0.06, 0.8), 0.36, "mark")
    made.top = (0.5, 0.5, 0.55)


def _comparator(made: Making, part: Part) -> None:
    """Its nose points to its output: a sharp one compares, a blunt one with a stem takes the difference.

    It bears no sign: one that lies is read wrong from the side.
    """
    _slab(made)
    if part.mode == "difference":
        made.prism([(0.1, 0.1), (0.66, 0.28), (0.66, 0.72), (0.1, 0.9)], 0.14, 0.36, "level")
        made.box((0.66, 0.45, 0.14), (0.94, 0.55, 0.3), "level")
    else:
        made.prism([(0.1, 0.1), (0.94, 0.5), (0.1, 0.9)], 0.14, 0.36, "level")
    made.top = (0.4, 0.5, 0.55)


def _torch(made: Making, _part: Part) -> None:
    """A stem with the circle of a negation on it."""
    made.box((0.45, 0.45, 0), (0.55, 0.55, 0.42), "body")
    made.prism(disc(0.5, 0.5, 0.2), 0.42, 0.6, "level")
    made.prism(disc(0.5, 0.5, 0.09), 0.6, 0.66, "pale")
    made.top = (0.5, 0.5, 0.8)


def _lever(made: Making, _part: Part) -> None:
    made.box((0.25, 0.35, 0), (0.75, 0.65, 0.14), "body")
    low = [(0.44, 0.44), (0.56, 0.44), (0.56, 0.56), (0.44, 0.56)]
    foot = [(x, y, 0.14) for x, y in low]
    head = [(x + 0.24, y, 0.62) for x, y in low]
    sides = [("level", (foot[i], foot[(i + 1) % 4], head[(i + 1) % 4], head[i])) for i in range(4)]
    made.piece([("level", head), ("level", foot), *sides])
    made.top = (0.6, 0.5, 0.78)


def _short_button(made: Making, _part: Part) -> None:
    made.box((0.26, 0.26, 0), (0.74, 0.74, 0.1), "body")
    made.prism(disc(0.5, 0.5, 0.17), 0.1, 0.24, "level")
    made.top = (0.5, 0.5, 0.42)


def _long_button(made: Making, _part: Part) -> None:
    made.box((0.14, 0.26, 0), (0.86, 0.74, 0.1), "body")
    made.box((0.24, 0.36, 0.1), (0.76, 0.64, 0.24), "level")
    made.top = (0.5, 0.5, 0.42)


def _plate(made: Making, part: Part) -> None:
    """A flat plate: one mark for anything, two for treads, rising bars for a count (a line under them for tens)."""
    made.box((0.06, 0.06, 0), (0.94, 0.94, 0.08), "level")
    kind = PARTS[part.kind]
    if kind.feels == "anything" and not kind.shows_level:
        made.bar((0.42, 0.7), (0.58, 0.86), 0.08, "mark")
    elif kind.feels == "creatures":
        made.bar((0.28, 0.66), (0.38, 0.88), 0.08, "mark")
        made.bar((0.62, 0.66), (0.72, 0.88), 0.08, "mark")
    else:
        for i in range(3):
            made.bar((0.3 + 0.15 * i, 0.8 - 0.07 * i), (0.4 + 0.15 * i, 0.86), 0.08, "mark")
        if part.counts == 10:
            made.bar((0.26, 0.88), (0.74, 0.91), 0.08, "mark")
    made.top = (0.5, 0.45, 0.2)


def _change_sensor(made: Making, _part: Part) -> None:
    """A cell that looks west through a frame and gives its pulse, an edge on its top, in the east."""
    _cube(made, "body")
    for (u0, v0), (u1, v1) in frame(0.18, 0.08):
        made.sign([(0, u0, v0), (0, u1, v0), (0, u1, v1), (0, u0, v1)], (-1, 0, 0))
    made.sign([(1, y, z) for y, z in disc(0.5, 0.5, 0.26)], (1, 0, 0), "level")
    edge = ((0.16, 0.66), (0.42, 0.66)), ((0.42, 0.66), (0.42, 0.34)), ((0.42, 0.34), (0.7, 0.34))
    for z, out in ((1.0, 1.0), (0.0, -1.0)):
        for start, end in edge:
            made.sign([(x, y, z) for x, y in stroke(start, end, 0.04)], (0, 0, out))
        made.sign([(0.78, 0.4, z), (0.94, 0.5, z), (0.78, 0.6, z)], (0, 0, out), "level")
    for y, out in ((0.0, -1.0), (1.0, 1.0)):
        made.sign([(0.66, y, 0.34), (0.92, y, 0.5), (0.66, y, 0.66)], (0, out, 0), "level")


def _piston(made: Making, _part: Part) -> None:
    made.box((0, 0, 0), (0.74, 1, 1), "body")
    for z, out in ((1.0, 1.0), (0.0, -1.0)):
        made.sign([(0.4, 0.32, z), (0.62, 0.5, z), (0.4, 0.68, z)], (0, 0, out), "level")
        made.sign([(0.14, 0.45, z), (0.4, 0.45, z), (0.4, 0.55, z), (0.14, 0.55, z)], (0, 0, out), "level")
    for y, out in ((0.0, -1.0), (1.0, 1.0)):
        made.sign([(0.4, y, 0.32), (0.62, y, 0.5), (0.4, y, 0.68)], (0, out, 0), "level")
    made.cube = True


def _piston_head(made: Making, pulls: bool, out: bool) -> None:
    if out:
        made.box((0.74, 0.4, 0.4), (1, 0.6, 0.6), "pale")
    else:
        made.box((0.78, 0, 0), (1, 1, 1), "pale")
        if pulls:
            _grip(made)


def _grip(made: Making) -> None:
    """The ring on the face of a piston that pulls."""
    for (u0, v0), (u1, v1) in frame(0.26, 0.08):
        made.sign([(1, u0, v0), (1, u1, v0), (1, u1, v1), (1, u0, v1)], (1, 0, 0))


def _arm(made: Making, pulls: bool) -> None:
    made.box((0, 0.4, 0.4), (0.78, 0.6, 0.6), "pale")
    made.box((0.78, 0, 0), (1, 1, 1), "pale")
    if pulls:
        _grip(made)


def _hopper(made: Making, part: Part) -> None:
    """A funnel whose rim shows how full it is and whose spout points where it pushes."""
    square = [(0.04, 0.04), (0.96, 0.04), (0.96, 0.96), (0.04, 0.96)]
    made.prism(square, 0.62, 1, "body", "ink")
    made.bar((0.16, 0.16), (0.84, 0.84), 1, "level")
    made.prism(square, 0.28, 0.62, "body", shrink=0.46)
    dx, dy, _ = VECTORS[str(part.facing)]
    if dx or dy:
        low, high = sorted((0.5 + dx * 0.1, 0.5 + dx * 0.5)), sorted((0.5 + dy * 0.1, 0.5 + dy * 0.5))
        xs = low if dx else [0.4, 0.6]
        ys = high if dy else [0.4, 0.6]
        made.box((xs[0], ys[0], 0.14), (xs[1], ys[1], 0.34), "pale")
    else:
        made.box((0.4, 0.4, 0), (0.6, 0.6, 0.28), "pale")
    made.top = (0.5, 0.5, 1.08)


def _ejector(made: Making, _part: Part) -> None:
    _cube(made, "body")
    made.sign([(1, y, z) for y, z in disc(0.5, 0.5, 0.3)], (1, 0, 0), "ink")
    for z, out in ((1.0, 1.0), (0.0, -1.0)):
        made.sign([(0.62, 0.3, z), (0.92, 0.5, z), (0.62, 0.7, z)], (0, 0, out), "ink")
        made.sign([(0.12, 0.3, z), (0.5, 0.3, z), (0.5, 0.7, z), (0.12, 0.7, z)], (0, 0, out), "level")
    for y, out in ((0.0, -1.0), (1.0, 1.0)):
        made.sign([(0.62, y, 0.3), (0.92, y, 0.5), (0.62, y, 0.7)], (0, out, 0), "ink")
        made.sign([(0.12, y, 0.3), (0.5, y, 0.3), (0.5, y, 0.7), (0.12, y, 0.7)], (0, out, 0), "level")


def _crate(made: Making, _part: Part) -> None:
    made.box((0.04, 0.04, 0), (0.96, 0.96, 0.76), "body")
    made.box((0.02, 0.02, 0.76), (0.98, 0.98, 0.94), "pale")
    made.bar((0.2, 0.2), (0.8, 0.8), 0.94, "level")
    for y, out in ((0.04, -1.0), (0.96, 1.0)):
        made.sign([(0.25, y, 0.2), (0.75, y, 0.2), (0.75, y, 0.56), (0.25, y, 0.56)], (0, out, 0), "level")
    for x, out in ((0.04, -1.0), (0.96, 1.0)):
        made.sign([(x, 0.25, 0.2), (x, 0.75, 0.2), (x, 0.75, 0.56), (x, 0.25, 0.56)], (out, 0, 0), "level")
    made.top = (0.5, 0.5, 1.04)


MAKERS: dict[str, Callable[[Making, Part], None]] = {
    "block": _block,
    "insulator": _insulator,
    "lamp": _lamp,
    "power-block": _power_block,
    "repeater": _repeater,
    "comparator": _comparator,
    "torch": _torch,
    "lever": _lever,
    "short-button": _short_button,
    "long-button": _long_button,
    "item-plate": _plate,
    "tread-plate": _plate,
    "counting-plate": _plate,
    "change-sensor": _change_sensor,
    "piston": _piston,
    "pull-piston": _piston,
    "hopper": _hopper,
    "ejector": _ejector,
    "crate": _crate,
}
