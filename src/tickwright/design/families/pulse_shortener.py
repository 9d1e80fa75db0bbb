"""Pulse shortener: a comparator that takes the press away from itself once it has come round a detour.

It holds as long as the detour's repeaters delay, 2 ticks or more, for any longer press, a lever too. A single tick: the
detour is a comparator, due in the same step as the first, which goes before it because a repeater stands ahead of it;
that repeater stretches what is left to one tick.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan

NAME = "pulse shortener"
TICK_STEPS = 2


def make(former: PulseFormer, trigger: str, output: str) -> Plan:
    """A lamp or a wire behind the front alone."""
    sketch = Sketch()
    sketch.put(ENTRY, "lamp" if output == "lamp" else "wire")
    press = lay_former(sketch, former, trigger, into_block=output == "lamp")
    return sketch.plan(NAME.capitalize(), press, {named(output): ENTRY})


def make_tick(trigger: str, output: str) -> Plan:
    """One tick, whatever the press."""
    sketch = Sketch()
    sketch.put(ENTRY, "wire")
    sketch.fill([(1, 0, 1), (0, 1, 1), (2, 1, 1)], "wire")
    sketch.put((1, 1, 1), "comparator east")
    sketch.put((2, 0, 1), "comparator east mode=difference")
    sketch.put((3, 0, 1), "repeater east")
    sketch.put((4, 0, 1), "lamp" if output == "lamp" else "wire")
    press = lay_former(sketch, PulseFormer("plain", None, 0), trigger, into_block=False)
    return sketch.plan("One tick", press, {named(output): (4, 0, 1)})


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Shorteners that meet the goal."""
    for output in goal.outputs:
        more = LAMP_STEPS * (output == "lamp")
        for pulse_steps in goal.pulses(more, 1):
            former = former_for(goal.trigger_steps, pulse_steps)
            settings = {"pulse steps": pulse_steps}
            if former is not None and former.shape == "short":
                yield Recipe(NAME, settings, output, pulse_steps + more, partial(make, former, goal.trigger, output))
            elif pulse_steps == TICK_STEPS and (goal.trigger_steps or 2 * TICK_STEPS) > TICK_STEPS:
                yield Recipe(NAME, settings, output, pulse_steps + more, partial(make_tick, goal.trigger, output))
