"""Laying: places, routes and acceptance in one; larger rooms until all is routed, then smaller ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import ceil, floor, sqrt
from time import monotonic
from typing import NamedTuple

from tickwright.errors import UsageError
from tickwright.kinds import Part
from tickwright.layout.ground import Ground
from tickwright.layout.hearing import Laid, hearing_faults
from tickwright.layout.model import Instance, Layout, Net
from tickwright.layout.placing import Annealing
from tickwright.layout.quick import router_of
from tickwright.layout.routing import REPEATER_STEPS, Goal, Router, Task
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell

ROUNDS = 60
PATIENCE = 6  # rounds without progress after which a try is given up
TRIES = 60
MOVES_EACH = 4000  # of annealing, for each instance
STOREYS = 6
GROWTH = 1.15  # along x and y, where nothing has been laid yet
TIGHTER = 0.95  # along x and y, once something has been laid
LOOSE = 2  # once one has come through, every so many tries tiles have a way between them; in the others they lie close
AGAIN = 5  # annealings more where tiles are in each other's way
FAILURES = 9  # tries in a row that better nothing, after which it ends


class Told(NamedTuple):
    """Progress: which try it is, in which room, how many nets are not routed yet, and the best so far.

    `box` is that of the best exact layout so far, while boxes are tried by the exact search.
    """

    attempt: int
    room: Cell
    unrouted: int
    best: Layout | None
    box: Cell | None = None


Progress = Callable[[Told], bool | None]  # True ends the work; the best so far is kept


def lay(
    instances: Sequence[Instance],
    nets: Mapping[str, Net],
    room: Cell | None = None,
    pins: Mapping[str, Cell | str] | None = None,
    seed: int = 0,
    minutes: float | None = None,
    progress: Progress | None = None,
    blocked: Sequence[Cell] = (),
    rules: Sequence[RuleSet] | None = None,
    tries: int = TRIES,
) -> Layout:
    """Place the instances, route the nets, accept: the smallest layout found, or the best attempt (`done` is False).

    `pins` names instances that must lie at a place (where their own cell comes to lie) or along a side ("west"); all
    others may go anywhere. Without a `room` it is as small as can be found. With one, a layout that is done lies in it;
    the `faults` of a best attempt name what does not. The number of tries decides, not the clock, unless `minutes` or
    `progress` end it sooner: so the same seed gives the same plan.
    """
    rulesets = tuple(rules or (load_rules(),))
    deadline = monotonic() + 60 * minutes if minutes is not None else None
    best: Layout | None = None
    size = room or _first_room(instances)
    _check(instances, nets, size, pins or {})
    crop = room is None and not any(isinstance(pin, tuple) for pin in (pins or {}).values())
    failures = 0
    for attempt in range(tries):
        watch = _Watch(progress, deadline, size, best, attempt)
        gap = 0 if best is not None and best.done and attempt % LOOSE else 1
        layout = _attempt(instances, nets, size, pins or {}, seed * 1000 + attempt, gap, blocked, rulesets, watch)
        layout = _cropped(layout) if crop else layout if room is None else _within(layout, room)
        better = best is None or _rank(layout) < _rank(best)
        best = layout if best is None or better else best
        failures = 0 if better else failures + 1
        if watch.stopped or (best.done and (room is not None or failures >= FAILURES)):
            return replace(best, seed=seed, stopped=watch.stopped)
        if room is None:
            size = _next_room(size, best, failures)
    assert best is not None
    return replace(best, seed=seed)


def _attempt(
    instances: Sequence[Instance],
    nets: Mapping[str, Net],
    size: Cell,
    pins: Mapping[str, Cell | str],
    seed: int,
    gap: int,
    blocked: Sequence[Cell],
    rules: Sequence[RuleSet],
    watch: _Watch,
) -> Layout:
    """Anneal and route; where tiles are in each other's way they are annealed anew, those with a wider gap."""
    gaps: dict[str, int] = {}
    for again in range(AGAIN + 1):
        annealing = Annealing(instances, nets, size, pins, seed * (AGAIN + 1) + again, gap, gaps)
        annealing.run(MOVES_EACH, watch.going)
        strict = again < AGAIN
        layout = route(annealing.placed(), nets, size, blocked, rules, watch.told, going=watch.going, strict=strict)
        if not layout.blocked or watch.stopped:
            break
        for name, sink in layout.blocked:
            for who in (nets[name].driver.instance, sink):
                gaps[who] = gaps.get(who, gap) + 1
    return layout


