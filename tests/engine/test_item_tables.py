"""Step tables for hoppers, ejectors, fill levels and plates, worked out by hand from the rules.

A hopper with nothing to wait for acts in step 0 and then every 8 steps; an act of the hand comes last in its step, so a
hopper sees it one step later. Each table maps a watched cell to its (step, value) changes.
"""

from __future__ import annotations

import pytest

from watching import shows

A, B, C = (0, 0, 0), (1, 0, 0), (2, 0, 0)


# --- hopper ------------------------------------------------------------------------------------------------------

# A pushes at 0, 8, 16; B is empty each time, so that it pushes 7 steps after each: 7, 15, 23.
CHAIN = (
    [(0, 2), (8, 1), (16, 0)],
    [(0, 1), (7, 0), (8, 1), (15, 0), (16, 1), (23, 0)],
    [(0, 0), (7, 1), (15, 2), (23, 3)],
)


def test_a_chain_of_hoppers_passes_items_on():
    parts = {A: "hopper into=east items=3", B: "hopper into=east", C: "crate items=0"}
    shows(parts, [], 40, dict(zip((A, B, C), CHAIN, strict=True)))


def test_the_first_wait_is_seven_whichever_hopper_has_its_turn_first():
    # The same chain towards the west: now the hopper that is pushed into has its turn first.
    parts = {C: "hopper into=west items=3", B: "hopper into=west", A: "crate items=0"}
    shows(parts, [], 40, dict(zip((C, B, A), CHAIN, strict=True)))


def test_the_first_wait_replaces_a_cooldown():
    # B gets one by hand in 2, pushes in 3 and would be ready again in 11; A gets one in 4 and pushes in 5 into the
    # empty B, which therefore acts in 5 + 7 = 12.
    parts = {A: "hopper into=east", B: "hopper into=east", C: "crate items=0"}
    table = {A: [(0, 0), (4, 1), (5, 0)], B: [(0, 0), (2, 1), (3, 0), (5, 1), (12, 0)], C: [(0, 0), (3, 1), (12, 2)]}
    shows(parts, ["2:1,0,0:put", "4:0,0,0:put"], 40, table)


def test_a_hopper_pulls_from_the_container_above():
    # In 0 it has nothing to push and pulls one; in 8 and 16 it pushes one and pulls one; in 24 only the push is left.
    above = (0, 0, 1)
    parts = {above: "crate items=3", A: "hopper into=east", B: "crate items=0"}
    table = {
        above: [(0, 2), (8, 1), (16, 0)],
        A: [(0, 1), (24, 0)],
        B: [(0, 0), (8, 1), (16, 2), (24, 3)],
    }
    shows(parts, [], 60, table)


def test_a_hopper_takes_the_stacks_that_rest_above():
    # Two and three items dropped on it, oldest first: one in 6 and every 8 steps after. It faces a block: they stay.
    parts = {A: "hopper into=east", B: "block"}
    shows(parts, ["5:0,0,1:drop=2", "6:0,0,1:drop=3"], 80, {A: [(0, 0), (6, 1), (14, 2), (22, 3), (30, 4), (38, 5)]})


def test_a_locked_hopper_waits_and_its_cooldown_runs_on():
    # It pushes in 0, is locked from 3; the cooldown is over in 8. Unlocked by hand in 20, it pushes in 21 and 29.
    hopper, crate, lever = (0, 0, 1), (1, 0, 1), (0, 1, 1)
    parts = {(0, 1, 0): "block", lever: "lever", hopper: "hopper into=east items=3", crate: "crate items=0"}
    table = {hopper: [(0, 2), (21, 1), (29, 0)], crate: [(0, 1), (21, 2), (29, 3)]}
    shows(parts, ["3:0,1,1:on", "20:0,1,1:off"], 60, table)


