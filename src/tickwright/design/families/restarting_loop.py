"""Restarting loop: a flat loop of comparators that a press first clears, and then starts anew, whenever it comes.

The press lies at the flank of the comparator before the output for as long as it lasts, so that nothing passes there; a
turn must be no longer than that, up to ten comparators behind a short button. Meanwhile it comes through repeaters to
the loop's entry, and reaches that comparator just when its flank is free. A second press while the output is on puts it
out within half a second, and then everything is as after the first. (Two steps before the output comes on, and less, a
second press still lets it come on for a moment.)
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import flat_loop, loops
from tickwright.design.pulse_formers import ENTRY
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch, ring, split_delay, walk
from tickwright.kinds import BUTTONS
from tickwright.plan import Plan

NAME = "restarting loop"
OUTPUTS = ("lamp", "line")


def wait_ticks(comparators: int, trigger_steps: int) -> int:
    """How long the press waits before it enters: its front meets the comparator before the output when that is free.

    >>> wait_ticks(2, 20), wait_ticks(10, 20)
    (11, 7)
    """
    return trigger_steps // 2 + 2 - comparators // 2


def make(comparators: int, trigger_steps: int, trigger: str, output: str) -> Plan:
    """A flat loop of an even number of comparators that its button clears first."""
    across = comparators // 2
    sketch = Sketch()
    there = ["comparator"] * (across - 1) + ["comparator mode=difference"]
    parts = ["wire", *there, "wire", "wire", *["comparator"] * across, "wire"]
    ring(sketch, list(walk(ENTRY, [("east", across + 1), ("north", 1), ("west", across + 1)])), parts)
    x, y, z = ENTRY
    delays = split_delay(wait_ticks(comparators, trigger_steps))
    for number, delay in enumerate(reversed(delays), 1):
        sketch.put((x - number, y, z), f"repeater east delay={delay}")
    west = x - len(delays) - 1
    sketch.put((west, y, z), "block")
    sketch.put((west - 1, y, z), f"{trigger} on=east")
    sketch.put((west, y + 1, z), "wire")
    sketch.fill(((column, y + 2, z) for column in range(west, x + across + 1)), "wire")
    sketch.put((x + across, y + 1, z), "repeater north")
    end = (x + across + 1, y, z)
    if output == "lamp":
        end = (x + across + 1, y, z - 1)
        sketch.put(end, "lamp")
    outputs = {"lamp" if output == "lamp" else "line": end}
    return sketch.plan(f"Restarting loop of {comparators}", (west - 1, y, z), outputs)


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size that meet the goal, for a button."""
    steps = goal.trigger_steps
    if goal.answer != "restarts" or goal.trigger not in BUTTONS or steps is None:
        return
    for output in goal.only(OUTPUTS).outputs:
        for comparators in range(2, steps // 2 + 1, 2):
            hold = loops.hold_steps(comparators, flat_loop.LOST_A_TURN, steps, output)
            if goal.meets(hold):
                making = partial(make, comparators, steps, goal.trigger, output)
                yield Recipe(NAME, {"comparators": comparators}, output, hold, making)
