"""Parts taken away or turned: whether acceptance sees it, and what proves that a change alters nothing."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from tests.missing_parts import STAGES, changed, drawn, outcome, tiles_case, works_alike

from tickwright.kinds import parse_part
from tickwright.netlist import parse_blif

INVERTER = parse_blif(".model inv\n.inputs a\n.outputs y\n.names a y\n0 1\n")


@pytest.fixture(scope="module")
def inverter():
    return tiles_case("inverter", INVERTER)


def test_every_part_of_an_inverter_is_missed_where_it_is_gone(inverter):
    seen = [outcome(inverter, cell, None) for cell in inverter.plan.cells]
    assert set(seen) <= set(STAGES)
    assert "hears" in seen


def test_what_is_turned_is_another_way_that_its_kind_may_face(inverter):
    for number in range(40):
        cell, part = drawn(inverter.plan, Random(number))
        own = inverter.plan.cells[cell]
        assert part is None or (part.facing != own.facing and part.facing in own.row.directions)


def test_a_block_that_touches_nothing_alters_nothing_and_a_torch_that_is_gone_does(inverter):
    plan = inverter.plan
    x, y, z = plan.size
    more = replace(plan, cells={**plan.cells, (x + 5, y + 5, z): parse_part("block")}, size=(0, 0, 0))
    assert works_alike(plan, more)
    torch = next(cell for cell, part in plan.cells.items() if part.kind == "torch")
    assert not works_alike(plan, changed(plan, torch, None))
