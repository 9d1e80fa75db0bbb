"""Judging: run one proposed plan and hold it to a wish; what it fails by, and its figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any, NamedTuple

from tickwright.design.fitting import fit
from tickwright.design.recipes import Recipe
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Design, Fit, Wish
from tickwright.durations import seconds_text, ticks_text
from tickwright.errors import PlanError
from tickwright.measurement import Observation, Runs, Trigger, find_trigger, observe, recovery_steps, retrigger
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.press import takes_length
from tickwright.measurement.second_press import effect_of
from tickwright.plan import Expectation, Plan, priced_bill, validate
from tickwright.rules import RuleSet
from tickwright.space import Cell
from tickwright.verify.neighbours import neighbour_verdicts
from tickwright.verify.proof import prove

__all__ = ["Candidate", "Failure", "Judged", "candidate_of", "judge", "static_failures"]

LONG_STEPS = 1_500  # more steps in which something happens after a press: recovery and other lengths are not tried
FEW_PRESSES = 6
MANY_STEPS = 250  # more: recovery is tried once, at rest


class Failure(NamedTuple):
    """A wish that a plan fails: its name, what would have to be allowed, and how far that is from what was wished."""

    wish: str
    instead: str
    amount: float

    def as_data(self) -> dict[str, Any]:
        """The failure as JSON shows it; without an amount where nothing would do."""
        return {**self._asdict(), "amount": None if self.amount == inf else self.amount}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A recipe with its plan, and what can be said of it without a run."""

    recipe: Recipe
    plan: Plan
    parts: int
    price: float
    box: Cell
    fit: Fit | None

    @property
    def sizes(self) -> tuple[float, ...]:
        """Parts, price, volume, footprint and height."""
        x, y, z = self.box
        return (self.parts, self.price, x * y * z, x * y, z)


@dataclass(frozen=True, slots=True)
class Judged:
    """What a run made of a candidate: the design, if it could be measured, and the wishes that it fails."""

    design: Design | None
    failures: tuple[Failure, ...]


def candidate_of(recipe: Recipe, wish: Wish) -> Candidate:
    """Lay the plan of a recipe and size it up."""
    plan = recipe.make()
    if plan.rules != wish.rules[0]:
        plan = replace(plan, rules=wish.rules[0])
    bill = priced_bill(plan, wish.prices)
    where = None if wish.room is None else fit(plan, wish.room)
    return Candidate(recipe, plan, bill.number, float(bill.total), plan.size, where)


def static_failures(candidate: Candidate, wish: Wish) -> tuple[Failure, ...]:
    """The wishes that can be seen to fail without a run: room, parts on hand, parts allowed."""
    failures: list[Failure] = []
    if wish.room is not None and candidate.fit is None:
        box = " x ".join(map(str, candidate.box))
        excess = candidate.sizes[2]
        failures.append(Failure("room", f"a free box of {box} cells, entered and left where the plan lies", excess))
    bill = candidate.plan.bill()
    if wish.allowed is not None:
        others = sorted(kind for kind in bill if kind not in wish.allowed)
        if others:
            failures.append(Failure("parts allowed", ", ".join(others), len(others)))
    if wish.have is not None:
        short = {kind: number - wish.have[kind] for kind, number in bill.items() if kind in wish.have}
        missing = {kind: number for kind, number in short.items() if number > 0}
        if missing:
            text = ", ".join(f"{kind} {number} more" for kind, number in sorted(missing.items()))
            failures.append(Failure("parts on hand", text, sum(missing.values())))
    return tuple(failures)


