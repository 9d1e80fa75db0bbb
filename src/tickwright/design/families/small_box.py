"""Small box: what a search through all layouts of a box of 3 x 2 x 2 cells found for a short button and a wire.

Of blocks, wires, repeaters, comparators and torches nothing smaller holds so long in that box, its button standing on a
block (the atlas of small boxes says what was tried). Each is a tile of the shelf, too. A lamp takes the place of the
wire and of what carries only that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache, partial

from tickwright.design.recipes import LAMP_STEPS, Goal, Recipe
from tickwright.design.sketch import PRESS
from tickwright.kinds import parse_part, support_cell
from tickwright.plan import Plan, crop, load
from tickwright.plan.modules import SHELF

NAME = "small box"
TRIGGER, TRIGGER_STEPS = "short-button", 20
LINE_ONLY_STEPS = (18,)  # its comparator hears the wire, which is not full all the time
HOLDS_STEPS = tuple(sorted(int(path.stem.removeprefix("hold-")) for path in SHELF.glob("hold-*.toml")))


@cache
def tile(hold_steps: int) -> Plan:
    """The tile that holds so long, as it lies on the shelf."""
    return load(SHELF / f"hold-{hold_steps}.toml")


def make(hold_steps: int, output: str) -> Plan:
    """The tile with its wire, or with a lamp in its place, as a plan by itself."""
    laid = tile(hold_steps)
    ((_, out),) = laid.outputs.items()
    cells = dict(laid.cells)
    if output == "lamp":
        cells[out] = parse_part("lamp")
        below = (out[0], out[1], out[2] - 1)
        carried = {support_cell(part, cell) for cell, part in cells.items()}
        if below not in carried:
            del cells[below]
    title = f"Small box, {hold_steps + LAMP_STEPS * (output == 'lamp')} steps"
    name = "lamp" if output == "lamp" else "line"
    return crop(replace(Plan(cells, {PRESS: laid.triggers[PRESS]}, {name: out}), title=title))


def recipes(goal: Goal) -> Iterator[Recipe]:
    """The tiles that meet the goal, for a short button."""
    if (goal.trigger, goal.trigger_steps) != (TRIGGER, TRIGGER_STEPS):
        return
    for output in goal.outputs:
        for steps in HOLDS_STEPS:
            hold = steps + LAMP_STEPS * (output == "lamp")
            if goal.meets(hold) and (output == "line" or steps not in LINE_ONLY_STEPS):
                yield Recipe(NAME, {"box": "3 x 2 x 2"}, output, hold, partial(make, steps, output))
