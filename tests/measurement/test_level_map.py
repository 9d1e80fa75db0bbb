"""Trigger levels: what a weaker trigger does, in circuits whose answer can be said beforehand."""

from __future__ import annotations

import pytest

from tickwright.measurement import find_trigger, level_map
from tickwright.plan import loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

HEAD = """format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"w" = "wire"
"L" = "lamp"
"c" = "comparator east"
"p" = "power-block"
"r" = "repeater east"
[triggers]
press = [0, 1, 1]
[outputs]
lamp = [6, 1, 1]
[[layer]]
rows = '''
#######
#######
'''
[[layer]]
rows = '''
"""


def rows_of(rows: str, longest: int = 8):
    plan, rules = loads(HEAD + rows + "'''"), load_rules()
    setup = Setup(plan, rules)
    return level_map(setup, find_trigger(setup, "press"), ["lamp"], longest)["lamp"]


def test_a_wire_of_five_cells_carries_only_the_levels_from_five():
    # The first cell of wire has the trigger's level, the fifth four less; the lamp goes dark four steps after it.
    rows = rows_of("\nbwwwwwL\n")
    assert [(row.level, row.length_steps) for row in rows] == [(n, t) for n in range(1, 16) for t in (2, 4, 6, 8)]
    for row in rows:
        expected = ("one-shot", 0, row.length_steps + 4) if row.level >= 5 else ("none", None, None)
        assert (row.kind, row.delay_steps, row.hold_steps) == expected


@pytest.mark.parametrize(("first", "cells"), [("r", "brwwwwL"), ("c", "bcwwwwL")])
def test_a_repeater_makes_any_level_full_and_a_comparator_keeps_it(first, cells):
    # Behind either stand four cells of wire, so three levels are lost before the lamp.
    lit = {row.level for row in rows_of(f"\n{cells}\n") if row.kind == "one-shot"}
    assert lit == set(range(1 if first == "r" else 4, 16))


def test_at_most_sixteen_lengths_are_tried_the_longest_among_them():
    lengths = {row.length_steps for row in rows_of("\nbwwwwwL\n", longest=200)}
    assert len(lengths) == 16
    assert max(lengths) == 200
