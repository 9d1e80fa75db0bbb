"""Placing and routing a network, with its timing closed: attempts in larger rooms until one is right."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import ceil, sqrt
from time import monotonic
from typing import NamedTuple

from tickwright.design.compose.closing import Closed, close
from tickwright.design.compose.network import Network
from tickwright.layout.laying import route
from tickwright.layout.model import Instance, Layout, Net
from tickwright.layout.placing import WAYS, Annealing
from tickwright.rules import RuleSet
from tickwright.space import Cell

HEIGHT = 6
MARGIN = 3  # cells of ground round each tile, for its nets
FIRST_SPARE = 1.05
GROWTH = 1.12
TIGHT, WEIGHT = 6, 3  # nets with so few steps to spare count so many times more
ROUNDS = 24
PATIENCE = 4  # rounds without progress after which an attempt is given up


class NoPlace(Exception):
    """An instance that cannot lie where it must, whichever way it is turned; its name."""


class Places(Annealing):
    """Annealing that keeps what must lie in a cell within the room, and all off the cells that are blocked."""

    def __init__(
        self, instances: Sequence[Instance], nets: Mapping[str, Net], room: Cell, network: Network,
        blocked: Sequence[Cell], seed: int,
    ) -> None:  # fmt: skip
        self.allowed: dict[str, list[int]] = {}
        for one in instances:
            pin = network.pins.get(one.name)
            if isinstance(pin, tuple):
                ways = [place for place, way in enumerate(WAYS) if _inside(one, pin, way, room, blocked)]
                if not ways:
                    raise NoPlace(one.name)
                self.allowed[one.name] = ways
        super().__init__(instances, nets, room, network.pins, seed, gap=1)
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

    def placed(self) -> list[Instance]:
        """The instances where they lie, turned as they may be."""
        found = []
        for number, one in enumerate(super().placed()):
            ways = self.allowed.get(one.name)
            turn, mirror = WAYS[ways[self.way[number] % len(ways)]] if ways else (one.turn, one.mirror)
            found.append(replace(one, turn=turn, mirror=mirror))
        return found


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
        if room is None and attempt % 2:
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
    weighted = dict(nets)
    for name, net in nets.items():
        budgets = [sink.most_steps for sink in net.sinks if sink.most_steps is not None]
        if budgets and min(budgets) <= TIGHT:
            weighted.update({f"{name}*{copy}": net for copy in range(WEIGHT)})
    annealing = Places(instances, weighted, size, network, blocked, seed)
    annealing.run(300)
    fewest, since = 10**9, 0

    def told(_round: int, unrouted: int) -> bool:
        nonlocal fewest, since
        fewest, since = (unrouted, 0) if unrouted < fewest else (fewest, since + 1)
        stop = progress(f"{text}, {unrouted} nets to route") or monotonic() > deadline
        return not stop and since < PATIENCE

    layout = route(annealing.placed(), nets, size, blocked, rules, told, ROUNDS)
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
        area += (high[0] - low[0] + 1 + MARGIN) * (high[1] - low[1] + 1 + MARGIN)
        wide = max(wide, min(high[0] - low[0], high[1] - low[1]) + 4)
    side = max(ceil(sqrt(area * FIRST_SPARE)), wide) + 2
    for place in network.pins.values():
        if isinstance(place, tuple):
            wide, deep = max(wide, place[0] + 3), max(deep, place[1] + 3)
    return (max(side, wide), max(side, deep), HEIGHT)
