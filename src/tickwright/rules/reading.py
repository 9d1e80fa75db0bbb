"""Rule sets from TOML files: the two that there are, and files of the user's, each error at its place."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args, get_origin, get_type_hints

import msgspec

from tickwright.arguments import checked
from tickwright.errors import PlanError, RuleSetError, near
from tickwright.kinds import PARTS
from tickwright.places import Places
from tickwright.rules.ruleset import RuleSet, Section
from tickwright.toml import read_text, read_toml, shown

BUILT_IN = ("standard", "older-wire")
LARGEST_RULES_BYTES = 100_000
MOST_BASES = 20
LONGEST_NAME = 64
LONGEST_TITLE = 200
_STEPS = (1, 1_000_000)
_COUNT = (1, 10_000)
_SWITCHES = ("conducts", "carries", "movable")
_LINES = {"name": LONGEST_NAME, "title": LONGEST_TITLE}
_confined: list[Path] = []  # the one folder that rule sets are read from, if there is one


class _File(NamedTuple):
    """A file of rules as it was read."""

    path: Path
    data: dict[str, Any]
    places: Places

    def error(self, message: str, *where: str | int) -> RuleSetError:
        return RuleSetError(message, *self.places.of(*where), path=shown(str(self.path), 200)[1:-1])


def confine_rules(folder: Path | None) -> None:
    """From now on this process reads rule sets from inside this folder alone, links followed; None lifts that.

    For programs that open plans of strangers: a plan names its rules, and could name any file of the system.
    """
    _confined[:] = [] if folder is None else [folder.resolve()]


@checked
def load_rules(name: str = "standard", folder: str | Path | None = None) -> RuleSet:
    """The rule set of that name, or of that TOML file (sought in `folder` first, the plan's own).

    Raises RuleSetError if there is none, or if a value is unknown, of the wrong type or out of range.

    >>> load_rules("older-wire").wire.pointing
    'through'
    """
    if name in BUILT_IN:
        return _built_in(name)
    files, base = _chain(name, folder)
    data = _built_in_data(base)
    for file in reversed(files):
        _check_file(file)
        own = {key: value for key, value in file.data.items() if key != "based_on"}
        data = _merged(data, {"name": shown(file.path.stem, LONGEST_NAME)[1:-1], **own})
    rules = msgspec.convert(data, RuleSet)
    if rules.item.vanish <= rules.item.rest:
        what = f"item.vanish is {rules.item.vanish}, item.rest {rules.item.rest}: a stack must rest before it vanishes."
        raise files[0].error(what, "item")
    return rules


@cache
def _built_in(name: str) -> RuleSet:
    return msgspec.convert(_built_in_data(name), RuleSet)


def _built_in_data(name: str) -> dict[str, Any]:
    data = tomllib.loads((Path(__file__).parent / "data" / f"{name}.toml").read_text("utf-8"))
    base = data.pop("based_on", None)
    return _merged(_built_in_data(base), data) if base else data


def _merged(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    result = dict(under)
    for key, value in over.items():
        old = result.get(key)
        result[key] = {**old, **value} if isinstance(old, dict) and isinstance(value, dict) else value
    return result


# --- files -----------------------------------------------------------------------------------------------------------


def _chain(name: str, folder: str | Path | None) -> tuple[list[_File], str]:
    """The file of that name and those it is based on, the last one first to be based on, and the name below them."""
    files: list[_File] = []
    seen: set[Path] = set()
    base, beside = name, folder
    while base not in BUILT_IN:
        try:
            path = _find(base, beside)
        except RuleSetError as error:
            raise files[-1].error(error.message, "based_on") if files else error from None
        if path.resolve() in seen:
            what = (
                f"based_on = {shown(base)} leads back to a file that is based on this one: it must lead to {_names()}."
            )
            raise files[-1].error(what, "based_on")
        if len(files) == MOST_BASES:
            what = f"This is the {MOST_BASES}th file of a chain of based_on: write all of it into one file."
            raise files[-1].error(what, "based_on")
        seen.add(path.resolve())
        files.append(_read(path))
        base, beside = _base(files[-1]), path.parent
    return files, base


def _find(name: str, folder: str | Path | None) -> Path:
    tries = [Path(folder, name)] if folder is not None else []
    try:
        for path in (*tries, Path(name)):
            if any(not path.resolve().is_relative_to(root) for root in _confined):
                continue
            if path.is_file():
                return path
    except (OSError, RuntimeError, ValueError):
        pass
    where = "in the folder that is open" if _confined else "beside the plan"
    raise RuleSetError(
        f"There is no rule set {shown(name, 100)}.{near(name, BUILT_IN)} It may also be a TOML file {where}."
    )


def _read(path: Path) -> _File:
    said = shown(str(path), 200)[1:-1]
    try:
        text = read_text(path)
        if len(text.encode("utf-8")) > LARGEST_RULES_BYTES:
            raise RuleSetError(f'The file "{said}" is over {LARGEST_RULES_BYTES:,} bytes: it is not a rule set.')
        data, places = read_toml(text)
    except PlanError as error:
        raise RuleSetError(error.message, error.line, error.column, said) from None
    return _File(path, data, places)


def _base(file: _File) -> str:
    base = file.data.get("based_on")
    if base is None:
        raise file.error('A rule set says what it is based on: write, say, based_on = "standard" as its first line.')
    if not isinstance(base, str):
        what = f'based_on is {shown(base)}: write a name or a file in quotes, such as "standard".'
        raise file.error(what, "based_on")
    return base


def _names() -> str:
    return " or ".join(f'"{name}"' for name in BUILT_IN)


# --- what a file may say ---------------------------------------------------------------------------------------------


def _check_file(file: _File) -> None:
    sections = _sections()
    for key, value in file.data.items():
        if key == "based_on":
            continue
        if key in _LINES:
            _check_line(file, key, value)
        elif key not in sections and key not in _SWITCHES:
            known = (*_LINES, "based_on", *sections, *_SWITCHES)
            raise file.error(f"A rule set has no {shown(key)}.{near(key, known)}", key)
        elif not isinstance(value, dict):
            raise file.error(f"{key} is {shown(value)}: it must be a table; write [{key}] on a line of its own.", key)
        elif key in _SWITCHES:
            _check_switches(file, key, value)
        else:
            _check_values(file, key, value, sections[key])


def _check_line(file: _File, key: str, value: object) -> None:
    if not isinstance(value, str):
        raise file.error(f'The {key} is {shown(value)}: write it as text in quotes, such as "...".', key)
    if not value or len(value) > _LINES[key]:
        raise file.error(f"The {key} has {len(value):,} characters: it must have 1 to {_LINES[key]}.", key)
    if not value.isprintable():
        raise file.error(f"The {key} is {shown(value)}: it may hold printable characters only.", key)


def _check_switches(file: _File, table: str, switches: dict[str, Any]) -> None:
    for kind, value in switches.items():
        if kind not in PARTS:
            raise file.error(f"[{table}] names the part {shown(kind)}, which is none.{near(kind, PARTS)}", table, kind)
        if not isinstance(value, bool):
            raise file.error(f"{table}.{kind} is {shown(value)}: write true or false.", table, kind)


def _check_values(file: _File, table: str, values: dict[str, Any], fields: dict[str, Any]) -> None:
    for key, value in values.items():
        if key not in fields:
            raise file.error(f"[{table}] has no {shown(key)}.{near(key, fields)}", table, key)
        rule = _broken_rule(table, key, value, fields[key])
        if rule:
            raise file.error(f"{table}.{key} is {shown(value)}: write {rule}.", table, key)


def _broken_rule(table: str, key: str, value: object, sort: Any) -> str:
    """What a value must be and is not; "" if it is right."""
    if sort is bool:
        return "" if isinstance(value, bool) else "true or false"
    if get_origin(sort) is Literal:
        words = get_args(sort)
        return "" if value in words else " or ".join(f'"{word}"' for word in words)
    low, high = value_range(table, key)
    fine = isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
    return "" if fine else f"a whole number from {low} to {high:,}"


@cache
def _sections() -> dict[str, dict[str, Any]]:
    """The types of the values of each table, by their names."""
    return {
        name: get_type_hints(sort)
        for name, sort in get_type_hints(RuleSet).items()
        if isinstance(sort, type) and issubclass(sort, Section)
    }


def value_range(table: str, key: str) -> tuple[int, int]:
    """The least and the greatest number that a value of a rule set may be.

    >>> value_range("wire", "loss")
    (1, 15)
    """
    if key.startswith("priority"):
        return (-100, 100)
    if table == "wire":
        return (1, 15)
    if table == "container" or key in ("burnout_count", "push_limit"):
        return _COUNT
    if key == "hears_within":
        return (1, 4)
    return _STEPS
