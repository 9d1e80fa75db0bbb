"""Tune a plan to a chart: search its changes, each of them run, for one that keeps every claim."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.charts import (
    Charts,
    ClaimVerdict,
    EarlySpan,
    Stage,
    charts_of,
    check_charts,
    judge,
    judge_run,
    play_chart,
)
from tickwright.charts.notation import ReadChart
from tickwright.charts.playing import NeverRests
from tickwright.design.tuning.changes import (
    FRONT,
    Change,
    longer,
    other_triggers,
    presses,
    slice_places,
    slices,
    swaps,
    turns,
)
from tickwright.design.tuning.costs import cost_text, parts_more
from tickwright.design.tuning.tuner import MOST_SLICES, edits_between
from tickwright.engine.running import rules_for
from tickwright.errors import PlanError, UsageError
from tickwright.findings import Edit
from tickwright.kinds import BUTTONS
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_RUNS = 3_000
MOST_CHANGES = 4
KEPT = 8
MOST_FRONTS = 2  # lengths of pulses that fronts are tried for
WANTED = 5
MISSED_STEPS = 2_000  # what a span that is missing, or one too many, counts as

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class TunedToChart:
    """A changed plan, and what of the chart it keeps. `edits` lay its parts, given the plan as it was.

    `parts_more` counts the parts it has more than the plan as it was; `cost` tells in words what it needs or saves.
    `error_steps` is how far the edges of its outputs are from what the chart wants, all together; 0 if all is kept.
    """

    plan: Plan
    changes: tuple[str, ...]
    edits: tuple[Edit, ...]
    cells_touched: int
    error_steps: int
    claims: tuple[ClaimVerdict, ...]
    parts_more: int = 0
    cost: str = ""

    @property
    def passed(self) -> bool:
        """Whether it keeps every claim."""
        return all(claim.passed for claim in self.claims)

    def as_data(self) -> dict[str, Any]:
        """The changed plan as JSON shows it; the plan itself is left out."""
        return {
            "changes": list(self.changes),
            "edits": [edit.as_data() for edit in self.edits],
            "cells_touched": self.cells_touched,
            "passed": self.passed,
            "error_steps": self.error_steps,
            "claims": [claim.as_data() for claim in self.claims],
            "parts_more": self.parts_more,
            "cost": self.cost,
        }


@dataclass(frozen=True, slots=True)
class ChartTuning:
    """What tuning to a chart found: the claims as they are, the changed plans, fewest cells first.

    If none of `found` keeps the chart they are the nearest there were. `runs` plans were run; `finished` is false if
    the search was stopped, or ended at its bound, before all was tried that it would try.
    """

    chart: str
    before: tuple[ClaimVerdict, ...]
    found: tuple[TunedToChart, ...]
    runs: int
    finished: bool

    def as_data(self) -> dict[str, Any]:
        """All of it as JSON shows it."""
        return {
            "chart": self.chart,
            "before": [claim.as_data() for claim in self.before],
            "tuned": [one.as_data() for one in self.found],
            "runs": self.runs,
            "finished": self.finished,
        }


@dataclass(frozen=True, slots=True)
class _State:
    plan: Plan
    changes: tuple[str, ...]
    shift: Cell
    error: int
    missing: tuple[int, ...] = ()  # by how many steps spans are shorter than wanted, for claims that are not kept


class _Stopped(Exception):
    """The bound of runs is reached."""


@checked
def tune_to_chart(
    plan: Plan,
    chart: str,
    rules: RuleSet | str | None = None,
    most_runs: int = MOST_RUNS,
    progress: Progress | None = None,
) -> ChartTuning:
    """Find the smallest changes to the plan that make it keep the chart of that name; every changed plan is run.

    Tried are delays and items, parts swapped for others, other kinds of triggers, fronts that make another pulse of a
    press, and slices of the plan doubled, repeated as often as the chart asks or taken out, up to four together. Raises
    UsageError for a chart that there is not, PlanError for one that cannot be read.
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    read = charts_of(plan)
    return _Search(plan, ruleset, read, read.chart(chart), most_runs, progress).run()


def _error_steps(verdict: ClaimVerdict) -> int:
    """How far what was seen is from what was wanted; spans are paired as they come."""
    if verdict.passed:
        return 0
    far = MISSED_STEPS * abs(len(verdict.wanted) - len(verdict.seen))
    for wanted, seen in zip(verdict.wanted, verdict.seen, strict=False):
        far += abs(wanted[0] - seen[0])
        if wanted[1] is not None and seen[1] is not None:
            far += abs(wanted[1] - seen[1])
        elif wanted[1] != seen[1]:
            far += MISSED_STEPS
    return max(far, 1)


def _missing(verdicts: Sequence[ClaimVerdict]) -> tuple[int, ...]:
    """By how much the first spans of claims that are not kept are shorter than wanted, each length once."""
    found = []
    for verdict in verdicts:
        if not verdict.passed and verdict.wanted and verdict.seen:
            wanted, seen = verdict.wanted[0], verdict.seen[0]
            if wanted[1] is not None and seen[1] is not None:
                found.append(wanted[1] - wanted[0] - seen[1] + seen[0])
    return tuple(dict.fromkeys(steps for steps in found if steps))[:MOST_FRONTS]


