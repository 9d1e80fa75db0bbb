"""Diagnose a plan: gather its findings, and try what may mend each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from tickwright.engine.running import rules_for
from tickwright.errors import TickwrightError
from tickwright.findings import Finding, Repair
from tickwright.plan.model import Plan
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet

if TYPE_CHECKING:
    from tickwright.diagnose.evidence import Evidence
    from tickwright.diagnose.suspicion import Suspicion

MOST_TRIED = 60
Depth = Literal["laid", "pressed", "all"]
DEPTHS: tuple[Depth, ...] = ("laid", "pressed", "all")
Progress = Callable[[str], bool]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The findings of a plan under `rules`; `stopped` says that they were cut short."""

    plan: Plan
    rules: str
    findings: tuple[Finding, ...]
    stopped: bool = False

    def as_data(self) -> dict[str, Any]:
        """The diagnosis as JSON shows it."""
        findings = [finding.as_data() for finding in self.findings]
        return {"rules": self.rules, "findings": findings, "stopped": self.stopped}


def diagnose(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    repairs: bool = True,
    depth: Depth = "all",
    progress: Progress | None = None,
    length_steps: int | None = None,
) -> Diagnosis:
    """Find what is wrong or worth knowing, and for each finding a repair that was tried.

    Every trigger (or the one named) is pressed once. A repair is kept if in the edited plan its finding is gone, no
    other has come, and every output that came on still does; a finding that none of the proposals mends keeps the first
    of them that is mere advice, or has none. `depth` "laid" looks at the plan and presses nothing, "pressed" leaves out
    what takes many runs (ties); with `repairs` off nothing is tried. With `length_steps` a button of that length takes
    each trigger's place. `progress` is told what is being done, and stops the search by returning True; what
    was found until then is kept.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... key = {"#" = "block", b = "short-button", w = "wire", q = "repeater west", L = "lamp"}
    ... layer = [{rows = "####"}, {rows = "bwqL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [3, 0, 1]}''')
    >>> [(one.code, one.repair.text, one.repair.verified) for one in diagnose(plan).findings]
    [('output-unreached', 'Turn the repeater at (2, 0, 1) to face east.', True)]
    """
    from tickwright.diagnose.evidence import Evidence

    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    evidence = Evidence(plan, ruleset, trigger, length_steps)
    suspicions, stopped = _suspicions(evidence, depth, progress)
    if not repairs:
        return Diagnosis(plan, ruleset.name, tuple(one.finding for one in suspicions), stopped)
    known = Counter(one.finding.code for one in suspicions)
    lit = _lit(evidence)
    findings = []
    for one in suspicions:
        if not stopped:
            stopped = bool(progress and progress(f"trying repairs of {one.finding.code}"))
        repair = None if stopped else _tried(one, evidence, depth, known, lit)
        findings.append(one.finding._replace(repair=repair or one.finding.repair))
    return Diagnosis(plan, ruleset.name, tuple(findings), stopped)


def _suspicions(evidence: Evidence, depth: Depth, progress: Progress | None) -> tuple[list[Suspicion], bool]:
    """All suspicions, finder by finder; and whether progress stopped it."""
    from tickwright.diagnose.finders import FINDERS

    found: list[Suspicion] = []
    for finder in (one for name in DEPTHS[: DEPTHS.index(depth) + 1] for one in FINDERS[name]):
        if progress is not None and progress(finder.__name__.replace("_", " ")):
            return found, True
        found += finder(evidence)
    return found, False


def _lit(evidence: Evidence) -> set[str]:
    """The outputs that any press makes come on."""
    return {output for (_, output), kind in evidence.answers().items() if kind != "none"}


def _tried(one: Suspicion, before: Evidence, depth: Depth, known: Counter[str], lit: set[str]) -> Repair | None:
    """The first proposal that mends the finding and harms nothing."""
    from tickwright.plan.edits import apply_edits

    for number, repair in enumerate(one.proposals):
        if number == MOST_TRIED:
            break
        try:
            edited = apply_edits(before.plan, repair.edits)
            validate(edited, before.rules)
            evidence = before.of(edited)
            if not lit <= _lit(evidence):
                continue
            codes = Counter(other.finding.code for other in _suspicions(evidence, depth, None)[0])
        except TickwrightError:
            continue
        if codes[one.finding.code] < known[one.finding.code] and not codes - known:
            return repair._replace(verified=True)
    return None
