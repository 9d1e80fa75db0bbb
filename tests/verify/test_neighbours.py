"""Pitch of copies: the pitches that builders know, and what touches at one less."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.design.catalogue import FAMILIES
from tickwright.design.recipes import Goal
from tickwright.plan import Setup, load, loads, mirror
from tickwright.rules import load_rules
from tickwright.verify import neighbours
from tickwright.verify.neighbours import NeighbourVerdict, neighbour_verdicts

RULES = load_rules()
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ROW = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", L = "lamp"}
layer = [{rows = "####"}, {rows = "bwwL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [3, 0, 1]}
"""


def verdict(name: str, axis: str, mirrored: bool = False) -> NeighbourVerdict:
    found = neighbour_verdicts(load(EXAMPLES / f"{name}.toml"), axes=(axis,))
    return next(one for one in found if one.mirrored == mirrored)


# Fact 8 of the trade (common practice, no source): flat loops stand three cells apart, stacked ones two.
@pytest.mark.parametrize("name", ["flat-loop-2", "flat-loop-4", "flat-loop-6", "flat-loop-8"])
def test_flat_loops_stand_three_cells_apart(name):
    found = verdict(name, "y")
    assert (found.length_cells, found.pitch_cells) == (2, 3)


@pytest.mark.parametrize("name", ["stacked-loop-3", "stacked-loop-4", "stacked-loop-4-uneven", "stacked-loop-5"])
def test_stacked_loops_stand_two_cells_apart(name):
    found = verdict(name, "y")
    assert (found.length_cells, found.pitch_cells) == (1, 2)


def test_three_stacked_fit_where_two_flat_do():
    flat, stacked = verdict("flat-loop-6", "y"), verdict("stacked-loop-3", "y")
    assert 1 * (flat.pitch_cells or 0) + flat.length_cells == 5
    assert 2 * (stacked.pitch_cells or 0) + stacked.length_cells == 5


def test_what_touches_at_one_less_is_the_wires_that_meet():
    found = verdict("flat-loop-4", "y")
    met = {(touch.cell, touch.other) for touch in found.touching}
    # At a pitch of 2 the entry wire of copy 1, at (2, 2, 1), lies beside the south wire of copy 0, at (2, 1, 1).
    assert ((2, 1, 1), (2, 2, 1)) in met
    assert ((2, 2, 1), (2, 1, 1)) in met


def test_rows_of_wire_beside_each_other_join():
    plain, mirrored = neighbour_verdicts(loads(ROW), axes=("y",))
    assert (plain.pitch_cells, mirrored.pitch_cells) == (2, 2)
    assert "(1, 0, 1) of copy 0 hears (1, 1, 1) of copy 1" in [str(touch) for touch in plain.touching]


def test_copies_end_to_end():
    plain, mirrored = neighbour_verdicts(loads(ROW), axes=("x",))
    # Plain, the lamp meets the next button; mirrored it meets the next lamp, which conducts and so lights it.
    assert (plain.pitch_cells, mirrored.pitch_cells) == (5, 5)
    assert str(plain.touching[0]) == "(3, 0, 1) of copy 0 hears (4, 0, 1) of copy 1"
    assert {touch.how for touch in mirrored.touching} == {"hears"}


def test_copies_that_want_one_cell_say_which_copies():
    # One column, but for the lamp's arm: at a pitch below 4 the arm of one copy stands in the next.
    found = verdict("stacked-loop-3", "x")
    assert found.pitch_cells == 6
    assert {(touch.copy, touch.other_copy, touch.how) for touch in found.touching} == {
        (0, 1, "stands in"),
        (1, 2, "stands in"),
    }


def test_pistons_reach_farther_than_wires():
    row = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button on=west", p = "piston west", i = "insulator", L = "lamp"}
