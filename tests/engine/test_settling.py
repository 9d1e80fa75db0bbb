"""Wires settle where something changed, and nowhere else; the levels are those of a search over all cells."""

from __future__ import annotations

import random

import pytest

from tickwright.engine.reference import Simulation
from tickwright.kinds import Part, parse_part
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.space import Cell


def meadow(rng: random.Random, side: int) -> tuple[dict[Cell, Part], list[Cell]]:
    """A floor full of wires, some of them raised by a cell, with levers here and there."""
    cells: dict[Cell, Part] = {}
    levers: list[Cell] = []
    for x in range(side):
        for y in range(side):
            height = rng.choice((0, 0, 0, 1))
            for z in range(height + 1):
                cells[x, y, z] = parse_part(rng.choice(("block", "block", "insulator")))
            on_top = rng.choices(("wire", "lever", "block", ""), (12, 1, 1, 2))[0]
            if on_top:
                cells[x, y, height + 1] = parse_part(on_top)
            if on_top == "lever":
                levers.append((x, y, height + 1))
    return cells, levers


def searched(plan: Plan, on: set[Cell]) -> dict[Cell, int]:
    """The level of every wire, by walking from each source: written from the rules, without the geometry.

    Sources are levers; a lever gives 15 beside it, and through the conducting cell it stands on to all beside that.
    """
    kinds = {cell: part.kind for cell, part in plan.cells.items()}

    def beside(cell: Cell) -> list[Cell]:
        x, y, z = cell
        return [(x + 1, y, z), (x - 1, y, z), (x, y + 1, z), (x, y - 1, z), (x, y, z + 1), (x, y, z - 1)]

    edge = set()
    for x, y, z in on:
        edge |= {cell for cell in beside((x, y, z)) if kinds.get(cell) == "wire"}
        if kinds.get((x, y, z - 1)) == "block":
            edge |= {cell for cell in beside((x, y, z - 1)) if kinds.get(cell) == "wire"}
    found: dict[Cell, int] = {}
    for level in range(15, 0, -1):
        edge = {cell for cell in edge if cell not in found}
        found |= dict.fromkeys(edge, level)
        following = set()
        for x, y, z in edge:
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                side, up, down = (x + dx, y + dy, z), (x + dx, y + dy, z + 1), (x + dx, y + dy, z - 1)
                following.add(side)
                if kinds.get((x, y, z + 1)) != "block":
                    following.add(up)
                if kinds.get((x, y, z - 1)) == "block" and kinds.get(side) != "block":
                    following.add(down)
        edge = {cell for cell in following if kinds.get(cell) == "wire"}
    return found


@pytest.mark.parametrize("seed", range(12))
def test_levels_are_those_of_a_search_after_every_change(seed):
    rng = random.Random(seed)
    cells, levers = meadow(rng, 18)
    sim = Simulation(Setup(Plan(cells), load_rules(rng.choice(("standard", "older-wire")))))
    sim.step(0)
    on: set[Cell] = set()
    for _ in range(12):
        lever = rng.choice(levers)
        sim.do(Stimulus(0, lever, "flip"))
        on ^= {lever}
        wires = {cell: level for cell, level in sim.level.items() if level and cells[cell].kind == "wire"}
        assert wires == searched(Plan(cells), on)


@pytest.mark.parametrize("seed", range(6))
def test_levels_are_those_of_a_search_after_cells_come_and_go(seed):
    rng = random.Random(seed)
    cells, levers = meadow(rng, 10)
    sim = Simulation(Setup(Plan(cells), load_rules()))
    sim.step(0)
    for lever in levers:
        sim.do(Stimulus(0, lever, "on"))
    for _ in range(30):
        cell = (rng.randrange(10), rng.randrange(10), rng.choice((1, 1, 2)))
        part = rng.choice(("block", "wire", "insulator", None))
        sim.do(Stimulus(0, cell, "place", part=parse_part(part)) if part else Stimulus(0, cell, "clear"))
        now = {there: stand.part for there, stand in sim.stands.items()}
        on = {there for there, here in now.items() if here.kind == "lever" and sim.level.get(there, 0)}
        wires = {there: level for there, level in sim.level.items() if level and now[there].kind == "wire"}
        assert wires == searched(Plan(now), on)


def test_a_change_touches_no_wire_out_of_its_reach():
    """However many wires are joined, a lever's flip looks at those within 14 cells, and no others."""
    looked: list[int] = []
    for length in (100, 1000):
        cells = {(x, 0, z): parse_part("wire" if z else "block") for x in range(length) for z in (0, 1)}
        cells |= {(50, 1, 0): parse_part("block"), (50, 1, 1): parse_part("lever")}
        sim = Simulation(Setup(Plan(cells), load_rules()))
        looked.append(len(sim._in_reach([(50, 0, 1)])))
        sim.do(Stimulus(0, (50, 1, 1), "flip"))
        assert [sim.level.get((x, 0, 1), 0) for x in (50, 51, 36, 64, 65)] == [15, 14, 1, 1, 0]
    assert looked == [29, 29]
