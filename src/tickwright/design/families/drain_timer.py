"""Drain timer: a lever lets a hopper go, and the output is on until it is empty; each item adds 4 ticks.

The lever's wire lies at the flank of the comparator that reads the hopper, so that nothing shows while it is on. To use
the timer again, throw the lever back and carry the items back. Throwing the lever is an act of the hand, which comes
last in its step, so that the hold is an odd number of steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan

NAME = "drain timer"
MOST_ITEMS = 290  # more would show 14 or more, which is what the wire has at the flank
ITEM_STEPS = 8


def hold_steps(items: int, output: str) -> int:
    """The naive model: the items but one, and a step for the hand."""
    return ITEM_STEPS * (items - 1) + 1 + LAMP_STEPS * (output == "lamp")


def make(items: int, output: str) -> Plan:
    """A drain timer with a lever that is thrown on."""
    sketch = Sketch()
    sketch.put((0, 0, 1), "lever thrown=yes")
    sketch.put((1, 0, 1), "wire")
    sketch.put((-1, 1, 1), "hopper into=west")
    sketch.put((0, 1, 1), f"hopper into=west items={items}")
    sketch.put((1, 1, 1), "comparator east")
    end = 2
    if output == "full":
        sketch.put((end, 1, 1), "repeater east")
        end += 1
    sketch.put((end, 1, 1), "lamp" if output == "lamp" else "wire")
    return sketch.plan(f"Drain timer of {items} items", (0, 0, 1), {named(output): (end, 1, 1)}, floor="insulator")


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Drain timers of as many items as the goal takes, for a lever."""
    if goal.trigger != "lever" or goal.trigger_steps is not None:
        return
    for output in goal.outputs:
        items = round((goal.hold_steps - hold_steps(0, output)) / ITEM_STEPS)
        hold = hold_steps(items, output)
        if 2 <= items <= MOST_ITEMS and goal.meets(hold):
            yield Recipe(NAME, {"items": items}, output, hold, partial(make, items, output))
