"""A netlist placed: mapped, laid, accepted by hearing, played, timed; as a plan with the netlist's names."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Any

from tickwright.arguments import checked
from tickwright.errors import UsageError, near
from tickwright.layout.charting import charted
from tickwright.layout.computing import Exact, computes, given_tables, tables
from tickwright.layout.gates import LAMP, LEVER, LINE_IN, LINE_LEVER, LINE_OUT, Wanted, wanted
from tickwright.layout.judging import Judgement, judge
from tickwright.layout.labels import EDGED
from tickwright.layout.laying import TRIES, Progress, Told, lay
from tickwright.layout.model import Layout
from tickwright.layout.pruning import without_needless
from tickwright.layout.repeating import lay_kept, lay_repeated
from tickwright.layout.slices import repetition
from tickwright.layout.smallest import BUDGET_SECONDS, lay_exactly
from tickwright.layout.timing import arrivals
from tickwright.netlist import Network, map_network, plan_names
from tickwright.plan.model import Plan, PlanPort
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from tickwright.space import HORIZONTAL, Cell

MASTER, SLAVE = (1, 2, 1), (3, 2, 1)
DEFAULT_MINUTES = 5.0  # that it may take where nothing is said; most netlists end long before
FIRST_SHARE = 0.3  # of the minutes there are, before the exact search has its turn
LAST_SHARE = 0.8  # after which no other layout is begun; the rest is for judging
LEAST_SECONDS = 4.0  # that an exact search is begun with
FIRST_TRIES = 12
MOST_GATES = 16  # that an exact layout is tried for


@dataclass(frozen=True, slots=True)
class Placed:
    """What came of a netlist; `plan` is the best attempt where `placed` is False, and `reasons` say what it lacks."""

    plan: Plan
    names: Mapping[str, str]
    placed: bool
    judgement: Judgement | None
    least_period_steps: int | None
    unrouted: tuple[str, ...]
    reasons: tuple[str, ...]
    seed: int
    seconds: float
    stopped: bool = False
    way: str = "tiles"  # or "exact", or "row": one exact cell again and again

    def as_data(self) -> dict[str, Any]:
        """The result as JSON shows it, but for the names of files."""
        judged = self.judgement
        return {
            "seed": self.seed,
            "placed": self.placed,
            "way": self.way,
            "parts": len(self.plan.cells),
            "box": list(self.plan.size),
            "vectors": judged.vectors if judged else 0,
            "wrong": judged.wrong if judged else 0,
            "complete": bool(judged and judged.complete),
            "settle_steps": judged.settle_steps if judged else None,
            "least_period_steps": self.least_period_steps,
            "unrouted": list(self.unrouted),
            "reasons": list(self.reasons),
            "names": dict(self.names),
            "seconds": round(self.seconds, 1),
        }


@checked
def place_network(
    network: Network,
    room: Cell | None = None,
    pins: Mapping[str, Cell | str] | None = None,
    lines: bool = False,
    seed: int = 0,
    minutes: float | None = None,
    rules: Sequence[RuleSet] | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
) -> Placed:
    """Place a netlist: the best plan found, shown as placed only if all that acceptance asks for holds.

    `pins` gives a cell or a side ("west") to inputs and outputs, by their names in the netlist or in the plan. Raises
    UsageError for a pin that names nothing. The same seed gives the same plan unless `minutes` end it sooner.
    `workers` is how many processes seek an exact layout; the more, the more tries: without it, one for each processor
    and the tries of two.
    """
    rulesets = tuple(rules or (load_rules(),))
    placed = _placed(network, room, pins or {}, lines, seed, minutes, rulesets, progress, workers)
    plan = placed.plan
    if rulesets[0].name in BUILT_IN:
        plan = replace(plan, rules=rulesets[0].name)
    if placed.placed and placed.judgement is not None:
        plan = charted(plan, network, placed.names, placed.judgement.waited_steps, rulesets[0], seed)
    return replace(placed, plan=plan)


def _placed(
    network: Network,
    room: Cell | None,
    pins: Mapping[str, Cell | str],
    lines: bool,
    seed: int,
    minutes: float | None,
    rulesets: Sequence[RuleSet],
    progress: Progress | None,
    workers: int | None,
) -> Placed:
    """The netlist laid by tiles and, where it is in reach, exactly."""
    begun = monotonic()
    names = plan_names([*network.inputs, *network.outputs, *network.covers, *(one.output for one in network.latches)])
    mapped = map_network(network)
    if lines:  # what a module is joined by lies at its border
        pins = {**dict.fromkeys(network.inputs, "west"), **dict.fromkeys(network.outputs, "east"), **pins}
    asked = wanted(network, mapped, lines)
    pinned = _pinned(asked, names, pins, lines)
    deadline = begun + 60 * (DEFAULT_MINUTES if minutes is None else minutes)

    def left(share: float) -> float:
        """The seconds until so much of the time is over."""
        return begun + share * (deadline - begun) - monotonic()

    def tiles(tries: int, share: float) -> Placed:
        """What tiles and router make of it; `tries` and the share of the time bound it."""
        seconds = max(left(share), 0.0)
        layout = lay(
            asked.instances, asked.nets, room, pinned, seed, seconds / 60, progress, rules=rulesets, tries=tries
        )
        layout = without_needless(layout, asked.nets, rulesets)
        done = finish(network, asked, layout, names, lines, rulesets, seed, begun)
        return done if done.placed or room is None else replace(done, reasons=(*too_small(asked, room), *done.reasons))

    free = room is None and not pins and not lines

    def told(size: Cell, best: Cell | None) -> bool:
        return progress is not None and bool(progress(Told(0, size, 0, None, best)))

    in_reach = not lines and len(mapped.gates) <= MOST_GATES and not set(network.inputs) & set(network.outputs)
    in_row = not in_reach and free and repetition(network) is not None
    kept = lay_kept(network, rulesets) if free else None
    first = None if kept is None else _accepted(kept, network, names, rulesets, seed, begun)
    if first is not None:
        first = replace(first, way="row")
    late = left(LAST_SHARE) < LEAST_SECONDS
    if first is not None and (late or not in_reach):
        return first
    if late or not (in_reach or in_row):
        return tiles(TRIES, LAST_SHARE)
    first = first or tiles(FIRST_TRIES, FIRST_SHARE)
    if first.stopped and left(FIRST_SHARE) > 0:
        return first  # somebody ended it
    seconds = min(BUDGET_SECONDS, left(LAST_SHARE))
    if in_row:
        row = lay_repeated(network, rulesets, seconds, told, seed, workers)
        found = None if row is None else _accepted(row, network, names, rulesets, seed, begun)
    else:
        found = _exactly(network, names, room, pins, seed, seconds, rulesets, told, begun, workers)
    if found is not None:
        return replace(found, way="row" if in_row else "exact")
    if first.placed or left(LAST_SHARE) < 1:
        return replace(first, seconds=monotonic() - begun)
    return tiles(TRIES, LAST_SHARE)


def _exactly(
    network: Network,
    names: Mapping[str, str],
    room: Cell | None,
    pins: Mapping[str, Cell | str],
    seed: int,
    seconds: float,
    rules: Sequence[RuleSet],
    told: Callable[[Cell, Cell | None], bool],
    begun: float,
    workers: int | None,
) -> Placed | None:
    """The netlist laid exactly, where that is in reach and in time, and it comes out right."""
    by_name = {names[name]: name for name in (*network.inputs, *network.outputs)}
    places = {by_name.get(name, name): where for name, where in pins.items()}

    exact = lay_exactly(network, rules, room, places, seconds, told, seed, workers)
    return None if exact is None else _accepted(exact, network, names, rules, seed, begun)


def _accepted(
    exact: Exact,
    network: Network,
    names: Mapping[str, str],
    rules: Sequence[RuleSet],
    seed: int,
    begun: float,
) -> Placed | None:
    """An exact layout as it is shown, if by hearing and by playing it does what the netlist says."""
    if not computes(exact, network, rules):
        return None
    held = {one.slave: frozenset((one.master,)) for one in exact.flip_flops.values()}
    judged = judge(exact.plan, network, exact.levers, exact.lamps, rules, held, seed)
    if judged.wrong:
        return None
    plan = replace(
        exact.plan,
        triggers={names[name]: cell for name, cell in exact.levers.items()},
        outputs={names[name]: cell for name, cell in exact.lamps.items()},
        nets=_signals(exact, network, names, rules[0]),
        title=network.model[:200],
    )
    stopped = any(answer == "stopped" for _, answer in exact.tried)
    period = _least_period(plan, network, exact.levers, rules, held)
    return Placed(plan, names, True, judged, period, (), (), seed, monotonic() - begun, stopped)


def _signals(exact: Exact, network: Network, names: Mapping[str, str], rules: RuleSet) -> dict[str, tuple[Cell, ...]]:
    """The wires of an exact layout by the signal that they carry; those that carry none of the netlist's left out."""
    given, cases = given_tables((*network.inputs, *exact.flip_flops))
    signal: dict[int, str] = {}
    for name, table in network.values(given, cases).items():
        if name:
            signal.setdefault(table, name)
    shown = tables(exact.plan, exact.levers, network.inputs, rules, exact.flip_flops) or {}
    found: dict[str, list[Cell]] = {}
    for cell, part in sorted(exact.plan.cells.items()):
        if part.behaviour == "wire" and shown.get(cell) in signal:
            found.setdefault(names[signal[shown[cell]]], []).append(cell)
    return {name: tuple(cells) for name, cells in found.items()}


