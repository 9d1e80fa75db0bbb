"""Search without proof: simulated annealing over layouts, for larger boxes and for what moves or holds items.

It finds layouts and proves nothing: there may be smaller ones. Equal seeds find the same.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from tickwright.design.discovery.alphabet import TRIGGERS
from tickwright.design.discovery.question import BUDGET_EVENTS, START_STEPS, Question, pattern_of
from tickwright.design.discovery.searching import Found
from tickwright.engine.interface import Job
from tickwright.engine.native.batch import Batch
from tickwright.engine.native.layouts import Counts, Pattern
from tickwright.space import Cell, beside

CHAINS = 32  # layouts that are changed side by side, each on its own
ROUNDS = 600  # changes of each layout from hot to cold; then all begin anew
HOT, COLD = 6.0, 0.05
PART = 0.15  # what a part costs; a step beside the wanted hold costs 0.5
FAR = 30.0
FULL = 0.5  # so many cells of the first layout hold a part
KEPT = 3


@dataclass
class Annealing:
    """A search as far as it has come; `robust` and `sensitive` are the smallest found, as in one by all layouts."""

    question: Question
    seed: int
    tries: int
    tried: int = 0
    restless: int = 0
    seconds: float = 0.0
    robust: list[Found] = field(default_factory=list)
    sensitive: list[Found] = field(default_factory=list)
    replays: dict[Found, tuple[int, int]] = field(default_factory=dict)
    """What the reference engine saw of winners, each played once."""

    @property
    def counts(self) -> Counts:
        """The layouts tried; some of them more than once, and mirror images."""
        return Counts(self.tried, 0, 0, self.tried, self.restless)

    def take(self, found: Found) -> None:
        """Keep a layout that does what is wanted, if it is among the smallest."""
        question = self.question
        kept = self.robust if question.is_robust(question.plan(found.options, found.place), 1) else self.sensitive
        if found not in kept:
            kept.append(found)
        kept.sort()
        kept[:] = [one for one in kept if one.parts == kept[0].parts][:KEPT]
        if self.robust and self.sensitive and self.sensitive[0].parts >= self.robust[0].parts:
            self.sensitive.clear()

    def is_smaller(self, parts: int) -> bool:
        """Whether a layout of so many parts would be among the smallest."""
        return all(not kept or parts < kept[0].parts for kept in (self.robust, self.sensitive))


def anneal(search: Annealing, seconds: float | None, progress: Callable[[Annealing], bool]) -> bool:
    """Try as many layouts as `search.tries` says; False if the time was over or `progress` said to stop before."""
    begun = time.monotonic()
    chance = random.Random(f"tickwright {search.seed}")
    moves = Moves(search.question, chance)
    while search.tried < search.tries:
        chains = [moves.first() for _ in range(CHAINS)]
        costs = [math.inf] * CHAINS
        for turn in range(ROUNDS):
            search.seconds = time.monotonic() - begun
            if progress(search) or (seconds is not None and search.seconds > seconds):
                return False
            if search.tried >= search.tries:
                break
            heat = HOT * (COLD / HOT) ** (turn / ROUNDS)
            changed = [moves.changed(one) if turn else one for one in chains]
            for place, (cost, options) in enumerate(zip(_costs(search, changed), changed, strict=True)):
                if cost <= costs[place] or chance.random() < math.exp((costs[place] - cost) / heat):
                    chains[place], costs[place] = options, cost
    search.seconds = time.monotonic() - begun
    return True


def _costs(search: Annealing, layouts: Sequence[tuple[int, ...]]) -> list[float]:
    """What each layout costs: how far its best cell is from what is wanted, and its parts. What does it is kept."""
    question, batch = search.question, Batch()
    jobs, watched = [], []
    for options in layouts:
        cells = question.box.layout(options)
        places = [cell for cell, part in cells.items() if part.behaviour not in TRIGGERS]
        acts = question.script(cells)
        presses = tuple(act.number if act.verb == "press" else 0 for act in acts)
        jobs.append(Job(batch.add(cells, places, question.rules), acts, presses))
        watched.append(places)
    steps = START_STEPS + question.behaviour.watch_steps
    costs, order = [], {cell: place for place, cell in enumerate(question.box.cells())}
    for options, places, seen in zip(layouts, watched, batch.changes(jobs, steps, BUDGET_EVENTS), strict=True):
        search.tried += 1
        search.restless += not seen.rests
        parts, far = len(places) + 1, 2 * FAR
        levels: list[list[tuple[int, int]]] = [[] for _ in places]
        for step, place, value in zip(seen.steps, seen.places, seen.values, strict=True):
            levels[place].append((step, value))
        for cell, changes in zip(places, levels, strict=True):
            if question.may_be_output(options, order[cell]):
                pattern = pattern_of(changes, not (seen.ended and seen.rests))
                miss = _miss(question, pattern)
                if not miss and search.is_smaller(parts):
                    search.take(Found(parts, options, order[cell]))
                far = min(far, miss)
        costs.append(far + PART * parts)
    return costs


def _miss(question: Question, pattern: Pattern) -> float:
    """How far a pattern is from what is wanted, 0 if it is that."""
    wanted = question.behaviour
    if wanted.shown(pattern):
        return 0.0
    if pattern.goes_on or pattern.cut or not pattern.edges:
        return 2 * FAR
    if len(pattern.edges) != wanted.edges or not wanted.hold_steps:
        return FAR + abs(len(pattern.edges) - wanted.edges)
    holds = [off - on for on, off in zip(pattern.edges[::2], pattern.edges[1::2], strict=True)]
    off_by = sum(abs(hold - wanted.hold_steps) for hold in holds) + 2 * pattern.rests_on
    return min(0.5 + 0.5 * off_by, FAR)


class Moves:
    """Layouts at random, and small changes to them; all of them stand, and have one trigger."""

    def __init__(self, question: Question, chance: random.Random) -> None:
        self.question, self.chance = question, chance
        self.parts = [None, *question.parts]
        self.cells = question.box.cells()
        self.places = {cell: place for place, cell in enumerate(self.cells)}
        self.triggers = [n for n, part in enumerate(self.parts) if part is not None and part.behaviour in TRIGGERS]
        self.others = [n for n, part in enumerate(self.parts) if part is not None and n not in self.triggers]
        kinds: dict[str, list[int]] = {}
        for option in self.others:
            kinds.setdefault(question.parts[option - 1].kind, []).append(option)
        self.kinds = list(kinds.values())
        self.carriers = [n for n in self.others if question.rules.carries.get(question.parts[n - 1].kind, False)]

    def first(self) -> tuple[int, ...]:
        """A layout at random."""
        return self._standing([self._some() if self.chance.random() < FULL else 0 for _ in self.cells])

    def changed(self, options: Sequence[int]) -> tuple[int, ...]:
        """A layout that differs from it by little, or not at all where the change could not stand."""
        made, where = list(options), self.chance.randrange(len(options))
        sort = self.chance.random()
        if sort < 0.3:
            made[where] = 0
        elif sort < 0.8:
            made[where] = self._some()
        elif sort < 0.9:
            other = self.chance.randrange(len(options))
            made[where], made[other] = made[other], made[where]
        else:
            made[where] = self.chance.choice(self.triggers)
        return self._standing(made, where)

    def _some(self) -> int:
        """An option at random, each kind as often as another."""
        return self.chance.choice(self.chance.choice(self.kinds))

    def _standing(self, made: list[int], changed: int | None = None) -> tuple[int, ...]:
        """The layout with one trigger, and without what does not stand; what needs a carrier often gets one."""
        pressed = [place for place, option in enumerate(made) if option in self.triggers]
        if not pressed:
            pressed = [self.chance.randrange(len(made))]
            made[pressed[0]] = self.chance.choice(self.triggers)
        keeps = changed if changed in pressed else self.chance.choice(pressed)
        for place in pressed:
            if place != keeps:
                made[place] = 0
        for _ in made:
            fallen = [place for place in range(len(made)) if not self._stands(made, place)]
            if not fallen:
                return tuple(made)
            for place in fallen:
                under = self._support(made[place], self.cells[place])
                if under is not None and under in self.places and not made[self.places[under]] and self.carriers:
                    made[self.places[under]] = self.chance.choice(self.carriers)
                elif place != keeps:
                    made[place] = 0
                else:
                    return self.first()
        return self.first()

    def _support(self, option: int, cell: Cell) -> Cell | None:
        part = self.parts[option]
        way = None if part is None else {"below": "down", "facing": part.facing}.get(part.row.support or "")
        return None if way is None else beside(cell, way)

    def _stands(self, made: Sequence[int], place: int) -> bool:
        under = self._support(made[place], self.cells[place])
        return under is None or (under in self.places and made[self.places[under]] in self.carriers)