class _Watch:
    """Passes progress on, and notes when the work is to end: the time is over, or who is told says so.

    A try is given up after PATIENCE rounds without progress.
    """

    def __init__(
        self, progress: Progress | None, deadline: float | None, room: Cell, best: Layout | None, attempt: int
    ) -> None:
        self.progress, self.deadline, self.room, self.best, self.attempt = progress, deadline, room, best, attempt
        self.stopped = False
        self.fewest, self.since = 1 << 30, 0
        self.unrouted = 0

    def going(self) -> bool:
        """Whether there is time left and nobody has ended it."""
        if self.progress is not None and not self.stopped:
            self.stopped = bool(self.progress(Told(self.attempt, self.room, self.unrouted, self.best)))
        self.stopped = self.stopped or (self.deadline is not None and monotonic() > self.deadline)
        return not self.stopped

    def told(self, _round: int, unrouted: int) -> bool:
        """Tell of a round; whether to go on."""
        self.unrouted = unrouted
        self.fewest, self.since = (unrouted, 0) if unrouted < self.fewest else (self.fewest, self.since + 1)
        return self.going() and self.since < PATIENCE


def _rank(layout: Layout) -> tuple[int, int, int]:
    x, y, z = layout.box
    return (len(layout.faults) + len(layout.unrouted), x * y * z, len(layout.plan.cells))


def _within(layout: Layout, room: Cell) -> Layout:
    """The layout, with a fault that names the tiles that are not wholly in the room, if there are any."""
    outside = [
        name
        for name, one in layout.instances.items()
        if any(not 0 <= here < most for cell, _ in one.cells() for here, most in zip(cell, room, strict=True))
    ]
    if not outside:
        return layout
    told = f"Not wholly in the room of {'x'.join(map(str, room))} cells: {', '.join(outside)}."
    return replace(layout, faults=(told, *layout.faults))


def _first_room(instances: Sequence[Instance]) -> Cell:
    area = 0
    for one in instances:
        low, high = one.tile.box
        area += (high[0] - low[0] + 4) * (high[1] - low[1] + 4)
    side = ceil(sqrt(area)) + 4
    tall = max((one.tile.box[1][2] - one.tile.box[0][2] + 1 for one in instances), default=1)
    return (side, side, max(STOREYS, tall + 1))


