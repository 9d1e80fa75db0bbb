"""The grid of a sweep: which points there are, and when two of them are one."""

from __future__ import annotations

import pytest

from tickwright import grid, loads
from tickwright.errors import TickwrightError, UsageError

TEXT = """format = "tickwright plan 1"
title = "Barrier bell"
[legend]
"#" = "block"
b = "short-button"
r = "repeater east"
c = "comparator east"
L = "lamp"
[[layer]]
rows = "####"
[[layer]]
rows = "brcL"
[triggers]
press = [0, 0, 1]
[outputs]
lamp = [3, 0, 1]
"""
PLANS = {"bell": loads(TEXT)}


def test_every_combination_is_a_point_and_the_stimulus_runs_fastest():
    points = grid(
        PLANS,
        rules=["standard", "older-wire"],
        settings=["1,0,1:delay=1,3..4", "2,0,1:mode=threshold,difference"],
        lengths=["4 ticks..8 ticks/2 ticks", "1 s"],
    )
    assert len(points) == 2 * 3 * 2 * 4
    assert len({point.key for point in points}) == len(points)
    assert [point.length_steps for point in points[:5]] == [8, 12, 16, 20, 8]
    assert [dict(point.settings)["2,0,1:mode"] for point in points[:8:4]] == ["threshold", "difference"]
    assert [dict(point.settings)["1,0,1:delay"] for point in points[:24:8]] == ["1", "3", "4"]
    assert [point.rules for point in points[::24]] == ["standard", "older-wire"]


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("10 ticks..12 ticks", [20, 22, 24]),
        ("1 s..22 steps", [20, 21, 22]),
        ("1 s..2 s/10 ticks", [20, 40]),
        ("3 steps", [3]),
        ("3 steps, 3 steps..5 steps", [3, 4, 5]),
    ],
)
def test_lengths_go_by_ticks_where_both_ends_do_else_by_steps(text, steps):
    assert [point.length_steps for point in grid(PLANS, lengths=[text])] == steps


def test_steps_of_acts_vary_and_acts_are_kept_as_written():
    points = grid(PLANS, acts=["0:press", "10..30/10:press"], steps=60)
    assert [point.acts for point in points] == [("0:press", f"{step}:press") for step in (10, 20, 30)]
    assert {(point.trigger, point.steps) for point in points} == {(None, 60)}


def test_a_name_means_its_cell():
    other = TEXT.replace("[outputs]\n", "[outputs]\nentry = [1, 0, 1]\n")
    by_name, by_cell = (grid({"bell": loads(other)}, settings=[f"{who}:delay=2"]) for who in ("entry", "1,0,1"))
    assert by_name[0].changes == by_cell[0].changes
    assert by_name[0].key == by_cell[0].key


def test_what_decides_nothing_is_not_in_the_key():
    (plain,) = grid(PLANS)
    comment = loads("# a comment\n" + TEXT.replace("Barrier bell", "Bell"))
    assert grid({"else": comment})[0].key == plain.key
    assert grid(PLANS, settings=["1,0,1:delay=1"])[0].key == plain.key  # as it is in the plan
    assert grid(PLANS, acts=["0:press"], steps=9)[0].key == grid(PLANS, acts=["0:0,0,1"], steps=9)[0].key


@pytest.mark.parametrize(
    "other",
    [
        {"settings": ["1,0,1:delay=2"]},
        {"rules": ["older-wire"]},
        {"lengths": ["1 s"]},
        {"orders": ["reversed"]},
        {"minimum": True},
        {"acts": ["0:press"], "steps": 9},
        {"acts": ["0:press"], "steps": 10},
        {"acts": ["1:press"], "steps": 9},
        {"steps": 9},
    ],
)
def test_what_decides_something_is_in_the_key(other):
    (plain,) = grid(PLANS)
    (point,) = grid(PLANS, **other)
    assert point.key != plain.key


def test_a_changed_plan_has_other_keys():
    (plain,) = grid(PLANS)
    for text in (
        TEXT.replace("brcL", "brrL"),
        TEXT.replace("lamp = [3", "lamp = [2"),
        TEXT.replace("press =", "push ="),
    ):
        assert grid({"bell": loads(text)})[0].key != plain.key


@pytest.mark.parametrize(
    ("axes", "message"),
    [
        (
            {"settings": ["1,0,1:delay=1..5"]},
            'In the plan "bell" at (1, 0, 1): "repeater east delay=5": the delay of a',
        ),
        ({"settings": ["1,0,1:dely=1"]}, 'A repeater has no "dely"'),
        ({"settings": ["1,0,1:delay=4..1"]}, '"4..1" is no range: write the lower end first'),
        ({"settings": ["1,0,1:delay=1..4/0"]}, '"1..4/0" is no range'),
        ({"settings": ["9,9,9:delay=1"]}, 'In the plan "bell" the cell (9, 9, 9) is empty'),
        ({"settings": ["lmap:delay=1"]}, '"lmap" is neither a cell x,y,z nor a name in the plan "bell". Did you mean'),
        ({"settings": ["delay=1"]}, '"delay=1" sets nothing: write WHERE:NAME=VALUES'),
        ({"lengths": ["10..30"]}, 'The duration "10" has no unit'),
        ({"lengths": ["0 s"]}, 'A trigger of "0 s" has no length'),
        ({"lengths": ["1 step..300 h"]}, "the most points of one sweep"),
        ({"lengths": ["1 step..1 h"], "settings": ["1,0,1:delay=1..4"], "orders": list("123456789")}, "split it"),
        ({"triggers": ["pres"]}, 'The plan has no trigger "pres". Did you mean "press"?'),
        ({"acts": ["0:press"]}, "Acts of the hand need to know how long to run"),
        ({"acts": ["0:press"], "steps": 9, "lengths": ["1 s"]}, "has no trigger, length or minimum trigger"),
        ({"acts": ["0:pres"], "steps": 9}, "neither a trigger of the plan nor a cell"),
        ({"steps": 0}, "A run of 0 steps cannot be made"),
        ({"orders": ["any"]}, 'There is no order "any"'),
        ({"rules": ["standart"]}, 'There is no rule set "standart"'),
    ],
)
def test_what_cannot_be_meant_is_refused(axes, message):
    with pytest.raises(TickwrightError) as caught:
        grid(PLANS, **axes)
    assert message in str(caught.value)


def test_a_trigger_without_a_length_takes_none():
    crate = loads(TEXT.replace('"short-button"', '"crate"'))
    with pytest.raises(UsageError, match='The trigger "press" of "bell" is a crate: it has no length to set'):
        grid({"bell": crate}, lengths=["1 s"])
