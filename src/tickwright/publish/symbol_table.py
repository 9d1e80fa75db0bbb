"""The symbols of the parts as data: from above as each lies when it faces east, and from the side where that differs.

The shapes are our own, built from the signs of IEC 60617-12 and -7: a delay with its ticks, a triangle that compares,
contacts. The output of a repeater, comparator or change-sensor is at the right, and so is the cell that a torch, lever
or button is fixed to, the face of a piston or ejector, and the cell that a hopper pushes into.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, pi, sin

from tickwright.publish.shapes import (
    MARK,
    OUTLINE,
    Point,
    Role,
    Shape,
    area,
    box,
    capsule,
    circle,
    dot,
    line,
    number,
    sign,
)

Shapes = tuple[Shape, ...]


def _rays(x: float, y: float, near: float, far: float, angles: range, stroke: Role, width: float = MARK) -> Shapes:
    """Short lines away from a point, one for each angle in degrees."""
    return tuple(
        line(
            (round(x + near * cos(a * pi / 180), 4), round(y + near * sin(a * pi / 180), 4)),
            (round(x + far * cos(a * pi / 180), 4), round(y + far * sin(a * pi / 180), 4)),
            stroke=stroke,
            width=width,
        )
        for a in angles
    )


def _rhombus(x: float, y: float, reach: float) -> Shape:
    return area((x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach))


def _hexagon(x: float, y: float, radius: float, fill: Role, stroke: Role) -> Shape:
    corners: list[Point] = [
        (round(x + radius * sin(k * pi / 3), 4), round(y - radius * cos(k * pi / 3), 4)) for k in range(6)
    ]
    return area(*corners, fill=fill, stroke=stroke)


_HATCH = tuple(
    line(*ends, stroke="edge", width=0.03)
    for ends in (
        ((0.02, 0.3), (0.3, 0.02)), ((0.02, 0.64), (0.64, 0.02)), ((0.02, 0.98), (0.98, 0.02)),
        ((0.36, 0.98), (0.98, 0.36)), ((0.7, 0.98), (0.98, 0.7)),
    )
)  # fmt: skip

_PLUS = (
    line((0.26, 0.5), (0.74, 0.5), stroke="mark", width=0.07), line((0.5, 0.26), (0.5, 0.74), stroke="mark", width=0.07)
)  # fmt: skip
_LAMP = box(0.05, 0.05, 0.95, 0.95, "lit", "rim")
_LAMP_OFF = (
    _LAMP, circle(0.5, 0.5, 0.27, "none", "rim"),
    line((0.31, 0.31), (0.69, 0.69), stroke="rim"), line((0.31, 0.69), (0.69, 0.31), stroke="rim"),
)  # fmt: skip
_LAMP_ON = (_LAMP, circle(0.5, 0.5, 0.2, "glow", "rim"), *_rays(0.5, 0.5, 0.27, 0.37, range(0, 360, 45), "rim", 0.04))

_BOX = box(0.08, 0.14, 0.62, 0.86)
_STALK = line((0.62, 0.5), (0.72, 0.5), width=0.09)
_CHEVRON = line((0.26, 0.36), (0.42, 0.5), (0.26, 0.64), stroke="mark", width=MARK)
_CHEVRONS = (
    line((0.26, 0.36), (0.15, 0.5), (0.26, 0.64), stroke="mark", width=MARK),
    line((0.42, 0.36), (0.53, 0.5), (0.42, 0.64), stroke="mark", width=MARK),
)
_HEAD = box(0.76, 0.06, 0.94, 0.94)
_CLAW = area((0.76, 0.06), (0.98, 0.06), (0.98, 0.2), (0.87, 0.2), (0.87, 0.8), (0.98, 0.8), (0.98, 0.94), (0.76, 0.94))
_ROD = line((0.0, 0.5), (0.76, 0.5), width=0.09)
_OUT = line((0.62, 0.5), (1.0, 0.5), width=0.09)
_BODY_UPRIGHT = box(0.06, 0.06, 0.94, 0.94)
_TOWARD = (circle(0.5, 0.5, 0.26, "none", "mark"), dot(0.5, 0.5, 0.12))
_AWAY = (circle(0.5, 0.5, 0.26, "none", "mark"),)
_STEP = (line((0.2, 0.82), (0.5, 0.82), (0.5, 0.66), (0.8, 0.66), stroke="mark", width=MARK),)
_CORNERS = tuple(
    line((a, b + (0.22 if b < 0.5 else -0.22)), (a, b), (a + (0.22 if a < 0.5 else -0.22), b), stroke="mark")
    for a in (0.2, 0.8)
    for b in (0.2, 0.8)
)
_REST = line((0.94, 0.22), (0.94, 0.78), width=0.08, stroke="outline")  # what a part fixed to a side rests on
_FEET = (capsule(0.3, 0.28, 0.45, 0.58, "panel", "mark"), capsule(0.55, 0.42, 0.7, 0.72, "panel", "mark"))
_PLATE = (box(0.06, 0.06, 0.94, 0.94), box(0.15, 0.15, 0.85, 0.85, "none", "mark"))
_TALLY = tuple(line((x, 0.3), (x, 0.7), stroke="mark") for x in (0.32, 0.44, 0.56, 0.68))
_TALLY_LOW = tuple(line((x, 0.7), (x, 0.79), stroke="mark") for x in (0.38, 0.46, 0.54, 0.62))
_CROSSED = line((0.2, 0.72), (0.8, 0.28), stroke="mark", width=0.08)
_CROSSED_LOW = line((0.28, 0.82), (0.72, 0.67), stroke="mark", width=0.08)
_EYE = tuple((round(0.1 + 0.17 * cos(a * pi / 12), 4), round(0.5 + 0.17 * sin(a * pi / 12), 4)) for a in range(-6, 7))
_EDGE = (
    box(0.1, 0.1, 0.78, 0.9), area(*_EYE, fill="panel"),
    line((0.36, 0.64), (0.5, 0.64), (0.5, 0.36), (0.68, 0.36), stroke="mark", width=MARK),
    area((0.8, 0.34), (0.98, 0.5), (0.8, 0.66)),
)  # fmt: skip
_FUNNEL = (
    box(0.05, 0.05, 0.95, 0.95, "panel", "soft"), box(0.29, 0.29, 0.71, 0.71, "panel", "soft"),
    *(line((a, b), (0.29 if a < 0.5 else 0.71, 0.29 if b < 0.5 else 0.71), stroke="soft")
      for a in (0.05, 0.95) for b in (0.05, 0.95)),
)  # fmt: skip
_HELD = (box(0.29, 0.29, 0.71, 0.71, "items", "items"), number(0.5, 0.5, 0.3, "onitems"))
_SPOUT = (
    box(0.08, 0.08, 0.92, 0.92, "panel", "soft"),
    area((0.64, 0.36), (0.92, 0.16), (0.92, 0.84), (0.64, 0.64), fill="block", stroke="soft"),
)
_SPOUT_HELD = (box(0.15, 0.3, 0.57, 0.7, "items", "items"), number(0.36, 0.5, 0.28, "onitems"))
_CRATE = (
    box(0.06, 0.06, 0.94, 0.94, "panel", "soft"),
    line((0.06, 0.28), (0.94, 0.28), stroke="soft"), line((0.06, 0.72), (0.94, 0.72), stroke="soft"),
)  # fmt: skip

# name -> its shapes while off and while on; a name that ends in "-standing" or "-upright" is the same part seen along
# the way it faces: fixed to the cell below or above, or with its face towards the viewer.
SYMBOLS: Mapping[str, tuple[Shapes, Shapes]] = {
    "solid": ((), ()),
    "hollow": (_HATCH, _HATCH),
    "lamp": (_LAMP_OFF, _LAMP_ON),
    "source": ((box(0.0, 0.0, 1.0, 1.0), *_PLUS),) * 2,
    "delay-box": ((area((0.07, 0.2), (0.62, 0.2), (0.95, 0.5), (0.62, 0.8), (0.07, 0.8)),),) * 2,
    "triangle": (
        (area((0.06, 0.06), (0.97, 0.5), (0.06, 0.94)), sign(0.36, 0.5, 0.3, "≥")),
        (area((0.06, 0.06), (0.97, 0.5), (0.06, 0.94)), number(0.33, 0.5, 0.32), sign(0.67, 0.5, 0.15, "≥")),
    ),
    "blunt": (
        (area((0.08, 0.06), (0.66, 0.26), (0.66, 0.74), (0.08, 0.94)), line((0.66, 0.5), (0.96, 0.5), width=0.08),
         sign(0.38, 0.5, 0.3, "−")),
        (area((0.08, 0.06), (0.66, 0.26), (0.66, 0.74), (0.08, 0.94)), line((0.66, 0.5), (0.96, 0.5), width=0.08),
         number(0.3, 0.5, 0.32), sign(0.56, 0.5, 0.18, "−")),
    ),
    "inverter": (
        (line((0.62, 0.5), (0.94, 0.5), width=0.06), _REST, _rhombus(0.42, 0.5, 0.22)),
        (line((0.62, 0.5), (0.94, 0.5), width=0.06), _REST, _rhombus(0.42, 0.5, 0.22),
         *_rays(0.42, 0.5, 0.27, 0.38, range(135, 271, 45), "outline"),
         *_rays(0.42, 0.5, 0.27, 0.38, range(90, 91), "outline")),
    ),
    "inverter-standing": (
        (_rhombus(0.5, 0.5, 0.25),),
        (_rhombus(0.5, 0.5, 0.25), *_rays(0.5, 0.5, 0.27, 0.42, range(45, 360, 90), "outline")),
    ),
    "switch": (
        (_REST, box(0.72, 0.34, 0.9, 0.66), line((0.72, 0.5), (0.36, 0.28), width=0.07), circle(0.27, 0.22, 0.11)),
        (_REST, box(0.72, 0.34, 0.9, 0.66), line((0.72, 0.5), (0.36, 0.72), width=0.07), circle(0.27, 0.78, 0.11)),
    ),
    "switch-standing": (
        (box(0.36, 0.46, 0.66, 0.82), line((0.5, 0.62), (0.3, 0.3), width=0.07), circle(0.26, 0.24, 0.12)),
        (box(0.36, 0.46, 0.66, 0.82), line((0.5, 0.62), (0.7, 0.3), width=0.07), circle(0.74, 0.24, 0.12)),
    ),
    "push": ((_REST, box(0.7, 0.34, 0.9, 0.66)), (_REST, box(0.8, 0.34, 0.9, 0.66))),
    "push-standing": ((circle(0.5, 0.5, 0.3), circle(0.5, 0.5, 0.15, "panel", "mark")),) * 2,
    "push-long": ((_REST, box(0.7, 0.12, 0.9, 0.88)), (_REST, box(0.8, 0.12, 0.9, 0.88))),
    "push-long-standing": ((capsule(0.08, 0.26, 0.92, 0.74, "level"), capsule(0.22, 0.4, 0.78, 0.6, "panel", "mark")),)
    * 2,
    "plate": (
        (*_PLATE, _hexagon(0.5, 0.5, 0.22, "panel", "mark")),
        (*_PLATE, _hexagon(0.5, 0.5, 0.22, "mark", "none")),
    ),
    "plate-tread": (
        (*_PLATE, *_FEET),
        (*_PLATE, *(foot._replace(fill="mark", stroke="none") for foot in _FEET)),
    ),
    "plate-count": ((*_PLATE, *_TALLY), (*_PLATE, number(0.5, 0.43, 0.36), *_TALLY_LOW)),
    "plate-count-ten": (
        (*_PLATE, *_TALLY, _CROSSED), (*_PLATE, number(0.5, 0.43, 0.36), *_TALLY_LOW, _CROSSED_LOW)
    ),
    "edge": (_EDGE, _EDGE),
    "ram": ((_BOX, _CHEVRON, _STALK, _HEAD),) * 2,
    "ram-pull": ((_BOX, *_CHEVRONS, _STALK, _CLAW),) * 2,
    "ram-out": ((_BOX, _CHEVRON, _OUT),) * 2,
    "ram-pull-out": ((_BOX, *_CHEVRONS, _OUT),) * 2,
    "ram-arm": ((_ROD, _HEAD),) * 2,
    "ram-pull-arm": ((_ROD, _CLAW),) * 2,
    "funnel": (_FUNNEL, (*_FUNNEL, *_HELD)),
    "spout": ((*_SPOUT, circle(0.36, 0.5, 0.17, "panel", "soft")), (*_SPOUT, *_SPOUT_HELD)),
    "box": ((*_CRATE, box(0.34, 0.38, 0.66, 0.62, "panel", "soft")),
            (*_CRATE, box(0.29, 0.33, 0.71, 0.67, "items", "items"), number(0.5, 0.5, 0.28, "onitems"))),
}  # fmt: skip

# Seen along the way they face: with the face towards the viewer, and away from the viewer.
TOWARD: Mapping[str, tuple[Shapes, Shapes]] = {
    "edge": ((_BODY_UPRIGHT, circle(0.5, 0.36, 0.18, "none", "mark"), dot(0.5, 0.36, 0.08), *_STEP),) * 2,
    "ram": ((_BODY_UPRIGHT, *_TOWARD),) * 2,
    "ram-pull": ((_BODY_UPRIGHT, *_CORNERS, *_TOWARD),) * 2,
    "ram-arm": ((box(0.12, 0.12, 0.88, 0.88), dot(0.5, 0.5, 0.1)),) * 2,
    "ram-pull-arm": ((box(0.12, 0.12, 0.88, 0.88), *_CORNERS, dot(0.5, 0.5, 0.1)),) * 2,
    "spout": (
        (box(0.08, 0.08, 0.92, 0.92, "panel", "soft"), circle(0.5, 0.5, 0.28, "block", "soft"),
         circle(0.5, 0.5, 0.17, "panel", "soft"), dot(0.5, 0.5, 0.06, "soft")),
        (box(0.08, 0.08, 0.92, 0.92, "panel", "soft"), circle(0.5, 0.5, 0.36, "block", "soft"), *_HELD),
    ),
}  # fmt: skip
AWAY: Mapping[str, tuple[Shapes, Shapes]] = {
    "edge": ((_BODY_UPRIGHT, circle(0.5, 0.36, 0.18, "none", "mark"), *_STEP),) * 2,
    "ram": ((_BODY_UPRIGHT, *_AWAY),) * 2,
    "ram-pull": ((_BODY_UPRIGHT, *_CORNERS, *_AWAY),) * 2,
    "ram-arm": ((box(0.12, 0.12, 0.88, 0.88), circle(0.5, 0.5, 0.14, "none", "mark")),) * 2,
    "ram-pull-arm": ((box(0.12, 0.12, 0.88, 0.88), *_CORNERS, circle(0.5, 0.5, 0.14, "none", "mark")),) * 2,
    "spout": (
        (box(0.08, 0.08, 0.92, 0.92, "panel", "soft"), box(0.22, 0.22, 0.78, 0.78, "block", "soft"),
         circle(0.5, 0.5, 0.17, "panel", "soft")),
        (box(0.08, 0.08, 0.92, 0.92, "panel", "soft"), *_HELD),
    ),
    "funnel": (
        (*_FUNNEL, line((0.38, 0.45), (0.5, 0.56), (0.62, 0.45), stroke="soft")),
        (*_FUNNEL, *_HELD, line((0.42, 0.78), (0.5, 0.86), (0.58, 0.78), stroke="soft")),
    ),
}  # fmt: skip
HANGS = (line((0.1, 0.05), (0.9, 0.05), width=0.08),)  # over what is fixed to the cell above it
FUNNEL_SIDE = (box(0.71, 0.38, 0.95, 0.62, "panel", "soft"),)
CLAMPS = (
    line((0.36, 0.16), (0.36, 0.04), stroke="ink", width=MARK),
    line((0.18, 0.05), (0.54, 0.05), stroke="ink", width=0.08),
    line((0.36, 0.84), (0.36, 0.96), stroke="ink", width=MARK),
    line((0.18, 0.95), (0.54, 0.95), stroke="ink", width=0.08),
)
SHUT = (line((0.82, 0.3), (0.82, 0.7), stroke="ink", width=0.08),)  # a hopper that power holds shut

# From the side, for what lies on the cell below: as it faces to the right; end on, as it faces the viewer.
_LOW = 0.98
SIDES: Mapping[str, tuple[Shapes, Shapes]] = {
    "delay-box": ((area((0.06, 0.64), (0.58, 0.64), (0.96, _LOW), (0.06, _LOW)),),) * 2,
    "triangle": (
        (area((0.06, 0.3), (0.97, _LOW), (0.06, _LOW)), sign(0.32, 0.78, 0.2, "≥")),
        (area((0.06, 0.3), (0.97, _LOW), (0.06, _LOW)), number(0.28, 0.8, 0.28), sign(0.58, 0.87, 0.13, "≥")),
    ),
    "blunt": (
        (area((0.08, 0.3), (0.66, 0.56), (0.66, _LOW), (0.08, _LOW)), line((0.66, 0.9), (0.97, 0.9), width=0.08),
         sign(0.36, 0.76, 0.24, "−")),
        (area((0.08, 0.3), (0.66, 0.56), (0.66, _LOW), (0.08, _LOW)), line((0.66, 0.9), (0.97, 0.9), width=0.08),
         number(0.28, 0.78, 0.28), sign(0.54, 0.8, 0.16, "−")),
    ),
    "plate": tuple(
        (box(0.06, 0.86, 0.94, _LOW), _hexagon(0.5, 0.64, 0.16, fill, "outline")) for fill in ("none", "level")
    ),  # type: ignore[dict-item]
    "plate-tread": tuple(
        (box(0.06, 0.86, 0.94, _LOW), capsule(0.32, 0.5, 0.46, 0.8, fill), capsule(0.54, 0.5, 0.68, 0.8, fill))
        for fill in ("none", "level")
    ),  # type: ignore[dict-item]
    "funnel": tuple(
        (area((0.06, 0.08), (0.94, 0.08), (0.94, 0.38), (0.64, 0.64), (0.36, 0.64), (0.06, 0.38), fill="panel",
              stroke="soft"), *held)
        for held in ((), (area((0.14, 0.18), (0.86, 0.18), (0.86, 0.36), (0.61, 0.57), (0.39, 0.57), (0.14, 0.36),
                               fill="items", stroke="none"), number(0.5, 0.36, 0.28, "onitems")))
    ),  # type: ignore[dict-item]
    "box": tuple(
        (box(0.1, 0.3, 0.9, 0.95, "panel", "soft"), box(0.05, 0.08, 0.95, 0.3, "panel", "soft"), *held)
        for held in ((box(0.34, 0.44, 0.66, 0.72, "panel", "soft"),),
                     (box(0.28, 0.42, 0.72, 0.82, "items", "items"), number(0.5, 0.62, 0.28, "onitems")))
    ),  # type: ignore[dict-item]
}  # fmt: skip
_COUNT_LEGS = tuple(line((x, 0.56), (x, 0.82)) for x in (0.32, 0.44, 0.56, 0.68))
COUNT_SIDE = (box(0.06, 0.86, 0.94, _LOW), *_COUNT_LEGS)
COUNT_SIDE_TEN = (*COUNT_SIDE, line((0.2, 0.8), (0.8, 0.58), width=0.09))
END_ON: Mapping[str, tuple[Shapes, Shapes]] = {
    "delay-box": ((box(0.16, 0.64, 0.84, _LOW),),) * 2,
    "triangle": (
        (area((0.1, _LOW), (0.5, 0.3), (0.9, _LOW)), sign(0.5, 0.8, 0.2, "≥")),
        (area((0.1, _LOW), (0.5, 0.3), (0.9, _LOW)), number(0.5, 0.84, 0.24), sign(0.5, 0.56, 0.12, "≥")),
    ),
    "blunt": (
        (area((0.1, _LOW), (0.32, 0.4), (0.68, 0.4), (0.9, _LOW)), sign(0.5, 0.72, 0.24, "−")),
        (area((0.1, _LOW), (0.32, 0.4), (0.68, 0.4), (0.9, _LOW)), number(0.5, 0.78, 0.26), sign(0.5, 0.54, 0.16, "−")),
    ),
}  # fmt: skip
NOSE = dot(0.5, 0.24, 0.07, "outline")  # over what is seen end on and faces the viewer
TAIL = circle(0.5, 0.24, 0.06, "none", "outline", OUTLINE)  # and what faces away
