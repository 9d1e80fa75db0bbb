"""Rule sets side by side: what a plan measures under each, and where they first part."""

from __future__ import annotations

from typing import Any, NamedTuple

from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for, run
from tickwright.errors import PlanError
from tickwright.measurement.measuring import Measurement, measure
from tickwright.measurement.observe import settle
from tickwright.measurement.press import find_trigger, press_stimuli
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import BUILT_IN, RuleSet
from tickwright.space import Cell, zyx

MOST_COMPARED_STEPS = 2_000


class UnderRules(NamedTuple):
    """What the plan measures under one rule set; `refused` is why these rules do not allow it, with no results then."""

    rules: str
    results: tuple[Measurement, ...]
    refused: str | None = None

    def as_data(self) -> dict[str, Any]:
        """The measures as JSON shows them."""
        return {
            "rules": self.rules,
            "refused": self.refused,
            "results": [result.as_data() for result in self.results],
        }


class RulesPart(NamedTuple):
    """The first step and, in it, the first cell in (z, y, x) order that show different values under two rule sets.

    `step` counts from the start of a run in which `trigger` is pressed at `pressed_at_step`; `cell` is None if nothing
    differs in the `compared_steps` steps of it.
    """

    trigger: str
    rules_a: str
    rules_b: str
    pressed_at_step: int
    compared_steps: int
    step: int | None
    cell: Cell | None
    part: str | None
    value_a: int | None
    value_b: int | None

    def as_data(self) -> dict[str, Any]:
        """The place as JSON shows it."""
        return {**self._asdict(), "cell": list(self.cell) if self.cell else None}


class RuleSetsVerdict(NamedTuple):
    """The plan under each rule set, and for each trigger where every other set parts from the plan's own."""

    sets: tuple[UnderRules, ...]
    partings: tuple[RulesPart, ...]

    def as_data(self) -> dict[str, Any]:
        """Both as JSON shows them."""
        return {
            "sets": [one.as_data() for one in self.sets],
            "partings": [parting.as_data() for parting in self.partings],
        }


def side_by_side(
    plan: Plan,
    rules: RuleSet | str | None = None,
    trigger: str | None = None,
    measured: list[Measurement] | None = None,
) -> RuleSetsVerdict:
    """Measure the plan under its own rules (or the ones given) and the built-in ones, and find where they part.

    `measured` are the measures under the plan's own rules, if at hand. Every cell that holds a part is compared until
    both runs are at rest, at most 2,000 steps after the press.
    """
    own = rules_for(plan, rules)
    others = [rules_for(plan, name) for name in BUILT_IN if name != own.name]
    sets = [UnderRules(own.name, tuple(measured if measured is not None else measure(plan, trigger, rules=own)))]
    partings: list[RulesPart] = []
    for other in others:
        try:
            sets.append(UnderRules(other.name, tuple(measure(plan, trigger, rules=other))))
        except PlanError as error:
            sets.append(UnderRules(other.name, (), str(error)))
            continue
        names = [trigger] if trigger is not None else list(plan.triggers)
        partings += [_parting(plan, own, other, name) for name in names]
    return RuleSetsVerdict(tuple(sets), tuple(partings))


def _parting(plan: Plan, own: RuleSet, other: RuleSet, name: str) -> RulesPart:
    pressed_at, last = 0, 0
    setups = (Setup(plan, own), Setup(plan, other))
    for setup in setups:
        pressed_at = max(pressed_at, settle(Simulation(setup))[0])
    for setup in setups:
        sim = Simulation(setup)
        sim.queue_stimuli(press_stimuli(find_trigger(setup, name), pressed_at))
        sim.advance(pressed_at + MOST_COMPARED_STEPS)
        last = max(last, sim.now)
    stimuli = press_stimuli(find_trigger(setups[0], name), pressed_at)
    cells = {str(cell): cell for cell in sorted(plan.cells, key=zyx)}
    traces = [run(plan, stimuli, last + 1, rules, watch=cells).trace for rules in (own, other)]
    step, key = min(
        (
            (step, key)
            for key in cells
            if (step := _parts_at(traces[0].changes[key], traces[1].changes[key])) is not None
        ),
        key=lambda found: found[0],
        default=(None, None),
    )
    if step is None or key is None:
        return RulesPart(name, own.name, other.name, pressed_at, last + 1, None, None, None, None, None)
    values = [trace.value_at(key, step) for trace in traces]
    part = str(plan.cells[cells[key]])
    return RulesPart(name, own.name, other.name, pressed_at, last + 1, step, cells[key], part, values[0], values[1])


def _parts_at(one: tuple[tuple[int, int], ...], other: tuple[tuple[int, int], ...]) -> int | None:
    """The first step at which two change lists of equally long runs differ."""
    for pair_a, pair_b in zip(one, other, strict=False):
        if pair_a != pair_b:
            return min(pair_a[0], pair_b[0])
    if len(one) == len(other):
        return None
    longer = max(one, other, key=len)
    return longer[min(len(one), len(other))][0]
