"""A sketch: parts laid cell by cell, at any coordinates, that becomes a plan with what they stand on below them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import cycle

from tickwright.errors import PlanError
from tickwright.kinds import Part, parse_part, support_cell
from tickwright.plan import Plan
from tickwright.space import VECTORS, Cell, beside, cell_text

__all__ = ["LONGEST_DELAY_TICKS", "PRESS", "Sketch", "detour", "direction", "ring", "split_delay", "walk"]

PRESS = "press"
LONGEST_DELAY_TICKS = 4


class Sketch:
    """Cells under construction. `put` refuses to lay two parts in one cell; `plan` shifts all to start at (0, 0, 0).

    >>> sketch = Sketch()
    >>> sketch.put((-1, 0, 1), "short-button")
    >>> sketch.put((0, 0, 1), "lamp")
    >>> plan = sketch.plan("Bell", (-1, 0, 1), {"lamp": (0, 0, 1)})
    >>> plan.triggers["press"], plan.outputs["lamp"], str(plan.cells[0, 0, 0])
    ((0, 0, 1), (1, 0, 1), 'block')
    """

    def __init__(self) -> None:
        self.cells: dict[Cell, Part] = {}

    def put(self, cell: Cell, text: str) -> None:
        """Lay a part, given by its text."""
        if cell in self.cells:
            raise PlanError(f"In {cell_text(cell)} a {text} would come to where a {self.cells[cell].kind} is.")
        self.cells[cell] = parse_part(text)

    def fill(self, cells: Iterable[Cell], text: str) -> None:
        """Lay the same part in several cells."""
        for cell in cells:
            self.put(cell, text)

    def plan(self, title: str, press: Cell, outputs: dict[str, Cell], floor: str = "block") -> Plan:
        """The plan, with a `floor` part below everything that stands on nothing yet; the trigger is named "press"."""
        cells = dict(self.cells)
        for cell, part in self.cells.items():
            needed = support_cell(part, cell)
            if needed is not None and needed not in cells:
                cells[needed] = parse_part(floor)
        x, y, z = map(min, zip(*cells, press, *outputs.values(), strict=True))

        def shifted(cell: Cell) -> Cell:
            return (cell[0] - x, cell[1] - y, cell[2] - z)

        return Plan(
            cells={shifted(cell): part for cell, part in cells.items()},
            triggers={PRESS: shifted(press)},
            outputs={name: shifted(cell) for name, cell in outputs.items()},
            title=title,
        )


def direction(one: Cell, other: Cell) -> str:
    """The direction from a cell to its neighbour.

    >>> direction((0, 0, 1), (0, -1, 1))
    'north'
    """
    return next(name for name in VECTORS if beside(one, name) == other)


def split_delay(ticks: int) -> list[int]:
    """Delays of as few repeaters as make so many ticks, longest first.

    >>> split_delay(9)
    [4, 4, 1]
    """
    whole, rest = divmod(ticks, LONGEST_DELAY_TICKS)
    return [LONGEST_DELAY_TICKS] * whole + ([rest] if rest else [])


def walk(start: Cell, moves: Sequence[tuple[str, int]]) -> Iterator[Cell]:
    """The cells passed from `start`, which is the first, by moves of so many cells each.

    >>> list(walk((0, 0, 1), [("east", 2), ("south", 1)]))
    [(0, 0, 1), (1, 0, 1), (2, 0, 1), (2, 1, 1)]
    """
    yield start
    for way, cells in moves:
        for _ in range(cells):
            start = beside(start, way)
            yield start


def detour(sketch: Sketch, top: Cell, width: int, delays: Sequence[int], north: bool = False) -> None:
    """Repeaters in a detour to the south (or north): out from `top`, across, and back towards the cell `width` east.

    The first hears `top`, which must be a wire; the last faces the goal, so that nothing flows back from there.
    """
    half = (len(delays) + 1) // 2
    x, y, z = top
    sign, out, home = (-1, "north", "south") if north else (1, "south", "north")
    there = [(x, y + sign * row, z) for row in range(1, half + 1)]
    step = 1 if width > 0 else -1
    across = [(column, y + sign * (half + 1), z) for column in range(x, x + width + step, step)]
    back = [(x + width, y + sign * row, z) for row in range(half, 0, -1)]
    spare = len(there) + len(back) - len(delays)
    sketch.fill(there[:spare], "wire")
    sketch.fill(across, "wire")
    for cell, delay in zip((*there[spare:], *back), delays, strict=True):
        sketch.put(cell, f"repeater {out if cell in there else home} delay={delay}")


def ring(sketch: Sketch, cells: Sequence[Cell], parts: Sequence[str]) -> None:
    """A closed path of cells; each part that is not a wire faces the next cell ("comparator" gets its direction)."""
    following = cycle(cells)
    next(following)
    for cell, part in zip(cells, parts, strict=True):
        goal = next(following)
        if part == "wire":
            sketch.put(cell, part)
        else:
            kind, _, rest = part.partition(" ")
            sketch.put(cell, f"{kind} {direction(cell, goal)} {rest}".strip())
