"""What was seen before a build, in the clauses of charts: each single mistake is judged by its run."""

from __future__ import annotations

import pytest

from charts.landing import LAMP
from tickwright import loads
from tickwright.diagnosis import find_causes, parse_observed
from tickwright.errors import UsageError

PLAN = loads(LAMP)  # by hand: on from step 8 for 24 steps; a repeater of D ticks instead of 2 moves it by 2 (D - 2)


def test_a_clause_finds_the_delay_that_explains_it():
    causes = find_causes(PLAN, ["lamp: on from press + 0.6 s for 1.2 s"], tolerance_steps=0)
    assert not causes.as_planned
    assert {cause.text for cause in causes.causes if cause.mistakes[0].kind == "wrong-delay"} == {
        "the repeater at (1, 0, 1) has 4 ticks instead of 2 ticks",
        "the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks",
    }
    assert all(cause.misfit == 0 for cause in causes.causes)


def test_give_or_take_of_the_clause_goes_before_the_tolerance():
    one_off = "lamp: on from press + 9 steps for 24 steps"
    assert find_causes(PLAN, [one_off], tolerance_steps=1).as_planned
    assert not find_causes(PLAN, [one_off], tolerance_steps=0).as_planned
    assert find_causes(PLAN, [f"{one_off}, give or take 1 step"], tolerance_steps=0).as_planned
    assert not find_causes(PLAN, ["lamp: on from press + 11 steps for 24 steps, give or take 1 step"]).as_planned


def test_clauses_of_cells_and_of_triggers():
    causes = find_causes(PLAN, ["2,0,1: on from press + 8 steps for 20 steps"], tolerance_steps=0)
    assert causes.as_planned
    # Pressed again while it is lit, the lamp goes off later: the press is not ignored.
    assert not find_causes(PLAN, ["press: ignored until press + 1.4 s"]).as_planned


def test_it_may_be_given_again():
    (one,) = parse_observed(PLAN, ["lamp: 3 pulses of 0.2 s every 1 s from press"])
    assert (one.what, one.text) == ("claim", "press -> lamp: 3 pulses of 0.2 s every 1 s from press")
    assert parse_observed(PLAN, [one.text]) == (one,)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("lamp: on for ever", 'at character 10: "for" cannot stand here'),
        ("press: hold 2 s", '"press" is a trigger'),
        ("lamp: on from bell for 2 s", "bell"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_place(text, message):
    with pytest.raises(UsageError) as caught:
        parse_observed(PLAN, [text])
    assert message in str(caught.value)
