"""Flip-flops in an exact layout: right by hearing and by playing, at either edge, one feeding the next."""

from __future__ import annotations

from itertools import product

import pytest

from tickwright.engine import run
from tickwright.layout.computing import Exact, computes, pruned
from tickwright.layout.judging import judge
from tickwright.layout.labels import EXACT_COST, labels_of
from tickwright.layout.questions import Try, solved
from tickwright.netlist import Network, map_network, parse_blif
from tickwright.plan import Plan
from tickwright.rules import load_rules

BOTH = (load_rules(), load_rules("older-wire"))
TOGGLE = ".model m\n.inputs ck\n.outputs q\n.latch n q {} ck 0\n.names q n\n0 1\n.end"
SHIFT = ".model m\n.inputs d ck\n.outputs q\n.latch d p re ck 0\n.latch p q re ck 0\n.end"


def laid(network: Network, size: tuple[int, int, int]) -> Exact:
    labels = labels_of(network, map_network(network, EXACT_COST))
    found, _ = solved(Try(labels, network.inputs, size, {}, True, 0, 50_000))
    assert not isinstance(found, str), found
    levers = {network.inputs[number]: cell for number, cell in found.levers.items()}
    flips = {network.latches[number].output: where for number, where in found.flip_flops.items()}
    exact = Exact(Plan(found.cells), levers, found.lamps, (), flips)
    assert computes(exact, network, BOTH)
    return pruned(exact, network, BOTH)


def played(exact: Exact, network: Network):
    held = {one.slave: frozenset((one.master,)) for one in exact.flip_flops.values()}
    return judge(exact.plan, network, exact.levers, exact.lamps, BOTH, held)


@pytest.fixture(scope="module")
def toggle():
    network = parse_blif(TOGGLE.format("re"))
    return network, laid(network, (4, 4, 3))


@pytest.mark.parametrize(
    ("text", "size"), [(TOGGLE.format("fe"), (4, 4, 3)), (SHIFT, (6, 4, 3))], ids=["falling", "shift"]
)
def test_flip_flops_do_what_the_netlist_says_under_both_rule_sets(text, size):
    network = parse_blif(text)
    judged = played(laid(network, size), network)
    assert (judged.wrong, judged.complete) == (0, True)


def test_a_toggle_halves_its_clock(toggle):
    # A flip-flop that is fed its inverse divides its clock by two; common practice, no source.
    _, exact = toggle
    plan = exact.plan
    hand = [f"{60 * (k + 1)}:{','.join(map(str, exact.levers['ck']))}" for k in range(8)]
    changes = run(plan, hand, 600, watch={"q": exact.lamps["q"]}).trace.changes["q"]
    assert [when // 60 for when, _ in changes[1:]] == [1, 3, 5, 7]
    assert [level > 0 for _, level in changes] == [False, True, False, True, False]


def test_each_part_taken_away_from_a_toggle_is_seen_by_hearing(toggle):
    network, exact = toggle
    for cell in exact.plan.cells:
        less = exact._replace(plan=Plan({there: part for there, part in exact.plan.cells.items() if there != cell}))
        try:
            assert not computes(less, network, BOTH[:1]), cell
        except KeyError:  # a lever, lamp or repeater that is asked for is not there
            continue


def test_a_repeater_turned_round_is_seen_by_hearing(toggle):
    network, exact = toggle
    (one,) = exact.flip_flops.values()
    for cell, facing in product(one.parts(), ("north", "south", "east", "west")):
        if exact.plan.cells[cell].facing != facing:
            turned = {**exact.plan.cells, cell: exact.plan.cells[cell]._replace(facing=facing)}
            assert not computes(exact._replace(plan=Plan(turned)), network, BOTH[:1]), (cell, facing)