def judge(candidate: Candidate, wish: Wish, rulesets: Sequence[RuleSet], needed_level: int) -> Judged:
    """Run the plan, and measure it if it is a one-shot; then try what else is asked for, the quick before the slow."""
    plan, rules = candidate.plan, rulesets[0]
    name = next(iter(plan.outputs))
    trigger = find_trigger(plan, rules, PRESS)
    seen = observe(plan, rules, trigger, wish.trigger_steps)
    hold = _hold(seen, name)
    if hold is None:
        return Judged(None, (Failure("hold", "a run gives no single pulse that ends", inf),))
    failures: list[Failure] = list(static_failures(candidate, wish))
    error = hold - wish.hold_steps
    if abs(error) > wish.within_steps:
        failures.append(Failure("within", f"{_time(abs(error))} too {'long' if error > 0 else 'short'}", abs(error)))
    delay = seen.pulses(name)[0].start
    if wish.delay_at_most_steps is not None and delay > wish.delay_at_most_steps:
        failures.append(Failure("delay", f"a delay of {_time(delay)}", delay))
    lowest = min((value for step, value in seen.changes[name] if value > 0 and step >= 0), default=0)
    if lowest < needed_level:
        failures.append(Failure("level", f"level {lowest} at the output", needed_level - lowest))
    for other in rulesets[1:]:
        held = _hold_under(plan, other, wish.trigger_steps)
        if held is None or abs(held - wish.hold_steps) > wish.within_steps:
            what = "no single pulse that ends" if held is None else f"a hold of {_time(held)}"
            failures.append(Failure("rules", f"{what} under {other.name}", 1))
    recovery, exact = _recovery(plan, rules, trigger, name, seen, wish)
    design = Design(
        family=candidate.recipe.family,
        settings=candidate.recipe.settings,
        plan=plan,
        output=name,
        delay_steps=delay,
        hold_steps=hold,
        error_steps=error,
        minimum_trigger_steps=None,
        recovery_steps=recovery,
        recovery_exact=exact,
        parts=candidate.parts,
        price=candidate.price,
        box=candidate.box,
        fit=candidate.fit,
        active_steps=seen.active_steps,
        rest_steps=seen.rest_steps,
        lowest_level=lowest,
    )
    return Judged(design, tuple(failures))


def judge_slowly(design: Design, wish: Wish, rules: RuleSet) -> Judged:
    """What takes many runs: pitch, a second press, proofs; only what the wish asks for."""
    plan, failures, verdicts = design.plan, [], {}
    if wish.pitch is not None:
        axis, wanted = wish.pitch
        least = neighbour_verdicts(plan, rules, (axis,), (False,))[0].pitch_cells
        verdicts["pitch"] = "none" if least is None else f"{least} cells along {axis}"
        if least is None or least > wanted:
            instead = "no pitch" if least is None else f"a pitch of {least} cells along {axis}"
            failures.append(Failure("pitch", instead, inf if least is None else least))
    if wish.answer != "any":
        verdicts["second press"] = _answer(design, rules, wish)
        if verdicts["second press"] != wish.answer:
            failures.append(Failure("answer", f"a second press whose effect is: {verdicts['second press']}", 1))
    for claim in dict.fromkeys(("never-sticks",) * wish.mash_proof + ((wish.claim,) if wish.claim else ())):
        proof = prove(plan, claim, design.output if claim == "never-sticks" else None, states=wish.states)
        verdicts[claim] = f"{proof.verdict} ({proof.states} states)"
        if proof.verdict != "proved":
            failures.append(Failure("mash-proof" if claim == "never-sticks" else "claim", verdicts[claim], 1))
    return Judged(replace(design, verdicts=verdicts), tuple(failures))


def _answer(design: Design, rules: RuleSet, wish: Wish) -> str:
    """What a second press during the hold does; a few presses tell most plans that do not answer as wished."""
    trigger = find_trigger(design.plan, rules, PRESS)
    if trigger.length_steps is None or design.active_steps > LONG_STEPS:
        return "not tried"
    runs = Runs()
    alone = observe(design.plan, rules, trigger, runs=runs)
    first, begin = alone.pulses(design.output), trigger.length_steps
    for part in range(FEW_PRESSES):
        offset = begin + (design.hold_steps - begin) * part // FEW_PRESSES
        if offset < design.hold_steps:
            seen = observe(design.plan, rules, trigger, again=(offset,), runs=runs)
            effect = effect_of(first, seen.pulses(design.output), kind_of(seen, design.output))
            if effect != wish.answer:
                return f"{effect}, {_time(offset)} after the first"
    found = retrigger(design.plan, rules, trigger, [design.output], alone, runs)[design.output]
    return str(found.verdict)


