"""The dossier: everything known of a plan, worked out once, for sheets, the command line and the workbench alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.diagnosis.diagnosing import diagnose
from tickwright.engine.running import rules_for
from tickwright.findings import Finding
from tickwright.measurement import Measurement, Trigger, find_trigger, measure_with_findings, observe, recovery_steps
from tickwright.measurement.alone import ByItself, by_itself
from tickwright.measurement.levels import (
    DistanceRow,
    Lap,
    LengthRow,
    LevelRow,
    comparators,
    holds_against_distance,
    lap_table,
    length_map,
    level_map,
)
from tickwright.measurement.observe import Observation, Runs
from tickwright.measurement.phase import Phases, phases
from tickwright.measurement.press import takes_length
from tickwright.measurement.second_press import Retrigger, retrigger
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.verify.expectations import Verdict, check
from tickwright.verify.neighbours import NeighbourVerdict, neighbour_verdicts
from tickwright.verify.orders import OrderVerdict, order_verdicts
from tickwright.verify.rulesets import RuleSetsVerdict, side_by_side

__all__ = ["Answer", "Dossier", "gather"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What is known of one output's answer to one trigger: its measures and what follows from them.

    `recovery_steps` is None as `measure.recovery_steps` says; `lengths` and
    `trigger_levels` (hold by level and length of the trigger) are empty for a trigger that has no length.
    `level` is the output's level over time, (steps from the press, level), from before the press.
    """

    measured: Measurement
    recovery_steps: int | None
    retrigger: Retrigger
    lengths: tuple[LengthRow, ...]
    trigger_levels: tuple[LevelRow, ...]
    distances: tuple[DistanceRow, ...]
    phase: Phases
    level: tuple[tuple[int, int], ...]

    def as_data(self) -> dict[str, Any]:
        """The measures as JSON shows them, with the rest beside them."""
        return {
            **self.measured.as_data(),
            "recovery_steps": self.recovery_steps,
            "retrigger": self.retrigger.as_data(),
            "lengths": [row.as_data() for row in self.lengths],
            "trigger_levels": [row._asdict() for row in self.trigger_levels],
            "distances": [row._asdict() for row in self.distances],
            "phase": self.phase.as_data(),
            "level": [list(pair) for pair in self.level],
        }


@dataclass(frozen=True, slots=True)
class Dossier:
    """Everything known of a plan under `rules`; `laps` maps each trigger to the levels at every comparator.

    `by_itself` is what the outputs of a plan without triggers do from the start of the world; of all other plans it is
    empty. A plan that lacks triggers or outputs has no answers, order verdicts, rule sets and expectations.

    `left_out` names what was not run because a press stirs more steps than the bound that was given: its fields are
    empty. `tickwright measure --full` leaves nothing out.
    """

    plan: Plan
    rules: str
    answers: tuple[Answer, ...]
    laps: dict[str, tuple[Lap, ...]]
    order: tuple[OrderVerdict, ...]
    neighbours: tuple[NeighbourVerdict, ...]
    rule_sets: RuleSetsVerdict
    expectations: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    left_out: tuple[str, ...] = ()
    by_itself: tuple[ByItself, ...] = ()

    def as_data(self) -> dict[str, Any]:
        """The dossier as JSON shows it."""
        return {
            "rules": self.rules,
            "results": [answer.as_data() for answer in self.answers],
            "laps": {name: [lap.as_data() for lap in laps] for name, laps in self.laps.items()},
            "order": [verdict.as_data() for verdict in self.order],
            "neighbours": [verdict.as_data() for verdict in self.neighbours],
            "rule_sets": self.rule_sets.as_data(),
            "expectations": [verdict.as_data() for verdict in self.expectations],
            "findings": [finding.as_data() for finding in self.findings],
            "left_out": list(self.left_out),
            "by_itself": [found.as_data() for found in self.by_itself],
        }


MOST_LEVEL_CHANGES = 1_000
MANY_PRESSES = ("second press", "recovery", "trigger lengths and levels", "order", "neighbours")


