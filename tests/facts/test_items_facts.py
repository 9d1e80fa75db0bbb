"""Fact 9 of the trade, end to end on plans (common practice, no source): how long items and shuttles hold.

Items take 0.4 s each, up to 320 (128 s); exactly, the last leaves 8 x (N - 1) steps after the first. A dropped item
holds an item plate or a counting plate five minutes, or until it is taken; a tread plate not at all. A shuttle with a
plain and a pull-piston gives one hold; with two pull-pistons it is a clock.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.plan import load, loads

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
STEPS_PER_ITEM = 8
FIVE_MINUTES = 5 * 60 * 20
LAMP_LAG = 4
RELEASE = 10
DRAIN = """
format = "tickwright plan 1"
[legend]
"#" = "insulator"
"v" = "lever thrown=yes"
"c" = "comparator east"
"L" = "lamp"
"h" = "hopper into=west items=ITEMS"
"C" = "crate items=0"
[[layer]]
rows = '''
.#
.##
'''
[[layer]]
rows = '''
.v
ChcL
'''
[triggers]
release = [1, 0, 1]
[outputs]
lamp = [3, 1, 1]
left = [1, 1, 1]
gone = [0, 1, 1]
"""


@pytest.mark.parametrize("items", [1, 5, 32, 64, 320])
def test_a_drain_keeps_its_lamp_lit_eight_steps_an_item(items):
    changes = run(loads(DRAIN.replace("ITEMS", str(items))), [f"{RELEASE}:release"], steps=3000).trace.changes
    first = RELEASE + 1  # the hopper's turn after the hand
    last = first + STEPS_PER_ITEM * (items - 1)
    assert changes["left"] == (
        (0, items),
        *((first + STEPS_PER_ITEM * n, items - 1 - n) for n in range(items)),
    )
    assert changes["gone"][1][0] == first
    assert changes["gone"][-1] == (last, items)
    # The comparator is 2 steps behind the hopper, both ways; the lamp goes dark 4 steps after it.
    assert changes["lamp"] == ((0, 0), (2, 15), (last + 2 + LAMP_LAG, 0))


@pytest.mark.parametrize(("who", "lamp"), [("item", "item-lamp"), ("counted", "counting-lamp")])
def test_a_dropped_item_holds_a_plate_five_minutes(who, lamp):
    changes = run(load(EXAMPLES / "dropped-item.toml"), [f"7:{who}"], steps=7000).trace.changes
    assert changes[lamp] == ((0, 0), (7, 15), (7 + FIVE_MINUTES + LAMP_LAG, 0))


@pytest.mark.parametrize(("who", "lamp", "every"), [("item", "item-lamp", 20), ("counted", "counting-lamp", 10)])
@pytest.mark.parametrize("taken", [8, 26, 27, 3000])
def test_or_until_it_is_taken(who, lamp, every, taken):
    changes = run(load(EXAMPLES / "dropped-item.toml"), [f"7:{who}", f"{taken}:{who}:take"], steps=7000).trace.changes
    look = next(step for step in range(7 + every, 7000, every) if step > taken)
    assert changes[lamp] == ((0, 0), (7, 15), (look + LAMP_LAG, 0))


def test_a_dropped_item_does_not_hold_a_tread_plate_at_all():
    acts = ["7:over-tread:drop=64", "8:6,0,1:drop"]
    found = run(load(EXAMPLES / "dropped-item.toml"), acts, steps=7000)
    assert found.trace.changes["tread-lamp"] == ((0, 0),)
    assert found.findings == ()


def test_a_shuttle_with_a_plain_and_a_pull_piston_gives_one_hold():
    changes = run(load(EXAMPLES / "shuttle.toml"), ["10:throw"], steps=5000).trace.changes
    assert [value for _, value in changes["bell"]] == [0, 15, 0]


def test_a_shuttle_with_two_pull_pistons_is_a_clock():
    changes = run(load(EXAMPLES / "shuttle-clock.toml"), ["10:throw"], steps=5000).trace.changes
    ons = [step for step, value in changes["bell"] if value]
    assert len(ons) > 100
    assert len({later - sooner for sooner, later in pairwise(ons)}) == 1
    assert 5000 - ons[-1] < ons[1] - ons[0]
