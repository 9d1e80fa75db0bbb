"""Durations: "12 s" to steps and back. A step is 0.05 s, a tick is two steps, in a world running at full speed."""

from __future__ import annotations

import re
from fractions import Fraction

from tickwright.arguments import checked
from tickwright.errors import DurationError

__all__ = [
    "STEPS_PER_SECOND",
    "STEPS_PER_TICK",
    "duration_text",
    "parse_duration",
    "seconds_number",
    "ticks_text",
    "time_text",
]

STEPS_PER_SECOND = 20
STEPS_PER_TICK = 2

UNITS: dict[str, Fraction] = {
    "ms": Fraction(STEPS_PER_SECOND, 1000),
    "s": Fraction(STEPS_PER_SECOND),
    "min": Fraction(STEPS_PER_SECOND * 60),
    "h": Fraction(STEPS_PER_SECOND * 3600),
    "tick": Fraction(STEPS_PER_TICK),
    "ticks": Fraction(STEPS_PER_TICK),
    "step": Fraction(1),
    "steps": Fraction(1),
}
LONGEST_STEPS = STEPS_PER_SECOND * 3600 * 24 * 366
_WHOLE_UNITS = tuple((unit, float(UNITS[unit] / STEPS_PER_SECOND)) for unit in ("h", "min"))
_FORM = re.compile(r"\s*([0-9]{1,15}(?:\.[0-9]{1,9})?)\s*([A-Za-z]*)\s*")


@checked
def parse_duration(text: str) -> int:
    """Read a duration with its unit (s, ms, min, h, ticks, steps) as a whole number of steps.

    Raises DurationError if the unit is missing or unknown, or if it is not a whole number of steps.

    >>> parse_duration("12 s"), parse_duration("5 ticks"), parse_duration("250 ms")
    (240, 10, 5)
    """
    match = _FORM.fullmatch(text)
    if match is None:
        raise DurationError(f'"{text}" is not a duration: write a number and a unit, such as "12 s" or "5 ticks".')
    number, unit = match.groups()
    if unit not in UNITS:
        what = f'has the unknown unit "{unit}"' if unit else "has no unit"
        raise DurationError(f'The duration "{text}" {what}: use one of {", ".join(UNITS)}, such as "{number} s".')
    steps = Fraction(number) * UNITS[unit]
    if steps > LONGEST_STEPS:
        raise DurationError(f'The duration "{text}" is longer than 366 days, the longest that is simulated.')
    if steps.denominator != 1:
        below = steps.numerator // steps.denominator
        nearest = " or ".join(_in_unit(value, unit) for value in (below, below + 1))
        raise DurationError(f'The duration "{text}" is not a whole number of steps of 0.05 s: use {nearest}.')
    return int(steps)


def _in_unit(steps: int, unit: str) -> str:
    value = Fraction(steps) / UNITS[unit]
    if unit == "step":
        unit = "steps"
    if value.denominator in (1, 2, 4, 5, 10, 20, 50, 100):
        return f'"{float(value):.12g} {unit}"'
    return f'"{steps} steps"'


def duration_text(steps: int, steps_per_second: float = STEPS_PER_SECOND) -> str:
    """Steps as a duration that people read and `parse_duration` takes: whole hours or minutes as such, else seconds.

    >>> duration_text(241), duration_text(24_000), duration_text(144_000), duration_text(0)
    ('12.05 s', '20 min', '2 h', '0 s')
    """
    for unit, seconds in _WHOLE_UNITS:
        number = steps / steps_per_second / seconds
        if number >= 1 and number == int(number):
            return f"{int(number)} {unit}"
    return f"{seconds_number(steps, steps_per_second)} s"


def seconds_number(steps: int, steps_per_second: float = STEPS_PER_SECOND) -> str:
    """Steps as a number of seconds, for an axis.

    >>> seconds_number(241), seconds_number(24_000)
    ('12.05', '1200')
    """
    return f"{steps / steps_per_second:.4f}".rstrip("0").rstrip(".")


def ticks_text(steps: int) -> str:
    """Steps as ticks, for people.

    >>> ticks_text(241), ticks_text(2)
    ('120.5 ticks', '1 tick')
    """
    number = f"{steps / STEPS_PER_TICK:g}" if steps % STEPS_PER_TICK else str(steps // STEPS_PER_TICK)
    return f"{number} {'tick' if number == '1' else 'ticks'}"


def time_text(steps: int | None, steps_per_second: float = STEPS_PER_SECOND) -> str:
    """Steps in words, with their ticks, as pages and messages tell them; "-" for none.

    >>> time_text(21), time_text(None)
    ('1.05 s (10.5 ticks)', '-')
    """
    return "-" if steps is None else f"{duration_text(steps, steps_per_second)} ({ticks_text(steps)})"