@checked
def gather(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    output: str | None = None,
    most_active_steps: int | None = None,
) -> Dossier:
    """Work out the dossier of a plan, for all its triggers and outputs or the ones named.

    With `most_active_steps`, what takes many presses is left out if after one of them something happens in more steps
    than that; what is known without another press is not, such as that a lever does not let go. A plan that names no
    trigger, or no output, has what can be known without. Raises UsageError for names that it lacks, and PlanError for
    a plan that the rules refuse.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> known = gather(plan)
    >>> known.answers[0].retrigger.verdict, known.order[0].sensitive
    ('extends', False)
    """
    ruleset = rules_for(plan, rules)
    setup = Setup(plan, ruleset)
    if not (plan.triggers and plan.outputs) and trigger is None and output is None:
        return _unmeasured(setup)
    runs = Runs()
    measured, findings = measure_with_findings(plan, trigger, output, rules=ruleset, runs=runs, also=comparators(plan))
    answers: list[Answer] = []
    laps: dict[str, tuple[Lap, ...]] = {}
    places = [find_trigger(setup, name) for name in dict.fromkeys(result.trigger for result in measured)]
    alone = {place.name: observe(setup, place, runs=runs) for place in places}
    longest = max(seen.active_steps for seen in alone.values())
    long = most_active_steps is not None and longest > most_active_steps
    for place in places:
        name = place.name
        results = [result for result in measured if result.trigger == name]
        answers += _answers(setup, place, results, alone[name], runs, long)
        laps[name] = tuple(lap_table(setup, place, alone[name]))
    return Dossier(
        plan=plan,
        rules=ruleset.name,
        answers=tuple(answers),
        laps=laps,
        order=() if long else tuple(order_verdicts(plan, ruleset, trigger, runs=runs)),
        neighbours=() if long else tuple(neighbour_verdicts(plan, ruleset)),
        rule_sets=side_by_side(plan, ruleset, trigger, measured if output is None else None),
        expectations=tuple(check(plan, ruleset, runs)) if plan.expectations else (),
        findings=_findings(setup, trigger, findings, long),
        left_out=tuple(_not_known(places, alone)) if long else (),
    )


def _not_known(places: list[Trigger], alone: dict[str, Observation]) -> Iterator[str]:
    """What takes many presses, but for what one press of each trigger tells already."""
    for name in MANY_PRESSES:
        if name == "second press" and all(place.length_steps is None for place in places):
            continue
        if name == "recovery" and all(seen.rest_steps is None for seen in alone.values()):
            continue
        yield name


def _unmeasured(setup: Setup) -> Dossier:
    """What is known of a plan that names no trigger, or no output."""
    plan = setup.plan
    validate(plan, setup.rules)
    places = [find_trigger(setup, name) for name in plan.triggers]
    return Dossier(
        plan=plan,
        rules=setup.rules.name,
        answers=(),
        laps={place.name: tuple(lap_table(setup, place)) for place in places},
        order=(),
        neighbours=(),
        rule_sets=RuleSetsVerdict((), ()),
        expectations=(),
        findings=_findings(setup, None, (), long=True),
        by_itself=() if plan.triggers else tuple(by_itself(setup)),
    )


def _findings(setup: Setup, trigger: str | None, noted: tuple[Finding, ...], long: bool) -> tuple[Finding, ...]:
    """What the measuring runs noted and what the plan lacks, without repairs: those take many runs."""
    return diagnose(
        setup.plan, setup.rules, trigger, repairs=False, depth="laid" if long else "pressed", noted=noted
    ).findings


def _answers(
    setup: Setup, place: Trigger, measured: list[Measurement], alone: Observation, runs: Runs, long: bool
) -> list[Answer]:
    outputs = [result.output for result in measured]
    if long and place.length_steps is not None:
        reason = f"Not tried: after one press something happens in {alone.active_steps:,} steps."
        again = {output: Retrigger(None, reason, place.length_steps, 1, ()) for output in outputs}
    else:
        again = retrigger(setup, place, outputs, alone, runs)
    lengths, by_level = {}, {}
    if takes_length(place) and not long:
        lengths = length_map(setup, place, outputs, runs)
        longest = max(rows[-1].length_steps for rows in lengths.values())
        by_level = level_map(setup, place, outputs, longest, runs)
    moments = phases(setup, place, outputs, alone)
    return [
        Answer(
            measured=result,
            recovery_steps=None if long else recovery_steps(setup, place, result.output, alone, runs),
            retrigger=again[result.output],
            lengths=tuple(lengths.get(result.output, ())),
            trigger_levels=tuple(by_level.get(result.output, ())),
            distances=tuple(holds_against_distance(setup, alone, result.output)),
            phase=moments[result.output],
            level=tuple(alone.changes[result.output][:MOST_LEVEL_CHANGES]),
        )
        for result in measured
    ]
