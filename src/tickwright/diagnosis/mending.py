"""Mend a plan: do its repairs one after another, each tried on the plan that the ones before it made."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.diagnosis.codes import find_code
from tickwright.diagnosis.diagnosing import Progress, diagnose
from tickwright.engine.running import rules_for
from tickwright.findings import Finding
from tickwright.plan.edits import apply_edits
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet


@dataclass(frozen=True, slots=True)
class Mended:
    """A plan with its repairs done: the findings that were `done`, in order, and those that are `left`."""

    plan: Plan
    done: tuple[Finding, ...]
    left: tuple[Finding, ...]
    stopped: bool = False

    def as_data(self) -> dict[str, Any]:
        """What was done and what is left, as JSON shows it."""
        return {
            "done": [finding.as_data() for finding in self.done],
            "left": [finding.as_data() for finding in self.left],
            "stopped": self.stopped,
        }


@checked
def mend(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    only: Collection[str] = (),
    progress: Progress | None = None,
) -> Mended:
    """Do the first verified repair, look again, and so on until none is left; with `only`, those of these codes.

    It ends: each repair leaves one finding less. `progress` stops it by returning True; what was done until then stays
    done. Raises UsageError for a code that there is not.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", w = "wire", q = "repeater west", L = "lamp"}
    ... layer = [{rows = "####"}, {rows = "bwqL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [3, 0, 1]}''')
    >>> mended = mend(plan)
    >>> str(mended.plan.cells[2, 0, 1]), [finding.code for finding in mended.done], mended.left
    ('repeater east', ['output-unreached'], ())
    """
    for code in only:
        find_code(code)
    ruleset = rules_for(plan, rules)
    done: list[Finding] = []
    while True:
        found = diagnose(plan, ruleset, trigger, progress=progress)
        mendable = (
            one for one in found.findings if one.repair and one.repair.verified and (not only or one.code in only)
        )
        first = next(mendable, None)
        if first is None or first.repair is None or found.stopped:
            return Mended(plan, tuple(done), found.findings, found.stopped)
        plan = apply_edits(plan, first.repair.edits)
        done.append(first)
