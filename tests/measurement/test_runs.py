"""What observations share changes nothing: each is the same from a circuit of its own, settled and pressed anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright import load
from tickwright.measurement import Runs, find_trigger, lap_table, observe
from tickwright.measurement.levels import comparators
from tickwright.measurement.observe import FirstPress
from tickwright.measurement.press import takes_length
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NAMES = ["stacked-loop-3", "latch", "shuttle", "torch-clock", "dropped-item", "barrier", "hopper-clock"]


def laid(name):
    plan = load(EXAMPLES / f"{name}.toml")
    rules = load_rules(plan.rules)
    return plan, rules, find_trigger(Setup(plan, rules), next(iter(plan.triggers)))


def shown(seen, steps):
    """What was seen in so many steps, and whether it comes to rest."""
    changes = {name: [pair for pair in pairs if pair[0] <= steps] for name, pairs in seen.changes.items()}
    return seen.pressed_at, seen.settled, seen.rest_steps, seen.returns_to is None, changes, seen.findings


@pytest.mark.parametrize("name", NAMES)
def test_shared_runs_show_what_separate_ones_show(name):
    plan, rules, trigger = laid(name)
    runs = Runs()
    ways = [{"order": order, "wait_steps": wait} for order in ("canonical", "reversed") for wait in (0, 7)]
    ways += [{"again": (offset,)} for offset in (3, 30)]
    if takes_length(trigger):
        ways += [{"length_steps": length, "level": level} for length in (2, 9) for level in (None, 6)]
    ways += [{"most_steps": 100}]
    for way in ways:
        setup = Setup(plan, rules, way.pop("order", "canonical"))
        shared, own = (
            observe(setup, trigger, runs=runs, **way),
            observe(setup, trigger, **way),
        )
        if own.returns_to is None:
            assert shared == own, way
        else:  # for how long a clock is watched depends on where the states were met
            steps = min(shared.seen_steps, own.seen_steps)
            assert shown(shared, steps) == shown(own, steps), way
        assert observe(setup, trigger, runs=runs, **way) is observe(setup, trigger, runs=runs, **way)


@pytest.mark.parametrize("name", NAMES)
def test_a_second_press_in_a_copy_of_the_run_is_one_in_a_run_of_its_own(name):
    plan, rules, trigger = laid(name)
    setup = Setup(plan, rules)
    press = FirstPress(setup, trigger)
    for offset in (1, 5, 6, 40):
        press.advance(offset)
        later = press.again(offset + 12)
        assert press.again(offset) == observe(setup, trigger, again=(offset,))
        assert later == observe(setup, trigger, again=(offset + 12,))


def test_cells_that_are_watched_besides_the_outputs_serve_the_laps():
    plan, rules, trigger = laid("stacked-loop-3")
    setup = Setup(plan, rules)
    seen = observe(setup, trigger, also=comparators(plan))
    assert lap_table(setup, trigger, seen) == lap_table(setup, trigger)
    alone = observe(setup, trigger)
    assert {name: seen.changes[name] for name in alone.changes} == alone.changes
