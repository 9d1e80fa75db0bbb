"""From a run to verdicts: which claims of a chart it kept, what was wanted, what was seen, and the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from tickwright.charts.matching import Matched, edge_errors, matched
from tickwright.charts.moments import Wanted, wanted_spans, while_wave
from tickwright.charts.notation import Claim, Level, Never, Span, Train, While, clause_moments, names_in
from tickwright.charts.timeline import Changes, SpanSteps, Timeline, Wave
from tickwright.durations import duration_text
from tickwright.engine.trace import Trace


@dataclass(frozen=True, slots=True)
class ClaimVerdict:
    """Whether one claim was kept. `wanted` and `seen` are spans in steps from time 0, (first, first after or None).

    `follows` names an output that the claim refers to and that broke a claim itself. `detail` says what differs; it is
    empty for a claim that is kept. `script` holds acts of the hand in `--do` form, from time 0, that show the failure.
    """

    name: str
    claim: str
    passed: bool
    wanted: tuple[SpanSteps, ...] = ()
    seen: tuple[SpanSteps, ...] = ()
    follows: str | None = None
    detail: str = ""

    def as_data(self) -> dict[str, Any]:
        """The verdict as JSON shows it."""
        data = {name: getattr(self, name) for name in self.__slots__}
        return data | {"wanted": list(map(list, self.wanted)), "seen": list(map(list, self.seen))}


class _Faults:
    """What is wrong with the claims of a chart, by the claim's number."""

    def __init__(self, number: int) -> None:
        self.of: list[list[str]] = [[] for _ in range(number)]

    def add(self, claim: int, text: str) -> None:
        if text not in self.of[claim]:
            self.of[claim].append(text)


def judge(claims: Sequence[Claim], timeline: Timeline) -> list[ClaimVerdict]:
    """Hold the claims of outputs against a run; a verdict for each claim, policies left to others as kept.

    Raises EarlySpan for a span that would begin before time 0.

    >>> from tickwright.charts.notation import Names
    >>> from tickwright.charts.parsing import parse_claim
    >>> from tickwright.charts.timeline import Wave
    >>> claim = parse_claim("lamp: on from press + 2 steps for 5 steps", Names(("press",), ("lamp",), {}))
    >>> run = Timeline(60, {"lamp": Wave(False, (2, 9))}, worked={"press": (0,)})
    >>> verdict = judge([claim], run)[0]
    >>> verdict.passed, verdict.detail
    (False, 'on 0.35 s instead of 0.25 s: off at 0.45 s instead of 0.35 s, 2 steps late')
    """
    faults = _Faults(len(claims))
    wanted_of = wanted_spans(claims, timeline)
    spans_by_claim: list[tuple[SpanSteps, ...]] = [() for _ in claims]
    seen_by_claim: list[tuple[SpanSteps, ...]] = [() for _ in claims]
    for number, claim in enumerate(claims):
        if claim.is_policy:
            continue
        seen_by_claim[number] = tuple(_seen_for(claim, timeline))
        if claim.name in wanted_of:
            mine = [span for span in wanted_of[claim.name] if number in span.claims]
            spans_by_claim[number] = tuple((span.begin, span.end) for span in mine)
        _judge_alone(claim, number, timeline, faults, spans_by_claim)
        _judge_named(claim, number, timeline, wanted_of.get(claim.name, []), faults)
    for name, wanted in wanted_of.items():
        of = [number for number, claim in enumerate(claims) if claim.name == name and _names_spans(claim)]
        if any(claims[number].otherwise_free for number in of):
            _judge_inside(wanted, timeline, name, faults)
        else:
            _judge_spans(wanted, timeline, name, of[0], faults)
    verdicts = [
        ClaimVerdict(
            claim.name,
            claim.text,
            not faults.of[number],
            spans_by_claim[number],
            seen_by_claim[number],
            None,
            "; ".join(faults.of[number][:4]) + ("; ..." if len(faults.of[number]) > 4 else ""),
        )
        for number, claim in enumerate(claims)
    ]
    return with_follows(claims, verdicts)


