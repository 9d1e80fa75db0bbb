"""Latch with a delay line: the press sets a latch, and the latch, once it has come through a line, resets itself.

A comparator and a repeater keep a full cell on; the line of repeaters ends at the comparator's flank. It holds for the
line's delay and two ticks, whatever the press, if that is shorter. While the latch is on a press changes nothing; the
line must run empty before the next. Every further 4 ticks take one more repeater.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.direct import named
from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch, detour, split_delay
from tickwright.plan import Plan

NAME = "latch with delay line"
LOOP_STEPS = 4  # the comparator and the repeater
SET_STEPS = 8  # a press as long as this sets it
LEAST_SET_STEPS = 2  # and one as short as this
MOST_TICKS = 240


def hold_steps(line_ticks: int, output: str) -> int:
    """The naive model: the line, the comparator and the repeater."""
    return 2 * line_ticks + LOOP_STEPS + LAMP_STEPS * (output == "lamp")


def make(line_ticks: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A latch behind a front; the output is its full cell as a lamp, or a wire that it powers."""
    sketch = Sketch()
    sketch.put(ENTRY, "lamp" if output == "lamp" else "block")
    sketch.put((0, -1, 1), "repeater south")
    sketch.put((0, -2, 1), "comparator south mode=difference")
    sketch.fill([(0, -3, 1), (1, -3, 1), (2, -3, 1), (2, -2, 1), (2, -1, 1), (2, 0, 1), (1, 0, 1)], "wire")
    delays = split_delay(line_ticks)
    if len(delays) == 1:
        sketch.put((1, -2, 1), f"repeater west delay={delays[0]}")
    else:
        detour(sketch, (0, -3, 1), -2, delays, north=True)
        sketch.fill([(-2, -3, 1), (-2, -2, 1), (-1, -2, 1)], "wire")
    press = lay_former(sketch, former, trigger, into_block=True)
    return sketch.plan(f"Latch with a delay line of {line_ticks} ticks", press, {named(output): _watched(output)})


def _watched(output: str) -> tuple[int, int, int]:
    return ENTRY if output == "lamp" else (1, 0, 1)


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Latches that meet the goal."""
    for output in goal.outputs:
        base = hold_steps(0, output)
        ticks = round((goal.hold_steps - base) / 2)
        hold = base + 2 * ticks
        ends_in_time = goal.trigger_steps is not None and goal.trigger_steps < hold
        pulse = max(goal.trigger_steps or 0, LEAST_SET_STEPS) if ends_in_time else SET_STEPS
        former = former_for(goal.trigger_steps, pulse)
        if 2 <= ticks <= MOST_TICKS and pulse < 2 * ticks and former is not None and goal.meets(hold):
            making = partial(make, ticks, former, goal.trigger, output)
            yield Recipe(NAME, {"line ticks": ticks, **former.settings()}, output, hold, making)
