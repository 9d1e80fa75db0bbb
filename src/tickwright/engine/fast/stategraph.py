"""All states that a circuit can reach, whatever a hand does to its buttons and levers at the ends of steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from tickwright.engine.fast import arrays as a
from tickwright.engine.fast import states
from tickwright.engine.fast.entries import explore, futures
from tickwright.engine.fast.simulation import Simulation
from tickwright.errors import UsageError
from tickwright.plan.hand import USUAL, Stimulus
from tickwright.plan.model import Plan
from tickwright.rules.ruleset import RuleSet
from tickwright.space import Cell

SHARE = 4096  # states that are explored at a time
LEAST_ROOM = 1024  # states
NEVER_DONE = 2**31 - 1  # the step of acts that only lie ready


class StateGraph:
    """The states from the end of step `first` - 1 on, numbered as they are found; equal states have one number.

    `acts` are cells of buttons and levers, and `lists` says in which ways the hand may use them at the end of a step,
    each a sequence of places in `acts`. Only for circuits in which no items and no cells move: UsageError else.

    >>> from tickwright.plan import loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> graph = StateGraph(plan, load_rules(), "canonical", {"lamp": (1, 0, 1)}, [(0, 0, 1)], [(0,)], first=1)
    >>> graph.after(0), graph.levels(1), graph.after(1)
    ([0, 1], (15,), [2, -1])
    """

    def __init__(
        self,
        plan: Plan,
        rules: RuleSet,
        order: str,
        watch: Mapping[str, Cell],
        stimuli: Sequence[Cell],
        lists: Sequence[Sequence[int]],
        first: int,
    ) -> None:
        sim = Simulation(plan, rules, order, watch, [Stimulus(NEVER_DONE, cell, USUAL) for cell in stimuli])
        self._world = sim.world
        header = sim.setting.packed.e
        matter = header[[a.HOPPERS_END, a.PLATES_END]] > header[[a.HOPPERS, a.PLATES]]
        if sim.restless or matter.any() or header[a.EJECTOR_TOTAL]:
            raise UsageError("A graph of states takes no circuit in which items or cells may move.")
        sim.advance(first)
        self._world.c[[a.NEXT_ACT, a.ACTS_END]] = 0
        self.moves = 1 + len(lists)
        self._lists = np.zeros((len(lists), states.LIST), np.int32)
        for row, ways in zip(self._lists, lists, strict=True):
            row[states.LENGTH] = len(ways)
            row[states.FIRST_ACT : states.FIRST_ACT + len(ways)] = ways
        actors = int(header[a.ACTORS])
        torches = int(header[a.TORCH_TOTAL]) * (2 + int(header[a.BURN_COUNT]))
        most_words = -(-actors // states.LEVELS_A_WORD) + 1 + 2 * actors + torches
        self._probes = int(header[a.PROBE_TOTAL])
        self._g = np.zeros(states.GRAPH, np.int64)
        self._g[states.LISTS], self._g[states.MOST_WORDS], self._g[states.START] = len(lists), most_words, first - 1
        self._sort_room = np.zeros(max(1, actors) * states.ENTRY, np.int64)
        self._words = np.zeros(0, np.int32)  # words[where[state] : where[state + 1]]: the row of a state
        self._where = np.zeros(1, np.int64)
        self._table = np.zeros(0, np.int32)
        self._shown = np.zeros(0, np.int32)  # shown[state * probes + probe]
        self._after = np.zeros(0, np.int32)  # after[state * moves + move], -1 before it is explored
        self.explored = 0  # all states before this one are
        self._read_levels: list[tuple[int, ...]] = []
        self._read_rest: list[bool] = []
        self._explore(0, 0, hands_off=False)

    def __len__(self) -> int:
        """How many states are known by now."""
        return int(self._g[states.STATES])

    def after(self, state: int) -> list[int]:
        """The states that follow: hands off, then for each list of acts, -1 where one of them would change nothing."""
        row: list[int] = self._after[state * self.moves : (state + 1) * self.moves].tolist()
        while row[0] < 0:
            self._explore(state, state + SHARE, hands_off=True)
            row = self._after[state * self.moves : (state + 1) * self.moves].tolist()
        return row

    def levels(self, state: int) -> tuple[int, ...]:
        """What the watched cells show in a state that is known."""
        self._read()
        return self._read_levels[state]

    def rests(self, state: int) -> bool:
        """Whether nothing is due in a state that is known."""
        self._read()
        return self._read_rest[state]

    def explore(self) -> bool:
        """Explore some more states; whether there are still any to explore."""
        end = min(len(self), self.explored + SHARE)
        while self.explored < end:
            self.explored = self._explore(self.explored, end, hands_off=False)
        return end < len(self)

    def edges(self) -> int:
        """How many different (state, next state) pairs the states explored so far have."""
        rows = np.sort(self._after[: self.explored * self.moves].reshape(-1, self.moves), axis=1)
        return int((rows[:, 0] >= 0).sum() + ((rows[:, 1:] != rows[:, :-1]) & (rows[:, 1:] >= 0)).sum())

    def futures(self) -> a.Ints:
        """What follows each state hands off, when all are explored: the different rows of it.

        future[row, 0]: steps to rest; then for each watched cell the steps until it is off for good; then for each how
        many pulses begin after this state. -1 stands for never, and for no end of them.
        """
        known, probes = len(self), self._probes
        future = np.zeros((known, 1 + 2 * probes), np.int32)
        done, path = np.zeros(known, np.int8), np.zeros(known, np.int32)
        found = (self._after, self.moves, self._resting(0, known).astype(np.int8), self._shown, probes)
        futures(self._world.c, *found, known, done, path, future.ravel())
        return np.unique(future, axis=0)

    def _explore(self, state: int, end: int, hands_off: bool) -> int:
        """Explore as far as there is room at once; the very first state is found by the way."""
        self._make_room()
        arrays = (self._words, self._where, self._table, self._shown, self._lists.ravel(), self._after, self._sort_room)
        return int(explore(*self._world.arrays, self._g, *arrays, state, end, hands_off))

    def _read(self) -> None:
        """Take over what the compiled code has found out about new states."""
        known, read = len(self), len(self._read_levels)
        if known == read:
            return
        shown = self._shown[read * self._probes : known * self._probes].reshape(known - read, self._probes)
        self._read_levels += map(tuple, shown.tolist())
        self._read_rest += self._resting(read, known).tolist()

    def _resting(self, first: int, end: int) -> Any:
        """Whether nothing is due in the states `first` .. `end` - 1: no entry follows the levels."""
        return self._words[self._where[first:end] + -(-int(self._world.e[a.ACTORS]) // states.LEVELS_A_WORD)] == 0

    def _make_room(self) -> None:
        """Room for what one state may lead to at least, and for twice as much as there is if that is short."""
        g = self._g
        if g[states.STATES] + self.moves > g[states.STATE_ROOM]:
            room = 2 * int(g[states.STATE_ROOM]) + LEAST_ROOM * self.moves
            self._where = _longer(self._where, room + 1)
            self._shown = _longer(self._shown, room * self._probes)
            self._after = _longer(self._after, room * self.moves, -1)
            self._table = np.full(1 << (2 * room).bit_length(), -1, np.int32)
            g[states.STATE_ROOM], g[states.TABLE_MASK], g[states.IN_TABLE] = room, len(self._table) - 1, 0
        row = int(g[states.MOST_WORDS]) * self.moves
        if g[states.WORDS] + row > g[states.WORD_ROOM]:
            g[states.WORD_ROOM] = 2 * int(g[states.WORD_ROOM]) + 4 * row
            self._words = _longer(self._words, int(g[states.WORD_ROOM]))


def _longer(array: Any, length: int, filling: int = 0) -> Any:
    """The array, with room at its end."""
    longer = np.full(length, filling, array.dtype)
    longer[: len(array)] = array
    return longer
