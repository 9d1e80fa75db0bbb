"""Modules on sheets: each is drawn once by itself, and in the plan that uses it as a box with its name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tickwright.plan.model import Plan, Use
from tickwright.plan.modules import laid_cells
from tickwright.publish.canvas import Mark, rectangle, shortened, words
from tickwright.publish.letters import text_width
from tickwright.publish.tokens import Colours
from tickwright.space import HORIZONTAL, Cell, beside

NAME_SIZE, LEAST_SIZE = 12.0, 9.0
OUTLINE = 2.0
EDGES = {"north": ((0, 0), (1, 0)), "south": ((0, 1), (1, 1)), "west": ((0, 0), (0, 1)), "east": ((1, 0), (1, 1))}


class Box(NamedTuple):
    """A module as it lies: its name, and the cells of its parts with the empty ones between them, layer by layer."""

    use: Use
    cells: frozenset[Cell]

    def layer(self, z: int) -> set[tuple[int, int]]:
        """(x, y) of its cells in a layer of the whole."""
        return {(x, y) for x, y, layer in self.cells if layer == z}

    @property
    def way(self) -> str:
        """How it lies, in words; "" for as it is drawn."""
        mirrored = ["mirrored east to west"] if self.use.mirror else []
        return ", ".join([*mirrored, *([f"turned {self.use.turn}° clockwise"] if self.use.turn else [])])


def boxes_of(plan: Plan) -> tuple[Box, ...]:
    """The boxes of the modules that a plan uses."""
    return tuple(Box(use, frozenset(_filled(plan, use))) for use in plan.uses)


def _filled(plan: Plan, use: Use) -> Iterator[Cell]:
    own = {cell for cell, _ in laid_cells(use)}
    for z in {cell[2] for cell in own}:
        xs, ys = zip(*((x, y) for x, y, layer in own if layer == z), strict=True)
        for x in range(min(xs), max(xs) + 1):
            for y in range(min(ys), max(ys) + 1):
                if (x, y, z) in own or (x, y, z) not in plan.cells:
                    yield x, y, z


def own_parts(plan: Plan) -> Plan:
    """The plan with the parts of no module."""
    held = {cell for use in plan.uses for cell, _ in laid_cells(use)}
    return Plan({cell: part for cell, part in plan.cells.items() if cell not in held}, size=plan.size)


def modules_of(plan: Plan) -> list[tuple[str, Plan, list[Box]]]:
    """Each module that the plan or its modules use, once: its file, its plan, and its boxes in the plan itself."""
    found: dict[str, tuple[str, Plan, list[Box]]] = {}
    waiting = [(plan, True)]
    for whole, outer in waiting:
        for box in boxes_of(whole):
            key = box.use.inside.path or box.use.plan
            if key not in found:
                found[key] = (box.use.plan, box.use.inside, [])
                waiting.append((box.use.inside, False))
            if outer:
                found[key][2].append(box)
    return list(found.values())


def box_marks(
    boxes: Sequence[Box], z: int, columns: Sequence[int], rows: Sequence[int], corner: tuple[float, float],
    unit: float, colours: Colours,
) -> Iterator[Mark]:  # fmt: skip
    """The boxes of a layer over its cells, whose left upper corner is given: plain cells, an outline, the name."""
    shown = {(x, y) for x in columns for y in rows}
    for box in boxes:
        cells = box.layer(z) & shown
        if not cells:
            continue
        places = {(x, y): (corner[0] + (x - columns[0]) * unit, corner[1] + (y - rows[0]) * unit) for x, y in cells}
        for left, top in places.values():
            yield rectangle(left, top, unit, unit, colours["panel"])
        for (x, y), (left, top) in sorted(places.items()):
            for side in HORIZONTAL:
                over = beside((x, y, z), side)[:2]
                if over not in cells:
                    # half a line inwards, so that an edge of the picture cuts none
                    east, south = left + (x - over[0]) * OUTLINE / 2, top + (y - over[1]) * OUTLINE / 2
                    ends = tuple((east + unit * dx, south + unit * dy) for dx, dy in EDGES[side])
                    yield Mark("line", ends, stroke=colours["ink"], width=OUTLINE)
        widths = {cell: _width(cells, cell) for cell in cells}
        widest = max(sorted(cells, key=lambda cell: (cell[1], cell[0])), key=lambda cell: widths[cell])
        left, top = places[widest]
        room = widths[widest] * unit - 8
        size = max(LEAST_SIZE, min(NAME_SIZE, NAME_SIZE * room / text_width(box.use.name, NAME_SIZE, bold=True)))
        name = shortened(box.use.name, size, room, bold=True)
        yield words(left + 4, top + unit / 2, name, size, colours["ink"], bold=True)


def _width(cells: set[tuple[int, int]], cell: tuple[int, int]) -> int:
    """How many cells of a box lie side by side from this one to the east."""
    x, y = cell
    return next(wide for wide in range(1, len(cells) + 1) if (x + wide, y) not in cells)
