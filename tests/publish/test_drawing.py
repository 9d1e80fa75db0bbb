"""Drawings of layers as an SVG reader reads them: each cell, wires as the rules see them, texts that inject nothing."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from pictures import cells_of
from tickwright import load
from tickwright.errors import UsageError
from tickwright.plan import Plan
from tickwright.publish import layer_drawing, legend_drawing, section_drawing, svg_text
from tickwright.publish.drawing import name_labels, whole_layer, windows
from tickwright.publish.letters import text_width
from tickwright.publish.shown import listeners
from tickwright.recording import record
from tickwright.rules import load_rules
from tickwright.rules.layout import Layout, Stand

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SVG = "{http://www.w3.org/2000/svg}"
NASTY = "\"Fähre\" <script>alert(1)</script> & 'Δ Паром ⛴ 渡し船' ]]> \u202e"


def read(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def texts(root: ET.Element) -> list[str]:
    return [node.text or "" for node in root.iter(f"{SVG}text")]


def groups(root: ET.Element) -> dict[str, ET.Element]:
    """What a page finds by its key: the groups of cells."""
    return {node.attrib["data-cell"]: node for node in root.iter(f"{SVG}g") if "data-cell" in node.attrib}


def titles(root: ET.Element) -> dict[str, str]:
    return {key: node.findtext(f"{SVG}title") or "" for key, node in groups(root).items()}


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_cell_of_every_layer_is_there_with_what_stands_in_it(path):
    plan = load(path)
    rules = load_rules(plan.rules, path.parent)
    named = {*plan.triggers.values(), *plan.outputs.values()}
    for z in range(plan.size[2]):
        root = read(svg_text(layer_drawing(plan, rules, z)))
        expected = {f"{x},{y},{z}" for x, y, cell_z in {*plan.cells, *named} if cell_z == z}
        found = titles(root)
        assert set(found) == expected
        assert all(str(plan.cells[x, y, z]) in found[f"{x},{y},{z}"] for x, y, cell_z in plan.cells if cell_z == z)


def test_a_moment_shows_the_level_of_each_cell_as_a_number():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    recording = record(plan)
    moment = recording.moment(60)
    shown = {cell: value for cell, value in moment.values.items() if cell[2] == 1}
    assert len(set(shown.values())) == 3
    root = read(svg_text(layer_drawing(plan, recording.rules, 1, moment)))
    for key, node in groups(root).items():
        value = shown.get(tuple(map(int, key.split(","))), 0)
        numbers = [text.text for text in node.iter(f"{SVG}text") if (text.text or "").isdigit()]
        kind = plan.cells[tuple(map(int, key.split(",")))].kind
        shows = value and kind in ("wire", "comparator", "block")  # a lit button or repeater always gives 15
        assert numbers == ([str(value)] if shows else []), key
    assert "end of step 60 (3 s, 30 ticks)" in texts(root)
    assert "end of step 60 (3 s, 30 ticks)" in (root.findtext(f"{SVG}desc") or "")


def test_every_named_cell_has_its_name():
    plan = load(EXAMPLES / "drain-timer.toml")
    drawn = {text for z in range(plan.size[2]) for text in texts(read(svg_text(layer_drawing(plan, load_rules(), z))))}
    assert {*plan.triggers, *plan.outputs} <= drawn


@pytest.mark.parametrize(
    ("layer", "wire", "heard"),
    [
        ("wr", (0, 0, 1), {"east"}),  # a repeater hears its back
        ("rw", (1, 0, 1), set()),  # nobody hears a wire before its front
        ("w.c/www", (1, 1, 1), set()),
        ("wc/.w", (1, 1, 1), {"north"}),  # a comparator hears its flank
        ("wwL", (1, 0, 1), {"east"}),  # a lamp hears a wire that points to it
        ("wwww/.L..", (1, 0, 1), set()),  # and none that goes past it
        ("ww#r", (1, 0, 1), set()),  # a block listens to nothing
    ],
)
def test_arrows_of_wires_stand_where_something_listens(layer, wire, heard):
    key = {"#": "block", "w": "wire", "r": "repeater east", "c": "comparator east", "L": "lamp"}
    plan = Plan(cells_of([layer], key, floor=True))
    layout = Layout({cell: Stand(part) for cell, part in plan.cells.items()}, load_rules())
    assert listeners(layout, wire) == heard
    marks = groups(read(svg_text(layer_drawing(plan, load_rules(), 1))))[",".join(map(str, wire))]
    arrows = [path for path in marks.iter(f"{SVG}path") if path.attrib["d"].count("L") == 2]
    assert len(arrows) == len(heard)


def test_a_section_shows_each_cell_of_its_plane_and_up_is_up():
    plan = load(EXAMPLES / "stacked-loop-3.toml")
    for axis, number in (("y", 0), ("x", 2)):
        root = read(svg_text(section_drawing(plan, load_rules(), axis, number)))
        at = "xy".index(axis)
        named = {*plan.triggers.values(), *plan.outputs.values()}
        assert set(titles(root)) == {",".join(map(str, c)) for c in {*plan.cells, *named} if c[at] == number}
    upper, lower = (
        float(groups(root)[key].find(f"{SVG}rect").attrib["y"])
        for root in [read(svg_text(section_drawing(plan, load_rules(), "y", 0)))]
        for key in ("2,0,3", "2,0,0")
    )
    assert upper < lower
    assert "Section y 0, from the south" in texts(read(svg_text(section_drawing(plan, load_rules(), "y", 0))))
    with pytest.raises(UsageError, match="The plan has no section y 1: it has the sections y 0 to 0"):
        section_drawing(plan, load_rules(), "y", 1)
    with pytest.raises(UsageError, match='There is no section along "z": use x or y'):
        section_drawing(plan, load_rules(), "z", 0)


def test_names_stand_over_the_drawing_and_no_leader_crosses_a_name():
    corners = {(x, y, 1): (48.0 * x, 48.0 * y) for x, y in ((0, 0), (1, 2), (1, 0), (2, 1), (5, 0))}
    names = {cell: [f"signal-{cell[0]}-{cell[1]}"] for cell in corners}
    labels, rise = name_labels(corners, names)
    assert sorted(label.text for label in labels) == sorted(name for (name,) in names.values())
    assert all(label.rise <= rise for label in labels)
    for label in labels:
        for other in labels:
            wide = text_width(other.text, 12, bold=True)
            crossed = other.x - 2 <= label.x <= other.x - 2 + wide and label.rise > other.rise
            assert other is label or not crossed


def test_moves_are_drawn_as_they_are():
    recording = record(load(EXAMPLES / "shuttle.toml"))
    words = set()
    for step, _ in recording.scenes:
        for z in range(recording.plan.size[2]):
            words.update(
                titles(
                    read(svg_text(layer_drawing(recording.plan, recording.rules, z, recording.moment(step))))
                ).values()
            )
    joined = " ".join(words)
    assert "extended" in joined
    assert "its arm" in joined
    assert "on its way" in joined


def test_a_title_of_any_letters_shows_as_it_is_and_injects_nothing():
    plan = replace(load(EXAMPLES / "latch.toml"), title=NASTY)
    svg = svg_text(layer_drawing(plan, load_rules(), 1))
    root = read(svg)
    assert (root.findtext(f"{SVG}title") or "").startswith(NASTY)
    assert any(text.startswith('"Fähre" <script>') for text in texts(root))
    assert {node.tag for node in root.iter()} <= {SVG + tag for tag in "svg title desc rect g path circle text".split()}
    assert "<script" not in svg
    assert "\x07" not in svg_text(layer_drawing(replace(plan, title="a\x07b\ud800"), load_rules(), 1))


def test_light_and_dark_differ_in_colours_only():
    plan = load(EXAMPLES / "latch.toml")
    light, dark = (read(svg_text(layer_drawing(plan, load_rules(), 1, theme=theme))) for theme in ("light", "dark"))
    colours = ("fill", "stroke")

    def bare(root: ET.Element) -> list[tuple[str, dict[str, str], str | None]]:
        return [(n.tag, {k: v for k, v in n.attrib.items() if k not in colours}, n.text) for n in root.iter()]

    assert bare(light) == bare(dark)
    assert {n.get("fill") for n in light.iter()} != {n.get("fill") for n in dark.iter()}


def test_a_layer_that_is_not_there_is_refused():
    with pytest.raises(UsageError, match="The plan has no layer 7: it has the layers 0 to 1"):
        layer_drawing(load(EXAMPLES / "latch.toml"), load_rules(), 7)


def test_the_legend_has_a_row_for_each_part_and_says_how_wires_are_drawn():
    plan = load(EXAMPLES / "latch.toml")
    shown = texts(read(svg_text(legend_drawing(plan.cells.values(), load_rules()))))
    assert {str(part) for part in plan.cells.values()} <= set(shown)
    assert shown.count("wire") == 3


def test_a_large_layer_comes_in_pieces_that_hold_each_cell_once():
    row = "b" + "rw" * 29 + "L"
    legend = {"#": "block", "b": "short-button", "r": "repeater east", "w": "wire", "L": "lamp"}
    plan = Plan(cells_of(["#" * 60, row], legend), {"press": (0, 0, 1)}, {"lamp": (59, 0, 1)})
    pieces = [
        read(svg_text(layer_drawing(plan, load_rules(), 1, window=one))) for one in windows(whole_layer(plan), 24, 30)
    ]
    assert len(pieces) == 3
    keys = [key for piece in pieces for key in groups(piece)]
    assert sorted(keys) == sorted(f"{x},0,1" for x in range(60))
    where = [text for piece in pieces for text in texts(piece) if text.startswith("From above")]
    assert where == [f"From above, layer 1, x {x} to {x + 19}" for x in (0, 20, 40)]
    # Coordinates go on from piece to piece, and a name stands on the one that shows its cell.
    assert [str(x) for x in range(20, 40)] == [text for text in texts(pieces[1]) if text.isdigit()][:20]
    assert ["lamp" in texts(piece) for piece in pieces] == [False, False, True]
    assert "It holds 10 repeater, 10 wire." in "".join(pieces[1].itertext())
