"""Every family: what its naive model says of the hold is what a run shows, at goals drawn by a seed."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from tickwright.design.catalogue import FAMILIES
from tickwright.design.families import clocks, hopper_clock
from tickwright.design.families.hopper_clock import Clock
from tickwright.design.recipes import OUTPUTS, Goal, Recipe
from tickwright.errors import UsageError
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.plan import Plan, validate
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.verify import neighbour_verdicts, order_verdicts

RULES = load_rules()
TRIGGER_STEPS = {"short-button": 20, "long-button": 30, "tread-plate": 20, "lever": None, "item-plate": 6000}
RANGES = {
    "direct": (20, 40),
    "small box": (18, 41),
    "pulse shortener": (2, 100),
    "repeater taps": (20, 60),
    "torch one-shot": (4, 100),
    "dropped item": (6000, 6100),
    "shuttle": (10, 90),
    "drain timer": (9, 2000),
    "wire loop": (16, 90),
    "flat loop": (40, 400),
    "stacked loop": (80, 600),
    "corner loop": (150, 600),
    "difference fader": (30, 200),
    "latch with delay line": (20, 300),
    "hopper relay": (7, 2600),
    "hopper timer": (40, 4000),
    "hopper counter": (80, 9000),
    "restarting loop": (40, 240),
}  # in steps
ANSWERS = {"restarting loop": "restarts"}  # what a second press must do for the family to propose anything
TRIED = 10


def proposals(name: str) -> list[Recipe]:
    """What the family proposes for holds drawn between two limits, for every trigger and output."""
    draw = random.Random(f"tickwright {name}")
    found: list[Recipe] = []
    while len(found) < TRIED:
        hold = draw.randrange(*RANGES[name])
        trigger = draw.choice(list(TRIGGER_STEPS))
        goal = Goal(hold, hold, hold, trigger, TRIGGER_STEPS[trigger], OUTPUTS, ANSWERS.get(name, "any"))
        recipes = list(FAMILIES[name].recipes(goal))
        found += draw.sample(recipes, min(2, len(recipes)))
    return found


def test_every_family_has_its_range():
    assert set(RANGES) == set(FAMILIES)


@pytest.mark.parametrize("name", FAMILIES)
def test_the_naive_model_says_what_a_run_shows(name):
    for recipe in proposals(name):
        plan = recipe.make()
        validate(plan, RULES)
        assert recipe.family == name
        assert (list(plan.triggers), list(plan.outputs)) == (["press"], ["lamp" if recipe.output == "lamp" else "line"])
        output = next(iter(plan.outputs))
        setup = Setup(plan, RULES)
        seen = observe(setup, find_trigger(setup, "press"))
        shown = (kind_of(seen, output), hold_of(seen.pulses(output)))
        assert shown == ("one-shot", recipe.hold_steps), (dict(recipe.settings), recipe.output)
        assert seen.settled
        if recipe.output == "full":
            assert {value for _, value in seen.changes[output]} == {0, 15}


CLOCKS = [
    *((clocks.make_torch_clock(ticks), clocks.torch_period_steps(ticks)) for ticks in (2, 3, 9)),
    *((clocks.make_comparator_clock(count, 4), clocks.comparator_period_steps(count)) for count in (6, 10, 20)),
    *((hopper_clock.make(clock), hopper_clock.period_steps(clock)) for clock in (Clock(2, 1, 1), Clock(9, 2, 4))),
]


@pytest.mark.parametrize(("plan", "period"), CLOCKS, ids=[plan.title for plan, _ in CLOCKS])
def test_a_clock_has_the_period_of_its_model(plan: Plan, period: int):
    validate(plan, RULES)
    seen = observe(Setup(plan, RULES), find_trigger(Setup(plan, RULES), "press"))
    starts = [pulse.start for pulse in seen.pulses("lamp")][1:6]
    assert kind_of(seen, "lamp") == "clock"
    assert {later - sooner for sooner, later in pairwise(starts)} == {period}
    assert seen.findings == ()


@pytest.mark.parametrize("name", ["hopper timer", "hopper relay", "hopper counter", "latch with delay line"])
def test_what_comes_to_rest_is_as_before(name):
    hold = {"hopper timer": 90, "hopper relay": 99, "hopper counter": 500, "latch with delay line": 90}[name]
    for recipe in FAMILIES[name].recipes(Goal(hold, hold, hold, "short-button", 20, ("lamp",))):
        plan = recipe.make()
        setup = Setup(plan, RULES)
        trigger = find_trigger(setup, "press")
        again = (observe(setup, trigger).rest_steps or 0) + 1
        first, second = observe(setup, trigger, again=(again,)).pulses("lamp")
        assert (second.start - again, second.duration) == first


@pytest.mark.parametrize(("name", "hold", "pitch"), [("flat loop", 108, 3), ("stacked loop", 108, 2)])
def test_loops_stand_as_close_as_the_trade_says(name, hold, pitch):
    """Fact 8 of the trade: flat loops three cells apart, stacked ones two (common practice, no source)."""
    recipes = FAMILIES[name].recipes(Goal(hold, hold, hold, "short-button", 20, ("lamp",)))
    plan = next(recipe.make() for recipe in recipes if "front" not in recipe.settings)
    assert neighbour_verdicts(plan, RULES, ("y",), (False,))[0].pitch_cells == pitch


HOLDS = {
    "direct": 24, "small box": 28,
    "pulse shortener": 2, "repeater taps": 34, "torch one-shot": 16, "dropped item": 6004, "shuttle": 24,
    "drain timer": 61, "wire loop": 62, "flat loop": 108, "stacked loop": 136, "corner loop": 160,
    "difference fader": 64, "latch with delay line": 60, "hopper relay": 35, "hopper timer": 160,
    "hopper counter": 300,
}  # fmt: skip


@pytest.mark.parametrize("name", HOLDS)
def test_no_plan_depends_on_the_order_of_telling_nor_on_how_it_is_turned(name):
    tried = 0
    for trigger, steps in TRIGGER_STEPS.items():
        for output in OUTPUTS:
            goal = Goal(HOLDS[name], HOLDS[name], HOLDS[name], trigger, steps, (output,))
            for recipe in list(FAMILIES[name].recipes(goal))[:1]:
                verdicts = order_verdicts(recipe.make())
                assert [verdict.partings for verdict in verdicts if verdict.sensitive] == [], dict(recipe.settings)
                tried += 1
    assert tried


def test_clocks_that_cannot_run_are_refused():
    with pytest.raises(UsageError, match="burns out"):
        clocks.make_torch_clock(1)
    with pytest.raises(UsageError, match="an even number from 6"):
        clocks.make_comparator_clock(7, 4)
    with pytest.raises(UsageError, match="below a turn"):
        clocks.make_comparator_clock(6, 12)
