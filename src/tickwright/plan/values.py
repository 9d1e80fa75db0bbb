"""Values of a plan file taken as what they must be: a line of text, a table, a list of tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tickwright.places import Places
from tickwright.toml import shown


def read_line(
    value: object, places: Places, what: str, *, longest: int, path: Iterable[str | int], such: str = '"..."'
) -> str:
    """The value, if it is text in one line of printable characters, no longer than that; else a PlanError at `path`."""
    if not isinstance(value, str):
        raise places.error(f"The {what} is {shown(value)}: write it as text in quotes, such as {such}.", *path)
    if len(value) > longest:
        raise places.error(f"The {what} has {len(value):,} characters: the most is {longest:,}.", *path)
    if not value.isprintable():
        raise places.error(f"The {what} is {shown(value)}: it may hold printable characters only.", *path)
    return value


def read_table(data: dict[str, Any], name: str, places: Places) -> dict[str, Any]:
    """The table of that name, empty if the file has none."""
    value = data.get(name, {})
    if not isinstance(value, dict):
        raise places.error(f"{name} is {shown(value)}: it must be a table; write [{name}] on a line of its own.", name)
    return value


def read_tables(data: dict[str, Any], name: str, places: Places) -> list[dict[str, Any]]:
    """The list of tables of that name, empty if the file has none."""
    value = data.get(name, [])
    if not (isinstance(value, list) and all(isinstance(entry, dict) for entry in value)):
        said = "a list with something else than tables" if isinstance(value, list) else shown(value)
        raise places.error(f"{name} is {said}: write [[{name}]], with two brackets, before each one.", name)
    return value