def test_a_locked_hopper_can_be_filled_and_pulled_from():
    # Lowest first: in 0 the lower one pulls (2 to 1), then the source pushes (1 to 2); the lower one pulls in 8 and 16.
    source, locked, lower = (0, 0, 2), (1, 0, 2), (1, 0, 1)
    parts = {
        (1, 1, 1): "insulator",
        (1, 1, 2): "lever thrown=yes",
        source: "hopper into=east items=1",
        locked: "hopper into=east items=2",
        (2, 0, 2): "crate items=0",
        lower: "hopper into=east",
    }
    table = {
        source: [(0, 0)],
        locked: [(0, 2), (8, 1), (16, 0)],
        lower: [(0, 1), (8, 2), (16, 3)],
        (2, 0, 2): [(0, 0)],
    }
    shows(parts, [], 60, table)


UPPER, LOWER = (0, 0, 2), (0, 0, 1)


def test_a_hopper_over_a_hopper_moves_two():
    # The lower one pulls, then the upper one pushes into it (it is not empty then): two every 8 steps.
    parts = {UPPER: "hopper items=6", LOWER: "hopper", A: "crate items=0"}
    table = {
        UPPER: [(0, 4), (8, 2), (16, 0)],
        LOWER: [(0, 2), (8, 3), (16, 4), (24, 3), (32, 2), (40, 1), (48, 0)],
        A: [(0, 0), (8, 1), (16, 2), (24, 3), (32, 4), (40, 5), (48, 6)],
    }
    shows(parts, [], 80, table)


def test_in_the_reversed_order_the_pair_starts_with_a_push():
    # The upper one pushes first, into an empty hopper: the lower one acts in 7 and every 8 steps from then.
    parts = {UPPER: "hopper items=6", LOWER: "hopper", A: "crate items=0"}
    table = {
        UPPER: [(0, 5), (7, 4), (8, 3), (15, 2), (16, 1), (23, 0)],
        LOWER: [(0, 1), (8, 2), (16, 3), (31, 2), (39, 1), (47, 0)],
        A: [(0, 0), (7, 1), (15, 2), (23, 3), (31, 4), (39, 5), (47, 6)],
    }
    shows(parts, [], 80, table, order="reversed")


def test_32_items_drain_in_8_times_31_steps():
    parts = {A: "hopper into=east items=32", B: "crate items=0"}
    table = {A: [(8 * n, 31 - n) for n in range(32)], B: [(8 * n, n + 1) for n in range(32)]}
    assert table[A][-1] == (248, 0)
    shows(parts, [], 400, table)


def test_a_full_container_takes_nothing_more():
    # One place is left; the second push has no room until one is taken out by hand in 20: it follows in 21.
    parts = {A: "hopper into=east items=3", B: "hopper into=down items=319"}
    shows(parts, ["20:1,0,0:take"], 60, {A: [(0, 2), (21, 1)], B: [(0, 320), (20, 319), (21, 320)]})


# --- ejector -----------------------------------------------------------------------------------------------------

BUTTON, EJECTOR, FRONT = (0, 0, 1), (1, 0, 1), (2, 0, 1)
WITH_BUTTON = {(0, 0, 0): "block", BUTTON: "short-button", EJECTOR: "ejector east items=2"}
LEVER, HIGH, BEFORE = (0, 1, 2), (0, 0, 2), (1, 0, 2)
POWERED = {(0, 1, 1): "insulator", LEVER: "lever thrown=yes", HIGH: "ejector east items=1"}


def test_an_ejector_moves_one_item_into_a_container_each_time_it_becomes_powered():
    # Due 4 steps after the press. The press in 60 finds it empty.
    parts = {**WITH_BUTTON, FRONT: "crate items=0"}
    table = {EJECTOR: [(0, 2), (9, 1), (34, 0)], FRONT: [(0, 0), (9, 1), (34, 2)]}
    shows(parts, ["5:0,0,1", "30:0,0,1", "60:0,0,1"], 100, table)


def test_an_ejector_before_a_full_container_does_nothing():
    parts = {**WITH_BUTTON, FRONT: "crate items=1728"}
    shows(parts, ["5:0,0,1"], 60, {EJECTOR: [(0, 2)], FRONT: [(0, 1728)]})


