"""Difference fader: a flat loop in which one comparator takes the level of a crate away from the loop's.

A turn costs two levels for the ends and as many as the crate shows: one with a single item, more with more items. So
the hold can be set by hand in the built circuit, by carrying items, without moving a part.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import flat_loop, loops
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch, ring, walk
from tickwright.kinds import PARTS
from tickwright.plan import Plan

NAME = "difference fader"
SIZES = range(4, 41, 2)
LEVELS = (1, 2, 5)  # of the crate; others give as many turns as one of these
OUTPUTS = ("lamp", "line")
CRATE_ITEMS = PARTS["crate"].arguments[0].choices[-1]


def items_for(level: int) -> int:
    """The fewest items with which a crate shows the level.

    >>> [items_for(level) for level in (1, 2, 5, 15)]
    [1, 124, 494, 1728]
    """
    return max(1, -(-(level - 1) * int(CRATE_ITEMS) // 14))


def hold_steps(comparators: int, lost_a_turn: int, pulse_steps: int, output: str) -> int:
    """The naive model. The lamp hears the block below the end of the way back, too, where one level more is left."""
    more = 2 * comparators * (loops.TOP_LEVEL // lost_a_turn - loops.turns(lost_a_turn)) if output == "lamp" else 0
    return loops.hold_steps(comparators, lost_a_turn, pulse_steps + more, output)


def make(comparators: int, level: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A flat loop that fades faster, behind a front, with a lamp under its entry, or its entry."""
    across = comparators // 2
    sketch = Sketch()
    path = list(walk(ENTRY, [("east", across + 1), ("north", 1), ("west", across + 1)]))
    first = ["comparator"] * (across - 1)
    parts = ["wire", *["comparator"] * across, "wire", "wire", "comparator mode=difference", *first, "wire"]
    ring(sketch, path, parts)
    sketch.put((across, -2, 1), "comparator south")
    sketch.put((across, -3, 1), f"crate items={items_for(level)}")
    press = lay_former(sketch, former, trigger, into_block=False)
    return sketch.plan(f"Flat loop of {comparators}, faded by a crate", press, loops.lay_output(sketch, output))


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size and crates of several levels that meet the goal."""
    fit = goal.only(OUTPUTS)
    for level in LEVELS:
        for comparators in SIZES:
            lost = flat_loop.LOST_A_TURN + level
            for former, output, hold in loops.fitting(fit, comparators, lost, hold_steps):
                settings = {"comparators": comparators, "crate items": items_for(level), **former.settings()}
                making = partial(make, comparators, level, former, goal.trigger, output)
                yield Recipe(NAME, settings, output, hold, making)
