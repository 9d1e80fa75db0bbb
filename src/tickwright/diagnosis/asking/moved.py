"""Rows and halves of a plan laid one cell off, and rows laid the other way round."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from tickwright.diagnosis.mistakes import Changes
from tickwright.kinds import Part, mirrored
from tickwright.plan.model import Plan
from tickwright.space import Cell, zyx

AXES = ("x", "y", "z")


class Moved(NamedTuple):
    """Parts laid elsewhere: the kind of the mistake, its first cell, in words, the changes, where each cell went."""

    kind: str
    place: Cell
    text: str
    changes: Changes
    cells: Mapping[Cell, Cell]


def moved_parts(plan: Plan) -> Iterator[Moved]:
    """Every row along x or y of one layer, or of all above the floor at once, moved by one or turned; every half.

    Of two parts that would meet in one cell the moved one stands there.
    """
    for along in (0, 1):
        for row, named in _rows(plan, along):
            for by in (-1, 1):
                way = ("west", "east") if along == 0 else ("north", "south")
                text = f"{named} is laid one cell too far {way[by > 0]}"
                yield from _laid(plan, "row-moved", text, row, _shift(along, by))
            yield from _turned(plan, named, row, along)
    for axis in (0, 1):
        for cut in range(1, plan.size[axis]):
            half = sorted((cell for cell in plan.cells if cell[axis] >= cut), key=zyx)
            named = f"everything from {AXES[axis]} = {cut} on"
            for along, by in ((axis, 1), (1 - axis, -1), (1 - axis, 1)):
                side = (("west", "east"), ("north", "south"))[along][by > 0]
                yield from _laid(
                    plan, "half-moved", f"{named} is laid one cell too far {side}", half, _shift(along, by)
                )


def _rows(plan: Plan, along: int) -> Iterator[tuple[list[Cell], str]]:
    """Rows of two parts or more: those of one layer, and those of all layers above the floor."""
    across = 1 - along
    by_row: dict[tuple[int, int], list[Cell]] = {}
    for cell in sorted(plan.cells, key=zyx):
        by_row.setdefault((cell[across], cell[2]), []).append(cell)
    for (place, layer), row in by_row.items():
        if len(row) > 1:
            yield row, f"the row {AXES[across]} = {place} of layer {layer}"
    for place in sorted({place for place, _ in by_row}):
        layers = [row for (at, layer), row in by_row.items() if at == place and layer > 0]
        if len(layers) > 1:
            yield [cell for row in layers for cell in row], f"all of {AXES[across]} = {place} above the floor"


def _shift(along: int, by: int) -> Callable[[Cell], Cell]:
    def go(cell: Cell) -> Cell:
        x, y, z = cell
        return (x + by, y, z) if along == 0 else (x, y + by, z)

    return go


def _laid(plan: Plan, kind: str, text: str, cells: list[Cell], go: Callable[[Cell], Cell]) -> Iterator[Moved]:
    found = _changes(plan, {cell: (go(cell), plan.cells[cell]) for cell in cells})
    if found:
        yield Moved(kind, found[0][0], text, found, {cell: go(cell) for cell in cells})


def _turned(plan: Plan, named: str, row: list[Cell], along: int) -> Iterator[Moved]:
    first, last = min(cell[along] for cell in row), max(cell[along] for cell in row)
    goals: dict[Cell, tuple[Cell, Part]] = {}
    for cell in row:
        goal = [*cell]
        goal[along] = first + last - cell[along]
        goals[cell] = ((goal[0], goal[1], goal[2]), mirrored(plan.cells[cell], AXES[along]))
    found = _changes(plan, goals)
    if found:
        gone = {cell: goal for cell, (goal, _) in goals.items()}
        yield Moved("row-turned", found[0][0], f"{named} is laid the other way round", found, gone)


def _changes(plan: Plan, goals: Mapping[Cell, tuple[Cell, Part]]) -> Changes:
    """The cells that then hold something else, in (z, y, x) order."""
    after: dict[Cell, Part | None] = dict.fromkeys(goals)
    after |= dict(goals.values())
    return tuple((cell, after[cell]) for cell in sorted(after, key=zyx) if after[cell] != plan.cells.get(cell))
