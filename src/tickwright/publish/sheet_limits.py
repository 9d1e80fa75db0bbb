"""How much of what is known a printed sheet has room for, and where the rest is to be had."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from tickwright.dossier import Answer
from tickwright.publish.dossier_text import Table

MOST_ROWS = 12  # of one table of measures
MOST_ANSWERS = 24  # rows of figures
MOST_PROMISES = 24
MOST_CHARTS = 8
MOST_REASONED = 6  # outputs of which it is told why they hold
Row = TypeVar("Row")
Kept = TypeVar("Kept")


def answered(answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """Those of presses that do something to the output; all of them if none does."""
    return tuple(answer for answer in answers if answer.measured.kind != "none") or tuple(answers)


def broken_first(verdicts: Iterable[Any]) -> list[Any]:
    """As many promises as a sheet has room for, the broken ones before the others."""
    return sorted(verdicts, key=lambda verdict: bool(verdict.passed))[:MOST_PROMISES]


def rest_note(number: int, most: int, what: str, command: str) -> str:
    """How many are left out, and the command that tells them; "" if all are there.

    >>> rest_note(26, 24, "rows", "measure"), rest_note(24, 24, "rows", "measure")
    ('And 2 more rows: tickwright measure tells them all.', '')
    """
    return f"And {number - most} more {what}: tickwright {command} tells them all." if number > most else ""


def charts_shown(charts: Mapping[str, Kept]) -> tuple[dict[str, Kept], str]:
    """As many charts as there is room for, whole presses; and which of them lie beside the sheet as files alone."""
    names = list(charts)
    most = MOST_CHARTS
    if len(names) > most:  # the charts of one press stay together
        while most and _press(names[most]) == _press(names[most - 1]):
            most -= 1
        most = most or MOST_CHARTS
    rest = names[most:]
    note = f"{len(rest)} more charts lie beside this sheet as files, {rest[0]}.svg to {rest[-1]}.svg." if rest else ""
    return {name: charts[name] for name in names[:most]}, note


def _press(name: str) -> str:
    return name.rpartition("-")[0]


def shortened(table: Table) -> dict[str, Any]:
    """A table with no more rows than a sheet has room for."""
    data: dict[str, Any] = table._asdict()
    note = rest_note(len(data["rows"]), MOST_ROWS, "rows", "measure --full")
    if note:
        data["rows"] = data["rows"][:MOST_ROWS]
        data["notes"] = (*data["notes"], note)
    return data
