"""A change from one plan to the next, small enough to keep every one of them: what undo, redo and the journal hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from tickwright import Expectation, Plan
from tickwright.kinds import Part, parse_part, part_text
from tickwright.plan import Chart, Machine, with_changes
from tickwright.space import Cell

CellChange = tuple[Cell, str | None, str | None]  # the cell, the part's text before and after; None where it is empty


class Rest(NamedTuple):
    """All of a plan but its cells and path."""

    triggers: dict[str, Cell]
    outputs: dict[str, Cell]
    expectations: tuple[Expectation, ...]
    title: str
    rules: str
    source: str | None
    charts: tuple[Chart, ...] | None = None  # None in a journal that knows nothing of them: they stay
    machines: tuple[Machine, ...] | None = None
    part_outputs: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """What an edit changed: cells, the size of the grid, and the rest (None where it stayed as it was)."""

    label: str
    cells: tuple[CellChange, ...]
    sizes: tuple[Cell, Cell]
    rest: tuple[Rest, Rest] | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing changed."""
        return not self.cells and self.rest is None and self.sizes[0] == self.sizes[1]

    def reversed(self) -> Change:
        """The change that takes this one back."""
        cells = tuple((cell, after, before) for cell, before, after in self.cells)
        return Change(self.label, cells, self.sizes[::-1], self.rest and self.rest[::-1])

    def on(self, plan: Plan) -> Plan:
        """The plan after the change."""
        changes = {cell: parse_part(after) if after is not None else None for cell, _, after in self.cells}
        cells = with_changes(plan.cells, changes)
        rest = self.rest[1]._asdict() if self.rest else {}
        known = {name: value for name, value in rest.items() if value is not None or name == "source"}
        return replace(plan, cells=cells, size=self.sizes[1], **known)


def change_between(label: str, before: Plan, after: Plan) -> Change:
    """The change that leads from one plan to another.

    >>> a = Plan({(0, 0, 0): parse_part("block")})
    >>> change = change_between("place", a, replace(a, cells={**a.cells, (1, 0, 0): parse_part("lamp")}))
    >>> change.cells, change.reversed().on(change.on(a)) == a
    ((((1, 0, 0), None, 'lamp'),), True)
    """
    cells = [
        (cell, _text(before.cells, cell), _text(after.cells, cell))
        for cell in {**before.cells, **after.cells}
        if before.cells.get(cell) != after.cells.get(cell)
    ]
    old, new = _rest(before), _rest(after)
    return Change(label, tuple(cells), (before.size, after.size), (old, new) if old != new else None)


def _text(cells: Mapping[Cell, Part], cell: Cell) -> str | None:
    part = cells.get(cell)
    return part_text(part) if part is not None else None


def _rest(plan: Plan) -> Rest:
    return Rest(
        dict(plan.triggers), dict(plan.outputs), plan.expectations, plan.title, plan.rules, plan.source,
        plan.charts, plan.machines, plan.part_outputs,
    )  # fmt: skip
