"""The chooser: families propose plans for a wish, runs tell what they do, and the best of each sort are kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from time import monotonic, process_time
from typing import Any

from tickwright.arguments import checked
from tickwright.design.catalogue import recipes
from tickwright.design.clearing import REACH_STEPS, base_hold_steps, cleared
from tickwright.design.clocking import clocks_meeting, with_clock_chart
from tickwright.design.differences import tell_apart
from tickwright.design.families import hopper_relay
from tickwright.design.families.guard import GUARD
from tickwright.design.folding import Folded, Folding
from tickwright.design.guarding import guarded, open_recipes
from tickwright.design.judging import Candidate, Judge, candidate_of, plan_key, unmet_as_laid, with_minimum
from tickwright.design.recipes import LAMP_STEPS, Goal, OpenRecipe, Recipe, as_is
from tickwright.design.relaxing import WIDENING, Advice, advise
from tickwright.design.routing import Routing, route
from tickwright.design.several import Composing
from tickwright.design.shaping import TORCH_STEPS, shaped
from tickwright.design.shelf import NAME as FOLDED
from tickwright.design.shelf import shelved
from tickwright.design.trials import Trials
from tickwright.design.wish import Design, Room, Wish
from tickwright.design.wording import best_in, needed_level, wish_problems
from tickwright.durations import time_text
from tickwright.engine.interface import is_installed
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS, PARTS, is_a
from tickwright.measurement.observe import SETTLE_STEPS
from tickwright.plan import Plan, crop, problems
from tickwright.rules import RuleSet, load_rules

__all__ = ["Chosen", "choose", "goal_of"]

MOST_RUN = 24
MOST_ROWS = 12
MOST_FOLDED = 3
MOST_CLEARED = 3
MOST_GUARDED = 4  # timers whose guard is laid apart from them
MOST_JUDGED = 16  # ways to lay one of them, held to second presses
GUARDED_TO_REST = 3  # holds after which such a timer is at rest
FOLDED_ANSWERS = ("any", "extends")
MOST_TICKS_BEHIND = 240  # of the repeaters that are laid behind a design
MOST_ROUTED = 6  # candidates that wires are sought for
SPENT_SECONDS = 40.0  # of the processor for one search; after that advice lets all wishes go at once
ROUTING_SECONDS = 60.0  # of one search, its advice included; after that no more wires are sought
LONG_HOLD_STEPS = 10_000  # of longer ones none is run that is no smaller than one that was found
TOO_LARGE = 3  # times as many parts and as large as the smallest of all: not run
Progress = Callable[[str], bool]


@dataclass(frozen=True, slots=True)
class Chosen:
    """What came of a wish: the designs that no other beats, best first; else why there is none and what to relax.

    `proposed` plans met the wish by their naive models, `run` of them were run. `relax` says which wishes
    would have to give way, each advice run as a whole wish. `stopped`: the search was stopped before its end.
    """

    wish: Wish
    designs: tuple[Design, ...]
    reason: str | None
    relax: tuple[Advice, ...]
    proposed: int
    run: int
    stopped: bool = False

    def as_data(self) -> dict[str, Any]:
        """The result as JSON shows it.

        `not_this` says what the first design has over each other, and what it lacks; `tag` what one is the best in.
        """
        best, tags = self.designs[:1], best_in(self.designs)
        return {
            "wish": self.wish.as_data(),
            "designs": [
                {
                    **design.as_data(),
                    "tag": tags.get(number),
                    "not_this": [tell_apart(one, design).text for one in best if one is not design],
                }
                for number, design in enumerate(self.designs)
            ],
            "reason": self.reason,
            "relax": [advice.as_data() for advice in self.relax],
            "proposed": self.proposed,
            "run": self.run,
            "stopped": self.stopped,
        }


@checked
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
        self.rules = load_rules(wish.rules[0])
        self.judge = Judge(self.rules)
        self.proposed = 0
        self.clocks_run = 0
        self.guarded: dict[object, list[Plan]] = {}
        self.foldings: dict[tuple[Room, str], Folding] = {}
        self.astray: list[Candidate] = []
        self.routings: dict[object, Routing] = {}
        self.routing_seconds = 0.0
        self.composing = Composing(self.told)
        self.bases: dict[str, list[Design]] = {}
        self.laid: dict[object, list[tuple[int, Plan]]] = {}
        self.begun = process_time()
        self.stopped = False

    def result(self) -> Chosen:
        """Search with the tolerance wished for; where no family comes near the hold, for the nearest."""
        designs, reason = self._best(self.meeting(self.wish)), None
        relax: tuple[Advice, ...] = ()
        if not designs and not self.stopped and not self.proposed:
            designs = self._widened()
            reason = self._why() if designs else None
        if not designs and not self.stopped:
            reachable = self.proposed > 0
            try:
                relax = advise(self)
            except KeyboardInterrupt:
                self.stopped = True
            held = time_text(self.wish.hold_steps)
            some = f"No family makes a hold of {held}, or near it, for this trigger and output."
            if self.wish.period_steps is not None:
                some = f"No clock has a period of {time_text(self.wish.period_steps)} and is on for {held} of it."
            reason = "No design meets all wishes at once." if reachable else some
            if self.wish.also and not reachable and not self.stopped:
                reason = self.composing.why(self.wish)
        if not designs and self.stopped:
            reason = "The search was stopped."
        return Chosen(
            self.wish, tuple(designs), reason, relax, self.proposed, self.judge.run + self.clocks_run, self.stopped
        )

    def _widened(self) -> list[Design]:
        """The designs nearest to the hold that meet all other wishes."""
        for within in WIDENING:
            if self.stopped:
                break
            wish = replace(self.wish, within_steps=self.wish.within_steps + within)
            designs = _nearest(self._best(self.meeting(wish)))
            if designs:
                return designs
        return []

    def _best(self, designs: Sequence[Design]) -> list[Design]:
        """Those that no other beats, with their minimum triggers."""
        best = unbeaten(designs)[:MOST_ROWS]
        try:
            return best if self.stopped else [self._completed(design) for design in best]
        except KeyboardInterrupt:
            self.stopped = True
        return best

    def _completed(self, design: Design) -> Design:
        """The design with what `check` holds it to, and its minimum trigger where it is pressed."""
        return with_minimum(design, self.wish, self.rules) if design.period_steps is None else with_clock_chart(design)

    def _why(self) -> str:
        """Why the nearest are the nearest."""
        held = time_text(self.wish.hold_steps)
        if self.wish.hold_steps % 2:
            return (
                f"No design holds exactly {held}: repeaters, comparators, torches, lamps and buttons all keep even "
                f"steps. Hopper relays make odd holds, from {time_text(hopper_relay.LEAST_HOLD_STEPS)} to "
                f"{time_text(hopper_relay.MOST_HOLD_STEPS)} and where the other wishes let them. These are the nearest."
            )
        return f"No design of the families holds exactly {held} for this trigger and output. These are the nearest."

    def meeting(self, wish: Wish) -> list[Design]:
        """The designs that meet a wish, as families make them, or with what is laid behind their output."""
        if wish.period_steps is not None:
            clocks, proposed = clocks_meeting(wish, self.rules, goal_of(wish, self.rules).outputs)
            self.proposed += proposed
            self.clocks_run += proposed
            return clocks
        if wish.also:
            return self._several(wish)
        found = [] if wish.inverted else self._as_made(wish)
        if not self.stopped and wish.answer == "restarts" and not wish.inverted:
            found = found + self._cleared(wish)
        if self.stopped or (wish.delay_steps is None and not wish.inverted):
            return found
        try:
            return found + self._shaped(wish)
        except KeyboardInterrupt:
            self.stopped = True
        return found

    def _several(self, wish: Wish) -> list[Design]:
        """The first plan composed for all outputs of a wish that meets it."""
        if self.composing.lacks_parts(wish):
            self.proposed += 1
            return []
        try:
            for recipe in self.composing.recipes(wish):
                candidate = candidate_of(recipe, wish)
                self.proposed += 1
                if unmet_as_laid(candidate, wish):
                    continue
                met = self.judge.meeting(candidate, wish, needed_level(wish, self.rules))
                if met is not None:
                    return [met]
        except KeyboardInterrupt:
            self.stopped = True
        return []

    def _shaped(self, wish: Wish) -> list[Design]:
        """Designs of a hold that, with repeaters and a torch behind their line, come when and as the wish says."""
        found: list[Design] = []
        needed = needed_level(wish, self.rules)
        for output in _laid_outputs(wish, needed):
            more = (LAMP_STEPS if output == "lamp" else 0) * (-1 if wish.inverted else 1)
            if wish.hold_steps <= more:
                continue
            free = Wish(
                wish.hold_steps - more, wish.within_steps, wish.trigger, wish.trigger_steps, output="line",
                rules=wish.rules, answer=wish.answer,
            )  # fmt: skip
            bases = list(self._bases(free))
            if wish.answer == "restarts" and wish.delay_steps is None:  # else the row would put it out too late
                bases += self._cleared(free)
            for base in bases:
                if self.told(f"{base.family}, with what stands behind it, {len(found)} found"):
                    return found
                turned = TORCH_STEPS if wish.inverted else 0
                ticks, odd = divmod((wish.delay_steps or 0) - base.delay_steps - turned, 2)
                if wish.delay_steps is None:
                    ticks, odd = 1, 0
                if odd or not 1 <= ticks <= MOST_TICKS_BEHIND:
                    continue
                found += self._first_shaped(base, ticks, output, wish, needed)
        return found

    def _cleared(self, wish: Wish) -> list[Design]:
        """Designs that each press first puts out, behind bases that a further press makes longer; the smallest few."""
        goal, needed = goal_of(wish, self.rules), needed_level(wish, self.rules)
        if goal.trigger_steps is None or wish.trigger_steps is not None:
            return []
        found: list[Design] = []
        try:
            for output in _laid_outputs(wish, needed):
                middle = base_hold_steps(wish.hold_steps, output, goal.trigger_steps)
                if middle <= 0:
                    continue
                free = Wish(middle, REACH_STEPS, wish.trigger, output="line", rules=wish.rules, answer="extends")
                for base in sorted(self._bases(free), key=lambda base: (base.parts, base.volume)):
                    if len(found) >= MOST_CLEARED or self.told(f"{base.family}, cleared by its press"):
                        break
                    found += self._first_cleared(base, output, wish, needed)
        except KeyboardInterrupt:
            self.stopped = True
        return found

    def _first_cleared(self, base: Design, output: str, wish: Wish, needed: int) -> list[Design]:
        """The first way to lay what clears a base that meets the wish; such holds are even."""
        press_steps = goal_of(wish, self.rules).trigger_steps or 0
        holds = [wish.hold_steps + more for more in (0, -1, 1) if abs(more) <= wish.within_steps]
        for hold in holds:
            key = (plan_key(base.plan), hold, output)
            if key not in self.laid:
                self.laid[key] = list(cleared(base, hold, press_steps, output, self.rules))
            for ticks, plan in self.laid[key]:
                self.proposed += 1
                settings = {**base.settings, "ticks behind": ticks, "press clears": 1}
                candidate = candidate_of(Recipe(base.family, settings, output, hold, partial(as_is, plan)), wish)
                met = None if unmet_as_laid(candidate, wish) else self.judge.meeting(candidate, wish, needed)
                if met is not None:
                    return [met]
        return []

    def _first_shaped(self, base: Design, ticks: int, output: str, wish: Wish, needed: int) -> list[Design]:
        """The first way to lay what stands behind a design that meets the wish."""
        settings = {**base.settings, "ticks behind": ticks} | ({"torch behind": 1} if wish.inverted else {})
        for plan in shaped(base.plan, ticks, wish.inverted, output, self.rules):
            self.proposed += 1
            recipe = Recipe(base.family, settings, output, wish.hold_steps, partial(as_is, plan))
            candidate = candidate_of(recipe, wish)
            met = None if unmet_as_laid(candidate, wish) else self.judge.meeting(candidate, wish, needed)
            if met is not None:
                return [met]
        return []

    def _bases(self, wish: Wish) -> list[Design]:
        """What families make for a hold alone, run."""
        key = repr(wish)
        if key not in self.bases:
            made = [candidate_of(recipe, wish) for recipe in recipes(goal_of(wish, self.rules))]
            runs = [self.judge.design(candidate, wish) for candidate in _worth_running(made, wish)]
            self.bases[key] = [one for one in runs if one is not None and abs(one.error_steps) <= wish.within_steps]
        return self.bases[key]

    def _as_made(self, wish: Wish) -> list[Design]:
        """The designs that meet a wish; if none lies in its room, one with wires laid to where it says."""
        fitting: list[Candidate] = []
        self.astray = []
        for recipe in recipes(goal_of(wish, self.rules)):
            candidate = candidate_of(recipe, wish)
            self.proposed += 1
            unmet = unmet_as_laid(candidate, wish)
            if not unmet:
                fitting.append(candidate)
            elif unmet == ["room"]:
                self.astray.append(candidate)
        found: list[Design] = []
        needed = needed_level(wish, self.rules)
        try:
            for candidate in _worth_running(fitting, wish):
                if self.told(f"{candidate.recipe.family}, {len(found)} found"):
                    break
                if candidate.recipe.hold_steps > LONG_HOLD_STEPS and any(_no_smaller(candidate, one) for one in found):
                    continue
                met = self.judge.meeting(candidate, wish, needed)
                found += [met] if met is not None else []
            return found or self._folded(wish) or self._guarded(wish) or self._routed(wish)
        except KeyboardInterrupt:
            self.stopped = True
        return found

    def _folded(self, wish: Wish) -> list[Design]:
        """Loops from the shelf, or laid anew for the room, where no family's own layout lies in it."""
        room = wish.room
        if room is None or wish.trigger_steps is not None or wish.answer not in FOLDED_ANSWERS:
            return []
        goal = goal_of(wish, self.rules)
        found = self._first_of(shelved(goal), wish)
        if found or self.stopped:
            return found
        key = (room, wish.trigger)
        if key not in self.foldings:
            self.foldings[key] = Folding(room, wish.trigger, self.rules)
        laid = self.foldings[key].holding(goal, self.told)
        return self._first_of(map(_folded_recipe, laid), wish)

    def _guarded(self, wish: Wish) -> list[Design]:
        """The first timer that meets the wish with its guard laid elsewhere in the room, in every order of telling."""
        room = wish.room
        if room is None or wish.answer != "ignored" or wish.trigger_steps is not None or not is_installed("fast"):
            return []
        needed = needed_level(wish, self.rules)
        for recipe in open_recipes(goal_of(wish, self.rules))[:MOST_GUARDED]:
            if self.told(f"a {recipe.family}, its guard apart from it"):
                break
            for plan in self._guarded_plans(recipe, wish.trigger, room):
                settings = {**recipe.settings, "front": GUARD, "laid": "for this room"}
                laid = Recipe(recipe.family, settings, recipe.output, recipe.hold_steps, partial(as_is, plan))
                candidate = candidate_of(laid, wish)
                met = None if unmet_as_laid(candidate, wish) else self.judge.meeting(candidate, wish, needed)
                if met is not None and self.judge.keeps_in_every_order(met):
                    return [met]
        return []

    def _guarded_plans(self, recipe: OpenRecipe, trigger: str, room: Room) -> list[Plan]:
        """Those that, run, hold as the recipe says, the fewest parts first; each room is tried once."""
        key = (recipe.family, recipe.output, tuple(recipe.settings.items()), trigger, room)
        if key not in self.guarded:
            plans = [crop(plan) for plan in guarded(recipe, trigger, room) if not any(problems(plan, self.rules))]
            self.proposed += len(plans)
            holds = Trials(self.rules).holds(plans, GUARDED_TO_REST * recipe.hold_steps + SETTLE_STEPS)
            good = [plan for plan, hold in zip(plans, holds, strict=True) if hold == recipe.hold_steps]
            self.guarded[key] = sorted(good, key=lambda plan: len(plan.cells))[:MOST_JUDGED]
        return self.guarded[key]

    def _first_of(self, folded: Iterable[Recipe], wish: Wish) -> list[Design]:
        """The first few that meet the wish, in every order of telling."""
        needed, found = needed_level(wish, self.rules), []
        for recipe in folded:
            candidate = candidate_of(recipe, wish)
            self.proposed += 1
            met = None if unmet_as_laid(candidate, wish) else self.judge.meeting(candidate, wish, needed)
            if met is not None and self.judge.keeps_in_every_order(met):
                found.append(met)
            if len(found) == MOST_FOLDED or self.told("loops folded into the room"):
                break
        return found

    def _routed(self, wish: Wish) -> list[Design]:
        """The smallest design that fits but for where trigger and output lie, with wires laid to where they must."""
        room = wish.room
        if room is None or (room.enter is None and room.leave is None):
            return []
        near = sorted(self.astray, key=lambda one: (abs(one.recipe.hold_steps - wish.hold_steps), *one.sizes))
        for candidate in near[:MOST_ROUTED]:
            if self.told(f"wires for a {candidate.recipe.family}"):
                break
            found = self._route(candidate, room)
            if found is None or found.plan is None:
                continue
            settings = {**candidate.recipe.settings, "cells laid for wires": found.wire_cells}
            make = partial(as_is, crop(found.plan))
            wired = candidate_of(replace(candidate.recipe, settings=settings, make=make), wish)
            if not unmet_as_laid(wired, wish):
                met = self.judge.meeting(wired, wish, needed_level(wish, self.rules))
                if met is not None:
                    return [met]
        return []

    def _route(self, candidate: Candidate, room: Room) -> Routing | None:
        """What routing gives, sought once; None if there is no more time for it."""
        key = (plan_key(candidate.plan), room)
        if key not in self.routings:
            if self.routing_seconds > ROUTING_SECONDS:
                return None
            begun = monotonic()
            self.routings[key] = route(candidate.plan, room, self.rules)
            self.routing_seconds += monotonic() - begun
        return self.routings[key]

    def spent(self) -> bool:
        """Whether the search has taken all the processor's time that is meant for one."""
        return process_time() - self.begun > SPENT_SECONDS

    def told(self, what: str) -> bool:
        """Say what is tried; whether to stop."""
        if self.progress is not None and self.progress(what):
            self.stopped = True
        return self.stopped


