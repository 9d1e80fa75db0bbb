"""Step tables for pistons, worked out by hand from the rules.

The hand acts last in its step, so that a piston told by it starts its move in the next step's moves phase, and what it
pushes lands two steps after that. Each table maps a watched cell to its (step, value) changes.
"""

from __future__ import annotations

import pytest

from watching import shows

PISTON, NEXT, BEYOND, LAMP = (0, 0, 1), (1, 0, 1), (2, 0, 1), (3, 0, 1)
LEVER = "0,1,1"
PUSHED = {(0, 1, 0): "insulator", (0, 1, 1): "lever", NEXT: "power-block", LAMP: "lamp"}
PLAIN = {**PUSHED, PISTON: "piston east"}
PULL = {**PUSHED, PISTON: "pull-piston east"}


def findings(done):
    return [(found.code, found.message, found.cells, found.steps) for found in done.findings]


def test_a_piston_pushes_and_leaves_what_it_pushed():
    # On in 5: starts in 6, the cell lands in 8 and lights the lamp. Off in 20: back in 21, alone.
    table = {
        PISTON: [(0, 0), (6, 15), (21, 0)],
        NEXT: [(0, 15), (6, 0)],
        BEYOND: [(0, 0), (8, 15)],
        LAMP: [(0, 0), (8, 15)],
    }
    assert findings(shows(PLAIN, [f"5:{LEVER}:on", f"20:{LEVER}:off"], 60, table)) == []


def test_a_pull_piston_brings_the_cell_back():
    # The cell leaves in 21 and lands before the piston in 23; the lamp goes dark 4 steps after it lost its power.
    table = {
        PISTON: [(0, 0), (6, 15), (21, 0)],
        NEXT: [(0, 15), (6, 0), (23, 15)],
        BEYOND: [(0, 0), (8, 15), (21, 0)],
        LAMP: [(0, 0), (8, 15), (25, 0)],
    }
    assert findings(shows(PULL, [f"5:{LEVER}:on", f"20:{LEVER}:off"], 60, table)) == []


@pytest.mark.parametrize("off", [6, 7])
def test_a_short_pulse_leaves_the_cell_behind(off):
    # Off in 6 or 7: the retraction starts in 7 or 8, in the moves phase, before the landing in the items phase of 8;
    # the cell lands at once where it was going.
    table = {
        PISTON: [(0, 0), (6, 15), (off + 1, 0)],
        NEXT: [(0, 15), (6, 0)],
        BEYOND: [(0, 0), (off + 1, 15)],
    }
    done = shows(PULL, [f"5:{LEVER}:on", f"{off}:{LEVER}:off"], 60, table)
    message = (
        "The pull-piston at (0, 0, 1) went back before what it pushed had landed: it left the cell at (2, 0, 1) behind."
    )
    assert findings(done) == [("cell-left-behind", message, (PISTON, BEYOND), (off + 1,))]


def test_one_step_longer_and_the_cell_is_pulled():
    # Landed in 8, fetched in 9, back in 11.
    table = {
        PISTON: [(0, 0), (6, 15), (9, 0)],
        NEXT: [(0, 15), (6, 0), (11, 15)],
        BEYOND: [(0, 0), (8, 15), (9, 0)],
    }
    shows(PULL, [f"5:{LEVER}:on", f"8:{LEVER}:off"], 60, table)


def test_a_second_short_pulse_fetches_the_cell_that_the_first_left():
    # The second push moves no cell, so that it does not count: the cell comes back in 22 and lands in 24.
    table = {
        PISTON: [(0, 0), (6, 15), (7, 0), (21, 15), (22, 0)],
        NEXT: [(0, 15), (6, 0), (24, 15)],
        BEYOND: [(0, 0), (7, 15), (22, 0)],
    }
    acts = [f"5:{LEVER}:on", f"6:{LEVER}:off", f"20:{LEVER}:on", f"21:{LEVER}:off"]
    shows(PULL, acts, 60, table)


def test_a_move_whose_cause_has_gone_is_dropped():
    shows(PULL, [f"5:{LEVER}:on", f"5:{LEVER}:off"], 60, {PISTON: [(0, 0)], NEXT: [(0, 15)]})


def test_a_retracting_piston_does_not_act_for_two_steps():
    # Back from 21, told in 23: on again since 22, it queues and starts in the moves phase of 24.
    acts = [f"5:{LEVER}:on", f"20:{LEVER}:off", f"22:{LEVER}:on"]
    shows(PLAIN, acts, 60, {PISTON: [(0, 0), (6, 15), (21, 0), (24, 15)]})


@pytest.mark.parametrize("kind", ["crate items=0", "hopper", "ejector up items=0"])
def test_a_piston_before_a_container_stays_and_says_so(kind):
    parts = {**PLAIN, NEXT: kind}
    done = shows(parts, [f"5:{LEVER}:on"], 60, {PISTON: [(0, 0)]})
    word = kind.split()[0]
    message = f"The piston at (0, 0, 1) cannot extend: the {word} at (1, 0, 1) cannot be pushed."
    assert findings(done) == [("piston-blocked", message, (PISTON, NEXT), (6,))]


