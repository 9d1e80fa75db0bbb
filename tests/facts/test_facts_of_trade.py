"""Facts of the trade, 1 to 7 and 10 of the list at the end of the rules, on real plans.

Each is common practice, no source: the figures are those of the list, never of the code.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.kinds import parse_part
from tickwright.measurement import Measurement, measure, pulses
from tickwright.plan import Plan, load, loads

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TICK = 2  # steps
PRESS_TICKS = 10  # of a short button
KEY = """
[legend]
"#" = "block"
"b" = "short-button"
"w" = "wire"
"r" = "repeater east"
"4" = "repeater east delay=4"
"s" = "change-sensor east"
">" = "comparator east"
"<" = "comparator west"
"L" = "lamp"
"""
FLAT_LOOPS = {2: "flat-loop-2", 4: "flat-loop-4", 6: "flat-loop-6", 8: "flat-loop-8"}
STACKED_LOOPS = {3: "stacked-loop-3", 4: "stacked-loop-4", 5: "stacked-loop-5"}
LOOPS = [*FLAT_LOOPS.items(), *STACKED_LOOPS.items(), (4, "stacked-loop-4-uneven")]


@cache
def example(name: str) -> Plan:
    return load(EXAMPLES / f"{name}.toml")


def landing(upper: str, **outputs: tuple[int, int, int]) -> Plan:
    """A layer of parts on a floor of blocks, pressed at (0, 0, 1)."""
    rows = upper.strip("\n").split("\n")
    floor = "\n".join("#" * max(map(len, rows)) for _ in rows)
    named = "\n".join(f"{name} = {list(cell)}" for name, cell in outputs.items())
    layers = "".join(f'\n[[layer]]\nrows = """\n{text}\n"""\n' for text in (floor, "\n".join(rows)))
    text = f'format = "tickwright plan 1"\n{KEY}{layers}\n[triggers]\npress = [0, 0, 1]\n\n[outputs]\n{named}\n'
    return loads(text)


def flat_loop(size: int, feed: str = "r") -> Plan:
    """A flat loop of so many comparators behind a repeater, with a lamp where its entry is."""
    half = size // 2
    plan = landing(f"b{feed}w{'>' * half}w\n..w{'<' * half}w", entry=(2, 0, 1), lamp=(2, 0, 0))
    return replace(plan, cells={**plan.cells, (2, 0, 0): parse_part("lamp")})


def at(plan: Plan, output: str, length_ticks: int | None = None, rules: str | None = None) -> Measurement:
    return measure(plan, output=output, length_steps=length_ticks and length_ticks * TICK, rules=rules)[0]


def levels_by_turn(plan: Plan, output: str = "entry") -> list[int]:
    """The levels that the output shows one after the other, on its way from the first press to off."""
    return [level for _, level in run(plan, ["0:press"], steps=600).trace.changes[output] if level > 0]


def loss_a_turn(plan: Plan) -> int:
    losses = {before - after for before, after in pairwise(levels_by_turn(plan))}
    assert len(losses) == 1, losses
    return losses.pop()


# --- 1: durations ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("button", "ticks"), [("short-button", 10), ("long-button", 15)])
def test_fact_1_a_button_lasts(button, ticks):
    """Common practice, no source: short button 10 ticks, long button 15."""
    plan = landing("bw", line=(1, 0, 1))
    plan = replace(plan, cells={**plan.cells, (0, 0, 1): parse_part(button)})
    assert pulses(run(plan, ["7:press"], steps=100).trace.changes["line"]) == [(7, ticks * TICK)]


def test_fact_1_a_change_sensor_lasts_one_tick():
    """Common practice, no source: change-sensor 1 tick."""
    plan = landing("bwsw", edge=(3, 0, 1))
    assert [pulse.duration for pulse in at(plan, "edge").pulses] == [1 * TICK, 1 * TICK]


@pytest.mark.parametrize("count", [1, 2, 5, 9])
def test_fact_1_a_row_of_comparators_takes_one_tick_each(count):
    """Common practice, no source: rows of comparators, one tick each."""
    plan = landing(f"bw{'>' * count}w", line=(count + 2, 0, 1))
    assert at(plan, "line").pulses == ((count * TICK, PRESS_TICKS * TICK),)


# --- 2: a slower repeater ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [2, 6, 8])
def test_fact_2_a_slower_repeater_only_shifts_the_lamp(size):
    """Common practice, no source: four ticks instead of one end the lamp's time 3 ticks later, the pulse no longer."""
    quick, slow = (at(flat_loop(size, feed), "lamp") for feed in "r4")
    ends = [found.pulses[0].start + found.pulses[0].duration for found in (quick, slow)]
    assert ends[1] - ends[0] == 3 * TICK
    assert slow.hold_steps == quick.hold_steps


