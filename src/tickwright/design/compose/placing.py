"""Placing and routing a network, with its timing closed: attempts in larger rooms until one is right."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import ceil, sqrt
from random import Random
from time import monotonic
from typing import NamedTuple

from tickwright.design.compose.closing import Closed, close
from tickwright.design.compose.network import Network
from tickwright.layout.laying import route
from tickwright.layout.model import Instance, Layout, Net
from tickwright.layout.placing import WAYS, Annealing, Chance
from tickwright.rules import RuleSet
from tickwright.space import Cell

HEIGHT = 6
MARGIN = 2  # cells of ground round each tile, for its nets, and the network's gap
FIRST_SPARE = 1.05
GROWTH = 1.12
TIGHT = 6  # steps to spare on the way to an input, below which the way must not be long
FAR = 10.0  # what each cell costs by which such a way is longer than its level reaches
HOP = 14  # cells that a repeater on the way adds to its reach
STRAIGHT = 0.8  # how much of its reach a way may take as the crow flies
ROUNDS = 24
PATIENCE = 7  # rounds without progress after which an attempt is given up
ANNEALINGS, MOVES = 2, 900  # the best of so many is routed; moves for each instance
MOST_ANNEALINGS = 8  # where ways that must be short are too long in all before
MOST_GROWN = 6  # how often a room grows


class NoPlace(Exception):
    """An instance that cannot lie where it must, whichever way it is turned; its name."""


class PythonChance(Chance):
    """Numbers at random as Python draws them."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self._random = Random(seed)

    def below(self, count: int) -> int:
        """A whole number from 0 to `count` - 1."""
        return self._random.randrange(count)

    def part(self) -> float:
        """A number from 0 to 1, 1 left out."""
        return self._random.random()


class Places(Annealing):
    """Annealing that keeps what must lie in a cell within the room, and all off the cells that are blocked."""

    in_c = False

    def drawn(self, seed: int) -> Chance:
        """By Python's own generator, so that a brief and a seed go on giving the plan that they gave before."""
        return PythonChance(seed)

    def __init__(
        self, instances: Sequence[Instance], nets: Mapping[str, Net], room: Cell, network: Network,
        blocked: Sequence[Cell], seed: int,
    ) -> None:  # fmt: skip
        self.allowed: dict[str, list[int]] = {}
        tiles = {one.name: one.tile for one in instances}
        self.far: dict[int, int] = {}  # of nets with such ways: by how many cells they are too long
        self.reach = [_reaches(net, tiles[net.driver.instance].ports[net.driver.port].gives) for net in nets.values()]
        for one in instances:
            pin = network.pins.get(one.name)
            if isinstance(pin, tuple):
                ways = [place for place, way in enumerate(WAYS) if _inside(one, pin, way, room, blocked)]
                if not ways:
                    raise NoPlace(one.name)
                self.allowed[one.name] = ways
        super().__init__(instances, nets, room, network.pins, seed, network.gap)
        for number, one in enumerate(instances):
            kept = self.allowed.get(one.name)
            if kept:
                old = self.shapes[number]
                self._mark(number, -1)
                self.shapes[number] = [old[kept[place % len(kept)]] for place in range(len(WAYS))]
                self._mark(number, 1)
        for x, y, z in blocked:
            if z < HEIGHT:
                self.count[y * (room[0] + 2) + x] += 1
        self.length = [self._net_length(number) for number in range(len(self.nets))]
        self.overlap = sum(here - 1 for here in self.count if here > 1)

    def _net_length(self, number: int) -> float:
        """The length of a net, and far more for each cell by which a way that must be short is too long."""
        reach = self.reach[number]
        if reach is None:
            return super()._net_length(number)
        cells: list[tuple[int, int]] = []
        for one, port in self.nets[number]:
            x, y = self.shapes[one][self.way[one]].ports[port]
            cells.append((self.at[one][0] + x, self.at[one][1] + y))
        x0, y0 = cells[0]
        xs, ys = zip(*cells, strict=True)
        far = sum(
            max(0, abs(x - x0) + abs(y - y0) - most) for (x, y), most in zip(cells[1:], reach, strict=True)
        )  # fmt: skip
        self.far[number] = far
        return float(max(xs) - min(xs) + max(ys) - min(ys)) + FAR * far

    def too_far(self) -> int:
        """By how many cells ways that must be short are too long."""
        for number in self.far:
            self._net_length(number)
        return sum(self.far.values())

    def placed(self) -> list[Instance]:
        """The instances where they lie, turned as they may be."""
        found = []
        for number, one in enumerate(super().placed()):
            ways = self.allowed.get(one.name)
            turn, mirror = WAYS[ways[self.way[number] % len(ways)]] if ways else (one.turn, one.mirror)
            found.append(replace(one, turn=turn, mirror=mirror))
        return found


