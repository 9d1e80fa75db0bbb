"""Exact layouts: small netlists that SAT lays whole, right by hearing and by playing; what does not fit has none."""

from __future__ import annotations

import pytest
from tests.netlist.texts import FOLDER, netlist

from tickwright.layout.computing import Exact, computes, tables
from tickwright.layout.judging import judge
from tickwright.layout.labels import EXACT_COST, labels_of
from tickwright.layout.smallest import lay_exactly
from tickwright.layout.torches import fewest_torches
from tickwright.netlist import map_network, parse_blif
from tickwright.plan import Plan, load
from tickwright.rules import load_rules

RULES = [load_rules()]
NAND = parse_blif(".model nand\n.inputs a b\n.outputs y\n.names a b y\n11 0\n")


@pytest.fixture(scope="module")
def nand():
    return lay_exactly(NAND, RULES, room=(4, 2, 2), seconds=100)


def test_a_nand_is_two_inverters_on_a_lamp(nand):
    assert nand is not None
    assert judge(nand.plan, NAND, nand.levers, nand.lamps, RULES, {}).wrong == 0
    assert nand.plan.bill()["torch"] == 2


def test_pruning_leaves_nothing_that_could_go(nand):
    for cell in nand.plan.cells:
        less = Plan({there: part for there, part in nand.plan.cells.items() if there != cell})
        if cell in (*nand.levers.values(), *nand.lamps.values()):
            continue
        assert not computes(nand._replace(plan=less), NAND, RULES)


def test_no_nand_is_found_where_there_is_no_room():
    assert lay_exactly(NAND, RULES, room=(2, 2, 2), seconds=100) is None


def test_sides_are_kept_to():
    found = lay_exactly(NAND, RULES, places={"a": "west", "b": "west", "y": "east"}, seconds=100)
    assert found is not None
    x = max(cell[0] for cell in found.lamps.values())
    assert {found.levers["a"][0], found.levers["b"][0]} == {0}
    assert x == max(cell[0] for cell in found.plan.cells)


def test_labels_of_c17_are_its_nands():
    network = netlist("c17.blif")
    labels = labels_of(network, map_network(network, EXACT_COST))
    values = network.values({name: labels.table[labels.lever[i]] for i, name in enumerate(network.inputs)}, 32)
    assert {name: labels.table[number] for name, number in labels.output.items()} == {
        name: values[name] for name in network.outputs
    }


def test_what_the_flip_flops_of_s27_hear_are_the_data_and_clock_of_the_netlist():
    network = netlist("s27.blif")
    labels = labels_of(network, map_network(network, EXACT_COST))
    free = dict(zip(network.inputs, (labels.table[one] for one in labels.lever), strict=True))
    free |= {one.output: labels.table[own.own] for one, own in zip(network.latches, labels.latches, strict=True)}
    values = network.values(free, 256)
    for one, own in zip(network.latches, labels.latches, strict=True):
        assert labels.table[own.data] == values[one.data]
        assert labels.table[own.lock] == values["CK"]
        assert labels.table[own.hold] == values["CK"] ^ (1 << 256) - 1


def test_latches_that_are_open_for_a_while_are_left_to_tiles():
    network = parse_blif(".model m\n.inputs d ck\n.outputs q\n.latch d q al ck 0\n.end\n")
    assert labels_of(network, map_network(network, EXACT_COST)) is None


def test_a_full_adder_is_seven_torches_that_add():
    # Nine NORs of two make a full adder in textbooks (from memory); wires OR what they hear, so seven do here.
    text = ".model full\n.inputs a b ci\n.outputs s co\n.names a b ci s\n100 1\n010 1\n001 1\n111 1\n"
    network = parse_blif(text + ".names a b ci co\n11- 1\n1-1 1\n-11 1\n")
    fewest = fewest_torches(network, 9, 2000)[0]
    assert sum(gate.kind == "nor" for gate in fewest.gates) == 7
    for case in range(8):
        on = {"a": case & 1, "b": case >> 1 & 1, "ci": case >> 2}
        for gate in fewest.gates:
            heard = max(on[name] for name in gate.inputs)
            on[gate.output] = heard if gate.kind == "or" else 1 - heard
        total = sum(case >> place & 1 for place in range(3))
        assert (on[fewest.outputs["s"]], on[fewest.outputs["co"]]) == (total & 1, total >> 1)


def test_the_example_of_c17_gives_the_published_rows():
    # ISCAS-85 netlist; rows counted up over N1 N2 N3 N6 N7, first row leftmost: checks of the project, computed.
    plan = load(FOLDER / "c17.toml")
    found = tables(plan, plan.triggers, ("N7", "N6", "N3", "N2", "N1"), RULES[0])
    rows = {name: "".join(str(found[plan.outputs[name]] >> row & 1) for row in range(32)) for name in plan.outputs}
    assert {name: f"{int(text, 2):08x}" for name, text in rows.items()} == {"N22": "00fc0fff", "N23": "54fc54fc"}
    assert judge(plan, netlist("c17.blif"), plan.triggers, plan.outputs, RULES, {}).wrong == 0
    assert plan.size == (5, 4, 3)


def test_every_part_taken_away_from_the_example_of_c17_is_seen():
    plan = load(FOLDER / "c17.toml")
    network = netlist("c17.blif")
    missed = []
    for cell in plan.cells:
        less = Plan({there: part for there, part in plan.cells.items() if there != cell})
        try:
            seen = not computes(Exact(less, plan.triggers, plan.outputs, ()), network, RULES)
        except KeyError:  # a lever or lamp that the netlist names is not there
            seen = True
        if not seen:
            missed.append(cell)
    assert missed == []


def test_who_stops_the_search_keeps_what_was_found():
    boxes = []

    def told(size, best):
        boxes.append(size)
        return best is not None

    found = lay_exactly(NAND, RULES, room=(4, 2, 2), seconds=1000, told=told, workers=1)
    assert found is not None
    assert "stopped" in {answer for _, answer in found.tried}
    assert boxes
