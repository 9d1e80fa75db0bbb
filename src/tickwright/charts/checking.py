"""Charts held against a circuit: every claim, with all orders in which machines may take close acts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from tickwright.arguments import checked
from tickwright.charts.judging import ClaimVerdict, judge, with_follows
from tickwright.charts.machines import orders, with_machines
from tickwright.charts.moments import EarlySpan
from tickwright.charts.notation import Automaton, ReadChart, condition_atoms, names_in
from tickwright.charts.playing import LineError, NeverRests, Played, Stage, play
from tickwright.charts.policies import judge_policies
from tickwright.charts.reading import ChartReader, Charts, charts_of, places_of
from tickwright.durations import duration_text
from tickwright.engine.running import rules_for
from tickwright.errors import PlanError
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet


@dataclass(frozen=True, slots=True)
class ChartVerdict:
    """Whether a plan keeps one chart, claim by claim, and the run that shows it."""

    chart: str
    claims: tuple[ClaimVerdict, ...]
    played: Played

    @property
    def passed(self) -> bool:
        """Whether every claim is kept."""
        return all(claim.passed for claim in self.claims)

    def as_data(self) -> dict[str, Any]:
        """The verdict as JSON shows it: steps from time 0, which is `zero_step` of the world; the script for `--do`."""
        return {
            "chart": self.chart,
            "passed": self.passed,
            "claims": [claim.as_data() for claim in self.claims],
            "zero_step": self.played.zero_step,
            "script": list(self.played.script),
            "waiting": list(self.played.waiting),
        }


@checked
def check_charts(
    plan: Plan, rules: RuleSet | str | None = None, only: str | None = None, order: str = "canonical"
) -> list[ChartVerdict]:
    """Hold every chart of the plan (or `only` the one of that name) against a run of its hand.

    Raises PlanError, at the claim, for a chart that cannot be read, never rests, or names a span before time 0.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}
    ... chart = [{name = "a press", shows = ["lamp: on from press for 1.2 s"]}]''')
    >>> check_charts(plan)[0].passed
    True
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    read = charts_of(plan)
    stages: dict[bool, Stage] = {}
    verdicts = []
    for number, chart in enumerate(read.charts):
        if only is None or chart.name == only:
            verdicts.append(_check(Setup(plan, ruleset, order), read, chart, number, stages))
    if only is not None and not verdicts:
        read.chart(only)
    return verdicts


@checked
def run_chart(
    plan: Plan, name: str | None = None, rules: RuleSet | str | None = None, order: str = "canonical"
) -> ChartVerdict:
    """The run of one chart (the first if none is named) and its claims about outputs; no policy is tried.

    Raises UsageError if there is no such chart, else as `check_charts`.
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    read = charts_of(plan)
    chart = read.chart(name if name is not None or not read.charts else read.charts[0].name)
    number = read.charts.index(chart)
    spans = replace(chart, claims=tuple(claim for claim in chart.claims if not claim.is_policy))
    return _check(Setup(plan, ruleset, order), read, spans, number, {})


def play_chart(stage: Stage, read: Charts, chart: ReadChart) -> Played:
    """The run of a chart's hand, its machines watched."""
    return play(stage, chart.hand or (), chart.watch_steps, machines_for(read, chart), chart.claims)


def machines_for(read: Charts, chart: ReadChart) -> tuple[Automaton, ...]:
    """The machines that a chart names, and those that these wait for or look at."""
    named = {name for claim in chart.claims for name, kind in names_in(claim).items() if kind == "machine"}
    for line in chart.hand or ():
        moment = line.moment
        if moment.event is not None and moment.event.kind == "machine":
            named.add(moment.event.name)
        named |= {atom.name for atom in condition_atoms(moment.condition) if atom.kind == "machine"}
    while True:
        more = set(named)
        for machine in read.machines:
            if machine.name not in named:
                continue
            for transition in machine.transitions:
                if transition.event is not None and transition.event.kind == "machine":
                    more.add(transition.event.name)
                more |= {atom.name for atom in condition_atoms(transition.condition) if atom.kind == "machine"}
        if more == named:
            return tuple(machine for machine in read.machines if machine.name in named)
        named = more


def _check(setup: Setup, read: Charts, chart: ReadChart, number: int, stages: dict[bool, Stage]) -> ChartVerdict:
    plan = setup.plan
    try:
        if chart.at_rest not in stages:
            stages[chart.at_rest] = Stage(setup, chart.at_rest)
        stage = stages[chart.at_rest]
        played = play_chart(stage, read, chart)
        verdicts = judge_run(stage, read, chart, played)
    except NeverRests as error:
        raise _never_rests(plan, read, chart, number, error) from None
    except LineError as error:
        message = f'In chart "{chart.name}": {error}'
        raise _reader(plan, read).error(message, "chart", number, "hand", error.number) from None
    except EarlySpan as error:
        claim = next(index for index, claim in enumerate(chart.claims) if claim is error.claim)
        what = f'In chart "{chart.name}", "{error.claim.text}": a span would begin'
        message = f"{what} {duration_text(-error.step)} before time 0; name a later moment, or let the hand act later."
        raise _reader(plan, read).claim_error(message, number, claim, error.claim.offsets[error.clause]) from None
    return ChartVerdict(chart.name, tuple(verdicts), played)


def judge_run(stage: Stage, read: Charts, chart: ReadChart, played: Played) -> list[ClaimVerdict]:
    """All claims of a chart against its run, policies too; of the orders that machines may take, one that keeps all."""
    machines = machines_for(read, chart)
    first: list[ClaimVerdict] | None = None
    held_on = [name for name in stage.plan.triggers if not stage.is_button(name)]
    for taken in orders(played.timeline, held_on) if machines else [None]:
        timeline = with_machines(played.timeline, machines, taken) if taken is not None else played.timeline
        verdicts = judge(chart.claims, timeline)
        first = first or verdicts
        if all(verdict.passed for verdict in verdicts):
            first = verdicts
            break
    assert first is not None
    policies = judge_policies(stage, chart, played, machines)
    told = [policies.get(number, verdict) for number, verdict in enumerate(first)]
    return with_follows(chart.claims, [replace(verdict, follows=None) for verdict in told])


def _never_rests(plan: Plan, read: Charts, chart: ReadChart, number: int, error: NeverRests) -> PlanError:
    if error.untouched:
        what = f'The chart "{chart.name}" starts at rest, but the untouched circuit never rests'
        message = f'{what}: write starts = "at step 0" and watch, or stop what runs.'
        return _reader(plan, read).error(message, "chart", number, "starts")
    what = f'The chart "{chart.name}" is watched until all rests, but the circuit never rests after its hand'
    return _reader(plan, read).error(f'{what}: say how long to watch, such as watch = "40 s".', "chart", number)


def _reader(plan: Plan, read: Charts) -> ChartReader:
    return ChartReader(read.names.triggers, read.names.outputs, plan.machines, places_of(plan))