def wanted_trace(timeline: Timeline, verdicts: Sequence[ClaimVerdict]) -> Trace:
    """What outputs showed, and below each of which something is wanted when that is, as a trace."""
    changes: dict[str, Changes] = {}
    for name, pairs in timeline.trace().changes.items():
        changes[name] = pairs
        spans = sorted({span for verdict in verdicts if verdict.name == name for span in verdict.wanted})
        if spans:
            wave = Wave(False, tuple(step for span in spans for step in span if step is not None))
            toggles = [step for step in wave.toggles if 0 < step < timeline.steps]
            changes[f"{name} wanted"] = ((0, 15 * wave.at(0)), *((step, 15 * wave.at(step)) for step in toggles))
    return Trace(timeline.steps, changes)


def with_follows(claims: Sequence[Claim], verdicts: Sequence[ClaimVerdict]) -> list[ClaimVerdict]:
    """The verdicts, each failed one that refers to another output with a failed claim saying so."""
    failed = {verdict.name for verdict, claim in zip(verdicts, claims, strict=True) if not verdict.passed}
    told = []
    for claim, verdict in zip(claims, verdicts, strict=True):
        others = [name for name, kind in names_in(claim).items() if kind == "output" and name != claim.name]
        follows = next((name for name in others if name in failed), None)
        told.append(replace(verdict, follows=follows) if not verdict.passed and follows else verdict)
    return told


def _names_spans(claim: Claim) -> bool:
    return any(isinstance(clause, Span | Train) for clause in claim.clauses)


def _seen_for(claim: Claim, timeline: Timeline) -> list[SpanSteps]:
    """The spans of the output that the claim is about."""
    first = claim.clauses[0]
    if isinstance(first, Never):
        return timeline.outputs[claim.name].spans(first.state == "on", timeline.steps)
    if isinstance(first, While | Level):
        return timeline.outputs[claim.name].spans(True, timeline.steps)
    return timeline.away(claim.name)


def _judge_alone(
    claim: Claim, number: int, timeline: Timeline, faults: _Faults, spans: list[tuple[SpanSteps, ...]]
) -> None:
    """The clauses that name no spans, and `on while`."""
    wave = timeline.outputs[claim.name]
    for clause in claim.clauses:
        if isinstance(clause, Never):
            found = wave.spans(clause.state == "on", timeline.steps)
            if found:
                more = f", and {len(found) - 1} more times" if len(found) > 1 else ""
                faults.add(number, f"{clause.state} {_span_text(found[0])}{more}, but never wanted so")
        elif isinstance(clause, Level):
            for step, value in timeline.levels.get(claim.name, ()):
                wrong = value < clause.level if clause.at_least else value > clause.level
                if value > 0 and wrong and 0 <= step < timeline.steps:
                    limit = f"at {'least' if clause.at_least else 'most'} {clause.level}"
                    faults.add(number, f"level {value} at {_at(step)} instead of {limit}")
                    break
        elif isinstance(clause, While):
            wanted = while_wave(clause, timeline)
            spans[number] = tuple(wanted.spans(True, timeline.steps))
            _judge_while(claim, number, wanted, timeline, faults)


def _judge_while(claim: Claim, number: int, wave: Wave, timeline: Timeline, faults: _Faults) -> None:
    """Spans away from rest against those seen: so what is given or taken at time 0 moves an edge there, too."""
    within, steps = claim.give_or_take_steps, timeline.steps
    rests_on = timeline.rests_on.get(claim.name, False)
    away = not rests_on if wave.before == rests_on else True
    said = "on" if away else "off"
    wanted, seen = _ends_within(wave.spans(away, steps), timeline.outputs[claim.name].spans(away, steps), within, steps)
    spans = [Wanted(begin, end, number, number, within, within, frozenset([number])) for begin, end in wanted]
    for pair in matched(spans, seen):
        if not pair.kept:
            faults.add(number, _difference(pair, timeline, said))


