"""Solids put together from convex pieces in the unit cell: faces that look outward, outlines, signs, turning."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import cos, pi, sin
from typing import NamedTuple

from tickwright.space import DIRECTIONS, HORIZONTAL, OPPOSITE, VECTORS

Point = tuple[float, float, float]

ROLES = ("body", "level", "ink", "pale", "glow", "mark")
"""body and pale: two neutrals; level: coloured by the level; ink: signs on neutrals; mark: signs on a level's colour;
glow: neutral, tinted while its level is above 0."""

LIFT = 0.006  # signs lie this far above what they are written on
CREASE = cos(pi / 4)
DISC_CORNERS = 12


class Face(NamedTuple):
    """A convex flat face, its corners anticlockwise as seen from outside.

    `side` is the side of the cell that it lies on, if it does: there a neighbour may hide it. `whole`: it fills it.
    """

    role: str
    corners: tuple[Point, ...]
    side: str | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """What is drawn of a part: its faces, its outlines (pairs of ends), and where its number goes.

    Of the `anchors`, the first is above all; the others lie on the four sides of what fills its cell. `solid_of` gives
    the same object for the same part: solids are told apart by identity, which is quick.
    """

    faces: tuple[Face, ...]
    lines: tuple[tuple[Point, Point], ...]
    anchors: tuple[Point, ...]


class Making:
    """Pieces put together: faces are turned outward from the middle of their piece."""

    def __init__(self) -> None:
        self.faces: list[Face] = []
        self.lines: list[tuple[Point, Point]] = []
        self.top: Point = (0.5, 0.5, 0.3)
        self.cube = False

    def piece(self, faces: Iterable[tuple[str, Sequence[Point]]]) -> None:
        """A convex piece; its edges are outlined, but not those between faces that meet at less than CREASE."""
        faces = [(role, tuple(corners)) for role, corners in faces]
        middle = _mean([corner for _, corners in faces for corner in corners])
        normals: dict[tuple[Point, ...], list[Point]] = {}
        for role, corners in faces:
            face = Face(role, _facing(corners, _minus(_mean(corners), middle)))
            self.faces.append(face)
            for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
                normals.setdefault(tuple(sorted((start, end))), []).append(_normal(face.corners))
        for (start, end), (one, other) in normals.items():
            if _dot(one, other) < CREASE:
                self.lines.append((start, end))

    def box(self, low: Point, high: Point, role: str, top: str | None = None) -> None:
        """An upright box; `top` is the role of its upper face if that differs."""
        self.prism(
            [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])], low[2], high[2], role, top
        )

    def prism(
        self,
        outline: Sequence[tuple[float, float]],
        low: float,
        high: float,
        role: str,
        top: str | None = None,
        shrink: float = 1.0,
    ) -> None:
        """An upright prism on a convex outline (x, y); its lower end is shrunk about the outline's middle."""
        cx, cy = (sum(values) / len(outline) for values in zip(*outline, strict=True))
        upper = [(x, y, high) for x, y in outline]
        lower = [(cx + (x - cx) * shrink, cy + (y - cy) * shrink, low) for x, y in outline]
        around = [
            (role, (lower[i], lower[(i + 1) % len(upper)], upper[(i + 1) % len(upper)], upper[i]))
            for i in range(len(upper))
        ]
        self.piece([(top or role, upper), (role, lower), *around])

    def sign(self, corners: Sequence[Point], out: Point, role: str = "ink") -> None:
        """A flat sign that looks along `out`, lifted off what it lies on."""
        lifted = [(x + out[0] * LIFT, y + out[1] * LIFT, z + out[2] * LIFT) for x, y, z in corners]
        self.faces.append(Face(role, _facing(lifted, out)))

    def bar(self, low: tuple[float, float], high: tuple[float, float], z: float, role: str = "ink") -> None:
        """A rectangular sign that lies flat at height z."""
        (x0, y0), (x1, y1) = low, high
        self.sign([(x0, y0, z), (x1, y0, z), (x1, y1, z), (x0, y1, z)], (0, 0, 1), role)

    def alldisc(self, corners: Sequence[tuple[float, float]], role: str, lift: float = 0.0) -> None:
        """The same sign on all six sides of the cell; its corners (u, v) run right and up on each side."""
        for side in DIRECTIONS:
            out = VECTORS[side]
            self.sign([_on_side(side, u, v, lift) for u, v in corners], (out[0], out[1], out[2]), role)

    def turn(self, x_axis: Point, y_axis: Point, z_axis: Point) -> None:
        """Turn all about the middle of the cell so that its axes come to lie along these."""

        def turned(point: Point) -> Point:
            a, b, c = (value - 0.5 for value in point)
            x, y, z = (round(0.5 + x_axis[i] * a + y_axis[i] * b + z_axis[i] * c, 6) for i in range(3))
            return (x, y, z)

        mirrored = _volume(x_axis, y_axis, z_axis) < 0
        for i, face in enumerate(self.faces):
            corners = tuple(map(turned, face.corners))
            self.faces[i] = face._replace(corners=corners[::-1] if mirrored else corners)
        self.lines = [(turned(start), turned(end)) for start, end in self.lines]
        self.top = turned(self.top)

    def turn_front(self, facing: str) -> None:
        """Turn what was made with its front in the east."""
        front = VECTORS[facing]
        if facing in ("up", "down"):
            self.turn(front, (0, 1, 0), (1, 0, 0))
        else:
            self.turn(front, (-front[1], front[0], 0), (0, 0, 1))

    def turn_foot(self, facing: str) -> None:
        """Turn what was made with its foot below so that the foot is at that side."""
        if facing == "down":
            return
        up = VECTORS[OPPOSITE[facing]]
        if facing == "up":
            self.turn((1, 0, 0), (0, 1, 0), up)
        else:
            self.turn((0, 0, 1), (up[1], -up[0], 0), up)

    def solid(self) -> Solid:
        """The finished solid: faces on the sides of the cell are marked as such."""
        faces = tuple(_sided(face) for face in self.faces)
        anchors = [self.top]
        if self.cube:
            anchors = [_on_side(side, 0.5, 0.5, 0.02) for side in ("up", *HORIZONTAL)]
        return Solid(faces, tuple(self.lines), tuple(anchors))


