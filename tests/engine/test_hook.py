"""What a hook is told of a run: every change, who was notified of it, and by which change it came about."""

from __future__ import annotations

import pytest

from pictures import cells_of
from tickwright.engine.interface import ENGINES, Change, engine
from tickwright.engine.reference import Simulation
from tickwright.errors import UsageError
from tickwright.plan.hand import parse_script
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from tickwright.space import Cell
from worlds.generator import World, random_world

KEY = {"#": "block", "b": "short-button", "w": "wire", ">": "repeater east", "L": "lamp", "s": "change-sensor east"}


def changes_of(world: World, rules: str = "standard") -> list[Change]:
    seen: list[Change] = []
    sim = Simulation(Setup(world.plan, load_rules(rules)), hook=seen.append)
    sim.queue_stimuli(parse_script(world.plan, world.acts))
    sim.advance(world.steps)
    return seen


def test_a_press_goes_through_a_repeater_to_a_lamp():
    """By hand: pressed at 5, the repeater on at 7, the lamp at once; released at 25, off at 27, dark at 31."""
    plan = Plan(cells_of(("b>wL",), KEY, True))
    found = changes_of(World("", plan, ("5:0,0,1:press",), 60))
    button, repeater, wire, lamp = ((x, 0, 1) for x in range(4))
    rows = [(one.step, one.phase, one.actor, one.cause, one.notified) for one in found]
    assert rows == [
        (5, "hand", button, None, (repeater,)),
        (7, "due", repeater, 0, (lamp,)),
        (7, "due", lamp, 1, ()),
        (25, "due", button, 0, (repeater,)),
        (27, "due", repeater, 3, (lamp,)),
        (31, "due", lamp, 4, ()),
    ]
    assert found[1].levels == ((repeater, 0, 15), (wire, 0, 15))
    assert found[2].levels == ((lamp, 0, 15),)


def test_a_sensor_watches_the_lamp_that_lit_while_it_was_told():
    """The sensor's own change is due to the lamp's, not to the press; its end is due to its own beginning."""
    plan = Plan(cells_of(("bLs",), KEY, True))
    found = changes_of(World("", plan, ("5:0,0,1:press",), 20))
    assert [(one.step, one.actor, one.cause) for one in found] == [
        (5, (0, 0, 1), None),
        (5, (1, 0, 1), 0),
        (7, (2, 0, 1), 1),
        (9, (2, 0, 1), 2),
    ]


@pytest.mark.parametrize("seed", range(40))
def test_the_changes_are_the_run(seed):
    """In random worlds: changes come in order, add up to the levels at the end, and each follows from its cause."""
    world = random_world(seed)
    seen: list[Change] = []
    sim = Simulation(Setup(world.plan, load_rules()), hook=seen.append)
    levels = dict(sim.level)
    begun = len(seen)
    sim.queue_stimuli(parse_script(world.plan, world.acts))
    sim.advance(world.steps)
    moved: set[Cell] = set()  # what moves or breaks takes its level along
    for number, change in enumerate(seen):
        assert change.number == number
        moved |= set(change.stands)
        for cell, before, after in change.levels if number >= begun else ():
            assert cell in moved or levels.get(cell, 0) == before, (change, cell)
            levels[cell] = after
        if change.cause is not None:
            cause = seen[change.cause]
            assert (change.cause < number, cause.step <= change.step) == (True, True)
            near = {cause.actor, *cause.notified, *cause.counts, *cause.stands}
            near |= {(x, y, z + above) for x, y, z in near for above in (0, 1)} if change.phase == "items" else set()
            assert change.actor in near or change.phase == "items", (change, cause)
    for cell in (levels.keys() | sim.level.keys()) - moved:
        assert levels.get(cell, 0) == sim.level.get(cell, 0)


def test_there_are_no_other_engines():
    for name in ENGINES:
        assert callable(engine(name).trace_of)
    with pytest.raises(UsageError, match='There is no engine "quick": use reference or fast'):
        engine("quick")
