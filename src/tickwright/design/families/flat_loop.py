"""Flat loop: comparators going east and coming back beside them, a wire of two cells at each end.

The ends take two levels a turn, so there are 7 turns after the first. Such loops grow by two comparators: a wire in
place of one would lie at the flank of the comparator beside it. Loops stand three cells apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import loops
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch, ring, walk
from tickwright.plan import Plan

NAME = "flat loop"
SIZES = range(2, 61, 2)
LOST_A_TURN = 2


def make(comparators: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A flat loop of an even number of comparators behind a front, with a lamp under its entry, or a line from it."""
    across = comparators // 2
    sketch = Sketch()
    parts = ["wire", *["comparator"] * across, "wire"] * 2
    ring(sketch, list(walk(ENTRY, [("east", across + 1), ("north", 1), ("west", across + 1)])), parts)
    press = lay_former(sketch, former, trigger, into_block=False)
    outputs = loops.lay_output(sketch, output)
    return sketch.plan(f"Flat loop of {comparators}", press, outputs)


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size that meet the goal."""
    for comparators in SIZES:
        for former, output, hold in loops.fitting(goal, comparators, LOST_A_TURN):
            settings = {"comparators": comparators, **former.settings()}
            yield Recipe(NAME, settings, output, hold, partial(make, comparators, former, goal.trigger, output))
