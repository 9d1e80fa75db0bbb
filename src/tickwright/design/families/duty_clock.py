"""Clock with a duty: a torch clock, and what makes its half period shorter or longer; a lever lets it run.

The torch clock is on for as long as it is off. A comparator that takes the line away from itself, once it has come
round a detour, leaves less of it; taps, the line joined with a later copy of itself, make more. A lamp adds its four
steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.clocks import LEAST_TORCH_TICKS, torch_period_steps
from tickwright.design.pulse_formers import PulseFormer
from tickwright.design.recipes import LAMP_STEPS, Recipe
from tickwright.design.sketch import Sketch, detour, split_delay
from tickwright.plan import Plan

NAME = "clock"
MOST_TICKS = 180  # of the clock's own repeaters, which must be at rest before the lever lets it run
LEAST_SHORT_STEPS = 4
LEAST_PERIOD_STEPS, MOST_PERIOD_STEPS = torch_period_steps(LEAST_TORCH_TICKS), torch_period_steps(MOST_TICKS)


def make(delay_ticks: int, former: PulseFormer, output: str) -> Plan:
    """A torch clock, whose line goes through a pulse former to the output; the lever is thrown off to let it run."""
    sketch = Sketch()
    sketch.put((-1, 0, 1), "lever on=east thrown=yes")
    sketch.put((0, 0, 1), "block")
    sketch.put((1, 0, 1), "torch on=west")
    sketch.put((2, 0, 1), "wire")
    detour(sketch, (2, 0, 1), -2, split_delay(delay_ticks))
    end = (4, 0, 1)
    if former.shape == "plain":
        end = (3, 0, 1)
    elif former.shape == "short":
        sketch.put((3, 0, 1), "comparator east mode=difference")
        detour(sketch, (2, 0, 1), 1, split_delay(former.pulse_steps // 2), north=True)
    else:
        sketch.put((3, 0, 1), "repeater east")
        later = (former.pulse_steps - (former.trigger_steps or 0)) // 2 + 1
        detour(sketch, (2, 0, 1), 2, split_delay(later), north=True)
    sketch.put(end, "lamp" if output == "lamp" else "wire")
    outputs = {"lamp" if output == "lamp" else "line": end}
    return sketch.plan(f"Clock of {torch_period_steps(delay_ticks)} steps", (-1, 0, 1), outputs)


def recipes(period_steps: int, on_steps: int, within_steps: int, outputs: tuple[str, ...]) -> Iterator[Recipe]:
    """Clocks of just that period that are on for so long, or nearly; a recipe's hold is the time on in a period."""
    ticks, rest = divmod(period_steps, torch_period_steps(0))
    if rest or not LEAST_TORCH_TICKS <= ticks - 1 <= MOST_TICKS:
        return
    half = period_steps // 2
    for output in outputs:
        more = LAMP_STEPS if output == "lamp" else 0
        wanted = on_steps - more
        for steps in dict.fromkeys((wanted, wanted + wanted % 2, wanted - wanted % 2)):
            if abs(steps - wanted) > within_steps or steps % 2 or not 0 < steps + more < period_steps:
                continue
            former = _former(half, steps)
            if former is not None:
                making = partial(make, ticks - 1, former, output)
                settings: dict[str, int | str] = {"clock ticks": ticks - 1, "half period": former.shape}
                yield Recipe(NAME, settings, output, steps + more, making)


def _former(half_steps: int, steps: int) -> PulseFormer | None:
    if steps == half_steps:
        return PulseFormer("plain", half_steps, steps)
    if steps < half_steps:
        return PulseFormer("short", half_steps, steps) if steps >= LEAST_SHORT_STEPS else None
    return PulseFormer("taps", half_steps, steps)
