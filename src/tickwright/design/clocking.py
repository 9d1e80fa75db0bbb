"""Choosing a clock: a period and how long of it the output is on; proposed by a family, run, and seen to repeat."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from tickwright.design.families import duty_clock
from tickwright.design.judging import Candidate, candidate_of, unmet_as_laid
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Design, Wish
from tickwright.measurement import find_trigger, observe
from tickwright.plan import problems
from tickwright.plan.model import Chart
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet

__all__ = ["clocks_meeting", "near_periods", "with_clock_chart"]

FEWEST_PULSES = 3
PERIODS_CHARTED = 5


def clocks_meeting(wish: Wish, rules: RuleSet, outputs: tuple[str, ...]) -> tuple[list[Design], int]:
    """The clocks that meet the wish, and how many were proposed."""
    made = [
        candidate_of(recipe, wish)
        for recipe in duty_clock.recipes(wish.period_steps or 0, wish.hold_steps, wish.within_steps, outputs)
    ]
    laid = [one for one in made if not unmet_as_laid(one, wish)]
    found = [design for design in (_run(one, wish, rules) for one in laid) if design is not None]
    found.sort(key=lambda one: (abs(one.error_steps), one.parts, one.price, one.volume))
    return found, len(made)


def with_clock_chart(design: Design) -> Design:
    """The clock with a chart of its first periods, which `check` holds it to."""
    period = design.period_steps or 0
    every = f"{PERIODS_CHARTED} pulses of {design.hold_steps} steps every {period} steps"
    begin = f"{PRESS} released + {design.delay_steps} steps"  # the lever is thrown off
    chart = Chart(
        "the clock", (f"{design.output}: {every} from {begin}, otherwise free",), (f"0: {PRESS}",),
        design.delay_steps + (PERIODS_CHARTED + 1) * period,
    )  # fmt: skip
    return replace(design, plan=replace(design.plan, charts=(chart,)))


def near_periods(wish: Wish) -> list[int]:
    """Periods near the one wished for, the nearest first; those that are too short or too long at last."""
    wanted = wish.period_steps or 0
    near = [wanted + sign * off for off in (1, 2, 3) for sign in (1, -1)]
    near.append(min(max(wanted, duty_clock.LEAST_PERIOD_STEPS), duty_clock.MOST_PERIOD_STEPS))
    return near


def _run(candidate: Candidate, wish: Wish, rules: RuleSet) -> Design | None:
    """The clock with its figures, if every pulse that a run shows until it repeats itself for ever is as wished."""
    plan = candidate.plan
    (name,) = plan.outputs
    if any(problems(plan, rules)):
        return None
    setup = Setup(plan, rules)
    seen = observe(setup, find_trigger(setup, PRESS))
    pulses = seen.pulses(name)
    whole = [pulse for pulse in pulses if pulse.duration is not None]
    if seen.returns_to is None or not seen.settled or seen.rest(name) != "off" or len(whole) < FEWEST_PULSES:
        return None
    apart = {after.start - before.start for before, after in pairwise(pulses)}
    lengths = {pulse.duration for pulse in whole}
    if apart != {wish.period_steps} or len(lengths) != 1:
        return None
    on_steps = int(next(iter(lengths)) or 0)
    error = on_steps - wish.hold_steps
    late = wish.delay_at_most_steps is not None and pulses[0].start > wish.delay_at_most_steps
    if abs(error) > wish.within_steps or late or wish.delay_steps not in (None, pulses[0].start):
        return None
    return Design(
        family=candidate.recipe.family,
        settings=candidate.recipe.settings,
        plan=plan,
        output=name,
        delay_steps=pulses[0].start,
        hold_steps=on_steps,
        error_steps=error,
        minimum_trigger_steps=None,
        recovery_steps=None,
        recovery_exact=False,
        parts=candidate.parts,
        price=candidate.price,
        box=candidate.box,
        fit=candidate.fit,
        active_steps=seen.active_steps,
        period_steps=wish.period_steps,
    )
