"""The order to build in: every part once, nothing before what it stands on."""

from __future__ import annotations

from pathlib import Path

import pytest

from pictures import cells_of
from tickwright import load
from tickwright.kinds import support_cell
from tickwright.plan.build_order import build_order
from tickwright.plan.model import Plan

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_part_of_an_example_is_placed_once_and_after_its_support(path):
    plan = load(path)
    order = [cell for step in build_order(plan) for cell in step.cells]
    assert sorted(order) == sorted(plan.cells)
    place = {cell: i for i, cell in enumerate(order)}
    for cell, part in plan.cells.items():
        support = support_cell(part, cell)
        assert support is None or place[support] < place[cell], cell


def test_what_hangs_waits_for_what_it_hangs_from():
    # By hand: a button fixed to the ceiling, with a block over it, and a torch on that block's side.
    legend = {"#": "block", "b": "short-button on=up", "t": "torch on=west"}
    plan = Plan(cells_of(["#.", "b.", "#t"], legend))
    assert [(str(step.part), step.cells, step.hint) for step in build_order(plan)] == [
        ("block", ((0, 0, 0),), ""),
        ("block", ((0, 0, 2),), ""),
        ("short-button on=up", ((0, 0, 1),), "fixed to the cell above"),
        ("torch on=west", ((1, 0, 2),), "fixed to the cell in the west"),
    ]