def row(length: int) -> dict[tuple[int, int, int], str]:
    """A piston before so many cells, the last of which is a power-block."""
    cells = {(x, 0, 1): "block" for x in range(1, length)}
    return {(0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "piston east", **cells, (length, 0, 1): "power-block"}


def test_twelve_cells_are_pushed():
    # Cell 12 shows 0 from 6: the block that lands there beside the power-block is not powered by it.
    table = {PISTON: [(0, 0), (6, 15)], (12, 0, 1): [(0, 15), (6, 0)], (13, 0, 1): [(0, 0), (8, 15)]}
    assert findings(shows(row(12), [f"5:{LEVER}:on"], 60, table)) == []


def test_a_thirteenth_cell_blocks():
    done = shows(row(13), [f"5:{LEVER}:on"], 60, {PISTON: [(0, 0)], (13, 0, 1): [(0, 15)], (14, 0, 1): [(0, 0)]})
    message = "The piston at (0, 0, 1) cannot extend: more than 12 cells stand in a row before it."
    assert findings(done) == [("piston-blocked", message, (PISTON, (13, 0, 1)), (6,))]


def test_an_extended_piston_cannot_be_pushed():
    # The other piston is out (on from the start, so that it starts in step 0): its back is at work.
    other = (1, 0, 1)
    parts = {
        (0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "piston east",
        (1, 1, 0): "insulator", other: "piston up", (1, 0, 0): "power-block",
    }  # fmt: skip
    done = shows(parts, [f"5:{LEVER}:on"], 60, {PISTON: [(0, 0)], other: [(0, 15)]})
    message = "The piston at (0, 0, 1) cannot extend: the piston at (1, 0, 1) cannot be pushed while it is at work."
    assert findings(done) == [("piston-blocked", message, (PISTON, other), (6,))]


def test_power_at_the_upper_cell_is_power():
    # The lever is beside the cell above the piston, two cells from it: the piston is told.
    parts = {PISTON: "piston east", (0, 1, 1): "insulator", (0, 1, 2): "lever"}
    shows(parts, ["5:0,1,2:on", "20:0,1,2:off"], 60, {PISTON: [(0, 0), (6, 15), (21, 0)]})


def test_a_piston_that_is_not_told_does_not_look():
    # The lever on a block above the upper cell is three cells away: its change tells nobody. What is placed beside the
    # piston in 10 and cleared in 30 does.
    parts = {PISTON: "piston east", (0, 0, 3): "block", (0, 0, 4): "lever"}
    acts = ["5:0,0,4:on", "10:0,1,1:place=block", "20:0,0,4:off", "30:0,1,1:clear"]
    shows(parts, acts, 60, {PISTON: [(0, 0), (11, 15), (31, 0)]})


def test_a_part_that_stands_on_a_pushed_cell_breaks():
    wire = (2, 0, 2)
    parts = {
        (0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "piston east",
        NEXT: "block", BEYOND: "block", wire: "wire", (2, 1, 2): "power-block",
    }  # fmt: skip
    done = shows(parts, [f"5:{LEVER}:on"], 60, {PISTON: [(0, 0), (6, 15)], wire: [(0, 15), (6, 0)]})
    message = "The wire at (2, 0, 2) broke: it lost the cell that it stands on at (2, 0, 1)."
    assert findings(done) == [("part-broke", message, (wire,), (6,))]


def test_what_stands_in_the_way_breaks_and_ends_the_row():
    # The block goes where the wire stood; the cell beyond it stays.
    wire = (2, 0, 1)
    parts = {
        (0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "piston east",
        NEXT: "power-block", (2, 0, 0): "block", wire: "wire", (3, 0, 1): "crate items=5",
    }  # fmt: skip
    table = {PISTON: [(0, 0), (6, 15)], wire: [(0, 15), (6, 0), (8, 15)], (3, 0, 1): [(0, 5)]}
    done = shows(parts, [f"5:{LEVER}:on"], 60, table)
    message = "The wire at (2, 0, 1) broke: the piston at (0, 0, 1) pushed into it."
    assert findings(done) == [("part-broke", message, (wire,), (6,))]


def test_what_stands_on_a_piston_breaks_when_it_extends():
    plate = (0, 0, 2)
    parts = {**PLAIN, plate: "tread-plate"}
    done = shows(parts, [f"5:{LEVER}:on"], 60, {PISTON: [(0, 0), (6, 15)]})
    message = "The tread-plate at (0, 0, 2) broke: it lost the cell that it stands on at (0, 0, 1)."
    assert findings(done) == [("part-broke", message, (plate,), (6,))]


def test_a_pull_piston_cannot_pull_a_container():
    crate = (2, 0, 1)
    parts = {(0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "pull-piston east", crate: "crate items=3"}
    table = {PISTON: [(0, 0), (6, 15), (21, 0)], crate: [(0, 3)]}
    done = shows(parts, [f"5:{LEVER}:on", f"20:{LEVER}:off"], 60, table)
    message = "The pull-piston at (0, 0, 1) cannot pull the crate at (2, 0, 1)."
    assert findings(done) == [("piston-cannot-pull", message, (PISTON, crate), (21,))]


def test_a_pushed_lamp_keeps_its_light_and_loses_its_event():
    # Lit by the power-block below it until it leaves in 6; inert while moving; it lands lit in 8, is told, and
    # goes dark 4 steps later.
    parts = {(0, 1, 0): "insulator", (0, 1, 1): "lever", PISTON: "piston east", NEXT: "lamp", (1, 0, 0): "power-block"}
    table = {NEXT: [(0, 15), (6, 0)], BEYOND: [(0, 0), (8, 15), (12, 0)]}
    shows(parts, [f"5:{LEVER}:on"], 60, table)
