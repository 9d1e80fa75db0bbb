"""Every family: what its naive model says of the hold is what a run shows, at goals drawn by a seed."""

from __future__ import annotations

import random

import pytest

from tickwright.design.families import (
    corner_loop,
    difference_fader,
    flat_loop,
    hopper_counter,
    hopper_timer,
    stacked_loop,
    wire_loop,
)
from tickwright.design.recipes import OUTPUTS, Goal, Recipe
from tickwright.measure import find_trigger, observe
from tickwright.measure.measuring import hold_of, kind_of
from tickwright.plan import validate
from tickwright.rules import load_rules

RULES = load_rules()
TRIGGER_TICKS = {"short-button": 10, "long-button": 15, "tread-plate": 10, "lever": None}
FAMILIES = {
    flat_loop: (40, 400),
    stacked_loop: (80, 600),
    corner_loop: (150, 600),
    wire_loop: (16, 90),
    difference_fader: (30, 200),
    hopper_timer: (40, 4000),
    hopper_counter: (80, 9000),
}
TRIED = 12


def proposals(family: object, least: int, most: int) -> list[Recipe]:
    """What the family proposes for holds drawn between two limits, for every trigger and output."""
    draw = random.Random(f"tickwright {family.NAME}")
    found: list[Recipe] = []
    while len(found) < TRIED:
        hold = 2 * draw.randrange(least // 2, most // 2)
        trigger = draw.choice(list(TRIGGER_TICKS))
        goal = Goal(hold, hold, hold, trigger, TRIGGER_TICKS[trigger], OUTPUTS)
        recipes = list(family.recipes(goal))
        found += draw.sample(recipes, min(2, len(recipes)))
    return found


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.NAME.replace(" ", "-"))
def test_the_naive_model_says_what_a_run_shows(family):
    for recipe in proposals(family, *FAMILIES[family]):
        plan = recipe.make()
        validate(plan, RULES)
        assert (list(plan.triggers), list(plan.outputs)) == (["press"], ["lamp" if recipe.output == "lamp" else "line"])
        name = next(iter(plan.outputs))
        seen = observe(plan, RULES, find_trigger(plan, RULES, "press"))
        shown = (kind_of(seen, name), hold_of(seen.pulses(name)))
        assert shown == ("one-shot", recipe.hold_steps), (recipe.family, dict(recipe.settings), recipe.output)
        if recipe.output == "full":
            assert {value for _, value in seen.changes[name]} == {0, 15}