layer = [{rows = "iLip#b"}]
triggers = {press = [5, 0, 0]}
outputs = {lamp = [1, 0, 0]}
"""
    plain = neighbour_verdicts(loads(row), axes=("x",))[0]
    # The press pushes three cells one to the west: without a free cell there they break the button of the next copy.
    assert (plain.length_cells, plain.pitch_cells) == (6, 7)
    assert str(plain.touching[0]) == "(5, 0, 0) of copy 0 moves with (11, 0, 0) of copy 1"


@pytest.mark.parametrize("name", ["barrier", "shuttle"])
def test_runs_farther_apart_find_no_more_where_pistons_move(name, monkeypatch):
    plan = load(EXAMPLES / f"{name}.toml")
    near = neighbour_verdicts(plan)
    reaches: list[int] = []
    honest = neighbours._reach

    def farther(*args):
        reaches.append(honest(*args))
        return reaches[-1] + 9

    monkeypatch.setattr(neighbours, "_reach", farther)
    assert neighbour_verdicts(plan) == near
    # From there on no part is near one of the next copy; the pitch found is below.
    assert all((verdict.pitch_cells or 0) < reach for verdict, reach in zip(near, reaches, strict=True))


def test_what_a_piston_pushes_far_is_within_reach():
    # The row of four is pushed one cell to the east, to x = 7 of a length of 7; the next copy mirrored does the same.
    plan = loads("""format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button on=east", p = "piston east", i = "insulator"}
layer = [{rows = "b#piiii"}]
triggers = {press = [0, 0, 0]}
""")
    laid, other = (neighbours._Copy.of(Setup(one, RULES)) for one in (plan, mirror(plan, "x")))
    assert neighbours._reach(laid, laid, RULES, "x") == 8 + neighbours.REACH
    assert neighbours._reach(laid, other, RULES, "x") == 9 + neighbours.REACH
    assert neighbours._reach(laid, laid, RULES, "y") == 1 + neighbours.REACH


def test_a_plan_that_is_never_at_rest_has_no_pitch():
    clock = """format = "tickwright plan 1"
legend = {"#" = "block", t = "torch on=west", w = "wire", b = "short-button"}
layer = [{rows = "####\\n#..#\\n####"}, {rows = "#tww\\nw..w\\nwwww"}, {rows = "b"}]
triggers = {press = [0, 0, 2]}
outputs = {beat = [1, 0, 1]}
"""
    found = neighbour_verdicts(loads(clock), axes=("x",))[0]
    assert (found.pitch_cells, found.reason) == (None, "The circuit is not at rest before a press.")


PUSHING = """format = "tickwright plan 1"
legend = {"#" = "block", c = "crate", h = "hopper into=east items=5", v = "lever thrown=yes"}
layer = [{rows = "##"}, {rows = "ch"}, {rows = ".v"}]
triggers = {release = [1, 0, 2]}
outputs = {crate = [0, 0, 1]}
"""


def test_hoppers_that_pass_items_to_another_copy_touch_it():
    plain = neighbour_verdicts(loads(PUSHING), axes=("x",))[0]
    # The hopper faces east: at a pitch of 2 it has the next copy's crate before it.
    assert (plain.length_cells, plain.pitch_cells) == (2, 3)
    assert str(plain.touching[0]) == "(1, 0, 1) of copy 0 hears (2, 0, 1) of copy 1"


@pytest.mark.parametrize("name", ["difference-fader", "drain-timer", "hopper timer", "hopper counter", "pushing"])
def test_runs_find_no_less_where_items_stay_in_containers(name, monkeypatch):
    if name in FAMILIES:
        recipes = FAMILIES[name].recipes(Goal(60, 60, 60, "short-button", 20, ("lamp",)))
        plan = next(iter(recipes)).make()
    else:
        plan = loads(PUSHING) if name == "pushing" else load(EXAMPLES / f"{name}.toml")
    assert neighbours._contained(plan)
    read_off = neighbour_verdicts(plan)
    monkeypatch.setattr(neighbours, "_contained", lambda _: False)
    assert read_off == neighbour_verdicts(plan)


@pytest.mark.parametrize(
    ("rows", "trigger", "contained"),
    [
        ("bec", "b", True),
        ("be.", "b", False),  # the ejector lets items go
        ("bp.", "b", False),
        ("..h", ".", False),  # what the hand drops may lie where a hopper takes it
        ("..c", ".", False),
        ("bLc", "b", True),
        ("b.h", "b", True),
    ],
)
def test_items_that_lie_about_are_not_contained(rows, trigger, contained):
    plan = loads(f"""format = "tickwright plan 1"
layer = [{{rows = "###"}}, {{rows = "{rows}"}}]
triggers = {{press = [{rows.index(trigger)}, 0, 1]}}
[legend]
"#" = "block"
b = "short-button"
e = "ejector east items=3"
c = "crate"
p = "piston east"
h = "hopper"
L = "lamp"
""")
    assert neighbours._contained(plan) == contained
