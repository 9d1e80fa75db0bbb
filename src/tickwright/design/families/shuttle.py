"""Shuttle: a power-block that is pushed beside the output, and pushed home again once its power has come round.

A change-sensor watches the trigger and gives a tick, too short for the pull-piston to take back what it pushed. From
where it then is, the power-block feeds the output and a row of repeaters, at whose end a piston pushes it home. Each
throw of a lever, either way, is one stroke; a throw during the stroke pulls the power-block home at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch, split_delay
from tickwright.plan import Plan

NAME = "shuttle"
LEAST_TICKS, MOST_TICKS = 5, 40


def hold_steps(delay_ticks: int, output: str) -> int:
    """The naive model: the repeaters; what moves takes no power along."""
    return 2 * delay_ticks + LAMP_STEPS * (output == "lamp")


def make(delay_ticks: int, output: str) -> Plan:
    """A shuttle with as many repeaters as the delay takes."""
    delays = split_delay(delay_ticks)
    last = 5 + len(delays)
    sketch = Sketch()
    sketch.put((0, 0, 1), "lever")
    sketch.put((1, 0, 1), "change-sensor east")
    sketch.put((2, 0, 1), "pull-piston east")
    sketch.put((3, 0, 1), "power-block")
    sketch.put((5, 0, 1), "piston west")
    sketch.fill(((x, 0, 1) for x in range(6, last + 1)), "wire")
    sketch.put((4, 1, 1), "wire")
    for number, delay in enumerate(delays):
        sketch.put((5 + number, 1, 1), f"repeater east delay={delay}")
    sketch.put((last, 1, 1), "wire")
    sketch.put((4, -1, 1), "lamp" if output == "lamp" else "wire")
    return sketch.plan(f"Shuttle of {delay_ticks} ticks", (0, 0, 1), {named(output): (4, -1, 1)})


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Shuttles that meet the goal, for a lever."""
    if goal.trigger != "lever" or goal.trigger_steps is not None:
        return
    for output in goal.outputs:
        ticks = round((goal.hold_steps - hold_steps(0, output)) / 2)
        hold = hold_steps(ticks, output)
        if LEAST_TICKS <= ticks <= MOST_TICKS and goal.meets(hold):
            yield Recipe(NAME, {"delay ticks": ticks}, output, hold, partial(make, ticks, output))
