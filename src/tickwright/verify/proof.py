"""Proof: hold a claim against everything a hand can do to the triggers, by a search of all states that can be reached.

The whole dynamic state of the reference engine counts, as `state_key` gives it, and the memory of the claim's observer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Any, Literal

from tickwright.durations import seconds_text, ticks_text
from tickwright.engine.order import check_order
from tickwright.engine.reference import Simulation, state_key
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.measure.observe import settle
from tickwright.measure.press import Trigger, find_trigger
from tickwright.parts import BUTTONS, CONTAINERS
from tickwright.plan.hand import Act, default_act
from tickwright.plan.model import Plan
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.verify.claims import CLAIMS, UNPRESSED, Claim, Memory, Outlook, expected, holds, never_sticks, settles
from tickwright.verify.search import Move, Search

DEFAULT_STATES = 100_000
MOST_STATES = 10**9
MOST_TRIGGERS = 4
PROGRESS_EVERY = 500
SHOWN_AFTER = 200  # so many steps of the replay come after what breaks the claim
Key = tuple[Hashable, tuple[Memory, ...], int]


@dataclass(frozen=True, slots=True)
class Proof:
    """What the search found. `states` were explored with all their moves, `seconds` of wall time were spent on it.

    `verdict`: "proved" within `bound`; "refuted" by `counterexample`, the acts of a list with as few presses as can be
    and, among those, over as soon as can be, which `run` replays for `replay_steps` steps; "undecided" at the limit of
    states or because it was stopped. `worst_steps`, if proved: the longest time from any state to rest (settles) or
    until the output is off for good (never-sticks).
    """

    verdict: Literal["proved", "refuted", "undecided"]
    claim: str
    detail: str
    bound: str
    states: int
    edges: int
    counterexample: tuple[str, ...]
    replay_steps: int | None
    worst_steps: int | None
    left_out: tuple[str, ...]
    seconds: float

    def as_data(self) -> dict[str, Any]:
        """The proof as JSON shows it."""
        data = {name: getattr(self, name) for name in self.__slots__}
        return {**data, "counterexample": list(self.counterexample), "left_out": list(self.left_out)}


def prove(
    plan: Plan,
    claim: str,
    output: str | None = None,
    within_steps: int | None = None,
    at_least_steps: int | None = None,
    at_most_steps: int | None = None,
    hands: int | str = "any",
    grid_steps: int = 1,
    states: int = DEFAULT_STATES,
    triggers: Sequence[str] = (),
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    progress: Callable[[int, int], bool] | None = None,
) -> Proof:
    """Prove or refute a claim for everything a hand can do: any press of any trigger (or those named) at any step.

    `claim` is "settles", "never-sticks", "holds" or "expectations", about `output` (the first if not given), with the
    limits in steps from the press. `hands` is "any" or the most presses; they fall on every `grid_steps`-th step, each
    trigger at most once a step, one after the other. At most `states` states are explored. `progress(states, seen)` is
    called now and then; if it returns true the search stops, undecided. Raises UsageError for what cannot be meant.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... key = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> proof = prove(plan, "settles")
    >>> proof.verdict, proof.states, proof.worst_steps
    ('proved', 35, 24)
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    check_order(order)
    _check_numbers(hands, grid_steps, states)
    pressed = _chosen_triggers(plan, ruleset, triggers)
    wanted = _claim(plan, ruleset, claim, output, (within_steps, at_least_steps, at_most_steps))
    most = None if hands == "any" else int(hands)
    prover = _Prover(plan, ruleset, order, pressed, wanted, most, grid_steps, states)
    return prover.prove(progress)


def _check_numbers(hands: int | str, grid_steps: int, states: int) -> None:
    if isinstance(hands, str) and hands != "any" and not (hands.isascii() and hands.isdigit()):
        raise UsageError(f'The hand cannot press "{hands}" times: use any, or a whole number of presses.')
    if hands != "any" and not 0 <= int(hands) <= 1000:
        raise UsageError(f"The hand cannot press {hands} times: use any, or 0 to 1000.")
    if not 1 <= grid_steps <= 10_000:
        raise UsageError(f"A grid of {grid_steps} steps cannot be used: use 1 to 10,000 steps.")
    if not 1 <= states <= MOST_STATES:
        raise UsageError(f"{states} states cannot be explored: use 1 to {MOST_STATES:,}.")


