"""The single mistakes of a small plan, counted by hand from the rows of the parts in it."""

from __future__ import annotations

import pytest

from tickwright.diagnosis.mistakes import single_mistakes
from tickwright.kinds import PARTS, parse_part
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

ALIKE = {
    "short-button": {"long-button"}, "long-button": {"short-button"}, "piston north": {"pull-piston"},
    "pull-piston north": {"piston"}, "item-plate": {"tread-plate"}, "tread-plate": {"item-plate"},
    "block": {"insulator"}, "insulator": {"block"}, "lamp": set(), "crate": set(), "counting-plate": set(),
}  # fmt: skip


@pytest.mark.parametrize("text", ALIKE)
def test_what_is_taken_for_what(text):
    plan = Plan({(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part(text)})
    found = single_mistakes(Setup(plan, load_rules()))
    others = {dict(one.changes)[0, 0, 1].kind for one in found if one.kind == "wrong-part" and one.cell == (0, 0, 1)}
    assert others == ALIKE[text]


def test_what_a_kind_is_confused_with_is_confused_with_it():
    for kind in PARTS.values():
        assert all(kind.name in PARTS[other].confused_with for other in kind.confused_with)
        assert kind.name not in kind.confused_with


def test_no_mistake_is_the_plan_itself():
    """A crate of 64 items: one less or more, a stack less or more, twice, half, none: 63, 65, 0, 128, 128, 32, 0."""
    crate, plate, repeater = (0, 0, 1), (2, 0, 1), (4, 0, 1)
    floor = {(x, 0, 0): parse_part("block") for x in (0, 2, 4)}
    texts = {crate: "crate items=64", plate: "counting-plate", repeater: "repeater east delay=2"}
    plan = Plan({**floor, **{cell: parse_part(text) for cell, text in texts.items()}})
    changed = [change for one in single_mistakes(Setup(plan, load_rules())) for change in one.changes]
    assert all(plan.cells.get(cell) != part for cell, part in changed)
    items = {part.items for cell, part in changed if cell == crate and part is not None and part.kind == "crate"}
    assert items == {63, 65, 0, 128, 32}
    empty = Plan({**floor, crate: parse_part("crate")})
    counts = [part.items for one in single_mistakes(Setup(empty, load_rules())) for cell, part in one.changes
              if cell == crate and part is not None and part.kind == "crate"]  # fmt: skip
    assert sorted(counts) == [1, 64]  # none is right
    delays = {part.delay for cell, part in changed if cell == repeater and part is not None}
    assert delays == {1, 2, 3, 4}  # 2 where it faces another way
