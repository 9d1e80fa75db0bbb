"""Each tile alone in a plan, on the reference engine, under both rule sets and three orders, beside figures by hand."""

from __future__ import annotations

import itertools

import pytest

from tickwright.design.compose.tiles import chain, front, memory, set_delays
from tickwright.engine import run
from tickwright.kinds import Part
from tickwright.layout.hearing import alone
from tickwright.plan.model import Plan
from tickwright.rules import load_rules

SHIFT = 12
WAYS = [(rules, order) for rules in ("standard", "older-wire") for order in ("canonical", "reversed", "3")]


def at(cell):
    return (cell[0] + SHIFT, cell[1] + SHIFT, cell[2])


def plan_of(made, **parts):
    """The tile, with further parts of layer 1 as x_y = text, m for minus, and buttons to press on its inputs."""
    cells = {at(cell): part for cell, part in made.tile.plan.cells.items()}
    for port in made.tile.ports.values():
        x, y, z = at(port.access[0])
        cells[x, y, z] = Part("wire")
        cells.setdefault((x, y, 0), Part("block"))
    return Plan(cells)


def spans(made, watch, acts, rules, order, steps=400):
    """When the watched cells are on, as [first, first after], counted from step 20."""
    texts = []
    plan = plan_of(made)
    cells = dict(plan.cells)
    for step, cell in acts:
        x, y, z = at(cell)
        if (x, y, z) not in cells or cells[x, y, z].kind == "wire":
            beyond = (x - 1, y, z) if made.tile.ports["in"].access[0] == cell else (x, y - 1, z)
            cells[beyond] = Part("short-button", "down")
            cells.setdefault((beyond[0], beyond[1], 0), Part("block"))
            x, y, z = beyond
        texts.append(f"{step}:{x},{y},{z}:press")
    watched = {name: at(cell) for name, cell in watch.items()}
    changes = run(Plan(cells), texts, steps, rules, order, "reference", watched).trace.changes
    found = {}
    for name, values in changes.items():
        edges = [
            step - 20 for (step, value), (_, old) in zip(values[1:], values, strict=False) if bool(value) != bool(old)
        ]
        found[name] = edges
    return found


@pytest.mark.parametrize(("rules", "order"), WAYS)
def test_a_front_gives_its_early_output_at_6_and_its_start_pulse_at_10(rules, order):
    made = front("f", "short-button", True, 1)
    watch = {"start": made.tile.ports["start"].access[0], "out": made.tile.ports["out"].access[0]}
    assert spans(made, watch, [(20, made.named["trigger"])], rules, order) == {"start": [10, 14], "out": [6]}


@pytest.mark.parametrize(("rules", "order"), WAYS)
def test_a_front_takes_a_second_press_a_tick_after_the_release(rules, order):
    made = front("f", "short-button", False, 0)
    acts = [(20, made.named["trigger"]), (42, made.named["trigger"])]
    watch = {"start": made.tile.ports["start"].access[0]}
    assert spans(made, watch, acts, rules, order) == {"start": [10, 14, 32, 36]}


@pytest.mark.parametrize("repeaters", [1, 2, 3, 5, 6, 12, 13, 37, 61])
@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_every_repeater_of_a_chain_hears_the_one_before_it_only(repeaters, rules):
    made = chain("c", repeaters)
    heard = alone(made.tile, load_rules(rules))
    cells = made.columns["in"]
    assert heard.ears[cells[0]].power == {("port", "in")}
    for before, cell in itertools.pairwise(cells):
        assert heard.ears[cell].power == {("cell", before)}
    assert heard.drives["out"] == {("cell", cells[-1])}


def test_a_memory_lights_its_lamp_2_steps_after_its_column_and_rests_dark_at_the_start():
    made = memory("m", [1], [1], "lamp")
    set_port = made.tile.ports["set0"].access[0]
    x, y, z = at(set_port)
    plan = plan_of(made)
    cells = dict(plan.cells)
    cells[x, y - 1, z] = Part("short-button", "down")
    cells[x, y - 1, 0] = Part("block")
    watch = {"lamp": at(made.named["out"])}
    changes = run(Plan(cells), [f"20:{x},{y - 1},{z}"], 200, "standard", "canonical", "reference", watch).trace.changes
    assert changes["lamp"] == ((0, 0), (24, 15))


def test_ticks_of_a_column_add_up_or_there_are_none():
    for repeaters in (1, 2, 3):
        for steps in range(30):
            ticks = set_delays(steps, repeaters)
            possible = steps % 2 == 0 and 2 * repeaters <= steps <= 8 * repeaters
            assert (ticks is not None) == possible
            if ticks:
                assert sum(ticks) * 2 == steps
                assert len(ticks) == repeaters
                assert all(1 <= one <= 4 for one in ticks)
