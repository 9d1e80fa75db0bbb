"""The smallest exact layout found in time: boxes from a fair size downwards, each given to SAT; then pruning."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from multiprocessing.connection import Connection
from time import monotonic
from typing import NamedTuple

from tickwright.engine import circuit_of
from tickwright.kinds import Part
from tickwright.layout.labels import EXACT_COST, Labels, labels_of
from tickwright.netlist import Network, map_network
from tickwright.plan.model import Plan
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_LABELS = 30
LEAST_SIDE, LONGEST_SIDE, LOWEST, TALLEST = 2, 8, 2, 4
FAIR, TIGHTER = 2.5, 0.86
BUDGET_SECONDS = 150.0
POLL_SECONDS = 0.2
FIRST_SHARE = 0.6  # of the time left for a box, as long as there is no layout yet

Found = tuple[dict[Cell, Part], dict[int, Cell], dict[str, Cell]]


class Exact(NamedTuple):
    """An exact layout: the plan, and where each input's lever and each output's lamp is; the boxes that were tried."""

    plan: Plan
    levers: dict[str, Cell]
    lamps: dict[str, Cell]
    tried: tuple[tuple[Cell, str], ...]  # box; "found", "none" (for these labels and hops) or "not decided"


def lay_exactly(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None = None,
    sides: Mapping[str, str] | None = None,
    seconds: float = BUDGET_SECONDS,
    told: Callable[[Cell, Cell | None], bool] | None = None,
) -> Exact | None:
    """The smallest layout found within so many seconds, pruned; None if the netlist is out of reach or none was found.

    `told` is given each box that is tried and the best so far, several times a second, and may end it by giving True.
    """
    labels = labels_of(network, map_network(network, EXACT_COST))
    if labels is None or len(labels.table) > MOST_LABELS:
        return None
    deadline = monotonic() + seconds
    best: Found | None = None
    box: Cell | None = None
    tried: list[tuple[Cell, str]] = []
    least = len(labels.lever) + len(labels.output) + 2 * len(labels.torch)
    for size in _boxes(FAIR * least, room):
        if box is not None and _volume(size) > TIGHTER * _volume(box):
            continue
        left = deadline - monotonic()
        if left <= 1:
            break
        left *= 1.0 if best is not None else FIRST_SHARE
        answer = _solve(labels, network.inputs, size, sides or {}, left, partial(_tell, told, size, box))
        tried.append((size, answer if isinstance(answer, str) else "found"))
        if answer == "stopped":
            break
        if not isinstance(answer, str):
            best, box = answer, size
        elif best is not None:
            break
    if best is None:
        return None
    cells, levers, lamps = best
    named = {network.inputs[number]: cell for number, cell in levers.items()}
    plan = pruned(Plan(cells), network, named, lamps, rules)
    return Exact(plan, named, lamps, tuple(tried))


def _tell(told: Callable[[Cell, Cell | None], bool] | None, size: Cell, best: Cell | None) -> bool:
    """Tell which box is tried and the best so far; whether to stop."""
    return told is not None and told(size, best)


def _volume(size: Cell) -> int:
    return size[0] * size[1] * size[2]


def _boxes(fair: float, room: Cell | None) -> Iterator[Cell]:
    """Boxes in the order to try: the one nearest to the fair volume, smaller ones, then larger ones."""
    most = room or (LONGEST_SIDE, LONGEST_SIDE, TALLEST)
    sizes = [
        (x, y, z)
        for x in range(LEAST_SIDE, min(LONGEST_SIDE, most[0]) + 1)
        for y in range(LEAST_SIDE, min(LONGEST_SIDE, most[1]) + 1)
        for z in range(LOWEST, min(TALLEST, most[2]) + 1)
        if x >= y or room is not None
    ]
    sizes.sort(key=lambda size: (_volume(size), -size[2], abs(size[0] - size[1] - 1)))
    compact = [size for size in sizes if size[0] <= 3 * size[1] and size[2] >= min(3, most[2])]
    start = [size for size in compact if _volume(size) <= fair][::-1]
    yield from start[:1]
    yield from [size for size in compact if _volume(size) > fair][:40:8]
    yield from start[1:]


def _solve(
    labels: Labels,
    inputs: Sequence[str],
    size: Cell,
    sides: Mapping[str, str],
    seconds: float,
    told: Callable[[], bool],
) -> Found | str:
    """The layout of a box, or "none", "not decided" (out of time) or "stopped"; in a process that can be ended."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_work, args=(there, labels, tuple(inputs), size, dict(sides)), daemon=True)
    process.start()
    there.close()
    until = monotonic() + seconds
    try:
        while not here.poll(POLL_SECONDS):
            if told():
                return "stopped"
            if monotonic() > until or not process.is_alive():
                return "not decided"
        try:
            found: Found | None = here.recv()
        except EOFError:
            return "not decided"
        return found if found is not None else "none"
    finally:
        process.terminate()
        process.join()
        here.close()


