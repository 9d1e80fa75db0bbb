"""Every record of the answers as data: its fields, their types and what they mean, read from records.txt.

A line there is `name: type -- meaning`. Types: text, int, number, bool, cell ([x, y, z]), size ([x, y, z] of a box),
pulse ([step of the first on, duration or null]), change ([step, value]), any; the name of another record; "a|b" one of
these words; [T] a list; {T} an object of any names; T? may be null. `name?` is left out where it says nothing.
`...NAME` takes in the fields of another record; `*` says that there may be fields that are not listed.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

__all__ = ["COMMANDS", "ONE_PLAN", "RECORDS", "Field", "fields_of"]

# Command -> its answers: a type as in a field, of which record, and when.
COMMANDS: dict[str, tuple[tuple[str, str], ...]] = {
    "run": (("run", ""),),
    "measure": (("measure", ""), ("measure_full", "with --full")),
    "check": (("check", ""),),
    "chart": (("chart", ""),),
    "bill": (("bill", ""),),
    "compare": (("compare", ""),),
    "choose": (("choose", ""), ("{[smallest_designs]}", "with --table")),
    "compose": (("compose", ""),),
    "prove": (("prove", ""),),
    "diagnose": (
        ("diagnose", ""),
        ("diagnose_what_if", "with --what-if"),
        ("diagnose_observed", "with --observed"),
        ("diagnose_mend", "with --mend"),
        ("diagnose_ask", "with --ask"),
    ),
    "explain": (("explain", "with a code"), ("[explained]", "without one")),
    "why": (("why", ""),),
    "tune": (("tune", "with --hold"), ("tune_chart", "with --chart")),
    "sweep": (("sweep", ""), ("sweep_left", "with --dry-run")),
    "place": (("place", ""),),
    "characterise": (("characterise", ""),),
    "discover": (("discover", ""),),
    "sheet": (("sheet", ""),),
    "export": (("export", ""),),
    "parts": (("parts", ""),),
    "rules": (
        ("rules", "without a name"),
        ("rules_one", "with a name"),
        ("rules_diff", "with diff"),
        ("rules_fit", "with fit"),
        ("rules_bench", "with bench"),
    ),
    "schema": (("schema", ""),),
    "demo": (("demo", ""),),
}
ONE_PLAN = ("run", "measure", "chart", "bill", "prove", "diagnose", "why", "tune", "export")
"""The commands that answer {"plans": [...]} where they are given several plans or a folder."""
_LINE = re.compile(r"(?P<name>\w+)(?P<optional>\?)?: (?P<type>.+?) -- (?P<meaning>.+)")


class Field(NamedTuple):
    """One field: its name, its type, what it means, and whether it may be left out."""

    name: str
    type: str
    meaning: str
    optional: bool


def _records() -> dict[str, str]:
    text = (Path(__file__).parent / "records.txt").read_text(encoding="utf-8")
    found = re.findall(r"^\[(\w+)\]\n((?:.+\n)*)", text, re.MULTILINE)
    return dict(found)


RECORDS = _records()
"""The text of each record, by its name."""


def fields_of(record: str) -> tuple[list[Field], bool]:
    """The fields of a record, and whether it may have others that are not listed.

    >>> [field.name for field in fields_of("refused_plan")[0]]
    ['plan', 'error']
    """
    fields: list[Field] = []
    is_open = False
    for line in RECORDS[record].split("\n"):
        text = line.strip()
        if text.startswith("..."):
            fields += fields_of(text[3:])[0]
        elif text == "*":
            is_open = True
        elif text:
            found = _LINE.fullmatch(text)
            assert found, f"{record}: {text}"
            fields.append(Field(found["name"], found["type"], found["meaning"], found["optional"] is not None))
    return fields, is_open
