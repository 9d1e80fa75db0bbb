"""The bench: builds pressed together, by the fast engine, do what each does when it is pressed by itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright import load
from tickwright.diagnosis import single_mistakes
from tickwright.diagnosis.bench import AT_ONCE, Bench
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.mark.parametrize("name", ["drain-timer", "dropped-item", "pulse-shortener", "stacked-loop-3", "torch-clock"])
def test_builds_pressed_together_do_what_each_does_by_itself(name):
    plan, rules = load(EXAMPLES / f"{name}.toml"), load_rules()
    everywhere = {**plan.outputs, **{str(cell): cell for cell in plan.cells}}
    setup = Setup(plan, rules)
    bench = Bench(setup, plan.outputs, plan.triggers)
    builds = [(one,) for one in single_mistakes(setup)][:: 1 if name != "torch-clock" else 6]
    alone = [bench.press(made, everywhere) for made in builds]
    bench.at_once = AT_ONCE
    assert list(bench.press_each(builds, everywhere)) == alone
    assert {seen.kind for answers in alone for seen in answers.values()} >= {"none", "always-on"}


def test_only_long_presses_that_move_no_cell_are_made_together():
    rules = load_rules()
    for name, at_once in (("hopper-clock", AT_ONCE), ("flat-loop-8", 1), ("shuttle-clock", 1)):
        plan = load(EXAMPLES / f"{name}.toml")
        assert Bench(Setup(plan, rules), plan.outputs, plan.triggers).at_once == at_once