def test_fact_2_a_slower_repeater_does_not_help_a_loop_too_long_for_its_trigger_but_taps_do():
    """Common practice, no source: a slower repeater does not help such a loop; parallel taps do."""
    assert [at(flat_loop(12, feed), "entry").kind for feed in "r4"] == ["train", "train"]
    assert at(example("taps-loop"), "entry").kind == "one-shot"


# --- 3: one tick charges nothing ---------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [2, 4, 6])
def test_fact_3_one_tick_from_a_repeater_does_not_charge_a_loop(size):
    """Common practice, no source: a 1-tick pulse from a repeater does not charge a comparator loop fed through it."""
    plan = flat_loop(size)
    assert at(plan, "entry", length_ticks=1).pulses == ((1 * TICK, 1 * TICK),)
    assert at(plan, "entry", length_ticks=2).hold_steps > size * TICK


@pytest.mark.parametrize("size", [2, 4, 6])
def test_fact_3_one_tick_from_a_change_sensor_does_not_charge_a_loop(size):
    """Common practice, no source: nor does a 1-tick pulse from a change-sensor."""
    half = size // 2
    plan = landing(f"bwsw{'>' * half}w\n...w{'<' * half}w", entry=(3, 0, 1), last=(4, 1, 1))
    # Both edges of the press strike the entry, and nothing else does: neither pulse comes round.
    assert [pulse.duration for pulse in at(plan, "entry").pulses] == [1 * TICK, 1 * TICK]
    assert at(plan, "last").kind == "none"


# --- 4: the shortest trigger -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("size", "name"), LOOPS)
def test_fact_4_a_loop_needs_a_trigger_as_long_as_it_has_comparators(size, name):
    """Common practice, no source: at least as many ticks as comparators."""
    plan = example(name)
    assert sum(part.kind == "comparator" for part in plan.cells.values()) == size
    assert at(plan, "entry").minimum_trigger_steps == size * TICK


@pytest.mark.parametrize(("size", "name"), [(size, name) for size, name in LOOPS if size > 3])
def test_fact_4_a_shorter_trigger_runs_round_as_a_burst_train_until_it_fades(size, name):
    """Common practice, no source: the level runs round the loop like a clock until it fades.

    One tick is lost in the first comparators (fact 3), so bursts begin at two ticks; the longest is two ticks short.
    """
    plan = example(name)
    for ticks in range(2, size - 1):
        found = at(plan, "entry", length_ticks=ticks)
        assert (found.kind, found.ends) == ("train", True)
        starts = [pulse.start for pulse in found.pulses]
        assert {after - before for before, after in pairwise(starts)} == {size * TICK}
        assert {pulse.duration for pulse in found.pulses} == {ticks * TICK}
        # Levels 15, 15 - loss, ... down to the last above 0: one pulse each.
        assert len(starts) == len(range(15, 0, -loss_a_turn(plan)))


@pytest.mark.parametrize(("size", "name"), [(size, name) for size, name in LOOPS if size > 2])
def test_fact_4_a_gap_of_one_tick_is_closed_after_one_turn(size, name):
    """Common practice, no source, and a limit of it: one tick too short gives one gap, which is lost like a pulse."""
    found = at(example(name), "entry", length_ticks=size - 1)
    first, second = found.pulses
    assert first.duration == (size - 1) * TICK
    assert second.start - first.start == size * TICK


# --- 5 and 6: flat and stacked, lengths of wire ------------------------------------------------------------------


def test_fact_5_a_flat_six_holds_as_long_as_a_stacked_three():
    """Common practice, no source: flat six (two levels a turn) and stacked three (one) hold the same at the entry."""
    flat, stacked = example("flat-loop-6"), example("stacked-loop-3")
    assert (loss_a_turn(flat), loss_a_turn(stacked)) == (2, 1)
    for ticks in (6, 10, 15):
        assert at(flat, "entry", ticks).hold_steps == at(stacked, "entry", ticks).hold_steps