def _chosen_triggers(plan: Plan, rules: RuleSet, names: Sequence[str]) -> list[Trigger]:
    if not plan.triggers:
        raise UsageError("The plan names no trigger: add one under [triggers], such as press = [x, y, z].")
    chosen = [find_trigger(plan, rules, name) for name in dict.fromkeys(names or plan.triggers)]
    if len(chosen) > MOST_TRIGGERS:
        raise UsageError(
            f"The hand would have {len(chosen)} triggers to press; at most {MOST_TRIGGERS} can be proved for: "
            "name those that matter with --trigger."
        )
    return chosen


def _claim(
    plan: Plan, rules: RuleSet, name: str, output: str | None, limits: tuple[int | None, int | None, int | None]
) -> Claim:
    if name not in CLAIMS:
        raise UsageError(f'There is no claim "{name}".{near(name, CLAIMS)}')
    within, at_least, at_most = limits
    if name != "holds" and (at_least is not None or at_most is not None):
        raise UsageError(f'--at-least and --at-most belong to the claim "holds", not to "{name}".')
    if output is not None and output not in plan.outputs:
        raise UsageError(f'The plan has no output "{output}".{near(output, plan.outputs)}')
    if name == "settles":
        return settles(within)
    if name == "expectations":
        if within is not None or output is not None:
            raise UsageError('The claim "expectations" takes its outputs and limits from the plan: leave them out.')
        return expected(plan, rules)
    if not plan.outputs:
        raise UsageError("The plan names no output: add one under [outputs], such as lamp = [x, y, z].")
    chosen = output if output is not None else next(iter(plan.outputs))
    place = list(plan.outputs).index(chosen)
    return never_sticks(place, chosen, within) if name == "never-sticks" else holds(place, chosen, *limits)


