"""The chooser: families propose plans for a wish, runs tell what they do, and the best of each sort are kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from tickwright.design.catalogue import recipes
from tickwright.design.judging import (
    Candidate,
    Failure,
    Judged,
    candidate_of,
    judge,
    judge_slowly,
    static_failures,
    with_minimum,
)
from tickwright.design.recipes import Goal
from tickwright.design.routing import route
from tickwright.design.wish import Design, Wish
from tickwright.design.wording import needed_level, wish_problems
from tickwright.durations import seconds_text, ticks_text
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS
from tickwright.plan import Plan, crop
from tickwright.rules import RuleSet, load_rules

__all__ = ["Chosen", "choose", "goal_of"]

MOST_RUN = 24
MOST_ROWS = 12
MOST_ROUTED = 6  # candidates that wires are sought for
MOST_RELAXED = 3  # candidates run for each wish that might be relaxed
LONG_HOLD_STEPS = 10_000  # of longer ones none is run that is no smaller than one that was found
TOO_LARGE = 3  # times as many parts and as large as the smallest of all: not run
WIDENING = (1, 2, 4, 8, 20, 60, 200, 1000)
Progress = Callable[[str], bool]


@dataclass(frozen=True, slots=True)
class Chosen:
    """What came of a wish: the designs that no other beats, best first; else why there is none and what to relax.

    `proposed` plans met the wish by their naive models, `run` of them were run. `relax` says for single wishes what
    would have to be allowed instead, each from a run. `stopped`: the search was stopped before its end.
    """

    wish: Wish
    designs: tuple[Design, ...]
    reason: str | None
    relax: tuple[Failure, ...]
    proposed: int
    run: int
    stopped: bool = False

    def as_data(self) -> dict[str, Any]:
        """The result as JSON shows it."""
        return {
            "wish": self.wish.as_data(),
            "designs": [design.as_data() for design in self.designs],
            "reason": self.reason,
            "relax": [failure.as_data() for failure in self.relax],
            "proposed": self.proposed,
            "run": self.run,
            "stopped": self.stopped,
        }


def choose(wish: Wish, progress: Progress | None = None) -> Chosen:
    """The designs that meet a wish, each run on the reference engine: those that no other beats, best first.

    One beats another that is no worse in all of error, parts, price, volume, footprint, height and recovery, and worse
    in one. The order is by error, parts, price,
    volume. If none lies in the room with trigger and output where they must be, wires are laid to there. If no design
    has the wanted hold, the nearest are given with the reason. `progress` is told what is tried;
    if it returns true, or at Ctrl-C, the search ends with what it has. Raises UsageError for a wish that cannot be
    meant.

    >>> best = choose(Wish(hold_steps=24)).designs[0]
    >>> best.family, best.hold_steps, best.plan.bill()
    ('direct', 24, {'lamp': 1, 'short-button': 1})
    """
    return _Search(_checked(wish), progress).result()


def _checked(wish: Wish) -> Wish:
    """The wish, a press as long as that of a button told by the button. Raises UsageError for what is wrong with it."""
    for _, message in wish_problems(wish):
        raise UsageError(message)
    rules = load_rules(wish.rules[0])
    button = next((kind for kind in BUTTONS if rules.button_steps(kind) == wish.trigger_steps), None)
    return wish if button is None else replace(wish, trigger=button, trigger_steps=None)


class _Search:
    """One search: its candidates, what was judged, and when to stop."""

    def __init__(self, wish: Wish, progress: Progress | None) -> None:
        self.wish = wish
        self.progress = progress
        self.rules = [load_rules(name) for name in wish.rules]
        self.needed = needed_level(wish, self.rules[0])
        self.proposed = 0
        self.run = 0
        self.failed: list[tuple[Failure, ...]] = []
        self.spare: list[tuple[Candidate, tuple[Failure, ...]]] = []
        self.stopped = False

    def result(self) -> Chosen:
        """Search with the tolerance wished for; where no family comes near the hold, for the nearest."""
        wish = self.wish
        designs = self._best(wish) or self._routed(wish)
        reason: str | None = None
        relax: tuple[Failure, ...] = ()
        if not designs and not self.stopped:
            reachable, run = bool(self.failed or self.spare), bool(self.failed)
            relax = self._relaxations()
            nearest = [] if run else self._widened()
            if not reachable:
                designs, reason = nearest, self._why(nearest)
            elif nearest:
                off = nearest[0].error_steps
                more = f"a hold {_time(abs(off))} too {'long' if off > 0 else 'short'} ({nearest[0].family})"
                relax += (Failure("within", more, abs(off)),)
        if not designs and reason is None:
            reason = "The search was stopped." if self.stopped else "No design meets all wishes at once."
        return Chosen(wish, tuple(designs), reason, relax, self.proposed, self.run, self.stopped)

    def _widened(self) -> list[Design]:
        """The designs nearest to the hold that meet all other wishes."""
        for within in WIDENING:
            if self.stopped:
                break
            designs = _nearest(self._best(replace(self.wish, within_steps=self.wish.within_steps + within)))
            if designs:
                return designs
        return []

    def _why(self, designs: Sequence[Design]) -> str:
        held = _time(self.wish.hold_steps)
        if not designs:
            return f"No family makes a hold of {held}, or near it, for this trigger and output."
        if self.wish.hold_steps % 2:
            return (
                f"No design holds exactly {held}: repeaters, comparators, torches, lamps and buttons all keep even "
                "steps, and no family for this trigger brings in an odd one. These are the nearest."
            )
        return f"No design of the families holds exactly {held} for this trigger and output. These are the nearest."

    def _best(self, wish: Wish) -> list[Design]:
        """The designs that meet a wish, those that no other beats."""
        fitting: list[Candidate] = []
        self.spare = []
        goal = goal_of(wish, self.rules[0])
        for recipe in recipes(goal):
            self.proposed += 1
            candidate = candidate_of(recipe, wish)
            failures = static_failures(candidate, wish)
            if failures:
                self.spare.append((candidate, failures))
            else:
                fitting.append(candidate)
        found: list[Design] = []
        try:
            for candidate in _worth_running(fitting, wish):
                if self._told(f"{candidate.recipe.family}, {len(found)} found"):
                    break
                if candidate.recipe.hold_steps > LONG_HOLD_STEPS and any(_no_smaller(candidate, one) for one in found):
                    continue
                judged = self._judged(candidate, wish)
                if judged.failures or judged.design is None:
                    self.failed.append(judged.failures)
                else:
                    found.append(judged.design)
            found = [with_minimum(design, wish, self.rules[0]) for design in unbeaten(found)[:MOST_ROWS]]
        except KeyboardInterrupt:
            self.stopped = True
            found = unbeaten(found)[:MOST_ROWS]
        return found

    def _routed(self, wish: Wish) -> list[Design]:
        """The smallest design that fits but for where trigger and output lie, with wires laid to where they must."""
        room = wish.room
        if room is None or (room.enter is None and room.leave is None):
            return []
        near = [candidate for candidate, failures in self.spare if [one.wish for one in failures] == ["room"]]
        near.sort(key=lambda candidate: (abs(candidate.recipe.hold_steps - wish.hold_steps), *candidate.sizes))
        try:
            for candidate in near[:MOST_ROUTED]:
                if self._told(f"wires for a {candidate.recipe.family}"):
                    break
                found = route(candidate.plan, room, self.rules[0])
                if found.plan is None:
                    continue
                settings = {**candidate.recipe.settings, "cells laid for wires": found.wire_cells}
                make = partial(_as_is, crop(found.plan))
                wired = candidate_of(replace(candidate.recipe, settings=settings, make=make), wish)
                judged = self._judged(wired, wish)
                if judged.design is not None and not judged.failures:
                    return [with_minimum(judged.design, wish, self.rules[0])]
        except KeyboardInterrupt:
            self.stopped = True
        return []

    def _judged(self, candidate: Candidate, wish: Wish) -> Judged:
        self.run += 1
        judged = judge(candidate, wish, self.rules, self.needed)
        if judged.design is None or judged.failures:
            return judged
        return judge_slowly(judged.design, wish, self.rules[0])

    def _told(self, what: str) -> bool:
        if self.progress is not None and self.progress(what):
            self.stopped = True
        return self.stopped

    def _relaxations(self) -> tuple[Failure, ...]:
        """For each wish that alone stands in the way of some candidate, the least that would have to be allowed."""
        failed = list(self.failed)
        alone = sorted((f[0].wish, f[0].amount, n) for n, (_, f) in enumerate(self.spare) if len(f) == 1)
        tried: Counter[str] = Counter()
        for name, _, number in alone:
            tried[name] += 1
            if tried[name] > MOST_RELAXED or self._told(f"what to relax: {name}"):
                continue
            self.run += 1
            failed.append(judge(self.spare[number][0], self.wish, self.rules, self.needed).failures)
        best: dict[str, Failure] = {}
        for failures in failed:
            if len(failures) == 1:
                one = failures[0]
                best[one.wish] = min(one, best.get(one.wish, one), key=lambda failure: failure.amount)
        return tuple(best.values())


def goal_of(wish: Wish, rules: RuleSet) -> Goal:
    """The goal that families are asked for."""
    trigger, steps = wish.trigger, wish.trigger_steps
    if steps is not None:
        trigger = "lever"
    elif trigger in BUTTONS:
        steps = rules.button_steps(trigger)
    elif trigger == "tread-plate":
        steps = rules.look_every(trigger)
    elif trigger == "item-plate":
        steps = rules.item.vanish
    if needed_level(wish, rules) > 1:
        outputs: tuple[str, ...] = ("full",)
    else:
        outputs = ("lamp", "line") if wish.output == "any" else (wish.output,)
    least, most = wish.hold_steps - wish.within_steps, wish.hold_steps + wish.within_steps
    return Goal(wish.hold_steps, max(least, 1), most, trigger, steps, outputs)


def _worth_running(candidates: Iterable[Candidate], wish: Wish) -> list[Candidate]:
    """Of each family's sorts the candidates that are best in some size, if not far too large; the smallest first."""
    by_family: dict[tuple[str, str], list[Candidate]] = {}
    for candidate in candidates:
        by_family.setdefault((candidate.recipe.family, candidate.recipe.sort), []).append(candidate)
    chosen: list[Candidate] = []
    for family in by_family.values():
        ranks = [partial(_rank, wish=wish, size=size) for size in range(len(family[0].sizes))]
        best = [min(family, key=rank) for rank in ranks]
        best += [min(family, key=lambda candidate: candidate.sizes)]  # whatever its error within the tolerance
        chosen += list({id(candidate): candidate for candidate in best}.values())
    least = [min((c.sizes[size] for c in chosen), default=0) for size in range(5)]
    chosen = [c for c in chosen if any(c.sizes[size] <= TOO_LARGE * least[size] for size in (0, 2))]
    chosen.sort(key=lambda c: (abs(c.recipe.hold_steps - wish.hold_steps), *c.sizes))
    return chosen[:MOST_RUN]


