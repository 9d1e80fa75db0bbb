"""Wanted spans and seen ones put beside each other, edge by edge, within each edge's give or take."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tickwright.charts.moments import Wanted
from tickwright.charts.timeline import SpanSteps

MOST_PAIRED = 1_000_000


class Matched(NamedTuple):
    """A wanted span and the seen one that answers it; one of them is None where the other has no partner."""

    wanted: Wanted | None
    seen: SpanSteps | None

    @property
    def kept(self) -> bool:
        """Whether both are there and both edges lie within their give or take."""
        return self.wanted is not None and self.seen is not None and not edge_errors(self.wanted, self.seen)


def edge_errors(wanted: Wanted, seen: SpanSteps) -> tuple[str, ...]:
    """Which edges of the seen span lie too far from the wanted ones: "begin", "end"."""
    wrong = [] if abs(seen[0] - wanted.begin) <= wanted.begin_within else ["begin"]
    if wanted.end is None or seen[1] is None:
        ends_alike = wanted.end == seen[1]
    else:
        ends_alike = abs(seen[1] - wanted.end) <= wanted.end_within
    return tuple(wrong if ends_alike else [*wrong, "end"])


def matched(wanted: Sequence[Wanted], seen: Sequence[SpanSteps]) -> list[Matched]:
    """The spans in pairs, in order of time, so that as few as can be are wrong, and those as little as can be.

    All are kept exactly if there are as many seen as wanted and each answers the one of its number.
    """
    if len(wanted) * len(seen) > MOST_PAIRED or (
        len(wanted) == len(seen) and all(not edge_errors(a, b) for a, b in zip(wanted, seen, strict=True))
    ):
        pairs = [Matched(a, b) for a, b in zip(wanted, seen, strict=False)]
        more_wanted = [Matched(span, None) for span in wanted[len(seen) :]]
        return pairs + more_wanted + [Matched(None, span) for span in seen[len(wanted) :]]
    return _aligned(wanted, seen)


def _aligned(wanted: Sequence[Wanted], seen: Sequence[SpanSteps]) -> list[Matched]:
    """The cheapest pairing in order: a pair in error costs its distance besides, a span without partner one error."""
    rows, columns = len(wanted), len(seen)
    best: list[list[tuple[int, int]]] = [[(column, 0) for column in range(columns + 1)]]
    for row in range(1, rows + 1):
        line = [(row, 0)]
        for column in range(1, columns + 1):
            errors, far = best[row - 1][column - 1]
            wrong, distance = _cost(wanted[row - 1], seen[column - 1])
            pair = (errors + wrong, far + distance)
            missing = (best[row - 1][column][0] + 1, best[row - 1][column][1])
            extra = (line[column - 1][0] + 1, line[column - 1][1])
            line.append(min(pair, missing, extra))
        best.append(line)
    found: list[Matched] = []
    row, column = rows, columns
    while row or column:
        here = best[row][column]
        if row and column:
            wrong, distance = _cost(wanted[row - 1], seen[column - 1])
            errors, far = best[row - 1][column - 1]
            if here == (errors + wrong, far + distance):
                found.append(Matched(wanted[row - 1], seen[column - 1]))
                row, column = row - 1, column - 1
                continue
        if row and here == (best[row - 1][column][0] + 1, best[row - 1][column][1]):
            found.append(Matched(wanted[row - 1], None))
            row -= 1
        else:
            found.append(Matched(None, seen[column - 1]))
            column -= 1
    return found[::-1]


def _cost(wanted: Wanted, seen: SpanSteps) -> tuple[int, int]:
    if not edge_errors(wanted, seen):
        return (0, 0)
    far = abs(seen[0] - wanted.begin)
    if wanted.end is not None and seen[1] is not None:
        far += abs(seen[1] - wanted.end)
    return (1, far)
