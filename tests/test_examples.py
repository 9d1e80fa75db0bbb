"""The examples: each meets its expectations, does what it says, the same when turned, mirrored or re-ordered."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tickwright.charts import check_charts
from tickwright.engine import Trace, run
from tickwright.kinds import parse_part
from tickwright.measurement import measure, pulses
from tickwright.plan import Plan, load, mirror, rotate
from tickwright.verify import check

FOLDER = Path(__file__).resolve().parents[1] / "examples"
NAMES = sorted(path.stem for path in FOLDER.glob("*.toml"))
WANTED = {
    "taps", "flat-loop-2", "flat-loop-4", "flat-loop-6", "flat-loop-8", "stacked-loop-3", "stacked-loop-4",
    "stacked-loop-4-uneven", "stacked-loop-5", "torch-clock", "latch", "difference-fader", "pulse-shortener",
    "edge-detector", "older-wire-fade", "dropped-item", "drain-timer", "shuttle", "shuttle-clock", "hopper-clock",
    "hour-counter", "barrier", "toggle", "counter", "standing-light", "piston-gate", "gate-and-bell", "two-keys",
}  # fmt: skip
# Torches are all lit at the start and repeaters off, so that some begin by a race; from the press on they run the same.
RACES_AT_THE_START = {"torch-clock", "hopper-clock", "hour-counter"}
# The pulse that starts a shuttle is meant to be too short for the pull-piston.
MEANT = {"shuttle": ["cell-left-behind"], "shuttle-clock": ["cell-left-behind"]}
PRESS_STEP = 60
STEPS = 400


@cache
def example(name: str) -> Plan:
    return load(FOLDER / f"{name}.toml")


def turned(plan: Plan) -> dict[str, Plan]:
    """The plan in its four rotations and their mirror images."""
    plans = {"as it is": plan, "mirrored": mirror(plan, "x")}
    return {f"{name}, {turns} turns": rotate(one, turns) for name, one in plans.items() for turns in range(4)}


def trace_of(plan: Plan, order: str = "canonical") -> Trace:
    """All triggers pressed, 60 steps apart."""
    acts = [f"{PRESS_STEP * (number + 1)}:{name}" for number, name in enumerate(plan.triggers)]
    return run(plan, acts, STEPS, order=order).trace


def values_from(trace: Trace, first: int) -> dict[str, list[int]]:
    return {name: [trace.value_at(name, step) for step in range(first, trace.steps)] for name in trace.names}


def first_step(name: str) -> int:
    return PRESS_STEP if name in RACES_AT_THE_START else 0


def test_the_examples_are_all_there():
    assert set(NAMES) >= WANTED


@pytest.mark.parametrize("name", NAMES)
def test_an_example_meets_its_expectations_and_keeps_its_charts(name):
    plan = example(name)
    verdicts = check(plan) if plan.expectations else []
    charts = check_charts(plan)
    assert charts
    assert [verdict for verdict in verdicts if not verdict.passed] == []
    assert [(chart.chart, claim) for chart in charts for claim in chart.claims if not claim.passed] == []


@pytest.mark.parametrize("name", NAMES)
def test_an_example_says_what_it_is_and_runs_without_findings_but_those_it_means(name):
    plan = example(name)
    assert str(plan.source).startswith("# ")
    assert plan.title
    acts = [f"{PRESS_STEP}:{next(iter(plan.triggers))}"]
    assert [found.code for found in run(plan, acts, STEPS).findings] == MEANT.get(name, [])


@pytest.mark.parametrize("name", NAMES)
def test_an_example_changes_some_output(name):
    assert any(len(changes) > 1 for changes in trace_of(example(name)).changes.values())


@pytest.mark.parametrize("name", NAMES)
def test_an_example_does_the_same_turned_and_mirrored(name):
    plan = example(name)
    expected = values_from(trace_of(plan), first_step(name))
    for what, other in turned(plan).items():
        assert values_from(trace_of(other), first_step(name)) == expected, what


@pytest.mark.parametrize("name", NAMES)
def test_an_example_keeps_its_verdicts_turned_and_mirrored(name):
    plan = example(name)
    other = rotate(mirror(plan, "x"))
    assert other.cells != plan.cells
    if plan.expectations:
        assert check(other) == check(plan)
    assert [chart.passed for chart in check_charts(other)] == [chart.passed for chart in check_charts(plan)]


@pytest.mark.parametrize("name", NAMES)
def test_an_example_does_the_same_told_in_other_orders(name):
    plan = example(name)
    expected = values_from(trace_of(plan), first_step(name))
    for order in ("reversed", *map(str, range(8))):
        assert values_from(trace_of(plan, order), first_step(name)) == expected, order


# --- what the comments say ---------------------------------------------------------------------------------------


def test_the_latch_keeps_until_it_is_reset():
    plan = example("latch")
    kept = run(plan, ["0:set"], steps=5000).trace.changes["barrier"]
    assert [value for _, value in kept] == [0, 15]
    lowered = run(plan, ["0:set", "100:reset"], steps=300).trace.changes["barrier"]
    assert [value for _, value in lowered] == [0, 15, 0]
    assert lowered[-1][0] > 100
    again = run(plan, ["0:set", "100:reset", "200:set"], steps=300).trace.changes["barrier"]
    assert [value for _, value in again] == [0, 15, 0, 15]


def test_more_items_in_the_crate_shorten_the_hold():
    plan = example("difference-fader")
    crates = [cell for cell, part in plan.cells.items() if part.kind == "crate"]
    holds = []
    for items in (0, 1, 400, 1000):
        other = replace(plan, cells={**plan.cells, crates[0]: parse_part(f"crate items={items}")})
        holds.append(measure(other, output="entry")[0].hold_steps)
    assert holds[0] == measure(example("flat-loop-4"), output="entry")[0].hold_steps
    assert holds == sorted(holds, reverse=True)
    assert len(set(holds)) == len(holds)


def test_the_loop_behind_taps_needs_them():
    plan = example("taps-loop")
    first_of_detour = (2, 2, 1)
    assert plan.cells[first_of_detour].kind == "repeater"
    without = replace(plan, cells={**plan.cells, first_of_detour: parse_part("block")})
    assert [measure(one, output="entry")[0].kind for one in (plan, without)] == ["one-shot", "train"]


def test_the_edges_lie_as_far_apart_as_the_press_is_long():
    plan = example("edge-detector")
    for length in (6, 11, 20, 45):
        found = measure(plan, output="edge", length_steps=length)[0].pulses
        assert [pulse.duration for pulse in found] == [2, 2]
        assert found[1].start - found[0].start == length


def test_the_shortener_gives_two_ticks_for_any_press():
    plan = example("pulse-shortener")
    for length in (6, 11, 20, 45, 300):
        assert [pulse.duration for pulse in measure(plan, output="short", length_steps=length)[0].pulses] == [4]


def test_the_torch_clock_stops_when_its_lever_is_thrown_again():
    beat = run(example("torch-clock"), ["60:run", "205:run"], steps=400).trace.changes["beat"]
    assert beat[-1][0] < 220
    assert len(pulses(beat)) > 10
