"""What the layer view is sent: what stands in each cell as it is drawn, wires as the rules see them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from tickwright import Plan, RuleSet, TickwrightError, load_rules
from tickwright.kinds import PARTS, Part, parse_part, part_text
from tickwright.plan import problems
from tickwright.publish import FROM_EAST, FROM_SOUTH, Shape, cell_shapes, cell_side_shapes
from tickwright.rules import Layout, Stand, around, joins, points
from tickwright.space import Cell
from tickwright.workbench.document import Document
from tickwright.workbench.laying import pinned_notes

MOST_PATCHED = 2_000
EMPTY = -1
Row = tuple[int, int, int, int]  # x, y, z and the number of what is drawn there, or EMPTY
POSTURES = {"rest": "", "out": "extended", "back": "just gone back", "moving": "on its way", "arm": "an arm"}


class Drawn(NamedTuple):
    """How a cell looks and is called: `words` say it; `body` is "block", "panel" or "" for the ground below its shapes.

    `lit` are its shapes while it shows something, `dim` while it shows 0, `shapes` as laid, when it gives `gives`.
    """

    words: str
    kind: str
    gives: int
    body: str
    shapes: tuple[Shape, ...]
    lit: tuple[Shape, ...]
    dim: tuple[Shape, ...]

    def as_data(self) -> dict[str, Any]:
        """As the page reads it."""
        shown: dict[str, Any] = {
            "text": self.words,
            "kind": self.kind,
            "still": PARTS[self.kind].behaviour == "still",
            "holds": bool(PARTS[self.kind].slots),
            "gives": self.gives,
            "body": self.body,
            "shapes": _shape_data(self.shapes),
        }
        for name, shapes in (("lit", self.lit), ("dim", self.dim)):
            if shapes != self.shapes:
                shown[name] = _shape_data(shapes)
        return shown


WAYS = {"south": FROM_SOUTH, "east": FROM_EAST}


def drawn_at(layout: Layout, cell: Cell, plane: str = "above") -> Drawn:
    """How a cell that is not empty is drawn, from above or in a section from the "south" or the "east"."""
    stand = layout.stands[cell]
    part, posture = stand.part, POSTURES[stand.posture]
    words = f"{part_text(part)}, {posture}" if posture else part_text(part)
    if part.behaviour == "wire" and not posture:
        words += f", joins {_sides(joins(layout, cell))}, points {_sides(points(layout, cell))}"
    full = PARTS[part.kind].support is None and not stand.inert
    body = ("block" if layout.conducts(cell) else "panel") if full else ""
    if plane == "above":
        lit, dim = cell_shapes(layout, cell, on=True), cell_shapes(layout, cell)
    else:
        lit, dim = (cell_side_shapes(layout, cell, WAYS[plane], on) for on in (True, False))
    gives = layout.rules.wire.top_level if part.thrown or part.behaviour == "source" else 0
    return Drawn(words, part.kind, gives, body, lit if part.thrown else dim, lit, dim)


def part_data(part: Part, rules: RuleSet, plane: str = "above") -> dict[str, Any]:
    """A part alone, as the part list draws it."""
    cell = (0, 0, 0)
    return {**drawn_at(Layout({cell: Stand(part)}, rules), cell, plane).as_data(), "text": part_text(part)}


class View:
    """The plan as one page has it: each sort of cell is sent once and named by number from then on."""

    def __init__(self) -> None:
        self._numbers: dict[Drawn, int] = {}
        self._sent: dict[Cell, int] = {}
        self._plan = Plan({})
        self._rules = ""

    def whole(self, plan: Plan, rules: RuleSet, trouble: str = "") -> dict[str, Any]:
        """All of the plan, and the layer to begin with: that of the first trigger."""
        self._numbers, self._sent, self._plan = {}, {}, Plan({})
        first = next(iter(plan.triggers.values()), (0, 0, 0))
        return {**self.patch(plan, rules, trouble), "layer": first[2]}

    def patch(self, plan: Plan, rules: RuleSet, trouble: str = "") -> dict[str, Any]:
        """What differs from what was sent last; names, notes and problems are always sent whole.

        `trouble` is what is wrong with the plan's rules, if anything is.
        """
        layout = Layout({cell: Stand(part) for cell, part in plan.cells.items()}, rules)
        sorts, rows = self.rows(layout, self._changed(plan, rules))
        self._plan, self._rules = plan, rules.name
        found = [(0, 0, 0, "error", trouble)] if trouble else []
        found += [(*cell, "error", text) for text, cell, _ in problems(plan, rules)]
        return {
            "sorts": sorts,
            "cells": rows,
            "size": plan.size,
            "names": name_rows(plan),
            "problems": found,
            "notes": [(*cell, text) for cell, text in pinned_notes(plan).items()],
        }

    def rows(self, layout: Layout, cells: Iterable[Cell]) -> tuple[list[dict[str, Any]], list[Row]]:
        """The rows of those of the cells that differ from what was sent, and the sorts that are new with them."""
        new: list[Drawn] = []
        rows: list[Row] = []
        for cell in cells:
            number = EMPTY
            if cell in layout.stands:
                drawn = drawn_at(layout, cell)
                if drawn not in self._numbers:
                    self._numbers[drawn] = len(self._numbers)
                    new.append(drawn)
                number = self._numbers[drawn]
            if self._sent.get(cell, EMPTY) != number:
                rows.append((*cell, number))
                self._sent[cell] = number
        return [drawn.as_data() for drawn in new], rows

    def _changed(self, plan: Plan, rules: RuleSet) -> set[Cell]:
        old = self._plan.cells
        if rules.name != self._rules:
            return {*old, *plan.cells}
        changed = {cell for cell in {**old, **plan.cells} if old.get(cell) != plan.cells.get(cell)}
        if len(changed) > MOST_PATCHED:
            return {*old, *plan.cells}
        return changed | {cell for cell in around(changed, 2) if cell in plan.cells}  # so far reach joins


class SectionView:
    """A section as one page has it: what lies in it, and behind it for the tints, sent whole each time it changes."""

    def __init__(self, plane: str = "south") -> None:
        self.plane = plane
        self._sent: tuple[Any, ...] = ()

    @property
    def axis(self) -> int:
        """The number of the coordinate that is the same in all of the section: 1 for y, 0 for x."""
        return 1 if self.plane == "south" else 0

    def cut(self, plan: Plan, rules: RuleSet, cursor: Cell) -> dict[str, Any] | None:
        """The section through the cursor; None if the page has just that."""
        at = cursor[self.axis]
        cells = {cell: part for cell, part in plan.cells.items() if abs(cell[self.axis] - at) <= 2}
        asked = (self.plane, at, cells, plan.size, dict(plan.triggers), dict(plan.outputs), rules.name)
        if asked == self._sent:
            return None
        self._sent = asked
        layout = Layout({cell: Stand(part) for cell, part in cells.items()}, rules)
        numbers: dict[Drawn, int] = {}
        rows = [
            (*cell, numbers.setdefault(drawn_at(layout, cell, self.plane), len(numbers)))
            for cell in cells
            if cell[self.axis] in (at, at - 1)
        ]
        return {
            "sorts": [drawn.as_data() for drawn in numbers],
            "cells": rows,
            "size": plan.size,
            "names": name_rows(plan),
            "cursor": cursor,
        }


def name_rows(plan: Plan) -> list[tuple[int, int, int, str]]:
    """The names of cells, in words, one row for each named cell."""
    said: dict[Cell, list[str]] = {}
    for what, table in (("trigger", plan.triggers), ("output", plan.outputs)):
        for name, cell in table.items():
            said.setdefault(cell, []).append(f"{what} {name}")
    return [(*cell, ", ".join(words)) for cell, words in said.items()]


def rules_of(document: Document) -> tuple[RuleSet, str]:
    """The plan's rule set; if it cannot be read, the standard one and why."""
    try:
        return load_rules(document.plan.rules, document.path.parent), ""
    except TickwrightError as error:
        return load_rules("standard"), str(error)


def sample_part(kind: str) -> Part:
    """A part of that kind to show, facing east if it must face somewhere."""
    return parse_part(f"{kind} east" if PARTS[kind].direction == "" else kind)


def _sides(sides: tuple[str, ...]) -> str:
    return " and ".join(sides) or "nothing"


def _shape_data(shapes: Iterable[Shape]) -> list[dict[str, Any]]:
    return [shape._asdict() for shape in shapes]