class _Prover:
    """One search: how states follow each other, what is noted of each, and what is read off the whole."""

    def __init__(
        self,
        plan: Plan,
        rules: RuleSet,
        order: str,
        triggers: list[Trigger],
        claim: Claim,
        hands: int | None,
        grid: int,
        limit: int,
    ) -> None:
        self.plan, self.triggers, self.claim, self.hands, self.grid = plan, triggers, claim, hands, grid
        self.outputs, self.order, self.rules = list(plan.outputs), order, rules
        sim = Simulation(plan, rules, order, plan.outputs)
        self.first, self.settled = settle(sim)
        sim.now = self.first - 1
        start = self._key(sim, tuple(UNPRESSED for _ in claim.limits), 0)
        self.resting: dict[int, bool] = {}  # resting[state]: nothing is due, hands off
        self.levels: dict[int, tuple[int, ...]] = {}  # levels[state] of the outputs
        self.outlooks: dict[int, Outlook] = {}
        self.now = -1  # the state that is being expanded
        self.search: Search[Key] = Search([Move(start, sim)], self._expand, limit)

    def _key(self, sim: Simulation, memory: tuple[Memory, ...], phase: int) -> Key:
        return (state_key(sim), memory, phase)

    def _expand(self, key: Key, sim: Simulation) -> Iterator[Move[Key]]:
        """The next step without a press, then with each list of presses that the triggers take."""
        state = self.now
        step = sim.now + 1
        self.resting[state] = sim.next_step() is None
        self.levels[state] = tuple(sim.shown())
        may_press = key[2] == 0 and (self.hands is None or self.search.cost[state][0] < self.hands)
        sim.step(step)
        memory, phase = key[1], (key[2] + 1) % self.grid
        pressed = []
        if may_press:
            left = None if self.hands is None else self.hands - self.search.cost[state][0]
            for acts in self._hand_lists(sim, left):
                after = sim.copy()
                for act in acts:
                    after.do(act)
                pressed.append((acts, after))
        yield Move(self._key(sim, self._observe(memory, False, sim), phase), sim)
        for acts, after in pressed:
            new = self._observe(memory, True, after)
            yield Move(self._key(after, new, phase), after, acts, len(acts))

    def _observe(self, memory: tuple[Memory, ...], pressed: bool, sim: Simulation) -> tuple[Memory, ...]:
        if not memory:
            return memory
        shown = sim.shown()
        return tuple(
            limit.step(one, pressed, shown[limit.output]) for limit, one in zip(self.claim.limits, memory, strict=True)
        )

    def _hand_lists(self, sim: Simulation, left: int | None) -> Iterator[tuple[Act, ...]]:
        """Every list of acts that changes something: each trigger at most once, in any order."""
        acts = [act for trigger in self.triggers if (act := _act(sim, trigger)) is not None]
        most = len(acts) if left is None else min(left, len(acts))
        for number in range(1, most + 1):
            yield from permutations(acts, number)

    # --- the verdict -----------------------------------------------------------------------------------------------

    def prove(self, progress: Callable[[int, int], bool] | None) -> Proof:
        began = time.perf_counter()
        layer: list[int] = []  # states whose future is known once all states with as many presses are
        weight, stopped = 0, False
        search = self.search
        for state in search:
            self.now = state
            objection = self._objection(state)
            if objection is not None:
                return self._refuted(began, state, objection, search.cost[state][1])
            if search.cost[state][0] > weight:
                bad = self._judge(layer)
                if bad is not None:
                    return self._refuted(began, *bad)
                layer, weight = [], search.cost[state][0]
            layer.append(state)
            if progress is not None and search.expanded % PROGRESS_EVERY == 0:
                stopped = progress(search.expanded, len(search.keys))
                if stopped:
                    break
        bad = self._judge(layer) if search.finished else None
        if bad is not None:
            return self._refuted(began, *bad)
        if search.finished:
            worst = self._worst()
            text = "" if worst is None else f"; the longest takes {seconds_text(worst)} ({ticks_text(worst)})"
            return self._proof(began, "proved", f"{self.claim.text}{text}", worst=worst)
        why = "stopped by hand" if stopped else f"the limit of {search.limit:,} states was reached"
        deep = max((search.cost[one][0] for one in layer), default=0)
        seen = f"no state found so far breaks the claim; {len(search.keys):,} states seen, up to {deep} presses"
        return self._proof(began, "undecided", f"{why}: {seen}")

    def _objection(self, state: int) -> str | None:
        for limit, memory in zip(self.claim.limits, self.search.keys[state][1], strict=True):
            if isinstance(memory, str):
                return f"{self.outputs[limit.output]} {memory}"
        return None

    def _judge(self, layer: list[int]) -> tuple[int, str, int] | None:
        """The first state whose hands-off future breaks the claim: the state, why, and when that can be seen."""
        if self.claim.judge is None:
            return None
        for state in layer:
            why = self.claim.judge(self._outlook(state))
            if why is not None:
                outlook, seen = self._outlook(state), self.search.cost[state][1]
                times = [outlook.rest_steps or 0, *(off or 0 for off in outlook.off_steps)]
                return state, f"{why} after these presses", seen + max(times)
        return None

    def _outlook(self, state: int) -> Outlook:
        """Follow the hands-off future to what is known of it, or round its cycle, and come back."""
        path: list[int] = []
        on_path: dict[int, int] = {}
        while state not in self.outlooks and state not in on_path:
            on_path[state] = len(path)
            path.append(state)
            state = self.search.successors[state][0]
        if state in on_path:
            cycle = path[on_path[state] :]
            for one in cycle:
                self.outlooks[one] = self._round(cycle)
            path = path[: on_path[state]]
        for one in reversed(path):
            self._before(one, self.search.successors[one][0])
        return self.outlooks[(path or [state])[0]]

    def _round(self, cycle: list[int]) -> Outlook:
        """The outlook of the states of a cycle, in which nothing but time may pass."""
        rests = any(self.resting[one] for one in cycle)
        levels = list(zip(*(self.levels[one] for one in cycle), strict=True))
        ever = [any(shown) for shown in levels]
        off = tuple(None if on else 0 for on in ever)
        pulses = tuple(0 if all(shown) or not any(shown) else None for shown in levels)
        return Outlook(0 if rests else None, off, pulses)

    def _before(self, state: int, following: int) -> None:
        """The outlook of a state from that of the next."""
        later, now, then = self.outlooks[following], self.levels[state], self.levels[following]
        rest = 0 if self.resting[state] else None if later.rest_steps is None else later.rest_steps + 1
        off = tuple(
            None if steps is None else steps + 1 if steps or on else 0
            for steps, on in zip(later.off_steps, now, strict=True)
        )
        pulses = tuple(
            None if count is None else count + 1 if comes and not on else count
            for count, on, comes in zip(later.pulses, now, then, strict=True)
        )
        self.outlooks[state] = Outlook(rest, off, pulses)

    def _worst(self) -> int | None:
        """The longest time to rest, or until the output is off for good, from any state."""
        if self.claim.name == "settles":
            return max(self._outlook(state).rest_steps or 0 for state in self.search.successors)
        place = self.claim.output
        if place is None:
            return None
        return max(self._outlook(state).off_steps[place] or 0 for state in self.search.successors)

    def _refuted(self, began: float, state: int, why: str, seen: int) -> Proof:
        """The acts on the way to the state, at the steps at which `run` does them."""
        names = {trigger.cell: trigger.name for trigger in self.triggers}
        acts = []
        for steps, one in enumerate(self.search.way_to(state)):
            for act in self.search.label[one] or ():
                kind = next(trigger.kind for trigger in self.triggers if trigger.cell == act.cell)
                verb = "" if act.verb == default_act(kind) else f":{act.verb}"
                acts.append(f"{self.first + steps - 1}:{names[act.cell]}{verb}")
        return self._proof(began, "refuted", why, tuple(acts), replay=self.first + seen + SHOWN_AFTER)

    def _proof(
        self,
        began: float,
        verdict: Literal["proved", "refuted", "undecided"],
        detail: str,
        acts: tuple[str, ...] = (),
        replay: int | None = None,
        worst: int | None = None,
    ) -> Proof:
        search = self.search
        spent = time.perf_counter() - began
        return Proof(
            verdict, self.claim.text, detail, self._bound(), search.expanded, search.edges, acts, replay, worst,
            self.claim.left_out, spent,
        )  # fmt: skip

    def _bound(self) -> str:
        names = ", ".join(trigger.name for trigger in self.triggers)
        number = "any number of" if self.hands is None else f"at most {self.hands}"
        every = "any step" if self.grid == 1 else f"every {self.grid}th step from step {self.first}"
        start = f"from the rest that it comes to by step {self.first}" if self.settled else f"from step {self.first}"
        kinds = sorted({limit for trigger in self.triggers if (limit := _limited(trigger)) is not None})
        more = f"; {'; '.join(kinds)}" if kinds else ""
        under = f"rules {self.rules.name}, order {self.order}"
        return f"{number} presses of {names} at {every}, {start}, each trigger at most once a step{more}; {under}"


def _act(sim: Simulation, trigger: Trigger) -> Act | None:
    """What the hand can do to the trigger at this moment that changes something; None if nothing."""
    cell, kind = trigger.cell, sim.kind_at(trigger.cell)
    if kind != trigger.kind:
        return None  # an arm, a cell on the move, or another part is there now
    if kind in BUTTONS:
        return Act(sim.now, cell, "press") if sim.level.get(cell, 0) == 0 else None
    if kind == "lever":
        return Act(sim.now, cell, "flip")
    if kind == "tread-plate":
        return Act(sim.now, cell, "leave" if sim.matter.creatures.get(cell, 0) else "tread")
    if kind in CONTAINERS:
        return Act(sim.now, cell, "put")
    return Act(sim.now, cell, "take" if cell in sim.matter.resting else "drop")


def _limited(trigger: Trigger) -> str | None:
    if trigger.kind == "tread-plate":
        return "at most one creature on a tread plate, which may tread and leave"
    if trigger.kind in CONTAINERS:
        return "a container is given one item at a time and nothing is taken out"
    if trigger.kind in BUTTONS or trigger.kind == "lever":
        return None
    return "at most one item at rest on a plate or open cell is dropped and taken by the hand"
