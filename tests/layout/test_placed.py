"""Netlists placed by tiles and router: right in all cases, whichever way they lie; what is broken is seen."""

from __future__ import annotations

from random import Random

import pytest
from tests.netlist.texts import FOLDER, netlist

from tickwright.charts import check_charts
from tickwright.engine import run
from tickwright.errors import UsageError
from tickwright.kinds import parse_part
from tickwright.layout import place_network
from tickwright.layout.judging import Stepper, judge
from tickwright.netlist import parse_blif
from tickwright.plan import Plan, dumps, lay, load, loads, save
from tickwright.rules import load_rules

BOTH = (load_rules(), load_rules("older-wire"))
TOGGLE = ".model toggle\n.inputs ck\n.outputs q\n.latch n q re ck 0\n.names q n\n0 1\n.end"


@pytest.fixture(scope="module")
def half():
    """A half adder under both rule sets."""
    text = ".model half\n.inputs a b\n.outputs s c\n.names a b s\n10 1\n01 1\n.names a b c\n11 1\n.end"
    network = parse_blif(text)
    return network, place_network(network, seed=1, rules=BOTH, minutes=0.2)


def test_a_half_adder_is_placed_and_all_its_cases_are_right(half):
    _, placed = half
    assert placed.placed, placed.reasons
    assert (placed.judgement.vectors, placed.judgement.wrong, placed.judgement.complete) == (4, 0, True)
    assert set(placed.plan.triggers) == {"a", "b"}
    assert set(placed.plan.outputs) == {"s", "c"}


def test_parts_taken_away_are_seen_when_it_is_played(half):
    network, placed = half
    plan = placed.plan
    random = Random(5)
    gates = [cell for cell, part in plan.cells.items() if part.kind in ("torch", "repeater")]
    for cell in random.sample(gates, min(4, len(gates))):
        less = Plan({there: part for there, part in plan.cells.items() if there != cell}, size=plan.size)
        assert judge(less, network, plan.triggers, plan.outputs, BOTH[:1], {}).wrong


@pytest.fixture(scope="module")
def toggle():
    """A flip-flop that is fed its inverse."""
    return place_network(parse_blif(TOGGLE), seed=2, minutes=2)


def test_a_toggle_of_one_flip_flop_changes_at_each_rising_edge(toggle):
    assert toggle.placed, toggle.reasons
    assert toggle.judgement.complete
    assert toggle.least_period_steps is not None


def test_s27_has_the_published_states_and_edges():
    # ISCAS-89 netlist: from 000, 6 reachable states and 25 distinct edges; checks of the project, computed.
    network = netlist("s27.blif")
    stepper = Stepper(network)
    clock = network.inputs.index("CK")
    start = (0, 0, 0)
    edges = set()
    waiting, seen = [start], {start}
    for state in waiting:
        for inputs in range(16):
            levers = tuple(inputs >> place & 1 if place != clock else 0 for place in range(5))
            _, after = stepper.flipped((levers, state), clock)
            edges.add((state, after))
            if after not in seen:
                seen.add(after)
                waiting.append(after)
    assert len(seen) == 6
    assert len(edges) == 25


def test_a_pin_that_names_nothing_is_refused():
    with pytest.raises(UsageError, match='There is no input or output "x" to pin'):
        place_network(parse_blif(TOGGLE), pins={"x": "west"})


def test_too_small_a_room_gives_the_best_attempt_and_what_it_lacks():
    placed = place_network(parse_blif(TOGGLE), room=(4, 4, 1), seed=0, minutes=0.05)
    assert not placed.placed
    assert "layers; a room of 4x4x1 has 1." in placed.reasons[0]
    assert "cells of ground" in placed.reasons[1]
    assert "a room of 4x4x1 has 16." in placed.reasons[1]
    assert placed.plan.cells


def test_lines_are_ports_of_a_module_that_works_in_a_whole(tmp_path):
    placed = place_network(parse_blif(".model inv\n.inputs a\n.outputs y\n.names a y\n0 1\n"), lines=True, minutes=0.1)
    assert placed.placed, placed.reasons
    assert placed.plan.triggers == {}
    incoming, outgoing = placed.plan.ports["a"], placed.plan.ports["y"]
    assert (incoming.side, incoming.role, outgoing.side, outgoing.role) == ("west", "in", "east", "out")
    save(placed.plan, tmp_path / "inv.toml")
    (x, y, z), (u, v, w) = incoming.cell, outgoing.cell
    whole = f"""format = "tickwright plan 1"
legend = {{"#" = "block", l = "lever", L = "lamp"}}
[[layer]]
rows = "."
[[use]]
plan = "inv.toml"
at = [2, 2, 0]
name = "inv"
[triggers]
a = [{x + 1}, {y + 2}, {z}]
[outputs]
y = [{u + 3}, {v + 2}, {w}]
"""
    (tmp_path / "whole.toml").write_text(whole, encoding="utf-8")
    plan = load(tmp_path / "whole.toml", checked=False)
    extra = {(x + 1, y + 2, z): "lever", (x + 1, y + 2, z - 1): "block", (u + 3, v + 2, w): "lamp"}
    laid = lay(plan, {cell: parse_part(text) for cell, text in extra.items()})
    assert run(laid, ["60:a:on"], 120).trace.changes["y"][-1][1] == 0
    assert run(laid, [], 120).trace.changes["y"][-1][1] == 15


