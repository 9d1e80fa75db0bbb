"""A graph of states and a monitor written in Python, walked together: C walks, and asks of each new case only once."""

from __future__ import annotations

from array import array
from typing import NamedTuple

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import library
from tickwright.engine.native.packing import address
from tickwright.engine.native.states import StateGraph

FORBIDDEN, UNJUDGED, WRONG = -1, -2, -3  # what may follow for the monitor instead of a state


class Asked(NamedTuple):
    """A case: the monitor's state, the list of acts (-1: hands off), and the number of what is shown then."""

    watcher: int
    move: int
    face: int


class Refuted(NamedTuple):
    """Where a walk met what is wrong: the couple before it, and the list of acts that led to what is shown."""

    couple: int
    move: int
    face: int


class Monitored:
    """Couples of a state of the circuit and one of the monitor, which the caller numbers, 0 the first.

    The caller answers what `walk` asks by `tell`: the number of the monitor's next state; FORBIDDEN, if the hand may
    not do that; UNJUDGED, if nothing is judged from then on; or WRONG.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> graph = StateGraph(Setup(plan, load_rules()), {"lamp": (1, 0, 1)}, [(0, 0, 1)], [(0,)], first=1)
    >>> walk = Monitored(graph)
    >>> asked = walk.walk(1000, 1000)
    >>> asked, walk.levels(asked.face)
    (Asked(watcher=0, move=-1, face=0), (0,))
    >>> walk.tell(asked, 0)
    >>> asked = walk.walk(1000, 1000)
    >>> asked, walk.levels(asked.face)
    (Asked(watcher=0, move=0, face=1), (15,))
    >>> walk.tell(asked, WRONG)
    >>> walk.walk(1000, 1000), walk.way(0)
    (Refuted(couple=0, move=0, face=1), [])
    """

    def __init__(self, graph: StateGraph) -> None:
        self.graph = graph
        self._library = call = library()
        self._handle = lib.made(self, call.tw_monitored_new, call.tw_monitored_free, graph.handle)

    def __len__(self) -> int:
        """How many couples are known by now."""
        return int(self._library.tw_monitored_couples(self._handle))

    @property
    def expanded(self) -> int:
        """How many couples have been followed."""
        return int(self._library.tw_monitored_expanded(self._handle))

    def walk(self, most: int, limit: int) -> Asked | Refuted | bool | None:
        """Follow so many couples more, `limit` in all; a question, or what is wrong, if that ends it.

        Else True if there are more, False if all are known, None if there are more than the limit.
        """
        at = array("i", (0, 0, 0))
        ended = self.graph.checked(self._library.tw_monitored_walk(self._handle, most, limit, address(at)))
        if ended == lib.WALK_ASKS:
            return Asked(*at)
        if ended == lib.WALK_FAULT:
            return Refuted(*at)
        return None if ended == lib.WALK_LIMIT else ended == lib.MORE

    def tell(self, asked: Asked, following: int) -> None:
        """Answer a question."""
        lib.check(self._library.tw_monitored_tell(self._handle, *asked, following))

    def levels(self, face: int) -> tuple[int, ...]:
        """What the watched cells of the graph show."""
        into = array("i", [0] * self.graph.probes)
        lib.check(self._library.tw_monitored_face(self._handle, face, address(into), len(into)))
        return tuple(into)

    def way(self, couple: int) -> list[int]:
        """The list of acts in each step on the way to a couple, -1 hands off."""
        steps = array("i", [0] * (self.expanded + 1))
        taken = self._library.tw_monitored_way(self._handle, couple, address(steps), len(steps))
        return steps[: lib.check(taken)].tolist()