def _ends_within(
    wanted: list[SpanSteps], seen: list[SpanSteps], within: int, steps: int
) -> tuple[list[SpanSteps], list[SpanSteps]]:
    """Both lists, with what the end of the run hides taken as the other list has it, where the give or take allows."""
    if within:
        if len(wanted) == len(seen) + 1 and wanted[-1][0] + within >= steps:
            wanted = wanted[:-1]
        elif len(seen) == len(wanted) + 1 and seen[-1][0] + within >= steps:
            seen = seen[:-1]
    if within and wanted and seen and len(wanted) == len(seen):
        want_end, see_end = wanted[-1][1], seen[-1][1]
        if want_end is None and see_end is not None and see_end + within >= steps:
            wanted = [*wanted[:-1], (wanted[-1][0], see_end)]
        elif see_end is None and want_end is not None and want_end + within >= steps:
            seen = [*seen[:-1], (seen[-1][0], want_end)]
    return wanted, seen


def _judge_named(claim: Claim, number: int, timeline: Timeline, wanted: list[Wanted], faults: _Faults) -> None:
    """What is wrong with a claim's clauses before any span is looked at: the wrong way round, or nothing named."""
    if not _names_spans(claim):
        return
    rests_on = timeline.rests_on.get(claim.name, False)
    for clause in claim.clauses:
        if isinstance(clause, Span | Train):
            away = clause.away if isinstance(clause, Span) else "on"
            if (away == "on") == rests_on:
                other = "off" if rests_on else "on"
                faults.add(number, f"rests {'on' if rests_on else 'off'}: write {other} from")
    if not any(number in span.claims for span in wanted):
        faults.add(number, "not tried: " + _why_none(claim, timeline))


def _why_none(claim: Claim, timeline: Timeline) -> str:
    """Which moment never came."""
    for clause in claim.clauses:
        for moment in clause_moments(clause):
            event = moment.event
            if event is None:
                continue
            times = timeline.times(event)
            if not times:
                past = {
                    "worked": f"{event.name} was never worked",
                    "released": f"{event.name} was never released",
                    "on": f"{event.name} never came on",
                    "off": f"{event.name} never went off",
                    "enters": f"{event.name} never entered {event.state}",
                    "leaves": f"{event.name} never left {event.state}",
                }
                return past[event.what]
            if moment.ordinal is not None and len(times) < moment.ordinal.number:
                many = "once" if len(times) == 1 else f"{len(times)} times"
                return f"{event} came only {many}"
            if moment.condition is not None and not any(timeline.holds(moment.condition, step) for step in times):
                return f"the condition never held at {event}"
    return "its end never came after its beginning"


def _judge_spans(wanted: list[Wanted], timeline: Timeline, name: str, first: int, faults: _Faults) -> None:
    """Exactly the wanted spans, each edge within its give or take."""
    away = "off" if timeline.rests_on.get(name, False) else "on"
    for pair in matched(wanted, timeline.away(name)):
        if pair.wanted is None:
            faults.add(first, _difference(pair, timeline, away))
            continue
        late = pair.wanted.end is not None and pair.wanted.end >= timeline.steps
        if pair.kept and not late:
            continue
        text = _difference(pair, timeline, away)
        wrong = edge_errors(pair.wanted, pair.seen) if pair.seen is not None else ()
        owners = {
            *([pair.wanted.begin_claim] if "begin" in wrong else []),
            *([pair.wanted.end_claim] if "end" in wrong or late else []),
        }
        for owner in owners or pair.wanted.claims:
            faults.add(owner, text)


