"""Circuits: what each port hears, who is told, and the levels of wires, against hand and reference engine."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tickwright.engine.circuit import KIND, LOST, Circuit, Roster, build, circuit_of
from tickwright.engine.reference import Simulation
from tickwright.plan import load
from tickwright.plan.hand import USUAL, Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.space import Cell
from watching import world

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
RULES = load_rules()


def floor(width: int, depth: int = 1) -> dict[Cell, str]:
    return {(x, y, 0): "block" for x in range(width) for y in range(depth)}


def circuit(parts: dict[Cell, str], order: str = "canonical") -> Circuit:
    return circuit_of(Setup(world(parts), RULES, order))


def hears(made: Circuit, cell: Cell) -> list[tuple[Cell, int]]:
    return sorted((made.cells[source], loss) for source, loss in made.power.of(made.index[cell]))


def notified(made: Circuit, cell: Cell) -> list[Cell]:
    return [made.cells[actor] for actor in made.notified.of(made.index[cell])]


def test_a_wire_costs_one_level_a_cell_and_the_shorter_way_counts():
    """Lever at x=0, wires 1..4, lamp at 5: the last wire is the fourth, so three levels are lost."""
    made = circuit(floor(6) | {(0, 0, 1): "lever", (5, 0, 1): "lamp"} | {(x, 0, 1): "wire" for x in range(1, 5)})
    assert made.cells == ((0, 0, 1), (5, 0, 1))
    assert hears(made, (5, 0, 1)) == [((0, 0, 1), 3)]
    assert notified(made, (0, 0, 1)) == [(5, 0, 1)]


def test_what_a_wire_of_sixteen_cells_loses_is_not_heard_at_all():
    made = circuit(floor(18) | {(0, 0, 1): "lever", (17, 0, 1): "lamp"} | {(x, 0, 1): "wire" for x in range(1, 17)})
    assert hears(made, (17, 0, 1)) == []
    assert notified(made, (0, 0, 1)) == []


def test_what_a_power_block_always_reaches_is_left_out():
    """The lamp under the wire hears 15 from the lever and, past the wire, from the power-block; only that is kept."""
    parts = floor(3) | {(1, 0, 0): "lamp", (0, 0, 1): "lever", (1, 0, 1): "wire"}
    assert hears(circuit(parts), (1, 0, 0)) == [((0, 0, 1), 0)]
    assert hears(circuit(parts | {(2, 0, 1): "power-block"}), (1, 0, 0)) == [((2, 0, 1), 0)]


def test_ports_of_a_comparator_and_a_locked_repeater():
    """Comparator east at x=1, a lever behind it. Repeater east at x=3, locked by one facing north."""
    parts = floor(5, 2) | {(0, 0, 1): "lever", (1, 0, 1): "comparator east mode=difference", (2, 0, 1): "wire"}
    parts |= {(3, 0, 1): "repeater east delay=3", (3, 1, 1): "repeater north", (4, 0, 1): "lamp"}
    made = circuit(parts)
    comparator, repeater, lock = (made.index[cell] for cell in ((1, 0, 1), (3, 0, 1), (3, 1, 1)))
    assert made.difference[comparator]
    assert made.kind[repeater] == KIND["repeater"]
    assert made.delay[repeater] == 6
    assert made.power.of(repeater) == [(comparator, 0)]
    assert made.flank.of(repeater) == [(lock, 0)]
    assert notified(made, (3, 1, 1)) == [(3, 0, 1)]
    # nothing ahead of either: a comparator 0, a repeater -1 when off and -2 when on; the lock has a repeater ahead
    assert [list(made.priority[actor]) for actor in (comparator, repeater, lock)] == [[0, 0], [-1, -2], [-3, -3]]


def test_telling_order_is_that_of_the_cells_or_turned_round():
    parts = floor(3, 3) | {(1, 1, 1): "lever", (0, 1, 1): "lamp", (1, 0, 1): "lamp", (2, 1, 1): "lamp"}
    assert notified(circuit(parts), (1, 1, 1)) == [(1, 0, 1), (0, 1, 1), (2, 1, 1)]
    assert notified(circuit(parts, "reversed"), (1, 1, 1)) == [(2, 1, 1), (0, 1, 1), (1, 0, 1)]


def test_a_watched_wire_is_an_actor_that_lives_on_its_sources():
    parts = floor(4) | {(0, 0, 1): "lever", (1, 0, 1): "wire", (2, 0, 1): "wire", (3, 0, 1): "change-sensor east"}
    made = circuit(parts)
    assert made.live.of(made.index[0, 0, 1]) == [made.index[2, 0, 1]]
    assert hears(made, (2, 0, 1)) == [((0, 0, 1), 1)]
    assert notified(made, (2, 0, 1)) == [(3, 0, 1)]


def test_where_items_go():
    """Ejector over a floor: the item rests in front of it; without a floor it is lost; a hopper knows both its ends."""
    parts: dict[Cell, str] = {(0, 0, 0): "block", (1, 0, 0): "block", (0, 0, 1): "ejector east items=1"}
    made = circuit(parts)
    assert made.cells[made.fall[made.index[0, 0, 1]]] == (1, 0, 1)
    made = circuit({(0, 0, 0): "block", (0, 0, 1): "ejector east items=1"})
    assert made.fall[made.index[0, 0, 1]] == LOST
    made = circuit({(0, 0, 0): "crate", (0, 0, 1): "hopper items=3", (0, 0, 2): "crate items=9"})
    hopper = made.index[0, 0, 1]
    assert [made.cells[made.goal[hopper]], made.cells[made.above[hopper]]] == [(0, 0, 0), (0, 0, 2)]
    assert list(made.stock) == [0, 3, 9]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_levels_of_all_cells_come_back_from_those_of_the_actors(path, rules):
    """Press every trigger; after each step the Circuit must show for each cell what the reference engine's cells show.

    The reference settles wires by a search over cells, the Circuit by one maximum over sources.
    """
    plan = load(path)
    sim = Simulation(Setup(plan, load_rules(rules)))
    roster = Roster(sorted(plan.cells))
    circuits: dict[object, Circuit] = {}
    for cell in plan.triggers.values():
        sim.queue_stimuli([Stimulus(5, cell, USUAL)])
    for step in range(60):
        sim.advance(step + 1)
        made = circuits.setdefault(sim.configuration(), build(sim.geometry, roster))
        level, count = np.zeros((2, len(roster.cells)), np.int32)
        for cell, value in sim.level.items():
            if sim.geometry.kind(cell) != "wire":
                level[roster.index[cell]] = value
        for cell, value in sim.count.items():
            count[roster.index[cell]] = value
        assert {cell: made.shown(cell, level, count) for cell in sim.stands} == {c: sim.value(c) for c in sim.stands}
