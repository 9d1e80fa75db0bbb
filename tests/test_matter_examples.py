"""What the examples with items and pistons say in their comments, held against runs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.kinds import parse_part
from tickwright.plan import Plan, load

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


@cache
def example(name: str) -> Plan:
    return load(EXAMPLES / f"{name}.toml")


def changes(name: str, acts: list[str], steps: int, output: str, order: str = "canonical"):
    return list(run(example(name), acts, steps, order=order).trace.changes[output])


@pytest.mark.parametrize(("who", "lamp", "off"), [("item", "item-lamp", 60), ("counted", "counting-lamp", 50)])
def test_a_dropped_item_taken_early_ends_the_light_after_the_next_look(who, lamp, off):
    # On in 20; taken in 45; the looks are every 20 (item: 60) or 10 steps (counting: 50); the lamp is 4 steps behind.
    found = changes("dropped-item", [f"20:{who}", f"45:{who}:take"], 7000, lamp)
    assert found == [(0, 0), (20, 15), (off + 4, 0)]


def test_two_stacks_on_the_plate_do_not_add_their_times():
    # Dropped in 20 and 2020: the second goes in 8020, which is a look of step 20's plate.
    found = changes("dropped-item", ["20:item", "2020:item:drop=64"], 9000, "item-lamp")
    assert found == [(0, 0), (20, 15), (8024, 0)]


def test_the_tread_plate_lights_for_a_creature_but_not_for_an_item():
    # Trodden in 20, left in 21: the look is in 40.
    acts = ["5:over-tread:drop=3", "20:6,0,1:tread", "21:6,0,1:leave"]
    assert changes("dropped-item", acts, 200, "tread-lamp") == [(0, 0), (20, 15), (44, 0)]


def test_the_drain_shows_its_thin_levels():
    # Freed in 10, the first item goes in 11 and item n in 11 + 8 (n - 1). 22 are left from 83, none from 259; the
    # comparator is 2 steps behind.
    assert 1 + 14 * 23 // 320 == 2
    assert 1 + 14 * 22 // 320 == 1
    assert changes("drain-timer", ["10:release"], 400, "level") == [(0, 0), (12, 2), (85, 1), (261, 0)]


def test_the_drain_stands_while_the_lever_is_thrown():
    found = changes("drain-timer", ["10:release", "20:release", "100:release"], 600, "left")
    # Two went in 11 and 19; the lever holds from 20 to 100, then the next goes in 101.
    assert found[:4] == [(0, 32), (11, 31), (19, 30), (101, 29)]
    assert found[-1] == (101 + 8 * 29, 0)


def test_each_throw_of_the_shuttle_is_one_hold():
    # The sensor is 2 steps late; its pulse of 2 steps leaves the block beside the lamp after 4; two repeaters of 8
    # steps later it goes; the lamp is dark 4 steps later.
    found = changes("shuttle", ["10:throw", "200:throw"], 400, "bell")
    assert found == [(0, 0), (14, 15), (34, 0), (204, 15), (224, 0)]


def test_a_shuttle_of_two_pull_pistons_never_rests():
    # 16 steps to the second piston's start, 16 to its way back, 2 for the block to land: 34.
    found = changes("shuttle-clock", ["10:throw"], 20_000, "block")
    ons = [step for step, value in found if value]
    assert ons[:4] == [14, 48, 82, 116]
    assert {later - sooner for sooner, later in pairwise(ons)} == {34}
    assert ons[-1] > 20_000 - 34


def test_the_shuttles_differ_in_one_part():
    one, other = example("shuttle").cells, example("shuttle-clock").cells
    assert set(one) == set(other)
    assert {cell: (str(one[cell]), str(other[cell])) for cell in one if one[cell] != other[cell]} == {
        (5, 1, 1): ("piston west", "pull-piston west")
    }


@pytest.mark.parametrize("order", ["canonical", "reversed", "1", "2"])
def test_the_hopper_clock_turns_when_a_hopper_has_run_out(order):
    done = run(example("hopper-clock"), ["60:run"], 12_000, order=order)
    left, right = (dict(done.trace.changes[name]) for name in ("left", "right"))
    # Item n goes 8 (n - 1) steps after the first: the left hopper is empty 8 x 319 steps after step 61.
    assert min(step for step, count in left.items() if count == 0) == 61 + 8 * 319
    assert {left.get(step, 0) + right.get(step, 0) for step in left if step in right} == {320}
    turns = [step for step, value in done.trace.changes["back"] if step > 60]
    assert turns == [2621, 5189, 7745, 10313]


def test_with_a_repeater_of_one_tick_the_hopper_clock_stumbles():
    plan = example("hopper-clock")
    memory = (4, 0, 1)
    assert str(plan.cells[memory]) == "repeater west delay=2"
    hasty = replace(plan, cells={**plan.cells, memory: parse_part("repeater west")})
    done = run(hasty, ["60:run"], 12_000)
    assert [step for step, _ in done.trace.changes["back"] if step > 60] != [2621, 5189, 7745, 10313]
    assert min(value for _, value in done.trace.changes["left"]) > 0


def test_the_hour_counter_loses_a_turn_with_each_item():
    plan = example("hour-counter")
    ejector = next(cell for cell, part in plan.cells.items() if part.kind == "ejector")
    offs = []
    for items in (2, 3, 4):
        fewer = replace(plan, cells={**plan.cells, ejector: parse_part(f"ejector south items={items}")})
        lamp = run(fewer, ["60:run"], 20_000).trace.changes["lamp"]
        assert lamp[:2] == ((0, 0), (62, 15))
        offs.append(lamp[2][0])
    # The first item is lost at the start; a turn is the hopper clock's period and the 2 steps of one more repeater.
    assert [later - sooner for sooner, later in pairwise(offs)] == [5126, 5126]


def test_the_barrier_lies_across_while_the_loop_holds():
    # Pressed in 10: three comparators take 6 steps to the wire above the piston's block; the piston starts in that step
    # and the barrier is across two steps later.
    assert changes("barrier", ["10:press"], 400, "piston")[1] == (16, 15)
    assert changes("barrier", ["10:press"], 400, "barrier") == [(0, 0), (18, 15), (120, 0)]
