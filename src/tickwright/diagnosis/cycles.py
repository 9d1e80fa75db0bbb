"""The slowest cycle of a graph: the max-plus mean of a loop, exactly.

An edge costs a weight and takes a time; the ratio of a cycle is the sum of its weights over the sum of its times. In
max-plus algebra the greatest ratio is the eigenvalue of the system: here, how many levels a loop gains (never) or loses
a step when a signal runs round it.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from fractions import Fraction
from typing import NamedTuple


class Arc(NamedTuple):
    """An edge of a graph: from `source` to `target`, with a weight and a time, which is 0 or more."""

    source: Hashable
    target: Hashable
    weight: int
    time: int


def max_cycle_ratio(arcs: Iterable[Arc]) -> tuple[Fraction, tuple[Arc, ...]] | None:
    """The greatest weight over time of all cycles, with a cycle that has it; None if there is no cycle.

    The time of every cycle must be more than 0 (ValueError). It starts at some cycle and, as long as another is better,
    goes over to that one: with reduced weights (weight less ratio times time) a better cycle is one above zero.

    >>> ratio, cycle = max_cycle_ratio([Arc("a", "b", 2, 1), Arc("b", "a", 3, 1), Arc("b", "b", 1, 1)])
    >>> ratio, [arc.source for arc in cycle]
    (Fraction(5, 2), ['a', 'b'])
    """
    edges = list(arcs)
    if not edges:
        return None
    ratio = Fraction(-sum(abs(arc.weight) for arc in edges) - 1)  # below that of every cycle
    best: tuple[Arc, ...] | None = None
    while (cycle := _cycle_above(edges, ratio)) is not None:
        time = sum(arc.time for arc in cycle)
        if time <= 0:
            raise ValueError(f"a cycle takes no time: {[arc.source for arc in cycle]}")
        best, ratio = cycle, Fraction(sum(arc.weight for arc in cycle), time)
    return None if best is None else (ratio, _from_least(best))


def _cycle_above(edges: Sequence[Arc], ratio: Fraction) -> tuple[Arc, ...] | None:
    """A cycle whose reduced weights add up to more than zero (Bellman and Ford's way, for longest paths)."""
    names = {name for arc in edges for name in (arc.source, arc.target)}
    far: dict[Hashable, Fraction] = dict.fromkeys(names, Fraction(0))
    came: dict[Hashable, Arc] = {}
    last: Hashable = None
    for _ in range(len(names) + 1):
        last = None
        for arc in edges:
            reached = far[arc.source] + arc.weight - ratio * arc.time
            if reached > far[arc.target]:
                far[arc.target], came[arc.target], last = reached, arc, arc.target
        if last is None:
            return None
    for _ in names:
        last = came[last].source
    cycle, here = [came[last]], came[last].source
    while here != last:
        cycle.append(came[here])
        here = came[here].source
    return tuple(reversed(cycle))


def _from_least(cycle: tuple[Arc, ...]) -> tuple[Arc, ...]:
    """The same cycle, begun at its least name, so that it is told alike however it was found."""
    start = min(range(len(cycle)), key=lambda number: repr(cycle[number].source))
    return cycle[start:] + cycle[:start]
