"""Places: simulated annealing over where each tile lies and how it is turned; cost is wire length and overlap."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from math import exp
from typing import NamedTuple

from tickwright.engine.native import is_installed
from tickwright.engine.native.routes import Ground, anneal
from tickwright.layout.model import Instance, Net, Tile, moved, turned_side
from tickwright.space import OPPOSITE, Cell

WHOLE = (1 << 64) - 1
SIDES = {"west": 2, "north": 3, "east": 4, "south": 5}  # as C numbers them; 0 is anywhere, 1 a place
WAYS = tuple((turn, mirror) for mirror in (False, True) for turn in (0, 90, 180, 270))
OVERLAP = 12.0
FAR = 10  # what each cell costs by which a way that must be short is too long
COLD = 0.08
MOVES_EACH = 500
MOVES_AT_ONCE = 200_000  # in C, between two looks at the time
PYTHON_AT_ONCE = 5_000


class Chance:
    """Numbers at random from a seed, the same in Python and in C (splitmix64: Steele, Lea and Flood 2014, from memory).

    >>> Chance(1).below(10), Chance(1).below(10)
    (5, 5)
    """

    def __init__(self, seed: int) -> None:
        self.state = seed & WHOLE

    def _next(self) -> int:
        self.state = self.state + 0x9E3779B97F4A7C15 & WHOLE
        z = self.state
        z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9 & WHOLE
        z = (z ^ z >> 27) * 0x94D049BB133111EB & WHOLE
        return z ^ z >> 31

    def below(self, count: int) -> int:
        """A whole number from 0 to `count` - 1."""
        return (self._next() >> 33) * count >> 31

    def part(self) -> float:
        """A number from 0 to 1, 1 left out."""
        return (self._next() >> 11) * 2.0**-53


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
    Tiles lie `gap` cells from what is east and south of them; `gaps` says so for instances by name. `ways` names, of
    instances by name, the places in WAYS in which they may lie. `reach` says of a net by name how many cells each of
    its sinks may lie from its driver, None as many as it likes. Nothing should lie on the `blocked` ground.
    """

    in_c = True  # where the library is installed

    def __init__(
        self,
        instances: Sequence[Instance],
        nets: Mapping[str, Net],
        room: Cell,
        fixed: Mapping[str, Cell | str],
        seed: int,
        gap: int = 1,
        gaps: Mapping[str, int] | None = None,
        ways: Mapping[str, Sequence[int]] | None = None,
        reach: Mapping[str, Sequence[int | None]] | None = None,
        blocked: Collection[tuple[int, int]] = (),
    ) -> None:
        self.chance = Chance(seed)
        self.instances = list(instances)
        self.room = room
        self.fixed = [fixed.get(instance.name) for instance in instances]
        self.ways = [
            list((ways or {}).get(one.name) or _ways(one.tile, fixed))
            for one, fixed in zip(instances, self.fixed, strict=True)
        ]
        self.shapes = [
            [shape(one.tile, turn, mirror, (gaps or {}).get(one.name, gap)) for turn, mirror in WAYS]
            for one in instances
        ]
        index = {one.name: number for number, one in enumerate(instances)}
        self.nets = [
            tuple((index[pin.instance], pin.port) for pin in (net.driver, *net.sinks)) for net in nets.values()
        ]
        self.reach = [
            tuple(-1 if most is None else most for most in (None, *(reach or {}).get(name, [None] * len(net.sinks))))
            for name, net in nets.items()
        ]
        self.taken = [(x, y) for x, y in dict.fromkeys(blocked) if 0 <= x <= room[0] + 1 and 0 <= y <= room[1] + 1]
        self.nets_of: list[list[int]] = [[] for _ in instances]
        for number, pins in enumerate(self.nets):
            for one in dict.fromkeys(one for one, _ in pins):
                self.nets_of[one].append(number)
        self.at: list[tuple[int, int]] = []
        self.way: list[int] = []
        for one in range(len(instances)):
            self.way.append(self.ways[one][self.chance.below(len(self.ways[one]))])
            self.at.append(self._somewhere(one, self.way[one], (0, 0), room[0] + room[1]))
        self.count: list[int] = []
        self.length: list[float] = []
        self.overlap = 0
        self._count_anew()

    def _somewhere(self, one: int, way: int, near: tuple[int, int], reach: int) -> tuple[int, int]:
        """A place in the room within so many cells of another; on its side, or just where it is fixed."""
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
        least = [max(lows[axis], min(near[axis] - reach, highs[axis])) for axis in (0, 1)]
        most = [min(highs[axis], max(near[axis] + reach, lows[axis])) for axis in (0, 1)]
        x, y = (least[axis] + self.chance.below(most[axis] - least[axis] + 1) for axis in (0, 1))
        return (x, y)

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
        xs, ys = self._pins(number)
        return max(xs) - min(xs) + max(ys) - min(ys) + FAR * self._far(number, xs, ys)

    def _far(self, number: int, xs: Sequence[int], ys: Sequence[int]) -> int:
        """By how many cells the pins of a net, which lie there, lie too far from the first."""
        apart = (abs(x - xs[0]) + abs(y - ys[0]) for x, y in zip(xs, ys, strict=True))
        return sum(max(0, far - most) for far, most in zip(apart, self.reach[number], strict=True) if most >= 0)

    def too_far(self) -> int:
        """By how many cells ways that must be short are too long."""
        return sum(self._far(number, *self._pins(number)) for number in range(len(self.nets)))

    def _pins(self, number: int) -> tuple[list[int], list[int]]:
        """Where the pins of a net lie: each x, each y."""
        xs, ys = [], []
        for one, port in self.nets[number]:
            x, y = self.shapes[one][self.way[one]].ports[port]
            xs.append(self.at[one][0] + x)
            ys.append(self.at[one][1] + y)
        return xs, ys

    def run(self, moves_each: int = MOVES_EACH, going: Callable[[], bool] | None = None) -> float:
        """Anneal; the cost that is left: wire length, and far more for each cell of overlap.

        `going` is asked now and then whether to go on.
        """
        if not self.instances:
            return 0.0
        moves = moves_each * len(self.instances)
        hot = max(4.0, sum(self.length) / max(len(self.nets), 1))
        quick = self.in_c and is_installed()
        step = MOVES_AT_ONCE if quick else PYTHON_AT_ONCE
        for first in range(0, moves, step):
            span = (first, min(first + step, moves), moves)
            if quick:
                self._in_c(span, hot)
            else:
                self._in_python(span, hot)
            if going is not None and not going():
                break
        return sum(self.length) + OVERLAP * self.overlap

    def _count_anew(self) -> None:
        self.count = [0] * ((self.room[0] + 2) * (self.room[1] + 2))
        for x, y in self.taken:
            self.count[y * (self.room[0] + 2) + x] += 1
        for one in range(len(self.instances)):
            self._mark(one, 1)
        self.length = [self._net_length(number) for number in range(len(self.nets))]
        self.overlap = sum(here - 1 for here in self.count if here > 1)

    def _in_python(self, span: tuple[int, int, int], hot: float) -> None:
        for move in range(span[0], span[1]):
            done = move / span[2]
            heat = hot * (COLD / hot) ** done
            reach = max(1, int((1 - done) * max(self.room[:2]) * 0.5))
            self._try(heat, reach, OVERLAP * (0.15 + done))

    def _in_c(self, span: tuple[int, int, int], hot: float) -> None:
        found = anneal(self._ground(), span, (hot, COLD), OVERLAP)
        self.at = list(zip(found.at[::2], found.at[1::2], strict=True))
        self.way, self.chance.state = found.way, found.state
        self._count_anew()

    def _ground(self) -> Ground:
        """All this as lists of numbers."""
        shapes: list[int] = []
        ports: list[int] = []
        first_port: list[dict[str, int]] = []
        for forms in self.shapes:
            first_port.append({name: len(ports) // 16 + place for place, name in enumerate(forms[0].ports)})
            shapes += [number for form in forms for number in (*form.low, *form.high)]
            ports += [number for name in forms[0].ports for form in forms for number in form.ports[name]]
        net_ends, pins, own_ends, own, way_ends, ways, fixed = [0], [], [0], [], [0], [], []
        for net in self.nets:
            pins += [number for one, port in net for number in (one, first_port[one][port])]
            net_ends.append(len(pins) // 2)
        for one, nets in enumerate(self.nets_of):
            own += nets
            own_ends.append(len(own))
            ways += self.ways[one]
            way_ends.append(len(ways))
            place = self.fixed[one]
            fixed += [1, *place[:2]] if isinstance(place, tuple) else [SIDES.get(place or "", 0), 0, 0]
        at = [number for place in self.at for number in place]
        reach = [most for net in self.reach for most in net]
        taken = [number for cell in self.taken for number in cell]
        return Ground(
            shapes, ports, net_ends, pins, own_ends, own, way_ends, ways, fixed, reach, taken, at, self.way,
            self.chance.state, self.room[:2], FAR,
        )  # fmt: skip

    def _try(self, heat: float, reach: int, weight: float) -> None:
        chance = self.chance
        one = chance.below(len(self.instances))
        kind = chance.part()
        changed = [one]
        if kind < 0.15 and len(self.instances) > 1:
            other = chance.below(len(self.instances))
            if other == one or self.fixed[one] is not None or self.fixed[other] is not None:
                return
            changed.append(other)
        old = [(who, self.at[who], self.way[who]) for who in changed]
        overlap = sum(self._mark(who, -1) for who in changed)
        if len(changed) == 2:
            self.at[one], self.at[changed[1]] = self.at[changed[1]], self.at[one]
            self.at = self._inside(self.at, changed)
        elif kind < 0.4:
            self.way[one] = self.ways[one][chance.below(len(self.ways[one]))]
            self.at[one] = self._somewhere(one, self.way[one], self.at[one], 0)
        else:
            self.at[one] = self._somewhere(one, self.way[one], self.at[one], reach)
        overlap += sum(self._mark(who, 1) for who in changed)
        touched = dict.fromkeys(net for who in changed for net in self.nets_of[who])
        lengths = {net: self._net_length(net) for net in touched}
        change = sum(lengths.values()) - sum(self.length[net] for net in touched) + weight * overlap
        if change <= 0 or chance.part() < exp(-change / heat):
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