def _key(plan: Plan) -> object:
    return frozenset(plan.cells.items()), tuple(plan.triggers.items()), tuple(plan.outputs.items())


class _Search:
    """The search: plans that were run, by their cells, so that none is run twice."""

    def __init__(
        self, plan: Plan, rules: RuleSet, read: Charts, chart: ReadChart, most_runs: int, progress: Progress | None
    ) -> None:
        self.first, self.rules, self.read, self.chart = plan, rules, read, chart
        self.most_runs, self.progress, self.runs = most_runs, progress, 0
        self.seen: dict[object, _State] = {}
        self.good: list[_State] = []

    def run(self) -> ChartTuning:
        """Search until enough was found, all was tried, the bound was met, or Ctrl-C."""
        finished = True
        before = check_charts(self.first, self.rules, self.chart.name)[0].claims
        try:
            start = self._tried(Change(self.first, ""), None)
            layer = [start] if start is not None else []
            for _ in range(MOST_CHANGES):
                found = [after for state in layer for after in self._changed(state)]
                if self.good or not found:
                    break
                layer = sorted(found, key=lambda state: (state.error, len(state.changes)))[:KEPT]
        except (_Stopped, KeyboardInterrupt):
            finished = False
        return ChartTuning(self.chart.name, before, self._best(), self.runs, finished)

    def _changed(self, state: _State) -> Iterator[_State]:
        worked = {line.who for line in self.chart.hand or ()} & set(state.plan.triggers)
        for change in self._options(state, sorted(worked)):
            after = self._tried(change, state)
            if after is not None:
                yield after
        if len(state.changes) <= 1 and not self.good:
            yield from self._repeated(state)

    def _options(self, state: _State, worked: Sequence[str]) -> Iterator[Change]:
        for trigger in worked:
            yield from other_triggers(state.plan, self.rules, trigger)
        yield from turns(state.plan, self.rules)
        yield from swaps(state.plan)
        yield from slices(state.plan)
        if any(text.startswith(FRONT) for text in state.changes):
            return
        for trigger in worked:
            part = state.plan.cells.get(state.plan.triggers[trigger])
            if part is not None and part.kind in BUTTONS:
                steps = self.rules.button_steps(part.kind)
                for missing in state.missing:
                    yield from presses(state.plan, trigger, steps, max(1, steps + missing))

    def _repeated(self, state: _State) -> Iterator[_State]:
        """Slices repeated as often as should leave no error, if each takes away as much of it as the first."""
        for axis, place in slice_places(state.plan):
            change = longer(state.plan, axis, place)
            one = self.seen.get(_key(change.plan)) or self._tried(change, state)
            if one is None or not 0 < one.error < state.error:
                continue
            guess = state.error / (state.error - one.error)
            for times in sorted({math.floor(guess), math.ceil(guess)}):
                after = (
                    self._tried(longer(state.plan, axis, place, times), state) if 2 <= times <= MOST_SLICES else None
                )
                if after is not None:
                    yield after

    def _tried(self, change: Change, after: _State | None) -> _State | None:
        key = _key(change.plan)
        if key in self.seen:
            return None
        if self.runs >= self.most_runs:
            raise _Stopped
        self.runs += 1
        if self.progress is not None:
            self.progress(self.runs, self.most_runs)
        changes = (*(after.changes if after else ()), *([change.text] if change.text else ()))
        old = after.shift if after else (0, 0, 0)
        shift = (old[0] + change.shift[0], old[1] + change.shift[1], old[2] + change.shift[2])
        try:
            validate(change.plan, self.rules)
            verdicts = self._spans(change.plan)
        except (PlanError, UsageError, NeverRests, EarlySpan):
            return None
        error = sum(map(_error_steps, verdicts))
        state = self.seen[key] = _State(change.plan, changes, shift, error, _missing(verdicts))
        if error == 0 and all(claim.passed for claim in self._claims(change.plan)):
            self.good.append(state)
        return state

    def _spans(self, plan: Plan) -> list[ClaimVerdict]:
        """The claims without policies, which take many runs."""
        stage = Stage(Setup(plan, self.rules), self.chart.at_rest)
        return judge(self.chart.claims, play_chart(stage, self.read, self.chart).timeline)

    def _claims(self, plan: Plan) -> tuple[ClaimVerdict, ...]:
        stage = Stage(Setup(plan, self.rules), self.chart.at_rest)
        return tuple(judge_run(stage, self.read, self.chart, play_chart(stage, self.read, self.chart)))

    def _best(self) -> tuple[TunedToChart, ...]:
        others = [state for state in self.seen.values() if state.changes]
        states = self.good or sorted(others, key=lambda state: (state.error, len(state.changes)))[:1]
        rows = [(edits_between(self.first, state.plan, state.shift), state) for state in states]
        rows.sort(key=lambda row: (len(row[0]), len(row[1].changes)))
        return tuple(
            TunedToChart(
                state.plan, state.changes, edits, sum(edit.verb != "move" for edit in edits), state.error,
                self._claims(state.plan), parts_more(self.first, state.plan), cost_text(self.first, state.plan),
            )
            for edits, state in rows[:WANTED]
        )  # fmt: skip
