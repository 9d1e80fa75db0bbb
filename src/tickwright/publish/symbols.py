"""Symbols of the parts as data: flat shapes in a unit square, for the drawings, the workbench and the 3D view alike.

A symbol is seen from above: x grows east, y grows south, both from 0 to 1 over the cell. SYMBOLS holds each as it lies
when it faces east; `symbol` turns it, and adds what depends on the part and its state. The shapes are our own, built
from the signs of IEC 60617-12 and -7: a delay line with its ticks, a triangle that compares, a negation circle,
contacts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Literal, NamedTuple

from tickwright.kinds import PARTS, Part
from tickwright.space import HORIZONTAL

Form = Literal["line", "area", "circle", "text"]
Role = Literal["none", "ink", "paper", "solid", "level", "over"]
Point = tuple[float, float]


class Shape(NamedTuple):
    """One shape of a symbol.

    "line" and "area" (closed) have points; "circle" has its centre and `radius`; "text" has its middle, its `text` and
    its height in `radius`. `fill` and `stroke` are roles: "level" is the colour of the level the part shows, "over"
    what can be read on that, "ink", "paper" and "solid" are neutral. `width` is that of the stroke.
    """

    form: Form
    points: tuple[Point, ...]
    radius: float = 0.0
    text: str = ""
    fill: Role = "none"
    stroke: Role = "ink"
    width: float = 0.04
    dashed: bool = False


def line(*points: Point, width: float = 0.05, stroke: Role = "ink", dashed: bool = False) -> Shape:
    """A line through points."""
    return Shape("line", points, stroke=stroke, width=width, dashed=dashed)


def area(*points: Point, fill: Role = "paper", width: float = 0.04, dashed: bool = False) -> Shape:
    """A closed area with an outline."""
    return Shape("area", points, fill=fill, width=width, dashed=dashed)


def box(left: float, top: float, right: float, bottom: float, fill: Role = "paper", width: float = 0.04) -> Shape:
    """A rectangle."""
    return area((left, top), (right, top), (right, bottom), (left, bottom), fill=fill, width=width)


def frame(near: float, far: float, stroke: Role = "ink") -> Shape:
    """The outline of a square about the middle of the cell."""
    return Shape("area", ((near, near), (far, near), (far, far), (near, far)), stroke=stroke)


def circle(x: float, y: float, radius: float, fill: Role = "level", width: float = 0.04, stroke: Role = "ink") -> Shape:
    """A circle."""
    return Shape("circle", ((x, y),), radius, fill=fill, width=width, stroke=stroke)


def text(x: float, y: float, size: float, words: str, fill: Role = "ink") -> Shape:
    """Words, which stay upright however the symbol is turned."""
    return Shape("text", ((x, y),), size, words, fill, "none")


_RAM = (
    box(0.1, 0.24, 0.62, 0.76, "level"),
    line((0.36, 0.24), (0.36, 0.76), stroke="over", width=0.06),
    line((0.62, 0.5), (0.9, 0.5), width=0.08),
    line((0.91, 0.1), (0.91, 0.9), width=0.09),
)
_RAM_UPRIGHT = (box(0.18, 0.18, 0.82, 0.82, "level"), circle(0.5, 0.5, 0.14, "over", stroke="over"))

# Facing east: the output of a repeater, comparator or change-sensor is at the right, and so is the cell that a torch,
# lever or button is fixed to, the face of a piston or ejector, and the cell that a hopper pushes into.
SYMBOLS: Mapping[str, tuple[Shape, ...]] = {
    "solid": (),
    "hollow": (
        line((0.15, 0.45), (0.45, 0.15), width=0.03),
        line((0.15, 0.85), (0.85, 0.15), width=0.03),
        line((0.55, 0.85), (0.85, 0.55), width=0.03),
    ),
    "lamp": (
        circle(0.5, 0.5, 0.36),
        line((0.25, 0.25), (0.75, 0.75), stroke="over"),
        line((0.25, 0.75), (0.75, 0.25), stroke="over"),
    ),
    "source": (
        area((0.5, 0.12), (0.88, 0.5), (0.5, 0.88), (0.12, 0.5), fill="level"),
        line((0.32, 0.5), (0.68, 0.5), stroke="over"),
        line((0.5, 0.32), (0.5, 0.68), stroke="over"),
    ),
    "delay-box": (
        box(0.06, 0.2, 0.94, 0.8),
        area((0.72, 0.28), (0.94, 0.5), (0.72, 0.72), fill="level"),
        line((0.06, 0.5), (0.72, 0.5), width=0.04),
    ),
    "triangle": (area((0.1, 0.08), (0.92, 0.5), (0.1, 0.92), fill="level"),),
    "inverter": (line((1.0, 0.5), (0.64, 0.5), width=0.07), line((0.97, 0.3), (0.97, 0.7)), circle(0.43, 0.5, 0.21)),
    "inverter-standing": (circle(0.5, 0.5, 0.24), circle(0.5, 0.5, 0.06, "over", stroke="over")),
    "switch": (box(0.84, 0.24, 1.0, 0.76), circle(0.2, 0.5, 0.1)),
    "switch-standing": (box(0.12, 0.3, 0.88, 0.7), circle(0.24, 0.5, 0.1)),
    "push": (box(0.84, 0.2, 1.0, 0.8), line((0.84, 0.5), (0.6, 0.5), width=0.07), box(0.42, 0.28, 0.6, 0.72, "level")),
    "push-standing": (box(0.2, 0.2, 0.8, 0.8), circle(0.5, 0.5, 0.2)),
    "push-long": (
        box(0.84, 0.2, 1.0, 0.8),
        line((0.84, 0.5), (0.6, 0.5), width=0.07),
        box(0.42, 0.28, 0.6, 0.72, "level"),
        line((0.28, 0.28), (0.28, 0.72), width=0.07),
    ),
    "push-long-standing": (box(0.14, 0.14, 0.86, 0.86), circle(0.5, 0.5, 0.29, "paper"), circle(0.5, 0.5, 0.18)),
    "plate": (box(0.1, 0.1, 0.9, 0.9, "level"), frame(0.36, 0.64, "over")),
    "plate-tread": (
        box(0.1, 0.1, 0.9, 0.9, "level"),
        line((0.3, 0.36), (0.5, 0.62), (0.7, 0.36), stroke="over", width=0.06),
        line((0.3, 0.7), (0.7, 0.7), stroke="over", width=0.06),
    ),
    "plate-count": (box(0.1, 0.1, 0.9, 0.9, "level"),),
    "edge": (
        area((0.0, 0.34), (0.16, 0.5), (0.0, 0.66), fill="none"),
        line((0.24, 0.66), (0.38, 0.66), (0.38, 0.34), (0.56, 0.34), (0.56, 0.66), (0.68, 0.66), width=0.06),
        area((0.8, 0.32), (1.0, 0.5), (0.8, 0.68), fill="level"),
    ),
    "edge-upright": (
        line((0.14, 0.66), (0.28, 0.66), (0.28, 0.34), (0.46, 0.34), (0.46, 0.66), (0.58, 0.66), width=0.06),
        circle(0.78, 0.5, 0.13),
    ),
    "ram": _RAM,
    "ram-pull": (*_RAM, line((0.78, 0.2), (0.78, 0.8), width=0.05)),
    "ram-out": (
        box(0.1, 0.24, 0.62, 0.76, "level"),
        line((0.54, 0.24), (0.54, 0.76), stroke="over", width=0.06),
        line((0.62, 0.5), (1.0, 0.5), width=0.08),
    ),
    "ram-upright": _RAM_UPRIGHT,
    "ram-pull-upright": (*_RAM_UPRIGHT, frame(0.28, 0.72, "over")),
    "ram-arm": (line((0.0, 0.5), (0.88, 0.5), width=0.08), line((0.91, 0.1), (0.91, 0.9), width=0.09)),
    "ram-arm-upright": (circle(0.5, 0.5, 0.1, "ink"), frame(0.12, 0.88)),
    "funnel": (
        box(0.1, 0.1, 0.9, 0.9, width=0.05),
        box(0.34, 0.34, 0.66, 0.66, "solid"),
        line((0.1, 0.1), (0.34, 0.34)),
        line((0.9, 0.1), (0.66, 0.34)),
        line((0.9, 0.9), (0.66, 0.66)),
        line((0.1, 0.9), (0.34, 0.66)),
    ),
    "funnel-side": (area((0.62, 0.36), (1.0, 0.44), (1.0, 0.56), (0.62, 0.64), fill="solid"),),
    "spout": (box(0.1, 0.2, 0.56, 0.8), area((0.56, 0.3), (0.98, 0.42), (0.98, 0.58), (0.56, 0.7), fill="level")),
    "spout-upright": (box(0.18, 0.18, 0.82, 0.82), circle(0.5, 0.5, 0.2)),
    "box": (
        box(0.12, 0.12, 0.88, 0.88),
        line((0.12, 0.37), (0.88, 0.37), width=0.03),
        line((0.12, 0.63), (0.88, 0.63), width=0.03),
    ),
}  # fmt: skip

TURNS = {"east": 0, "south": 1, "west": 2, "north": 3}
UPRIGHT = {
    "edge",
    "ram",
    "ram-pull",
    "ram-arm",
    "spout",
}  # symbols of parts that may face up or down, which have one for it
STANDING = {"inverter", "switch", "push", "push-long"}  # fixed to a side, or to the cell below or above
UP = line((0.06, 0.2), (0.15, 0.06), (0.24, 0.2), width=0.06)
DOWN = line((0.06, 0.06), (0.15, 0.2), (0.24, 0.06), width=0.06)
WIRE_WIDTH = 0.15
CASE_WIDTH = 0.23


@cache
def symbol(part: Part, on: bool = False, posture: str = "rest") -> tuple[Shape, ...]:
    """The symbol of a part as it lies, wires left out (see `wire_symbol`).

    `posture` is that of its Stand: "out" is an extended piston, "arm" the cell before it. A cell on its way looks as at
    rest.

    >>> [shape.points[-1] for shape in symbol(Part("repeater", "north", delay=2)) if shape.fill == "level"]
    [(0.72, 0.28)]
    """
    name = PARTS[part.kind].symbol
    facing = part.facing or "east"
    if posture == "arm":
        name = "ram-arm"
    elif posture == "out" and facing in TURNS:
        name = "ram-out"
    if facing not in TURNS:
        name = f"{name}-upright" if name in UPRIGHT else f"{name}-standing" if name in STANDING else name
    shapes = [*SYMBOLS[name], *_particulars(part, on)]
    turns = TURNS.get(facing, 0)
    shapes = [turned_shape(shape, turns) for shape in shapes]
    if facing == "up":
        shapes.append(UP)
    elif facing == "down" and name not in (
        "inverter-standing",
        "switch-standing",
        "push-standing",
        "push-long-standing",
    ):
        shapes.append(DOWN)
    return tuple(shapes)


def wire_symbol(
    joined: Iterable[str], pointing: Iterable[str], climbing: Iterable[str] = (), dropping: Iterable[str] = ()
) -> tuple[Shape, ...]:
    """The symbol of a wire from what the rules say of it: the sides it joins and those it points to.

    A line runs to each joined side, with a bar across where it climbs to the wire above and a dash where it goes down
    to the wire below; an arrow stands at each side that it points to.
    """
    joined, pointing = set(joined), set(pointing)
    climbing, dropping = set(climbing), set(dropping)
    lines: list[tuple[Point, ...]] = []
    marks: list[Shape] = []
    for side in HORIZONTAL:
        turns = TURNS[side]
        far = 1.0 if side in joined else 0.72 if side in pointing else 0.5
        if far > 0.5:
            lines.append(_around(((0.5, 0.5), (far, 0.5)), turns))
        if side in climbing:
            marks.append(turned_shape(line((0.93, 0.28), (0.93, 0.72), width=0.07), turns))
        elif side in dropping:
            marks.append(turned_shape(line((0.76, 0.32), (0.76, 0.42), width=0.05), turns))
            marks.append(turned_shape(line((0.76, 0.58), (0.76, 0.68), width=0.05), turns))
        if side in pointing:
            at = 0.88 if side not in climbing else 0.82
            marks.append(turned_shape(line((at - 0.16, 0.3), (at, 0.5), (at - 0.16, 0.7), width=0.05), turns))
    cased = [Shape("line", points, stroke="ink", width=CASE_WIDTH) for points in lines]
    cored = [Shape("line", points, stroke="level", width=WIRE_WIDTH) for points in lines]
    dot = circle(0.5, 0.5, 0.17, width=0.04)
    return (*cased, dot, *cored, Shape("circle", ((0.5, 0.5),), 0.1, fill="level", stroke="none"), *marks)


def _particulars(part: Part, on: bool) -> Iterable[Shape]:
    """What a symbol has by the part's arguments and state, as it lies when it faces east."""
    if part.kind == "repeater":
        for tick in range(part.delay):
            x = 0.2 + tick * 0.14
            yield line((x, 0.34), (x, 0.66), width=0.055)
    elif part.kind == "comparator":
        yield text(0.36, 0.5, 0.42, "−" if part.mode == "difference" else "≥", "over")
    elif part.kind == "counting-plate":
        yield text(0.5, 0.5, 0.4, "Σ" if part.counts == 1 else f"Σ{part.counts}", "over")
    elif part.kind == "lever":
        if part.facing in TURNS:
            yield line((0.84, 0.5), (0.26, 0.5) if on else (0.26, 0.2), width=0.07)
        else:
            yield line((0.76, 0.5), (0.3, 0.5) if on else (0.3, 0.16), width=0.07)
    elif part.kind == "hopper" and part.facing in TURNS:
        yield from SYMBOLS["funnel-side"]


def turned_shape(shape: Shape, turns: int) -> Shape:
    """The shape turned clockwise by quarter turns about the middle of the cell."""
    return shape._replace(points=_around(shape.points, turns)) if turns else shape


def _around(points: tuple[Point, ...], turns: int) -> tuple[Point, ...]:
    """Points turned clockwise by quarter turns about the middle of the cell."""
    for _ in range(turns):
        points = tuple((round(1 - y, 4), x) for x, y in points)
    return points
