"""The shapes of symbols: lines, areas, circles, signs and numbers in a unit square, with roles for colours.

x grows to the right, y grows down, both from 0 to 1 over the cell. A role is not a colour: who paints a shape knows
the theme and the level. Off is an outline, on is filled: "level" is the panel's colour at 0 and the level's above it,
"outline" the soft line at 0 and the level's colour above it, "mark" the soft line at 0 and what can be read on the
level above it; "lit", "rim" and "glow" are the same for a lit lamp.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, pi, sin
from typing import Literal, NamedTuple

from tickwright.publish.tokens import TOKENS

Form = Literal["line", "area", "circle", "wire", "sign", "number"]
Role = Literal[
    "none",
    "outline",
    "level",
    "mark",
    "lit",
    "rim",
    "glow",
    "soft",
    "ink",
    "panel",
    "block",
    "edge",
    "items",
    "onitems",
]
Point = tuple[float, float]

OUTLINE: float = TOKENS["strokes"]["outline"]
MARK: float = TOKENS["strokes"]["mark"]
SIGN: float = TOKENS["strokes"]["sign"]


class Shape(NamedTuple):
    """One shape of a symbol.

    "line" and "area" (closed) have points; "circle" has its centre and `radius`; "wire" is a line as wide as its level
    (`radius` more at each side); "sign" has its middle, its height in `radius` and "≥" or "−" in `text`, drawn as
    strokes; "number" has its middle and its height in `radius`, and is what the part shows. Signs and numbers stay
    upright however the symbol is turned. `fill` and `stroke` are roles; `width` is that of the stroke.
    """

    form: Form
    points: tuple[Point, ...]
    radius: float = 0.0
    text: str = ""
    fill: Role = "none"
    stroke: Role = "outline"
    width: float = OUTLINE


def line(*points: Point, width: float = OUTLINE, stroke: Role = "outline") -> Shape:
    """A line through points."""
    return Shape("line", points, stroke=stroke, width=width)


def area(*points: Point, fill: Role = "level", stroke: Role = "outline", width: float = OUTLINE) -> Shape:
    """A closed area with an outline."""
    return Shape("area", points, fill=fill, stroke=stroke, width=width)


def box(left: float, top: float, right: float, bottom: float, fill: Role = "level", stroke: Role = "outline") -> Shape:
    """A rectangle."""
    return area((left, top), (right, top), (right, bottom), (left, bottom), fill=fill, stroke=stroke)


def circle(
    x: float, y: float, radius: float, fill: Role = "level", stroke: Role = "outline", width: float = OUTLINE
) -> Shape:
    """A circle."""
    return Shape("circle", ((x, y),), radius, fill=fill, stroke=stroke, width=width)


def dot(x: float, y: float, radius: float, fill: Role = "mark") -> Shape:
    """A filled circle without an outline."""
    return circle(x, y, radius, fill, "none", 0)


def capsule(left: float, top: float, right: float, bottom: float, fill: Role, stroke: Role = "outline") -> Shape:
    """A rectangle whose shorter sides are half circles."""
    wide, high = right - left, bottom - top
    radius = min(wide, high) / 2
    lying = wide >= high
    ends = (
        ((right - radius, top + radius), -pi / 2), ((left + radius, top + radius), pi / 2)
    ) if lying else (((left + radius, bottom - radius), 0.0), ((left + radius, top + radius), pi))  # fmt: skip
    points = [
        (round(x + radius * cos(start + pi * k / 8), 4), round(y + radius * sin(start + pi * k / 8), 4))
        for (x, y), start in ends
        for k in range(9)
    ]
    return area(*points, fill=fill, stroke=stroke)


def sign(x: float, y: float, size: float, text: str, stroke: Role = "mark") -> Shape:
    """A sign that is drawn as strokes: "≥" or "−"."""
    return Shape("sign", ((x, y),), size, text, "none", stroke, SIGN)


def number(x: float, y: float, size: float, fill: Role = "mark") -> Shape:
    """Where the number goes that the part shows."""
    return Shape("number", ((x, y),), size, "", fill, "none", 0)


def sign_strokes(text: str) -> tuple[tuple[Point, ...], ...]:
    """The strokes of a sign about (0, 0), its height being 1."""
    if text == "−":
        return (((-0.42, 0.0), (0.42, 0.0)),)
    return (((-0.36, -0.5), (0.36, -0.16), (-0.36, 0.18)), ((-0.36, 0.5), (0.36, 0.5)))


def turned_shape(shape: Shape, turns: int) -> Shape:
    """The shape turned clockwise by quarter turns about the middle of the cell."""
    return shape._replace(points=_around(shape.points, turns)) if turns % 4 else shape


def turned_shapes(shapes: Iterable[Shape], turns: int) -> tuple[Shape, ...]:
    """Shapes turned clockwise by quarter turns about the middle of the cell."""
    return tuple(turned_shape(shape, turns) for shape in shapes)


def flipped(shapes: Iterable[Shape]) -> tuple[Shape, ...]:
    """Shapes in a mirror that swaps left and right."""
    return tuple(shape._replace(points=tuple((round(1 - x, 4), y) for x, y in shape.points)) for shape in shapes)


def _around(points: tuple[Point, ...], turns: int) -> tuple[Point, ...]:
    for _ in range(turns % 4):
        points = tuple((round(1 - y, 4), x) for x, y in points)
    return points
