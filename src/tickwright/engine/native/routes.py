"""Nets routed, and tiles annealed, by the compiled library: numbers in and out, as `layout` asks for them."""

from __future__ import annotations

import ctypes
from array import array
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import AnnealRecord, library
from tickwright.engine.native.packing import address

WIRES, REPEATERS, MET = 0, 1, 2  # what `Routes.read` reads
FACINGS = ("north", "south", "east", "west")
SPOT_NUMBERS, REPEATER_NUMBERS = 4, 2


class Routes:
    """A room and the nets routed through it. Cells are numbers, (z * deep + y) * wide + x.

    `wire[cell]` and `block[cell]` say which net may have a wire or a support there: 0 any, -1 none, else its number.
    `cuts[cell]`: what stands there for good cuts a climb. Each wire has `loss` levels less than the one before it.
    """

    def __init__(
        self, size: tuple[int, int, int], wire: Sequence[int], block: Sequence[int], cuts: Sequence[bool], loss: int
    ) -> None:
        self._library = call = library()
        lists = [array("i", size), array("i", wire), array("i", block), array("B", cuts)]  # alive during the call
        pointers = [address(numbers) for numbers in lists]
        self._handle = lib.made(self, call.tw_router_new, call.tw_router_free, *pointers, len(wire), loss)
        self._nets = 0

    def add(
        self, number: int, level: int, starts: Sequence[int], goals: Iterable[tuple[Sequence[int], int, int]]
    ) -> int:
        """Add a net; a goal is its cells, the least level there, and the most repeaters before it. Its index."""
        begin, cells, rows = array("i", starts), array("i"), array("i")
        for own, need, repeaters in goals:
            cells.extend(own)
            rows.extend((len(cells), need, repeaters))
        self._nets += 1
        return lib.check(
            self._library.tw_router_net(
                self._handle, number, level, address(begin), len(begin), address(cells), len(cells),
                address(rows), len(rows) // 3,
            )
        )  # fmt: skip

    def reroute(self, which: int, price: float) -> None:
        """Route a net anew; what is claimed more than once costs so much more."""
        lib.check(self._library.tw_router_reroute(self._handle, which, price))

    def unhappy(self) -> list[int]:
        """The nets in conflict or without one of their goals; the cells of conflicts grow dearer."""
        into = array("i", bytes(4 * max(self._nets, 1)))
        count = lib.check(self._library.tw_router_unhappy(self._handle, address(into), len(into)))
        return into[:count].tolist()

    def drop(self) -> None:
        """Take out nets until no two are in conflict."""
        lib.check(self._library.tw_router_drop(self._handle))

    @property
    def pops(self) -> int:
        """How many steps the searches have made."""
        return int(self._library.tw_router_pops(self._handle))

    def read(self, which: int, what: int) -> list[int]:
        """What a net takes.

        WIRES: cell, level, part and repeaters before it of each wire. REPEATERS: the cell of each, and the place of its
        facing in FACINGS. MET: the wire at each goal, or -1.
        """
        count = lib.check(self._library.tw_router_read(self._handle, which, what, None, 0))
        into = array("i", bytes(4 * max(count, 1)))
        lib.check(self._library.tw_router_read(self._handle, which, what, address(into), count))
        return into[:count].tolist()


class Ground(NamedTuple):
    """Tiles on the ground of a room, as C reads them; see the record tw_anneal_data in c/tw.h for each list."""

    shapes: Sequence[int]
    ports: Sequence[int]
    net_ends: Sequence[int]
    pins: Sequence[int]
    own_ends: Sequence[int]
    own_nets: Sequence[int]
    way_ends: Sequence[int]
    ways: Sequence[int]
    fixed: Sequence[int]
    reach: Sequence[int]
    taken: Sequence[int]
    at: Sequence[int]
    way: Sequence[int]
    state: int
    room: tuple[int, int]
    far: int = 0


class Annealed(NamedTuple):
    """Where the tiles are after some changes, and the state of chance; the wire length and the overlap."""

    at: list[int]
    way: list[int]
    state: int
    length: int
    overlap: int


def anneal(ground: Ground, span: tuple[int, int, int], heat: tuple[float, float], overlap_cost: float) -> Annealed:
    """Make the changes `span[0]` to `span[1]` of `span[2]`; heat at first and at last, what a cell of overlap costs."""
    lists = [array("i", numbers or (0,)) for numbers in ground[:13]]
    at, way, state = lists[11], lists[12], array("Q", (ground.state,))
    into = array("q", (0, 0))
    record = AnnealRecord(
        *(address(numbers) for numbers in (*lists, state)), len(way), len(ground.net_ends) - 1, len(ground.pins) // 2,
        len(ground.ports) // 16, len(ground.own_nets), len(ground.ways), len(ground.taken) // 2, *heat, overlap_cost,
        *ground.room, ground.far,
    )  # fmt: skip
    lib.check(library().tw_anneal(ctypes.byref(record), *span, address(into)))
    return Annealed(at.tolist(), way.tolist(), state[0], into[0], into[1])
