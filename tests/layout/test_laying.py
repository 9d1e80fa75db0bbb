"""Laying: what is routed does what the netlist says, whatever is taken away is seen, and what cannot be is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tickwright.engine import run
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.layout import Instance, Laid, Net, Pin, Port, Tile, hearing_faults, lay
from tickwright.layout.pruning import without_needless
from tickwright.plan.model import Plan
from tickwright.rules import load_rules

RULES = load_rules()
BOTH = (RULES, load_rules("older-wire"))


def tile(name, ports, **cells):
    laid = {tuple(map(int, key.strip("c").split("_"))): parse_part(text) for key, text in cells.items()}
    return Tile(name, Plan(laid), ports)


LEVER = tile(
    "lever", {"out": Port((0, 0, 1), "east", "out", ("north", "south", "west"))}, c0_0_0="block", c0_0_1="lever"
)
LAMP = tile("lamp", {"in": Port((0, 0, 1), "west", "in", ("north", "south", "east"))}, c0_0_0="lamp", c0_0_1="wire")
NOR2 = tile(
    "nor2",
    {
        "a": Port((0, 1, 1), "west", "in"),
        "b": Port((1, 0, 1), "north", "in"),
        "out": Port((2, 1, 1), "east", "out"),
    },
    c0_1_0="block",
    c0_1_1="wire",
    c1_0_0="block",
    c1_0_1="wire",
    c1_1_1="block",
    c2_1_1="torch on=west",
)

# Exclusive or of NORs: x = nor(a, b); y = nor(a, x); z = nor(b, x); o = nor(y, z) is the XNOR of a and b.
XNOR = [
    Instance("a", LEVER),
    Instance("b", LEVER),
    *(Instance(name, NOR2) for name in "xyzo"),
    Instance("lamp", LAMP),
]
XNOR_NETS = {
    "a": Net(Pin("a", "out"), (Pin("x", "a"), Pin("y", "a"))),
    "b": Net(Pin("b", "out"), (Pin("x", "b"), Pin("z", "a"))),
    "x": Net(Pin("x", "out"), (Pin("y", "b"), Pin("z", "b"))),
    "y": Net(Pin("y", "out"), (Pin("o", "a"),)),
    "z": Net(Pin("z", "out"), (Pin("o", "b"),)),
    "o": Net(Pin("o", "out"), (Pin("lamp", "in"),)),
}


@pytest.fixture(scope="module")
def laid():
    return lay(XNOR, XNOR_NETS, seed=3, rules=BOTH, tries=3)


def lamp_after(layout, rules, a, b):
    plan = layout.plan
    levers = [layout.instances[name].cell((0, 0, 1)) for name in "ab"]
    lamp = layout.instances["lamp"].cell((0, 0, 0))
    acts = [f"20:{x},{y},{z}:flip" for (x, y, z), thrown in zip(levers, (a, b), strict=True) if thrown]
    named = replace(plan, outputs={"lamp": lamp}, triggers={})
    return run(named, acts, 100, rules).trace.changes["lamp"][-1][1]


@pytest.mark.parametrize("rules", BOTH, ids=lambda rules: rules.name)
def test_an_xnor_of_four_nors_shines_when_its_levers_agree(laid, rules):
    assert laid.done
    for a in (0, 1):
        for b in (0, 1):
            assert bool(lamp_after(laid, rules, a, b)) == (a == b)


def test_the_same_seed_lays_the_same_plan(laid):
    assert lay(XNOR, XNOR_NETS, seed=3, rules=BOTH, tries=3).plan == laid.plan


def test_nets_name_their_cells_and_levels(laid):
    for cells in laid.cells.values():
        assert {laid.plan.cells[cell].kind for cell in cells} <= {"wire", "repeater"}
    assert set(laid.levels) == {(name, pin.instance, pin.port) for name, net in XNOR_NETS.items() for pin in net.sinks}
    assert all(2 <= level <= 15 for level in laid.levels.values())


def test_acceptance_sees_parts_taken_away(laid):
    lean = without_needless(laid, XNOR_NETS, BOTH)
    whole = Laid(lean.plan, list(lean.instances.values()), XNOR_NETS, lean.repeaters)
    assert hearing_faults(whole, RULES) == ()
    missed = []
    for cell in lean.plan.cells:
        less = {there: part for there, part in lean.plan.cells.items() if there != cell}
        seen = hearing_faults(whole._replace(plan=Plan(less)), RULES)
        if not seen:
            missed.append(cell)
    assert missed == []


def test_a_room_that_is_too_small_says_what_is_not_routed():
    layout = lay(XNOR, XNOR_NETS, room=(9, 9, 3), seed=1, tries=1)
    assert not layout.done
    assert layout.unrouted or layout.faults


@pytest.mark.parametrize("room", [(2, 2, 2), (30, 30, 1)])
def test_what_is_not_in_the_room_is_told_and_never_done(room):
    layout = lay(XNOR, XNOR_NETS, room=room, seed=1, tries=1)
    size = "x".join(map(str, room))
    told = [fault for fault in layout.faults if fault.startswith(f"Not wholly in the room of {size} cells: ")]
    outside = {
        name
        for name, one in layout.instances.items()
        for cell, _ in one.cells()
        if any(not 0 <= here < most for here, most in zip(cell, room, strict=True))
    }
    assert not layout.done
    assert outside
    assert [set(fault.partition(": ")[2].rstrip(".").split(", ")) for fault in told] == [outside]


def test_a_net_that_names_no_port_is_refused():
    with pytest.raises(UsageError, match=r'The net "n" names a\.in, which is no port with role in'):
        lay([Instance("a", LEVER)], {"n": Net(Pin("a", "out"), (Pin("a", "in"),))})
