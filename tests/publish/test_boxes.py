"""Modules on sheets: drawn once by themselves, and in the plan that uses them boxes with their names."""

from __future__ import annotations

import pytest

from tickwright.material import gather_material
from tickwright.plan import load
from tickwright.publish import sheet_data
from tickwright.publish.boxes import boxes_of, modules_of

INVERTER = """
format = "tickwright plan 1"
title = "Inverter"
legend = {"#" = "block", w = "wire", t = "torch on=west"}
layer = [{rows = "#.#"}, {rows = "w#t"}]
ports = {a = {cell = [0, 0, 1], side = "west", role = "in"}, out = {cell = [2, 0, 1], side = "east", role = "out"}}
"""
WHOLE = """
format = "tickwright plan 1"
title = "Two of them"
legend = {"#" = "block", w = "wire", l = "lever", L = "lamp"}
triggers = {quay = [0, 0, 1]}
outputs = {lamp = [5, 6, 0]}
[[layer]]
rows = '''
##...#
.....#
......
......
......
.....#
.....L
'''
[[layer]]
rows = '''
lw...w
.....w
......
......
......
.....w
'''
[[layer]]
rows = '''
...w..
'''
[[use]]
plan = "inverter.toml"
at = [2, 0, 0]
name = "first"
[[use]]
plan = "inverter.toml"
at = [5, 2, 0]
turn = 90
name = "second"
"""


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("modules")
    (folder / "inverter.toml").write_text(INVERTER, encoding="utf-8")
    (folder / "whole.toml").write_text(WHOLE, encoding="utf-8")
    return load(folder / "whole.toml")


@pytest.fixture(scope="module")
def data(whole):
    return sheet_data(gather_material(whole))


def test_a_box_takes_the_cells_between_the_parts_of_its_module(whole):
    first, second = boxes_of(whole)
    assert first.layer(0) == {(2, 0), (3, 0), (4, 0)}  # nothing stands in (3, 0, 0)
    assert second.layer(1) == {(5, 2), (5, 3), (5, 4)}
    assert first.layer(2) == set()
    assert (first.way, second.way) == ("", "turned 90° clockwise")


def test_a_module_that_is_used_twice_is_drawn_once(whole, data):
    assert [(file, len(boxes)) for file, _, boxes in modules_of(whole)] == [("inverter.toml", 2)]
    (module,) = data["modules"]
    assert module["title"] == "Inverter"
    assert module["uses"] == [
        "first: its cell 0, 0, 0 lies at (2, 0, 0).",
        "second: its cell 0, 0, 0 lies at (5, 2, 0), turned 90° clockwise.",
    ]
    assert [[row["text"] for row in layer["rows"]] for layer in module["groups"]] == [
        ["2 × block"],
        ["block", "wire", "torch fixed to the west"],
    ]


def test_layers_of_the_whole_list_the_layers_of_modules_and_the_other_parts(whole, data):
    texts = [[row["text"] for row in layer["rows"]] for layer in data["groups"]]
    assert texts[0] == [
        "first: layer 0 of inverter.toml",
        "second: layer 0 of inverter.toml, turned 90° clockwise",
        "5 × block",
        "lamp",
    ]
    assert texts[2] == ["wire"]  # which stands on the block of a module
    told = [cell for layer in data["groups"] for row in layer["rows"] for cell in row["cells"]]
    assert len(told) == len({tuple(cell) for cell in told})
    assert {tuple(cell) for cell in told} >= set(whole.cells)


def test_a_layer_shows_the_names_of_its_boxes_and_none_of_their_parts(data):
    picture = data["groups"][1]["map"]["svg"]
    assert "first" in picture
    assert "second" in picture  # in letters that fit its one cell
    assert data["modules"][0]["groups"][1]["map"]["svg"] != picture
