"""Edges that define themselves: rings of claims and machines that wait for each other with no time between."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tickwright.charts.notation import (
    Automaton,
    Claim,
    Event,
    Moment,
    Span,
    Train,
    While,
    clause_moments,
    condition_atoms,
)

Node = tuple[str, str, str]  # name, what happens, the state it is about or ""


class Arrow(NamedTuple):
    """What `goal` waits for: `source`, and then so many steps; the claim and clause that say so, None for a machine."""

    source: Node
    goal: Node
    steps: int
    claim: int | None = None
    clause: int = 0


class Ring(NamedTuple):
    """A ring: what waits for what, and the claim and clause at which it is told."""

    nodes: tuple[Node, ...]
    claim: int
    clause: int

    def __str__(self) -> str:
        said = [f"{name} {what} {state}".strip() for name, what, state in self.nodes]
        return " waits for ".join([*said, said[0]])


def ring_in(claims: Sequence[Claim], machines: Sequence[Automaton] = ()) -> Ring | None:
    """The first ring in which an edge waits for itself with no time, or less, on the way; None if there is none.

    An edge may wait for an earlier edge of its own output: then time passes on the way round.

    >>> from tickwright.charts.notation import Names
    >>> from tickwright.charts.parsing import parse_claim
    >>> names = Names((), ("a", "b"), {})
    >>> texts = ("a: on from b on for 1 s", "b: on from a on for 1 s")
    >>> str(ring_in([parse_claim(text, names) for text in texts]))
    'a on waits for b on waits for a on'
    """
    for number, claim in enumerate(claims):
        for index, clause in enumerate(claim.clauses):
            if isinstance(clause, Span) and clause.until is not None and _ends_by_itself(claim, clause):
                back = (claim.name, "off" if clause.away == "on" else "on", "")
                return Ring((back,), number, index)
    arrows = [*_claim_arrows(claims), *_machine_arrows(machines)]
    into: dict[Node, list[Arrow]] = {}
    for arrow in arrows:
        into.setdefault(arrow.goal, []).append(arrow)
    for start in arrows:
        if start.claim is None:
            continue
        ring = _shortest_ring(start, into)
        if ring is not None:
            return ring
    return None


def _ends_by_itself(claim: Claim, clause: Span) -> bool:
    """Whether a span is to end some time after the next end of its own output, which is its own."""
    moment = clause.until
    event = moment.event if moment is not None else None
    if moment is None or event is None or moment.ordinal is not None or moment.condition is not None:
        return False
    return (event.name, event.what) == (claim.name, "off" if clause.away == "on" else "on")


def _shortest_ring(start: Arrow, into: dict[Node, list[Arrow]]) -> Ring | None:
    """A ring of no time or less through this arrow: the least way from its goal back to it, by Bellman and Ford."""
    least: dict[Node, tuple[int, tuple[Node, ...]]] = {start.source: (start.steps, (start.goal, start.source))}
    if start.source == start.goal:
        return Ring((start.goal,), start.claim or 0, start.clause) if start.steps <= 0 else None
    fresh = [start.source]
    for _ in range(len(into) + 1):
        following: list[Node] = []
        for node in fresh:
            steps, way = least[node]
            for arrow in into.get(node, ()):
                total = steps + arrow.steps
                if arrow.source == start.goal:
                    if total <= 0:
                        return Ring(way, start.claim or 0, start.clause)
                    continue
                if arrow.source in way:
                    continue
                if arrow.source not in least or total < least[arrow.source][0]:
                    least[arrow.source] = (total, (*way, arrow.source))
                    following.append(arrow.source)
        fresh = following
    return None


def _claim_arrows(claims: Sequence[Claim]) -> Iterator[Arrow]:
    for number, claim in enumerate(claims):
        for index, clause in enumerate(claim.clauses):
            if isinstance(clause, While):
                for atom in condition_atoms(clause.condition):
                    for source in _condition_nodes(atom.name, atom.kind, atom.state):
                        for what in ("on", "off"):
                            yield Arrow(source, (claim.name, what, ""), clause.late_steps, number, index)
                continue
            if not isinstance(clause, Span | Train):
                continue
            away = clause.away if isinstance(clause, Span) else "on"
            back = "off" if away == "on" else "on"
            begin, end = (claim.name, away, ""), (claim.name, back, "")
            for source, steps in _sources(clause.begins):
                yield Arrow(source, begin, steps, number, index)
            lasts = clause.lasts_steps if isinstance(clause, Span) else clause.length_steps
            if lasts is not None:
                yield Arrow(begin, end, lasts, number, index)
            moments = clause_moments(clause)
            if len(moments) == 2 and isinstance(clause, Span):
                for source, steps in _sources(moments[1]):
                    yield Arrow(source, end, steps, number, index)


def _sources(moment: Moment) -> Iterator[tuple[Node, int]]:
    if moment.event is not None and moment.event.kind != "trigger":
        yield _node(moment.event), moment.steps


def _node(event: Event) -> Node:
    return (event.name, event.what, event.state or "")


def _condition_nodes(name: str, kind: str, state: str | None) -> list[Node]:
    if kind == "output":
        return [(name, "on", ""), (name, "off", "")]
    return [(name, "enters", state or ""), (name, "leaves", state or "")] if kind == "machine" else []


def _machine_arrows(machines: Sequence[Automaton]) -> Iterator[Arrow]:
    for machine in machines:
        for transition in machine.transitions:
            leaving = [state for state in (transition.states or machine.states) if state != transition.to]
            goals = [(machine.name, "enters", transition.to), *((machine.name, "leaves", state) for state in leaving)]
            event = transition.event
            if event is not None and event.kind != "trigger":
                for goal in goals:
                    yield Arrow(_node(event), goal, 0)
            if transition.after_steps is not None:
                for state in leaving:
                    for goal in goals:
                        yield Arrow((machine.name, "enters", state), goal, transition.after_steps)
