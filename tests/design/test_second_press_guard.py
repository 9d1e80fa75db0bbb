"""Timers that ignore a second press, from seconds to minutes: pressed at random on both engines."""

from __future__ import annotations

import random

import pytest

from tickwright import choose, load_rules, run
from tickwright.design import Design, Room, Wish, answering, lying
from tickwright.design.answering import answer_to_second_press
from tickwright.design.catalogue import recipes
from tickwright.design.recipes import Goal, Recipe
from tickwright.measurement import find_trigger, observe
from tickwright.plan import Plan, Setup

PRESS_STEPS = 20


def spans(plan: Plan, presses: list[int], steps: int, engine: str) -> list[tuple[int, int]]:
    """When the output is on: (from, until)."""
    done = run(plan, [f"{step}:press" for step in presses], steps, engine=engine)
    (changes,) = done.trace.changes.values()
    edges = [
        step for (step, value), (_, before) in zip(changes[1:], changes, strict=False) if bool(value) != bool(before)
    ]
    return list(zip(edges[::2], edges[1::2], strict=True))


def guarded(hold: int) -> list[Recipe]:
    goal = Goal(hold, hold, hold, "short-button", PRESS_STEPS, ("lamp", "line"), "ignored")
    return [recipe for recipe in recipes(goal) if one_of_timers(recipe)]


def one_of_timers(recipe: Recipe) -> bool:
    return recipe.family == "hopper timer" and recipe.settings.get("front") == "guard"


@pytest.mark.parametrize("hold", [62, 102, 240])
def test_presses_at_random_never_give_another_hold(hold):
    draw = random.Random(hold)
    found = guarded(hold)
    assert {recipe.sort for recipe in found} == {"one way", "there and back"}
    for recipe in found:
        plan = recipe.make()
        (alone,) = spans(plan, [100], 100 + 4 * hold, "reference")
        delay = alone[0] - 100
        assert alone == (100 + delay, 100 + delay + hold)
        ready = 3 * hold + 60  # all items are back by then, whichever way it is
        presses, accepted = [], []
        for number in range(3):
            begin = 100 + number * ready
            accepted.append(begin)
            presses += sorted({begin, *(begin + draw.randrange(PRESS_STEPS, delay + hold - 1) for _ in range(4))})
        wanted = [(begin + delay, begin + delay + hold) for begin in accepted]
        for engine in ("reference", "fast"):
            assert spans(plan, presses, 100 + 4 * ready, engine) == wanted, (dict(recipe.settings), presses)


def test_a_press_is_answered_alike_once_the_items_are_back_at_every_phase_of_the_hoppers():
    (recipe,) = [one for one in guarded(112) if one.sort == "there and back"][:1]
    plan = recipe.make()
    setup = Setup(plan, load_rules())
    rest = observe(setup, find_trigger(setup, "press")).rest_steps
    for phase in range(8):
        first, _, third = presses = [100, 100 + rest + 1 + phase, 100 + 2 * (rest + 1 + phase)]
        found = spans(plan, presses, third + 400, "reference")
        assert [(on - at, off - at) for (on, off), at in zip(found, presses, strict=True)] == [
            (found[0][0] - first, found[0][1] - first)
        ] * 3


def test_five_minutes_ignore_a_second_press():
    best = choose(Wish(6_000, answer="ignored", output="lamp")).designs[0]
    assert (best.family, best.hold_steps, best.verdicts["second press"]) == ("hopper counter", 6_000, "ignored")
    assert best.verdicts["second press tried"].endswith("of 5,980 steps of the hold")
    assert_ignored(best)


def assert_ignored(design: Design) -> None:
    """Presses at random moments of the hold, on the fast engine: one span, that of the first press alone."""
    draw = random.Random("in between")
    presses = [100, *sorted(100 + draw.randrange(PRESS_STEPS, design.hold_steps) for _ in range(12))]
    (span,) = spans(design.plan, presses, 100 + design.delay_steps + design.hold_steps + 100, "fast")
    assert span == (100 + design.delay_steps, 100 + design.delay_steps + design.hold_steps)


def test_a_guard_left_out_is_caught_at_one_of_the_moments():
    goal = Goal(600, 600, 600, "short-button", PRESS_STEPS, ("lamp",))
    plan = next(recipe for recipe in recipes(goal) if recipe.family == "hopper timer").make()
    setup = Setup(plan, load_rules())
    trigger = find_trigger(setup, "press")
    alone = observe(setup, trigger)
    assert answer_to_second_press(setup, trigger, "lamp", alone, "any").effect == "mixed"


@pytest.mark.parametrize(
    "wish",
    [
        Wish(100, answer="ignored", output="line"),
        Wish(40, answer="ignored", inverted=True, output="lamp"),
        Wish(30, answer="restarts", output="line"),
        Wish(46, answer="extends"),
    ],
)
def test_a_second_press_is_judged_alike_on_both_engines(wish, monkeypatch):
    best = choose(wish).designs[0]
    setup = Setup(best.plan, load_rules())
    trigger = find_trigger(setup, "press")
    alone = observe(setup, trigger)
    asked = [wish.answer, "any", *({"ignored", "extends"} - {wish.answer})]
    fast = [answer_to_second_press(setup, trigger, best.output, alone, wanted) for wanted in asked]
    assert fast[0].effect == wish.answer
    monkeypatch.setattr(answering, "is_installed", lambda _: False)
    assert [answer_to_second_press(setup, trigger, best.output, alone, wanted) for wanted in asked] == fast


ROOMS = (
    ((9, 5, 3), frozenset()),
    ((10, 5, 3), frozenset({(0, 0, 1), (9, 4, 1)})),
)  # their guard is laid in 8 x 6 cells


@pytest.mark.parametrize(("size", "blocked"), ROOMS)
def test_a_guard_is_laid_apart_from_its_timer_where_the_two_do_not_fit_as_one(size, blocked):
    hold, draw = 240, random.Random(1)
    room = Room(size, blocked)
    design = choose(Wish(hold, room=room, answer="ignored")).designs[0]
    assert design.settings["laid"] == "for this room"
    plan = lying(design, room)
    assert all(room.holds(cell) and cell not in blocked for cell in plan.cells)
    (alone,) = spans(plan, [100], 100 + 4 * hold, "reference")
    delay = alone[0] - 100
    assert alone == (100 + delay, 100 + delay + hold)
    presses = sorted({100, *(100 + draw.randrange(PRESS_STEPS, delay + hold - 1) for _ in range(9))})
    for engine in ("reference", "fast"):
        assert spans(plan, presses, 100 + 4 * hold, engine) == [alone], presses
