"""Symbols of the parts: flat shapes in a unit square, from above and from the side, as part and state ask for.

Off is an outline and on is filled; a number and a sign stand upright however the part is turned. The table of shapes
is in `symbol_table`.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from tickwright.kinds import PARTS, Part
from tickwright.publish.shapes import (
    MARK,
    OUTLINE,
    Point,
    Shape,
    circle,
    dot,
    line,
    number,
    turned_shape,
    turned_shapes,
)
from tickwright.publish.symbol_table import (
    AWAY,
    CLAMPS,
    COUNT_SIDE,
    COUNT_SIDE_TEN,
    END_ON,
    FUNNEL_SIDE,
    HANGS,
    NOSE,
    SHUT,
    SIDES,
    SYMBOLS,
    TAIL,
    TOWARD,
    Shapes,
)
from tickwright.space import HORIZONTAL

TURNS = {"east": 0, "south": 1, "west": 2, "north": 3}
STANDING = {"inverter", "switch", "push", "push-long"}  # fixed to a side, or to the cell below or above
HUB = 0.25  # of a wire that shows its number


def _name(part: Part, posture: str) -> str:
    """The name of the symbol in the table."""
    name = PARTS[part.kind].symbol
    if part.behaviour == "comparator" and part.mode == "difference":
        name = "blunt"
    elif part.counts == 10:
        name = "plate-count-ten"
    if posture == "arm" or (posture == "out" and part.facing in TURNS):
        name += f"-{posture}"
    return name


@cache
def symbol(part: Part, on: bool = False, posture: str = "rest", held: bool = False) -> Shapes:
    """The symbol of a part from above, wires left out (see `wire_symbol`).

    `on`: it shows something; `posture` is that of its Stand ("out" is an extended piston, "arm" the cell before it);
    `held`: a repeater that is locked, or a hopper that power holds shut.

    >>> [shape.form for shape in symbol(Part("repeater", "north", delay=2))]
    ['area', 'circle', 'circle']
    """
    name, facing = _name(part, posture), part.facing or "east"
    if facing in TURNS:
        found = (*SYMBOLS[name][on], *_particulars(part, held))
        return turned_shapes(found, TURNS[facing])
    if name in STANDING:
        return (*SYMBOLS[f"{name}-standing"][on], *(HANGS if facing == "up" else ()))
    table = TOWARD if facing == "up" else AWAY
    return (*table.get(name, SYMBOLS[name])[on], *(SHUT if held else ()))


def _particulars(part: Part, held: bool) -> Iterable[Shape]:
    """What a symbol has by the part's arguments and state, as it lies when it faces east."""
    if part.behaviour == "repeater":
        yield from dots(part.delay, 0.34, 0.5)
        if held:
            yield from CLAMPS
    elif part.behaviour == "hopper":
        yield from FUNNEL_SIDE
        if held:
            yield from (turned_shape(one, 2) for one in SHUT)


def dots(delay: int, x: float, y: float) -> Iterable[Shape]:
    """A dot for each tick of a delay about a point."""
    for tick in range(delay):
        yield dot(round(x + (tick - (delay - 1) / 2) * 0.145, 4), y, 0.062)


@cache
def side_symbol(part: Part, on: bool = False, posture: str = "rest", held: bool = False) -> Shapes:
    """The symbol of a part from the side, wires left out (see `wire_side_symbol`).

    `part` faces as it does in the picture: "east" is to the right, "north" up, "up" towards the viewer.

    >>> side_symbol(Part("block")), len(side_symbol(Part("repeater", "east", delay=3)))
    ((), 4)
    """
    name, facing = _name(part, posture), part.facing or "east"
    if part.behaviour == "plate" and part.row.shows_level:
        shapes = COUNT_SIDE if part.counts == 1 else COUNT_SIDE_TEN
        return (*shapes, number(0.5, 0.36, 0.34, "ink")) if on else shapes
    if name == "funnel":
        return (*SIDES[name][on], *_side_spout(facing), *(SHUT if held else ()))
    if name not in SIDES:
        return symbol(part, on, posture, held)
    if name in END_ON and facing not in ("east", "west"):
        lying = (*END_ON[name][on], NOSE if facing == "up" else TAIL)
        return (*lying, *(dots(part.delay, 0.5, 0.81) if part.behaviour == "repeater" else ()), *_side_clamp(held))
    ticks = dots(part.delay, 0.34, 0.81) if part.behaviour == "repeater" else ()
    found = (*SIDES[name][on], *ticks, *_side_clamp(held))
    return flipped_signs(found) if facing == "west" else found


