"""Tables by hand for the lines of the rules that a small slip could change without another table noticing.

Each was worked out on paper from the rules of the block world; every engine must show it. The floor of blocks lies at
z = 0 unless a table says otherwise, and delays are in steps.
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from tickwright.engine import run
from tickwright.engine.running import ENGINES
from tickwright.kinds import parse_part
from tickwright.rules import load_rules
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.power import is_ahead
from watching import shows, world

Cell = tuple[int, int, int]
DARK = [(0, 0)]


def floored(parts: dict[Cell, str]) -> dict[Cell, str]:
    """The parts on a floor that reaches two cells beyond them."""
    xs, ys = ({cell[axis] for cell in parts} for axis in (0, 1))
    floor = {(x, y, 0): "block" for x in range(min(xs) - 2, max(xs) + 3) for y in range(min(ys) - 2, max(ys) + 3)}
    return floor | parts


# --- who powers which block ----------------------------------------------------------------------------------------


def test_a_plate_powers_the_cell_below_it_and_none_above_or_beside():
    """Trodden on at 2: the block below is strongly powered, the lamp beside that lights; the others hear nothing."""
    plate = (1, 1, 1)
    parts = {(1, 1, 0): "block", plate: "tread-plate", (1, 1, 2): "block", (2, 1, 1): "block"}
    lamps = {(2, 1, 0): "lamp", (2, 1, 2): "lamp", (3, 1, 1): "lamp"}
    on = [(0, 0), (2, 15)]
    table = {(2, 1, 0): on, (2, 1, 2): DARK, (3, 1, 1): DARK, plate: on}
    shows(parts | lamps, ["2:1,1,1:tread"], 19, table)


@pytest.mark.parametrize("part", ["lever on=west", "short-button on=west"])
def test_what_is_fixed_to_a_side_powers_that_block_and_not_the_one_below(part):
    act = "on" if part.startswith("lever") else "press"
    parts = {(0, 1, 1): "block", (1, 1, 1): part, (1, 1, 0): "block", (0, 1, 2): "lamp", (2, 1, 0): "lamp"}
    table = {(0, 1, 2): [(0, 0), (2, 15)], (2, 1, 0): DARK}
    shows(parts, [f"2:1,1,1:{act}"], 20, table)


def test_a_lit_torch_powers_the_block_above_it_and_none_beside_or_below():
    parts = {(1, 1, 0): "block", (1, 1, 1): "torch", (1, 1, 2): "block", (2, 1, 1): "block"}
    lamps = {(2, 1, 2): "lamp", (3, 1, 1): "lamp", (2, 1, 0): "lamp"}
    shows(parts | lamps, [], 9, {(2, 1, 2): [(0, 15)], (3, 1, 1): DARK, (2, 1, 0): DARK})


def test_a_power_block_powers_no_block_but_all_that_listens_beside_it():
    """The lamp beside it and the repeater that has it behind are on; the lamp behind the block is not."""
    parts = floored({(2, 1, 1): "power-block", (1, 1, 1): "block", (0, 1, 1): "lamp", (2, 2, 1): "lamp"})
    parts |= {(3, 1, 1): "repeater east", (2, 0, 1): "repeater south"}
    table = {(0, 1, 1): DARK, (2, 2, 1): [(0, 15)], (3, 1, 1): [(0, 0), (2, 15)], (2, 0, 1): DARK}
    shows(parts, [], 9, table)


def test_a_repeater_powers_the_block_before_it_strongly_a_wire_weakly():
    """Through the repeater's block the wire behind hears 15; through the wire's block a lamp hears, a wire does not."""
    line = {(0, 1, 1): "lever", (1, 1, 1): "repeater east", (2, 1, 1): "block", (3, 1, 1): "wire", (4, 1, 1): "block"}
    parts = floored(line | {(5, 1, 1): "wire", (4, 2, 1): "lamp"})
    table = {(3, 1, 1): [(0, 0), (4, 15)], (4, 2, 1): [(0, 0), (4, 15)], (5, 1, 1): DARK}
    shows(parts, ["2:0,1,1:on"], 9, table)


def test_a_wire_powers_the_cell_below_and_never_the_one_above():
    parts = floored({(0, 1, 1): "lever", (1, 1, 1): "wire", (1, 1, 2): "block", (1, 2, 2): "lamp"})
    parts |= {(1, 1, -1): "lamp"}
    shows({(x, y, z + 1): part for (x, y, z), part in parts.items() if min(x, y) >= 0}, ["2:0,1,2:on"], 9,
          {(1, 1, 0): [(0, 0), (2, 15)], (1, 2, 3): DARK})  # fmt: skip


def test_no_level_comes_down_under_a_roof_from_a_wire_that_stays_as_it_is():
    """The upper wire has 15 all the time, the lower one only while its own lever is on: a block lies above it."""
    parts = {(2, 2, 1): "lever", (3, 2, 1): "wire", (4, 2, 1): "block", (5, 2, 1): "insulator"}
    parts |= {(3, 2, 2): "block", (4, 2, 2): "wire", (5, 2, 2): "lever thrown=yes"}
    shows(floored(parts), ["2:2,2,1:on", "5:2,2,1:off"], 20,
          {(3, 2, 1): [(0, 0), (2, 15), (5, 0)], (4, 2, 2): [(0, 15)]})  # fmt: skip


# --- priority, locks, flanks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facing", "first", "follower"),
    [("west", DARK, DARK), ("east", [(0, 0), (4, 15), (14, 0)], [(0, 0), (6, 15), (16, 0)])],
)
def test_a_repeater_met_head_on_has_no_precedence(facing, first, follower):
    """Two repeaters hear the wire at 2 and are due at 4, the one at (2, 0, 1) scheduled first.

    The other faces its flank, so its priority is -3. Head-on with a third, the first has -1: it is locked before its
    turn, and what was due does nothing. With the third facing away it has -3 too and goes first; the lever goes off at
    10, the lock ends at 12, and only then may the first schedule its end.
    """
    wires = {(1, y, 1): "wire" for y in range(3)} | {(2, 2, 1): "wire"}
    parts = floored({(0, 0, 1): "lever", **wires, (2, 0, 1): "repeater east", (3, 0, 1): f"repeater {facing}"})
    parts |= {(2, 1, 1): "repeater north"}
    parts = {(x + 2, y + 2, z): part for (x, y, z), part in parts.items()}
    table = {(4, 2, 1): first, (5, 2, 1): follower, (4, 3, 1): [(0, 0), (4, 15), (12, 0)]}
    shows(parts, ["2:2,2,1:on", "10:2,2,1:off"], 30, table)


@pytest.mark.parametrize(
    ("lever", "acts", "held", "pulse"),
    [
        # The one ahead is to go on at 8, with -1, scheduled at 0: the end of the pulse, with -2, goes before it.
        ("lever", ["0:2,3,1:on", "4:3,5,1:on", "5:3,5,1:off"], [(0, 0), (8, 15)], [(0, 0), (6, 15), (8, 0)]),
        # It is to go off at 18, with -2, scheduled at 10: it goes first, is locked, and needs another eight steps.
        (
            "lever thrown=yes",
            ["10:2,3,1:off", "14:3,5,1:on", "15:3,5,1:off"],
            [(0, 0), (8, 15), (26, 0)],
            [(0, 0), (16, 15), (18, 0)],
        ),
    ],
)
def test_the_end_of_a_stretched_pulse_has_a_priority_of_its_own(lever, acts, held, pulse):
    """A repeater of one tick faces the flank of one of four: what lies ahead gives -3 as a rule, here -2 always.

    Its lever is on for one step: it goes on two steps after, finds the lever off, and is to end after two more.
    """
    parts = {(2, 3, 1): lever, (3, 3, 1): "repeater east delay=4", (3, 4, 1): "repeater north", (3, 5, 1): "lever"}
    shows(floored(parts), acts, 40, {(3, 3, 1): held, (3, 4, 1): pulse})


AHEAD = [
    ("repeater west", False), ("comparator west", False), ("repeater east", True), ("repeater north", True),
    ("comparator south", True), ("comparator east", True), ("block", False), ("change-sensor east", False),
    ("wire", False), ("torch", False),
]  # fmt: skip


@pytest.mark.parametrize(("before", "ahead"), AHEAD)
@pytest.mark.parametrize("kind", ["repeater", "comparator"])
def test_what_gives_precedence(kind, before, ahead):
    cells = {(0, 0, 0): "block", (1, 0, 0): "block", (0, 0, 1): f"{kind} east", (1, 0, 1): before}
    stands = {cell: Stand(parse_part(text)) for cell, text in cells.items()}
    assert is_ahead(Geometry(stands, load_rules()), (0, 0, 1)) == ahead


LOCKS = [
    ("repeater north", True), ("comparator north", True), ("power-block", False), ("lever thrown=yes", False),
    ("torch", False), ("wire", False), ("repeater south", False),
]  # fmt: skip


@pytest.mark.parametrize(("part", "locks"), LOCKS)
def test_what_locks_a_repeater(part, locks):
    """What is at the flank (2, 2, 1) is on from 2 at the latest, being fed from (2, 3, 1); the lever is thrown at 8."""
    parts = floored({(1, 1, 1): "lever", (2, 1, 1): "repeater east", (2, 2, 1): part, (2, 3, 1): "power-block"})
    parts = {(x + 2, y + 2, z): text for (x, y, z), text in parts.items()}
    shows(parts, ["8:3,3,1:on"], 20, {(4, 3, 1): DARK if locks else [(0, 0), (10, 15)]})


FLANKS = [
    ("wire", 14), ("power-block", 15), ("repeater north", 15), ("comparator north", 14), ("change-sensor north", 0),
    ("block", 0), ("lever thrown=yes", 0), ("torch", 0), ("repeater south", 0), ("counting-plate", 0),
]  # fmt: skip


@pytest.mark.parametrize(("part", "flank"), FLANKS)
def test_what_a_comparators_flank_hears(part, flank):
    """A wire with 14 lies behind the flank's part, at (2, 3, 1); the rear is a power-block: 15 less the flank is shown.

    What is at the flank and on from 2 only has precedence, so the comparator, due at 2 as well, hears it already. The
    wire at the flank has the power-block two cells behind it, and so 14.
    """
    source = {(2, 4, 1): "wire", (2, 5, 1): "power-block"} if part != "wire" else {(2, 4, 1): "power-block"}
    parts = floored({(1, 1, 1): "power-block", (2, 1, 1): "comparator east mode=difference", (2, 2, 1): part,
                     (2, 3, 1): "wire", **source})  # fmt: skip
    parts = {(x + 2, y + 2, z): text for (x, y, z), text in parts.items()}
    shown = 15 - flank
    shows(parts, [], 12, {(4, 3, 1): [(0, 0), *[(2, shown)] * (shown > 0)]})


@pytest.mark.parametrize(("facing", "on_from"), [("north", 15), ("south", 12)])
def test_a_change_sensor_that_faces_into_a_comparators_flank_is_heard_there(facing, on_from):
    """Thrown at 9, the lever behind the sensor makes it on from 11 to 13. The rear's, thrown at 10, makes the
    comparator due at 12, when 15 less 15 is 0; told again at 13 it is due at 15. One that faces away changes nothing.
    """
    parts = {(1, 1, 1): "lever", (2, 1, 1): "comparator east mode=difference", (2, 3, 1): "lever"}
    parts |= {(2, 2, 1): f"change-sensor {facing}"}
    laid = {(x + 2, y + 2, z): text for (x, y, z), text in floored(parts).items()}
    table = {(4, 3, 1): [(0, 0), (on_from, 15)]}
    if facing == "north":
        table[4, 4, 1] = [(0, 0), (11, 15), (13, 0)]
    shows(laid, ["9:4,5,1:on", "10:3,3,1:on"], 20, table)


@pytest.mark.parametrize(
    ("part", "south"),
    [("repeater north", 15), ("repeater south", 15), ("repeater east", 0), ("repeater west", 0),
     ("comparator north", 0), ("change-sensor west", 0), ("change-sensor east", 15), ("change-sensor north", 15)],
)  # fmt: skip
def test_beside_what_a_wire_bends(part, south):
    """A power-block lies north of the wire. Joined on one side a wire points ahead, too, and lights the lamp south;
    joined to what lies east of it as well, it bends, and does not.
    """
    parts = {(1, 1, 1): "wire", (1, 0, 1): "power-block", (2, 1, 1): part, (1, 2, 1): "lamp"}
    laid = {(x + 2, y + 2, z): text for (x, y, z), text in floored(parts).items()}
    shows(laid, [], 6, {(3, 4, 1): [(0, south)], (3, 3, 1): [(0, 15)]})


# --- containers ----------------------------------------------------------------------------------------------------

READS = [
    # behind, beyond, what feeds the wire that is the only other source -> what the comparator shows in the end
    ({(2, 1, 1): "crate items=864"}, 8),  # half full: floor(1 + 14 / 2)
    ({(2, 1, 1): "block", (1, 1, 1): "crate items=864"}, 8),
    ({(2, 1, 1): "insulator", (1, 1, 1): "crate items=864"}, 0),
    ({(2, 1, 1): "block", (1, 1, 1): "block", (0, 1, 1): "crate items=864"}, 0),
    ({(2, 1, 1): "block", (1, 1, 1): "crate items=864", (2, 1, 2): "lever thrown=yes"}, 15),  # R is 15: not replaced
    ({(2, 1, 1): "ejector north items=1", (2, 1, 2): "wire", (1, 1, 2): "lever thrown=yes", (1, 1, 1): "block"}, 1),
]  # fmt: skip


@pytest.mark.parametrize(("parts", "level"), READS)
def test_what_a_comparator_reads(parts, level):
    parts = floored(parts | {(3, 1, 1): "comparator east"})
    parts = {(x + 2, y + 2, z): text for (x, y, z), text in parts.items()}
    assert shows(parts, [], 3, {}).trace is not None
    shows(parts, [], 3, {(5, 3, 1): [(0, 0), *[(2, level)] * (level > 0)]})


# --- pistons -------------------------------------------------------------------------------------------------------


def test_a_pushed_change_sensor_lands_off():
    """It sees the lever at 5 and is on from 7; pushed at 8 it loses its end, due at 9; it lands off."""
    piston, sensor, seen = (2, 2, 1), (3, 2, 1), (3, 3, 1)
    parts = floored({piston: "piston east", sensor: "change-sensor north", seen: "lever", (2, 3, 1): "lever"})
    parts = {cell: part for cell, part in parts.items() if min(cell) >= 0}
    acts = ["5:3,3,1:on", "7:2,3,1:on"]
    table = {sensor: [(0, 0), (7, 15), (8, 0)], (4, 2, 1): DARK, piston: [(0, 0), (8, 15)]}
    shows(parts, acts, 20, table)


@pytest.mark.parametrize(("facing", "stands"), [("up", False), ("north", True), ("down", True)])
def test_a_piston_carries_nothing_on_its_face(facing, stands):
    """The hand puts a torch on it at 3, which is lit at once if it can stand there."""
    on_top = (1, 1, 2)
    done = shows({(1, 1, 1): f"piston {facing}", (1, 1, 0): "crate"}, ["3:1,1,2:place=torch"], 4,
                 {on_top: [(0, 0), (3, 15)] if stands else DARK})  # fmt: skip
    assert [found.code for found in done.findings] == ([] if stands else ["act-refused"])


def test_a_piston_is_not_powered_through_its_face_but_through_what_would_power_the_cell_above():
    face = {(1, 1, 1): "piston east", (2, 1, 1): "power-block", (3, 1, 1): "crate"}
    above = {(1, 1, 1): "piston east", (1, 0, 2): "power-block"}
    shows(face, [], 5, {(1, 1, 1): DARK})
    shows(above, [], 5, {(1, 1, 1): [(0, 15)]})


@pytest.mark.parametrize("engine", ENGINES)
def test_a_piston_that_conducts_is_not_powered_through_itself(engine):
    """A repeater powers it strongly, from its face: that is neither its own neighbour's power nor the upper cell's."""
    rules = replace(load_rules(), conducts={**load_rules().conducts, "piston": True})
    plan = world(floored({(2, 2, 1): "piston east", (3, 2, 1): "repeater west", (4, 2, 1): "lever thrown=yes"}))
    done = run(plan, steps=20, rules=rules, engine=engine, watch={"piston": (2, 2, 1), "repeater": (3, 2, 1)})
    assert done.trace.changes == {"piston": ((0, 0),), "repeater": ((0, 0), (2, 15))}


# --- items ---------------------------------------------------------------------------------------------------------


def test_an_empty_hopper_that_is_pushed_into_acts_seven_steps_later():
    """By hand: the first pushes at 0 and every eight; the second pushes on at 7, 15, 23; the crate counts them."""
    parts = {(0, 0, 0): "hopper into=east items=3", (1, 0, 0): "hopper into=east", (2, 0, 0): "crate"}
    table = {(2, 0, 0): [(0, 0), (7, 1), (15, 2), (23, 3)], (0, 0, 0): [(0, 2), (8, 1), (16, 0)]}
    shows(parts, [], 40, table)
