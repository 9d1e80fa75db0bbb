"""Plans built in code: each method of a `Building` gives a new plan. `Plan` takes these methods over.

Arguments are looked at where they come in: a wrong type is a PlanError with what to write.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from tickwright.errors import PartError, PlanError, UsageError
from tickwright.kinds import Part, parse_part
from tickwright.plan.cells import with_changes
from tickwright.plan.limits import NAME, check_limits

if TYPE_CHECKING:
    from tickwright.plan.model import Plan
    from tickwright.space import Cell

    Built = TypeVar("Built", bound="Building")

__all__ = ["Building"]

MOST_FILLED = 1_000_000


class Building:
    """What builds a plan step by step; every call gives a new plan and leaves the old one as it is."""

    __slots__ = ()

    @classmethod
    def empty(cls, title: str = "", rules: str = "standard") -> Plan:
        """A plan with nothing in it.

        >>> from tickwright import Plan, measure
        >>> plan = (Plan.empty("Gangway lamp").fill((0, 0, 0), (2, 0, 0), "block")
        ...     .row((0, 0, 1), "short-button", "repeater east delay=2", "lamp")
        ...     .trigger("press", (0, 0, 1)).output("lamp", (2, 0, 1)))
        >>> measure(plan)[0].hold_steps
        24
        """
        _text(title, "title")
        _text(rules, "rules")
        return cls({}, title=title, rules=rules)  # type: ignore[call-arg,return-value]

    def place(self: Built, cell: Cell, part: str | Part) -> Built:
        """The plan with a part in a cell, instead of what stood there; a part is written as in a plan file.

        Raises PlanError for a cell that is none, PartError for a part that is none.

        >>> from tickwright import Plan
        >>> Plan.empty().place((1, 0, 0), "torch").size
        (2, 1, 1)
        >>> Plan.empty().place((1, 0), "torch")
        Traceback (most recent call last):
            ...
        tickwright.errors.PlanError: The cell is (1, 0): write three whole numbers from 0, (x, y, z).
        """
        return self._laid({_cell(cell): _part(part)})

    def row(self: Built, first: Cell, *parts: str | Part | None) -> Built:
        """The plan with parts side by side from a cell eastward; None leaves a cell as it is."""
        x, y, z = _cell(first)
        return self._laid({(x + step, y, z): _part(part) for step, part in enumerate(parts) if part is not None})

    def fill(self: Built, first: Cell, last: Cell, part: str | Part) -> Built:
        """The plan with the same part in every cell of a box, both corners included."""
        ends = list(zip(_cell(first), _cell(last), strict=True))
        spans = [range(min(pair), max(pair) + 1) for pair in ends]
        if len(spans[0]) * len(spans[1]) * len(spans[2]) > MOST_FILLED:
            raise PlanError(f"The box from {first} to {last} has more than {MOST_FILLED:,} cells: fill a smaller one.")
        laid = _part(part)
        return self._laid({(x, y, z): laid for x in spans[0] for y in spans[1] for z in spans[2]})

    def clear(self: Built, cell: Cell) -> Built:
        """The plan without what stands in a cell."""
        return self._laid({_cell(cell): None})

    def trigger(self: Built, name: str, cell: Cell) -> Built:
        """The plan with a named trigger: what a hand presses."""
        return self._with("triggers", name, cell)

    def output(self: Built, name: str, cell: Cell) -> Built:
        """The plan with a named output: what is watched."""
        return self._with("outputs", name, cell)

    def _with(self: Built, table: str, name: str, cell: Cell) -> Built:
        _text(name, "name")
        if not NAME.fullmatch(name):
            raise PlanError(f'The name "{name}" must hold letters, digits, - and _ only, and not too many of them.')
        return replace(self, **{table: {**getattr(self, table), name: _cell(cell)}})  # type: ignore[type-var]

    def _laid(self: Built, cells: dict[Cell, Part | None]) -> Built:
        changed = with_changes(self.cells, cells)  # type: ignore[attr-defined]
        return check_limits(replace(self, cells=changed))  # type: ignore[type-var]

    def _repr_svg_(self) -> str | None:
        """The picture that a notebook shows."""
        from tickwright.looks import look_of

        return look_of(self)


def _cell(value: object) -> Cell:
    numbers = tuple(value) if isinstance(value, list | tuple) else ()
    if len(numbers) != 3 or not all(type(number) is int and number >= 0 for number in numbers):
        raise PlanError(f"The cell is {value!r}: write three whole numbers from 0, (x, y, z).")
    return numbers[0], numbers[1], numbers[2]


def _part(value: object) -> Part:
    if isinstance(value, Part):
        return value
    if not isinstance(value, str):
        raise PartError(f'The part is {value!r}: write it as in a plan file, such as "repeater east delay=2".')
    return parse_part(value)


def _text(value: object, what: str) -> None:
    if not isinstance(value, str):
        raise UsageError(f"The {what} is {value!r}: write a text.")
