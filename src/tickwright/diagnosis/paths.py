"""Paths: which part drives which, through which wires, at what loss; and the loops in which parts feed one another.

Read off the geometry of the plan as laid: what pistons move later is not seen here, and findings that rest on it say so
by their severity. A *hop* goes from a part that gives a level to a part that hears it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from tickwright.diagnosis.cycles import Arc, max_cycle_ratio
from tickwright.kinds import PARTS, PLATES, kinds_with
from tickwright.rules.geometry import Geometry
from tickwright.rules.power import watched_cell
from tickwright.rules.ruleset import RuleSet
from tickwright.rules.wire import inflows, is_joined
from tickwright.space import FLANKS, HORIZONTAL, OPPOSITE, Cell, beside, zyx

Ways = dict[Cell, tuple[int, tuple[Cell, ...]]]
RESTORES = kinds_with("repeater")
FEEDING = ("repeater", "comparator")


class Hop(NamedTuple):
    """One part drives another: `port` is "rear", "flank", "lock", "power", "watch" or "container".

    `loss` levels are lost in `wires`, which lie between them, the one nearest the source first.
    """

    source: Cell
    target: Cell
    port: str
    loss: int
    wires: tuple[Cell, ...] = ()


def drivers(geometry: Geometry, wire: Cell, most_loss: int | None = None) -> Ways:
    """Every part that drives the wire: the loss on the best way, and that way's wires, the wire itself last.

    With `most_loss` only those from which no more levels are lost.
    """
    loss = geometry.rules.wire.loss
    onward: dict[Cell, Cell | None] = {wire: None}
    lost = {wire: 0}
    found: Ways = {}
    queue = [wire]
    for here in queue:
        for source in sorted(geometry.wire_sources(here), key=zyx):
            if source not in found:
                found[source] = (lost[here], _way(onward, here))
        further = lost[here] + loss
        if most_loss is not None and further > most_loss:
            continue
        for other in inflows(geometry, here):
            if other not in onward:
                onward[other] = here
                lost[other] = further
                queue.append(other)
    return found


def _way(onward: Mapping[Cell, Cell | None], start: Cell) -> tuple[Cell, ...]:
    """The wires from `start` on, each followed by the one that it leads to."""
    way = [start]
    while (following := onward[way[-1]]) is not None:
        way.append(following)
    return tuple(way)


class _Reader:
    """Reads the hops of a geometry, a part at a time; what drives a wire is sought once."""

    def __init__(self, geometry: Geometry, most_loss: int | None = None) -> None:
        self._geometry = geometry
        self._most_loss = most_loss
        self._known: dict[Cell, Ways] = {}

    def at(self, cell: Cell) -> list[Hop]:
        """The hops to the part in a cell; of what hands on items those that lead from it, too."""
        geometry = self._geometry
        kind = PARTS[geometry.parts[cell].kind]
        found: list[Hop] = []
        if kind.hears:
            fan_in = geometry.fan_in(cell)
            found += self._to(cell, "rear" if kind.hears == "back" else "power", fan_in.power)
            found += self._to(cell, "flank", fan_in.flank)
            found += self._to(cell, "lock", fan_in.lock)
            if fan_in.container is not None:
                found.append(Hop(fan_in.container[0], cell, "container", 0))
        elif kind.behaviour == "sensor":
            seen = watched_cell(geometry, cell)
            found += self._to(cell, "watch", [seen] if geometry.kind(seen) is not None else [])
        if kind.behaviour == "hopper":
            goal, above = geometry.hopper_ends(cell)
            found += [Hop(cell, goal, "container", 0)] if geometry.capacity(goal) else []
            found += [Hop(above, cell, "container", 0)] if geometry.capacity(above) else []
        elif kind.behaviour == "ejector":
            front = beside(cell, str(geometry.parts[cell].facing))
            while geometry.kind(front) is None and front[2] >= 0:
                front = beside(front, "down")
            if geometry.capacity(front) or geometry.kind(front) in PLATES:
                found.append(Hop(cell, front, "container", 0))
        return found

    def _to(self, target: Cell, port: str, sources: Iterable[Cell]) -> Iterable[Hop]:
        best: dict[Cell, Hop] = {}
        for source in sorted(sources, key=zyx):
            if not self._geometry.is_wire(source):
                best[source] = Hop(source, target, port, 0)
                continue
            if source not in self._known:
                self._known[source] = drivers(self._geometry, source, self._most_loss)
            for driver, (loss, wires) in self._known[source].items():
                if driver not in best or loss < best[driver].loss:
                    best[driver] = Hop(driver, target, port, loss, wires)
        return best.values()


def hops(geometry: Geometry) -> list[Hop]:
    """Every hop of the plan, in (z, y, x) order of what hears."""
    reader = _Reader(geometry)
    return [hop for cell in sorted(geometry.parts, key=zyx) for hop in reader.at(cell)]


def loop_through(rules: RuleSet, geometry: Geometry, cell: Cell) -> Loop | None:
    """The loop of two or more parts through a cell in which a level of 15 comes round; None if there is none."""
    reader = _Reader(geometry, rules.wire.top_level - 1)
    feeding: list[Hop] = []
    behind = {cell}
    queue = [cell]
    for here in queue:
        for hop in reader.at(here) if here in geometry.parts else ():
            if hop.target == here and hop.port == "rear" and geometry.behaviour(hop.source) in FEEDING:
                feeding.append(hop)
                if hop.source not in behind:
                    behind.add(hop.source)
                    queue.append(hop.source)
    found = loops(rules, geometry, feeding)
    return next((ring for ring in found if cell in ring.parts and len(ring.parts) > 1 and ring.closes), None)


def delay_steps(rules: RuleSet, geometry: Geometry, cell: Cell) -> int:
    """How long the part takes from its input to its output."""
    part = geometry.parts[cell]
    return rules.delay_steps(part) if PARTS[part.kind].behaviour in ("repeater", "comparator", "torch") else 0


@dataclass(frozen=True, slots=True)
class Loop:
    """Parts that feed one another's rear in a ring, begun at its first cell in (z, y, x) order.

    One turn takes `turn_steps` and costs `loss` levels; `restores` is whether a repeater in it gives 15 anew, so that
    the loss is that of its longest stretch between repeaters. `mean` is the max-plus mean: levels gained a step.
    """

    hops: tuple[Hop, ...]
    turn_steps: int
    loss: int
    restores: bool
    top_level: int

    @property
    def parts(self) -> tuple[Cell, ...]:
        """The cells of its parts, in the order of the signal."""
        return tuple(hop.source for hop in self.hops)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """All its cells, parts and wires, in the order of the signal."""
        return tuple(cell for hop in self.hops for cell in (hop.source, *hop.wires))

    @property
    def closes(self) -> bool:
        """Whether a level of 15 comes round at all."""
        return self.loss < self.top_level

    @property
    def mean(self) -> Fraction:
        """The max-plus mean of the loop in levels a step: 0 if nothing is lost, or if a repeater restores the level."""
        lost = 0 if self.restores and self.closes else self.loss
        return Fraction(-lost, self.turn_steps)


def loops(rules: RuleSet, geometry: Geometry, all_hops: Iterable[Hop]) -> list[Loop]:
    """The loops of repeaters and comparators: of parts that all feed one another, the one that fades slowest.

    A torch in the ring turns the signal over: such rings are clocks or latches, and are left out.
    """
    feeding = [hop for hop in all_hops if hop.port == "rear" and geometry.behaviour(hop.source) in FEEDING]
    found: list[Loop] = []
    groups = _strong_groups(feeding)
    group_of = {cell: number for number, group in enumerate(groups) for cell in group}
    within: dict[int, list[Hop]] = {}
    for hop in feeding:
        if group_of[hop.source] == group_of[hop.target]:
            within.setdefault(group_of[hop.source], []).append(hop)
    for inside in within.values():
        by_pair = {(hop.source, hop.target): hop for hop in inside}
        ring = _only_way(inside)
        if not ring:
            best = max_cycle_ratio(_arcs(rules, geometry, inside))
            ring = [by_pair[arc.source, arc.target] for arc in best[1]] if best else []  # type: ignore[index]
        if not ring:
            continue
        start = min(range(len(ring)), key=lambda number: zyx(ring[number].source))
        ring = ring[start:] + ring[:start]
        restores = [number for number, hop in enumerate(ring) if geometry.kind(hop.source) in RESTORES]
        if restores:
            turned = ring[restores[0] :] + ring[: restores[0]]
            loss = longest = 0
            for hop in turned:
                loss = hop.loss if geometry.kind(hop.source) in RESTORES else loss + hop.loss
                longest = max(longest, loss)
        else:
            longest = sum(hop.loss for hop in ring)
        turn = sum(delay_steps(rules, geometry, hop.source) for hop in ring)
        found.append(Loop(tuple(ring), turn, longest, bool(restores), rules.wire.top_level))
    return sorted(found, key=lambda loop: zyx(loop.parts[0]))


def _arcs(rules: RuleSet, geometry: Geometry, inside: Iterable[Hop]) -> list[Arc]:
    """Hops as arcs: levels lost, and the time of the part that they leave."""
    return [Arc(hop.source, hop.target, -hop.loss, delay_steps(rules, geometry, hop.source)) for hop in inside]


def _only_way(inside: list[Hop]) -> list[Hop]:
    """The ring of a group in which one hop leads on from each part; empty if there are several ways."""
    onward = {hop.source: hop for hop in inside}
    if len(onward) != len(inside):
        return []
    ring = [inside[0]]
    while ring[-1].target != inside[0].source:
        ring.append(onward[ring[-1].target])
    return ring


def _strong_groups(edges: list[Hop]) -> list[set[Cell]]:
    """The groups of parts of which each reaches every other (Tarjan's way, without recursion)."""
    after: dict[Cell, list[Cell]] = {}
    for hop in edges:
        after.setdefault(hop.source, []).append(hop.target)
        after.setdefault(hop.target, [])
    number: dict[Cell, int] = {}
    low: dict[Cell, int] = {}
    stack: list[Cell] = []
    waiting: set[Cell] = set()
    groups: list[set[Cell]] = []
    for root, nexts in after.items():
        if root in number:
            continue
        work = [(root, iter(nexts))]
        number[root] = low[root] = len(number)
        stack.append(root)
        waiting.add(root)
        while work:
            cell, rest = work[-1]
            for other in rest:
                if other not in number:
                    number[other] = low[other] = len(number)
                    stack.append(other)
                    waiting.add(other)
                    work.append((other, iter(after[other])))
                    break
                if other in waiting:
                    low[cell] = min(low[cell], number[other])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[cell])
                if low[cell] == number[cell]:
                    group = set()
                    while cell not in group:
                        top = stack.pop()
                        waiting.discard(top)
                        group.add(top)
                    groups.append(group)
    return groups


