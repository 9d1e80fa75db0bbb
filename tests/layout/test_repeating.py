"""Netlists of slices that do the same: found as they are, and laid as one cell in a row."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.netlist.texts import netlist

from tickwright import run
from tickwright.layout.judging import judge
from tickwright.layout.repeating import lay_kept, lay_repeated
from tickwright.layout.slices import repetition
from tickwright.netlist import parse_blif
from tickwright.rules import load_rules

BOTH = (load_rules(), load_rules("older-wire"))
NORS = parse_blif(
    ".model nors\n.inputs a b c d e\n.outputs y\n.names a b p\n00 1\n.names p c q\n00 1\n.names q d r\n00 1\n"
    ".names r e y\n00 1\n"
)


def test_an_adder_is_slices_that_hand_on_their_carry():
    # A ripple-carry adder: each bit's full adder hands its carry to the next; common practice, no source.
    found = repetition(netlist("adder4.blif"))
    assert found is not None
    assert [(one.comes, one.leaves) for one in found.slices] == [
        (None, "c1"), ("c1", "c2"), ("c2", "c3"), ("c3", "carry"),
    ]  # fmt: skip
    assert [set(one.inputs) for one in found.slices] == [{f"a{k}", f"b{k}"} for k in range(4)]
    assert [one.outputs for one in found.slices] == [(f"s{k}",) for k in range(4)]
    for case in range(8):
        comes, a, b = (case >> place & 1 for place in range(3))
        values = found.cell.values({"comes": comes, "i0": a, "i1": b}, 1)
        assert values["o0"] + 2 * values["leaves"] == comes + a + b


@pytest.mark.parametrize("name", ["c17.blif", "s27.blif", "lfsr4.blif", "seven-segment.blif"])
def test_what_has_no_equal_slices_is_left(name):
    assert repetition(netlist(name)) is None


def test_slices_that_differ_are_left():
    text = ".model m\n.inputs a b c d e\n.outputs y\n.names a b p\n00 1\n.names p c q\n00 1\n.names q d r\n11 1\n"
    assert repetition(parse_blif(text + ".names r e y\n00 1\n")) is None


def test_a_row_of_nors_is_one_cell_again_and_again_and_right_in_all_cases():
    exact = lay_repeated(NORS, BOTH, seconds=1000, told=lambda _size, best: best is not None)
    assert exact is not None
    assert set(exact.levers) == set(NORS.inputs)
    assert judge(exact.plan, NORS, exact.levers, exact.lamps, BOTH, {}).wrong == 0
    torches = {cell for cell, part in exact.plan.cells.items() if part.kind == "torch"}
    pitches = {b[0] - a[0] for a in torches for b in torches if b[1:] == a[1:] and b[0] > a[0]}
    assert any(len({(x + pitch, y, z) for x, y, z in torches} & torches) == 3 for pitch in pitches)


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_an_adder_is_the_cell_on_the_shelf_again_and_again_and_adds_as_integers_do(rules):
    network = netlist("adder4.blif")
    exact = lay_kept(network, BOTH)
    assert exact is not None
    x, y, _ = exact.plan.size
    assert x * y <= 300
    plan = replace(exact.plan, triggers=exact.levers, outputs=exact.lamps)
    wait, hand, shown = 60, [], {}
    value = 0
    for number in range(1, 257):  # one lever at a time: a Gray code
        flipped = (number & -number).bit_length() - 1 if number < 256 else 7
        value ^= 1 << flipped
        hand.append(f"{number * wait}:{'ab'[flipped % 2]}{flipped // 2}")
        shown[(number + 1) * wait - 1] = value
    trace = run(plan, hand, 258 * wait, rules, engine="fast").trace
    for step, value in shown.items():
        one, other = (sum((value >> 2 * bit + place & 1) << bit for bit in range(4)) for place in (0, 1))
        lit = [trace.value_at(name, step) > 0 for name in ("s0", "s1", "s2", "s3", "carry")]
        assert sum(on << bit for bit, on in enumerate(lit)) == one + other
    assert sorted(set(shown.values())) == list(range(256))


def test_what_the_cell_on_the_shelf_does_not_do_is_left():
    assert lay_kept(NORS, BOTH) is None
    assert lay_kept(netlist("c17.blif"), BOTH) is None


TWO_LEVELS = (
    ".names {a} {b} {c} {s}\n100 1\n010 1\n001 1\n111 1\n.names {a} {b} {c} {d}\n11- 1\n1-1 1\n-11 1\n"  # a full adder
)


@pytest.mark.parametrize("bits", [1, 2])
def test_an_adder_of_one_bit_or_two_is_the_cell_on_the_shelf_too(bits):
    inputs = ["c0", *(f"{one}{bit}" for one in "ab" for bit in range(bits))]
    outputs = [*(f"s{bit}" for bit in range(bits)), f"c{bits}"]
    text = f".model adder\n.inputs {' '.join(inputs)}\n.outputs {' '.join(outputs)}\n"
    for bit in range(bits):
        text += TWO_LEVELS.format(a=f"a{bit}", b=f"b{bit}", c=f"c{bit}", s=f"s{bit}", d=f"c{bit + 1}")
    network = parse_blif(text)
    exact = lay_kept(network, BOTH)
    assert exact is not None
    assert exact.plan.size == (2 + 7 * bits, 9, 4)
    judged = judge(exact.plan, network, exact.levers, exact.lamps, BOTH[:1], {})
    assert (judged.vectors, judged.wrong, judged.complete) == (2 << 2 * bits, 0, True)


def test_no_cell_on_the_shelf_does_what_is_not_an_adder():
    swapped = TWO_LEVELS.replace("111 1", "011 1")
    text = ".model m\n.inputs a b c\n.outputs s d\n" + swapped.format(a="a", b="b", c="c", s="s", d="d")
    assert lay_kept(parse_blif(text), BOTH) is None
