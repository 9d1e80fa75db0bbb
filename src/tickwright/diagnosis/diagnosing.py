"""Diagnose a plan: gather its findings, and try what may mend each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING, Any, Literal, get_args

from tickwright.arguments import checked
from tickwright.engine.running import rules_for
from tickwright.errors import TickwrightError, UsageError
from tickwright.findings import SEVERITIES, Finding, Repair
from tickwright.plan.model import Plan
from tickwright.plan.modules import told_in_modules
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet

if TYPE_CHECKING:
    from tickwright.diagnosis.evidence import Evidence
    from tickwright.diagnosis.suspicion import Suspicion

MOST_TRIED = 60
DARK = ("output-unreached",)  # what mends these makes the outputs that they concern come on
SYMPTOMS = ("claim-not-kept",)  # what other findings may be the cause of
MOST_PAIRED = 12
ECHOED = {  # by the code of a finding, the codes of those whose repair may mend it as well
    "output-unreached": ("never-powered",),
    "wires-joined": ("ring-not-closed",),
    "heard-by-nobody": ("output-unreached", "output-too-far", "never-powered", "ring-not-closed", "wires-joined"),
}
Depth = Literal["laid", "pressed", "all"]
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


@checked
def diagnose(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    repairs: bool = True,
    depth: Depth = "all",
    progress: Progress | None = None,
    length_steps: int | None = None,
    noted: Iterable[Finding] = (),
) -> Diagnosis:
    """Find what is wrong or worth knowing, and for each finding a repair that was tried.

    Every trigger (or the one named) is pressed once; with `length_steps`, by a button of that length in its place. A
    repair is kept if in the edited plan its finding is gone, no other has come, every output that came on still does,
    and no output that the finding does not concern does anything else than before, whichever trigger is pressed; a
    finding that none of the proposals mends keeps what advice it had, or has none. What weighs most comes first.

    `depth` "laid" looks at the plan and presses nothing, "pressed" leaves out what takes many runs (ties); with
    `repairs` off nothing is tried. `progress` is told what is being done, and stops the search by returning True; what
    was found until then is kept. `noted` are findings of other runs: they come first, and none is told twice.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", w = "wire", q = "repeater west", L = "lamp"}
    ... layer = [{rows = "####"}, {rows = "bwqL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [3, 0, 1]}''')
    >>> first = diagnose(plan).findings[0]
    >>> first.code, first.repair.text, first.repair.verified
    ('output-unreached', 'Turn the repeater at (2, 0, 1) to face east.', True)
    """
    from tickwright.diagnosis.evidence import Evidence

    if depth not in get_args(Depth):
        raise UsageError(f'diagnose: depth is {depth!r}: give "laid", "pressed" or "all".')
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    evidence = Evidence(Setup(plan, ruleset), trigger, length_steps)
    suspicions, stopped = _gathered(evidence, depth, progress)
    suspicions.sort(key=lambda one: _weight(one.finding))
    findings = list(noted)
    told_already = {(finding.code, finding.cells) for finding in findings}
    suspicions = [one for one in suspicions if (one.finding.code, one.finding.cells) not in told_already]
    if stopped or not repairs:
        suspicions = _paired_once(evidence, suspicions)
        findings += [one.finding for one in suspicions]
        return Diagnosis(plan, ruleset.name, told_in_modules(plan, findings), stopped)
    trial = _Trial(evidence, depth, suspicions)
    for one in suspicions:
        repair: Repair | None = None
        for number, proposal in enumerate(islice(one.proposals, MOST_TRIED)):
            told = f"trying repairs of {one.finding.code}: {number} tried"
            stopped = stopped or bool(progress and progress(told))
            if stopped:
                break
            try:
                mends = trial.mends(proposal, one.finding)
            except KeyboardInterrupt:
                if progress is None:
                    raise
                stopped = True
                break
            if mends:
                repair = proposal._replace(verified=True)
                break
        findings.append(one.finding._replace(repair=repair or one.finding.repair))
    return Diagnosis(plan, ruleset.name, tuple(_told_once(evidence, findings)), stopped)


def _weight(finding: Finding) -> tuple[int, bool]:
    """Where a finding stands: what weighs most first, and a claim that is not kept after all that may be its cause."""
    symptom = finding.code in SYMPTOMS
    return -SEVERITIES.index("warning" if symptom else finding.severity), symptom


def _gathered(evidence: Evidence, depth: Depth, progress: Progress | None) -> tuple[list[Suspicion], bool]:
    """All suspicions, finder by finder; and whether progress stopped it."""
    from tickwright.diagnosis.finders import finders

    found: list[Suspicion] = []
    for finder in finders(depth):
        if progress is not None and progress(finder.__name__.replace("_", " ")):
            return found, True
        try:
            found += finder(evidence)
        except KeyboardInterrupt:
            if progress is None:  # nobody asks whether it was stopped
                raise
            return found, True
    return found, False


def _paired_once(before: Evidence, suspicions: list[Suspicion]) -> list[Suspicion]:
    """The suspicions without those that a proposal for another would mend, too, by a look at the plan as laid."""
    from tickwright.diagnosis.finders import find_codes

    kept = list(suspicions)
    for cause in suspicions:
        echoes = [one for one in kept if cause.finding.code in ECHOED.get(one.finding.code, ())]
        if not echoes or cause not in kept:
            continue
        codes = {cause.finding.code, *(one.finding.code for one in echoes)}
        for proposal in islice(cause.proposals, MOST_PAIRED):
            after = _edited(before, proposal)
            left = None if after is None else {(one.code, one.cells) for one in find_codes(after, codes)}
            if left is not None and (cause.finding.code, cause.finding.cells) not in left:
                kept = [one for one in kept if one not in echoes or (one.finding.code, one.finding.cells) in left]
                break
    return kept


def _edited(before: Evidence, repair: Repair) -> Evidence | None:
    """The plan after a repair; None if it would be none."""
    from tickwright.plan.edits import apply_edits

    try:
        edited = apply_edits(before.plan, repair.edits)
        validate(edited, before.rules)
    except TickwrightError:
        return None
    return before.of(edited)


def _told_once(before: Evidence, findings: list[Finding]) -> list[Finding]:
    """The findings without those that only echo another: the repair of the other, as it was tried, mends them, too."""
    kept = list(findings)
    for cause in findings:
        echoes = [one for one in kept if cause.code in ECHOED.get(one.code, ())]
        if not echoes or cause not in kept or cause.repair is None or not cause.repair.verified:
            continue
        from tickwright.diagnosis.finders import find_codes
        from tickwright.plan.edits import apply_edits

        after = before.of(apply_edits(before.plan, cause.repair.edits))
        left = {(one.code, one.cells) for one in find_codes(after, {one.code for one in echoes})}
        kept = [one for one in kept if one not in echoes or (one.code, one.cells) in left]
    return kept


class _Trial:
    """Tries repairs: what the plan does and what was found in it before, against the same of the edited plan.

    Every trigger is pressed for that, even if the findings are those of one.
    """

    def __init__(self, before: Evidence, depth: Depth, suspicions: list[Suspicion]) -> None:
        self.before = before
        self.depth = depth
        self.known = Counter(one.finding.code for one in suspicions)

    @cached_property
    def lit(self) -> set[str]:
        """The outputs that come on as the plan is; asked for once a repair looks right, as it may take long to run."""
        return _lit(self.before)

    @cached_property
    def whole(self) -> Evidence:
        """The plan before the repair, every trigger pressed as it is."""
        before = self.before
        return before if before.complete and before.length_steps is None else before.of_all_triggers()

    @cached_property
    def shown(self) -> dict[tuple[str, str], object]:
        """What every press does to every output."""
        return self.whole.outcomes()

    def mends(self, repair: Repair, finding: Finding) -> bool:
        """Whether one finding of that code less is left, no more of any other, and the repair harms nothing.

        Looked at first is what finds that code: most proposals fail there, before anything takes many runs.
        """
        from tickwright.diagnosis.finders import finders
        from tickwright.plan.edits import apply_edits

        try:
            edited = apply_edits(self.before.plan, repair.edits)
            validate(edited, self.before.rules)
            evidence = self.before.of(edited)
            for finder in finders(self.depth, first=finding.code):
                codes = Counter(one.finding.code for one in finder(evidence))
                if any(count > self.known[name] - (name == finding.code) for name, count in codes.items()):
                    return False
            wanted = self.lit | (self._concerned(finding) if finding.code in DARK else set())
            return wanted <= _lit(evidence) and not self._harms(edited, finding)
        except TickwrightError:
            return False

    def _concerned(self, finding: Finding) -> set[str]:
        return self.whole.concerned(finding.code, finding.cells)

    def _harms(self, edited: Plan, finding: Finding) -> bool:
        """Whether a press does anything else than before to an output that the finding does not concern."""
        concerned = self._concerned(finding)
        if concerned >= set(self.before.plan.outputs):
            return False
        after = self.whole.of(edited).outcomes()
        return any(after[pair] != seen for pair, seen in self.shown.items() if pair[1] not in concerned)


def _lit(evidence: Evidence) -> set[str]:
    """The outputs that any press makes come on."""
    return {output for (_, output), kind in evidence.answers().items() if kind != "none"}
