"""Differences: what tells two designs apart, in words; the one place that says "this and not that"."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple, Protocol

from tickwright.durations import duration_text

__all__ = ["Differences", "Figures", "tell_apart"]


class Figures(Protocol):
    """What is compared of two designs, or of two plans measured; times in steps, None where it is not known."""

    @property
    def hold_steps(self) -> int | None:
        """First on to last off."""
        ...

    @property
    def error_steps(self) -> int | None:
        """The hold less the one wished for."""
        ...

    @property
    def delay_steps(self) -> int | None:
        """From the press to the first on."""
        ...

    @property
    def minimum_trigger_steps(self) -> int | None:
        """The shortest press that does."""
        ...

    @property
    def recovery_steps(self) -> int | None:
        """From off to when the next press is answered alike."""
        ...

    @property
    def parts(self) -> int:
        """How many."""
        ...

    @property
    def price(self) -> float:
        """What they cost together."""
        ...

    @property
    def box(self) -> tuple[int, int, int]:
        """The cells along x, y and z."""
        ...


class Differences(NamedTuple):
    """What speaks for one design against another, and what against it; each a few words, the weightiest first."""

    better: tuple[str, ...]
    worse: tuple[str, ...]

    @property
    def text(self) -> str:
        """Both in one sentence without its end: "4 parts fewer, but a press must last 0.9 s"."""
        if not self.better and not self.worse:
            return "no difference in any figure"
        if not self.better:
            return f"nothing that is better; {_listed(self.worse)}"
        return _listed(self.better) + (f", but {_listed(self.worse)}" if self.worse else "")


def tell_apart(this: Figures, that: Figures) -> Differences:
    """What speaks for `this` design and not `that` one, and what against it: only figures that are known of both.

    Prices are told where they are not just the number of parts.

    >>> from types import SimpleNamespace as Row
    >>> row = dict(hold_steps=240, error_steps=0, delay_steps=0, recovery_steps=0, price=9.0, box=(3, 2, 2))
    >>> this, that = Row(**row, parts=9, minimum_trigger_steps=18), Row(**row, parts=13, minimum_trigger_steps=7)
    >>> tell_apart(this, that).text
    '4 parts fewer, but a press must last 0.9 s (not 0.35 s)'
    """
    better: list[str] = []
    worse: list[str] = []
    for less, text in _compared(this, that):
        (better if less else worse).append(text)
    return Differences(tuple(better), tuple(worse))


def _compared(this: Figures, that: Figures) -> Iterator[tuple[bool, str]]:
    """Each figure that differs: whether this design has the better one, and what to say of it."""
    for read, say in _FIGURES:
        mine, theirs = read(this), read(that)
        if read is _price and (mine, theirs) == (this.parts, that.parts):
            continue
        if mine is not None and theirs is not None and mine != theirs:
            yield mine < theirs, say(mine, theirs)


def _number(value: float) -> str:
    return f"{value:g}"


def _more_or_fewer(noun: str, more: str, fewer: str) -> Callable[[float, float], str]:
    def say(mine: float, theirs: float) -> str:
        off = abs(mine - theirs)
        return f"{_number(off)} {noun}{'' if off == 1 else 's'} {more if mine > theirs else fewer}"

    return say


def _error(mine: float, theirs: float) -> str:
    if not mine:
        return "exactly the hold wished for"
    return f"a hold that is off by {duration_text(int(mine))}, not {duration_text(int(theirs))}"


def _delay(mine: float, theirs: float) -> str:
    off = duration_text(abs(int(mine) - int(theirs)))
    return f"on {off} {'sooner' if mine < theirs else 'later'}"


def _press(mine: float, theirs: float) -> str:
    if mine > theirs:
        return f"a press must last {duration_text(int(mine))} (not {duration_text(int(theirs))})"
    return f"a press of {duration_text(int(mine))} is enough (not {duration_text(int(theirs))})"


def _recovery(mine: float, theirs: float) -> str:
    off = duration_text(abs(int(mine) - int(theirs)))
    return f"ready for the next press {off} {'sooner' if mine < theirs else 'later'}"


def _box(mine: float, theirs: float) -> str:
    off = abs(int(mine) - int(theirs))
    return f"a box {off} {'cell' if off == 1 else 'cells'} {'smaller' if mine < theirs else 'larger'}"


def _price(row: Figures) -> float:
    return row.price


def _cells(row: Figures) -> int:
    return row.box[0] * row.box[1] * row.box[2]


def _error_size(row: Figures) -> int | None:
    return None if row.error_steps is None else abs(row.error_steps)


_FIGURES: tuple[tuple[Callable[[Figures], float | None], Callable[[float, float], str]], ...] = (
    (_error_size, _error),
    (lambda row: row.parts, _more_or_fewer("part", "more", "fewer")),
    (_price, lambda mine, theirs: f"{_number(abs(mine - theirs))} {'dearer' if mine > theirs else 'cheaper'}"),
    (_cells, _box),
    (lambda row: row.box[2], _more_or_fewer("layer", "higher", "lower")),
    (lambda row: row.minimum_trigger_steps, _press),
    (lambda row: row.delay_steps, _delay),
    (lambda row: row.recovery_steps, _recovery),
)


def _listed(texts: tuple[str, ...]) -> str:
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])}{',' if len(texts) > 2 else ''} and {texts[-1]}"