def test_nets_name_the_cells_of_their_signals(toggle):
    plan = toggle.plan
    kinds = {plan.cells[cell].kind for net in plan.nets.values() for cell in net}
    assert kinds <= {"wire", "repeater"}
    assert {"q"} <= set(plan.nets) <= {"ck", "n", "q"}  # a lever that is heard with no wire between has no cells
    wires = {cell for cell, part in plan.cells.items() if part.kind == "wire"}
    assert wires <= {cell for net in plan.nets.values() for cell in net}
    assert loads(dumps(plan)) == plan


def test_a_placed_plan_has_a_chart_of_what_it_does(half):
    _, placed = half
    (chart,) = placed.plan.charts
    assert chart.hand is not None
    assert [line.split(": ")[1] for line in chart.hand] == ["a:flip", "b:flip", "a:flip"]
    checked = check_charts(placed.plan)
    assert [one.passed for one in checked] == [True]


@pytest.mark.parametrize(("name", "states"), [("lfsr4", 15), ("johnson4", 8)])
def test_shift_registers_come_round_after_as_many_edges_as_published(name, states):
    # A register of n stages with maximal feedback has 2^n - 1 states, a twisted ring 2n (Golomb 1967, from memory).
    stepper = Stepper(netlist(f"{name}.blif"))
    state, seen = stepper.start(), []
    for _ in range(states):
        seen.append(state)
        state = stepper.flipped(stepper.flipped(state, 0), 0)
    assert state == seen[0]
    assert len(set(seen)) == states


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_the_example_of_a_shift_register_goes_through_all_its_states(rules):
    plan = load(FOLDER / "lfsr4.toml")
    hand = [f"{100 + 80 * flip}:clock" for flip in range(30)]
    changes = run(plan, hand, 100 + 80 * 30, rules).trace.changes
    seen = []
    for edge in range(15):
        step = 100 + 160 * edge - 1
        seen.append(tuple([v for when, v in changes[f"q{k}"] if when <= step][-1] > 0 for k in (1, 2, 3, 4)))
    q = (False,) * 4
    for shown in seen:
        assert shown == q
        q = (q[2] == q[3], *q[:3])
    assert len(set(seen)) == 15
    assert all(one.passed for one in check_charts(plan))


def test_the_example_of_an_adder_adds():
    plan = load(FOLDER / "adder4.toml")
    random, hand, sums = Random(4), [], [(99, 0)]
    a, b = 0, 0
    for number in range(40):
        who, place = random.choice("ab"), random.randrange(4)
        hand.append(f"{100 + 50 * number}:{who}{place}")
        a, b = (a ^ 1 << place, b) if who == "a" else (a, b ^ 1 << place)
        sums.append((149 + 50 * number, a + b))
    trace = run(plan, hand, 100 + 50 * 40).trace
    for step, total in sums:
        shown = [trace.value_at(name, step) > 0 for name in ("s0", "s1", "s2", "s3", "carry")]
        assert sum(1 << place for place, on in enumerate(shown) if on) == total
    assert all(one.passed for one in check_charts(plan))


def test_the_example_of_s27_is_the_published_machine():
    # ISCAS-89: its ten gates, written out from the published netlist; a walk of 120 flips.
    plan = load(FOLDER / "s27.toml")
    random, on, q = Random(27), dict.fromkeys(("G0", "G1", "G2", "G3", "CK"), False), (False, False, False)

    def settled(q5, q6, q7):
        g12 = not (on["G1"] or q7)
        g8 = not on["G0"] and q6
        g9 = not ((on["G3"] or g8) and (g12 or g8))
        g11 = not (q5 or g9)
        return not g11, (not (not on["G0"] or g11), g11, not (on["G2"] or g12))

    hand, wanted = [], [(99, settled(*q)[0])]
    for number in range(120):
        name = random.choice(("CK", "CK", *on))
        _, following = settled(*q)
        on[name] = not on[name]
        q = following if name == "CK" and on["CK"] else q
        hand.append(f"{100 + 50 * number}:{name}")
        wanted.append((149 + 50 * number, settled(*q)[0]))
    trace = run(plan, hand, 100 + 50 * 120).trace
    assert [trace.value_at("G17", step) > 0 for step, _ in wanted] == [value for _, value in wanted]
    assert len({value for _, value in wanted}) == 2
    assert all(one.passed for one in check_charts(plan))


def test_a_digit_on_seven_lamps():
    network = netlist("seven-segment.blif")
    lamps = ["abcdef", "bc", "abdeg", "abcdg", "bcfg", "acdfg", "acdefg", "abc", "abcdefg", "abcdfg", *[""] * 6]
    for digit, wanted in enumerate(lamps):
        values = network.values({f"d{k}": digit >> k & 1 for k in range(4)}, 1)
        assert "".join(lamp for lamp in "abcdefg" if values[lamp]) == wanted
