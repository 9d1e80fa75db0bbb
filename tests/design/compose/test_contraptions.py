"""Contraptions of the ferry landing composed whole; the steps beside them are counted by hand from their claims."""

from __future__ import annotations

import pytest
from played import spans

from tickwright.design.compose import compose, load_brief
from tickwright.plan import examples_folder

SETTLED = 80


@pytest.fixture(scope="module")
def light():
    return compose(load_brief(examples_folder() / "briefs" / "traffic-light.toml"), seed=0, minutes=30)


def test_a_light_with_a_call_button_is_composed_and_proved(light):
    assert light.composed
    assert light.proof.verdict == "proved"
    assert light.proof.states > 5000


@pytest.mark.parametrize("engine", ["reference", "fast"])
@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_carts_wait_while_people_cross_and_a_call_meanwhile_is_ignored(light, engine, rules):
    acts = [(step, "call") for step in (0, 30, 170, 300)]
    away = spans(light.plan, acts, SETTLED, 700, rules, engine)
    edges = {name: [step for span in found for step in span] for name, found in away.items()}
    once = {
        "carts-go": [20, 300], "carts-wait": [20, 60, 260, 300], "carts-stop": [60, 260], "walk": [80, 200],
        "bell": [80, 86, 110, 116, 140, 146, 170, 176],
    }  # fmt: skip
    assert edges == {name: [*steps, *(300 + step for step in steps)] for name, steps in once.items()}
