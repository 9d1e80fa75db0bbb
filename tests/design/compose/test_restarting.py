"""Presses that restart what runs: tiles by themselves, and briefs composed; the steps by hand."""

from __future__ import annotations

import json

import pytest
from test_machine_tiles import Bench

from tickwright.design.compose import compose, read_brief
from tickwright.design.compose.extending import SHUT_FOR
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.monitors import monitors_for
from tickwright.design.compose.planning import network_of
from tickwright.design.compose.restarting import restarter, shutter
from tickwright.engine import run

HEAD = """format = "tickwright brief 1"
rules = ["standard", "older-wire"]
inputs = {press = {part = "short-button"}}
outputs = {gate = {drives = "line"}, lamp = {drives = "lamp"}}
"""


def brief(*shows):
    return read_brief(f"{HEAD}[[chart]]\nshows = {json.dumps(shows)}")


@pytest.mark.parametrize("taps", [2, 4, 6, 8])
def test_a_shutter_makes_a_window_of_a_pulse(taps):
    # a repeater, then another: on 4 steps after the pulse, and for 2 steps less than the taps shut a holder
    found = Bench(shutter("s", taps)).spans([(40, "in", "on"), (44, "in", "off")], 160)
    assert found["out"] == [44, 42 + SHUT_FOR[taps]]


def pulse(port, step, long=4):
    return [(step, port, "on"), (step + long, port, "off")]


def test_a_press_clears_a_memory_and_resets_wait_at_the_gate():
    bench = Bench(restarter("r", 1, 1, True, False))
    assert bench.spans([*pulse("set0", 40), *pulse("clear0", 60)], 160)["out"] == [44, 64]
    assert bench.spans([*pulse("set0", 40), *pulse("reset0", 80)], 160)["out"] == [44, 86]
    assert bench.spans([*pulse("set0", 40), *pulse("gate", 70, 30), *pulse("reset0", 80)], 160)["out"] == [44]


def test_a_memory_that_is_held_off_hears_no_set():
    bench = Bench(restarter("r", 1, 1, True, True))
    acts = [*pulse("clear0", 60), *pulse("clear1", 60), *pulse("hold", 64, 30), *pulse("set0", 62, 20)]
    assert bench.spans(acts, 160)["out"] == []
    assert bench.spans([*acts, *pulse("set0", 110)], 160)["out"] == [114]


@pytest.fixture(scope="module")
def both():
    shows = (
        "gate: on from press + 1.4 s for 0.8 s",
        "lamp: on from press + 0.7 s for 2 s",
        "press: restarts until lamp off",
    )
    return compose(brief(*shows), seed=1, minutes=30, proof=False)


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_each_press_restarts_all_that_runs(both, rules):
    assert both.composed  # a further press at every step, among others
    for again in (22, 24, 29, 33, 40, 44, 52):
        changes = run(both.plan, ["60:press", f"{60 + again}:press"], 500, rules, engine="fast").trace.changes
        lamp = [step - 60 for step, _ in changes["lamp"][1:]]
        assert lamp == [14, min(54, again + 10), again + 14, again + 54]
        gate = [step - 60 for step, _ in changes["gate"][1:]]
        assert gate[-2:] == [again + 28, again + 44]


def test_a_monitor_counts_from_the_last_press():
    shows = ("lamp: on from press + 0.7 s for 6 s", "press: restarts until lamp off")
    low, network = lowered(brief(*shows)), network_of(brief(*shows))
    monitor = next(one for one in monitors_for(low, network) if "lamp" in one.outputs)
    place = monitor.outputs.index("lamp")
    state, seen = monitor.start, []
    for step in range(200):
        state, wanted = monitor.step(state, ("press",) if step in (0, 50) else (), (0, 0, 0))
        seen.append(wanted[place])
    assert [step for step, on in enumerate(seen) if on] == [*range(14, 50), *range(64, 184)]
    assert [step for step, on in enumerate(seen) if on is None] == [*range(50, 60)]


@pytest.mark.parametrize(
    ("shows", "why", "instead"),
    [
        (
            ["lamp: on from press + 0.3 s for 6 s", "press: restarts until lamp off"],
            "the soonest is 0.7 s",
            "lamp: on from press + 0.7 s for 6 s",
        ),
        (
            ["lamp: 2 pulses of 1 s every 3 s from press + 1 s", "press: restarts until lamp off"],
            "does not come to rest within 0.5 s",
            "press: ignored until lamp off",
        ),
    ],
)
def test_what_cannot_be_restarted_is_refused(shows, why, instead):
    found = compose(brief(*shows))
    assert why in found.why
    assert [one.instead for one in found.relax] == [instead]
