"""Corner loop: a flat ring three cells wide, with comparators on all its sides and a wire of one cell at each corner.

A corner takes nothing. One more wire makes one of them two cells long, so a turn costs one level (14 turns after the
first) as in a stacked loop, in the flat. The number of comparators is odd, from 5.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import loops
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch, ring, walk
from tickwright.plan import Plan

NAME = "corner loop"
SIZES = range(5, 60, 2)
LOST_A_TURN = 1
OUTPUTS = ("lamp", "line")


def make(comparators: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A corner loop of an odd number of comparators behind a front, with a lamp under its entry, or the entry."""
    across = (comparators - 1) // 2
    sketch = Sketch()
    row = ["comparator"] * across
    parts = ["wire", *row, "wire", "comparator", "wire", *row[:-1], "wire", "wire", "comparator"]
    path = list(walk(ENTRY, [("east", across + 1), ("north", 2), ("west", across + 1), ("south", 1)]))
    ring(sketch, path, parts)
    press = lay_former(sketch, former, trigger, into_block=False)
    return sketch.plan(f"Corner loop of {comparators}", press, loops.lay_output(sketch, output))


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size that meet the goal."""
    fit = goal.only(OUTPUTS)
    for comparators in SIZES:
        for former, output, hold in loops.fitting(fit, comparators, LOST_A_TURN):
            settings = {"comparators": comparators, **former.settings()}
            yield Recipe(NAME, settings, output, hold, partial(make, comparators, former, goal.trigger, output))
