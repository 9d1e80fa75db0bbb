"""A change from one plan to the next, small enough to keep every one of them: what undo, redo and the journal hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from tickwright import Expectation, Plan, loads
from tickwright.kinds import Part, parse_part, part_text
from tickwright.plan import Chart, Machine, PlanPort, Use, dumps, own, with_changes, with_uses
from tickwright.space import Cell

CellChange = tuple[Cell, str | None, str | None]  # the cell, the part's text before and after; None where it is empty


class Rest(NamedTuple):
    """All that a plan has of its own but its cells, uses and path."""

    triggers: dict[str, Cell]
    outputs: dict[str, Cell]
    expectations: tuple[Expectation, ...]
    title: str
    rules: str
    source: str | None
    charts: tuple[Chart, ...] | None = None  # None in a journal that knows nothing of them: they stay
    machines: tuple[Machine, ...] | None = None
    part_outputs: frozenset[str] | None = None
    ports: dict[str, PlanPort] | None = None
    nets: dict[str, tuple[Cell, ...]] | None = None


class UseRow(NamedTuple):
    """A module as it is laid, with the text of its plan: it may be edited, and its file not be written yet."""

    plan: str
    at: Cell
    turn: int
    mirror: bool
    name: str
    path: str
    text: str

    def use(self) -> Use:
        """As the plan has it."""
        inside = loads(self.text, self.path, checked=False)
        return Use(self.plan, self.at, self.turn, self.mirror, self.name, inside)


@dataclass(frozen=True, slots=True)
class Change:
    """What an edit changed: cells, the size of the grid, the rest and the uses (None where they stayed as they were).

    The cells are the plan's own: what its modules lay comes with these.
    """

    label: str
    cells: tuple[CellChange, ...]
    sizes: tuple[Cell, Cell]
    rest: tuple[Rest, Rest] | None = None
    uses: tuple[tuple[UseRow, ...], tuple[UseRow, ...]] | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing changed."""
        return not self.cells and self.rest is None and self.uses is None and self.sizes[0] == self.sizes[1]

    def reversed(self) -> Change:
        """The change that takes this one back."""
        cells = tuple((cell, after, before) for cell, before, after in self.cells)
        return Change(self.label, cells, self.sizes[::-1], self.rest and self.rest[::-1], self.uses and self.uses[::-1])

    def on(self, plan: Plan) -> Plan:
        """The plan after the change."""
        changes = {cell: parse_part(after) if after is not None else None for cell, _, after in self.cells}
        rest = self.rest[1]._asdict() if self.rest else {}
        known = {name: value for name, value in rest.items() if value is not None or name == "source"}
        uses = plan.uses if self.uses is None else tuple(row.use() for row in self.uses[1])
        if not plan.uses and not uses:
            return replace(plan, cells=with_changes(plan.cells, changes), size=self.sizes[1], **known)
        bare = replace(own(plan), uses=())
        bare = replace(bare, cells=with_changes(bare.cells, changes), **known)
        return replace(with_uses(replace(bare, size=(0, 0, 0)), uses), size=self.sizes[1])


def change_between(label: str, before: Plan, after: Plan) -> Change:
    """The change that leads from one plan to another.

    >>> a = Plan({(0, 0, 0): parse_part("block")})
    >>> change = change_between("place", a, replace(a, cells={**a.cells, (1, 0, 0): parse_part("lamp")}))
    >>> change.cells, change.reversed().on(change.on(a)) == a
    ((((1, 0, 0), None, 'lamp'),), True)

    Raises PlanError if a part of a module was changed in the whole.
    """
    sizes = (before.size, after.size)
    uses = None if before.uses == after.uses else (_use_rows(before), _use_rows(after))
    before, after = own(before), own(after)
    cells = [
        (cell, _text(before.cells, cell), _text(after.cells, cell))
        for cell in {**before.cells, **after.cells}
        if before.cells.get(cell) != after.cells.get(cell)
    ]
    old, new = _rest(before), _rest(after)
    return Change(label, tuple(cells), sizes, (old, new) if old != new else None, uses)


def _use_rows(plan: Plan) -> tuple[UseRow, ...]:
    return tuple(UseRow(*use[:5], use.inside.path or "", dumps(use.inside)) for use in plan.uses)


def _text(cells: Mapping[Cell, Part], cell: Cell) -> str | None:
    part = cells.get(cell)
    return part_text(part) if part is not None else None


def _rest(plan: Plan) -> Rest:
    return Rest(
        dict(plan.triggers), dict(plan.outputs), plan.expectations, plan.title, plan.rules, plan.source,
        plan.charts, plan.machines, plan.part_outputs, dict(plan.ports), dict(plan.nets),
    )  # fmt: skip
