"""The page of answers as data, from the table of records."""

from __future__ import annotations

import re

from tickwright.schemas import ANSWERS_VERSION, COMMANDS, RECORDS, fields_of

OPENING = f"""# Answers as data

With `--json` a command prints one JSON document on standard output and nothing else. This page lists what is in it, and
`tickwright schema answers` prints the same as a JSON Schema. Tests hold every command to it. This is version
{ANSWERS_VERSION}. This number is raised when a field is taken away or gets another meaning. New fields may come at any
time: a program that reads answers should ignore fields that it does not know.

- Steps are whole numbers, twenty to a second of a world at full speed. A field says its unit in its name.
- `text?` and the like may be `null`. `[T]` is a list of `T`, `{{T}}` an object whose values are `T`.
- `cell` is `[x, y, z]`; `size` is how many cells along x, y and z; `change` is `[step, value]`; `pulse` is
  `[step of the first on, duration in steps]`, and the duration is null if it never ends.
- If the input or the usage is wrong the answer is `{{"error": ...}}` ([error](#error)), and the exit code is 2.
- Commands for one plan take several, and folders. Then the answer is `{{"plans": [...]}}`: the answers in order, and
  for a plan that is wrong `{{"plan": ..., "error": ...}}`. `check`, `compare`, `sheet` and `sweep` have one answer for
  all.
"""


FORMS = {"": "", "[]": "a list of ", "{[]}": "an object of lists of "}


def page() -> str:
    """The page: for each command its answers, then every record that they are made of."""
    lines = [OPENING, "## Commands", "", "| command | answer |", "|---|---|"]
    shown: list[str] = []
    for command, answers in COMMANDS.items():
        told = []
        for answer, when in answers:
            (name,) = records_in(answer)
            shown.append(name)
            told.append(f"{FORMS[answer.replace(name, '')]}{link(name)}{f' {when}' if when else ''}")
        lines.append(f"| `{command}` | {'; '.join(told)} |")
    lines += ["", "## Records", ""]
    listed: dict[str, None] = {}
    for name in [*shown, "error"]:
        reach(name, listed)
    for name in listed:
        lines += record_lines(name)
    return "\n".join(lines)


def reach(name: str, listed: dict[str, None]) -> None:
    """List a record, and after it those that it speaks of."""
    if name not in listed:
        listed[name] = None
        for field in fields_of(name)[0]:
            for inner in records_in(field.type):
                reach(inner, listed)


def records_in(text: str) -> list[str]:
    """The records that a type names."""
    return [] if text.startswith('"') else [word for word in re.findall(r"\w+", text) if word in RECORDS]


def record_lines(name: str) -> list[str]:
    """One record as a table."""
    fields, is_open = fields_of(name)
    lines = [f"### {name}", ""]
    if fields:
        lines += ["| field | type | what it is |", "|---|---|---|"]
    for field in fields:
        words = records_in(field.type)
        shown = linked(field.type, words[0]) if words else f"`{field.type}`".replace("|", "\\|")
        note = " (left out where it says nothing)" if field.optional else ""
        lines.append(f"| `{field.name}` | {shown} | {field.meaning}{note} |")
    if is_open:
        lines += ["", "There may be more fields than are listed."] if fields else ["Its fields are not listed."]
    return [*lines, ""]


def linked(text: str, record: str) -> str:
    """A type with its record as a link."""
    before, after = text.split(record, 1)
    return f"{f'`{before}`' if before else ''}{link(record)}{f'`{after}`' if after else ''}"


def link(record: str) -> str:
    """A link to a record."""
    return f"[{record}](#{record})"
