"""A suspicion: a finding with what may mend it, before any of that was tried; and the words that findings share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from tickwright.diagnosis.codes import CODES
from tickwright.findings import Edit, Finding, Repair
from tickwright.kinds import Part, part_text
from tickwright.space import Cell


class Suspicion(NamedTuple):
    """A finding, and the repairs that may mend it, the likeliest first; they are made only if they are asked for."""

    finding: Finding
    proposals: Iterable[Repair] = ()


def suspicion(
    code: str, message: str, cells: Iterable[Cell], steps: Iterable[int] = (), proposals: Iterable[Repair] = ()
) -> Suspicion:
    """A suspicion with the severity of its code; each cell is named once."""
    return Suspicion(Finding(code, CODES[code].severity, message, tuple(dict.fromkeys(cells)), tuple(steps)), proposals)


def put(cell: Cell, part: Part | str) -> Edit:
    """The edit that places a part."""
    return Edit("place", cell, part if isinstance(part, str) else part_text(part))


def take(cell: Cell) -> Edit:
    """The edit that removes what stands in the cell."""
    return Edit("remove", cell)


def row_text(cells: Iterable[Cell]) -> str:
    """Cells one after the other, as a way is told."""
    return " - ".join(str(cell) for cell in cells)
