"""Observations that share their futures see what each would have seen alone, and run less for it."""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import pytest

from tickwright import load
from tickwright.engine.running import rules_for
from tickwright.measurement import find_trigger, observe, recovery_steps, retrigger
from tickwright.measurement.levels import length_map, level_map
from tickwright.measurement.observe import Futures, Observation, Runs
from tickwright.plan.setup import Setup

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ENDING = {  # and whether any of these presses comes into a state of another
    "flat-loop-4": True,
    "stacked-loop-3": True,
    "taps": True,
    "shuttle": True,
    "difference-fader": True,
    "barrier": False,
    "drain-timer": False,
}
LENGTHS = (2, 3, 7, 8, 19, 20, 21, 40)
OBSERVE = sys.modules[observe.__module__]  # the package has the function of that name


@pytest.fixture(name="from_the_start")
def checked_from_the_start(monkeypatch):
    """States are kept and looked up from the press on, however short the observations are."""
    monkeypatch.setattr(OBSERVE, "UNCHECKED_STEPS", -1)


def observed(name: str, runs: Runs | None, length: int, level: int | None = None) -> Observation:
    plan = load(EXAMPLES / f"{name}.toml")
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    trigger = find_trigger(setup, next(iter(plan.triggers)))
    return observe(setup, trigger, length, runs=runs, level=level)


@pytest.mark.usefixtures("from_the_start")
@pytest.mark.parametrize(("name", "meet"), ENDING.items())
def test_what_ends_is_seen_whole(name, meet):
    runs = Runs()
    met = 0
    for length in LENGTHS:
        for level in (None, 9, 1):
            alone = observed(name, None, length, level)
            shared = observed(name, runs, length, level)
            assert (shared.changes, shared.rest_steps) == (alone.changes, alone.rest_steps)
            assert shared.seen_steps == alone.seen_steps
            met += shared.active_steps < alone.active_steps
    assert (met > 0) == meet


@pytest.mark.parametrize("name", ["torch-clock", "shuttle-clock"])
def test_what_never_ends_is_seen_to_repeat_itself(name):
    runs = Runs()
    met = 0
    for length in LENGTHS:
        alone, shared = observed(name, None, length), observed(name, runs, length)
        assert (shared.rest_steps, alone.rest_steps) == (None, None)
        steps = min(shared.seen_steps, alone.seen_steps)
        assert steps > 300
        for output, changes in shared.changes.items():
            assert [pair for pair in changes if pair[0] <= steps] == [
                pair for pair in alone.changes[output] if pair[0] <= steps
            ]
            assert all(before[0] < after[0] and before[1] != after[1] for before, after in pairwise(changes))
            assert shared.toggles_for_ever(output) == alone.toggles_for_ever(output)
        periods = [last - first for first, last in (shared.returns_to or (0, 0), alone.returns_to or (0, 0))]
        assert min(periods) > 0
        assert max(periods) % min(periods) == 0
        assert (shared.returns_to or (0, 0))[1] == shared.seen_steps
        met += shared.active_steps < alone.active_steps // 2
    assert met > len(LENGTHS) // 2


@pytest.mark.usefixtures("from_the_start")
@pytest.mark.parametrize("name", ["flat-loop-2", "barrier"])
def test_maps_second_presses_and_recovery_are_as_without(name, monkeypatch):
    plan = load(EXAMPLES / f"{name}.toml")
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    trigger = find_trigger(setup, "press")
    outputs = list(plan.outputs)

    def everything() -> tuple[object, ...]:
        return (
            length_map(setup, trigger, outputs),
            level_map(setup, trigger, outputs, 12),
            retrigger(setup, trigger, outputs),
            [recovery_steps(setup, trigger, output) for output in outputs],
        )

    shared = everything()
    monkeypatch.setattr(Futures, "learn", lambda *_: None)
    assert everything() == shared


def test_only_states_before_what_comes_back_for_ever_are_kept():
    # From a later state on, less than a whole turn would be left to look at.
    seen = Observation(0, True, {}, None, (10, 20), 20, ())
    futures = Futures(long=True)
    futures.learn(seen, [("before", 5), ("first", 10), ("amid", 15)])
    assert list(futures.after) == ["before", "first"]
    undecided = Observation(0, True, {}, None, None, 20, ())
    futures.learn(undecided, [("other", 5)])
    assert "other" not in futures.after
