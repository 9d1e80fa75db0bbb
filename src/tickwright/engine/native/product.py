"""A graph of states and the observers of a claim, walked together: what a proof that remembers presses goes through."""

from __future__ import annotations

import ctypes
from array import array
from collections.abc import Sequence
from typing import NamedTuple

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import LimitRecord, library
from tickwright.engine.native.packing import address
from tickwright.engine.native.states import StateGraph

ALL, LIMIT, FAULT, LAYER = 2, 3, 4, 5  # how a walk ended; 1: it was interrupted
FIRST_FAULT = -2


class Limit(NamedTuple):
    """What one watched cell must do, in steps from a press; None is not asked for. See the C record of that name."""

    output: int
    within: int | None = None
    at_least: int | None = None
    at_most: int | None = None
    lowest: int | None = None
    never: bool = False


class Product:
    """Pairs of a state and what each limit remembers, numbered as found; 0 is the first state before any press.

    At most `hands` presses (None: any number) fall on every `grid`-th step. Pairs are expanded in the order of the
    fewest presses and then of the fewest steps to them.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> graph = StateGraph(Setup(plan, load_rules()), {"lamp": (1, 0, 1)}, [(0, 0, 1)], [(0,)], first=1)
    >>> product = Product(graph, [Limit(0, within=0, at_most=23)], None, 1)
    >>> product.walk(1000, 1000)  # the next pair takes a press
    (5, 1)
    >>> product.walk(1000, 1000)  # the next one has a fault
    (4, 27)
    >>> product.fault(27), product.way(27)[0], product.cost(27)
    ((0, 4, 23), 0, (1, 24))
    """

    def __init__(self, graph: StateGraph, limits: Sequence[Limit], hands: int | None, grid: int) -> None:
        self.graph = graph
        records = [
            LimitRecord(*(-1 if number is None else int(number) for number in limit)) for limit in limits
        ]  # fmt: skip
        self._library = call = library()
        self._handle = lib.made(
            self, call.tw_product_new, call.tw_product_free, graph.handle,
            (LimitRecord * max(len(records), 1))(*records), len(records), -1 if hands is None else hands, grid,
        )  # fmt: skip
        self._width = 2 + 2 * len(records)

    def __len__(self) -> int:
        """How many pairs are known by now."""
        return int(self._library.tw_product_pairs(self._handle))

    @property
    def expanded(self) -> int:
        """How many pairs are expanded."""
        return int(self._library.tw_product_expanded(self._handle))

    @property
    def edges(self) -> int:
        """How many different pairs of a pair and one that follows it were found."""
        return int(self._library.tw_product_edges(self._handle))

    def walk(self, most: int, limit: int) -> tuple[int, int]:
        """Expand so many more pairs, `limit` in all: how it ended, and the pair before which it did.

        It ends before a pair with a fault, and before the first that takes more presses than all before it.
        """
        at = ctypes.c_int32()
        return self.graph.checked(self._library.tw_product_walk(self._handle, most, limit, ctypes.byref(at))), at.value

    def cost(self, pair: int) -> tuple[int, int]:
        """The presses and the steps on the cheapest way to a pair."""
        return self._read(pair)[1]

    def fault(self, pair: int) -> tuple[int, int, int] | None:
        """The first limit that a pair breaks, how (enum tw_fault of the C interface), and its number."""
        row, _ = self._read(pair)
        for place in range(2, self._width, 2):
            if row[place] <= FIRST_FAULT:
                return place // 2 - 1, FIRST_FAULT - row[place], row[place + 1]
        return None

    def way(self, pair: int) -> list[int]:
        """The list of acts in each step on the way to a pair, -1 hands off."""
        steps = self.cost(pair)[1]
        lists = array("i", [0] * (steps + 1))
        lib.check(self._library.tw_product_way(self._handle, pair, address(lists), steps))
        return lists[:steps].tolist()

    def layer(self) -> tuple[list[int], list[int]]:
        """The pairs expanded since this was asked last, in order, and the state of the circuit in each."""
        number = self.expanded
        pairs, states = array("i", [0] * (number + 1)), array("i", [0] * (number + 1))
        taken = self._library.tw_product_layer(self._handle, address(pairs), address(states), number)
        return pairs[:taken].tolist(), states[:taken].tolist()

    def _read(self, pair: int) -> tuple[list[int], tuple[int, int]]:
        row, cost = array("i", [0] * self._width), array("i", [0, 0])
        lib.check(self._library.tw_product_read(self._handle, pair, address(row), self._width, address(cost)))
        return row.tolist(), (cost[0], cost[1])
