"""Explain a code: its entry in the table, and a small circuit that shows it, run now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.diagnosis.cases import Sketch, cases
from tickwright.diagnosis.codes import Code, find_code
from tickwright.diagnosis.diagnosing import diagnose
from tickwright.engine.running import run
from tickwright.engine.trace import Trace
from tickwright.findings import Finding
from tickwright.plan.edits import apply_edits
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet


@dataclass(frozen=True, slots=True)
class Explanation:
    """One code at length: what it means, and a circuit with the finding, its near twin without, and the repaired one.

    `hand` is what was done in the runs; `rules` names the rule set. `repaired` is None if there is no repair that was
    verified by trying it. `twin_differs` says in what the twin differs.
    """

    entry: Code
    text: str
    rules: str
    hand: tuple[str, ...]
    finding: Finding
    trace: Trace
    twin_differs: str
    twin: Trace
    repaired: Trace | None

    def as_data(self) -> dict[str, Any]:
        """The explanation as JSON shows it."""
        traces = {"shown": self.trace, "twin": self.twin, "repaired": self.repaired}
        return {
            **self.entry._asdict(),
            "example": self.text,
            "rules": self.rules,
            "hand": list(self.hand),
            "finding": self.finding.as_data(),
            "twin_differs": self.twin_differs,
            "outputs": {
                name: trace and {output: [list(pair) for pair in pairs] for output, pairs in trace.changes.items()}
                for name, trace in traces.items()
            },
        }


@checked
def explain(code: str) -> Explanation:
    """Tell a code at length, by runs of its example. Raises UsageError, naming the near ones, if there is no such code.

    >>> told = explain("output-unreached")
    >>> told.finding.repair.text, dict(told.repaired.changes)["lamp"]
    ('Turn the repeater at (2, 0, 1) to face east.', ((0, 0), (2, 15), (26, 0)))
    """
    entry = find_code(code)
    case = cases()[code]
    plan, rules = case.wrong.plan(), case.rules
    finding = next(one for one in findings_of(case.wrong, rules) if one.code == code)
    repair = finding.repair
    repaired = None
    if repair is not None and repair.verified:
        repaired = _trace(case.wrong, Setup(apply_edits(plan, repair.edits), rules))
    return Explanation(
        entry=entry,
        text=case.wrong.text(),
        rules=rules.name,
        hand=_hand(case.wrong),
        finding=finding,
        trace=_trace(case.wrong, Setup(plan, rules)),
        twin_differs=case.differs,
        twin=_trace(case.right, Setup(case.right.plan(), rules)),
        repaired=repaired,
    )


def findings_of(sketch: Sketch, rules: RuleSet) -> tuple[Finding, ...]:
    """All findings of a sketch: those of a diagnosis, and of a run if it says what the hand does."""
    found = diagnose(sketch.plan(), rules).findings
    return found + run(sketch.plan(), sketch.hand, sketch.steps, rules).findings if sketch.hand else found


def _hand(sketch: Sketch) -> tuple[str, ...]:
    return sketch.hand or tuple(f"0:{name}" for name in list(sketch.triggers)[:1])


def _trace(sketch: Sketch, setup: Setup) -> Trace:
    return run(setup.plan, _hand(sketch), sketch.steps, setup.rules).trace
