"""Stacked loop: comparators going east below, fewer coming back above them, so that it is one cell wide.

A *one-cell* end is a single wire between two full cells and takes nothing; a *two-cell* end is a wire that climbs to
another and takes a level. With one end of each sort a turn costs one level (14 turns after the first), with two-cell
ends both it costs two (7 turns). One-cell ends both would hold for ever. Such loops grow by one comparator: where the
upper row has one less than fits, a full cell, at which the climbing wire points, passes the level on.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tickwright.design.families import loops
from tickwright.design.pulse_formers import ENTRY, PulseFormer, lay_former
from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import Sketch
from tickwright.plan import Plan
from tickwright.space import Cell

NAME = "stacked loop"
MOST = 40
LEAST = {1: 3, 2: 4}  # two-cell ends -> comparators


def make(comparators: int, two_cell_ends: int, former: PulseFormer, trigger: str, output: str) -> Plan:
    """A stacked loop behind a front; the lamp is the full cell behind its first comparator."""
    below = (comparators + 1 + two_cell_ends) // 2
    above = below - two_cell_ends
    sketch = Sketch()
    sketch.put(ENTRY, "lamp" if output == "lamp" else "block")
    sketch.fill(((x, 0, 1) for x in range(1, below + 1)), "comparator east")
    sketch.put((below + 1, 0, 1), "block")
    sketch.fill(((x, 0, 2) for x in (0, below + 1)), "wire")
    sketch.fill(((x, 0, 2) for x in range(1, below + 1)), "block")
    sketch.fill(((x, 0, 3) for x in ([below] if two_cell_ends == 1 else [1, below])), "wire")
    if two_cell_ends == 1:
        sketch.put((0, 0, 3), "block")
    first = two_cell_ends
    relay = comparators < below + above
    sketch.fill(((x, 0, 3) for x in range(first, below - relay)), "comparator west")
    if relay:
        sketch.put((below - 1, 0, 3), "block")
    press = lay_former(sketch, former, trigger, into_block=True)
    return sketch.plan(f"Stacked loop of {comparators}", press, _lay_output(sketch, output))


def _lay_output(sketch: Sketch, output: str) -> dict[str, Cell]:
    if output == "lamp":
        return {"lamp": ENTRY}
    if output == "line":
        return {"line": (0, 0, 2)}
    sketch.put((0, -1, 2), "repeater north")
    sketch.put((0, -2, 2), "wire")
    return {"line": (0, -2, 2)}


def recipes(goal: Goal) -> Iterator[Recipe]:
    """Loops of every size and of both mixes of ends that meet the goal."""
    for ends, least in LEAST.items():
        for comparators in range(least, MOST + 1):
            for former, output, hold in loops.fitting(goal, comparators, ends):
                settings = {"comparators": comparators, "two-cell ends": ends, **former.settings()}
                making = partial(make, comparators, ends, former, goal.trigger, output)
                yield Recipe(NAME, settings, output, hold, making)
