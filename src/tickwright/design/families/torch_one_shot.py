"""Torch-and-repeater one-shot: a torch that is lit while the press is on and has not come through the detour yet.

One torch turns the press over; a second is fixed to a block that is powered by the first, or by the press once it has
come through the detour. It is lit for the detour less two ticks, 2 ticks or more, of any longer press. No comparators;
it needs no level, only power.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch, detour, split_delay
from tickwright.plan import Plan

NAME = "torch one-shot"
LEAST_STEPS, MOST_STEPS = 4, 200
DETOUR_MORE_TICKS = 2  # for the repeater before the first torch, and that torch


def make(lit_steps: int, trigger: str, output: str) -> Plan:
    """A one-shot of two torches; the output hears the second."""
    sketch = Sketch()
    sketch.put(ENTRY, "wire")
    sketch.put((1, 0, 1), "repeater east")
    sketch.put((2, 0, 1), "block")
    sketch.put((3, 0, 1), "torch on=west")
    sketch.put((4, 0, 1), "wire")
    sketch.put((5, 0, 1), "block")
    sketch.put((6, 0, 1), "torch on=west")
    sketch.put((7, 0, 1), "lamp" if output == "lamp" else "wire")
    detour(sketch, ENTRY, 5, split_delay(lit_steps // 2 + DETOUR_MORE_TICKS))
    press = lay_former(sketch, PulseFormer("plain", None, 0), trigger, into_block=False)
    return sketch.plan("Torch one-shot", press, {named(output): (7, 0, 1)})


def recipes(goal: Goal) -> Iterator[Recipe]:
    """One-shots that meet the goal."""
    for output in goal.outputs:
        more = LAMP_STEPS * (output == "lamp")
        for steps in goal.pulses(more, LEAST_STEPS):
            fits = goal.trigger_steps is None or steps < goal.trigger_steps
            if steps % 2 == 0 and steps <= MOST_STEPS and fits:
                making = partial(make, steps, goal.trigger, output)
                yield Recipe(NAME, {"lit steps": steps}, output, steps + more, making)