def _work(goal: Connection, labels: Labels, inputs: tuple[str, ...], size: Cell, sides: dict[str, str]) -> None:
    import signal

    from pysat.solvers import Solver

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is answered by the process that waits for this one
    from tickwright.layout.exact import Encoding

    encoding = Encoding(labels, inputs, size, sides)
    with Solver("cadical153", bootstrap_with=encoding.clauses) as solver:
        goal.send(encoding.plan_cells(solver.get_model()) if solver.solve() else None)
    goal.close()


# --- what a laid plan computes, read off its hearing ---


def tables(plan: Plan, levers: Mapping[str, Cell], inputs: Sequence[str], rules: RuleSet) -> dict[Cell, int] | None:
    """The truth table of each torch, lamp and lever by what each hears; None if it holds another kind, or a ring.

    Bit v is the value in case v, whose bit i is that of input i. Nothing is run: it is the plan's own network.
    """
    circuit = circuit_of(plan, rules)
    cases = 1 << len(inputs)
    every = (1 << cases) - 1
    known = {
        levers[name]: sum(1 << case for case in range(cases) if case >> place & 1) for place, name in enumerate(inputs)
    }
    heard = {cell: [circuit.cells[s] for s, _ in circuit.power.of(number)] for number, cell in enumerate(circuit.cells)}
    kinds = {cell: plan.cells[cell].kind for cell in heard if cell in plan.cells}
    waiting = [cell for cell in heard if cell not in known]
    while waiting:
        ready = [cell for cell in waiting if all(source in known for source in heard[cell])]
        if not ready or any(kinds.get(cell) not in ("torch", "lamp") for cell in ready):
            return None
        for cell in ready:
            together = 0
            for source in heard[cell]:
                together |= known[source]
            known[cell] = every ^ together if kinds[cell] == "torch" else together
        waiting = [cell for cell in waiting if cell not in known]
    return known


def computes(
    plan: Plan, network: Network, levers: Mapping[str, Cell], lamps: Mapping[str, Cell], rules: Sequence[RuleSet]
) -> bool:
    """Whether the plan is valid and each lamp has the truth table of its output, by hearing, under each rule set."""
    cases = 1 << len(network.inputs)
    given = {
        name: sum(1 << case for case in range(cases) if case >> place & 1) for place, name in enumerate(network.inputs)
    }
    wanted = network.values(given, cases)
    for one in rules:
        if next(problems(plan, one), None) is not None:
            return False
        found = tables(plan, levers, network.inputs, one)
        if found is None or any(found[cell] != wanted[name] for name, cell in lamps.items()):
            return False
    return True


def pruned(
    plan: Plan, network: Network, levers: Mapping[str, Cell], lamps: Mapping[str, Cell], rules: Sequence[RuleSet]
) -> Plan:
    """The plan without the parts that it does not need, taken out one after another, wires and torches first."""
    kept = {*levers.values(), *lamps.values()}
    if not computes(plan, network, levers, lamps, rules):
        return plan
    order = {"torch": 0, "wire": 1, "block": 2}
    while True:
        before = len(plan.cells)
        for cell in sorted(plan.cells, key=lambda c: (order.get(plan.cells[c].kind, 3), -c[2], c)):
            if cell in kept:
                continue
            less = Plan({there: part for there, part in plan.cells.items() if there != cell})
            if computes(less, network, levers, lamps, rules):
                plan = less
        if len(plan.cells) == before:
            return plan
