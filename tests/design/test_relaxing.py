"""What to relax: each advice is a whole wish that was met, the smallest sets come first, and there always is one."""

from __future__ import annotations

from dataclasses import replace

import pytest

import advice
from tickwright import Wish, choose
from tickwright.design import Room, choosing, relaxing
from tickwright.design.families import direct
from tickwright.design.judging import Judge

SAMPLED: tuple[dict[str, str], ...] = (  # of the sorts that `python dev.py advice` draws
    {"--hold": "5.4 s", "--room": "5x4x1"},
    {"--hold": "12 s", "--second-press": "extends", "--have": "comparator 4, repeater 3"},
)


@pytest.mark.parametrize("wish", SAMPLED)
def test_advice_is_true_when_it_is_followed_as_typed(call, wish):
    def run_choose(line: list[str]) -> tuple[int, str]:
        code, out, err = call(*line)
        assert err == ""
        return code, out

    count, wrong = advice.untrue(wish, run_choose)
    assert count > 0, wish
    assert wrong == []


def test_where_one_is_not_enough_the_smallest_set_is_told():
    allowed = frozenset({"short-button", "lamp", "block", "wire", "comparator"})
    chosen = choose(Wish(240, room=Room((4, 3, 3)), allowed=allowed, answer="ignored"))
    alone, *pairs = [{change.wish: change.amount for change in one.changes} for one in chosen.relax]
    # A loop folded into the room holds for quite another time, so sets of two are told as well.
    assert alone.keys() == {"within"}
    assert alone["within"] > 24
    assert pairs
    for pair in pairs:
        assert len(pair) == 2
        assert pair.get("within", 0) < alone["within"]
    for one in chosen.relax:
        assert choose(one.wish).designs, one.text
    for wish in (replace(chosen.wish, room=None), replace(chosen.wish, answer="any")):
        assert choose(wish).designs == ()


def test_no_advice_is_given_that_a_run_does_not_bear_out(monkeypatch):
    # As if all designs had the least pitch of all: what is then advised is run, and does not come to pass.
    wish = Wish(
        240, within_steps=4, pitch=("y", 1), allowed=frozenset({"short-button", "lamp", "block", "wire", "comparator"})
    )
    assert [change.instead for one in choose(wish).relax for change in one.changes] == ["a pitch of 2 cells along y"]
    monkeypatch.setitem(
        relaxing._NEEDED, "pitch", lambda *_: ("no more", 1, lambda wish: replace(wish, pitch=("y", 1)))
    )
    assert all(choose(one.wish).designs for one in choose(wish).relax)
    assert "no more" not in [change.instead for one in choose(wish).relax for change in one.changes]


def test_once_the_time_is_over_all_wishes_are_let_go_at_once(monkeypatch):
    monkeypatch.setattr(choosing, "SPENT_SECONDS", -1.0)
    wish = Wish(240, room=Room((4, 3, 3)), have={"comparator": 1}, answer="ignored")
    (advice,) = choose(wish).relax
    assert {change.wish for change in advice.changes} >= {"room"}
    assert choose(advice.wish).designs


def test_a_lever_is_not_pressed_twice():
    (one,) = choose(Wish(240, trigger="lever", answer="extends")).relax
    assert [(change.wish, change.instead) for change in one.changes] == [
        ("answer", "any: what a second press does is not tried here")
    ]


def test_a_hold_out_of_reach_is_told_a_shorter_one(monkeypatch):
    monkeypatch.setattr(choosing, "recipes", direct.recipes)  # as if there were no other family
    chosen = choose(Wish(24 << 6))
    assert chosen.reason == "No family makes a hold of 76.8 s (768 ticks), or near it, for this trigger and output."
    (one,) = chosen.relax
    assert [change.wish for change in one.changes] == ["hold"]
    assert choose(one.wish).designs[0].hold_steps == one.wish.hold_steps


def test_runs_are_not_made_twice(monkeypatch):
    made: list[object] = []
    run = Judge.design

    def counted(self, candidate, wish):
        before = self.run
        found = run(self, candidate, wish)
        made.extend([candidate.plan] * (self.run - before))
        return found

    monkeypatch.setattr(Judge, "design", counted)
    chosen = choose(Wish(108, room=Room((3, 2, 2))))
    assert chosen.run == len(made)
    assert len({(frozenset(plan.cells.items()), *plan.outputs.items()) for plan in made}) == len(made)
