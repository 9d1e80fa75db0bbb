"""Write the chart of what a plan does now: its run in claims that are exact, in the roundest words there are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from tickwright.arguments import checked
from tickwright.charts.judging import judge
from tickwright.charts.moments import EarlySpan
from tickwright.charts.notation import HandLine, Moment, Names
from tickwright.charts.parsing import NotationError, parse_claim
from tickwright.charts.playing import SECOND_STEPS, NeverRests, Played, Stage, play
from tickwright.charts.reading import ChartReader, places_of
from tickwright.charts.timeline import SpanSteps, Timeline
from tickwright.durations import duration_text
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.findings import Finding
from tickwright.kinds import TAKES_HAND
from tickwright.plan.hand import parse_script
from tickwright.plan.model import Chart, Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet

ENDLESS_STEPS = 20 * SECOND_STEPS
FEWEST_PULSES = 3


class Drafted(NamedTuple):
    """A chart of what a plan does, and what there is to say of the run."""

    chart: Chart
    played: Played
    findings: tuple[Finding, ...]


@checked
def draft_chart(
    plan: Plan,
    hand: Sequence[str] | None = None,
    watch_steps: int | None = None,
    name: str = "now",
    rules: RuleSet | str | None = None,
) -> Drafted:
    """The chart of what the plan does when its hand acts so; `hand` holds STEP:WHO[:ACT], steps from time 0.

    Without a hand each trigger is worked once, one after the other has had its effect. Checked against the plan the
    chart passes; a change of when an output is on, in that run, fails it. Raises UsageError for acts that mean nothing.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> draft_chart(plan).chart.shows
    ('lamp: on from press for 1.2 s',)
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    if not plan.outputs:
        raise UsageError("The plan names no output: add one under [outputs], such as lamp = [x, y, z].")
    # Made only to refuse names that no chart can say.
    ChartReader(tuple(plan.triggers), tuple(plan.outputs), plan.machines, places_of(plan))
    at_rest = True
    try:
        stage = Stage(Setup(plan, ruleset))
    except NeverRests:
        at_rest = False
        stage = Stage(Setup(plan, ruleset), at_rest=False)
    lines = _lines(plan, hand) if hand is not None else _each_trigger(stage)
    played, watch = _played(stage, lines, watch_steps)
    names = Names.of(plan.triggers, plan.outputs)
    shows = tuple(_claim(output, played.timeline, names) for output in plan.outputs)
    texts = tuple(f"{_step_text(line.moment.steps)}: {line.words}" for line in lines)
    return Drafted(Chart(name, shows, texts, watch, at_rest), played, played.findings)


def _lines(plan: Plan, hand: Sequence[str]) -> list[HandLine]:
    """The lines of a hand given in `--do` form."""
    parse_script(plan, hand)
    lines = []
    for text in hand:
        when, _, words = text.partition(":")
        who, colon, act = words.partition(":")
        lines.append(HandLine(Moment(int(when)), who.strip(), act.strip() if colon else None, text))
    return sorted(lines, key=lambda line: line.moment.steps)