def _rank(candidate: Candidate, wish: Wish, size: int) -> tuple[float, ...]:
    return (abs(candidate.recipe.hold_steps - wish.hold_steps), candidate.sizes[size], *candidate.sizes)


def _no_smaller(candidate: Candidate, design: Design) -> bool:
    sizes = (design.parts, design.price, design.volume, design.footprint, design.box[2])
    return all(theirs >= ours for theirs, ours in zip(candidate.sizes, sizes, strict=True))


def unbeaten(designs: Sequence[Design]) -> list[Design]:
    """The designs that no other beats in all of error, parts, price, volume, footprint, height and recovery."""

    def scores(design: Design) -> tuple[float, ...]:
        recovery = float("inf") if design.recovery_steps is None else design.recovery_steps
        sizes = (design.parts, design.price, design.volume, design.footprint, design.box[2])
        return (abs(design.error_steps), *sizes, recovery)

    kept = []
    for number, design in enumerate(designs):
        mine = scores(design)
        beaten = any(
            all(theirs <= ours for theirs, ours in zip(scores(other), mine, strict=True))
            and (scores(other) != mine or place < number)
            for place, other in enumerate(designs)
            if place != number
        )
        if not beaten:
            kept.append(design)
    return sorted(kept, key=scores)


def _as_is(plan: Plan) -> Plan:
    return plan


def _nearest(designs: Sequence[Design]) -> list[Design]:
    """Those whose error is the least."""
    least = min((abs(design.error_steps) for design in designs), default=0)
    return [design for design in designs if abs(design.error_steps) == least]


def _time(steps: int) -> str:
    return f"{seconds_text(steps)} ({ticks_text(steps)})"