def _reaches(net: Net, gives: int) -> tuple[int, ...] | None:
    """How far each sink may lie from the driver, in cells; None if none of them is tight."""
    if all(sink.most_steps is None or sink.most_steps > TIGHT for sink in net.sinks):
        return None
    return tuple(
        10**6 if sink.most_steps is None else int((gives - 1 + sink.most_steps // 2 * HOP) * STRAIGHT)
        for sink in net.sinks
    )


def _inside(one: Instance, pin: Cell, way: tuple[int, bool], room: Cell, blocked: Sequence[Cell]) -> bool:
    laid = replace(one, at=pin, turn=way[0], mirror=way[1])
    cells = [cell for cell, _ in laid.cells()]
    cells += [cell for name in one.tile.ports for cell in laid.port(name).access]
    within = all(0 <= here < most for cell in cells for here, most in zip(cell, room, strict=True))
    return within and not set(cells) & set(blocked)


class Laid(NamedTuple):
    """A layout with its timing closed; `wrong` says what is not right yet (nothing: it is done)."""

    layout: Layout
    closed: Closed
    wrong: tuple[str, ...]


Progress = Callable[[str], bool]  # told what is being done; True stops


def place_network(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None,
    blocked: Sequence[Cell],
    seed: int,
    deadline: float,
    progress: Progress,
    tries: int = 40,
) -> Laid | None:
    """Attempts until one is right, the deadline passes or `progress` stops them: the best; None if there was none."""
    instances = [Instance(name, made.tile) for name, made in network.made.items()]
    nets = network.nets()
    best: Laid | None = None
    size = room or _first_size(instances, network)
    for attempt in range(tries):
        text = f"placing, attempt {attempt + 1}, {size[0]} x {size[1]} cells of ground"
        if progress(text) or monotonic() > deadline:
            break
        laid = _attempt(network, instances, nets, size, blocked, rules, seed * 1000 + attempt, deadline, progress, text)
        if best is None or len(laid.wrong) < len(best.wrong):
            best = laid
        if not laid.wrong:
            break
        if room is None and attempt % 2 and attempt < 2 * MOST_GROWN:
            size = (ceil(size[0] * GROWTH), ceil(size[1] * GROWTH), size[2])
    return best


def _attempt(
    network: Network,
    instances: Sequence[Instance],
    nets: Mapping[str, Net],
    size: Cell,
    blocked: Sequence[Cell],
    rules: Sequence[RuleSet],
    seed: int,
    deadline: float,
    progress: Progress,
    text: str,
) -> Laid:
    best: tuple[float, Places] | None = None
    for again in range(MOST_ANNEALINGS):
        annealing = Places(instances, nets, size, network, blocked, seed * MOST_ANNEALINGS + again)
        cost = annealing.run(MOVES)
        if best is None or cost < best[0]:
            best = (cost, annealing)
        if again + 1 >= ANNEALINGS and not best[1].too_far():
            break
        if progress(f"{text}, annealed") or monotonic() > deadline:
            break
    assert best is not None
    fewest, since = 10**9, 0

    def told(_round: int, unrouted: int) -> bool:
        nonlocal fewest, since
        fewest, since = (unrouted, 0) if unrouted < fewest else (fewest, since + 1)
        stop = progress(f"{text}, {unrouted} nets to route") or monotonic() > deadline
        return not stop and since < PATIENCE

    layout = route(best[1].placed(), nets, size, blocked, rules, told, ROUNDS)
    if layout.unrouted:
        return Laid(layout, Closed({}, ()), layout.unrouted + layout.faults)
    closed = close(network, layout.delays)
    misfits = tuple(
        f"{one.instance}.{one.port}: {one.asked} steps, not {one.least} to {one.most}" for one in closed.misfits
    )
    return Laid(layout, closed, layout.faults + misfits)


def _first_size(instances: Sequence[Instance], network: Network) -> Cell:
    area = wide = deep = 0
    for one in instances:
        low, high = one.tile.box
        margin = MARGIN + network.gap
        area += (high[0] - low[0] + 1 + margin) * (high[1] - low[1] + 1 + margin)
        wide = max(wide, min(high[0] - low[0], high[1] - low[1]) + 4)
    side = max(ceil(sqrt(area * FIRST_SPARE)), wide) + 2
    for place in network.pins.values():
        if isinstance(place, tuple):
            wide, deep = max(wide, place[0] + 3), max(deep, place[1] + 3)
    return (max(side, wide), max(side, deep), HEIGHT)
