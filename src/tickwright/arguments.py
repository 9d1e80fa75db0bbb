"""Wrong types in calls from Python, refused with a message that says what to give instead."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from tickwright.errors import UsageError

__all__ = ["checked"]

Given = ParamSpec("Given")
Result = TypeVar("Result")

_WHAT = {
    "Plan": 'a Plan, which load("FILE") reads',
    "str": "a text",
    "int": "a whole number",
    "bool": "True or False",
    "float": "a number",
    "RuleSet": "a RuleSet, which load_rules reads",
    "None": "None",
}


def checked(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """The function with its plain arguments looked at: Plan, RuleSet, str, int, float, bool, and None where it may be.

    A value of another type raises UsageError. Other annotations are not looked at.

    >>> @checked
    ... def double(number: int) -> int:
    ...     return 2 * number
    >>> double("3")
    Traceback (most recent call last):
        ...
    tickwright.errors.UsageError: double: number is '3': give a whole number.
    """
    signature = inspect.signature(function)
    wanted = {name: _names(parameter.annotation) for name, parameter in signature.parameters.items()}
    order = list(wanted)

    @functools.wraps(function)
    def made(*given: Given.args, **named: Given.kwargs) -> Result:
        for name, value in (*zip(order, given, strict=False), *named.items()):
            names = wanted.get(name, ())
            if names and not _fits(value, names):
                told = " or ".join(_WHAT[one] for one in names)
                raise UsageError(f"{function.__name__}: {name} is {_short(value)}: give {told}.")
        return function(*given, **named)

    return made


def _names(annotation: object) -> tuple[str, ...]:
    """The types that an annotation names, none if it names any that is not looked at."""
    names = tuple(str(annotation).split(" | "))
    return names if all(name in _WHAT for name in names) else ()


def _fits(value: object, names: tuple[str, ...]) -> bool:
    kinds = {kind.__name__ for kind in type(value).__mro__}
    if value is None:
        return "None" in names
    if isinstance(value, bool):
        return "bool" in names
    return any(name in kinds for name in names) or ("float" in names and isinstance(value, int))


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
