"""All states that a circuit can reach, whatever a hand does to its buttons and levers at the ends of steps."""

from __future__ import annotations

import ctypes
from array import array
from collections.abc import Mapping, Sequence
from itertools import chain

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import ActRecord, library
from tickwright.engine.native.packing import act_record, address
from tickwright.engine.native.simulation import Simulation
from tickwright.plan.hand import Stimulus, default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import Cell

SHARE = 4096  # states that are explored at a time


class StateGraph:
    """The states from the end of step `first` - 1 on, numbered as they are found; equal states have one number.

    `switches` are cells of buttons and levers, and `lists` says in which ways the hand may use them at the end of a
    step, each a sequence of places in `switches`. With `forget` switch-offs of torches that lie so far apart that none
    can burn out are not told apart; where some lie closer the graph is `crowded`, and may be wrong. Only for circuits
    in which no items and no cells move: UsageError else.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> graph = StateGraph(Setup(plan, load_rules()), {"lamp": (1, 0, 1)}, [(0, 0, 1)], [(0,)], first=1)
    >>> graph.after(0), graph.levels(1), graph.after(1)
    ([0, 1], (15,), [2, -1])
    """

    def __init__(
        self,
        setup: Setup,
        watch: Mapping[str, Cell],
        switches: Sequence[Cell],
        lists: Sequence[Sequence[int]],
        first: int,
        forget: bool = False,
    ) -> None:
        sim = Simulation(setup, watch)
        sim.advance(first)
        self._world = sim.world  # what its library calls back lives as long as the graph
        self._library = call = library()
        self.probes, self.moves = len(watch), 1 + len(lists)
        acts = [Stimulus(0, cell, _verb(setup.plan, cell)) for cell in switches]
        records = (ActRecord * max(len(acts), 1))(*[act_record(act, 0, setup.plan.cells, 0) for act in acts])
        ways, lengths = array("i", [*chain.from_iterable(lists), 0]), array("i", [*map(len, lists), 0])
        self.handle = lib.made(
            self, call.tw_graph_new, call.tw_graph_free, self._world.handle, first - 1, records, len(acts),
            address(ways), len(ways) - 1, address(lengths), len(lists),
        )  # fmt: skip
        if forget:
            self.checked(call.tw_graph_forget(self.handle))
        self.explored = 0  # all states before this one are
        self._levels: list[tuple[int, ...]] = []
        self._rests: list[bool] = []
        self._after: dict[int, list[int]] = {}

    def __len__(self) -> int:
        """How many states are known by now."""
        return int(self._library.tw_graph_states(self.handle))

    def after(self, state: int) -> list[int]:
        """The states that follow: hands off, then for each list, -1 where one of its acts would change nothing."""
        if state not in self._after:
            self._explore(state, state + 1)
            after, _, _ = self._read(state, 1)
            self._after[state] = after.tolist()
        return self._after[state]

    def levels(self, state: int) -> tuple[int, ...]:
        """What the watched cells show in a state that is known."""
        self._look()
        return self._levels[state]

    def rests(self, state: int) -> bool:
        """Whether nothing is due in a state that is known."""
        self._look()
        return self._rests[state]

    @property
    def crowded(self) -> bool:
        """Whether it forgot more of torches than it should have."""
        return bool(self.checked(self._library.tw_graph_crowded(self.handle)))

    def explore(self) -> bool:
        """Explore some more states; whether there are still any to explore."""
        end = min(len(self), self.explored + SHARE)
        self._explore(self.explored, end)
        self.explored = end
        return end < len(self)

    def edges(self) -> int:
        """How many different (state, next state) pairs the states explored so far have."""
        return int(self._library.tw_graph_edges(self.handle))

    def futures(self) -> list[tuple[int, ...]]:
        """What follows each state hands off, when all are explored: the different rows of it, in order.

        A row: steps to rest; then for each watched cell the steps until it is off for good; then for each how many
        pulses begin after this state. -1 stands for never, and for no end of them.
        """
        width = 1 + 2 * self.probes
        found = (ctypes.c_int32 * (len(self) * width))()
        self.checked(self._library.tw_graph_futures(self.handle, found, len(found)))
        values = iter(found)
        return sorted(set(zip(*[values] * width, strict=True)))

    def checked(self, status: int) -> int:
        """The status of a call on the graph, once what went wrong in Python meanwhile is raised."""
        return self._world.checked(status)

    def _explore(self, first: int, end: int) -> None:
        self.checked(self._library.tw_graph_explore(self.handle, first, end))

    def _read(self, first: int, number: int) -> tuple[array[int], array[int], bytearray]:
        """Rows of `after` and `shown`, and whether they rest, for so many states from the first."""
        after = array("i", bytes(4 * number * self.moves))
        shown = array("i", bytes(4 * (number * self.probes + 1)))
        rests = bytearray(number)
        place = (ctypes.c_uint8 * max(number, 1)).from_buffer(rests) if number else None
        self.checked(self._library.tw_graph_read(self.handle, first, number, address(after), address(shown), place))
        return after, shown, rests

    def _look(self) -> None:
        """Take over what is known of new states."""
        known, first = len(self), len(self._levels)
        if known == first:
            return
        _, shown, rests = self._read(first, known - first)
        n = self.probes
        self._levels += (
            [tuple(shown[at : at + n]) for at in range(0, n * (known - first), n)] if n else [()] * (known - first)
        )
        self._rests += map(bool, rests)


def _verb(plan: Plan, cell: Cell) -> str:
    part = plan.cells.get(cell)
    return str(default_act(part.kind if part else None))