def with_minimum(design: Design, wish: Wish, rules: RuleSet) -> Design:
    """The design with its minimum trigger, and expectations that say what was measured.

    The minimum is the shortest press from which on every longer one, up to the trigger's own, gives one pulse that is
    as long, or longer by just as much as the press is. It is not tried for a lever, nor for runs of many steps.
    """
    trigger = find_trigger(design.plan, rules, PRESS)
    own = wish.trigger_steps if wish.trigger_steps is not None else trigger.length_steps
    least, grows = None, True
    if own is not None and takes_length(trigger) and design.active_steps <= LONG_STEPS:
        least, grows = _least_press(design, rules, trigger, own)
    wanted = Expectation(
        trigger=PRESS,
        output=design.output,
        hold_steps=design.hold_steps if wish.trigger_steps is None else None,
        delay_steps=design.delay_steps,
        pulses=1,
        level_at_least=design.lowest_level,
        settles_within_steps=design.rest_steps if wish.trigger_steps is None else None,
        minimum_trigger_at_most_steps=least if grows and wish.trigger_steps is None else None,
    )
    return replace(design, minimum_trigger_steps=least, plan=replace(design.plan, expectations=(wanted,)))


def _least_press(design: Design, rules: RuleSet, trigger: Trigger, own: int) -> tuple[int | None, bool]:
    """The minimum trigger, and whether the hold grows with the press rather than staying the same."""
    least, grows = None, None
    runs = Runs()
    for length in range(own, 0, -1):
        seen = observe(design.plan, rules, trigger, length, runs=runs)
        hold = _hold(seen, design.output)
        if hold is None:
            break
        if length < own:
            if grows is None:
                grows = hold != design.hold_steps
            if hold != design.hold_steps - (own - length if grows else 0):
                break
        elif hold != design.hold_steps:
            break
        least = length
    return least, bool(grows)


def _recovery(
    plan: Plan, rules: RuleSet, trigger: Trigger, name: str, seen: Observation, wish: Wish
) -> tuple[int | None, bool]:
    """The recovery and whether it is exact; else a press at rest was tried alone."""
    if wish.trigger_steps is not None or trigger.length_steps is None or seen.rest_steps is None:
        return None, False
    if seen.active_steps <= MANY_STEPS:
        return recovery_steps(plan, rules, trigger, name, seen), True
    if seen.active_steps > LONG_STEPS:
        return None, False
    first = seen.pulses(name)[0]
    again = seen.rest_steps + 1
    later = [pulse for pulse in observe(plan, rules, trigger, again=(again,)).pulses(name) if pulse.start >= again]
    if [(pulse.start - again, pulse.duration) for pulse in later] != [(first.start, first.duration)]:
        return None, False
    return max(0, again - first.start - (first.duration or 0)), False


def _hold(seen: Observation, name: str) -> int | None:
    return hold_of(seen.pulses(name)) if kind_of(seen, name) == "one-shot" and seen.settled else None


def _hold_under(plan: Plan, rules: RuleSet, length_steps: int | None) -> int | None:
    try:
        validate(plan, rules)
    except PlanError:
        return None
    seen = observe(plan, rules, find_trigger(plan, rules, PRESS), length_steps)
    return _hold(seen, next(iter(plan.outputs)))


def _time(steps: float) -> str:
    return f"{seconds_text(int(steps))} ({ticks_text(int(steps))})"