@pytest.mark.parametrize(
    ("rows", "loss"),
    [
        ("brw>>w\n..w<<w", 2),
        ("brw>w>w\n..w<<<w", 2),
        ("brw>w>w\n..w<w<w", 2),
        ("brw>>w\n..w..w\n..w<<w", 4),
        ("brw>>ww\n..w..w.\n..w<<w.", 4),
        ("brw>>w.\n..w<<w.", 2),
    ],
    ids=["two-cell ends", "one-cell wire", "two one-cell wires", "three-cell ends", "a stub", "wider floor"],
)
def test_fact_6_what_a_wire_takes_a_turn(rows, loss):
    """Common practice, no source: a wire of two cells loses one level a turn, one of three two, one of one none."""
    assert loss_a_turn(landing(rows, entry=(2, 0, 1))) == loss


def test_fact_6_a_loop_without_longer_wires_loses_nothing():
    """Common practice, no source: a one-cell wire loses none, so a loop with no other never fades."""
    assert at(example("older-wire-fade"), "entry").lowest_level == 15


def test_fact_6_a_comparator_for_a_one_cell_wire_gives_the_next_size():
    """Common practice, no source: replacing a one-cell wire by a comparator gives the next size."""
    four, five = example("stacked-loop-4"), example("stacked-loop-5")
    wire = (4, 0, 1)
    assert four.cells[wire].kind == "wire"
    grown = replace(four, cells={**four.cells, wire: parse_part("comparator east")})
    assert grown.cells == five.cells
    for size, plan in ((4, four), (5, grown)):
        # A turn of `size` ticks for each level from 14 down to 1, after the press.
        assert at(plan, "entry").hold_steps == (PRESS_TICKS + 14 * size) * TICK


def stacked_loop(lower: str, upper: str) -> Plan:
    """The stacked loop of the examples with other rows."""
    three = example("stacked-loop-3")
    length = len(lower)
    rows = ["#" * (length + 4)], [f"brL{lower}#"], [f"..w{'#' * length}w"], [f"..#{upper}w"]
    layers = "".join(f'\n[[layer]]\nrows = """\n{row}\n"""\n' for (row,) in rows)
    plan = loads(f'format = "tickwright plan 1"\n{KEY}{layers}')
    return replace(plan, triggers=three.triggers, outputs=three.outputs)


@pytest.mark.parametrize(
    ("size", "one", "other"),
    [
        (4, (">w>", "<<"), (">>>", "<#")),
        (6, (">w>>", "<<<"), (">>>>", "<#<")),
    ],
)
def test_fact_6_equal_counts_split_otherwise_differ_by_a_tick_at_most(size, one, other):
    """Common practice, no source: equal counts split 4 + 2 or 3 + 3 differ by a tick at most."""
    plans = [stacked_loop(*rows) for rows in (one, other)]
    assert {sum(part.kind == "comparator" for part in plan.cells.values()) for plan in plans} == {size}
    assert {loss_a_turn(plan) for plan in plans} == {1}
    for output in ("entry", "lamp"):
        first, second = (at(plan, output) for plan in plans)
        assert abs(first.hold_steps - second.hold_steps) <= 1 * TICK
        assert abs(first.rest_steps - second.rest_steps) <= 1 * TICK


# --- 7 and 10 ----------------------------------------------------------------------------------------------------


def test_fact_7_taps_make_ten_ticks_last_eighteen():
    """Common practice, no source: a four-tick repeater joined with a detour of three, press of 10 ticks: 18 ticks."""
    found = at(example("taps"), "joined")
    assert found.trigger_length_steps == PRESS_TICKS * TICK
    assert [pulse.duration for pulse in found.pulses] == [18 * TICK]


def test_fact_10_a_climbing_wire_facing_the_block_behind_a_comparator():
    """Common practice, no source: such a vertical loop fades under `older-wire` and never under `standard`."""
    plan = example("older-wire-fade")
    for output in plan.outputs:
        assert at(plan, output, rules="standard").kind == "latched"
        assert at(plan, output, rules="older-wire").kind == "one-shot"
