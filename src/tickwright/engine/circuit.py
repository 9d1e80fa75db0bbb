"""Circuits: a configuration of cells under a rule set, reduced to what matters in time, as arrays.

A wire network only takes maxima and subtracts losses, so wires vanish: what is left are *actors*, each with the sources
that its ports hear and how much each source loses on its way. The comments of Circuit say what every array means.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Sized
from dataclasses import dataclass, field
from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tickwright.engine.order import notification_order
from tickwright.kinds import CONTAINERS, HEARING, PARTS, PASSING, PISTONS, PLATES, STANDS, STILL, Part, kinds_with
from tickwright.memory import collection_paused
from tickwright.plan.setup import Setup
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import NEAR, Stand
from tickwright.rules.power import is_ahead, watched_cell
from tickwright.rules.ruleset import RuleSet
from tickwright.rules.wire import inflows
from tickwright.space import Cell, beside, zyx

KINDS = ("empty", "inert", *PARTS)
KIND = {name: code for code, name in enumerate(KINDS)}
WIRES = [KIND[name] for name in kinds_with("wire")]
NO_ACTOR = kinds_with("still", "wire")  # cells that get an actor only for what is asked about them
NOWHERE, LOST = -1, -2

Ints = npt.NDArray[np.int32]
Bytes = npt.NDArray[np.int8]
Hearing = dict[int, int]  # what a port hears: source -> loss * 16 + (15 - most)


class Lists(NamedTuple):
    """A list of actors for each actor: `item[start[actor]:start[actor + 1]]`."""

    start: Ints  # start[actor], one more at the end
    item: Ints  # item[entry], an actor

    def of(self, actor: int) -> list[int]:
        """The list of one actor."""
        return [int(item) for item in self.item[self.start[actor] : self.start[actor + 1]]]


class Ports(NamedTuple):
    """What one port of each actor hears: the entries `start[actor]` to `start[actor + 1]` (left out).

    The level at the port is the maximum of `min(level[source], most) - loss` over its entries, and at least 0. Entries
    that another of the same port always reaches are left out.
    """

    start: Ints  # start[actor], one more at the end
    source: Ints  # source[entry], an actor
    loss: Bytes  # loss[entry], 0..14: how many levels are lost on the way
    most: Bytes  # most[entry], 0..15: what a wire on the way carries at most

    def of(self, actor: int) -> list[tuple[int, int]]:
        """(source, loss) of each entry of one actor."""
        here = slice(self.start[actor], self.start[actor + 1])
        return [(int(a), int(b)) for a, b in zip(self.source[here], self.loss[here], strict=True)]


@dataclass(frozen=True, slots=True)
class Circuit:
    """One configuration as arrays; `n` actors, in (z, y, x) order of their cells unless pistons reached new cells.

    Actors are: all parts but blocks, insulators and wires; the wires that a change-sensor watches or a piston minds
    (*live* wires, whose level must be known after each change); and cells that were asked for or where items may rest.
    """

    rules: RuleSet
    geometry: Geometry
    cells: tuple[Cell, ...]  # cells[actor]
    index: Mapping[Cell, int]  # the actor of a cell
    kind: Bytes  # kind[actor], an index into KINDS; "inert" for an arm or a cell on the move
    rank: Ints  # rank[actor], 0..n-1: its place in the order of telling and of hoppers' turns
    delay: Ints  # delay[actor], steps from the schedule to the act; a button's press; 0 if it never schedules
    priority: Bytes  # priority[actor, on]: of what it schedules while it is off (0) or on (1)
    difference: npt.NDArray[np.bool_]  # difference[actor]: a comparator of that mode
    counts: Ints  # counts[actor]: how many things make one level of a plate; 0 for no plate
    capacity: Ints  # capacity[actor]: how many items fit in a container; 0 for others
    power: Ports  # rear of repeaters and comparators; all that powers others; all that a live wire hears
    flank: Ports  # flanks of comparators; what locks a repeater
    reads: Ints  # reads[actor]: the container that a comparator reads, or NOWHERE
    directly: npt.NDArray[
        np.bool_
    ]  # directly[actor]: it lies behind the comparator; else only read below the top level
    notified: (
        Lists  # told[source]: who is told when its level changes, in order; change-sensors only if it visibly does
    )
    recount_notified: Lists  # recount_told[container]: who is told when its count changes, in order
    live: Lists  # live[source]: the live wires that hear it
    wakes: Lists  # wakes[container]: the hoppers in and beside its cell
    goal: Ints  # goal[actor]: the container a hopper pushes into, the one in front of an ejector; or NOWHERE
    above: Ints  # above[hopper]: what lies above it, a container or a place where stacks rest; or NOWHERE
    below: Ints  # below[place]: the hopper under it, or NOWHERE
    fall: Ints  # fall[actor]: where an item rests that is let go here (by an ejector: in front); LOST, or NOWHERE
    laid: Ints  # laid[actor]: the level it starts with
    stock: Ints  # stock[actor]: the items it starts with
    out: npt.NDArray[np.bool_]  # out[actor]: an extended piston
    back: npt.NDArray[np.bool_]  # back[actor]: a piston that has just gone back and does not act
    reach: Reach = field(repr=False, compare=False)

    @property
    def n(self) -> int:
        """How many actors there are."""
        return len(self.cells)

    def hears(self, cell: Cell) -> tuple[tuple[int, int, int], ...]:
        """(source, loss, most) of what a wire or a block shows: it is never told, but its level follows from these."""
        return self.reach.shows(cell)

    def shown(self, cell: Cell, level: Sequence[int] | Ints, count: Sequence[int] | Ints) -> int:
        """What a watched cell shows, given `level[actor]` (0..15) and `count[actor]` (items)."""
        kind = self.geometry.kind(cell)
        if kind is None or (kind in STILL and kind not in PASSING):
            return 0
        if kind in CONTAINERS:
            return int(count[self.index[cell]])
        return self.level(cell, level)

    def level(self, cell: Cell, level: Sequence[int] | Ints) -> int:
        """The level of a wire, a block or an actor, given `level[actor]`."""
        highest = 0
        for source, loss, most in self.reach.shows(cell):
            highest = max(highest, min(int(level[source]), most) - loss)
        return highest


class Roster:
    """The cells that have actors, in order of their numbers; it only grows, so numbers hold for all configurations."""

    def __init__(self, cells: Iterable[Cell], order: str = "canonical") -> None:
        self.key = notification_order(order)
        self.cells: list[Cell] = []
        self.index: dict[Cell, int] = {}
        self._rank = np.zeros(0, np.int32)
        for cell in cells:
            self.add(cell)

    def add(self, cell: Cell) -> int:
        """The actor of a cell, a new one if it had none."""
        actor = self.index.get(cell)
        if actor is None:
            actor = self.index[cell] = len(self.cells)
            self.cells.append(cell)
        return actor

    def rank(self) -> Ints:
        """rank[actor]: its place in the order of telling."""
        n = len(self.cells)
        if len(self._rank) != n:
            self._rank = np.empty(n, np.int32)
            self._rank[sorted(range(n), key=lambda actor: self.key(self.cells[actor]))] = np.arange(n, dtype=np.int32)
        return self._rank


class Reach:
    """What wires hear over any distance, and so what ports hear; each wire worked out once, when asked."""

    def __init__(self, geometry: Geometry, roster: Roster) -> None:
        self.geometry = geometry
        self.index = roster.index
        self.cells = roster.cells
        self.top = geometry.rules.wire.top_level
        self.wire_loss = geometry.rules.wire.loss
        self._wires: dict[Cell, Hearing] = {}
        self._inflows: dict[Cell, tuple[Cell, ...]] = {}
        self._shows: dict[Cell, tuple[tuple[int, int, int], ...]] = {}

    def wire(self, wire: Cell) -> Hearing:
        """What the wire hears, the strongest way only: a search against the flow, until all would be lost."""
        found = self._wires.get(wire)
        if found is not None:
            return found
        found = self._wires[wire] = {}
        geometry, index, known = self.geometry, self.index, self._inflows
        cut = 15 - self.top
        cost = 0
        edge, seen = [wire], {wire}
        while edge:
            following = []
            for here in edge:
                for source in geometry.wire_sources(here):
                    found.setdefault(index[source], cost * 16 + cut)
                into = known.get(here)
                if into is None:
                    into = known[here] = inflows(geometry, here)
                for other in into:
                    if other not in seen:
                        seen.add(other)
                        following.append(other)
            edge = following
            cost += self.wire_loss
            if cost >= self.top:
                break
        return found

    def port(self, sources: Iterable[Cell]) -> Hearing:
        """What a port hears whose sources are these cells; what another of them always reaches is left out."""
        index, geometry = self.index, self.geometry
        best: Hearing = {}
        for cell in sources:
            if not geometry.is_wire(cell):
                best[index[cell]] = 0
                continue
            for source, cost in self.wire(cell).items():
                if cost < best.get(source, 256):
                    best[source] = cost
        if len(best) > 1:
            cells = self.cells
            floor, always = max(
                (
                    (self.top - (cost >> 4), source)
                    for source, cost in best.items()
                    if geometry.behaviour(cells[source]) == "source"
                ),
                default=(0, NOWHERE),
            )
            if floor:
                best = {
                    source: cost
                    for source, cost in best.items()
                    if source == always or 15 - (cost & 15) - (cost >> 4) > floor
                }
        return best

    def shows(self, cell: Cell) -> tuple[tuple[int, int, int], ...]:
        """(source, loss, most) of what a cell shows that holds a wire, a block or an actor."""
        found = self._shows.get(cell)
        if found is None:
            kind = self.geometry.kind(cell)
            if self.geometry.is_wire(cell):
                hearing = self.port((cell,))
            elif kind in PASSING:
                hearing = self.port(self.geometry.block_sources(cell))
            else:
                hearing = {self.index[cell]: 0}
            heard = tuple((source, cost >> 4, 15 - (cost & 15)) for source, cost in hearing.items())
            found = self._shows[cell] = heard
        return found


def circuit_of(setup: Setup, also: Iterable[Cell] = ()) -> Circuit:
    """The Circuit of a plan as laid; the plan must be valid under the rules. `also` names cells that get an actor too.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", w = "wire", L = "lamp"}
    ... layer = [{rows = "####"}, {rows = "bwwL"}]''')
    >>> circuit = circuit_of(Setup(plan, load_rules()))
    >>> lamp = circuit.index[3, 0, 1]
    >>> circuit.power.of(lamp), circuit.notified.of(circuit.index[0, 0, 1])
    ([(0, 1)], [1])
    """
    stands = {cell: Stand(part) for cell, part in setup.plan.cells.items()}
    roster = Roster(
        sorted((cell for cell, part in setup.plan.cells.items() if part.kind not in NO_ACTOR), key=zyx), setup.order
    )
    return build(Geometry(stands, setup.rules), roster, also)


def build(geometry: Geometry, roster: Roster, also: Iterable[Cell] = ()) -> Circuit:
    """The Circuit of one configuration; cells that need an actor and have none yet join the roster."""
    with collection_paused():
        return _Builder(geometry, roster).circuit(also)


class _Builder:
    """Gathers the lists of one Circuit."""

    def __init__(self, geometry: Geometry, roster: Roster) -> None:
        self.geometry = geometry
        self.rules = geometry.rules
        self.roster = roster
        self.reach = Reach(geometry, roster)
        self.parts = geometry.parts
        self.falls: dict[Cell, tuple[int, int]] = {}  # an ejector's or an asked cell's: goal, fall
        self.bottom = min((z for _, _, z in geometry.stands), default=0)

    def circuit(self, also: Iterable[Cell]) -> Circuit:
        """Everything, in the order in which it builds on itself: first who is an actor, then who hears whom."""
        roster, parts = self.roster, self.parts
        for cell, stand in self.geometry.stands.items():
            if stand.inert or stand.part.kind not in NO_ACTOR:
                roster.add(cell)
        live, watching = self._live_wires()
        self._places([*also])
        n = len(roster.cells)
        power: list[Hearing] = [{}] * n
        flank: list[Hearing] = [{}] * n
        notified: list[set[int]] = [set() for _ in range(n)]
        recount_notified: list[set[int]] = [set() for _ in range(n)]
        reads, directly = [NOWHERE] * n, [False] * n
        index = roster.index
        for cell, part in parts.items():
            if part.kind not in HEARING:
                continue
            actor = index[cell]
            fan_in = self.geometry.fan_in(cell)
            power[actor] = self.reach.port(fan_in.power)
            sides = fan_in.flank or fan_in.lock
            if sides:
                flank[actor] = self.reach.port(sides)
            if fan_in.container is not None:
                reads[actor], directly[actor] = index[fan_in.container[0]], fan_in.container[1]
                recount_notified[reads[actor]].add(actor)
            if part.kind not in PISTONS:
                for source in (*power[actor], *flank[actor]):
                    notified[source].add(actor)
        for cell, actors in watching.items():
            if cell in index:
                notified[index[cell]].update(actors)
        heard_live: list[list[int]] = [[] for _ in range(n)]
        for wire in live:
            power[index[wire]] = self.reach.wire(wire)
            for source in power[index[wire]]:
                heard_live[source].append(index[wire])
        self._minded(notified, recount_notified)
        return self._record(power, flank, notified, recount_notified, heard_live, reads, directly)

    def _live_wires(self) -> tuple[list[Cell], dict[Cell, list[int]]]:
        """The wires that are watched or minded, all with an actor; and the sensors that watch each cell."""
        geometry, index = self.geometry, self.roster.index
        watching: dict[Cell, list[int]] = {}
        for cell, part in self.parts.items():
            if PARTS[part.kind].behaviour == "sensor":
                watching.setdefault(watched_cell(geometry, cell), []).append(index[cell])
        live = {cell: None for cell in watching if geometry.is_wire(cell)}
        for x, y, z in geometry.pistons:
            for dx, dy, dz in NEAR[self.rules.piston.hears_within]:
                cell = (x + dx, y + dy, z + dz)
                if geometry.is_wire(cell):
                    live[cell] = None
        for cell in live:
            self.roster.add(cell)
        return list(live), watching

    def _minded(self, notified: list[set[int]], recount_notified: list[set[int]]) -> None:
        """Pistons are told of every level, on/off and count near them."""
        index = self.roster.index
        for x, y, z in self.geometry.pistons:
            for dx, dy, dz in NEAR[self.rules.piston.hears_within]:
                actor = index.get((x + dx, y + dy, z + dz))
                if actor is not None:
                    notified[actor].add(index[x, y, z])
                    recount_notified[actor].add(index[x, y, z])

    # --- items -----------------------------------------------------------------------------------------------------

    def _places(self, also: list[Cell]) -> None:
        """Work out where things fall, and give those places actors."""
        for cell in also:
            self.roster.add(cell)
            kind = self.geometry.kind(cell)
            stand = self.geometry.stands.get(cell)
            if stand is None or kind in PLATES:
                self.falls[cell] = (NOWHERE, self._fall(cell))
        for cell, part in self.parts.items():
            behaviour = PARTS[part.kind].behaviour
            if behaviour == "hopper":
                self.roster.add(beside(cell, "up"))
            elif behaviour == "ejector":
                front = beside(cell, str(part.facing))
                kind = self.geometry.kind(front)
                if kind in CONTAINERS:
                    self.falls[cell] = (self.roster.index[front], NOWHERE)
                elif front not in self.geometry.stands or kind in PLATES:
                    self.falls[cell] = (NOWHERE, self._fall(front))

    def _fall(self, cell: Cell) -> int:
        """The actor where an item let go in the cell rests, or LOST."""
        here = cell
        while self.geometry.kind(here) not in PLATES:
            below = beside(here, "down")
            stand = self.geometry.stands.get(below)
            if stand is not None and (stand.inert or stand.part.kind not in STANDS):
                break
            if below[2] < self.bottom:
                return LOST
            here = below
        return self.roster.add(here)

    # --- the record ------------------------------------------------------------------------------------------------

    def _record(
        self,
        power: list[Hearing],
        flank: list[Hearing],
        notified: list[set[int]],
        recount_notified: list[set[int]],
        live: list[list[int]],
        reads: list[int],
        directly: list[bool],
    ) -> Circuit:
        n = len(power)
        rules, index, cells = self.rules, self.roster.index, tuple(self.roster.cells)
        rank = self.roster.rank()
        kind = np.zeros(n, np.int8)
        delay, counts, capacity, laid, stock = (np.zeros(n, np.int32) for _ in range(5))
        goal, above, below, fall = (np.full(n, NOWHERE, np.int32) for _ in range(4))
        priority = np.zeros((n, 2), np.int8)
        difference, out, back = (np.zeros(n, np.bool_) for _ in range(3))
        wakes: list[tuple[int, ...]] = [()] * n
        holds = any(PARTS[part.kind].behaviour == "hopper" for part in self.parts.values())
        for cell, stand in self.geometry.stands.items():
            actor = index.get(cell)
            if actor is None:
                continue
            part = stand.part
            if stand.inert:
                kind[actor] = KIND["inert"]
                continue
            kind[actor] = KIND[part.kind]
            delay[actor] = delay_of(part, rules)
            row = PARTS[part.kind]
            if row.priorities[0]:
                priority[actor] = priorities_of(part, rules, is_ahead(self.geometry, cell))
                difference[actor] = part.mode == "difference"
            elif part.kind in PLATES:
                counts[actor] = part.counts
            elif part.kind in CONTAINERS:
                capacity[actor], stock[actor] = rules.capacity(part.kind), part.items
                if row.behaviour == "hopper":
                    into, over = self.geometry.hopper_ends(cell)
                    goal[actor] = index[into] if self.geometry.capacity(into) else NOWHERE
                    above[actor] = index.get(over, NOWHERE)
            elif part.kind in PISTONS:
                out[actor], back[actor] = stand.posture == "out", stand.posture == "back"
            if row.starts_on == "always" or (row.starts_on == "thrown" and part.thrown):
                laid[actor] = rules.wire.top_level
        for cell, ends in self.falls.items():
            goal[index[cell]], fall[index[cell]] = ends
        if holds:
            for actor, cell in enumerate(cells):
                wakes[actor] = tuple(index[hopper] for hopper in self.geometry.hoppers_near(cell))
                under = beside(cell, "down")
                if self.geometry.behaviour(under) == "hopper":
                    below[actor] = index[under]
        return Circuit(
            rules, self.geometry, cells, index, kind, rank, delay, priority, difference, counts, capacity,
            _ports(power), _ports(flank), np.array(reads, np.int32), np.array(directly, np.bool_),
            _notified(notified, rank), _notified(recount_notified, rank), _lists(live), _lists(wakes),
            goal, above, below, fall, laid, stock, out, back, self.reach,
        )  # fmt: skip


def delay_of(part: Part, rules: RuleSet) -> int:
    """Steps from the part's schedule to its event: the lamp's glow, the button's press; 0 if it schedules nothing."""
    return 0 if PARTS[part.kind].behaviour == "plate" else rules.delay_steps(part)


def priorities_of(part: Part, rules: RuleSet, ahead: bool) -> tuple[int, int]:
    """Priority of what a repeater or comparator schedules while it is off, and while it is on."""
    hastened, while_off, while_on = PARTS[part.kind].priorities
    return (rules.value(hastened),) * 2 if ahead else (rules.value(while_off), rules.value(while_on))


def _starts(lists: Iterable[Sized]) -> Ints:
    lengths = [0, *map(len, lists)]
    return np.cumsum(lengths, dtype=np.int32)


def _lists(lists: Sequence[Sequence[int]]) -> Lists:
    start = _starts(lists)
    return Lists(start, np.fromiter(chain.from_iterable(lists), np.int32, int(start[-1])))


def _notified(lists: Sequence[set[int]], rank: Ints) -> Lists:
    place = rank.tolist()
    return _lists([sorted(actors, key=place.__getitem__) if len(actors) > 1 else list(actors) for actors in lists])


def _ports(ports: Sequence[Hearing]) -> Ports:
    start = _starts(ports)
    total = int(start[-1])
    source = np.fromiter(chain.from_iterable(ports), np.int32, total)
    cost = np.fromiter(chain.from_iterable(port.values() for port in ports), np.int16, total)
    return Ports(start, source, (cost >> 4).astype(np.int8), (15 - (cost & 15)).astype(np.int8))
