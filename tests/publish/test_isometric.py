"""The whole plan from its corners: faces that are seen and no others, the same world from every side."""

from __future__ import annotations

import io
import struct
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from golden import hold_to
from pictures import cells_of
from tickwright import load, loads
from tickwright.errors import UsageError
from tickwright.plan import Plan, rotate
from tickwright.publish import CORNERS, Drawing, Group, Mark, isometric_drawing, layer_drawing, png_bytes, svg_text
from tickwright.publish.isometric import View, lifting_gap
from tickwright.recording import record
from tickwright.rules import load_rules

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parents[1] / "examples"
SVG = "{http://www.w3.org/2000/svg}"
# Names of examples with the step to draw, chosen for what they show: climbs and falls, items, pistons under way.
GOLDEN = {"stacked-loop-3": 18, "drain-timer": 40, "shuttle": 24}


def faces(drawing: Drawing) -> int:
    """How many faces of cells are drawn: the areas with the thin outline of a cell."""
    return sum(mark.form == "area" and mark.width == 1 for group in drawing.groups if group.key for mark in group.marks)


@pytest.mark.parametrize(
    ("layers", "seen"),
    [
        (["#"], 3),
        (["##"], 5),
        (["#", "#"], 5),
        (["###/###/###"] * 3, 27),  # a cube of three: three sides of nine
        (["##/##", "#./.."], 4 - 1 + 4 + 3),  # above: three left of four and the one on top of it; four at the sides
    ],
)
def test_faces_between_full_cells_are_left_out(layers, seen):
    plan = Plan(cells_of(layers, {"#": "block"}))
    assert faces(isometric_drawing(plan, load_rules())) == seen


def test_layers_that_are_lifted_apart_show_their_tops():
    plan = Plan(cells_of(["##", "##"], {"#": "block"}))
    assert faces(isometric_drawing(plan, load_rules(), apart=1)) == faces(isometric_drawing(plan, load_rules())) + 2


def cell_marks(drawing: Drawing) -> Counter:
    """Every mark of every cell, from the left upper corner of them all."""
    marks = [mark for group in drawing.groups if group.key for mark in group.marks]
    left = min(x for mark in marks for x, _ in mark.points)
    top = min(y for mark in marks for _, y in mark.points)
    return Counter(
        mark._replace(points=tuple(sorted((round(x - left, 1) + 0, round(y - top, 1) + 0) for x, y in mark.points)))
        for mark in marks
    )


@pytest.mark.parametrize("name", ["stacked-loop-4-uneven", "shuttle", "latch", "edge-detector"])
def test_a_plan_turned_looks_as_from_the_next_corner(name):
    plan = load(EXAMPLES / f"{name}.toml")
    rules = load_rules(plan.rules)
    for turns, corner in enumerate(["south-east", "north-east", "north-west", "south-west"]):
        seen = cell_marks(isometric_drawing(plan, rules, corner=corner))
        assert seen == cell_marks(isometric_drawing(rotate(plan, turns), rules)), corner


@pytest.mark.parametrize("corner", CORNERS)
def test_coordinates_and_compass_follow_the_corner(corner):
    plan = load(EXAMPLES / "latch.toml")
    drawing = isometric_drawing(plan, load_rules(), corner=corner)
    places = {mark.text: mark.points[0] for group in drawing.groups for mark in group.marks if mark.form == "text"}
    wide, high, layers = plan.size
    assert {f"{axis}{n}" for axis, far in zip("xyz", plan.size, strict=True) for n in range(far)} <= set(places)
    assert (wide > 2, high > 2, layers) == (True, True, 2)
    # What lies farther east stands farther to where the compass says east, and so with south.
    for axis, toward, away in (("x", "E", "W"), ("y", "S", "N")):
        (x0, y0), (x1, y1) = places[f"{axis}0"], places[f"{axis}1"]
        (tx, ty), (ax, ay) = places[toward], places[away]
        assert (x1 - x0) * (tx - ax) > 0
        assert (y1 - y0) * (ty - ay) > 0


def test_names_moments_and_alt_text_are_there():
    plan = load(EXAMPLES / "stacked-loop-3.toml")
    recording = record(plan)
    root = ET.fromstring(svg_text(isometric_drawing(plan, recording.rules, recording.moment(18))))
    texts = [node.text for node in root.iter(f"{SVG}text")]
    assert {*plan.triggers, *plan.outputs, "end of step 18 (0.9 s, 9 ticks)"} <= set(texts)
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "title desc"
    assert root.findtext(f"{SVG}title") == f"{plan.title}: from above the south-east corner"
    words = root.findtext(f"{SVG}desc") or ""
    assert "10 block" in words
    assert "entry: output, wire at (2, 0, 2)" in words


@pytest.mark.parametrize("corner", CORNERS)
def test_what_stands_behind_is_covered(corner):
    """A cube that holds a lit lamp looks as one of blocks alone."""
    full = ["###/###/###"] * 3
    holding = ["###/###/###", "###/#L#/###", "###/###/###"]
    key = {"#": "insulator", "L": "power-block"}
    drawn = [
        isometric_drawing(recording.plan, recording.rules, recording.moment(0), corner=corner)
        for recording in (record(Plan(cells_of(layers, key)), [], 1) for layers in (full, holding))
    ]
    one, other = (png_bytes(replace(drawing, title="", description="")) for drawing in drawn)
    assert one == other


