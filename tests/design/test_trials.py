"""Trials: many plans in one call hold for what the reference engine shows of each."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tickwright.design.catalogue import FAMILIES
from tickwright.design.families import clocks
from tickwright.design.recipes import OUTPUTS, Goal, Recipe
from tickwright.design.trials import Trials
from tickwright.kinds import parse_part
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.plan import loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

RULES = load_rules()
TRIGGERS = {"short-button": 20, "long-button": 30, "lever": None, "tread-plate": 20, "item-plate": 6000}
HOLDS = (8, 20, 36, 44, 108, 152, 241, 530, 2400, 6012)
MOST_STEPS = 40_000


def proposals() -> list[Recipe]:
    """What the families propose for a few holds, of each family and trigger three at most."""
    found: list[Recipe] = []
    for trigger, steps in TRIGGERS.items():
        for family in FAMILIES.values():
            goals = [
                Goal(hold, hold, hold, trigger, steps, OUTPUTS, answer)
                for hold in HOLDS
                for answer in ("any", "restarts")
            ]
            found += [recipe for goal in goals for recipe in family.recipes(goal)][:3]
    return found


def test_holds_are_those_of_the_reference_engine():
    recipes = proposals()
    assert {recipe.family for recipe in recipes} == set(FAMILIES)
    plans = [recipe.make() for recipe in recipes]
    shown = []
    for plan in plans:
        setup = Setup(plan, RULES)
        seen = observe(setup, find_trigger(setup, "press"))
        (name,) = plan.outputs
        shown.append(hold_of(seen.pulses(name)) if seen.settled and kind_of(seen, name) == "one-shot" else None)
    assert None not in shown
    assert Trials(RULES).holds(plans, MOST_STEPS) == shown


ROWS = {
    "a single pulse": (".brw", 20),
    "a lever stays on, and so does what hears it": (".lrw", None),
    "a sensor's pulse is too short for a comparator": ("lscw", None),
    "a sensor gives two pulses, at the press and when it lets go": ("bsrw", None),
    "beside it items pass, and it is not at rest": ("hH.brw", None),
}


@pytest.mark.parametrize(("row", "hold"), ROWS.values(), ids=ROWS)
def test_only_a_single_pulse_of_what_was_at_rest_has_a_hold(row, hold):
    x = max(row.find("b"), row.find("l"))
    plan = loads(f"""format = "tickwright plan 1"
    [legend]
    "#" = "block"
    b = "short-button"
    l = "lever"
    s = "change-sensor east"
    r = "repeater east"
    c = "comparator east"
    w = "wire"
    h = "hopper into=east items=100"
    H = "hopper"
    [[layer]]
    rows = "{"#" * len(row)}"
    [[layer]]
    rows = "{row}"
    [triggers]
    press = [{x}, 0, 1]
    [outputs]
    line = [{len(row) - 1}, 0, 1]""")
    assert Trials(RULES).holds([plan], 2_000) == [hold]


def test_a_clock_and_what_takes_too_long_to_rest_have_none():
    clock = clocks.make_torch_clock(3)
    assert Trials(RULES).holds([clock], 2_000) == [None]
    (timer, *_) = FAMILIES["hopper timer"].recipes(Goal(400, 400, 400, "short-button", 20, OUTPUTS))
    assert Trials(RULES).holds([timer.make()] * 2, 2_000) == [400, 400]
    assert Trials(RULES).holds([timer.make()], 500) == [None]


def test_what_is_on_before_the_press_has_no_hold():
    plan = FAMILIES["direct"]
    (recipe, *_) = plan.recipes(Goal(24, 24, 24, "short-button", 20, ("lamp",)))
    made = recipe.make()
    x, y, z = made.outputs["lamp"]
    lit = replace(made, cells={**made.cells, (x + 1, y, z): parse_part("power-block")})
    assert Trials(RULES).holds([made, lit], 400) == [24, None]