def too_small(asked: Wanted, room: Cell) -> tuple[str, ...]:
    r"""What the room has too little of for the tiles alone, without any way between them.

    >>> from tickwright.netlist import map_network, parse_blif
    >>> inverter = parse_blif(".model inverter\n.inputs a\n.outputs y\n.names a y\n0 1\n")
    >>> too_small(wanted(inverter, map_network(inverter)), (2, 2, 4))
    ('The tiles alone cover 5 cells of ground, without any wires between them; a room of 2x2x4 has 4.',)
    """
    told = "x".join(map(str, room))
    boxes = [one.tile.box for one in asked.instances]
    tall = max((high[2] - low[2] + 1 for low, high in boxes), default=0)
    ground = sum((high[0] - low[0] + 1) * (high[1] - low[1] + 1) for low, high in boxes)
    found = []
    if tall > room[2]:
        found.append(f"The tallest tile takes {tall} layers; a room of {told} has {room[2]}.")
    if ground > room[0] * room[1]:
        found.append(
            f"The tiles alone cover {ground} cells of ground, without any wires between them; "
            f"a room of {told} has {room[0] * room[1]}."
        )
    return tuple(found)


def finish(
    network: Network,
    asked: Wanted,
    layout: Layout,
    names: Mapping[str, str],
    lines: bool,
    rules: Sequence[RuleSet],
    seed: int,
    begun: float,
) -> Placed:
    """Judge a layout, time it, and name what it has."""
    instances = layout.instances
    lever, lamp = (LINE_LEVER, LINE_OUT) if lines else (LEVER, LAMP)
    levers = {name: instances[who].cell(lever) for name, who in asked.inputs.items()}
    lamps = {name: instances[who].cell(lamp) for name, who in asked.outputs.items()}
    reasons = [*layout.faults, *(f"Not routed: {one}." for one in layout.unrouted)]
    judged, period = None, None
    if layout.done:
        held = {one.cell(SLAVE): frozenset((one.cell(MASTER),)) for one in instances.values() if one.tile.name in EDGED}
        judged = judge(layout.plan, network, levers, lamps, rules, held, seed)
        if judged.wrong:
            reasons.append(f"Played, {judged.wrong} outputs are wrong: {judged.first}.")
        period = _least_period(layout.plan, network, levers, rules, held)
    plan = _named(layout, asked, names, levers, lamps, lines, network.model)
    done = layout.done and judged is not None and judged.wrong == 0
    return Placed(
        plan, names, done, judged, period, layout.unrouted, tuple(reasons), seed, monotonic() - begun, layout.stopped
    )


