"""The list to build by: replayed part by part into an empty world it gives the plan, and a press the promised hold."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from tickwright import load
from tickwright.engine.reference import Simulation
from tickwright.kinds import parse_part, support_cell
from tickwright.material import gather_material
from tickwright.measurement import find_trigger
from tickwright.measurement.press import press_stimuli
from tickwright.plan import Plan
from tickwright.plan.build_order import build_groups, fillings
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.publish import sheet_data
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SETTLES = 600  # steps from the last part laid to the press: time for all that goes off while it is built


@cache
def example(name: str) -> Plan:
    return load(EXAMPLES / f"{name}.toml")


def listed(plan: Plan) -> list[tuple[str, tuple[int, int, int]]]:
    """The parts of the list in its order, each with its cell, as texts."""
    return [(str(group.part), cell) for group in build_groups(plan) for cell in group.cells]


@pytest.mark.parametrize("name", sorted(path.stem for path in EXAMPLES.glob("*.toml")))
def test_each_part_is_listed_once_after_what_it_stands_on(name):
    plan = example(name)
    laid: set[tuple[int, int, int]] = set()
    for text, cell in listed(plan):
        support = support_cell(parse_part(text), cell)
        assert support is None or support in laid, f"{text} at {cell}"
        assert cell not in laid
        laid.add(cell)
    filled = dict(fillings(plan))
    assert {cell: filled.get(cell, parse_part(text)) for text, cell in listed(plan)} == dict(plan.cells)


HOLDING = [
    (path.stem, number)
    for path in sorted(EXAMPLES.glob("*.toml"))
    for number, wish in enumerate(load(path).expectations)
    if wish.hold_steps is not None and wish.hold_steps < 20_000
]


@pytest.mark.parametrize(("name", "number"), HOLDING)
def test_what_was_built_by_the_list_holds_what_is_promised(name, number):
    plan = example(name)
    wish = plan.expectations[number]
    rules = load_rules(plan.rules, EXAMPLES)
    shown: list[tuple[int, int]] = []
    watch = {wish.output: plan.outputs[wish.output]}
    empty = Plan({}, size=plan.size)
    sim = Simulation(Setup(empty, rules), watch, lambda step, now: shown.append((step, now[0])))
    parts = listed(plan)
    acts = [Stimulus(2 * at, cell, "place", 1, parse_part(text)) for at, (text, cell) in enumerate(parts)]
    acts += [Stimulus(2 * len(parts), cell, "put", part.items) for cell, part in fillings(plan)]
    pressed = 2 * len(parts) + SETTLES
    acts += press_stimuli(find_trigger(Setup(plan, rules), wish.trigger), pressed)
    sim.queue_stimuli(acts)
    sim.advance(pressed + wish.hold_steps + 200)
    after = [(step, value) for step, value in shown if step >= pressed]
    begun = next(step for step, value in after if value)
    last = max(step for step, value in after if value)
    ended = next(step for step, value in after if step > last and not value)
    assert abs(ended - begun - wish.hold_steps) <= wish.within_steps


def test_the_sheet_prints_the_list_as_it_is():
    plan = example("edge-detector")
    data = sheet_data(gather_material(plan))
    printed = [(row["part"], tuple(cell)) for layer in data["groups"] for row in layer["rows"] for cell in row["cells"]]
    assert printed == listed(plan)
    for layer in data["groups"]:
        for row in layer["rows"]:
            assert all(str(x) in row["at"] or " to " in row["at"] for x, _, _ in row["cells"])