def goal_of(wish: Wish, rules: RuleSet) -> Goal:
    """The goal that families are asked for."""
    trigger, steps = wish.trigger, wish.trigger_steps
    if steps is not None:
        trigger = "lever"
    elif trigger in BUTTONS:
        steps = rules.button_steps(trigger)
    elif PARTS[trigger].feels == "creatures":
        steps = rules.look_every(trigger)
    elif is_a(trigger, "plate"):
        steps = rules.item.vanish
    if needed_level(wish, rules) > 1:
        outputs: tuple[str, ...] = ("full",)
    else:
        outputs = ("lamp", "line") if wish.output == "any" else (wish.output,)
    least, most = wish.hold_steps - wish.within_steps, wish.hold_steps + wish.within_steps
    return Goal(wish.hold_steps, max(least, 1), most, trigger, steps, outputs, wish.answer)


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
    if wish.answer == "any":  # else the small ones may all answer otherwise
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


def _folded_recipe(one: Folded) -> Recipe:
    settings: dict[str, int | str] = {"comparators": one.comparators, "laid": "for this room"}
    return Recipe(FOLDED, settings, one.output, one.hold_steps, partial(as_is, one.plan))


def _nearest(designs: Sequence[Design]) -> list[Design]:
    """Those whose error is the least."""
    least = min((abs(design.error_steps) for design in designs), default=0)
    return [design for design in designs if abs(design.error_steps) == least]


def _laid_outputs(wish: Wish, needed: int) -> tuple[str, ...]:
    """The outputs that may end what is laid behind a design: only a line shows the level that is needed."""
    if needed > 1:
        return ("line",)
    return ("lamp", "line") if wish.output == "any" else (wish.output,)
