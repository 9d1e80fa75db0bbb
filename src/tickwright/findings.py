"""A finding: something wrong or worth knowing about a circuit, as data."""

from __future__ import annotations

from typing import Any, NamedTuple

from tickwright.space import Cell

__all__ = [
    "SEVERITIES",
    "Finding",
]

SEVERITIES = ("info", "warning", "error")


class Finding(NamedTuple):
    """What was found: `code` names the sort, `cells` and `steps` say where and when, `repair` what to do about it.

    `severity` is one of SEVERITIES; `steps` are step numbers of the run, empty if it holds for the whole run.
    """

    code: str
    severity: str
    message: str
    cells: tuple[Cell, ...] = ()
    steps: tuple[int, ...] = ()
    repair: str | None = None

    def as_data(self) -> dict[str, Any]:
        """The finding as plain lists and strings, as JSON shows it."""
        return {
            "code": self.code,
            "severity": self.severity,
            "message": self.message,
            "cells": [list(cell) for cell in self.cells],
            "steps": list(self.steps),
            "repair": self.repair,
        }
