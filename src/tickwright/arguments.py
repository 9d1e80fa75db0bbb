"""Wrong types in calls from Python, refused with a message that says what to give instead."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from typing import NamedTuple, ParamSpec, TypeVar

from tickwright.errors import UsageError

__all__ = ["checked", "checked_fields"]

Given = ParamSpec("Given")
Result = TypeVar("Result")
Record = TypeVar("Record")

# Type -> what it is called in a message. A value is of a type if its class, or one that it is made from, has that name:
# so nothing need be loaded to look at it.
_WHAT = {
    "Brief": 'a Brief, which load_brief("FILE") reads',
    "Cell": "a cell, which is three whole numbers",
    "Decimal": "a Decimal",
    "Finding": "a Finding",
    "None": "None",
    "Observed": "an Observed",
    "Path": "a Path",
    "Plan": 'a Plan, which load("FILE") reads',
    "Point": "a Point, which grid lists",
    "Room": "a Room",
    "RuleSet": "a RuleSet, which load_rules reads",
    "Runs": "a Runs",
    "Stimulus": "a Stimulus",
    "Trace": "a Trace, which run(...).trace is",
    "Wish": "a Wish",
    "bool": "True or False",
    "float": "a number",
    "function": "a function",
    "int": "a whole number",
    "os.PathLike[str]": "a Path",
    "str": "a text",
}
_LISTS = ("Collection", "Iterable", "Sequence", "frozenset", "list")
_SAME = {"Prices": "Mapping[str, Decimal]", "Progress": "function | None"}


class _Need(NamedTuple):
    """What a parameter takes: whether a value is that, and what to say if it is not."""

    fits: Callable[[object], bool]
    told: str


def checked(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """The function with its arguments looked at: plain values, lists and mappings of them, and the types of `_WHAT`.

    A value of another type raises UsageError. Parameters annotated otherwise are not looked at, nor are the items of
    what can be gone over only once.

    >>> @checked
    ... def double(number: int) -> int:
    ...     return 2 * number
    >>> double("3")
    Traceback (most recent call last):
        ...
    tickwright.errors.UsageError: double: number is '3': give a whole number.
    """
    return _looking(function, function.__name__)


def checked_fields(record: type[Record]) -> type[Record]:
    """The class of records with the values of its fields looked at when one is made, as `checked` does.

    >>> from dataclasses import dataclass
    >>> @checked_fields
    ... @dataclass
    ... class Press:
    ...     steps: int
    >>> Press(1.5)
    Traceback (most recent call last):
        ...
    tickwright.errors.UsageError: Press: steps is 1.5: give a whole number.
    """
    setattr(record, "__init__", _looking(record.__init__, record.__name__))  # noqa: B010 - mypy forbids the plain way
    return record


def _looking(function: Callable[Given, Result], name: str) -> Callable[Given, Result]:
    parameters = inspect.signature(function).parameters
    needs = {one.name: _need(str(one.annotation)) for one in parameters.values()}
    order = list(needs)

    @functools.wraps(function)
    def made(*given: Given.args, **named: Given.kwargs) -> Result:
        for parameter, value in (*zip(order, given, strict=False), *named.items()):
            need = needs.get(parameter)
            if need is not None and not need.fits(value):
                raise UsageError(f"{name}: {parameter} is {_short(value)}: give {need.told}.")
        return function(*given, **named)

    return made


def _need(annotation: str) -> _Need | None:
    """What an annotation asks for; None if it names a type that is not looked at."""
    text = _SAME.get(annotation, annotation)
    parts = _split(text, " | ")
    if len(parts) > 1:
        needs = [_need(part) for part in parts]
        if None in needs:
            return None
        known = [need for need in needs if need is not None]
        told = list(dict.fromkeys(need.told for need in known))
        return _Need(lambda value: any(need.fits(value) for need in known), " or ".join(told))
    outer, _, inner = text.partition("[")
    if outer == "Callable":
        return _need("function")
    if outer in _LISTS and inner:
        return _list_need(outer, _need(_split(inner[:-1], ", ")[0]))
    if outer == "tuple" and inner:
        items = _split(inner[:-1], ", ")
        return _list_need(outer, _need(items[0])) if items[-1] == "..." else _tuple_need([*map(_need, items)])
    if outer == "Mapping" and inner:
        return _mapping_need(*map(_need, _split(inner[:-1], ", ")))
    return _Need(lambda value: _is(value, text), _WHAT[text]) if text in _WHAT else None


def _split(text: str, mark: str) -> list[str]:
    """A text split at each mark that stands in no brackets."""
    parts, depth, begun = [], 0, 0
    for at, character in enumerate(text):
        depth += (character == "[") - (character == "]")
        if depth == 0 and text.startswith(mark, at):
            parts.append(text[begun:at])
            begun = at + len(mark)
    return [*parts, text[begun:]]


def _list_need(outer: str, item: _Need | None) -> _Need:
    """A list of items; what an Iterable holds is looked at where that takes nothing out of it."""

    def fits(value: object) -> bool:
        if isinstance(value, (str, bytes)) or not hasattr(value, "__iter__"):
            return False
        if isinstance(value, Mapping) or not hasattr(value, "__len__"):
            return outer == "Iterable"
        return item is None or all(map(item.fits, value))

    return _Need(fits, "a list" + (f" of which each item is {item.told}" if item else ""))


def _tuple_need(items: list[_Need | None]) -> _Need:
    """So many values, each of its own sort."""

    def fits(value: object) -> bool:
        if not isinstance(value, (tuple, list)) or len(value) != len(items):
            return False
        return all(item is None or item.fits(one) for item, one in zip(items, value, strict=True))

    return _Need(fits, "a tuple of " + " and ".join(item.told if item else "a value" for item in items))


def _mapping_need(key: _Need | None, item: _Need | None) -> _Need:
    def fits(value: object) -> bool:
        if not isinstance(value, Mapping):
            return False
        return (key is None or all(map(key.fits, value))) and (item is None or all(map(item.fits, value.values())))

    told = "a dictionary" + (f" in which each key is {key.told}" if key else "")
    return _Need(fits, told + (f"{' and' if key else ' in which'} each value is {item.told}" if item else ""))


def _is(value: object, name: str) -> bool:
    if name == "None" or value is None:
        return value is None and name == "None"
    if name == "function":
        return callable(value)
    if name == "os.PathLike[str]":
        return hasattr(value, "__fspath__")
    if name == "Cell":
        return isinstance(value, (tuple, list)) and len(value) == 3 and all(_is(number, "int") for number in value)
    if isinstance(value, bool):
        return name == "bool"
    return (name == "float" and isinstance(value, int)) or any(kind.__name__ == name for kind in type(value).__mro__)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
