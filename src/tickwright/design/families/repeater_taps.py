"""Repeater taps: the press joined with a later copy of itself, which has come through a detour of repeaters.

It holds longer than the press by the delay of the detour, less that of the direct repeater; at most twice as long as
the press, less a tick, lest there be a gap. The output may be a line of level 15 or a lamp that both copies light.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan

NAME = "repeater taps"
SHAPE = "taps"


def make(former: PulseFormer, trigger: str, output: str) -> Plan:
    """A lamp or a wire behind the front alone."""
    sketch = Sketch()
    sketch.put(ENTRY, "lamp" if output == "lamp" else "wire")
    press = lay_former(sketch, former, trigger, into_block=output == "lamp")
    return sketch.plan(NAME.capitalize(), press, {named(output): ENTRY})


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Taps that meet the goal."""
    for output in goal.outputs:
        more = LAMP_STEPS * (output == "lamp")
        for pulse_steps in goal.pulses(more, 1):
            former = former_for(goal.trigger_steps, pulse_steps)
            if former is not None and former.shape == SHAPE:
                settings = {"pulse steps": pulse_steps}
                yield Recipe(NAME, settings, output, pulse_steps + more, partial(make, former, goal.trigger, output))
