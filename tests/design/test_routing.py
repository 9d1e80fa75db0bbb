"""Routing through a room: what is laid lies where it may, and holds as long as the plan alone, run again here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import load, loads, measure
from tickwright.design import Room, Wish, choose, in_room, route
from tickwright.plan import dumps
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RULES = load_rules()


def example(name, output):
    plan = load(EXAMPLES / f"{name}.toml")
    return replace(plan, outputs={output: plan.outputs[output]}, expectations=())


@pytest.mark.parametrize(
    ("name", "output", "size", "enter", "leave"),
    [
        ("flat-loop-4", "lamp", (12, 9, 4), "west", "east"),
        ("flat-loop-4", "entry", (12, 9, 4), "west", "east"),
        ("stacked-loop-3", "lamp", (9, 5, 4), "west", "east"),
        ("stacked-loop-3", "lamp", (9, 6, 5), "south", "north"),
    ],
)
def test_a_plan_is_joined_to_two_sides_of_a_room(name, output, size, enter, leave):
    plan = example(name, output)
    room = Room(size, frozenset({(0, 0, 0), (3, 3, 1)}), enter, leave)
    found = route(plan, room, RULES)
    assert found.plan is not None, found.reason
    again = loads(dumps(replace(found.plan, source=None)))
    (alone,), (result,) = measure(plan), measure(again)
    assert (result.hold_steps, result.kind) == (alone.hold_steps, "one-shot")
    assert not room.blocked & set(again.cells)
    assert all(room.holds(cell) for cell in again.cells)
    assert room.at(enter, again.triggers["press"])
    assert room.at(leave, again.outputs[output])
    kept = [part.kind for part in plan.cells.values() if part.kind == "comparator"]
    assert [part.kind for part in again.cells.values()].count("comparator") == len(kept)


def test_a_long_wire_is_renewed():
    # 15 levels do not reach through 26 cells and more: a repeater must stand in the wire, where it runs straight.
    plan = example("flat-loop-2", "entry")
    before = sum(part.kind == "repeater" for part in plan.cells.values())
    found = route(plan, Room((32, 5, 3), frozenset(), "west", "east"), RULES)
    assert found.plan is not None, found.reason
    assert sum(part.kind == "repeater" for part in found.plan.cells.values()) > before + 1
    assert measure(found.plan)[0].hold_steps == measure(plan)[0].hold_steps


def test_exact_cells_are_met():
    plan = example("flat-loop-2", "entry")
    found = route(plan, Room((11, 6, 3), frozenset(), (0, 5, 1), (10, 0, 1)), RULES)
    assert found.plan is not None, found.reason
    assert (found.plan.triggers["press"], found.plan.outputs["entry"]) == ((0, 5, 1), (10, 0, 1))


def test_no_way_is_said_as_such():
    plan = example("flat-loop-2", "entry")
    small = route(plan, Room((3, 3, 3), frozenset(), "west", "east"), RULES)
    assert small.plan is None
    assert "does not fit in the room of 3 x 3 x 3" in small.reason
    wall = frozenset((8, y, z) for y in range(4) for z in range(3))
    walled = route(plan, Room((11, 4, 3), wall, "west", "east"), RULES)
    assert walled.plan is None
    assert walled.fits > 0
    assert "could wires be laid" in walled.reason


def test_the_lowest_of_the_shortest_ways_is_taken():
    # On level ground nothing need climb: no wire is laid above the plan's own.
    plan = example("flat-loop-4", "entry")
    found = route(plan, Room((9, 5, 3), frozenset(), "west", "east"), RULES)
    assert found.shortest
    assert max(cell[2] for cell in found.plan.cells) == 1 + found.fit.offset[2]


def test_a_wish_whose_ends_lie_elsewhere_is_met_with_wires():
    room = Room((9, 5, 4), frozenset({(4, 2, 0), (4, 2, 1)}), "west", "east")
    (design,) = choose(Wish(hold_steps=240, room=room)).designs
    lying = in_room(design.plan, room, design.fit)
    assert design.settings["cells laid for wires"] > 0
    assert not room.blocked & set(lying.cells)
    assert room.at("west", next(iter(lying.triggers.values())))
    assert room.at("east", next(iter(lying.outputs.values())))
    assert measure(lying)[0].hold_steps == 240
