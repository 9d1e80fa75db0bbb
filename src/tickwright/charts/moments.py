"""One solver of moments: when they come in a run, and what spans the clauses of a chart want of it.

`wanted_spans` solves against a run that happened, `solved` against acts alone: there outputs do just what is claimed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from tickwright.charts.machines import watched
from tickwright.charts.notation import (
    Automaton,
    Claim,
    Moment,
    Span,
    Train,
    While,
    condition_atoms,
)
from tickwright.charts.timeline import SpanSteps, Timeline, Wave, wave_of_spans

MOST_ROUNDS = 200
MOST_SPANS = 200_000


class Begun(NamedTuple):
    """A moment's time and, if it has an event, the time of that."""

    step: int
    event_step: int


class Wanted(NamedTuple):
    """A span that claims want: its first step and the first after it (None: for good), and whose edges these are.

    `begin_claim` and `end_claim` are numbers of claims, with the give or take of each edge; `claims` are all that want
    steps of it, `trains` all clauses (claim number, clause number, which beginning) that have a pulse in it.
    """

    begin: int
    end: int | None
    begin_claim: int
    end_claim: int
    begin_within: int
    end_within: int
    claims: frozenset[int]
    trains: frozenset[tuple[int, int, int]] = frozenset()


class EarlySpan(Exception):
    """A span that would begin before time 0, of a clause: which of its claim's, and the step."""

    def __init__(self, claim: Claim, clause: int, step: int) -> None:
        super().__init__(f"begins {-step} steps before time 0")
        self.claim, self.clause, self.step = claim, clause, step


class Circular(Exception):
    """Moments that did not come to rest when solved against acts alone."""


def moment_times(moment: Moment, timeline: Timeline) -> list[Begun]:
    """Every time the moment comes, in the order of its event; one without an event comes once.

    >>> from tickwright.charts.notation import Event
    >>> line = Timeline(100, worked={"press": (5, 45)})
    >>> [begun.step for begun in moment_times(Moment(6, Event("press", "trigger", "worked")), line)]
    [11, 51]
    """
    if moment.event is None:
        return [Begun(moment.steps, moment.steps)]
    times: Sequence[int] = timeline.times(moment.event)
    if moment.ordinal is not None:
        number = moment.ordinal.number
        times = times[number - 1 :: number] if moment.ordinal.every else times[number - 1 : number]
    if moment.condition is not None:
        times = [step for step in times if timeline.holds(moment.condition, step)]
    return [Begun(step + moment.steps, step) for step in times]


def next_time(moment: Moment, after: int, timeline: Timeline) -> int | None:
    """When the moment comes whose event is the next one after the step `after`; None if it never does.

    A moment without an event comes when it comes.
    """
    if moment.event is None:
        return moment.steps
    return next((begun.step for begun in moment_times(moment, timeline) if begun.event_step > after), None)


def first_time(moment: Moment, timeline: Timeline) -> Begun | None:
    """The first time the moment comes."""
    return next(iter(moment_times(moment, timeline)), None)


def claim_spans(claim: Claim, number: int, timeline: Timeline) -> list[Wanted]:
    """The spans that a claim's `from` and `pulses` clauses name in this run, in no order, not yet merged.

    `number` is the claim's own. Raises EarlySpan for one that begins before time 0.
    """
    found: list[Wanted] = []
    for index, clause in enumerate(claim.clauses):
        if not isinstance(clause, Span | Train):
            continue
        for which, begun in enumerate(moment_times(clause.begins, timeline)):
            spans = list(clause_spans(clause, begun, timeline))
            for begin, end in spans:
                if begin < 0:
                    raise EarlySpan(claim, index, begin)
                trains = frozenset([(number, index, which)] if isinstance(clause, Train) else [])
                within = claim.give_or_take_steps
                found.append(Wanted(begin, end, number, number, within, within, frozenset([number]), trains))
    return found


def clause_spans(clause: Span | Train, begun: Begun, timeline: Timeline) -> Iterable[SpanSteps]:
    """The spans that a clause names from one of its beginnings on; none where its end never comes."""
    begin = begun.step
    until = next_time(clause.until, begin, timeline) if clause.until is not None else None
    if isinstance(clause, Span):
        if clause.lasts_steps is not None:
            yield begin, begin + clause.lasts_steps
        elif clause.until is None:
            yield begin, None
        elif until is not None and until > begin:
            yield begin, until
        return
    if clause.number is not None:
        starts: Iterable[int] = (begin + index * clause.every_steps for index in range(clause.number))
    elif until is not None:
        starts = range(begin, until, clause.every_steps)
    else:
        starts = ()
    for start in starts:
        yield start, start + clause.length_steps


