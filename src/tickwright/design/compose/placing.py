"""Placing and routing a network, with its timing closed: attempts in larger rooms until one is right."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import ceil, floor, sqrt
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
MARGIN = 2  # cells of ground round each tile, for its nets, and the network's gap
FIRST_SPARE = 1.05
GROWTH = 1.12
TIGHT = 6  # steps to spare on the way to an input, below which the way must not be long
HOP = 14  # cells that a repeater on the way adds to its reach
STRAIGHT = 0.8  # how much of its reach a way may take as the crow flies
ROUNDS = 24
PATIENCE = 7  # rounds without progress after which an attempt is given up
ANNEALINGS, MOVES = 3, 4000  # the best of so many is routed; moves for each instance
MOST_ANNEALINGS = 8  # where ways that must be short are too long in all before
MOST_GROWN = 6  # how often a room grows
TIGHTER, LEAST_TRIES = 0.93, 3  # of a room that a layout is laid in anew; so often in vain before it is given up


class NoPlace(Exception):
    """An instance that cannot lie where it must, whichever way it is turned; its name."""


def places_for(
    instances: Sequence[Instance], nets: Mapping[str, Net], room: Cell, network: Network, blocked: Sequence[Cell],
    seed: int,
) -> Annealing:  # fmt: skip
    """Places to be bettered: what must lie in a cell turned so that it is in the room, all off the blocked ground."""
    ways: dict[str, list[int]] = {}
    for one in instances:
        pin = network.pins.get(one.name)
        if isinstance(pin, tuple):
            ways[one.name] = [place for place, way in enumerate(WAYS) if _inside(one, pin, way, room, blocked)]
            if not ways[one.name]:
                raise NoPlace(one.name)
    tiles = {one.name: one.tile for one in instances}
    reach = {
        name: far
        for name, net in nets.items()
        if (far := _reaches(net, tiles[net.driver.instance].ports[net.driver.port].gives)) is not None
    }
    ground = {(x, y) for x, y, z in blocked if z < HEIGHT}
    return Annealing(
        instances, nets, room, network.pins, seed, network.gap, ways=ways, reach=reach, blocked=sorted(ground)
    )


def _reaches(net: Net, gives: int) -> tuple[int | None, ...] | None:
    """How far each sink may lie from the driver, in cells; None if none of them is tight."""
    if all(sink.most_steps is None or sink.most_steps > TIGHT for sink in net.sinks):
        return None
    return tuple(
        None if sink.most_steps is None else int((gives - 1 + sink.most_steps // 2 * HOP) * STRAIGHT)
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
    """Attempts until one is right, the deadline passes or `progress` stops them: the best; None if there was none.

    Without a room, smaller ones are tried then, until several in a row are too small.
    """
    instances = [Instance(name, made.tile) for name, made in network.made.items()]
    nets = network.nets()
    best: Laid | None = None
    size = room or _first_size(instances, network)
    failed = 0
    for attempt in range(tries):
        text = f"placing, attempt {attempt + 1}, {size[0]} x {size[1]} cells of ground{_so_far(best)}"
        if progress(text) or monotonic() > deadline:
            break
        laid = _attempt(network, instances, nets, size, blocked, rules, seed * 1000 + attempt, deadline, progress, text)
        if best is None or _rank(laid) < _rank(best):
            best, failed = laid, 0
        else:
            failed += 1
        if not best.wrong:
            if room is not None or failed == LEAST_TRIES:
                break
            size = _tighter(best, network)
        elif room is None and attempt % 2 and attempt < 2 * MOST_GROWN:
            size = (ceil(size[0] * GROWTH), ceil(size[1] * GROWTH), size[2])
    return best


def _so_far(best: Laid | None) -> str:
    """What the best attempt until now came to, for the progress that is told."""
    if best is None:
        return ""
    x, y, _ = best.layout.plan.size
    return f" (best so far: {len(best.wrong)} to mend)" if best.wrong else f" (best so far: {x} x {y})"


def _rank(laid: Laid) -> tuple[int, int]:
    x, y, _ = laid.layout.plan.size
    return len(laid.wrong), 0 if laid.wrong else x * y


def _tighter(laid: Laid, network: Network) -> Cell:
    """A room smaller than what was laid, in which all still lies that must lie in a cell."""
    x, y, _ = laid.layout.plan.size
    wide, deep = floor(x * TIGHTER), floor(y * TIGHTER)
    for place in network.pins.values():
        if isinstance(place, tuple):
            wide, deep = max(wide, place[0] + 3), max(deep, place[1] + 3)
    return (wide, deep, HEIGHT)


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
    best: tuple[float, Annealing] | None = None
    for again in range(MOST_ANNEALINGS):
        annealing = places_for(instances, nets, size, network, blocked, seed * MOST_ANNEALINGS + again)
        cost = annealing.run(MOVES)
        if best is None or cost < best[0]:
            best = (cost, annealing)
        if again + 1 >= ANNEALINGS and not best[1].too_far():
            break
        if progress(f"{text}, places tried") or monotonic() > deadline:
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
