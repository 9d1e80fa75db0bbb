"""Wire loop: one, two or three comparators in a ring of three by three cells, the rest of it wire.

The wire takes a level for each of its cells but one: with one comparator a turn costs six levels (2 turns after the
first), with two four (3 turns), with three two (7 turns). For holds just longer than the pulse, and for whom
comparators are dear. It needs three cells across: a wire beside a comparator would lie at its flank.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import loops
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch, ring, walk
from tickwright.plan import Plan

NAME = "wire loop"
SIZES = (1, 2, 3)
OUTPUTS = ("lamp", "line")
AROUND = [("east", 2), ("north", 2), ("west", 2), ("south", 1)]


def make(comparators: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A wire loop behind a front, with a lamp under its entry, or its entry."""
    sketch = Sketch()
    ring(sketch, list(walk(ENTRY, AROUND)), _parts(comparators))
    press = lay_former(sketch, former, trigger, into_block=False)
    return sketch.plan(f"Wire loop of {comparators}", press, loops.lay_output(sketch, output))


def _parts(comparators: int) -> list[str]:
    """Corners are wires, and so is every side that has no comparator."""
    sides = ["comparator"] * comparators + ["wire"] * (4 - comparators)
    return [part for side in sides for part in ("wire", side)]


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size that meet the goal."""
    fit = goal.only(OUTPUTS)
    for comparators in SIZES:
        lost = loops.lost(_parts(comparators))
        for former, output, hold in loops.fitting(fit, comparators, lost):
            settings = {"comparators": comparators, **former.settings()}
            yield Recipe(NAME, settings, output, hold, partial(make, comparators, former, goal.trigger, output))