def replaceable_wires(geometry: Geometry, way: Iterable[Cell]) -> list[tuple[Cell, str]]:
    """The wires on a way that a repeater or comparator may take the place of, with the direction of the signal there.

    The way passes straight through them, and nothing joins them from the side.
    """
    cells = list(way)
    return [
        (here, side)
        for before, here, after in zip(cells, cells[1:], cells[2:], strict=False)
        for side in HORIZONTAL
        if beside(here, side) == after
        and beside(here, OPPOSITE[side]) == before
        and geometry.is_wire(here)
        and not any(is_joined(geometry, here, flank) for flank in FLANKS[side])
    ]


def hops_to(geometry: Geometry, cell: Cell) -> list[Hop]:
    """The hops that end at a wire or a block, which hears but does not act."""
    sources = [cell] if geometry.is_wire(cell) else sorted(geometry.block_sources(cell), key=zyx)
    best: dict[Cell, Hop] = {}
    for source in sources:
        ways = drivers(geometry, source) if geometry.is_wire(source) else {source: (0, ())}
        for driver, (loss, wires) in ways.items():
            if driver not in best or loss < best[driver].loss:
                best[driver] = Hop(driver, cell, "power", loss, wires)
    return list(best.values())


def reached(out_of: Mapping[Cell, Iterable[Hop]], starts: Iterable[Cell], until: Collection[Cell] = ()) -> set[Cell]:
    """Every part that a change at the starts may come to, the starts included; no more once one of `until` is."""
    seen = set(starts)
    queue = list(seen)
    for here in queue:
        for hop in out_of.get(here, ()):
            if hop.target not in seen:
                seen.add(hop.target)
                queue.append(hop.target)
                if hop.target in until:
                    return seen
    return seen
