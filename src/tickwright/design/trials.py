"""Trials: what one press makes of many plans, all of them run in one call of the fast engine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tickwright.design.sketch import PRESS
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import SETTLE_STEPS
from tickwright.measurement.press import press_stimuli
from tickwright.plan import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet

__all__ = ["Trials"]


class Trials:
    """Runs of plans under one rule set."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules

    def holds(self, plans: Sequence[Plan], most_steps: int) -> list[int | None]:
        """For each plan how long its one output holds after one press, in steps.

        None unless the plan is at rest when it is pressed, gives a single pulse after that, and comes to rest again
        within `most_steps`. A batch does not tell the pulses apart of an output that comes on before the press: such
        plans are run on the reference engine, and all are where the fast engine's library is missing.
        """
        from tickwright.engine.native import is_installed

        if not is_installed():
            return [self._alone(plan, most_steps) for plan in plans]
        return list(self._batched(plans, most_steps))

    def _batched(self, plans: Sequence[Plan], most_steps: int) -> Iterator[int | None]:
        from tickwright.engine.native import Batch, Job

        batch = Batch()
        laid = [batch.add_plan(Setup(plan, self.rules)) for plan in plans]
        untouched = batch.run([Job(n) for n in laid], SETTLE_STEPS)
        presses = [press_stimuli(find_trigger(Setup(plan, self.rules), PRESS), SETTLE_STEPS) for plan in plans]
        jobs = [Job(n, stimuli) for n, stimuli in zip(laid, presses, strict=True)]
        pressed = batch.run(jobs, SETTLE_STEPS + most_steps)
        for n, plan in enumerate(plans):
            if untouched.pulses[n]:
                yield self._alone(plan, most_steps)
                continue
            ended = pressed.pulses[n] == 1 and pressed.last[n] == 0 and pressed.at_rest[n]
            good = untouched.at_rest[n] and ended
            yield pressed.last_off[n] - pressed.first_on[n] if good else None

    def _alone(self, plan: Plan, most_steps: int) -> int | None:
        name = next(iter(plan.outputs))
        setup = Setup(plan, self.rules)
        seen = observe(setup, find_trigger(setup, PRESS), most_steps=most_steps)
        return hold_of(seen.pulses(name)) if seen.settled and kind_of(seen, name) == "one-shot" else None
