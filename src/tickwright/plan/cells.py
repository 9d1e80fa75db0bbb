"""The cells of a large plan: a palette of parts and, for every row, a text of codes; a mapping like any other.

A row takes one or two bytes a cell, and nothing is made for each part before somebody asks for that part.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import ItemsView as Items
from collections.abc import Iterable, Iterator, Mapping, ValuesView
from itertools import zip_longest
from typing import Any

from tickwright.kinds import Part
from tickwright.space import Cell

MOST_ALONG: Cell = (4096, 4096, 256)
LARGE_PLAN = 20_000  # parts from which the cells of a plan are kept as codes, and the fast engine pays from the start
EMPTY_CODE = " "
ROW_END = "\n"
FIRST_CODE = 0x21  # the code of the first part of the palette; FIRST_CODE + 1 is that of the second
_UNLIKE = "\x00"

Rows = tuple[str, ...]


def code_of(place: int) -> str:
    """The code of the part at that place of the palette.

    >>> code_of(0), code_of(1)
    ('!', '"')
    """
    return chr(FIRST_CODE + place)


class Cells(Mapping[Cell, Part]):
    """What stands in each cell that is not empty, in the order of layers, rows and columns.

    `palette` holds different parts. `layers[z][y][x]` is the code of the part in a cell, or a space; rows may be short.

    >>> from tickwright.kinds import parse_part
    >>> cells = Cells((parse_part("block"), parse_part("wire")), (("!!",), (' "',)))
    >>> cells[1, 0, 1].kind, (0, 0, 1) in cells, len(cells), list(cells)
    ('wire', False, 3, [(0, 0, 0), (1, 0, 0), (1, 0, 1)])
    """

    __slots__ = ("_far", "_number", "_used", "layers", "palette")

    def __init__(self, palette: tuple[Part, ...], layers: tuple[Rows, ...], number: int | None = None) -> None:
        self.palette = palette
        self.layers = layers
        if number is None:
            number = sum(len(row) - row.count(EMPTY_CODE) for rows in layers for row in rows)
        self._number = number
        self._used: tuple[Part, ...] | None = None
        self._far: Cell | None = None

    @classmethod
    def of(cls, cells: Mapping[Cell, Part]) -> Cells:
        """The same cells as codes; none may lie outside the largest grid."""
        places: dict[Part, str] = {}
        layers: list[list[list[str]]] = []
        for (x, y, z), part in cells.items():
            code = places.get(part) or places.setdefault(part, code_of(len(places)))
            while len(layers) <= z:
                layers.append([])
            rows = layers[z]
            while len(rows) <= y:
                rows.append([])
            row = rows[y]
            if len(row) <= x:
                row += EMPTY_CODE * (x + 1 - len(row))
            row[x] = code
        return cls(tuple(places), tuple(tuple(map("".join, rows)) for rows in layers), len(cells))

    def __reduce__(self) -> tuple[Any, ...]:
        return (Cells, (self.palette, self.layers, self._number))

    def __repr__(self) -> str:
        return f"<{self._number:,} cells of {len(self.palette)} different parts>"

    # --- as a mapping ------------------------------------------------------------------------------------------------

    def _code(self, cell: Cell) -> str:
        x, y, z = cell
        if x < 0 or y < 0 or z < 0:
            return EMPTY_CODE
        try:
            return self.layers[z][y][x]
        except IndexError:
            return EMPTY_CODE

    def __getitem__(self, cell: Cell) -> Part:
        code = self._code(cell)
        if code == EMPTY_CODE:
            raise KeyError(cell)
        return self.palette[ord(code) - FIRST_CODE]

    def __contains__(self, cell: object) -> bool:
        return isinstance(cell, tuple) and self._code(cell) != EMPTY_CODE

    def __len__(self) -> int:
        return self._number

    def __iter__(self) -> Iterator[Cell]:
        for z, rows in enumerate(self.layers):
            for y, row in enumerate(rows):
                for x, code in enumerate(row):
                    if code != EMPTY_CODE:
                        yield (x, y, z)

    def items(self) -> _CellItems:
        """Each cell and its part."""
        return _CellItems(self)

    def values(self) -> _CellValues:
        """The part of each cell."""
        return _CellValues(self)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Cells):
            if not isinstance(other, Mapping):
                return NotImplemented
            return len(other) == len(self) and all(other.get(cell) == part for cell, part in self.items())
        if self.palette == other.palette and self.layers == other.layers:
            return True
        if self._number != other._number:
            return False
        own = {part: code_of(place) for place, part in enumerate(self.palette)}
        table = {ord(code_of(place)): own.get(part, _UNLIKE) for place, part in enumerate(other.palette)}
        return all(
            mine.rstrip(EMPTY_CODE) == theirs.translate(table).rstrip(EMPTY_CODE)
            for rows, others in zip_longest(self.layers, other.layers, fillvalue=())
            for mine, theirs in zip_longest(rows, others, fillvalue="")
        )

    __hash__ = None  # type: ignore[assignment]

    # --- as a whole --------------------------------------------------------------------------------------------------

    @property
    def far(self) -> Cell:
        """How many cells along x, y and z it takes to hold all parts."""
        if self._far is None:
            wide = deep = high = 0
            for z, rows in enumerate(self.layers, 1):
                reach = [len(row.rstrip(EMPTY_CODE)) for row in rows]
                while reach and not reach[-1]:
                    reach.pop()
                if reach:
                    wide, deep, high = max(wide, *reach), max(deep, len(reach)), z
            self._far = (wide, deep, high)
        return self._far

    @property
    def parts(self) -> tuple[Part, ...]:
        """The different parts that stand somewhere, in the order of the palette."""
        if self._used is None:
            codes = {code for rows in self.layers for row in rows for code in set(row)}
            self._used = tuple(part for place, part in enumerate(self.palette) if code_of(place) in codes)
        return self._used

    def counts(self) -> Counter[Part]:
        """How many there are of each part."""
        found: Counter[Part] = Counter()
        for rows in self.layers:
            text = ROW_END.join(rows)
            for place, part in enumerate(self.palette):
                if number := text.count(code_of(place)):
                    found[part] += number
        return found

    def texts(self) -> Iterator[str]:
        """The codes of each layer, the lowest first, with a newline between rows."""
        return (ROW_END.join(rows) for rows in self.layers)

    def changed(self, changes: Mapping[Cell, Part | None]) -> Cells:
        """These cells with others in some places, None for empty; only the rows in which those lie are made anew."""
        places = {part: code_of(place) for place, part in enumerate(self.palette)}
        layers = list(self.layers)
        open_layers: dict[int, list[str]] = {}
        open_rows: dict[tuple[int, int], list[str]] = {}
        number = self._number
        for (x, y, z), part in changes.items():
            code = EMPTY_CODE if part is None else places.setdefault(part, code_of(len(places)))
            layers += [()] * (z + 1 - len(layers))
            rows = open_layers.get(z)
            if rows is None:
                rows = open_layers[z] = list(layers[z])
            rows += [""] * (y + 1 - len(rows))
            row = open_rows.get((y, z))
            if row is None:
                row = open_rows[y, z] = list(rows[y])
            row += EMPTY_CODE * (x + 1 - len(row))
            number += (code != EMPTY_CODE) - (row[x] != EMPTY_CODE)
            row[x] = code
        for (y, z), row in open_rows.items():
            open_layers[z][y] = "".join(row)
        for z, rows in open_layers.items():
            layers[z] = tuple(rows)
        return Cells(tuple(places), tuple(layers), number)


class _CellItems(Items[Cell, Part]):
    def __iter__(self) -> Iterator[tuple[Cell, Part]]:
        cells: Cells = self._mapping  # type: ignore[attr-defined]
        parts = {code_of(place): part for place, part in enumerate(cells.palette)}
        for z, rows in enumerate(cells.layers):
            for y, row in enumerate(rows):
                for x, code in enumerate(row):
                    if code != EMPTY_CODE:
                        yield (x, y, z), parts[code]


class _CellValues(ValuesView[Part]):
    def __iter__(self) -> Iterator[Part]:
        cells: Cells = self._mapping  # type: ignore[attr-defined]
        parts = {code_of(place): part for place, part in enumerate(cells.palette)}
        for rows in cells.layers:
            for row in rows:
                for code in row:
                    if code != EMPTY_CODE:
                        yield parts[code]


def within_grid(cell: Cell) -> bool:
    """Whether a cell lies in the largest grid."""
    return all(0 <= here < most for here, most in zip(cell, MOST_ALONG, strict=True))


def with_changes(cells: Mapping[Cell, Part], changes: Mapping[Cell, Part | None]) -> Mapping[Cell, Part]:
    """Cells with others in some places, None for empty; of a large plan only the rows that change are made anew.

    >>> from tickwright.kinds import parse_part
    >>> wire = parse_part("wire")
    >>> with_changes({(0, 0, 0): wire}, {(0, 0, 0): None, (1, 0, 0): wire})
    {(1, 0, 0): Part(kind='wire', facing=None, delay=1, mode='threshold', counts=1, thrown=False, items=0)}
    """
    if isinstance(cells, Cells) and all(map(within_grid, changes)):
        return cells.changed(changes)
    laid = {**cells, **changes}
    return {cell: part for cell, part in laid.items() if part is not None}


def different_parts(cells: Mapping[Cell, Part]) -> Iterable[Part]:
    """The parts that stand somewhere, each once."""
    return cells.parts if isinstance(cells, Cells) else dict.fromkeys(cells.values())
