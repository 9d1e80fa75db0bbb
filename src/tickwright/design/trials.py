"""Trials: what one press makes of many plans, all of them run in one call of the fast engine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from tickwright.design.sketch import PRESS
from tickwright.engine.circuit import Circuit, circuit_of, delay_of
from tickwright.kinds import CONTAINERS, PISTONS
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import SETTLE_STEPS
from tickwright.measurement.press import press_stimuli
from tickwright.plan import Plan
from tickwright.rules import RuleSet
from tickwright.space import Cell

__all__ = ["Trials"]

_Shape = tuple[Cell, tuple[tuple[Cell, object], ...]]


class Trials:
    """Runs of plans under one rule set. Plans that differ in nothing but delays and items share what is worked out."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules
        self._circuits: dict[_Shape, Circuit] = {}

    def holds(self, plans: Sequence[Plan], most_steps: int) -> list[int | None]:
        """For each plan how long its one output holds after one press, in steps.

        None unless the plan is at rest when it is pressed, gives a single pulse after that, and comes to rest again
        within `most_steps`. A batch runs nothing with a piston, and of an output that comes on before the press it does
        not tell the pulses apart: such plans are run on the reference engine.
        """
        found: dict[int, int | None] = {}
        batched = [n for n, plan in enumerate(plans) if not any(part.kind in PISTONS for part in plan.cells.values())]
        if batched:
            found.update(zip(batched, self._batched([plans[n] for n in batched], most_steps), strict=True))
        return [found[n] if n in found else self._alone(plan, most_steps) for n, plan in enumerate(plans)]

    def _batched(self, plans: Sequence[Plan], most_steps: int) -> Iterator[int | None]:
        from tickwright.engine.fast import Batch, Job

        batch = Batch([self.circuit(plan) for plan in plans], [tuple(plan.outputs.values()) for plan in plans])
        untouched = batch.run(batch.jobs(Job(n) for n in range(len(plans))), SETTLE_STEPS)
        presses = [press_stimuli(find_trigger(plan, self.rules, PRESS), SETTLE_STEPS) for plan in plans]
        pressed = batch.run(batch.jobs(Job(n, stimuli) for n, stimuli in enumerate(presses)), SETTLE_STEPS + most_steps)
        ended = (pressed.pulses == 1) & (pressed.last == 0) & (pressed.at_rest == 1)
        for n, plan in enumerate(plans):
            if untouched.pulses[n]:
                yield self._alone(plan, most_steps)
            else:
                good = untouched.at_rest[n] and ended[n]
                yield int(pressed.last_off[n] - pressed.first_on[n]) if good else None

    def _alone(self, plan: Plan, most_steps: int) -> int | None:
        name = next(iter(plan.outputs))
        seen = observe(plan, self.rules, find_trigger(plan, self.rules, PRESS), most_steps=most_steps)
        return hold_of(seen.pulses(name)) if seen.settled and kind_of(seen, name) == "one-shot" else None

    def circuit(self, plan: Plan) -> Circuit:
        """The plan's Circuit: that of a plan alike in all but delays and items, with the delays and items of this."""
        press = plan.triggers[PRESS]
        shape = (press, tuple((cell, part._replace(delay=0, items=0)) for cell, part in plan.cells.items()))
        alike = self._circuits.get(shape)
        if alike is None:
            alike = self._circuits[shape] = circuit_of(plan, self.rules, also=(press,))
        delay, stock = alike.delay.copy(), alike.stock.copy()
        for cell, part in plan.cells.items():
            if part.kind == "repeater":
                delay[alike.index[cell]] = delay_of(part, self.rules)
            elif part.kind in CONTAINERS:
                stock[alike.index[cell]] = part.items
        return replace(alike, delay=delay, stock=stock)
