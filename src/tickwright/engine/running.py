"""Run a plan: script of the hand in, trace and findings out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from tickwright.arguments import checked
from tickwright.engine.interface import ENGINES, is_installed
from tickwright.engine.interface import engine as engine_named
from tickwright.engine.order import check_order
from tickwright.engine.trace import Trace
from tickwright.errors import UsageError
from tickwright.findings import Finding
from tickwright.looks import look_of
from tickwright.plan.cells import LARGE_PLAN
from tickwright.plan.hand import Stimulus, parse_script
from tickwright.plan.model import Plan
from tickwright.plan.modules import told_in_modules
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell

LONGEST_RUN = 10**9
MOST_WORK = 60_000  # steps and events, about a second, after which the reference engine gives way


@dataclass(frozen=True, slots=True)
class Run:
    """What came of a run of `trace.steps` steps: the trace of what was watched, and the findings."""

    plan: Plan
    rules: str
    engine: str
    trace: Trace
    findings: tuple[Finding, ...]

    def _repr_html_(self) -> str | None:
        """What a notebook shows."""
        return look_of(self)


def rules_for(plan: Plan, rules: RuleSet | str | None = None) -> RuleSet:
    """The rule set to run the plan under: the one given (a name or a file beside the plan), or the plan's own."""
    if isinstance(rules, RuleSet):
        return rules
    folder = Path(plan.path).parent if plan.path else None
    return load_rules(rules if rules is not None else plan.rules, folder)


@checked
def run(
    plan: Plan,
    hand: Iterable[str | Stimulus] = (),
    steps: int = 200,
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    engine: str | None = None,
    watch: Mapping[str, Cell] | None = None,
) -> Run:
    """Simulate steps 0 to `steps` - 1 and record what the outputs (or the cells in `watch`) show.

    `hand` holds acts or their texts, `STEP:WHO[:ACT]`; `order` is "canonical", "reversed" or a seed (a whole number).
    Both engines give the same; without an `engine` the reference begins, and the fast one takes over what is large,
    where its library is installed.
    Raises UsageError for acts or options that cannot be meant, PlanError for a plan that the rules refuse.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> run(plan, ["5:press"], steps=60).trace.changes["lamp"]
    ((0, 0), (5, 15), (29, 0))
    """
    if not 1 <= steps <= LONGEST_RUN:
        raise UsageError(f"A run of {steps} steps cannot be made: use 1 to {LONGEST_RUN:,} steps.")
    if engine is not None and engine not in ENGINES:
        raise UsageError(f'There is no engine "{engine}": use {" or ".join(ENGINES)}.')
    check_order(order)
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    stimuli = script(plan, hand)
    watched = dict(plan.outputs if watch is None else watch)
    in_time = [stimulus for stimulus in stimuli if stimulus.step < steps]
    question = (Setup(plan, ruleset, order), watched, in_time, steps)
    used, done = engine, None
    if engine is None and len(plan.cells) < LARGE_PLAN:
        used, done = "reference", engine_named("reference").trace_of(*question, MOST_WORK)
    if done is None:
        used = engine or ("fast" if is_installed("fast") else "reference")
        done = engine_named(used).trace_of(*question)
    assert used is not None
    assert done is not None, "without a limit an engine does not give up"
    trace, notes = done
    for stimulus in stimuli[len(in_time) :]:
        message = f'"{stimulus}" comes after the end of the run, which has the steps 0 to {steps - 1}: it was not done.'
        notes.add("act-after-end", "warning", message, (stimulus.cell,), stimulus.step)
    return Run(plan, ruleset.name, used, trace, told_in_modules(plan, notes.findings()))


def script(plan: Plan, hand: Iterable[str | Stimulus]) -> tuple[Stimulus, ...]:
    """The acts in order of their steps, read from texts where they are texts."""
    given = list(hand)
    texts = [stimulus if isinstance(stimulus, str) else str(stimulus) for stimulus in given]
    return parse_script(plan, texts)