@pytest.mark.parametrize(("wide", "deep"), [(7, 1), (7, 5), (2, 9), (1, 1), (12, 12)])
def test_lifted_layers_never_cover_each_other(wide, deep):
    """The plates of two layers and all that stands on the lower one share no point of the paper."""
    plan = Plan(cells_of(["/".join(["#" * wide] * deep)] * 3, {"#": "block"}))
    for corner, turns in CORNERS.items():
        across, along = (wide, deep) if turns % 2 == 0 else (deep, wide)
        view = View(turns, plan.size, lifting_gap(across, along))
        lower, upper = (
            [(x, y) for x, y in (view.point(px, py, z + dz, z) for dz in rises for px, py in corners)]
            for z, rises in ((0, (0.0, 1.0)), (1, (0.0,)))
            for corners in [
                [(-0.15, -0.15), (across + 0.15, -0.15), (across + 0.15, along + 0.15), (-0.15, along + 0.15)]
            ]
        )
        assert not overlap(hull(lower), hull(upper)), corner


def hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The convex hull of points: Andrew's monotone chain (1979)."""

    def half(ordered: list[tuple[float, float]]) -> list[tuple[float, float]]:
        found: list[tuple[float, float]] = []
        for x, y in ordered:
            while len(found) > 1:
                (ax, ay), (bx, by) = found[-2:]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                found.pop()
            found.append((x, y))
        return found[:-1]

    ordered = sorted(set(points))
    return half(ordered) + half(ordered[::-1])


def overlap(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> bool:
    """Whether two convex areas share a point: no edge of either parts them (separating axes)."""
    for area in (one, other):
        for (ax, ay), (bx, by) in zip(area, [*area[1:], area[0]], strict=True):
            nx, ny = ay - by, bx - ax
            mine, theirs = ([nx * x + ny * y for x, y in points] for points in (one, other))
            if max(mine) < min(theirs) or max(theirs) < min(mine):
                return False
    return True


@pytest.mark.parametrize("name", GOLDEN)
def test_pictures_are_as_they_were_looked_at(name):
    recording = record(load(EXAMPLES / f"{name}.toml"))
    moment = recording.moment(GOLDEN[name])
    whole = isometric_drawing(recording.plan, recording.rules, moment)
    layer = layer_drawing(recording.plan, recording.rules, 1, moment, "dark")
    hold_to(HERE / "golden" / f"{name}.svg", svg_text(whole))
    hold_to(HERE / "golden" / f"{name}-layer-1-dark.svg", svg_text(layer))


def test_a_png_has_the_size_of_the_drawing_and_is_the_same_each_time():
    plan = replace(load(EXAMPLES / "latch.toml"), title='"Δ" <b>Паром</b> & 渡')
    drawing = isometric_drawing(plan, load_rules())
    data = png_bytes(drawing)
    assert data == png_bytes(drawing)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"  # W3C PNG, 5.2; width and height stand in the header, 11.2.2
    width, height = struct.unpack(">II", data[16:24])
    assert abs(width - 2 * drawing.width) <= 2
    assert abs(height - 2 * drawing.height) <= 2


@pytest.mark.parametrize("height", [818.25, 839.25, 840.0, 631.6])
def test_a_png_keeps_every_row_of_a_drawing_that_ends_within_a_pixel(height):
    from PIL import Image

    rows = range(0, int(height), 2)
    lines = [Mark("line", ((0, y + 0.5), (20, y + 0.5)), stroke="#000000", width=1) for y in rows]
    drawing = Drawing(581.74, height, "#ffffff", "Rows", "Every other row is black.", (Group(tuple(lines)),))
    picture = Image.open(io.BytesIO(png_bytes(drawing, 1.0))).convert("L")
    assert [y for y in range(picture.height) if picture.getpixel((10, y)) < 64] == list(rows)


def test_what_there_is_not_is_refused():
    plan = load(EXAMPLES / "latch.toml")
    with pytest.raises(UsageError, match='There is no corner "south"'):
        isometric_drawing(plan, load_rules(), corner="south")
    with pytest.raises(UsageError, match="Layers cannot lie 21 cells apart: give 0 to 20"):
        isometric_drawing(plan, load_rules(), apart=21)


def test_in_a_wide_plan_a_name_stands_on_the_nearer_side_and_strikes_no_coordinate():
    # Drawn by hand: a lever near the east of a ground of twelve by twelve; numbered wires lie between it and the edge.
    rows = "\n".join(["#" * 12] * 12)
    top = "\n".join("." * 8 + ("vwww" if row == 6 else "....") for row in range(12))
    plan = loads(
        'format = "tickwright plan 1"\nlegend = {"#" = "block", v = "lever thrown=yes", w = "wire"}\n'
        f"layer = [{{rows = '''\n{rows}'''}}, {{rows = '''\n{top}'''}}]\ntriggers = {{safe = [8, 6, 1]}}"
    )
    drawing = isometric_drawing(plan, load_rules(), record(plan).moment(0), bare=True, unit=36)
    marks = [mark for group in drawing.groups for mark in group.marks]
    assert {"15", "14", "13"} <= {mark.text for mark in marks}
    (name,) = [mark for mark in marks if mark.text == "safe"]
    leader = next(mark for mark in marks if mark.form == "line" and len(mark.points) == 3)
    assert name.anchor == "start"
    assert leader.points[0][0] > drawing.width / 2
    level = leader.points[1][1]
    near = [mark.text for mark in marks if mark.form == "text" and abs(mark.points[0][1] - level) < 5]
    assert not [text for text in near if text.startswith("y")]
    assert sum(mark.text.startswith("y") for mark in marks) >= 5
