"""Rule sets side by side: where `standard` and `older-wire` part."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.plan import load, loads
from tickwright.verify.rulesets import _parts_at, side_by_side

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
# The wire's end lies between the button and nothing; it points at the lamp at its side only if nothing joins it there.
CORNER = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", L = "lamp"}
layer = [{rows = "####"}, {rows = "LwwL"}, {rows = ""}]
triggers = {press = [1, 0, 1]}
outputs = {west = [0, 0, 1], east = [3, 0, 1]}
"""


def test_a_vertical_loop_that_fades_under_older_wire_only():
    found = side_by_side(load(EXAMPLES / "older-wire-fade.toml"))
    assert [one.rules for one in found.sets] == ["standard", "older-wire"]
    kinds = [[result.kind for result in one.results] for one in found.sets]
    assert kinds == [["latched", "latched"], ["one-shot", "one-shot"]]
    # The block that the climbing wire faces is the first to show it, 4 steps after the press at step 2.
    (parting,) = found.partings
    assert (parting.cell, parting.part) == ((5, 1, 2), "block")
    assert (parting.value_a, parting.value_b) == (15, 14)
    assert parting.step == parting.pressed_at_step + 6


def test_a_plan_with_straight_wires_does_not_part():
    found = side_by_side(load(EXAMPLES / "taps.toml"))
    (parting,) = found.partings
    assert parting.step is None
    assert parting.compared_steps > 40
    measured = [[(result.kind, result.hold_steps) for result in one.results] for one in found.sets]
    assert measured[0] == measured[1]


@pytest.mark.parametrize(
    ("one", "other", "step"),
    [
        (((0, 0), (4, 15)), ((0, 0), (4, 15)), None),
        (((0, 0), (4, 15)), ((0, 0), (7, 15)), 4),
        (((0, 0), (9, 15)), ((0, 0), (7, 15)), 7),
        (((0, 0), (4, 15)), ((0, 0), (4, 14)), 4),
        (((0, 0), (4, 15), (8, 0)), ((0, 0), (4, 15)), 8),
        (((0, 0),), ((0, 0), (6, 15), (8, 0)), 6),
    ],
)
def test_where_two_lists_of_changes_part(one, other, step):
    assert _parts_at(one, other) == step


def test_the_data_can_be_read_without_the_types():
    data = side_by_side(loads(CORNER.replace('rows = "LwwL"', 'rows = "LbwL"'))).as_data()
    assert [one["rules"] for one in data["sets"]] == ["standard", "older-wire"]
    assert data["partings"][0]["trigger"] == "press"
