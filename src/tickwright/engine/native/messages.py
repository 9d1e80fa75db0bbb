"""What the library notes of a run, put into words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tickwright.engine.native.packing import KINDS, VERBS
from tickwright.engine.notes import Notes
from tickwright.kinds import a_kind
from tickwright.rules import RuleSet
from tickwright.space import Cell, cell_text

# As enum tw_note_code counts them.
_CODES = (
    "refused-empty", "refused-clear", "refused-arm", "refused-other", "refused-moving", "refused-support",
    "refused-creature", "refused-lies", "refused-full", "refused-none", "broke-lost", "broke-pushed", "blocked-many",
    "blocked-arm", "blocked-moving", "blocked-busy", "blocked-fast", "cannot-pull", "left-behind", "item-lost",
    "burnt-out",
)  # fmt: skip
_REFUSALS = {
    "refused-empty": "the cell is empty now",
    "refused-clear": "the cell is empty",
    "refused-arm": "an arm is there",
    "refused-other": "{kind} is there now",
    "refused-moving": "the {plain} there is on the move",
    "refused-support": "{kind} needs a part that carries it at {there}",
    "refused-creature": "no creature is there",
    "refused-lies": "nothing lies there",
    "refused-full": "it is full",
    "refused-none": "it is empty",
}
_BLOCKED = {
    "blocked-many": "more than {limit} cells stand in a row before it",
    "blocked-arm": "the arm of another piston is at {there}",
    "blocked-moving": "the {other} at {there} is on the move",
    "blocked-busy": "the {other} at {there} cannot be pushed while it is at work",
    "blocked-fast": "the {other} at {there} cannot be pushed",
}


def add_notes(notes: Notes, records: Iterable[Any], rules: RuleSet) -> None:
    """Add what the records say, in their order."""
    left: list[Cell] = []
    for record in records:
        code = _CODES[record.code]
        cell, there = (record.x, record.y, record.z), (record.x2, record.y2, record.z2)
        kind, other = KINDS[record.kind], KINDS[record.kind2]
        at = f"The {kind} at {cell_text(cell)}"
        if code in _REFUSALS:
            why = _REFUSALS[code].format(kind=a_kind(kind), plain=kind, there=cell_text(there))
            message = f'"{VERBS[record.verb]}" at {cell_text(cell)} did nothing: {why}.'
            notes.add("act-refused", "warning", message, (cell,), record.step)
        elif code in _BLOCKED:
            why = _BLOCKED[code].format(limit=rules.piston.push_limit, there=cell_text(there), other=other)
            notes.add("piston-blocked", "warning", f"{at} cannot extend: {why}.", (cell, there), record.step)
        elif code == "broke-lost":
            message = f"{at} broke: it lost the cell that it stands on at {cell_text(there)}."
            notes.add("part-broke", "error", message, (cell,), record.step)
        elif code == "broke-pushed":
            message = f"{at} broke: the {other} at {cell_text(there)} pushed into it."
            notes.add("part-broke", "error", message, (cell,), record.step)
        elif code == "cannot-pull":
            message = f"{at} cannot pull the {other} at {cell_text(there)}."
            notes.add("piston-cannot-pull", "warning", message, (cell, there), record.step)
        elif code == "left-behind":
            left.append(there)
            if record.number == 0:
                _left_behind(notes, at, cell, left, record.step)
                left = []
        elif code == "item-lost":
            items = "1 item" if record.number == 1 else f"{record.number} items"
            message = f"{items} let go at {cell_text(cell)} fell out of the world."
            notes.add("item-lost", "warning", message, (cell,), record.step, "Put a floor or a plate below.")
        else:
            torch = rules.torch
            message = (
                f"{at} went off {torch.burnout_count} times within {torch.burnout_window} steps: it stays dark for "
                f"{torch.burnout_rest} steps."
            )
            notes.add("torch-burns-out", "warning", message, (cell,), record.step)


def _left_behind(notes: Notes, at: str, piston: Cell, left: list[Cell], step: int) -> None:
    where = ", ".join(cell_text(cell) for cell in left)
    message = f"{at} went back before what it pushed had landed: it left the cell at {where} behind."
    notes.add("cell-left-behind", "warning", message, (piston, *left), step)
