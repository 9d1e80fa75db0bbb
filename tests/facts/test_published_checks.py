"""Published cases on real plans, each with its source as the list of checks names it."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from tickwright.engine import Trace, run
from tickwright.measurement import periods, pulses
from tickwright.plan import Plan, load, loads

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TICK = 2  # steps

# Five torches round a landing of 5 by 6 cells, clockwise; the lever keeps the first of them dark until it is flipped.
RING_OF_FIVE = '''
format = "tickwright plan 1"
[legend]
"#" = "block"
"w" = "wire"
"l" = "lever on=east thrown=yes"
"e" = "torch on=west"
"s" = "torch on=north"
"o" = "torch on=east"
"n" = "torch on=south"
[[layer]]
rows = """
######
.#...#
.#...#
.#...#
.#...#
.#####
"""
[[layer]]
rows = """
l#eww#
.w...s
.n...w
.#...#
.w...s
.wo#ww
"""
[triggers]
start = [0, 0, 1]
[outputs]
t1 = [2, 0, 1]
t2 = [5, 1, 1]
t3 = [5, 4, 1]
t4 = [2, 5, 1]
t5 = [1, 2, 1]
'''

# Six comparators, a wire of two cells after each: a ring of 4 by 7 cells, clockwise. The lever feeds the first.
REGISTER_LOOP = '''
format = "tickwright plan 1"
[legend]
"#" = "block"
"w" = "wire"
"l" = "lever"
"e" = "comparator east"
"s" = "comparator south"
"o" = "comparator west"
"n" = "comparator north"
[[layer]]
rows = """
#####
.#..#
.#..#
.#..#
.#..#
.#..#
.####
"""
[[layer]]
rows = """
lweww
.w..s
.n..w
.w..w
.w..s
.n..w
.wwow
"""
[triggers]
inject = [0, 0, 1]
[outputs]
stage0 = [2, 0, 1]
stage1 = [4, 1, 1]
stage2 = [4, 4, 1]
stage3 = [3, 6, 1]
stage4 = [1, 5, 1]
stage5 = [1, 2, 1]
'''


def periods_after_the_flip(plan: Plan) -> dict[str, set[int | None]]:
    """The periods of each output's pulses that begin after the lever is flipped, in steps."""
    flip = 60
    trace = run(plan, [f"{flip}:{next(iter(plan.triggers))}"], steps=500).trace
    later = {name: [one for one in pulses(changes) if one.start > flip] for name, changes in trace.changes.items()}
    assert min(map(len, later.values())) > 15
    # The last pulse has no next edge, and so no period.
    return {name: set(periods(found)[:-1]) for name, found in later.items()}


def test_a_ring_of_three_torches_has_a_period_of_six_ticks():
    """Source: ring-oscillator handbook formula T = 2·N·t_pd; reproduced in Icarus Verilog. Three torches: 12 steps."""
    assert periods_after_the_flip(load(EXAMPLES / "torch-clock.toml")) == {"beat": {2 * 3 * TICK}}


def test_a_ring_of_five_torches_has_a_period_of_ten_ticks():
    """Source: ring-oscillator handbook formula T = 2·N·t_pd; reproduced in Icarus Verilog. 5 → 10 ticks."""
    found = periods_after_the_flip(loads(RING_OF_FIVE))
    assert found == {f"t{number}": {2 * 5 * TICK} for number in range(1, 6)}


def stages_at(trace: Trace, tick: int) -> list[int]:
    return [trace.value_at(f"stage{stage}", tick * TICK) for stage in range(6)]


@pytest.fixture(name="register_trace", scope="module")
def register_trace_fixture() -> Trace:
    # The lever feeds stage 0 for one tick. It goes off by hand, after the parts due in that step have acted.
    return run(loads(REGISTER_LOOP), ["0:inject:on", f"{TICK}:inject:off"], steps=60).trace


def test_a_loop_of_six_registers_brings_15_round_as_9_and_3(register_trace):
    """Source: computed; `myhdl` and `amaranth` gave identical traces. Stage 0 reads 15, 9, 3 at ticks 1, 7, 13."""
    read = {tick: register_trace.value_at("stage0", tick * TICK) for tick in range(30)}
    assert {tick: level for tick, level in read.items() if level > 0} == {1: 15, 7: 9, 13: 3}


def test_a_loop_of_six_registers_is_empty_fifteen_ticks_after_the_first_reading(register_trace):
    """Source: computed; `z3` over all starts: alive after 14 ticks possible, after 15 impossible.

    Stage 0 reads 15 at tick 1 and each tick takes one level, so fourteen ticks later, at tick 15, one stage still
    reads 1, and fifteen ticks later, at tick 16, none does.
    """
    for tick in range(1, 16):
        expected = [0] * 6
        expected[(tick - 1) % 6] = 16 - tick
        assert stages_at(register_trace, tick) == expected, tick
    for tick in range(16, 30):
        assert stages_at(register_trace, tick) == [0] * 6, tick


def test_the_stages_follow_each_other_by_one_tick_and_one_level(register_trace):
    """Source: the same row; six one-tick registers, one level lost per stage."""
    firsts = [register_trace.changes[f"stage{stage}"][1] for stage in range(6)]
    assert firsts[0] == (1 * TICK, 15)
    assert {(after[0] - before[0], before[1] - after[1]) for before, after in pairwise(firsts)} == {(TICK, 1)}
