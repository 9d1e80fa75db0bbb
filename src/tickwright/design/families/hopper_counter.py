"""Hopper counter: a hopper timer whose first hopper is let go for one item a turn of a hopper clock; for hours.

The clock is a gate of its own, opened whenever its second hopper is empty, for as long as the counting gate is on. It
comes to rest with all its items back in place, and so does the counter: after the hold everything is as before. Each
counted item but the first adds a turn of the clock, 16 steps for each of its items and some more. Behind a *guard*, as
in a hopper timer, a press changes nothing until all counted items are back.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import islice
from typing import NamedTuple

from tickwright.design.families.gate import (
    MOST_DELAY_TICKS,
    MOST_ITEMS,
    lay_busy,
    lay_gate,
    lay_reader,
    lay_release,
    least_pulse_steps,
)
from tickwright.design.families.guard import GUARD, SHORT_STEPS, busy_line, lay_guard, lay_open_guard
from tickwright.design.families.hopper_clock import HOLD_LINE_EAST, Clock, clock_of, lay_clock, lay_hold_line
from tickwright.design.families.hopper_timer import gate_former, gate_guard
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import LAMP_STEPS, Goal, OpenRecipe, Recipe
from tickwright.design.sketch import LONGEST_DELAY_TICKS, Sketch
from tickwright.plan import Plan
from tickwright.space import Cell

NAME = "hopper counter"
CLOCK_NORTH = 7  # so many cells north of the counting gate is the clock's
GUARD_WEST = 2  # so many cells further west stands a guard, out of reach of the clock's hold line


class Numbers(NamedTuple):
    """What is set in a counter: its items, the delay of its gate, and its clock."""

    items: int
    delay_ticks: int
    clock: Clock


def hold_steps(turns: int, turn: int, delay_ticks: int, output: str) -> int:
    """The naive model of the hold: so many turns of so many steps, and the gate's way on and off."""
    return turns * turn + 6 + 2 * delay_ticks + LAMP_STEPS * (output == "lamp")


def make(numbers: Numbers, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A hopper counter behind a front; the output is its gate as a lamp, or a line that is on with it."""
    sketch = Sketch()
    first, outputs = _lay(sketch, numbers, output)
    if former.shape == GUARD:
        lay_busy(sketch, ENTRY, first, busy_line(former.pulse_steps, GUARD_WEST))
        press = lay_guard(sketch, former.pulse_steps, trigger, GUARD_WEST)
    else:
        press = lay_former(sketch, former, trigger, into_block=True)
    return sketch.plan(_title(numbers), press, outputs)


def make_open(numbers: Numbers, output: str, reader: str) -> Plan:
    """A hopper counter without a trigger, for a guard that is laid elsewhere, as `make_open` of a hopper timer."""
    sketch = Sketch()
    first, outputs = _lay(sketch, numbers, output)
    begins = lay_open_guard(sketch)
    return sketch.plan(_title(numbers), begins, {**outputs, "busy": lay_reader(sketch, first, reader)})


def _title(numbers: Numbers) -> str:
    return f"Hopper counter of {numbers.items - 1} turns of {numbers.clock.items} items"


def _lay(sketch: Sketch, numbers: Numbers, output: str) -> tuple[Cell, dict[str, Cell]]:
    """Lay the counter behind the entry; return its first hopper and the output."""
    first = lay_gate(sketch, ENTRY, numbers.items, numbers.delay_ticks, "lamp" if output == "lamp" else "block")
    lay_release(sketch, ENTRY, first)
    lay_clock(sketch, -CLOCK_NORTH, numbers.clock)
    # The hold line: on while the clock turns or the counting gate is off; it locks the first hopper and the opener.
    x, y = first[0], -CLOCK_NORTH
    trunk = max(x + 2, HOLD_LINE_EAST)
    sketch.put((1, -2, 1), "repeater north")
    lay_hold_line(sketch, y, trunk)
    sketch.fill(((trunk, row, 1) for row in (-2, -1)), "wire")
    sketch.fill(((column, -1, 1) for column in range(x + 1, trunk)), "wire")
    return first, {"lamp": ENTRY} if output == "lamp" else {"line": (0, 1, 1)}


def open_recipes(goal: Goal) -> Iterator[OpenRecipe]:
    """Of each output the counter of fewest turns that a pulse of 8 steps is long enough for."""
    for output in goal.outputs:
        found = (
            (numbers, hold)
            for turns in range(1, MOST_ITEMS)
            for numbers, hold in _exact(goal, turns, output)
            if least_pulse_steps(numbers.delay_ticks) <= SHORT_STEPS and goal.meets(hold)
        )
        for numbers, hold in islice(found, 1):
            settings = {"items": numbers.items, "delay ticks": numbers.delay_ticks}
            settings |= {f"clock {name}": number for name, number in numbers.clock.settings().items()}
            yield OpenRecipe(NAME, settings, output, hold, partial(make_open, numbers, output))


def recipes(goal: Goal) -> Iterator[Recipe]:
    """A few counters that meet the goal exactly, those of fewest turns, with one repeater in the gate if that does."""
    for output in goal.outputs:
        found: dict[bool, Recipe] = {}
        for turns in range(1, MOST_ITEMS):
            for numbers, hold in _exact(goal, turns, output):
                few = numbers.delay_ticks <= LONGEST_DELAY_TICKS
                if goal.answer == "ignored":
                    former = gate_guard(goal, numbers.delay_ticks)
                else:
                    former = gate_former(goal.trigger_steps, numbers.delay_ticks, hold)
                if few not in found and former is not None and goal.meets(hold):
                    settings = {"items": numbers.items, "delay ticks": numbers.delay_ticks}
                    settings |= {f"clock {name}": number for name, number in numbers.clock.settings().items()}
                    making = partial(make, numbers, former, goal.trigger, output)
                    found[few] = Recipe(NAME, {**settings, **former.settings()}, output, hold, making)
            if True in found:
                break
        yield from found.values()


def _exact(goal: Goal, turns: int, output: str) -> Iterator[tuple[Numbers, int]]:
    """Counters of so many turns whose hold is the one wanted."""
    for delay in range(1, MOST_DELAY_TICKS + 1):
        left = goal.hold_steps - hold_steps(turns, 0, delay, output)
        turn, rest = divmod(left - left % 2, turns)
        clock = None if rest else clock_of(turn)
        if clock is not None:
            yield Numbers(turns + 1, delay, clock), hold_steps(turns, turn, delay, output)
