"""Pulses of a change list at a threshold, with duration, separation, period and duty, all in steps.

Terms as in IEEE Std 181-2011 and IEC 60469: a pulse departs from a first nominal state, attains a second, and
ultimately returns (IEEE Std 94-1977, 2.2.2). Here the first state is off, below the threshold, and the second is on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from tickwright.errors import UsageError


class Pulse(NamedTuple):
    """One pulse: on at the end of `start` and of the `duration` - 1 steps after it, then off.

    `duration` is None if the pulse had not ended when the run did.
    """

    start: int
    duration: int | None


def pulses(changes: Iterable[tuple[int, int]], *, threshold: int = 1) -> list[Pulse]:
    """The pulses of a change list, in order of time; on means a value of at least `threshold`, which is 1 or more.

    What is on at step 0 was never seen to depart from off: it is a level, not a pulse, and is left out up to its first
    return to off. A pulse that has not ended has no duration; only the last one can be so.

    >>> pulses([(0, 0), (4, 15), (9, 12), (10, 0), (30, 3)])
    [Pulse(start=4, duration=6), Pulse(start=30, duration=None)]
    >>> pulses([(0, 0), (4, 15), (9, 12), (10, 0), (30, 3)], threshold=13)
    [Pulse(start=4, duration=5)]
    """
    if threshold < 1:
        raise UsageError(f"The threshold {threshold} is met by everything, off included: use 1 or more.")
    found: list[Pulse] = []
    start: int | None = None
    off = False  # whether the state before is known to be off
    for step, value in changes:
        on = value >= threshold
        if on and off:
            start = step
        elif not on and start is not None:
            found.append(Pulse(start, step - start))
            start = None
        off = not on
    if start is not None:
        found.append(Pulse(start, None))
    return found


def separations(train: Sequence[Pulse]) -> list[int | None]:
    """The steps from the end of each pulse to the start of the next; None for the last, which has no next.

    >>> separations([Pulse(4, 1), Pulse(8, 1)])
    [3, None]
    """
    gaps = [following.start - pulse.start - pulse.duration for pulse, following in pairwise(train) if pulse.duration]
    return [*gaps, None][: len(train)]


def periods(train: Sequence[Pulse]) -> list[int | None]:
    """The steps from the start of each pulse to the start of the next; None for the last, which has no next edge.

    >>> periods([Pulse(4, 1), Pulse(8, 1)])
    [4, None]
    """
    return [*(following.start - pulse.start for pulse, following in pairwise(train)), None][: len(train)]


def duties(train: Sequence[Pulse]) -> list[float | None]:
    """The duty of each pulse: its duration as a part of its period, above 0 and below 1; None without a period.

    >>> duties([Pulse(4, 1), Pulse(8, 1)])
    [0.25, None]
    """
    return [
        pulse.duration / period if period and pulse.duration else None
        for pulse, period in zip(train, periods(train), strict=True)
    ]