def test_an_ejector_powered_at_the_start_acts_in_step_4_onto_the_plate_before_it():
    # On at once; the item vanishes in 6004, before plates look; 6004 is 300 looks after step 4.
    parts = {**POWERED, (1, 0, 1): "block", BEFORE: "item-plate"}
    shows(parts, [], 6100, {HIGH: [(0, 1), (4, 0)], BEFORE: [(0, 0), (4, 15), (6004, 0)]})


def test_an_item_let_go_in_the_open_rests_ten_steps_later_on_what_is_below():
    # Let go in 4, felt in 14; gone in 6004; looks are at 14, 34, ..., 5994, 6014.
    plate = (1, 0, 1)
    parts = {**POWERED, (1, 0, 0): "block", plate: "item-plate"}
    shows(parts, [], 6100, {HIGH: [(0, 1), (4, 0)], plate: [(0, 0), (14, 15), (6014, 0)]})


def test_an_item_rests_in_the_cell_of_a_standing_part_and_the_hopper_below_takes_it():
    # It falls into the wire's cell and rests there in 14, after the hoppers' turns: the hopper takes it in 15.
    wire, hopper = (1, 0, 1), (1, 0, 0)
    parts = {**POWERED, hopper: "hopper into=east", (2, 0, 0): "block", wire: "wire"}
    shows(parts, [], 40, {HIGH: [(0, 1), (4, 0)], hopper: [(0, 0), (15, 1)]})


@pytest.mark.parametrize("ahead", ["block", "wire", "insulator"])
def test_an_ejector_lets_nothing_go_into_a_cell_that_holds_a_part(ahead):
    parts = {**POWERED, (1, 0, 1): "block", BEFORE: ahead}
    shows(parts, [], 40, {HIGH: [(0, 1)]})


def test_an_item_without_a_floor_is_lost_with_a_finding():
    done = shows(POWERED, [], 40, {HIGH: [(0, 1), (4, 0)]})
    assert [(found.code, found.message, found.cells, found.steps) for found in done.findings] == [
        ("item-lost", "1 item let go at (1, 0, 2) fell out of the world.", (BEFORE,), (4,))
    ]


# --- fill levels -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("container", "level"),
    [  # floor(1 + 14 x items / (slots x 64)); the second step comes with the first count above a fourteenth
        ("crate items=0", 0),
        ("crate items=1", 1),
        ("crate items=123", 1),
        ("crate items=124", 2),
        ("crate items=864", 8),
        ("crate items=1727", 14),
        ("crate items=1728", 15),
        ("ejector up items=41", 1),
        ("ejector up items=42", 2),
        ("ejector up items=576", 15),
        ("hopper into=west items=22", 1),
        ("hopper into=west items=23", 2),
        ("hopper into=west items=320", 15),
    ],
)
def test_a_comparator_reads_a_fill_behind_it_and_through_one_conducting_cell(container, level):
    near, far = (1, 0, 1), (2, 1, 1)
    parts = {
        (1, 0, 0): "insulator", (2, 1, 0): "insulator", (1, 1, 1): "block",
        (0, 0, 1): container, (0, 1, 1): container,
        near: "comparator east", far: "comparator east",
    }  # fmt: skip
    expected = [(0, 0), (2, level)] if level else [(0, 0)]
    shows(parts, [], 20, {near: expected, far: expected})


def test_through_an_insulator_nothing_is_read():
    parts = {(2, 0, 0): "block", (0, 0, 1): "crate items=864", (1, 0, 1): "insulator", (2, 0, 1): "comparator east"}
    shows(parts, [], 20, {(2, 0, 1): [(0, 0)]})