def _minus(a: Point, b: Point) -> Point:
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def _mean(corners: Sequence[Point]) -> Point:
    x, y, z = (sum(values) / len(corners) for values in zip(*corners, strict=True))
    return (x, y, z)


def _cross(a: Point, b: Point) -> Point:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _normal(corners: Sequence[Point]) -> Point:
    """The unit normal that points outward, of corners in the order that faces have."""
    x, y, z = _cross(_minus(corners[2], corners[1]), _minus(corners[1], corners[0]))
    length = _dot((x, y, z), (x, y, z)) ** 0.5
    return (x / length, y / length, z / length)


def _volume(a: Point, b: Point, c: Point) -> float:
    return _dot(_cross(a, b), c)


def _facing(corners: Sequence[Point], out: Point) -> tuple[Point, ...]:
    """The corners in the order that is anticlockwise for who looks against `out`; east, south, up are left-handed."""
    normal = _cross(_minus(corners[1], corners[0]), _minus(corners[2], corners[1]))
    return tuple(corners) if _dot(normal, out) < 0 else tuple(corners[::-1])


def _sided(face: Face) -> Face:
    for axis in range(3):
        for value, side in ((0, ("west", "north", "down")[axis]), (1, ("east", "south", "up")[axis])):
            if all(abs(corner[axis] - value) < 3 * LIFT for corner in face.corners):
                square = {tuple(round(v, 3) for v in corner) for corner in face.corners}
                whole = len(square) == 4 and all(set(corner) <= {0.0, 1.0} for corner in square)
                return face._replace(side=side, whole=whole)
    return face


def _on_side(side: str, u: float, v: float, lift: float) -> Point:
    """The point (u, v) of a side of the cell, u to the right and v up (or north) for who looks at it from outside."""
    points: dict[str, Point] = {
        "north": (1 - u, -lift, v),
        "south": (u, 1 + lift, v),
        "east": (1 + lift, 1 - u, v),
        "west": (-lift, u, v),
        "up": (u, 1 - v, 1 + lift),
        "down": (u, v, -lift),
    }
    return points[side]


def rectangle(low: tuple[float, float], high: tuple[float, float]) -> list[tuple[float, float]]:
    """The four corners of a rectangle."""
    return [low, (high[0], low[1]), high, (low[0], high[1])]


def frame(inset: float, wide: float) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The four bars of a square frame, as (low, high) corners."""
    far = 1 - inset
    return [
        ((inset, inset), (far, inset + wide)),
        ((inset, far - wide), (far, far)),
        ((inset, inset + wide), (inset + wide, far - wide)),
        ((far - wide, inset + wide), (far, far - wide)),
    ]


def disc(x: float, y: float, radius: float) -> list[tuple[float, float]]:
    """The corners of a disc, as a regular polygon."""
    turns = [2 * pi * (i + 0.5) / DISC_CORNERS for i in range(DISC_CORNERS)]
    return [(round(x + radius * cos(turn), 4), round(y + radius * sin(turn), 4)) for turn in turns]


def stroke(start: tuple[float, float], end: tuple[float, float], half: float) -> list[tuple[float, float]]:
    """A straight stroke of a pen of width 2 * half, square at its ends."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    ax, ay, bx, by = dx / length * half, dy / length * half, -dy / length * half, dx / length * half
    return [
        (start[0] - ax + bx, start[1] - ay + by),
        (end[0] + ax + bx, end[1] + ay + by),
        (end[0] + ax - bx, end[1] + ay - by),
        (start[0] - ax - bx, start[1] - ay - by),
    ]