def _side_clamp(held: bool) -> Shapes:
    """The clamp of a locked repeater from the side."""
    if not held:
        return ()
    return (
        line((0.34, 0.6), (0.34, 0.5), stroke="ink", width=MARK),
        line((0.16, 0.5), (0.52, 0.5), stroke="ink", width=0.08),
    )


def _side_spout(facing: str) -> Shapes:
    """Where a hopper pushes, from the side."""
    points: dict[str, tuple[Point, ...]] = {
        "east": ((0.5, 0.64), (0.5, 0.84), (1.0, 0.84)),
        "west": ((0.5, 0.64), (0.5, 0.84), (0.0, 0.84)),
        "south": ((0.5, 0.64), (0.5, 1.0)),
    }
    if facing in points:
        return (line(*points[facing], stroke="soft", width=0.1),)
    ring = (circle(0.5, 0.82, 0.12, "panel", "soft"),)
    return (*ring, dot(0.5, 0.82, 0.05, "soft")) if facing == "up" else ring


def flipped_signs(shapes: Iterable[Shape]) -> Shapes:
    """Shapes in a mirror that swaps left and right; signs and numbers are read as before."""
    return tuple(shape._replace(points=tuple((round(1 - x, 4), y) for x, y in shape.points)) for shape in shapes)


def wire_symbol(
    joined: Iterable[str], heard: Iterable[str] = (), climbing: Iterable[str] = (), dropping: Iterable[str] = ()
) -> Shapes:
    """The symbol of a wire from above, from what the rules say of it.

    A line runs to each joined side and to each of `heard`, where something that is no wire listens to it: there it has
    an arrow. A bar ends the arm where it climbs to a wire above, two ticks flank it where it goes down to one below.
    """
    joined, heard, climbing, dropping = set(joined), set(heard), set(climbing), set(dropping)
    arms: list[Shape] = []
    marks: list[Shape] = []
    for side in HORIZONTAL:
        turns = TURNS[side]
        if side in joined or side in heard:
            far = 0.9 if side in climbing else 0.8 if side in heard else 1.0
            arms.append(turned_shape(Shape("wire", ((0.5, 0.5), (far, 0.5))), turns))
        if side in climbing:
            marks.append(turned_shape(line((0.93, 0.2), (0.93, 0.8), width=0.09), turns))
        elif side in dropping:
            marks += [turned_shape(line((0.86, a), (0.86, b), width=0.1), turns) for a, b in ((0.1, 0.34), (0.66, 0.9))]
        if side in heard:
            nose = Shape("area", ((0.78, 0.3), (0.99, 0.5), (0.78, 0.7)), fill="level", stroke="outline", width=OUTLINE)
            marks.append(turned_shape(nose, turns))
    casing = [arm._replace(radius=0.0) for arm in arms]
    cores = [arm._replace(radius=-OUTLINE, stroke="level") for arm in arms]
    hub = Shape("circle", ((0.5, 0.5),), HUB, "hub", "level", "outline")
    return (*casing, hub, *cores, number(0.5, 0.5, 0.31), *marks)


def wire_side_symbol(joined: Iterable[str], climbing: Iterable[str] = ()) -> Shapes:
    """The symbol of a wire from the side: sides as they lie in the picture, "up" towards the viewer, "down" away.

    It lies on its floor; a disc says that it goes on towards the viewer, a post that it goes on away from the viewer.
    """
    joined, climbing = set(joined), set(climbing)
    left, right = (0.0 if "west" in joined else 0.36), (1.0 if "east" in joined else 0.64)
    y = 0.88
    shapes = [
        Shape("wire", ((left, y), (right, y)), text="side"),
        Shape("wire", ((left, y), (right, y)), -OUTLINE, "side", stroke="level"),
    ]
    if "down" in joined:
        shapes.append(line((0.5, 0.8), (0.5, 0.56), width=0.11))
        shapes.append(line((0.36, 0.56), (0.64, 0.56), width=0.07))
    if "up" in joined:
        shapes.append(circle(0.5, y, 0.11, "panel", "outline", 0.06))
    for side, x in (("west", 0.06), ("east", 0.94)):
        if side in climbing:
            shapes.append(line((x, 0.96), (x, 0.0), width=0.12))
    for side, way in (("up", 0.14), ("down", -0.14)):
        if side in climbing:
            shapes.append(line((0.5 + way, 0.8), (0.5 + way, 0.0), width=0.08))
    return (*shapes, number(0.5, 0.36, 0.34, "ink"))
