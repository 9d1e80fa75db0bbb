"""Netlists of slices that do the same: found as they are, and laid as one cell in a row."""

from __future__ import annotations

import pytest
from tests.netlist.texts import netlist

from tickwright.layout.judging import judge
from tickwright.layout.repeating import lay_repeated
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
