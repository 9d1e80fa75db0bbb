"""Judging: run one proposed plan and hold it to a wish; what it fails by, and its figures."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tickwright.design.answering import Answered, answer_to_second_press
from tickwright.design.fitting import fit
from tickwright.design.recipes import Recipe
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Design, Fit, Wish
from tickwright.measurement import Observation, Trigger, find_trigger, observe, recovery_steps
from tickwright.measurement.measuring import hold_of, kind_of, scan_lengths
from tickwright.measurement.press import takes_length
from tickwright.plan import Expectation, Plan, priced_bill, problems
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell
from tickwright.verify.neighbours import neighbour_verdicts
from tickwright.verify.proof import prove

__all__ = ["Candidate", "Judge", "candidate_of", "plan_key", "unmet_as_laid", "with_minimum"]

LONG_STEPS = 1_500  # more steps in which something happens after a press: recovery and other lengths are not tried
ORDERS = ("reversed", "1", "2")
MANY_STEPS = 250  # more: recovery is tried once, at rest


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


def candidate_of(recipe: Recipe, wish: Wish) -> Candidate:
    """Lay the plan of a recipe and size it up."""
    plan = recipe.make()
    if plan.rules != wish.rules[0]:
        plan = replace(plan, rules=wish.rules[0])
    bill = priced_bill(plan, wish.prices)
    where = None if wish.room is None else fit(plan, wish.room)
    return Candidate(recipe, plan, bill.number, float(bill.total), plan.size, where)


def unmet_as_laid(candidate: Candidate, wish: Wish) -> list[str]:
    """The wishes that can be seen to fail without a run: room, parts on hand, parts allowed."""
    bill = candidate.plan.bill()
    short = wish.have is not None and any(number > wish.have.get(kind, number) for kind, number in bill.items())
    return [
        *["room"] * (wish.room is not None and candidate.fit is None),
        *["parts on hand"] * short,
        *["parts allowed"] * (wish.allowed is not None and not wish.allowed >= bill.keys()),
    ]


class Judge:
    """Runs candidates under one rule set for several wishes; no run is made twice."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules
        self._designs: dict[object, Design | None] = {}
        self._holds: dict[object, int | None] = {}
        self._pitches: dict[object, int | None] = {}
        self._answers: dict[object, Answered] = {}
        self._proofs: dict[object, str] = {}

    def design(self, candidate: Candidate, wish: Wish) -> Design | None:
        """The candidate with the figures of a run; None if that shows no single pulse that ends."""
        key = (plan_key(candidate.plan), wish.trigger_steps)
        if key not in self._designs:
            self._designs[key] = _run(candidate, wish, self.rules)
        known = self._designs[key]
        if known is None:
            return None
        recipe, error = candidate.recipe, known.hold_steps - wish.hold_steps
        known = replace(known, family=recipe.family, settings=recipe.settings, error_steps=error)
        return replace(known, plan=candidate.plan, fit=candidate.fit)

    def meeting(self, candidate: Candidate, wish: Wish, needed_level: int) -> Design | None:
        """The design, if it meets the wish, with its verdicts; what takes few runs is asked first.

        That the candidate lies in the room and is made of parts that may be used is seen without a run.
        """
        design = self.design(candidate, wish)
        if design is None or abs(design.error_steps) > wish.within_steps or design.lowest_level < needed_level:
            return None
        if not _in_time(design, wish) or design.inverted != wish.inverted:
            return None
        held = [self.hold_under(design, name, wish) for name in wish.rules[1:]]
        if any(hold is None or abs(hold - wish.hold_steps) > wish.within_steps for hold in held):
            return None
        verdicts: dict[str, str] = {}
        if wish.pitch is not None:
            axis, wanted = wish.pitch
            least = self.pitch_cells(design, axis)
            if least is None or least > wanted:
                return None
            verdicts["pitch"] = f"{least} cells along {axis}"
        if wish.answer != "any":
            answered = self.answer(design, wish.answer)
            if answered.effect != wish.answer:
                return None
            verdicts["second press"] = answered.effect
            if answered.effect == "restarts":
                verdicts["second press tried"] = "at every step from a tick after it is on"
            if 0 < answered.tried < answered.moments:
                verdicts["second press tried"] = f"at {answered.tried:,} of {answered.moments:,} steps of the hold"
        for claim in dict.fromkeys(("never-sticks",) * wish.mash_proof + ((wish.claim,) if wish.claim else ())):
            verdicts[claim] = self.proof_text(design, claim, wish.states)
            if not verdicts[claim].startswith("proved"):
                return None
        return replace(design, verdicts=verdicts)

    def keeps_in_every_order(self, design: Design) -> bool:
        """Whether a press gives the same pulse in whatever order parts are told."""
        setup = Setup(design.plan, self.rules)
        trigger = find_trigger(setup, PRESS)
        wanted = (design.delay_steps, design.hold_steps)
        for order in ORDERS:
            pulses = observe(setup._replace(order=order), trigger).pulses(design.output)
            if [(pulse.start, pulse.duration) for pulse in pulses] != [wanted]:
                return False
        return True

    @property
    def run(self) -> int:
        """How many plans were run."""
        return len(self._designs)

    def hold_under(self, design: Design, rules: str, wish: Wish) -> int | None:
        """How long the design holds under those rules; None if it gives no single pulse that ends."""
        key = (plan_key(design.plan), rules, wish.trigger_steps)
        if key not in self._holds:
            self._holds[key] = _hold_under(Setup(design.plan, load_rules(rules)), wish.trigger_steps)
        return self._holds[key]

    def pitch_cells(self, design: Design, axis: str) -> int | None:
        """The pitch from which on copies stand side by side along the axis; None if there is none."""
        key = (plan_key(design.plan), axis)
        if key not in self._pitches:
            self._pitches[key] = neighbour_verdicts(design.plan, self.rules, (axis,), (False,))[0].pitch_cells
        return self._pitches[key]

    def answer(self, design: Design, wanted: str) -> Answered:
        """What a second press during the hold does: all of it if `wanted` is "any", else in short if it is another."""
        key = (plan_key(design.plan), wanted)
        if key not in self._answers:
            setup = Setup(design.plan, self.rules)
            trigger = find_trigger(setup, PRESS)
            alone = observe(setup, trigger)
            self._answers[key] = answer_to_second_press(setup, trigger, design.output, alone, wanted)
        return self._answers[key]

    def proof_text(self, design: Design, claim: str, states: int) -> str:
        """The verdict of a proof within so many states."""
        key = (plan_key(design.plan), claim, states)
        if key not in self._proofs:
            proof = prove(design.plan, claim, design.output if claim == "never-sticks" else None, states=states)
            self._proofs[key] = f"{proof.verdict} ({proof.states} states)"
        return self._proofs[key]


