"""What single mistakes do: by hand on a row of parts, and against measures of plans built with them."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import load, loads, measure
from tickwright.diagnosis import KINDS, SYMPTOMS, Seen, WhatIfRow, single_mistakes, symptom, what_if
from tickwright.diagnosis.mistakes import built_with, world_rules
from tickwright.errors import UsageError
from tickwright.kinds import Part
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[2]
ROW = loads(
    """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", r = "repeater east delay=2", c = "comparator east", L = "lamp"}
layer = [{rows = "#####"}, {rows = "bwrcL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [4, 0, 1]}
"""
)
OWN = Seen("one-shot", 6, 24, 1)  # 2 ticks and 1; 20 steps of the button and the lamp's 4
PAIR = ("press", "lamp")


def seen(tried, text: str) -> Seen:
    return next(one.answers[PAIR] for one in tried.consequences if one.mistake.text == text)


@pytest.fixture(name="tried", scope="module")
def tried_row():
    return what_if(ROW)


@pytest.mark.parametrize(
    ("mistake", "expected"),
    [
        ("the repeater at (2, 0, 1) has 1 tick instead of 2 ticks", OWN._replace(delay_steps=4)),
        ("the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks", OWN._replace(delay_steps=10)),
        ("the comparator at (3, 0, 1) has mode difference instead of mode threshold", OWN),  # nothing at its flank
        ("the repeater at (2, 0, 1) faces west instead of east", Seen("none", None, None, 0)),
        ("the wire at (1, 0, 1) is missing", Seen("none", None, None, 0)),
        ("at (0, 0, 1) is a long-button instead of a short-button", OWN._replace(hold_steps=34)),
        ("a power-block stands at (1, 1, 1), where nothing belongs", Seen("always-on", None, None, 0)),
        ("a block stands at (1, 0, 2), where nothing belongs", OWN),
    ],
)
def test_by_hand(tried, mistake, expected):
    assert seen(tried, mistake) == expected


def test_the_plan_itself_by_hand(tried):
    assert tried.own == {PAIR: OWN}


def test_groups_hold_every_mistake_once_under_what_one_sees(tried):
    groups = tried.groups(PAIR)
    assert sum(len(group) for group in groups.values()) == len(tried.consequences)
    assert [name for name in SYMPTOMS if name in groups] == list(groups)
    assert {one.mistake.kind for one in groups["later"]} == {"wrong-delay"}
    assert [one.mistake.text for one in groups["longer"]] == ["at (0, 0, 1) is a long-button instead of a short-button"]


def test_rows_tell_it_in_short(tried):
    rows = tried.rows(PAIR)
    assert not [row for row in rows if row.symptom == "as-planned"]
    later = [row for row in rows if row.symptom == "later"]
    texts = ("hold 1.2 s (12 ticks), delay 0.4 s (4 ticks)", "hold 1.2 s (12 ticks), delay 0.5 s (5 ticks)")
    assert later == [WhatIfRow("later", "wrong-delay", ((2, 0, 1),), texts)]
    told = sum(len(group) for name, group in tried.groups(PAIR).items() if name != "as-planned")
    assert told >= len(rows) > 3


@pytest.mark.parametrize("name", ["flat-loop-4", "stacked-loop-3", "latch", "taps", "drain-timer", "edge-detector"])
def test_a_sample_against_measures_of_the_plans_built_with_them(name):
    plan, rules = load(ROOT / f"examples/{name}.toml"), load_rules()
    tried = what_if(plan)
    for one in random.Random(name).sample(tried.consequences, 12):
        built = built_with(plan, [one.mistake])
        for found in measure(built, rules=world_rules(rules, [one.mistake])):
            now = one.answers[found.trigger, found.output]
            if now.kind in ("always-on", "on-before", "undecided"):
                continue
            delay = None if found.kind == "none" else found.delay_steps
            assert (now.kind, now.delay_steps, now.hold_steps) == (found.kind, delay, found.hold_steps), one.mistake


@pytest.mark.parametrize("name", ["flat-loop-6", "hour-counter", "shuttle", "torch-clock", "latch"])
def test_mistakes_differ_from_the_plan_and_from_one_another(name):
    plan = load(ROOT / f"examples/{name}.toml")
    made = single_mistakes(Setup(plan, load_rules()))
    assert {one.kind for one in made} <= set(KINDS)
    built = [(one.rules, tuple(sorted(one.changes))) for one in made]
    assert len(set(built)) == len(built)
    for one in made:
        assert one.rules or built_with(plan, [one]) != plan
    eases = [one.ease for one in made]
    assert eases == sorted(eases, reverse=True)


def test_every_sort_of_mistake_is_made_somewhere_but_the_slow_world_which_changes_no_step():
    kinds = set()
    for path in ROOT.glob("examples/*.toml"):
        kinds |= {one.kind for one in single_mistakes(Setup(load(path), load_rules()))}
    assert kinds == set(KINDS) - {"slow-world"}


def test_what_cannot_stand_is_no_mistake():
    made = single_mistakes(Setup(ROW, load_rules()))
    assert not [one for one in made if one.changes == (((1, 0, 0), None),)]  # the block under the wire
    assert ((1, 1, 1), Part("wire")) not in {change for one in made for change in one.changes}  # nothing carries there


@pytest.mark.parametrize(
    ("own", "now", "name"),
    [
        (OWN, OWN, "as-planned"),
        (OWN, OWN._replace(hold_steps=30, delay_steps=8), "longer"),
        (OWN, OWN._replace(kind="train", pulses=3), "more-pulses"),
        (OWN, Seen("latched", 6, None, 1), "stays-on"),
        (Seen("none", None, None, 0), OWN, "comes-on"),
        (Seen("latched", 6, None, 1), OWN, "ends"),
        (Seen("clock", 2, None, None, 12), Seen("clock", 2, None, None, 16), "slower"),
    ],
)
def test_symptoms(own, now, name):
    assert symptom(own, now) == name


def test_it_stops_when_told_and_keeps_what_it_has():
    tried = what_if(ROW, progress=lambda text: text.startswith("5 of"))
    assert tried.stopped
    assert len(tried.consequences) == 5


def test_as_json(tried):
    data = json.loads(json.dumps(tried.as_data()))
    assert data["own"] == [
        {
            "trigger": "press",
            "output": "lamp",
            "kind": "one-shot",
            "delay_steps": 6,
            "hold_steps": 24,
            "pulses": 1,
            "period_steps": None,
        }
    ]
    assert {answer["symptom"] for one in data["mistakes"] for answer in one["answers"]} <= set(SYMPTOMS)


def test_a_plan_without_outputs_is_refused():
    with pytest.raises(UsageError) as caught:
        what_if(replace(ROW, outputs={}))
    assert str(caught.value).startswith("The plan names no output")
