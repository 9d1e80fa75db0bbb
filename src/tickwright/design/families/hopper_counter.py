"""Hopper counter: a hopper timer whose first hopper is let go for one item a turn of a hopper clock; for hours.

The clock is a gate of its own, opened whenever its second hopper is empty, for as long as the counting gate is on. It
comes to rest with all its items back in place, and so does the counter: after the hold everything is as before. Each
counted item but the first adds a turn of the clock, 16 steps for each of its items and some more.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import NamedTuple

from tickwright.design.families.gate import ITEM_STEPS, MOST_DELAY_TICKS, MOST_ITEMS, lay_gate, lay_release
from tickwright.design.families.hopper_timer import front_of_gate
from tickwright.design.fronts import ENTRY, Front, lay_front
from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import LONGEST_DELAY_TICKS, Sketch
from tickwright.plan import Plan

NAME = "hopper counter"
MOST_MORE_TICKS = 4  # that the clock's two repeaters add to a turn: the gate's 1, the other 3
CLOCK_NORTH = 7  # so many cells north of the counting gate is the clock's


class Numbers(NamedTuple):
    """What is set in a counter: items of both, delays of the gate, the clock's gate and its release."""

    items: int
    clock_items: int
    delay_ticks: int
    clock_ticks: int
    release_ticks: int


def turn_steps(clock_items: int, clock_ticks: int, release_ticks: int) -> int:
    """The naive model of a turn of the clock: its items there and back, and its two repeaters."""
    return 2 * ITEM_STEPS * clock_items - 6 + 2 * (clock_ticks + release_ticks)


def hold_steps(turns: int, turn: int, delay_ticks: int, output: str) -> int:
    """The naive model of the hold: so many turns of so many steps, and the gate's way on and off."""
    return turns * turn + 6 + 2 * delay_ticks + LAMP_STEPS * (output == "lamp")


def make(numbers: Numbers, front: Front, trigger: str, output: str) -> Plan:
    """A hopper counter behind a front; the output is its gate as a lamp, or a line that is on with it."""
    sketch = Sketch()
    first = lay_gate(sketch, ENTRY, numbers.items, numbers.delay_ticks, "lamp" if output == "lamp" else "block")
    lay_release(sketch, ENTRY, first)
    _lay_clock(sketch, numbers)
    # The hold line: on while the clock turns or the counting gate is off; it locks the first hopper and the opener.
    x, y = first[0], -CLOCK_NORTH
    trunk = max(x + 2, 5)
    sketch.put((1, -2, 1), "repeater north")
    sketch.fill(((column, -3, 1) for column in range(-2, trunk + 1)), "wire")
    sketch.fill(((trunk, row, 1) for row in (-2, -1)), "wire")
    sketch.fill(((column, -1, 1) for column in range(x + 1, trunk)), "wire")
    sketch.fill(((-2, row, 1) for row in range(-4, y, -1)), "wire")
    sketch.put((-1, y + 1, 1), "wire")
    press = lay_front(sketch, front, trigger, into_block=True)
    outputs = {"lamp": ENTRY} if output == "lamp" else {"line": (0, 1, 1)}
    return sketch.plan(f"Hopper counter of {numbers.items - 1} turns of {numbers.clock_items} items", press, outputs)


def _lay_clock(sketch: Sketch, numbers: Numbers) -> None:
    """The clock's gate, what opens it, and the line that tells whether its second hopper holds anything."""
    y = -CLOCK_NORTH
    x, _, _ = lay_gate(sketch, (0, y, 1), numbers.clock_items, numbers.clock_ticks)
    sketch.put((x, y - 1, 2), "wire")
    sketch.put((0, y + 1, 1), f"repeater south delay={numbers.release_ticks}")
    sketch.fill(((column, y + 2, 1) for column in range(x)), "wire")
    sketch.put((x, y + 2, 1), "block")
    # A comparator before a single item gives 1 as long as its flank has nothing.
    sketch.put((-1, y, 1), "comparator east")
    sketch.put((-2, y, 1), "crate items=1")
    sketch.put((x + 1, y + 1, 1), "comparator east")
    sketch.put((x + 2, y + 1, 1), "wire")
    sketch.put((x + 2, y + 2, 1), "repeater south")
    sketch.put((x + 2, y + 3, 1), "wire")


def recipes(goal: Goal) -> Iterator[Recipe]:
    """A few counters that meet the goal exactly, those of fewest turns, with one repeater in the gate if that does."""
    for output in goal.outputs:
        found: dict[bool, Recipe] = {}
        for turns in range(1, MOST_ITEMS):
            for numbers, hold in _exact(goal, turns, output):
                few = numbers.delay_ticks <= LONGEST_DELAY_TICKS
                front = front_of_gate(goal.trigger_ticks, numbers.delay_ticks, hold)
                if few not in found and front is not None and goal.meets(hold):
                    settings = {name.replace("_", " "): number for name, number in numbers._asdict().items()}
                    making = partial(make, numbers, front, goal.trigger, output)
                    found[few] = Recipe(NAME, {**settings, **front.settings()}, output, hold, making)
            if True in found:
                break
        yield from found.values()


def _exact(goal: Goal, turns: int, output: str) -> Iterator[tuple[Numbers, int]]:
    """Counters of so many turns whose hold is the one wanted."""
    for delay in range(1, MOST_DELAY_TICKS + 1):
        left = goal.hold_steps - hold_steps(turns, 0, delay, output)
        turn, rest = divmod(left - left % 2, turns)
        clock_items, more = divmod((turn - turn_steps(0, 1, 1)) // 2, ITEM_STEPS)
        if rest or turn % 2 or more > MOST_MORE_TICKS or not 2 <= clock_items <= MOST_ITEMS:
            continue
        release = 1 + min(more, LONGEST_DELAY_TICKS - 1)
        yield (
            Numbers(turns + 1, clock_items, delay, 2 + more - release, release),
            hold_steps(turns, turn, delay, output),
        )