def _next_room(size: Cell, best: Layout, failures: int) -> Cell:
    """A larger room where nothing has been laid yet, else one a bit smaller than the best; less so after failures."""
    if not best.done:
        return (ceil(size[0] * GROWTH), ceil(size[1] * GROWTH), min(size[2] + 1, 9))
    scale = min(TIGHTER + 0.01 * (failures // 2), 0.99)
    x, y, _ = best.box
    return (max(floor(x * scale), 3), max(floor(y * scale), 3), size[2])


def route(
    placed: Sequence[Instance],
    nets: Mapping[str, Net],
    room: Cell,
    blocked: Sequence[Cell] = (),
    rules: Sequence[RuleSet] | None = None,
    told: Callable[[int, int], bool] | None = None,
    rounds: int = ROUNDS,
    going: Callable[[], bool] | None = None,
    strict: bool = False,
) -> Layout:
    """Route the nets between instances that lie where they lie, and accept what comes of it.

    A `strict` one ends at once where a sink has no way, with these sinks as `blocked`.
    """
    rulesets = tuple(rules or (load_rules(),))
    ground = Ground(room, blocked)
    names = list(nets)
    number_of = {
        (pin.instance, pin.port): number
        for number, name in enumerate(names, 1)
        for pin in (nets[name].driver, *nets[name].sinks)
    }
    ground.lay(placed, number_of)
    by_name = {instance.name: instance for instance in placed}
    tasks = [_task(ground, by_name, number, nets[name]) for number, name in enumerate(names, 1)]
    router = router_of(ground, tasks, max(one.wire.loss for one in rulesets))
    done = router.route(rounds, told, going, strict)
    blocked_sinks = () if done else _blocked(router, nets)
    if not done:
        router.drop_conflicts()
    layout = _result(placed, nets, ground, router, rulesets)
    return replace(layout, blocked=blocked_sinks)


def _blocked(router: Router, nets: Mapping[str, Net]) -> tuple[tuple[str, str], ...]:
    """(net, instance) of each sink that no way leads to, whatever nets may share."""
    return tuple(
        (name, sink.instance)
        for number, (name, net) in enumerate(nets.items(), 1)
        for sink in net.sinks
        if f"{sink.instance}.{sink.port}" in router.trees[number].missing
    )


def _check(instances: Sequence[Instance], nets: Mapping[str, Net], room: Cell, pins: Mapping[str, Cell | str]) -> None:
    known = {instance.name: instance for instance in instances}
    if len(known) < len(instances):
        raise UsageError("Two instances have one name: give each a name of its own.")
    for name, net in nets.items():
        for pin, role in ((net.driver, "out"), *((sink, "in") for sink in net.sinks)):
            port = known[pin.instance].tile.ports.get(pin.port) if pin.instance in known else None
            if port is None or port.role != role:
                raise UsageError(
                    f'The net "{name}" names {pin.instance}.{pin.port}, which is no port with role {role}.'
                )
    for name in pins:
        if name not in known:
            raise UsageError(f'There is no "{name}" to pin: there are {", ".join(known)}.')
    if any(size < 1 for size in room):
        raise UsageError("The room has no cells: give it at least one along each of x, y and z.")


def _task(ground: Ground, by_name: Mapping[str, Instance], number: int, net: Net) -> Task:
    port = by_name[net.driver.instance].port(net.driver.port)
    starts = tuple(ground.number(cell) for cell in port.access if ground.inside(cell) and cell[2] >= 1)
    goals = []
    for sink in net.sinks:
        there = by_name[sink.instance].port(sink.port)
        cells = tuple(ground.number(cell) for cell in there.access if ground.inside(cell) and cell[2] >= 1)
        most = 10_000 if sink.most_steps is None else sink.most_steps // REPEATER_STEPS
        goals.append(Goal(f"{sink.instance}.{sink.port}", cells, max(there.need, sink.need), most))
    return Task(number, starts, port.gives, tuple(goals))


def _result(
    placed: Sequence[Instance], nets: Mapping[str, Net], ground: Ground, router: Router, rules: Sequence[RuleSet]
) -> Layout:
    cells: dict[Cell, Part] = {}
    for instance in placed:
        cells.update(instance.cells())
    net_cells: dict[str, tuple[Cell, ...]] = {}
    repeaters: dict[Cell, str] = {}
    delays: dict[tuple[str, str, str], int] = {}
    levels: dict[tuple[str, str, str], int] = {}
    unrouted: list[str] = []
    for number, (name, net) in enumerate(nets.items(), 1):
        tree = router.trees[number]
        own = [ground.cell(here) for here in (*tree.claim.wires, *tree.claim.repeaters)]
        for here in tree.claim.wires:
            cells[ground.cell(here)] = Part("wire")
        for here, facing in tree.claim.repeaters.items():
            cells[ground.cell(here)] = Part("repeater", facing)
            repeaters[ground.cell(here)] = name
        for x, y, z in own:
            cells.setdefault((x, y, z - 1), Part("block"))
        net_cells[name] = tuple(sorted(own))
        for sink in net.sinks:
            key = f"{sink.instance}.{sink.port}"
            if key in tree.met:
                spot = tree.spots[tree.met[key]]
                delays[name, sink.instance, sink.port] = spot.repeaters * REPEATER_STEPS
                levels[name, sink.instance, sink.port] = spot.level
        missing = set(tree.missing)
        unrouted += [
            f"{name} -> {sink.instance}.{sink.port}" for sink in net.sinks if f"{sink.instance}.{sink.port}" in missing
        ]
    plan = Plan(cells)
    faults: tuple[str, ...] = ()
    if not unrouted:
        laid = Laid(plan, placed, nets, repeaters)
        faults = tuple(dict.fromkeys(fault for one in rules for fault in hearing_faults(laid, one)))
    return Layout(plan, {one.name: one for one in placed}, net_cells, delays, levels, tuple(unrouted), faults)


def shifted(layout: Layout, offset: Cell) -> Layout:
    """The layout moved by so many cells."""

    def there(cell: Cell) -> Cell:
        return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])

    return replace(
        layout,
        plan=Plan({there(cell): part for cell, part in layout.plan.cells.items()}),
        instances={name: replace(one, at=there(one.at)) for name, one in layout.instances.items()},
        cells={name: tuple(map(there, cells)) for name, cells in layout.cells.items()},
    )


def _cropped(layout: Layout) -> Layout:
    x, y, z = (min(axis) for axis in zip(*layout.plan.cells, strict=True))
    return shifted(layout, (-x, -y, -z))
