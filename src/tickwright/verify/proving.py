"""The search behind a proof: what is asked, every state that can be reached, and what is read off them all.

The whole dynamic state of the engine counts, and the memory of the claim's observer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

from tickwright.durations import time_text
from tickwright.kinds import PARTS
from tickwright.looks import look_of
from tickwright.measurement.press import Trigger
from tickwright.plan.hand import Stimulus, default_act
from tickwright.verify.claims import UNPRESSED, Claim, Memory, Outlook
from tickwright.verify.search import Move, Search
from tickwright.verify.ways import FastWays, Ways

PROGRESS_EVERY = 500
SHOWN_AFTER = 200  # so many steps of the replay come after what breaks the claim
Key = tuple[Hashable, tuple[Memory, ...], int]
Progress = Callable[[int, int], bool] | None


@dataclass(frozen=True, slots=True)
class Proof:
    """What the search found. `states` were explored with all their moves, `seconds` of wall time were spent on it.

    `verdict`: "proved" within `bound`; "refuted" by `counterexample`, the acts of a list with as few presses as can be
    and, among those, over as soon as can be, which `run` replays for `replay_steps` steps; "undecided" at the limit of
    states or because it was stopped. `worst_steps`, if proved: the longest time from any state to rest (settles) or
    until the output is off for good, or on again if it is on at rest (never-sticks).
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

    def _repr_html_(self) -> str | None:
        """What a notebook shows."""
        return look_of(self)

    def as_data(self) -> dict[str, Any]:
        """The proof as JSON shows it."""
        data = {name: getattr(self, name) for name in self.__slots__}
        return {**data, "counterexample": list(self.counterexample), "left_out": list(self.left_out)}


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be proved, from the end of the step before `first` on; `settled` says whether all is at rest then."""

    claim: Claim
    outputs: tuple[str, ...]
    triggers: tuple[Trigger, ...]
    hands: int | None
    grid: int
    rules: str
    order: str
    first: int
    settled: bool
    also: str = ""  # what else the bound says of the hand
    began: float = field(default_factory=time.perf_counter)

    def proof(
        self,
        verdict: Literal["proved", "refuted", "undecided"],
        detail: str,
        states: int,
        edges: int,
        stimuli: tuple[str, ...] = (),
        replay: int | None = None,
        worst: int | None = None,
    ) -> Proof:
        """The answer."""
        spent = time.perf_counter() - self.began
        found = (states, edges, stimuli, replay, worst)
        return Proof(verdict, self.claim.text, detail, self.bound(), *found, self.claim.left_out, spent)

    def proved(self, states: int, edges: int, worst: int | None) -> Proof:
        """The answer that it is so."""
        text = "" if worst is None else f"; the longest takes {time_text(worst)}"
        return self.proof("proved", f"{self.claim.text}{text}", states, edges, worst=worst)

    def worst(self, outlooks: Iterable[Outlook]) -> int | None:
        """The longest time to rest, or until the output is back at rest for good, from any state."""
        if self.claim.name == "settles":
            return max(outlook.rest_steps or 0 for outlook in outlooks)
        place = self.claim.output
        return None if place is None else max(outlook.off_steps[place] or 0 for outlook in outlooks)

    def bound(self) -> str:
        """For what it is answered."""
        names = ", ".join(trigger.name for trigger in self.triggers)
        number = "any number of" if self.hands is None else f"at most {self.hands}"
        every = "any step" if self.grid == 1 else f"every {self.grid}th step from step {self.first}"
        start = f"from rest, which it reaches by step {self.first}" if self.settled else f"from step {self.first}"
        kinds = sorted({limit for trigger in self.triggers if (limit := _limited(trigger)) is not None})
        more = f"; {'; '.join([*([self.also] if self.also else []), *kinds])}" if kinds or self.also else ""
        under = f"rules {self.rules}, order {self.order}"
        return f"{number} presses of {names} at {every}, {start}, each trigger at most once a step{more}; {under}"


class Outlooks:
    """What follows each state hands off: `following` gives the next one, `rests` whether nothing is due in it.

    `levels` gives what the outputs show, as the claim takes them: see `as_taken`.
    """

    def __init__(
        self,
        following: Callable[[int], int],
        rests: Callable[[int], bool],
        levels: Callable[[int], tuple[int, ...]],
    ) -> None:
        self.following, self.rests, self.levels = following, rests, levels
        self.known: dict[int, Outlook] = {}

    def of(self, state: int) -> Outlook:
        """Follow the hands-off future to what is known of it, or round its cycle, and come back."""
        path: list[int] = []
        on_path: dict[int, int] = {}
        while state not in self.known and state not in on_path:
            on_path[state] = len(path)
            path.append(state)
            state = self.following(state)
        if state in on_path:
            cycle = path[on_path[state] :]
            for one in cycle:
                self.known[one] = self._round(cycle)
            path = path[: on_path[state]]
        for one in reversed(path):
            self._before(one, self.following(one))
        return self.known[(path or [state])[0]]

    def _round(self, cycle: list[int]) -> Outlook:
        """The outlook of the states of a cycle, in which nothing but time may pass."""
        rests = any(self.rests(one) for one in cycle)
        levels = list(zip(*(self.levels(one) for one in cycle), strict=True))
        ever = [any(shown) for shown in levels]
        off = tuple(None if on else 0 for on in ever)
        pulses = tuple(0 if all(shown) or not any(shown) else None for shown in levels)
        return Outlook(0 if rests else None, off, pulses)

    def _before(self, state: int, following: int) -> None:
        """The outlook of a state from that of the next."""
        later, now, then = self.known[following], self.levels(state), self.levels(following)
        rest = 0 if self.rests(state) else None if later.rest_steps is None else later.rest_steps + 1
        off = tuple(
            None if steps is None else steps + 1 if steps or on else 0
            for steps, on in zip(later.off_steps, now, strict=True)
        )
        pulses = tuple(
            None if count is None else count + 1 if comes and not on else count
            for count, on, comes in zip(later.pulses, now, then, strict=True)
        )
        self.known[state] = Outlook(rest, off, pulses)


def as_taken(claim: Claim, levels: tuple[int, ...]) -> tuple[int, ...]:
    """The levels of the outputs; one whose absence the claim is about is on where it is off."""
    absent = claim.output if claim.of_absence else None
    return tuple(int(not level) if n == absent else level for n, level in enumerate(levels))


class Prover:
    """One search of the states, as `ways` gives them, up to a limit."""

    def __init__(self, question: Question, ways: Ways, limit: int) -> None:
        self.question, self.claim, self.ways = question, question.claim, ways
        key = (ways.start.state, tuple(UNPRESSED for _ in self.claim.limits), 0)
        self.resting: dict[int, bool] = {}  # resting[state]: nothing is due, hands off
        self.levels: dict[int, tuple[int, ...]] = {}  # levels[state] of the outputs
        self.outlooks = Outlooks(
            lambda state: self.search.successors[state][0], self.resting.__getitem__, self.levels.__getitem__
        )
        self.now = -1  # the state that is being expanded
        self.search: Search[Key] = Search([Move(key, ways.start.payload)], self._expand, limit)

    def _expand(self, key: Key, payload: Any) -> Iterator[Move[Key]]:
        """The next step without a press, then with each list of presses that the triggers take."""
        state, (_, memory, phase) = self.now, key
        self.resting[state], levels = self.ways.look(payload)
        self.levels[state] = as_taken(self.claim, levels)
        most = 0
        if phase == 0:
            hands = self.question.hands
            most = len(self.question.triggers) if hands is None else hands - self.search.cost[state][0]
        phase = (phase + 1) % self.question.grid
        for step in self.ways.onward(payload, most):
            after = self._observe(memory, bool(step.stimuli), step.levels)
            yield Move((step.state, after, phase), step.payload, step.stimuli, len(step.stimuli))

    def _observe(self, memory: tuple[Memory, ...], pressed: bool, shown: tuple[int, ...]) -> tuple[Memory, ...]:
        if not memory:
            return memory
        return tuple(
            limit.step(one, pressed, shown[limit.output]) for limit, one in zip(self.claim.limits, memory, strict=True)
        )

    # --- the verdict -----------------------------------------------------------------------------------------------

    def prove(self, progress: Progress) -> Proof:
        """Search until all is known, something breaks the claim, the limit is reached or `progress` stops it."""
        layer: list[int] = []  # states whose future is known once all states with as many presses are
        weight, stopped = 0, False
        search = self.search
        for state in search:
            self.now = state
            objection = self._objection(state)
            if objection is not None:
                return self._refuted(state, objection, search.cost[state][1])
            if search.cost[state][0] > weight:
                bad = self._judge(layer)
                if bad is not None:
                    return self._refuted(*bad)
                layer, weight = [], search.cost[state][0]
            layer.append(state)
            if progress is not None and search.expanded % PROGRESS_EVERY == 0:
                stopped = progress(search.expanded, len(search.keys))
                if stopped:
                    break
        bad = self._judge(layer) if search.finished else None
        if bad is not None:
            return self._refuted(*bad)
        if search.finished:
            worst = self.question.worst(self.outlooks.of(state) for state in search.successors)
            return self.question.proved(search.expanded, search.edges, worst)
        why = "stopped by hand" if stopped else f"the limit of {search.limit:,} states was reached"
        deep = max((search.cost[one][0] for one in layer), default=0)
        seen = f"no state found so far breaks the claim; {len(search.keys):,} states seen, up to {deep} presses"
        return self.question.proof("undecided", f"{why}: {seen}", search.expanded, search.edges)

    def _objection(self, state: int) -> str | None:
        for limit, memory in zip(self.claim.limits, self.search.keys[state][1], strict=True):
            if isinstance(memory, str):
                return f"{self.question.outputs[limit.output]} {memory}"
        return None

    def _judge(self, layer: list[int]) -> tuple[int, str, int] | None:
        """The first state whose hands-off future breaks the claim: the state, why, and when that can be seen."""
        if self.claim.judge is None:
            return None
        for state in layer:
            why = self.claim.judge(self.outlooks.of(state))
            if why is not None:
                outlook, seen = self.outlooks.of(state), self.search.cost[state][1]
                times = [outlook.rest_steps or 0, *(off or 0 for off in outlook.off_steps)]
                return state, f"{why} after these presses", seen + max(times)
        return None

    def _refuted(self, state: int, why: str, seen: int) -> Proof:
        """The refutation by the acts on the way to the state."""
        stimuli = stimuli_texts(self.question, self.search.acts_to(state))
        replay = self.question.first + seen + SHOWN_AFTER
        search = self.search
        return self.question.proof("refuted", why, search.expanded, search.edges, stimuli, replay)


def stimuli_texts(question: Question, way: Iterable[Iterable[Stimulus]]) -> tuple[str, ...]:
    """The acts in each step of a way from the start, at the steps at which `run` does them."""
    names = {trigger.cell: trigger.name for trigger in question.triggers}
    stimuli = []
    for steps, acts in enumerate(way, 1):
        for stimulus in acts:
            kind = next(trigger.kind for trigger in question.triggers if trigger.cell == stimulus.cell)
            verb = "" if stimulus.verb == default_act(kind) else f":{stimulus.verb}"
            stimuli.append(f"{question.first + steps - 1}:{names[stimulus.cell]}{verb}")
    return tuple(stimuli)


def prove_whole(question: Question, ways: FastWays, limit: int, progress: Progress) -> Proof | None:
    """Proof from the whole graph of states at once; None if it has more states than the limit or one breaks the claim.

    For a claim that only looks ahead, with any number of presses at any step.
    """
    graph = ways.graph
    while graph.explore():
        if len(graph) > limit or (progress is not None and progress(graph.explored, len(graph))):
            return None
    outputs = len(question.outputs)
    outlooks = []
    for row in graph.futures():
        rest, *others = (None if one < 0 else one for one in row)
        outlooks.append(Outlook(rest, tuple(others[:outputs]), tuple(others[outputs:])))
    judge = question.claim.judge
    if len(graph) > limit or (judge is not None and any(judge(outlook) for outlook in outlooks)):
        return None
    return question.proved(len(graph), graph.edges(), question.worst(outlooks))


def _limited(trigger: Trigger) -> str | None:
    kind = PARTS[trigger.kind] if trigger.kind is not None else None
    if kind is not None and kind.feels == "creatures":
        return "at most one creature on a tread plate, which may tread and leave"
    if kind is not None and kind.slots:
        return "a container is given one item at a time and nothing is taken out"
    if kind is not None and kind.behaviour in ("button", "lever"):
        return None
    return "at most one item at rest on a plate or open cell is dropped and taken by the hand"
