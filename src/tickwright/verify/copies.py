"""Plans turned, mirrored and laid side by side to hold runs against, with the copy that each cell is of."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from tickwright.kinds import Part
from tickwright.plan.edits import mirror, rotate
from tickwright.plan.model import Plan
from tickwright.space import Cell

AXES = ("x", "y", "z")


def oriented(plan: Plan, quarter_turns: int, mirrored: bool) -> Plan:
    """The plan mirrored east to west, if asked, then turned clockwise seen from above.

    >>> from tickwright.kinds import parse_part
    >>> plan = Plan({(0, 0, 0): parse_part("block"), (1, 0, 0): parse_part("torch on=west")})
    >>> dict(oriented(plan, 1, True).cells)[0, 0, 0].facing
    'south'
    """
    return rotate(mirror(plan, "x") if mirrored else plan, quarter_turns)


class Row(NamedTuple):
    """Copies of a plan along an axis: the whole, which copy each cell is of, and the cells that two copies want.

    Triggers and outputs of copy n, from 0, are named "n name".
    """

    plan: Plan
    copy_of: dict[Cell, int]
    clashes: tuple[tuple[Cell, int, int], ...]


def row_of(copies: tuple[Plan, ...], axis: str, pitch: int) -> Row:
    """The plans side by side along an axis, one each `pitch` cells."""
    number = AXES.index(axis)
    cells: dict[Cell, Part] = {}
    triggers: dict[str, Cell] = {}
    outputs: dict[str, Cell] = {}
    copy_of: dict[Cell, int] = {}
    clashes: list[tuple[Cell, int, int]] = []

    def moved(cell: Cell, index: int) -> Cell:
        shift = [index * pitch if here == number else 0 for here in range(3)]
        return (cell[0] + shift[0], cell[1] + shift[1], cell[2] + shift[2])

    for index, plan in enumerate(copies):
        for cell, part in plan.cells.items():
            goal = moved(cell, index)
            if goal in cells:
                clashes.append((goal, copy_of[goal], index))
            cells[goal] = part
            copy_of[goal] = index
        for table, names in ((triggers, plan.triggers), (outputs, plan.outputs)):
            table.update({f"{index} {name}": moved(cell, index) for name, cell in names.items()})
    whole = replace(copies[0], cells=cells, triggers=triggers, outputs=outputs, size=(0, 0, 0), expectations=())
    return Row(whole, copy_of, tuple(clashes))
