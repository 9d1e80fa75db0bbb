"""The solids of the parts: whole in their cell, turned as the part is, faces outward, hidden where they are covered."""

from __future__ import annotations

import pytest

from pictures import cells_of
from tickwright.kinds import PARTS, Part
from tickwright.publish.pieces import LIFT, ROLES
from tickwright.publish.solids import solid_of, wire_shape
from tickwright.rules import load_rules
from tickwright.rules.layout import Layout, Stand
from tickwright.space import VECTORS

EVERY = [
    (Part(kind.name, facing), posture)
    for kind in PARTS.values()
    for facing in (kind.directions or (None,))
    for posture in (("rest", "out", "arm") if kind.name.endswith("piston") else ("rest",))
]


def outward(corners):
    """The normal that points outward, from corners anticlockwise as seen from outside; x and z span a screen with y."""
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = corners[:3]
    ux, uy, uz = bx - ax, by - ay, bz - az
    wx, wy, wz = cx - bx, cy - by, cz - bz
    # Right-handed in (x, z, y): the usual cross product with y and z exchanged.
    return (uz * wy - uy * wz, ux * wz - uz * wx, uy * wx - ux * wy)


@pytest.mark.parametrize(("part", "posture"), EVERY, ids=str)
def test_a_solid_stays_in_its_cell_and_has_known_roles(part, posture):
    solid = solid_of(part, posture)
    assert solid.faces
    for face in solid.faces:
        assert face.role in ROLES
        assert len(face.corners) >= 3
        assert all(-3 * LIFT < value < 1 + 3 * LIFT for corner in face.corners for value in corner)


@pytest.mark.parametrize(
    "kind", [kind for kind in PARTS if any(face.whole for face in solid_of(Part(kind, "east")).faces)]
)
def test_whole_sides_look_outward(kind):
    for facing in PARTS[kind].directions or (None,):
        for face in solid_of(Part(kind, facing)).faces:
            if face.whole:
                normal = outward(face.corners)
                way = VECTORS[face.side]
                assert sum(n * w for n, w in zip(normal, way, strict=True)) > 0, (facing, face)


def test_a_button_seen_from_above_shows_its_cap_and_not_its_foot():
    # Of all upward faces of a short button the highest is the round cap, of all downward ones the lowest is its foot.
    faces = solid_of(Part("short-button", "down")).faces
    up = max((face for face in faces if outward(face.corners)[2] > 1e-9), key=lambda face: face.corners[0][2])
    down = min((face for face in faces if outward(face.corners)[2] < -1e-9), key=lambda face: face.corners[0][2])
    assert (up.role, len(up.corners)) == ("level", 12)
    assert (down.role, down.corners[0][2], down.side) == ("body", 0, "down")


@pytest.mark.parametrize("facing", ["north", "south", "east", "west"])
def test_a_comparator_points_to_its_output(facing):
    # The triangle is the only upward level face: its tip, the corner farthest along, lies on the way to the output.
    (top,) = [
        face
        for face in solid_of(Part("comparator", facing)).faces
        if face.role == "level" and len(face.corners) == 3 and outward(face.corners)[2] > 1e-9
    ]
    way = VECTORS[facing]
    ahead = [sum((value - 0.5) * w for value, w in zip(corner, way, strict=True)) for corner in top.corners]
    assert sorted(ahead) == pytest.approx([-0.4, -0.4, 0.44])


@pytest.mark.parametrize("facing", ["down", "up", "north", "south", "east", "west"])
def test_a_lever_has_its_foot_where_it_is_fixed(facing):
    on_side = [face for face in solid_of(Part("lever", facing)).faces if face.side == facing]
    assert [face.role for face in on_side] == ["body"]


def test_each_tick_of_a_repeaters_delay_is_one_bar():
    marks = [
        sum(face.role == "mark" for face in solid_of(Part("repeater", "east", delay=n)).faces) for n in (1, 2, 3, 4)
    ]
    assert [later - marks[0] for later in marks] == [0, 1, 2, 3]


def test_a_wire_reaches_and_climbs_where_the_rules_join_it():
    # Drawn by hand: wire, wire, and in the east a block with a wire on it; a block under each.
    cells = cells_of(["###", "ww#", "..w"], {"#": "block", "w": "wire"})
    layout = Layout({cell: Stand(part) for cell, part in cells.items()}, load_rules("standard"))
    assert wire_shape(layout, (1, 0, 1)) == (("east", "west"), ("east",))
    assert wire_shape(layout, (2, 0, 2)) == (("east", "west"), ())
    assert wire_shape(layout, (0, 0, 1)) == (("east", "west"), ())


def test_comparators_are_told_apart_by_their_noses():
    # Seen from above the widest end is 0.8 in both; the nose of one comes to a point, that of the other stays wide.
    def end(mode):
        faces = solid_of(Part("comparator", "east", mode=mode)).faces
        body = max((face for face in faces if face.role == "level"), key=lambda face: max(z for *_, z in face.corners))
        reach = max(x for x, *_ in body.corners)
        across = [y for x, y, _ in body.corners if x == reach]
        return round(max(across) - min(across), 2)

    assert end("threshold") == 0
    assert end("difference") == pytest.approx(0.44)
