"""Explicit-state search: every state that can be reached, in order of cost, and the cheapest way to each.

The search knows nothing of circuits: a state is any hashable key, with a payload that its expansion may use up.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import Any, Generic, NamedTuple, TypeVar

Key = TypeVar("Key", bound=Hashable)
DEFAULT_STATES = 1_000_000


class Move(NamedTuple, Generic[Key]):
    """A move to the state `key`; `weight` is what it costs before its one step, `label` says what was done."""

    key: Key
    payload: Any = None
    label: Any = None
    weight: int = 0


class Search(Generic[Key]):
    """Search from `starts`; `expand(key, payload)` gives the moves out of a state, and is asked once for each state.

    Iterating yields the number of each state when the cheapest way to it is known, before it is expanded: in order of
    (weight, steps), which is plain breadth-first if no move has a weight. It ends when nothing new can be reached, then
    `finished` is true, or once `limit` states have been expanded.
    """

    def __init__(
        self,
        starts: Iterable[Move[Key]],
        expand: Callable[[Key, Any], Iterable[Move[Key]]],
        limit: int = DEFAULT_STATES,
    ) -> None:
        self.limit = limit
        self.finished = False
        self.expanded = 0
        self.index: dict[Key, int] = {}  # number of each state
        self.keys: list[Key] = []  # keys[state]
        self.cost: list[tuple[int, int]] = []  # cost[state] = (weight, steps) of the cheapest way known
        self.parent: list[int] = []  # parent[state] on that way, -1 at its start
        self.label: list[Any] = []  # label[state] of the last move on that way
        self.successors: dict[int, tuple[int, ...]] = {}  # successors[expanded state], in the order of its moves
        self._expand = expand
        self._heap: list[tuple[int, int, int, int, Any]] = []
        self._serial = 0
        for start in starts:
            self._reach(start, -1, (start.weight, 0))

    def _reach(self, move: Move[Key], parent: int, cost: tuple[int, int]) -> int:
        state = self.index.setdefault(move.key, len(self.keys))
        if state == len(self.keys):
            self.keys.append(move.key)
            self.cost.append(cost)
            self.parent.append(parent)
            self.label.append(move.label)
        elif cost < self.cost[state]:
            self.cost[state], self.parent[state], self.label[state] = cost, parent, move.label
        else:
            return state
        self._serial += 1
        heapq.heappush(self._heap, (*cost, self._serial, state, move.payload))
        return state

    def __iter__(self) -> Iterator[int]:
        """Yield the states in order of cost, see the class."""
        while self._heap:
            weight, steps, _, state, payload = heapq.heappop(self._heap)
            if state in self.successors:
                continue
            if self.expanded >= self.limit:
                return
            yield state
            moves = self._expand(self.keys[state], payload)
            reached = [self._reach(move, state, (weight + move.weight, steps + 1)) for move in moves]
            self.successors[state] = tuple(reached)
            self.expanded += 1
        self.finished = True

    @property
    def edges(self) -> int:
        """How many different (state, next state) pairs were found."""
        return sum(len(set(reached)) for reached in self.successors.values())

    def way_to(self, state: int) -> list[int]:
        """The states on the cheapest way to this one, the start first."""
        way = [state]
        while self.parent[way[-1]] >= 0:
            way.append(self.parent[way[-1]])
        return way[::-1]

    def acts_to(self, state: int) -> list[Any]:
        """The label of each move on the cheapest way to this one, () for a move without."""
        return [self.label[one] or () for one in self.way_to(state)[1:]]