def merged(spans: Iterable[Wanted]) -> list[Wanted]:
    """Spans in order of time; those that overlap or touch are one, and each edge keeps its own give or take."""
    found: list[Wanted] = []
    for span in sorted(spans, key=lambda span: (span.begin, -span.begin_within, span.begin_claim)):
        last = found[-1] if found else None
        if last is None or (last.end is not None and span.begin > last.end):
            found.append(span)
            continue
        later = last.end is not None and (span.end is None or (span.end, span.end_within) > (last.end, last.end_within))
        ending = span if later else last
        found[-1] = last._replace(
            end=ending.end,
            end_claim=ending.end_claim,
            end_within=ending.end_within,
            claims=last.claims | span.claims,
            trains=last.trains | span.trains,
        )
    return found


def wanted_spans(claims: Sequence[Claim], timeline: Timeline) -> dict[str, list[Wanted]]:
    """Of each output that spans are claimed of, the merged spans that its claims name in this run."""
    by_output: dict[str, list[Wanted]] = {}
    for number, claim in enumerate(claims):
        if any(isinstance(clause, Span | Train) for clause in claim.clauses):
            by_output.setdefault(claim.name, []).extend(claim_spans(claim, number, timeline))
    return {name: merged(spans) for name, spans in by_output.items()}


def while_wave(clause: While, timeline: Timeline) -> Wave:
    """When an output is to be on that is `on while COND, late by D`; before time 0 as the condition is at rest."""
    late = clause.late_steps
    steps = {0, late}
    for atom in condition_atoms(clause.condition):
        if atom.kind == "machine":
            changes: Iterable[int] = (step for step, _ in timeline.machines[atom.name])
        else:
            waves = timeline.triggers if atom.kind == "trigger" else timeline.outputs
            changes = waves[atom.name].toggles
        steps |= {step + late for step in changes if step + late >= 0}
    toggles: list[int] = []
    before = last = timeline.holds(clause.condition, -1)
    for step in sorted(step for step in steps if step < timeline.steps):
        if timeline.holds(clause.condition, step - late) != last:
            toggles.append(step)
            last = not last
    return Wave(before, tuple(toggles))


def solved(
    claims: Sequence[Claim],
    acts: Mapping[str, Sequence[int]],
    steps: int,
    machines: Sequence[Automaton] = (),
    held_steps: int = 20,
    outputs: Iterable[str] = (),
) -> Timeline:
    """The run in which every output does just what is claimed, when triggers are worked at these steps.

    A trigger is let go `held_steps` after it was worked. Outputs without spans stay at rest, which is on for those that
    are said to go off. Raises Circular if claims wait for each other without end, EarlySpan as `claim_spans`.

    >>> from tickwright.charts.notation import Names
    >>> from tickwright.charts.parsing import parse_claim
    >>> names = Names(("press",), ("gate", "bell"), {})
    >>> texts = ("gate: on from press + 2 s for 12 s", "bell: on from gate on for 1 s")
    >>> claims = [parse_claim(text, names) for text in texts]
    >>> solved(claims, {"press": [0]}, 400).away("bell")
    [(40, 60)]
    """
    rests_on = {claim.name: any(isinstance(c, Span) and c.away == "off" for c in claim.clauses) for claim in claims}
    names = dict.fromkeys((*outputs, *(claim.name for claim in claims if not claim.is_policy)))
    timeline = Timeline(
        steps,
        {name: Wave(rests_on.get(name, False)) for name in names},
        {name: wave_of_spans(_held(times, held_steps)) for name, times in acts.items()},
        {name: tuple(times) for name, times in acts.items()},
        {name: tuple(time + held_steps for time in times) for name, times in acts.items()},
        {name: rests_on.get(name, False) for name in names},
    )
    for _ in range(MOST_ROUNDS):
        timeline = replace(timeline, machines=watched(machines, timeline))
        outputs_now = dict(timeline.outputs)
        for name, spans in wanted_spans(claims, timeline).items():
            kept = [(span.begin, span.end) for span in spans if span.begin < steps][:MOST_SPANS]
            outputs_now[name] = wave_of_spans(kept, rests_on[name])
        for claim in claims:
            for clause in claim.clauses:
                if isinstance(clause, While):
                    outputs_now[claim.name] = wave_of_spans(while_wave(clause, timeline).spans(True, timeline.steps))
        if outputs_now == dict(timeline.outputs):
            return timeline
        timeline = replace(timeline, outputs=outputs_now)
    raise Circular("the claims wait for each other without end")


def _held(times: Sequence[int], held_steps: int) -> list[SpanSteps]:
    spans: list[SpanSteps] = []
    for time in times:
        if spans and spans[-1][1] is not None and time <= spans[-1][1]:
            spans[-1] = (spans[-1][0], time + held_steps)
        else:
            spans.append((time, time + held_steps))
    return spans
