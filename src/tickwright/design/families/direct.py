"""Direct: the output beside the trigger, or behind a repeater; it holds as long as the press, a lamp four steps more.

A repeater stretches a press that is shorter than its delay to that delay.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.kinds import PARTS
from tickwright.plan import Plan

NAME = "direct"
DELAYS = tuple(int(delay) for delay in PARTS["repeater"].arguments[0].choices)


def hold_steps(trigger_steps: int, delay_ticks: int, output: str) -> int:
    """The naive model: the press or the delay, whichever is longer."""
    return max(trigger_steps, 2 * delay_ticks) + LAMP_STEPS * (output == "lamp")


def make(delay_ticks: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A lamp or a wire at a trigger; with a delay, behind a repeater."""
    sketch = Sketch()
    is_lamp = output == "lamp"
    kind = "lamp" if is_lamp else "wire"
    if not delay_ticks:
        sketch.put(ENTRY, kind)
        return sketch.plan("Direct", lay_former(sketch, former, trigger, is_lamp), {named(output): ENTRY})
    x, y, z = ENTRY
    sketch.put(ENTRY, f"repeater east delay={delay_ticks}")
    sketch.put((x + 1, y, z), kind)
    press = lay_former(sketch, former, trigger, into_block=False)
    return sketch.plan("Direct repeater", press, {named(output): (x + 1, y, z)})


def named(output: str) -> str:
    """The name under which a plan has the output."""
    return "lamp" if output == "lamp" else "line"


def recipes(goal: Goal) -> Iterator[Recipe]:
    """The direct output, and that behind a repeater of each delay, where they meet the goal."""
    if goal.trigger_steps is None:
        return
    former = PulseFormer("plain", goal.trigger_steps, goal.trigger_steps)
    for output in goal.outputs:
        for delay in (0, *DELAYS):
            hold = hold_steps(goal.trigger_steps, delay, output)
            if goal.meets(hold):
                making = partial(make, delay, former, goal.trigger, output)
                yield Recipe(NAME, {"repeater ticks": delay}, output, hold, making)
