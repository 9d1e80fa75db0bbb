"""Wishes with further outputs: composed, run again on the other engine, refused with what can be had."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tickwright import Wish, choose, loads, run
from tickwright.charts import check_charts
from tickwright.design.several import Composing, brief_text, may_hold, read_further
from tickwright.errors import UsageError
from tickwright.plan import dumps

BELL = "bell line: on from press + 2 s for 1 s"


def spans(changes: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """When it is on."""
    edges = [step for (step, value), (_, was) in zip(changes[1:], changes, strict=False) if (value > 0) != (was > 0)]
    return list(zip(edges[::2], edges[1::2], strict=True))


def test_two_outputs_come_as_wished_and_a_second_press_changes_nothing():
    (best,) = choose(Wish(60, answer="ignored", also=(BELL,))).designs
    assert (best.family, best.hold_steps, best.output) == ("composed", 60, "lamp")
    plan = loads(dumps(best.plan))
    assert all(verdict.passed for verdict in check_charts(plan))
    on = 100 + best.delay_steps
    for presses in (["100:press"], ["100:press", "131:press"]):
        trace = run(plan, presses, 400, engine="fast").trace
        assert spans(trace.changes_of("lamp")) == [(on, on + 60)]
        assert spans(trace.changes_of("bell")) == [(140, 160)]  # by hand: 2 s are 40 steps, 1 s 20


def test_a_claim_that_cannot_be_had_is_told_one_that_can():
    chosen = choose(Wish(60, also=("bell: on from press + 2 s for 0.1 s",)))
    assert not chosen.designs
    assert chosen.reason is not None
    assert "0.1 s is too short" in chosen.reason
    first, *others = chosen.relax
    assert first.as_data()["options"] == {"--also": ["bell lamp: on from press + 2 s for 0.4 s"]}
    assert choose(first.wish).designs
    assert [one.as_data()["options"] for one in others] == [{"--also": None}]


def test_parts_on_hand_that_the_tiles_alone_outnumber_are_told_without_composing(monkeypatch):
    from tickwright.design import compose as composer

    def never(*_given, **_more):
        raise AssertionError("composed")

    wish = Wish(60, also=(BELL,), have={"wire": 3})
    composing = Composing(lambda _text: False)
    monkeypatch.setattr(composer, "compose", never)
    assert composing.lacks_parts(wish)
    assert not composing.lacks_parts(replace(wish, have={"wire": 1_000}))
    assert not composing.lacks_parts(replace(wish, also=("bell: on from press + 2 s for 0.1 s",)))  # refused: no tiles


def test_a_room_is_tried_by_the_height_and_the_ground_that_a_plan_needed():
    assert may_hold((20, 24, 6), (22, 22, 6))
    assert not may_hold((24, 40, 4), (28, 28, 6))
    assert not may_hold((14, 14, 30), (28, 28, 6))


@pytest.mark.parametrize("text", ["bell", "bell door: on from press for 1 s", ": on from press", "bell lamp on"])
def test_what_is_no_further_output_is_refused(text):
    with pytest.raises(UsageError, match="is no further output: write its name"):
        read_further(text)


@pytest.mark.parametrize(
    ("wish", "message"),
    [
        (Wish(60, also=("bell: when pressed",)), "The further outputs cannot be read"),
        (Wish(60, also=("lamp: on from press + 1 s for 1 s",)), 'The name "lamp" is taken already'),
        (Wish(10, trigger="lever", period_steps=40, also=(BELL,)), "A clock is made with one output"),
        (Wish(60, trigger="lever", trigger_steps=7, also=(BELL,)), "composed for a part that is pressed"),
    ],
)
def test_a_wish_with_further_outputs_that_cannot_be_meant_is_refused(wish, message):
    with pytest.raises(UsageError, match=message):
        choose(wish)


def test_the_brief_says_room_sides_and_the_second_press():
    from tickwright.design import Room
    from tickwright.design.compose import read_brief

    room = Room((30, 20, 6), frozenset({(3, 3, 1)}), "west", (29, 4, 1))
    wish = Wish(61, within_steps=1, room=room, answer="ignored", inverted=True, also=(BELL,))
    brief = read_brief(brief_text(wish, 60, 14, True))
    assert brief.room is not None
    assert (brief.room.size, brief.room.blocked) == ((30, 20, 6), ((3, 3, 1),))
    assert (brief.inputs["press"].at, brief.outputs["lamp"].at, brief.outputs["bell"].at) == ("west", (29, 4, 1), None)
    assert [claim.text for claim in brief.claims] == [
        "lamp: off from press + 14 steps for 60 steps",
        "bell: on from press + 2 s for 1 s",
        "press: ignored until lamp on",
    ]
