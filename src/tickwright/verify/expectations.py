"""Expectations: what a plan says one press must do, held against runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.durations import time_text
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.measurement.measuring import hold_of, kind_of, scan_lengths
from tickwright.measurement.observe import Observation, Runs, observe
from tickwright.measurement.press import Trigger, find_trigger, takes_length
from tickwright.measurement.recovery import recovery_steps
from tickwright.plan.model import Expectation, Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet


@dataclass(frozen=True, slots=True)
class Verdict:
    """One key of one expectation: what was expected, what a run showed, and whether it passed."""

    trigger: str
    output: str
    key: str
    expected: str
    measured: str
    passed: bool

    def as_data(self) -> dict[str, Any]:
        """The verdict as JSON shows it."""
        return {name: getattr(self, name) for name in self.__slots__}


@checked
def check(plan: Plan, rules: RuleSet | str | None = None, runs: Runs | None = None) -> list[Verdict]:
    """Hold every expectation of the plan against runs, in the order of the plan.

    Limits are inclusive: what equals the limit passes. `runs` as for `measure.observe`. Raises UsageError if the plan
    expects nothing.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}
    ... expect = [{trigger = "press", output = "lamp", hold = "1 s", within = "2 ticks"}]''')
    >>> [(verdict.key, verdict.measured, verdict.passed) for verdict in check(plan)]
    [('hold', '1.2 s (12 ticks)', True)]
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    if not plan.expectations:
        raise UsageError("The plan expects nothing: add an [[expect]] with a trigger, an output and, say, hold.")
    runs = runs or Runs()
    verdicts: list[Verdict] = []
    setup = Setup(plan, ruleset)
    for wish in plan.expectations:
        trigger = find_trigger(setup, wish.trigger)
        verdicts += _verdicts(setup, wish, trigger, observe(setup, trigger, runs=runs), runs)
    return verdicts


def _verdicts(setup: Setup, wish: Expectation, trigger: Trigger, seen: Observation, runs: Runs) -> list[Verdict]:
    found = seen.pulses(wish.output)
    kind = kind_of(seen, wish.output)
    ends = kind in ("one-shot", "train")
    goes = "comes on" if seen.rest(wish.output) == "off" else "goes off"  # of what is on at rest, its absence counts
    never_ends = f"never {goes}" if kind == "none" else f"never ends ({kind})"
    out: list[Verdict] = []

    def add(key: str, expected: str, measured: str, passed: bool) -> None:
        out.append(Verdict(wish.trigger, wish.output, key, expected, measured, passed))

    def near_to(key: str, wanted: int, measured: int | None, otherwise: str) -> None:
        within = f" within {time_text(wish.within_steps)}" if wish.within_steps else ""
        passed = measured is not None and abs(measured - wanted) <= wish.within_steps
        add(key, time_text(wanted) + within, otherwise if measured is None else time_text(measured), passed)

    if wish.hold_steps is not None:
        near_to("hold", wish.hold_steps, hold_of(found) if ends else None, never_ends)
    if wish.delay_steps is not None:
        near_to("delay", wish.delay_steps, found[0].start if found else None, f"never {goes}")
    if wish.recovery_steps is not None:
        recovery = recovery_steps(setup, trigger, wish.output, seen, runs)
        near_to("recovery", wish.recovery_steps, recovery, "gives no single pulse that ends")
    if wish.pulses is not None:
        count = "for ever" if kind == "clock" else "undecided" if kind == "undecided" else str(len(found))
        add("pulses", str(wish.pulses), count, count == str(wish.pulses))
    if wish.level_at_least is not None:
        levels = [value for step, value in seen.changes[wish.output] if value > 0 and step >= 0]
        lowest = min(levels, default=0)
        add("level_at_least", f"at least {wish.level_at_least}", str(lowest), lowest >= wish.level_at_least)
    if wish.never:
        comes = f"{goes} after {time_text(found[0].start)}" if found else f"never {goes}"
        add("never", f"never {goes}", comes if seen.decided else "undecided", seen.decided and not found)
    if wish.settles_within_steps is not None:
        passed = seen.rest_steps is not None and seen.rest_steps <= wish.settles_within_steps
        unrest = "never rests" if seen.decided else "undecided"
        rest = unrest if seen.rest_steps is None else time_text(seen.rest_steps)
        add("settles_within", f"at most {time_text(wish.settles_within_steps)}", rest, passed)
    if wish.minimum_trigger_at_most_steps is not None:
        least = None
        if takes_length(trigger):
            least = scan_lengths(setup, trigger, [wish.output], runs=runs)[wish.output][0]
        measured = time_text(least) if least is not None else "no trigger length works"
        passed = least is not None and least <= wish.minimum_trigger_at_most_steps
        limit = f"at most {time_text(wish.minimum_trigger_at_most_steps)}"
        add("minimum_trigger_at_most", limit, measured, passed)
    return out
