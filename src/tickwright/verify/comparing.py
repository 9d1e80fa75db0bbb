"""Comparing plans: what each answers to a press, and what it costs, as rows that can be sorted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tickwright.arguments import checked
from tickwright.charts.checking import check_charts
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.measurement import find_trigger, measure, observe, recovery_steps
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.plan.bill import Prices, priced_bill
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import BUILT_IN, RuleSet
from tickwright.verify.claims import CLAIMS
from tickwright.verify.neighbours import neighbour_verdicts
from tickwright.verify.proof import DEFAULT_STATES, prove

RULE_SETS = ("same", "differ", "refused")
PROOFS = ("proved", "undecided", "refuted")


@dataclass(frozen=True, slots=True)
class Compared:
    """One plan, by its answer to its first trigger at its first output (or those named); times in steps.

    `error_steps` is hold less the hold wanted; what does not apply is None. `box` is how many cells the parts span
    along x, y and z; `cells` is their product; without a price table each part costs 1. `pitch_x_cells` and
    `pitch_y_cells` are the least pitches of plain copies side by side. `rule_sets`: whether kind and hold are the
    "same" under the built-in rule sets or "differ", or one of these has "refused" the plan. `proof` is the verdict on
    the claim that was to be proved, with `proof_states` explored; None too if the plan expects nothing to be proved.
    `claims_kept` of the `claims` of the plan's charts are kept; None for a plan that has no chart.
    """

    plan: str
    trigger: str
    output: str
    kind: str
    delay_steps: int | None
    hold_steps: int | None
    error_steps: int | None
    minimum_trigger_steps: int | None
    margin_steps: int | None
    recovery_steps: int | None
    parts: int
    price: float
    box: tuple[int, int, int]
    cells: int
    pitch_x_cells: int | None
    pitch_y_cells: int | None
    rule_sets: str
    proof: str | None
    proof_states: int | None
    claims_kept: int | None = None
    claims: int | None = None

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {**{name: getattr(self, name) for name in self.__slots__}, "box": list(self.box)}


SORT_KEYS = {
    "plan": "plan", "kind": "kind", "delay": "delay_steps", "hold": "hold_steps", "error": "error_steps",
    "minimum-trigger": "minimum_trigger_steps", "margin": "margin_steps", "recovery": "recovery_steps",
    "parts": "parts", "price": "price", "box": "cells", "pitch-x": "pitch_x_cells", "pitch-y": "pitch_y_cells",
    "rule-sets": "rule_sets", "proof": "proof",
}  # fmt: skip


@checked
def compare(
    plans: Mapping[str, Plan],
    hold_steps: int | None = None,
    trigger: str | None = None,
    output: str | None = None,
    sort: str | None = None,
    rules: RuleSet | str | None = None,
    prices: Prices | None = None,
    claim: str | None = None,
    states: int = DEFAULT_STATES,
) -> list[Compared]:
    """Compare plans, each under a name, in their own order or sorted: least first, margins largest first.

    Errors are sorted by their size whatever their sign, proofs as proved, undecided, refuted, rule sets as same,
    differ, refused; what does not apply comes last. With `claim` that claim ("settles", "never-sticks" or
    "expectations") is put to proof for any presses of all triggers (or the one named), over at most `states` states.
    Raises UsageError for a sort key, trigger, output or claim that there is not.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> [(row.hold_steps, row.error_steps, row.parts, row.box) for row in compare({"bell": plan}, hold_steps=20)]
    [(24, 4, 3, (2, 1, 2))]
    """
    if sort is not None and sort not in SORT_KEYS:
        raise UsageError(f'Plans cannot be sorted by "{sort}".{near(sort, SORT_KEYS)}')
    if sort == "error" and hold_steps is None:
        raise UsageError('There is no error to sort by without a wanted hold: give one, such as --hold "5 s".')
    if sort == "proof" and claim is None:
        raise UsageError("There is no proof to sort by without a claim: give one, such as --prove settles.")
    if claim == "holds":
        raise UsageError(
            'The claim "holds" needs limits that differ from plan to plan: write them as expectations of each plan and '
            "prove expectations, or use tickwright prove."
        )
    if claim is not None and claim not in CLAIMS:
        raise UsageError(f'There is no claim "{claim}".{near(claim, CLAIMS)}')
    rows = [_row(name, plan, hold_steps, trigger, output, rules, prices) for name, plan in plans.items()]
    if claim is not None:
        pressed = (trigger,) if trigger is not None else ()
        both = zip(rows, plans.values(), strict=True)
        rows = [_proved(row, plan, claim, pressed, states, rules) for row, plan in both]
    return rows if sort is None else sorted_rows(rows, sort)


def sorted_rows(rows: Sequence[Compared], sort: str) -> list[Compared]:
    """Rows sorted by a key of SORT_KEYS as `compare` says: least first, what does not apply last."""

    def rank(row: Compared) -> tuple[bool, Any]:
        value = getattr(row, SORT_KEYS[sort])
        if value is None:
            return (True, 0)
        ranks: dict[str, Callable[[Any], Any]] = {
            "error": abs, "margin": int.__neg__, "rule-sets": RULE_SETS.index, "proof": PROOFS.index,
        }  # fmt: skip
        return (False, ranks.get(sort, lambda same: same)(value))

    known = [row for row in rows if not rank(row)[0]]
    return sorted(known, key=rank) + [row for row in rows if rank(row)[0]]


def _row(
    name: str,
    plan: Plan,
    wanted: int | None,
    trigger: str | None,
    output: str | None,
    rules: RuleSet | str | None,
    prices: Prices | None,
) -> Compared:
    ruleset = rules_for(plan, rules)
    one = trigger if trigger is not None else next(iter(plan.triggers), None)
    seen = output if output is not None else next(iter(plan.outputs), None)
    found = measure(plan, one, seen, rules=ruleset)[0]
    bill = priced_bill(plan, prices)
    if not plan.cells:
        raise UsageError(f"The plan {name} has no parts: there is nothing to compare.")
    spans = [{cell[axis] for cell in plan.cells} for axis in range(3)]
    x, y, z = (max(span) - min(span) + 1 for span in spans)
    told = [claim for chart in check_charts(plan, ruleset) for claim in chart.claims] if plan.charts else None
    pitches = [verdict.pitch_cells for verdict in neighbour_verdicts(plan, ruleset, ("x", "y"), (False,))]
    setup = Setup(plan, ruleset)
    return Compared(
        plan=name,
        trigger=found.trigger,
        output=found.output,
        kind=found.kind,
        delay_steps=found.delay_steps,
        hold_steps=found.hold_steps,
        error_steps=found.hold_steps - wanted if wanted is not None and found.hold_steps is not None else None,
        minimum_trigger_steps=found.minimum_trigger_steps,
        margin_steps=found.margin_steps,
        recovery_steps=recovery_steps(setup, find_trigger(setup, found.trigger), found.output),
        parts=bill.number,
        price=float(bill.total),
        box=(x, y, z),
        cells=x * y * z,
        pitch_x_cells=pitches[0],
        pitch_y_cells=pitches[1],
        rule_sets=_under_rule_sets(plan, found.trigger, found.output),
        proof=None,
        proof_states=None,
        claims_kept=None if told is None else sum(claim.passed for claim in told),
        claims=None if told is None else len(told),
    )


def _under_rule_sets(plan: Plan, trigger: str, output: str) -> str:
    """Whether kind and hold are the same under every built-in rule set."""
    answers = set()
    for name in BUILT_IN:
        ruleset = rules_for(plan, name)
        if any(problems(plan, ruleset)):
            return "refused"
        setup = Setup(plan, ruleset)
        seen = observe(setup, find_trigger(setup, trigger))
        kind = kind_of(seen, output)
        answers.add((kind, hold_of(seen.pulses(output)) if kind in ("one-shot", "train") else None))
    return "same" if len(answers) == 1 else "differ"


def _proved(
    row: Compared, plan: Plan, claim: str, triggers: tuple[str, ...], states: int, rules: RuleSet | str | None
) -> Compared:
    """The row with its proof; a claim about one output is about that of the row."""
    if claim == "expectations" and not plan.expectations:
        return row
    about = row.output if claim == "never-sticks" else None
    proof = prove(plan, claim, about, states=states, triggers=triggers, rules=rules)
    return replace(row, proof=proof.verdict, proof_states=proof.states)