def _judge_inside(wanted: list[Wanted], timeline: Timeline, name: str, faults: _Faults) -> None:
    """With `otherwise free`: away from rest inside the spans, at rest in the gaps of trains, edges left out."""
    rests_on = timeline.rests_on.get(name, False)
    wave, steps = timeline.outputs[name], timeline.steps
    away = "off" if rests_on else "on"
    for span in wanted:
        last = span.begin if span.end is None else span.end
        if last >= steps:
            for claim in span.claims:
                faults.add(claim, _short_watch(last, timeline))
            continue
        start, end = span.begin + span.begin_within, (steps if span.end is None else span.end - span.end_within)
        other = next((at for at in wave.spans(rests_on, steps) if _meets(at, start, end)), None)
        if other is not None:
            for claim in span.claims:
                faults.add(
                    claim, f"not {away} at {_at(max(other[0], start))}, within {_span_text((span.begin, span.end))}"
                )
    for before, after in pairwise(wanted):
        trains = before.trains & after.trains
        if not trains or before.end is None:
            continue
        start, end = before.end + before.end_within, after.begin - after.begin_within
        there = next((at for at in wave.spans(not rests_on, steps) if _meets(at, start, end)), None)
        if there is not None:
            for claim in {train[0] for train in trains}:
                faults.add(claim, f"{away} at {_at(max(there[0], start))}, between two pulses")


def _meets(span: SpanSteps, start: int, end: int) -> bool:
    return start < end and span[0] < end and (span[1] is None or span[1] > start)


# --- words ------------------------------------------------------------------------------------------------------------


def _at(step: int) -> str:
    return duration_text(step)


def _span_text(span: SpanSteps) -> str:
    return f"from {_at(span[0])} " + (f"to {_at(span[1])}" if span[1] is not None else "for good")


def _short_watch(end: int, timeline: Timeline) -> str:
    return f"watch is too short: the run ends at {_at(timeline.steps)}, the span at {_at(end)}"


def _off_by(seen: int, wanted: int) -> str:
    steps = abs(seen - wanted)
    return f"{steps} {'step' if steps == 1 else 'steps'} {'late' if seen > wanted else 'early'}"


def _difference(pair: Matched, timeline: Timeline, away: str) -> str:
    """The difference between a wanted and a seen span, in words."""
    wanted, seen = pair.wanted, pair.seen
    if wanted is None and seen is not None:
        return f"{away} {_span_text(seen)}, which is not wanted"
    assert wanted is not None
    if seen is None:
        if wanted.end is not None and wanted.end >= timeline.steps:
            return _short_watch(wanted.end, timeline)
        return f"not {away} {_span_text((wanted.begin, wanted.end))}"
    back = "off" if away == "on" else "on"
    said = []
    if "begin" in edge_errors(wanted, seen):
        said.append(f"{away} at {_at(seen[0])} instead of {_at(wanted.begin)}, {_off_by(seen[0], wanted.begin)}")
    if wanted.end is not None and seen[1] is None:
        short = wanted.end >= timeline.steps
        said.append(
            _short_watch(wanted.end, timeline)
            if short
            else f"still {away} at the end of the run, {_at(timeline.steps)}, instead of {back} at {_at(wanted.end)}"
        )
    elif wanted.end is None and seen[1] is not None:
        said.append(f"{back} at {_at(seen[1])} instead of {away} for good")
    elif wanted.end is not None and seen[1] is not None and "end" in edge_errors(wanted, seen):
        said.append(f"{back} at {_at(seen[1])} instead of {_at(wanted.end)}, {_off_by(seen[1], wanted.end)}")
    elif wanted.end is not None and wanted.end >= timeline.steps:
        said.append(_short_watch(wanted.end, timeline))
    lasted = ""
    if wanted.end is not None and seen[1] is not None and seen[1] - seen[0] != wanted.end - wanted.begin and said:
        lasted = f"{away} {duration_text(seen[1] - seen[0])} instead of {duration_text(wanted.end - wanted.begin)}: "
    return lasted + ", ".join(said)
