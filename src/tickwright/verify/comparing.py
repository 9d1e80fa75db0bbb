"""Comparing plans: what each answers to a press, and what it costs, as rows that can be sorted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.measure import find_trigger, measure, recovery_steps
from tickwright.plan.bill import Prices, priced_bill
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet


@dataclass(frozen=True, slots=True)
class Compared:
    """One plan, by its answer to its first trigger at its first output (or those named); times in steps.

    `error_steps` is hold less the hold wanted; what does not apply is None. `box` is how many cells the parts span
    along x, y and z; `cells` is their product; without a price table each part costs 1.
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

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {**{name: getattr(self, name) for name in self.__slots__}, "box": list(self.box)}


SORT_KEYS = {
    "plan": "plan", "kind": "kind", "delay": "delay_steps", "hold": "hold_steps", "error": "error_steps",
    "minimum-trigger": "minimum_trigger_steps", "margin": "margin_steps", "recovery": "recovery_steps",
    "parts": "parts", "price": "price", "box": "cells",
}  # fmt: skip


def compare(
    plans: Mapping[str, Plan],
    hold_steps: int | None = None,
    trigger: str | None = None,
    output: str | None = None,
    sort: str | None = None,
    rules: RuleSet | str | None = None,
    prices: Prices | None = None,
) -> list[Compared]:
    """Compare plans, each under a name, in their own order or sorted: least first, margins largest first.

    Errors are sorted by their size whatever their sign; what does not apply comes last. Raises UsageError for a sort
    key, trigger or output that there is not.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... key = {"#" = "block", b = "short-button", L = "lamp"}
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
    rows = [_row(name, plan, hold_steps, trigger, output, rules, prices) for name, plan in plans.items()]
    return rows if sort is None else _sorted(rows, sort)


def _sorted(rows: Sequence[Compared], sort: str) -> list[Compared]:
    def rank(row: Compared) -> tuple[bool, Any]:
        value = getattr(row, SORT_KEYS[sort])
        if value is None:
            return (True, 0)
        return (False, abs(value) if sort == "error" else -value if sort == "margin" else value)

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
        recovery_steps=recovery_steps(plan, ruleset, find_trigger(plan, ruleset, found.trigger), found.output),
        parts=bill.number,
        price=float(bill.total),
        box=(x, y, z),
        cells=x * y * z,
    )
