"""Hopper clock: a gate that is opened again whenever its second hopper is empty; for periods of seconds to minutes.

A comparator before a crate with a single item opens the gate as long as nothing lies at its flank. There lies the *hold
line*, on while the second hopper holds anything, or while something else, such as a lever, keeps the clock. The clock
then ends its turn, and rests with all items in its first hopper. The period is 16 steps for each item and some more;
the output is on while the items go there.
"""

from __future__ import annotations

from typing import NamedTuple

from tickwright.design.families.gate import ITEM_STEPS, MOST_ITEMS, lay_gate
from tickwright.design.sketch import LONGEST_DELAY_TICKS, Sketch
from tickwright.plan import Plan

MOST_GATE_TICKS = 2  # the opener is off again after that
HOLD_LINE_SOUTH, HOLD_LINE_EAST = 4, 5  # where the hold line runs, from the clock's gate


class Clock(NamedTuple):
    """What is set in a clock: its items, and the delays of its gate and of its second hopper's release."""

    items: int
    gate_ticks: int
    release_ticks: int

    def settings(self) -> dict[str, int]:
        """The numbers by their names."""
        return {"items": self.items, "gate ticks": self.gate_ticks, "release ticks": self.release_ticks}


def period_steps(clock: Clock) -> int:
    """The naive model: the items there and back, and the two delays."""
    return 2 * ITEM_STEPS * clock.items - 6 + 2 * (clock.gate_ticks + clock.release_ticks)


def clock_of(period: int) -> Clock | None:
    """The clock of that period in steps, if there is one: not every one lies in reach of its two repeaters.

    >>> clock_of(158), clock_of(166), clock_of(168)
    (Clock(items=10, gate_ticks=1, release_ticks=1), Clock(items=10, gate_ticks=2, release_ticks=4), None)
    """
    items, more = divmod(period - period_steps(Clock(0, 1, 1)), 2 * ITEM_STEPS)
    ticks = more // 2
    if more % 2 or ticks > MOST_GATE_TICKS - 1 + LONGEST_DELAY_TICKS - 1 or not 2 <= items <= MOST_ITEMS:
        return None
    release = 1 + min(ticks, LONGEST_DELAY_TICKS - 1)
    return Clock(items, 2 + ticks - release, release)


def lay_clock(sketch: Sketch, y: int, clock: Clock, part: str = "block") -> None:
    """The clock with its gate at (0, y, 1): the gate, the opener, and what tells whether the second hopper is empty."""
    x, _, _ = lay_gate(sketch, (0, y, 1), clock.items, clock.gate_ticks, part)
    sketch.put((x, y - 1, 2), "wire")
    sketch.put((0, y + 1, 1), f"repeater south delay={clock.release_ticks}")
    sketch.fill(((column, y + 2, 1) for column in range(x)), "wire")
    sketch.put((x, y + 2, 1), "block")
    sketch.put((-1, y, 1), "comparator east")
    sketch.put((-2, y, 1), "crate items=1")
    sketch.put((x + 1, y + 1, 1), "comparator east")
    sketch.put((x + 2, y + 1, 1), "wire")
    sketch.put((x + 2, y + 2, 1), "repeater south")
    sketch.put((x + 2, y + 3, 1), "wire")


def lay_hold_line(sketch: Sketch, y: int, east: int = HOLD_LINE_EAST) -> None:
    """The hold line of the clock with its gate at (0, y, 1), from so far in the east to the flank of its opener."""
    sketch.fill(((column, y + HOLD_LINE_SOUTH, 1) for column in range(-2, east + 1)), "wire")
    sketch.fill(((-2, row, 1) for row in range(y + 1, y + HOLD_LINE_SOUTH)), "wire")
    sketch.put((-1, y + 1, 1), "wire")


def make(clock: Clock) -> Plan:
    """A clock that a lever holds; its lamp is its gate's, on while the items go there."""
    sketch = Sketch()
    lay_clock(sketch, 0, clock, "lamp")
    lay_hold_line(sketch, 0)
    sketch.put((-3, HOLD_LINE_SOUTH, 1), "lever thrown=yes")
    return sketch.plan(f"Hopper clock of {clock.items} items", (-3, HOLD_LINE_SOUTH, 1), {"lamp": (0, 0, 1)})
