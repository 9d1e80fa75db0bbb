"""Spans that a chart wants of an output from now on, as a proof carries them along, in steps relative to now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple


class Raw(NamedTuple):
    """A span that is wanted, in steps from now: `begin`, `end` (None: for good, or not known yet), with give or take.

    `waits` is the (claim, clause) whose `until` must come for the span to be wanted at all, None if nothing must.
    """

    begin: int
    end: int | None
    begin_within: int
    end_within: int
    waits: tuple[int, int] | None = None


class Running(NamedTuple):
    """A train that goes on until a moment: when its next pulse begins, and when no more do, if that is known."""

    claim: int
    clause: int
    next: int
    until: int | None = None


class Shown(NamedTuple):
    """What is wanted of one output, whether the seen span is the first wanted one, and how long it had no match yet.

    For `grace` steps it may be away from rest as it was at a further press; `slack` is that for what begins in them.
    `missed` are (claim, clause) of spans that were not seen, and are not wanted if their `until` never comes.
    """

    raw: tuple[Raw, ...] = ()
    begun: bool = False
    grace: int = 0
    missed: frozenset[tuple[int, int]] = frozenset()
    slack: int = 0


def in_order(raws: Iterable[Raw]) -> tuple[Raw, ...]:
    """The spans by their beginnings; those with known ends that overlap or touch as one, each edge with its own slack.

    What a span without a known end covers, and is over, is left out: that one ends later.
    """
    known: list[Raw] = []
    waiting: list[Raw] = []
    for raw in sorted(set(raws), key=lambda raw: (raw.begin, -raw.begin_within)):
        last = known[-1] if known else None
        if raw.end is None:
            waiting.append(raw)
        elif last is not None and last.end is not None and raw.begin <= last.end:
            waits = last.waits if last.waits == raw.waits else None
            known[-1] = last._replace(waits=waits)
            if (raw.end, raw.end_within) > (last.end, last.end_within):
                known[-1] = last._replace(end=raw.end, end_within=raw.end_within, waits=waits)
        else:
            known.append(raw)
    for number, one in enumerate(waiting):
        for raw in known:
            if raw.end is not None and raw.begin <= one.begin <= raw.end:
                waiting[number] = one._replace(begin=raw.begin, begin_within=raw.begin_within)
    known = [raw for raw in known if (raw.end or 0) > 0 or not any(one.begin <= raw.begin for one in waiting)]
    return tuple(sorted({*known, *waiting}, key=lambda raw: (raw.begin, raw.end is None, raw.end or 0)))


def merged_first(raws: Sequence[Raw]) -> Raw | None:
    """The first of the wanted spans, with all that overlap or touch it."""
    if not raws:
        return None
    first = raws[0]
    for raw in raws[1:]:
        if first.end is None or raw.begin <= first.end:
            if raw.begin == first.begin:
                first = first._replace(begin_within=max(first.begin_within, raw.begin_within))
            later = first.end is not None and (
                raw.end is None or (raw.end, raw.end_within) > (first.end, first.end_within)
            )
            if later:
                first = first._replace(end=raw.end, end_within=raw.end_within)
    return first
