"""Edges of claims as things to be moved: where they lie in a run, and the text of a claim when one lies elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from tickwright.charts.moments import clause_spans, moment_times
from tickwright.charts.notation import Claim, Names, Span, Train
from tickwright.charts.parsing import Figure, figures_of
from tickwright.charts.timeline import Timeline
from tickwright.durations import STEPS_PER_TICK, duration_text
from tickwright.errors import UsageError

Side = Literal["begin", "end"]
MOST_EDGES = 200


class Edge(NamedTuple):
    """An edge that a clause of a claim wants of an output, at `step` from time 0.

    `claim` and `clause` are numbers from 0, `nth` says which of the clause's beginnings it belongs to; `least` and
    `most` are the steps between which it may be moved (None: as far as one likes).
    """

    output: str
    claim: int
    clause: int
    side: Side
    nth: int
    step: int
    least: int
    most: int | None


def edges_of(claims: Sequence[Claim], timeline: Timeline) -> list[Edge]:
    """The edges that the clauses of a chart want in this run, each span by itself, those of the first pulse of a train.

    At most 200 of them, in the order of the claims.

    >>> from tickwright.charts.parsing import parse_claim
    >>> claim = parse_claim("lamp: on from press + 2 steps for 5 steps", Names(("press",), ("lamp",), {}))
    >>> [(edge.side, edge.step) for edge in edges_of([claim], Timeline(60, worked={"press": (10,)}))]
    [('begin', 12), ('end', 17)]
    """
    found: list[Edge] = []
    for number, claim in enumerate(claims):
        for index, clause in enumerate(claim.clauses):
            if not isinstance(clause, Span | Train):
                continue
            for nth, begun in enumerate(moment_times(clause.begins, timeline)):
                begin, end = next(iter(clause_spans(clause, begun, timeline)), (begun.step, None))
                if not 0 <= begin < timeline.steps or len(found) >= MOST_EDGES:
                    continue
                whole = isinstance(clause, Train)
                last = None if whole or end is None else end - 1
                found.append(Edge(claim.name, number, index, "begin", nth, begin, 0, last))
                if end is not None and end <= timeline.steps:
                    most = begin + clause.every_steps - 1 if isinstance(clause, Train) and clause.every_steps else None
                    found.append(Edge(claim.name, number, index, "end", nth, end, begin + 1, most))
    return found


def moved(text: str, names: Names, clause: int, side: Side, by_steps: int) -> str:
    """The text of a claim with an edge of one of its clauses so many steps later; all else stays as it is written.

    The beginning of a span that lasts for a duration moves alone: its end stays. The beginning of a train moves the
    whole of it. Raises UsageError if nothing would be left of the span, NotationError if the text cannot be read.

    >>> names = Names(("press",), ("lamp",), {})
    >>> moved("lamp: on from press + 2 s for 5 s, give or take 1 tick", names, 0, "begin", 4)
    'lamp: on from press + 2.2 s for 4.8 s, give or take 1 tick'
    >>> moved("lamp: on from press until press released", names, 0, "end", -3)
    'lamp: on from press until press released - 0.15 s'
    """
    mine = {one.role: one for one in figures_of(text, names) if one.clause == clause}
    changes: dict[str, int] = {}
    if side == "begin" and "begins" in mine:
        changes["begins"] = mine["begins"].steps + by_steps
        if "lasts" in mine:
            changes["lasts"] = mine["lasts"].steps - by_steps
    elif side == "end":
        ends = [role for role in mine if role in ("lasts", "length", "until")]
        if not ends:
            raise UsageError(f'"{text}" has no end there that could be moved.')
        changes[ends[0]] = mine[ends[0]].steps + by_steps
    for role, steps in changes.items():
        figure = mine[role]
        if role in ("lasts", "length") and steps < 1:
            raise UsageError("A span lasts at least one step: move the edge the other way.")
        if steps < 0 and not figure.after_event:
            raise UsageError("Nothing comes before time 0: move the edge the other way.")
    for role, steps in sorted(changes.items(), key=lambda item: -mine[item[0]].start):
        figure = mine[role]
        text = text[: figure.start] + _said(figure, steps, text[figure.start : figure.stop]) + text[figure.stop :]
    return text


def _said(figure: Figure, steps: int, before: str) -> str:
    """The time in words, in the unit that stood there if that is ticks or steps and says it exactly."""
    words = duration_text(abs(steps))
    unit = before.rsplit(maxsplit=1)[-1] if before.split() else ""
    if unit in ("step", "steps"):
        words = f"{abs(steps)} step{'s' if abs(steps) != 1 else ''}"
    elif unit in ("tick", "ticks") and steps % STEPS_PER_TICK == 0:
        ticks = abs(steps) // STEPS_PER_TICK
        words = f"{ticks} tick{'s' if ticks != 1 else ''}"
    if not figure.after_event:
        return words if steps else "0"
    return f" {'+' if steps > 0 else '-'} {words}" if steps else ""