def _each_trigger(stage: Stage) -> list[HandLine]:
    """Each trigger worked once: the first at time 0, each other a second after all rests from the one before."""
    lines: list[HandLine] = []
    at = 0
    for name, cell in stage.plan.triggers.items():
        part = stage.plan.cells.get(cell)
        if part is not None and part.kind not in TAKES_HAND:
            continue
        lines.append(HandLine(Moment(at), name, None, name))
        try:
            steps = play(stage, lines).timeline.steps
        except NeverRests:
            steps = at + ENDLESS_STEPS
        at = -(-steps // SECOND_STEPS) * SECOND_STEPS
    return lines


def _played(stage: Stage, lines: list[HandLine], watch_steps: int | None) -> tuple[Played, int]:
    """The run, over whole seconds; one that never rests ends where all outputs are at rest, if that comes."""
    if watch_steps is not None:
        return play(stage, lines, watch_steps), watch_steps
    try:
        steps = -(-play(stage, lines).timeline.steps // SECOND_STEPS) * SECOND_STEPS
        return play(stage, lines, steps), steps
    except NeverRests:
        last = max((line.moment.steps for line in lines), default=0)
        most = -(-(last + ENDLESS_STEPS) // SECOND_STEPS) * SECOND_STEPS
        line = play(stage, lines, most).timeline
        waves = [(wave, line.rests_on[name]) for name, wave in line.outputs.items()]
        calm = (
            steps
            for steps in range(most, last + most // 2, -1)
            if all(wave.at(steps - 1) == rest for wave, rest in waves)
        )
        steps = next(calm, most)
        return play(stage, lines, steps), steps


# --- words ------------------------------------------------------------------------------------------------------------


def _step_text(steps: int) -> str:
    return duration_text(steps) if steps else "0"


def _cost(steps: int) -> int:
    """How little round a duration is: none, whole seconds, ticks, steps."""
    return 0 if steps == 0 else 1 if steps % SECOND_STEPS == 0 else 2 if steps % 2 == 0 else 3


def _claim(output: str, line: Timeline, names: Names) -> str:
    """One claim that says exactly when the output is away from rest."""
    spans = line.away(output)
    rests_on = line.rests_on[output]
    if not spans:
        return f"{output}: never {'off' if rests_on else 'on'}"
    away = "off" if rests_on else "on"
    for clauses in _ways(spans, away, line):
        text = f"{output}: {'; '.join(clauses)}"
        if _exact(text, spans, line, names):
            return text
    return f"{output}: {'; '.join(_plain(span, away) for span in spans)}"


def _exact(text: str, spans: list[SpanSteps], line: Timeline, names: Names) -> bool:
    """Whether the claim reads, wants just these spans, and is kept."""
    try:
        verdict = judge([parse_claim(text, names)], line)[0]
    except (NotationError, EarlySpan):
        return False
    return verdict.passed and list(verdict.wanted) == spans


def _ways(spans: list[SpanSteps], away: str, line: Timeline) -> Iterator[list[str]]:
    """Ways to say the spans, the shortest first: each time a trigger is worked; each span after its last act."""
    begun = spans[0][0]
    tried = [(times, trigger) for trigger, times in line.worked.items() if times and times[0] <= begun]
    for times, trigger in sorted(tried, key=lambda one: -max(time for time in one[0] if time <= begun)):
        first = [span for span in spans if len(times) == 1 or span[0] < times[1]]
        if first:
            yield _said(first, away, [(times[0], trigger)])
    marks = _marks(line)
    yield _said(spans, away, marks)
    yield _said(spans, away, marks, pulses=False)


def _marks(line: Timeline) -> list[tuple[int, str]]:
    """The acts of the hand and what to call them: which press of which trigger; levers and plates let go, too."""
    found: list[tuple[int, str]] = []
    for name, times in line.worked.items():
        found += [(step, _nth(number, name, len(times))) for number, step in enumerate(times, 1)]
    for name, times in line.released.items():
        found += [(step, _nth(number, f"{name} released", len(times))) for number, step in enumerate(times, 1)]
    return sorted(found)


def _nth(number: int, name: str, of: int) -> str:
    if of == 1:
        return name
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending} {name}"


def _moment(step: int, marks: Iterable[tuple[int, str]]) -> str:
    """The step as a moment: after the act before it from which it is roundest, the worked ones first."""
    before = [(at, name) for at, name in marks if at <= step and not name.endswith(" released")]
    let_go = [(at, name) for at, name in marks if at <= step and name.endswith(" released")]
    choices = [*before[-1:], *(mark for mark in let_go[-1:] if not before or mark[0] > before[-1][0])]
    if not choices:
        return _step_text(step)
    at, name = min(choices, key=lambda mark: (_cost(step - mark[0]), -mark[0]))
    return name if at == step else f"{name} + {duration_text(step - at)}"


def _said(spans: list[SpanSteps], away: str, marks: list[tuple[int, str]], pulses: bool = True) -> list[str]:
    """The spans as clauses, equal ones that come evenly as pulses."""
    clauses = []
    at = 0
    while at < len(spans):
        begin, end = spans[at]
        number = _even(spans, at) if pulses and away == "on" else 1
        if number >= FEWEST_PULSES and end is not None:
            every = spans[at + 1][0] - begin
            length = f"of {duration_text(end - begin)} every {duration_text(every)}"
            clauses.append(f"{number} pulses {length} from {_moment(begin, marks)}")
            at += number
            continue
        clauses.append(f"{away} from {_moment(begin, marks)} {_ending(begin, end, marks)}")
        at += 1
    return clauses


def _ending(begin: int, end: int | None, marks: list[tuple[int, str]]) -> str:
    """How a span ends: for so long, or, if an act came since it began from which that is rounder, until then."""
    if end is None:
        return "for good"
    since = [mark for mark in marks if begin < mark[0] <= end and not mark[1].endswith(" released")]
    if since:
        at, name = since[-1]
        if _cost(end - at) < _cost(end - begin) or end - at < SECOND_STEPS:
            return f"until {name}" + (f" + {duration_text(end - at)}" if end > at else "")
    return f"for {duration_text(end - begin)}"


def _even(spans: list[SpanSteps], at: int) -> int:
    """How many spans from `at` on are equally long and come evenly."""
    begin, end = spans[at]
    if at + 1 >= len(spans) or end is None:
        return 1
    every = spans[at + 1][0] - begin
    number = 1
    while at + number < len(spans):
        here, there = spans[at + number]
        if there is None or there - here != end - begin or here - begin != number * every:
            break
        number += 1
    return number


def _plain(span: SpanSteps, away: str) -> str:
    begin, end = span
    return f"{away} from {_step_text(begin)} " + ("for good" if end is None else f"for {duration_text(end - begin)}")