def _least_period(
    plan: Plan,
    network: Network,
    levers: Mapping[str, Cell],
    rules: Sequence[RuleSet],
    held: Mapping[Cell, frozenset[Cell]],
) -> int | None:
    """Twice the longest time from a change of a clock until all rests: each half of a period is that long.

    None without a clock that is an input.
    """
    clocks = [levers[one.clock] for one in network.latches if one.clock in levers]
    late = [arrivals(plan, one, clocks, held) for one in rules]
    if not clocks or any(bound is None for bound in late):
        return None
    return 2 * (max(max(bound.values()) for bound in late if bound) + 1)


def _pinned(
    asked: Wanted, names: Mapping[str, str], pins: Mapping[str, Cell | str], lines: bool
) -> dict[str, Cell | str]:
    who = {**asked.outputs, **asked.inputs}
    by_name = {**{names[name]: instance for name, instance in who.items()}, **who}
    found: dict[str, Cell | str] = {}
    for name, where in pins.items():
        if name not in by_name:
            raise UsageError(f'There is no input or output "{name}" to pin.{near(name, by_name)}')
        if isinstance(where, str) and where not in HORIZONTAL:
            raise UsageError(f'"{name}" cannot be pinned to "{where}": use x,y,z or one of {", ".join(HORIZONTAL)}.')
        if isinstance(where, tuple):
            inner = (
                (LINE_IN if lines else LEVER) if by_name[name] in asked.inputs.values() else LINE_OUT if lines else LAMP
            )
            if inner[0]:
                raise UsageError(f'"{name}" is a line: pin it to a side, such as {name}=west.')
            below = (where[0], where[1], where[2] - inner[2])
            if min(below) < 0:
                raise UsageError(f'"{name}" needs the cell below it: pin it at z = 1 or higher.')
            found[by_name[name]] = below
        else:
            found[by_name[name]] = where
    return found


