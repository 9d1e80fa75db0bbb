"""Briefs that cannot be composed: which claim, why, and the least that it would take, and what cannot be read."""

from __future__ import annotations

import json

import pytest

from tickwright.design.compose import compose, read_brief
from tickwright.errors import PlanError

HEAD = 'format = "tickwright brief 1"\n'
PRESS = 'inputs = {press = {part = "short-button"}}\noutputs = {lamp = {drives = "lamp"}, bell = {drives = "line"}}\n'


def brief(*shows, head=HEAD + PRESS):
    return read_brief(f"{head}chart = [{{shows = {json.dumps(shows)}}}]")


@pytest.mark.parametrize(
    ("shows", "claim", "why", "instead", "steps"),
    [
        (
            ["lamp: on from press for 0.5 s", "press: ignored until lamp off + 5 s"],
            "lamp: on from press for 0.5 s",
            "the soonest is 0.3 s",
            "lamp: on from press + 0.3 s for 0.8 s",
            12,
        ),
        (
            ["lamp: on from press + 1 s for 1.05 s"],
            "lamp: on from press + 1 s for 1.05 s",
            "21 steps are no whole number of ticks",
            "lamp: on from press + 1 s for 1 s",
            1,
        ),
        (
            ["bell: on from press + 1 s for 0.1 s"],
            "bell: on from press + 1 s for 0.1 s",
            "too short",
            "bell: on from press + 1 s for 0.2 s",
            2,
        ),
        (
            ["bell: on from press + 0.3 s for 0.3 s"],
            "bell: on from press + 0.3 s for 0.3 s",
            "lasts 0.6 s at least",
            "bell: on from press + 0.3 s for 0.6 s",
            6,
        ),
        (
            ["bell: on from press + 0.7 s for 0.3 s"],
            "bell: on from press + 0.7 s for 0.3 s",
            "what lasts 0.3 s can begin 1 s after",
            "bell: on from press + 1 s for 0.3 s",
            6,
        ),
        (
            ["bell: 3 pulses of 0.2 s every 2 s from press + 0.7 s", "press: ignored until bell off"],
            "press: ignored until bell off",
            "bell off comes 0.9 s after it: nothing is ignored",
            "press: ignored until bell off + 0.3 s",
            6,
        ),
        (
            ["bell: on from press + 0.7 s for 2 s", "press: ignored until bell off - 2 s"],
            "press: ignored until bell off - 2 s",
            "can be worked again 1.1 s after an act at the soonest",
            "press: ignored until bell off - 1.5 s",
            10,
        ),
    ],
    ids=[
        "too soon",
        "no whole tick",
        "too short",
        "too short so soon",
        "six steps",
        "first of three",
        "nothing ignored",
    ],
)
def test_an_impossible_claim_is_named_with_the_least_relaxation(shows, claim, why, instead, steps):
    found = compose(brief(*shows))
    assert not found.composed
    assert found.plan is None
    assert found.claim == claim
    assert why in found.why
    assert [(one.claim, one.instead, one.amount_steps) for one in found.relax] == [(claim, instead, steps)]


@pytest.mark.parametrize(
    ("shows", "why"),
    [
        (["lamp: on from bell on for 1 s", "bell: on from lamp on for 1 s"], "ring"),
        (["lamp: on from 2 s for 1 s"], "time 0"),
        (["lamp: on from press + 2 s until press + 1 s"], "end before it begins"),
        (["lamp: level at least 4"], "levels"),
        (["lamp: on from press + 1 s for 5 s", "press: ready from press + 2 s"], "is not over by then"),
    ],
)
def test_what_has_no_meaning_or_no_tile_is_refused_before_any_placing(shows, why):
    found = compose(brief(*shows))
    assert not found.composed
    assert why in found.why


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "does not say what it is"),
        (HEAD, "has no inputs"),
        (HEAD + 'inputs = {press = {part = "hopper"}}', "composed: use short-button"),
        (HEAD + 'inputs = {press = {part = "lever", at = "up"}}', "or a side"),
        (HEAD + PRESS, "claims nothing"),
        (HEAD + PRESS + 'chart = [{shows = ["lamp: on from pres for 1 s"]}]', "press"),
        (HEAD + "inputs = {any = {part = 'lever'}}", '"any" is a word of the notation of charts'),
        (HEAD + PRESS + "rooms = {}", "rooms"),
        (HEAD + PRESS + "room = {size = [3, 3]}", "write [x, y, z]"),
        (HEAD + PRESS + "machine = [{}]\nchart = [{shows = []}]", "shows is empty"),
    ],
)
def test_a_brief_that_cannot_be_read_says_what_and_where(text, says):
    with pytest.raises(PlanError) as caught:
        read_brief(text)
    assert says in str(caught.value)
    assert "line" in str(caught.value)
