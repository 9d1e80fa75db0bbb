"""Places: simulated annealing over where each tile lies and how it is turned; cost is wire length and overlap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp
from random import Random
from typing import NamedTuple

from tickwright.layout.model import Instance, Net, Tile, moved, turned_side
from tickwright.space import OPPOSITE, Cell

WAYS = tuple((turn, mirror) for mirror in (False, True) for turn in (0, 90, 180, 270))
OVERLAP = 12.0
MOVES_EACH = 500


class Shape(NamedTuple):
    """A tile in one way of lying: the rectangle it keeps, around its own cell, and where its ports are met."""

    low: tuple[int, int]
    high: tuple[int, int]
    ports: Mapping[str, tuple[int, int]]


def shape(tile: Tile, turn: int, mirror: bool, gap: int) -> Shape:
    """The rectangle of all its cells, one more on each side where a net comes in, and `gap` more east and south."""
    corners = [moved(cell, (0, 0, 0), turn, mirror) for cell in tile.box]
    low = [min(c[axis] for c in corners) for axis in (0, 1)]
    high = [max(c[axis] for c in corners) for axis in (0, 1)]
    ports = {}
    for name, port in tile.ports.items():
        for cell in port.access:
            there = moved(cell, (0, 0, 0), turn, mirror)
            low = [min(low[axis], there[axis]) for axis in (0, 1)]
            high = [max(high[axis], there[axis]) for axis in (0, 1)]
        x, y, _ = moved(port.access[0], (0, 0, 0), turn, mirror)
        ports[name] = (x, y)
    return Shape((low[0], low[1]), (high[0] + gap, high[1] + gap), ports)


def _ways(tile: Tile, fixed: Cell | str | None) -> list[int]:
    """The ways a tile may lie: a line that keeps to a side turns its free end there, all else turns as it likes."""
    if not isinstance(fixed, str) or not tile.keep_outs:
        return list(range(len(WAYS)))
    port = next(iter(tile.ports.values()))
    return [number for number, way in enumerate(WAYS) if OPPOSITE[turned_side(port.side, *way)] == fixed]


class Annealing:
    """Where the tiles of a netlist lie in a room, bettered by random changes; the same seed gives the same places.

    `fixed` gives the places of instances that may turn but not move, or the side of the room that they keep to.
    """

    def __init__(
        self,
        instances: Sequence[Instance],
        nets: Mapping[str, Net],
        room: Cell,
        fixed: Mapping[str, Cell | str],
        seed: int,
        gap: int = 1,
    ) -> None:
        self.random = Random(seed)
        self.instances = list(instances)
        self.room = room
        self.fixed = [fixed.get(instance.name) for instance in instances]
        self.ways = [_ways(one.tile, fixed) for one, fixed in zip(instances, self.fixed, strict=True)]
        self.shapes = [[shape(one.tile, turn, mirror, gap) for turn, mirror in WAYS] for one in instances]
        index = {one.name: number for number, one in enumerate(instances)}
        self.nets = [
            tuple((index[pin.instance], pin.port) for pin in (net.driver, *net.sinks)) for net in nets.values()
        ]
        self.nets_of: list[list[int]] = [[] for _ in instances]
        for number, pins in enumerate(self.nets):
            for one in dict.fromkeys(one for one, _ in pins):
                self.nets_of[one].append(number)
        self.count = [0] * ((room[0] + 2) * (room[1] + 2))
        self.at: list[tuple[int, int]] = []
        self.way: list[int] = []
        for one in range(len(instances)):
            self.way.append(self.random.choice(self.ways[one]))
            self.at.append(self._somewhere(one, self.way[one]))
            self._mark(one, 1)
        self.length: list[float] = [self._net_length(number) for number in range(len(self.nets))]
        self.overlap = sum(here - 1 for here in self.count if here > 1)

    def _somewhere(self, one: int, way: int, near: tuple[int, int] | None = None, reach: int = 0) -> tuple[int, int]:
        """A place where it lies in the room: anywhere, or near a place; on its side, or just where it is fixed."""
        fixed = self.fixed[one]
        if isinstance(fixed, tuple):
            return (fixed[0], fixed[1])
        form = self.shapes[one][way]
        lows = [-form.low[axis] for axis in (0, 1)]
        highs = [max(self.room[axis] - form.high[axis], lows[axis]) for axis in (0, 1)]
        if isinstance(fixed, str):
            axis = 0 if fixed in ("east", "west") else 1
            if fixed in ("west", "north"):
                highs[axis] = lows[axis]
            else:
                lows[axis] = highs[axis]
        if near is not None:
            lows, highs = (
                [max(lows[axis], min(near[axis] - reach, highs[axis])) for axis in (0, 1)],
                [min(highs[axis], max(near[axis] + reach, lows[axis])) for axis in (0, 1)],
            )
        return self.random.randint(lows[0], highs[0]), self.random.randint(lows[1], highs[1])

    def _mark(self, one: int, sign: int) -> int:
        """Mark the rectangle of an instance; how much the overlap changes."""
        form, (x, y) = self.shapes[one][self.way[one]], self.at[one]
        wide, deep = self.room[0] + 2, self.room[1] + 2
        count, change = self.count, 0
        x0, x1 = max(x + form.low[0], 0), min(x + form.high[0], wide - 1)
        for row in range(max(y + form.low[1], 0), min(y + form.high[1], deep - 1) + 1):
            base = row * wide
            for here in range(base + x0, base + x1 + 1):
                if sign > 0:
                    change += count[here] > 0
                    count[here] += 1
                else:
                    count[here] -= 1
                    change -= count[here] > 0
        return change

    def _net_length(self, number: int) -> float:
        xs, ys = [], []
        for one, port in self.nets[number]:
            x, y = self.shapes[one][self.way[one]].ports[port]
            xs.append(self.at[one][0] + x)
            ys.append(self.at[one][1] + y)
        return max(xs) - min(xs) + max(ys) - min(ys)

    def run(self, moves_each: int = MOVES_EACH) -> float:
        """Anneal; the cost that is left: wire length, and far more for each cell of overlap."""
        if not self.instances:
            return 0.0
        moves = moves_each * len(self.instances)
        hot = max(4.0, (sum(self.length) / max(len(self.nets), 1)))
        cold = 0.08
        for move in range(moves):
            done = move / moves
            heat = hot * (cold / hot) ** done
            reach = max(1, int((1 - done) * max(self.room[:2]) * 0.5))
            self._try(heat, reach, OVERLAP * (0.15 + done))
        return sum(self.length) + OVERLAP * self.overlap

    def _try(self, heat: float, reach: int, weight: float) -> None:
        random = self.random
        one = random.randrange(len(self.instances))
        kind = random.random()
        changed = [one]
        if kind < 0.15 and len(self.instances) > 1:
            other = random.randrange(len(self.instances))
            if other == one or self.fixed[one] is not None or self.fixed[other] is not None:
                return
            changed.append(other)
        old = [(who, self.at[who], self.way[who]) for who in changed]
        overlap = sum(self._mark(who, -1) for who in changed)
        if len(changed) == 2:
            self.at[one], self.at[changed[1]] = self.at[changed[1]], self.at[one]
            self.at = self._inside(self.at, changed)
        elif kind < 0.4:
            self.way[one] = random.choice(self.ways[one])
            self.at[one] = self._somewhere(one, self.way[one], self.at[one], 0)
        else:
            self.at[one] = self._somewhere(one, self.way[one], self.at[one], reach)
        overlap += sum(self._mark(who, 1) for who in changed)
        touched = dict.fromkeys(net for who in changed for net in self.nets_of[who])
        lengths = {net: self._net_length(net) for net in touched}
        change = sum(lengths.values()) - sum(self.length[net] for net in touched) + weight * overlap
        if change <= 0 or random.random() < exp(-change / heat):
            for net, length in lengths.items():
                self.length[net] = length
            self.overlap += overlap
            return
        for who in changed:
            self._mark(who, -1)
        for who, at, way in old:
            self.at[who], self.way[who] = at, way
        for who in changed:
            self._mark(who, 1)

    def _inside(self, at: list[tuple[int, int]], changed: list[int]) -> list[tuple[int, int]]:
        for who in changed:
            at[who] = self._somewhere(who, self.way[who], at[who], 0)
        return at

    def placed(self) -> list[Instance]:
        """The instances where they lie now, on the ground unless fixed higher."""
        found = []
        for number, one in enumerate(self.instances):
            turn, mirror = WAYS[self.way[number]]
            fixed = self.fixed[number]
            z = fixed[2] if isinstance(fixed, tuple) else -one.tile.box[0][2]
            found.append(Instance(one.name, one.tile, (*self.at[number], z), turn, mirror))
        return found
