"""Hopper timer: two hoppers that pass their items to and fro, let go by a gate.

The output is the gate, on until the first hopper is empty: each item adds 4 ticks. Or, "there and back", a comparator
that reads the second hopper, on until all items are back: each item adds 8 ticks, and little recovery follows. The
repeaters of the gate add their delay. A press during the hold changes nothing, but for its last moments; behind a
*guard* that hears a busy line it changes nothing until all items are back, and is answered like the first from then on.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families.gate import (
    ITEM_STEPS,
    MOST_DELAY_TICKS,
    MOST_ITEMS,
    gate_steps,
    lay_busy,
    lay_gate,
    lay_reader,
    lay_release,
    least_pulse_steps,
)
from tickwright.design.families.guard import GUARD, PULSES, SHORT_STEPS, busy_line, guards, lay_guard, lay_open_guard
from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, OpenRecipe, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan
from tickwright.space import Cell

NAME = "hopper timer"


def hold_steps(items: int, delay_ticks: int, back: bool, output: str) -> int:
    """The naive model: the gate's time; there and back, that of the second hopper's items as well."""
    steps = gate_steps(items, delay_ticks)
    if back:
        steps += ITEM_STEPS * (items - 1)
    return steps + LAMP_STEPS * (output == "lamp")


def make(items: int, delay_ticks: int, back: bool, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A hopper timer behind a front."""
    sketch = Sketch()
    first, outputs = _lay(sketch, items, delay_ticks, back, output)
    if former.shape == GUARD:
        lay_busy(sketch, ENTRY, first, busy_line(former.pulse_steps))
        press = lay_guard(sketch, former.pulse_steps, trigger)
    else:
        press = lay_former(sketch, former, trigger, into_block=True)
    way = "there and back" if back else "one way"
    guarded = ", guarded" * (former.shape == GUARD)
    return sketch.plan(f"Hopper timer of {items} items, {way}{guarded}", press, outputs)


def make_open(items: int, delay_ticks: int, back: bool, output: str, reader: str) -> Plan:
    """A hopper timer without a trigger, for a guard that is laid elsewhere.

    Its trigger is the cell that lets it begin; the last of its outputs, "busy", is on until all items are back.
    """
    sketch = Sketch()
    first, outputs = _lay(sketch, items, delay_ticks, back, output)
    begins = lay_open_guard(sketch)
    return sketch.plan(f"Hopper timer of {items} items", begins, {**outputs, "busy": lay_reader(sketch, first, reader)})


def _lay(sketch: Sketch, items: int, delay_ticks: int, back: bool, output: str) -> tuple[Cell, dict[str, Cell]]:
    """Lay the timer behind the entry; return its first hopper and the output."""
    first = lay_gate(sketch, ENTRY, items, delay_ticks, "lamp" if output == "lamp" and not back else "block")
    lay_release(sketch, ENTRY, first)
    x, y, z = first
    sketch.put((x, y - 1, z + 1), "wire")  # locks the first hopper while the gate is off
    if back:
        return first, _lay_back(sketch, first, output)
    return first, {"lamp": ENTRY} if output == "lamp" else {"line": (0, 1, 1)}


def _lay_back(sketch: Sketch, first: Cell, output: str) -> dict[str, Cell]:
    """A comparator that reads the second hopper, and the output that it feeds."""
    x, y, z = first
    sketch.put((x + 1, y + 1, z), "comparator east")
    end = x + 2
    if output == "full":
        sketch.put((end, y + 1, z), "repeater east")
        end += 1
    sketch.put((end, y + 1, z), "lamp" if output == "lamp" else "wire")
    return {"lamp" if output == "lamp" else "line": (end, y + 1, z)}


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Timers of both sorts whose items and delays meet the goal."""
    for back in (False, True):
        for output in goal.outputs:
            for delay in range(1, MOST_DELAY_TICKS + 1):
                base, an_item = hold_steps(0, delay, back, output), ITEM_STEPS * (1 + back)
                items = round((goal.hold_steps - base) / an_item)
                hold = base + an_item * items
                if goal.answer == "ignored":
                    former = gate_guard(goal, delay)
                else:
                    former = gate_former(goal.trigger_steps, delay, gate_steps(items, delay))
                if 2 <= items <= MOST_ITEMS and goal.meets(hold) and former is not None:
                    settings = {"items": items, "delay ticks": delay, "ways": 1 + back, **former.settings()}
                    making = partial(make, items, delay, back, former, goal.trigger, output)
                    yield Recipe(NAME, settings, output, hold, making, sort="there and back" if back else "one way")


def open_recipes(goal: Goal) -> Iterator[OpenRecipe]:
    """Timers that a pulse of 8 steps is long enough for."""
    for back in (False, True):
        for output in goal.outputs:
            for delay in range(1, MOST_DELAY_TICKS + 1):
                an_item = ITEM_STEPS * (1 + back)
                items = round((goal.hold_steps - hold_steps(0, delay, back, output)) / an_item)
                hold = hold_steps(0, delay, back, output) + an_item * items
                if least_pulse_steps(delay) <= SHORT_STEPS and 2 <= items <= MOST_ITEMS and goal.meets(hold):
                    settings = {"items": items, "delay ticks": delay, "ways": 1 + back}
                    yield OpenRecipe(NAME, settings, output, hold, partial(make_open, items, delay, back, output))


def gate_former(trigger_steps: int | None, delay_ticks: int, open_steps: int) -> PulseFormer | None:
    """The front for a gate that is on for so many steps: the press as it is if it is long enough but not too long.

    A press that is too short is stretched, or has none: the gate's own cells are where taps would be.
    """
    least = least_pulse_steps(delay_ticks)
    if trigger_steps is not None and trigger_steps < open_steps:
        former = former_for(trigger_steps, max(trigger_steps, least))
        return former if former is not None and former.shape in ("plain", "stretch") else None
    return former_for(trigger_steps, least) if least < open_steps else None


def gate_guard(goal: Goal, delay_ticks: int) -> PulseFormer | None:
    """The guard whose pulse is long enough for a gate with so many ticks of repeaters."""
    if not guards(goal.trigger, goal.trigger_steps):
        return None
    pulse = next((steps for steps in PULSES if steps >= least_pulse_steps(delay_ticks)), None)
    return None if pulse is None else PulseFormer(GUARD, goal.trigger_steps, pulse)
