"""A finding: something wrong or worth knowing about a circuit, as data, with what mends it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from tickwright.space import Cell, cell_text

__all__ = [
    "SEVERITIES",
    "Edit",
    "Finding",
    "Repair",
    "told_once",
]

SEVERITIES = ("info", "warning", "error")


class Edit(NamedTuple):
    """One edit of a plan as a value: `tickwright.plan.apply_edits` does it.

    `verb` is "place" (`part`, its text, comes to stand in `cell`), "remove" (of what stands in `cell`), or "move" (all
    in the box from `cell` to `last` goes by `offset`).

    >>> str(Edit("place", (3, 0, 1), "repeater east"))
    'place repeater east at (3, 0, 1)'
    """

    verb: str
    cell: Cell
    part: str | None = None
    last: Cell | None = None
    offset: Cell | None = None

    def __str__(self) -> str:
        if self.verb == "place":
            return f"place {self.part} at {cell_text(self.cell)}"
        if self.verb == "move":
            box = f"{cell_text(self.cell)} to {cell_text(self.last or self.cell)}"
            return f"move {box} by {cell_text(self.offset or (0, 0, 0))}"
        return f"{self.verb} {cell_text(self.cell)}"

    def as_data(self) -> dict[str, Any]:
        """The edit as JSON shows it: only what its verb needs."""
        return {
            name: list(value) if isinstance(value, tuple) else value
            for name, value in self._asdict().items()
            if value is not None
        }


class Repair(NamedTuple):
    """What mends a finding: in words, and as edits of the plan, all of them together.

    `verified` says that it was tried: in a run of the edited plan the finding was gone, no new one had come, and every
    output that had come on still did. Without edits it is advice.
    """

    text: str
    edits: tuple[Edit, ...] = ()
    verified: bool = False

    def as_data(self) -> dict[str, Any]:
        """The repair as JSON shows it."""
        return {"text": self.text, "edits": [edit.as_data() for edit in self.edits], "verified": self.verified}


class Finding(NamedTuple):
    """What was found: `code` names the sort, `cells` and `steps` say where and when, `repair` what to do about it.

    `severity` is one of SEVERITIES; `steps` are step numbers of the run, empty if it holds for the whole run.
    """

    code: str
    severity: str
    message: str
    cells: tuple[Cell, ...] = ()
    steps: tuple[int, ...] = ()
    repair: Repair | None = None

    def as_data(self) -> dict[str, Any]:
        """The finding as plain lists and strings, as JSON shows it."""
        return {
            "code": self.code,
            "severity": self.severity,
            "message": self.message,
            "cells": [list(cell) for cell in self.cells],
            "steps": list(self.steps),
            "repair": self.repair.as_data() if self.repair else None,
        }


def told_once(*lists: Iterable[Finding]) -> list[Finding]:
    """The findings of several lists, each message once: as the last list tells it, which may know a repair.

    >>> advice = Finding("gap", "warning", "A gap.", repair=Repair("Close it."))
    >>> told_once([Finding("gap", "warning", "A gap."), Finding("tie", "info", "A tie.")], [advice])[0].repair.text
    'Close it.'
    """
    return list({finding.message: finding for findings in lists for finding in findings}.values())
