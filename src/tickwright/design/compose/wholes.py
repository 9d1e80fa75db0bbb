"""Spans in the steps of the memories that make them."""

from __future__ import annotations

from dataclasses import dataclass

from tickwright.design.compose.moments import At, Away
from tickwright.design.compose.tiles import LAMP_OFF, TORCH, start_step


@dataclass(frozen=True, slots=True)
class Shift:
    """How much later than its memory an output shows the beginning and the end of a span."""

    begin: int
    end: int


def shift_of(drives: str, rests_on: bool) -> Shift:
    """The delays of what drives an output.

    >>> shift_of("lamp", False), shift_of("lamp", True)
    (Shift(begin=0, end=4), Shift(begin=6, end=2))
    """
    on = {"line": 0, "lamp": 0, "piston-door": 0}[drives]
    off = {"line": 0, "lamp": LAMP_OFF, "piston-door": 2}[drives]
    return Shift(off + TORCH, on + TORCH) if rests_on else Shift(on, off)


@dataclass(frozen=True, slots=True)
class Whole:
    """A span in the steps of the memory that makes it."""

    begin: At
    end: At | None
    away: Away


def early_spare(one: Whole) -> int:
    """Steps to spare for the reset of an early output; plenty if another trigger or nothing ends it."""
    if one.end is None or one.end.trigger != one.begin.trigger:
        return 24
    return one.end.steps - 4 - start_step(one.begin.steps) - 2


def length_of(one: Whole) -> int | None:
    """How long a span lasts in its memory, if it begins and ends by one trigger."""
    return one.end.steps - one.begin.steps if one.end is not None and one.end.trigger == one.begin.trigger else None


def ends_of(one: Whole) -> tuple[str, str | None]:
    """The triggers that begin and end a span."""
    return one.begin.trigger, one.end.trigger if one.end else None
