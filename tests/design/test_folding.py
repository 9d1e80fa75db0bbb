"""Loops folded into rooms: rooms that no family's own layout fits, each design run on both engines and proved."""

from __future__ import annotations

import random

import pytest

from tickwright import choose, load_rules, loads, prove, run
from tickwright.design import Room, Wish, lying
from tickwright.design.folding import Folding
from tickwright.design.recipes import Goal
from tickwright.design.shelf import shelf
from tickwright.design.trials import Trials
from tickwright.plan import dumps, validate

CORNER = frozenset((x, y, z) for x in (3, 4) for y in (3, 4) for z in range(3))  # what makes five by five an L
ROOMS = [
    (Room((3, 2, 2)), 80),
    (Room((4, 3, 3)), 160),
    (Room((5, 5, 3), CORNER, "west", "north"), 108),
]


@pytest.mark.parametrize(("room", "hold"), ROOMS)
def test_a_loop_is_laid_into_a_room_that_no_family_fits(room, hold):
    best = choose(Wish(hold, room=room)).designs[0]
    plan = loads(dumps(lying(best, room)))
    validate(plan, load_rules())
    assert best.hold_steps == hold
    assert all(room.holds(cell) and cell not in room.blocked for cell in plan.cells)
    assert room.at(room.enter, plan.triggers["press"])
    assert room.at(room.leave, plan.outputs[best.output])
    for engine in ("reference", "fast"):
        changes = run(plan, ["50:press"], 50 + hold + 300, engine=engine).trace.changes[best.output]
        ons = [(step, value > 0) for step, value in changes]
        edges = [step for (step, on), (_, before) in zip(ons[1:], ons, strict=False) if on != before]
        assert edges == [50 + best.delay_steps, 50 + best.delay_steps + hold]
    assert prove(plan, "never-sticks", best.output).verdict == "proved"


def test_the_same_search_finds_the_same_rings_and_keeps_them_for_other_holds():
    goal = Goal(76, 76, 76, "short-button", 20, ("line",))
    room = Room((3, 2, 2))

    def told(_: str) -> bool:
        return False

    one, other = (Folding(room, "short-button", load_rules(), attempts=4_000) for _ in range(2))
    assert [found.plan for found in one.holding(goal, told)] == [found.plan for found in other.holding(goal, told)]
    assert one.holding(goal, told)
    tried = one.attempts
    assert one.holding(Goal(80, 80, 80, "short-button", 20, ("lamp",)), told)
    assert one.attempts == tried == 4_000


def test_rings_hold_what_is_said_of_them():
    folding = Folding(Room((4, 3, 2)), "short-button", load_rules(), attempts=3_000)
    folding.holding(Goal(1, 1, 1, "short-button", 20, ("lamp", "line")), lambda _: False)
    draw = random.Random("a few of them")
    kept = [one for several in folding.found.values() for one in several if one.output == "line"]
    assert len(kept) > 12
    for one in draw.sample(kept, 12):
        (changes,) = run(one.plan, ["50:press"], 900, engine="reference").trace.changes.values()
        ons = [step for step, value in changes if value > 0]
        assert changes[-1][0] - ons[0] == one.hold_steps


def test_every_ring_of_the_shelf_holds_as_it_says_and_is_small():
    rings = shelf()
    assert Trials(load_rules()).holds([ring.plan() for ring in rings], 2_000) == [ring.hold_steps for ring in rings]
    assert max(ring.size[0] * ring.size[1] * ring.size[2] for ring in rings) <= 48
    assert {ring.hold_steps for ring in rings} >= set(range(40, 241, 2))  # ticks from 2 to 12 s


def test_a_room_of_one_layer_or_a_lever_has_no_loop():
    goal = Goal(80, 80, 80, "lever", None, ("lamp",))
    assert Folding(Room((9, 9, 1)), "short-button", load_rules()).most_attempts == 0
    assert Folding(Room((3, 3, 3)), "lever", load_rules()).holding(goal, lambda _: False) == []