def _named(
    layout: Layout,
    asked: Wanted,
    names: Mapping[str, str],
    levers: Mapping[str, Cell],
    lamps: Mapping[str, Cell],
    lines: bool,
    title: str,
) -> Plan:
    """The plan with the netlist's names: its levers and lamps, or the ports of its lines; and the cells of its nets."""
    signals = plan_names([*names.values(), *layout.cells])
    nets = {names.get(name, signals[name]): cells for name, cells in layout.cells.items() if cells}
    plan = replace(
        layout.plan,
        triggers={names[name]: cell for name, cell in levers.items()},
        outputs={names[name]: cell for name, cell in lamps.items()},
        nets=nets,
        title=title[:200],
    )
    return _as_module(plan, layout, asked, names) if lines else plan


def _as_module(plan: Plan, layout: Layout, asked: Wanted, names: Mapping[str, str]) -> Plan:
    """The plan without the levers that it was tried with, and the ports that its lines are met at."""
    cells = dict(plan.cells)
    ports = {}
    for name, who in asked.inputs.items():
        instance = layout.instances[who]
        for cell in (LINE_LEVER, (0, 0, 0)):
            cells.pop(instance.cell(cell), None)
        ports[names[name]] = PlanPort(instance.cell(LINE_IN), instance.side("west"), "in")
    for name, who in asked.outputs.items():
        instance = layout.instances[who]
        free = ports.keys() | names.values()
        key = (
            names[name]
            if names[name] not in ports
            else next(f"{names[name]}-{n}" for n in range(2, 999) if f"{names[name]}-{n}" not in free)
        )
        ports[key] = PlanPort(instance.cell(LINE_OUT), instance.side("east"), "out", gives=14)
    return replace(plan, cells=cells, triggers={}, ports=ports)
