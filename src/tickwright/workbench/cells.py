"""What the layer view is sent: each cell's part with the joins and pointing of wires as the rules see them."""

from __future__ import annotations

from typing import Any

from tickwright import Plan, RuleSet, TickwrightError, load_rules
from tickwright.parts import PARTS, Part, part_text
from tickwright.plan import problems
from tickwright.rules import Layout, Stand, around, joins, points
from tickwright.space import HORIZONTAL, Cell
from tickwright.workbench.document import Document
from tickwright.workbench.laying import pinned_notes

CLOCKWISE = ("north", "east", "south", "west")  # the order of the bits of joins and pointings
FULL = {"block": "solid", "lamp": "solid", "insulator": "hollow", "power-block": "hollow"}
MOST_PATCHED = 2_000
EMPTY = -1
Row = tuple[int, int, int, int, int, int]  # x, y, z, number of the part or EMPTY, joins and pointings as bits

assert set(CLOCKWISE) == set(HORIZONTAL)


class View:
    """The plan as one page has it: parts are sent once and named by number from then on."""

    def __init__(self) -> None:
        self._numbers: dict[Part, int] = {}
        self._sent: dict[Cell, tuple[int, int, int]] = {}
        self._plan = Plan({})
        self._rules = ""

    def whole(self, document: Document) -> dict[str, Any]:
        """All of the plan, and the layer to begin with: that of the first trigger."""
        self._numbers, self._sent, self._plan = {}, {}, Plan({})
        first = next(iter(document.plan.triggers.values()), (0, 0, 0))
        return {**self.patch(document), "layer": first[2]}

    def patch(self, document: Document) -> dict[str, Any]:
        """What differs from what was sent last; names, notes and problems are always sent whole."""
        plan, (rules, trouble) = document.plan, rules_of(document)
        cells = self._changed(plan, rules)
        new: list[Part] = []
        layout = Layout({cell: Stand(part) for cell, part in plan.cells.items()}, rules)
        rows: list[Row] = []
        for cell in cells:
            part = plan.cells.get(cell)
            if part is None:
                drawn = (EMPTY, 0, 0)
            else:
                if part not in self._numbers:
                    self._numbers[part] = len(self._numbers)
                    new.append(part)
                wired = part.kind == "wire"
                drawn = (
                    self._numbers[part],
                    _bits(joins(layout, cell)) if wired else 0,
                    _bits(points(layout, cell)) if wired else 0,
                )
            if self._sent.get(cell, (EMPTY, 0, 0)) != drawn:
                rows.append((*cell, *drawn))
                self._sent[cell] = drawn
        self._plan, self._rules = plan, rules.name
        found = [(0, 0, 0, "error", trouble)] if trouble else []
        found += [(*cell, "error", text) for text, cell, _ in problems(plan, rules)]
        return {
            "parts": [part_data(part) for part in new],
            "cells": rows,
            "size": plan.size,
            "names": name_rows(plan),
            "problems": found,
            "notes": [(*cell, text) for cell, text in pinned_notes(plan).items()],
        }

    def _changed(self, plan: Plan, rules: RuleSet) -> set[Cell]:
        old = self._plan.cells
        if rules.name != self._rules:
            return {*old, *plan.cells}
        changed = {cell for cell in {**old, **plan.cells} if old.get(cell) != plan.cells.get(cell)}
        if len(changed) > MOST_PATCHED:
            return {*old, *plan.cells}
        return changed | {cell for cell in around(changed, 2) if cell in plan.cells}  # so far reach joins


def part_data(part: Part) -> dict[str, Any]:
    """A part as the page draws and names it."""
    return {"text": part_text(part), "kind": part.kind, "full": FULL.get(part.kind), "shapes": shapes_of(part)}


def shapes_of(part: Part) -> list[dict[str, Any]]:
    """The shapes of a part's symbol; a box with its first letters."""
    if part.kind in FULL:
        return []
    box = {"form": "area", "points": [(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)], "fill": "paper", "stroke": "ink"}
    return [{**box, "width": 0.04}]


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


def kind_groups() -> list[tuple[str, list[str]]]:
    """The kinds of the parts table in groups for the part list, each kind once."""
    found: dict[str, list[str]] = {"Structure": [], "Hand": [], "Signals": [], "Matter": []}
    for kind in PARTS.values():
        if kind.support is not None:
            group = "Hand" if kind.acts else "Signals"
        elif kind.name == "change-sensor":
            group = "Signals"
        else:
            group = "Matter" if kind.acts or kind.directions else "Structure"
        found[group].append(kind.name)
    return list(found.items())


def _bits(sides: tuple[str, ...]) -> int:
    return sum(1 << CLOCKWISE.index(side) for side in sides)
