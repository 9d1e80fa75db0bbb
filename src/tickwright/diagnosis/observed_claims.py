"""Clauses of charts among what was seen before a build: read, and judged on a run of each build."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from tickwright.charts import EarlySpan, Stage, charts_of, judge, judge_run, parse_claim, play_chart
from tickwright.charts.notation import Claim, HandLine, Moment, Names, ReadChart, names_in
from tickwright.charts.parsing import NotationError
from tickwright.charts.playing import NeverRests
from tickwright.charts.reading import Charts
from tickwright.errors import UsageError
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import Cell

CLAUSE_WORDS = ("on", "off", "never", "level", "pulse", "pulses", "ignored", "extends", "restarts", "ready")


def looks_like_a_clause(said: str) -> bool:
    """Whether a text begins as a clause of a chart does."""
    first, _, rest = said.partition(" ")
    return first in CLAUSE_WORDS or (first.isdigit() and rest.startswith(("pulse of", "pulses of")))


def read_clause(plan: Plan, name: str, clauses: str, given: str, cell: Cell | None) -> tuple[str, Claim]:
    """The trigger that is pressed where none was named, and the claim that the clauses make of the output.

    An output that is only a `cell` has the name "x,y,z", which the notation cannot say: it is read under another.
    """
    alias = name if cell is None or name in plan.outputs else "cell-{}-{}-{}".format(*cell)
    names = Names.of(plan.triggers, plan.outputs, plan.machines)
    if alias not in names.outputs and alias not in names.triggers:
        names = names._replace(outputs=(*names.outputs, alias))
    try:
        claim = parse_claim(f"{alias}: {clauses}", names)
    except NotationError as error:
        raise UsageError(f'"{given}", at character {_at(error.at, alias, clauses, given)}: {error.sentence}') from None
    named = [one for one, kind in names_in(claim).items() if kind == "trigger"]
    if len(named) > 1:
        raise UsageError(
            f'"{given}" names several triggers, {", ".join(named)}: say which was worked, "{named[0]} -> ...".'
        )
    return (named or list(plan.triggers))[0], claim


def _at(at: int, alias: str, clauses: str, given: str) -> int:
    """The character of the text as given, from 1."""
    return max(at - len(alias) - 2, 0) + max(given.find(clauses), 0) + 1


class Clause(NamedTuple):
    """One observed claim: which trigger is worked, the claim, and the cell of its output if that has no name."""

    trigger: str
    claim: Claim
    cell: Cell | None


class ClauseJudge:
    """Judges observed claims on builds of one plan; without "give or take" an edge may be `tolerance_steps` off.

    A build that never rests after the press is watched for `watch_steps`. One that never rests before it keeps none.
    """

    def __init__(self, plan: Plan, clauses: Sequence[Clause], tolerance_steps: int, watch_steps: int) -> None:
        added = {one.claim.name: one.cell for one in clauses if one.cell is not None}
        self.outputs = {**plan.outputs, **added}
        self.read: Charts = charts_of(replace(plan, outputs=self.outputs, charts=()))
        self.tolerance = tolerance_steps
        self.watch_steps = watch_steps
        self.clauses = clauses

    def misfit(self, built: Setup) -> float | None:
        """How far the build is from all claims, 0 for just so, 1 at the tolerance; None if it breaks one."""
        try:
            stage = Stage(built._replace(plan=replace(built.plan, outputs=self.outputs, charts=())))
        except NeverRests:
            return None
        worst = 0.0
        for one in self.clauses:
            off = self._misfit(stage, one)
            if off is None:
                return None
            worst = max(worst, off)
        return worst

    def _misfit(self, stage: Stage, one: Clause) -> float | None:
        hand = (HandLine(Moment(0), one.trigger, None, f"0: {one.trigger}"),)
        chart = ReadChart("observed", (one.claim,), hand)
        try:
            try:
                played = play_chart(stage, self.read, chart)
            except NeverRests:
                chart = replace(chart, watch_steps=self.watch_steps)
                played = play_chart(stage, self.read, chart)
            if one.claim.is_policy or "give or take" in one.claim.text:
                return 0.0 if all(claim.passed for claim in judge_run(stage, self.read, chart, played)) else None
            for within in range(self.tolerance + 1):
                if judge([replace(one.claim, give_or_take_steps=within)], played.timeline)[0].passed:
                    return within / self.tolerance if self.tolerance else 0.0
        except EarlySpan:
            pass
        return None