def _in_time(design: Design, wish: Wish) -> bool:
    """Whether delay and recovery are as wished; a recovery that is not known is none."""
    if wish.delay_steps is not None and design.delay_steps != wish.delay_steps:
        return False
    if wish.delay_at_most_steps is not None and design.delay_steps > wish.delay_at_most_steps:
        return False
    most = wish.recovery_at_most_steps
    return most is None or (design.recovery_steps is not None and design.recovery_steps <= most)


def plan_key(plan: Plan) -> object:
    """What tells plans apart of which runs differ: cells, triggers and outputs."""
    return frozenset(plan.cells.items()), tuple(plan.outputs.items()), tuple(plan.triggers.items())


def _run(candidate: Candidate, wish: Wish, rules: RuleSet) -> Design | None:
    plan = candidate.plan
    name = next(iter(plan.outputs))
    setup = Setup(plan, rules)
    trigger = find_trigger(setup, PRESS)
    seen = observe(setup, trigger, wish.trigger_steps)
    hold = _hold(seen, name)
    if hold is None:
        return None
    recovery, exact = _recovery(setup, trigger, name, seen, wish)
    return Design(
        family=candidate.recipe.family,
        settings=candidate.recipe.settings,
        plan=plan,
        output=name,
        delay_steps=seen.pulses(name)[0].start,
        hold_steps=hold,
        error_steps=hold - wish.hold_steps,
        minimum_trigger_steps=None,
        recovery_steps=recovery,
        recovery_exact=exact,
        parts=candidate.parts,
        price=candidate.price,
        box=candidate.box,
        fit=candidate.fit,
        active_steps=seen.active_steps,
        rest_steps=seen.rest_steps,
        inverted=seen.rest(name) == "on",
        lowest_level=min((value for step, value in seen.changes[name] if value > 0 and step >= 0), default=0),
    )


def with_minimum(design: Design, wish: Wish, rules: RuleSet) -> Design:
    """The design with its minimum trigger, and expectations that say what was measured."""
    setup = Setup(design.plan, rules)
    trigger = find_trigger(setup, PRESS)
    least = None
    if takes_length(trigger):
        least = scan_lengths(setup, trigger, [design.output])[design.output][0]
    wanted = Expectation(
        trigger=PRESS,
        output=design.output,
        hold_steps=design.hold_steps if wish.trigger_steps is None else None,
        delay_steps=design.delay_steps,
        pulses=1,
        level_at_least=design.lowest_level,
        settles_within_steps=design.rest_steps if wish.trigger_steps is None else None,
        minimum_trigger_at_most_steps=least,
    )
    return replace(design, minimum_trigger_steps=least, plan=replace(design.plan, expectations=(wanted,)))


def _recovery(setup: Setup, trigger: Trigger, name: str, seen: Observation, wish: Wish) -> tuple[int | None, bool]:
    """The recovery and whether it is exact; else a press at rest was tried alone."""
    if wish.trigger_steps is not None or trigger.length_steps is None or seen.rest_steps is None:
        return None, False
    if seen.active_steps <= MANY_STEPS:
        return recovery_steps(setup, trigger, name, seen), True
    if seen.active_steps > LONG_STEPS:
        return None, False
    first = seen.pulses(name)[0]
    again = seen.rest_steps + 1
    later = [pulse for pulse in observe(setup, trigger, again=(again,)).pulses(name) if pulse.start >= again]
    if [(pulse.start - again, pulse.duration) for pulse in later] != [(first.start, first.duration)]:
        return None, False
    return max(0, again - first.start - (first.duration or 0)), False


def _hold(seen: Observation, name: str) -> int | None:
    return hold_of(seen.pulses(name)) if kind_of(seen, name) == "one-shot" and seen.settled else None


def _hold_under(setup: Setup, length_steps: int | None) -> int | None:
    if any(problems(setup.plan, setup.rules)):
        return None
    seen = observe(setup, find_trigger(setup, PRESS), length_steps)
    return _hold(seen, next(iter(setup.plan.outputs)))
