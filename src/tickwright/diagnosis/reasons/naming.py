"""How parts are spoken of: "the repeater", "the third comparator"; never by coordinates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from tickwright.diagnosis.reasons.sentences import Named
from tickwright.kinds import LAMPS, many_of
from tickwright.plan.model import Plan
from tickwright.space import Cell

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def ordinal(number: int) -> str:
    """The number as a place in a row, from 1.

    >>> ordinal(3), ordinal(12), ordinal(22)
    ('third', '12th', '22nd')
    """
    if number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def counted_kinds(kinds: Sequence[str]) -> str:
    """Kinds in the plural where all are of one, else each with its number.

    >>> counted_kinds(["comparator", "comparator"]), counted_kinds(["repeater", "comparator", "comparator"])
    ('comparators', 'one repeater and two comparators')
    """
    numbers = Counter(kinds)
    if len(numbers) == 1:
        return many_of(kinds[0])
    said = [
        f"{_COUNTS[count] if count < len(_COUNTS) else count} {many_of(kind) if count > 1 else kind}"
        for kind, count in numbers.items()
    ]
    return ", ".join(said[:-1]) + f" and {said[-1]}"


class Names:
    """The words for the parts of one plan, given out in the order in which they are first spoken of."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._numbers = Counter(part.kind for part in plan.cells.values())
        self._given: dict[str, list[Cell]] = {}

    def output(self, name: str) -> Named:
        """An output: its name, with an article if it is a lamp with a plain name."""
        cell = self._plan.outputs[name]
        part = self._plan.cells.get(cell)
        lamp = part is not None and part.behaviour == "lamp" and name.isalpha()
        return Named(f"the {name}" if lamp else name, (cell,))

    def part(self, cell: Cell, kind: str | None = None) -> Named:
        """A part by its name if it has one, else by its kind and, where there are several, the order of telling."""
        part = self._plan.cells.get(cell)
        kind = part.kind if part is not None else kind or "cell"
        if kind in LAMPS:
            for name, there in self._plan.outputs.items():
                if there == cell and name.isalpha():
                    return Named(f"the {name}", (cell,))
        if self._numbers[kind] <= 1:
            return Named(f"the {kind}", (cell,))
        self.count([cell])
        return Named(f"the {ordinal(self._given[kind].index(cell) + 1)} {kind}", (cell,))

    def count(self, cells: Iterable[Cell]) -> None:
        """Give parts their numbers in this order, those that have none yet."""
        for cell in cells:
            part = self._plan.cells.get(cell)
            given = self._given.setdefault(part.kind if part is not None else "cell", [])
            if cell not in given:
                given.append(cell)