def test_a_fill_behind_a_block_replaces_every_level_but_15():
    # The lever on the block brings 15 into it in 5; without it the crate's 1 counts, even against the wire's 14.
    lever, block, reader = (1, 0, 2), (1, 0, 1), (2, 0, 1)
    parts = {
        (2, 0, 0): "insulator", (0, 0, 1): "crate items=1", block: "block", lever: "lever", reader: "comparator east",
        (1, 1, 0): "insulator", (1, 2, 0): "insulator", (1, 1, 1): "wire", (1, 2, 1): "wire", (1, 3, 1): "power-block",
    }  # fmt: skip
    table = {(1, 1, 1): [(0, 14), (5, 15), (10, 14)], reader: [(0, 0), (2, 1), (7, 15), (12, 1)]}
    shows(parts, ["5:1,0,2:on", "10:1,0,2:off"], 40, table)


def test_the_reader_follows_put_and_take_two_steps_later():
    crate, reader = (0, 0, 1), (1, 0, 1)
    parts = {(1, 0, 0): "block", crate: "crate items=0", reader: "comparator east"}
    table = {crate: [(0, 0), (5, 124), (10, 1), (20, 0)], reader: [(0, 0), (7, 2), (12, 1), (22, 0)]}
    shows(parts, ["5:0,0,1:put=124", "10:0,0,1:take=123", "20:0,0,1:take=9"], 40, table)


# --- plates ------------------------------------------------------------------------------------------------------

PLATE = (0, 0, 1)


def plate(kind: str) -> dict[tuple[int, int, int], str]:
    return {(0, 0, 0): "block", PLATE: kind}


def test_an_item_plate():
    # On at 3, looks at 23, 43, ...: taken in 30, it is off in 43. A creature from 50 to 60: the look is in 70. Dropped
    # in 100, gone in 6100, which is a look.
    acts = ["3:0,0,1:drop", "30:0,0,1:take", "50:0,0,1:tread", "60:0,0,1:leave", "100:0,0,1:drop=64"]
    shows(plate("item-plate"), acts, 6200, {PLATE: [(0, 0), (3, 15), (43, 0), (50, 15), (70, 0), (100, 15), (6100, 0)]})


def test_the_hand_comes_after_the_look_of_its_step():
    shows(plate("item-plate"), ["3:0,0,1:drop", "23:0,0,1:take"], 60, {PLATE: [(0, 0), (3, 15), (43, 0)]})


def test_a_tread_plate_feels_creatures_only():
    acts = ["3:0,0,1:drop", "10:0,0,1:tread", "30:0,0,1:leave"]
    shows(plate("tread-plate"), acts, 100, {PLATE: [(0, 0), (10, 15), (50, 0)]})


def test_a_counting_plate_counts_stacks_and_creatures():
    # A stack of forty is one thing. Looks at 10 and 20 from step 0; anew from 21: 31, 41, 51.
    acts = [
        "0:0,0,1:drop=40", "1:0,0,1:drop", "2:0,0,1:drop", "15:0,0,1:take",
        "21:0,0,1:tread", "22:0,0,1:drop", "33:0,0,1:leave", "45:0,0,1:take",
    ]  # fmt: skip
    table = {PLATE: [(0, 1), (10, 3), (20, 0), (21, 1), (31, 2), (41, 1), (51, 0)]}
    shows(plate("counting-plate"), acts, 100, table)


def test_a_counting_plate_of_tens():
    # Ten things give 1, the eleventh 2 at the look in 20. Ten vanish in 6000 (a look), the last in 6012 (seen in 6020).
    acts = [*["0:0,0,1:drop"] * 10, "12:0,0,1:drop"]
    shows(plate("counting-plate counts=10"), acts, 6100, {PLATE: [(0, 1), (20, 2), (6000, 1), (6020, 0)]})


def test_a_counting_plate_stops_at_15():
    acts = [*["0:0,0,1:drop"] * 16, "11:0,0,1:tread"]
    shows(plate("counting-plate"), acts, 60, {PLATE: [(0, 1), (10, 15)]})


def test_a_stack_dropped_over_a_plate_is_felt_ten_steps_later():
    # Let go two cells above the plate in 5: at rest in 15; taken from the plate in 16, off at its look in 35.
    acts = ["5:0,0,3:drop=7", "16:0,0,1:take"]
    shows(plate("item-plate"), acts, 60, {PLATE: [(0, 0), (15, 15), (35, 0)]})
