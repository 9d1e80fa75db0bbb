"""The smallest exact layout found in time: boxes from a fair size downwards, each given to SAT; then pruning.

Each try is one box, one network of torches and one seed, with so many conflicts of the solver; tries run side by side
where there are processors, and the first in order that succeeds counts: so the same seed gives the same plan.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from multiprocessing.connection import Connection, wait
from random import Random
from time import monotonic
from typing import NamedTuple

from tickwright.engine import circuit_of
from tickwright.engine.circuit import Ports
from tickwright.kinds import Part
from tickwright.layout.exact import Encoding, Found, Place, Through
from tickwright.layout.flipping import FlipFlop
from tickwright.layout.labels import EXACT_COST, MOST_CASES, Labels, labels_of
from tickwright.layout.torches import fewest_torches
from tickwright.netlist import Network, map_network
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.processes import begin_worker, undisturbed
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_LABELS = 34
LEAST_SIDE, LONGEST_SIDE, LOWEST, TALLEST = 2, 9, 2, 4
FLIP_FLOP = 10  # cells of a flip-flop and what carries it
FAIR, TIGHTER, WIDER = 3.0, 0.8, 1.25
THROUGH_ROOM = 2.2  # times as much, where a signal runs through
PINNED_ROOM = 1.15  # times as much, where inputs or outputs must lie at places or sides
BUDGET_SECONDS = 150.0
POLL_SECONDS = 0.2
CONFLICTS = 50_000  # of a try
LEAST = 1_000  # that a try counts for
BUDGET_A_SECOND = 3_000.0  # conflicts, those of larger boxes counted more: on a usual computer they end before the time
TORCHES_SHARE = 0.25  # of the time, to find networks of few torches
PLAIN_VOLUME = 40  # of a box whose conflicts count once
AT_ONCE = 4  # tries of a batch
LONG = 3  # times as long as wide, at most
GIVE_UP = 4  # batches without any layout
MOST_PROCESSES = 4


class Exact(NamedTuple):
    """An exact layout: the plan, and where each input's lever, each output's lamp and each latch's flip-flop is.

    `tried` names the boxes that were tried.
    """

    plan: Plan
    levers: dict[str, Cell]
    lamps: dict[str, Cell]
    tried: tuple[tuple[Cell, str], ...]  # box; "found", "none" (for these labels), "not decided" or "stopped"
    flip_flops: Mapping[str, FlipFlop] = {}


class Try(NamedTuple):
    """One question to SAT: a box, the labels of one network of torches, and a seed."""

    labels: Labels
    inputs: tuple[str, ...]
    size: Cell
    places: Mapping[str, Place]
    straight: bool
    seed: int
    conflicts: int
    through: Through | None = None


Told = Callable[[Cell, Cell | None], bool]


def lay_exactly(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None = None,
    places: Mapping[str, Place] | None = None,
    seconds: float = BUDGET_SECONDS,
    told: Told | None = None,
    seed: int = 0,
) -> Exact | None:
    """The smallest layout found within so many seconds, pruned; None if the netlist is out of reach or none was found.

    `told` is given each box that is tried and the best so far, several times a second, and may end it by giving True.
    """
    search = search_of(network, rules, room, places or {}, seconds, told, seed)
    found = search.run() if search is not None else None
    if search is None or found is None:
        return None
    levers = {network.inputs[number]: cell for number, cell in found.levers.items()}
    flips = {network.latches[number].output: where for number, where in found.flip_flops.items()}
    exact = Exact(Plan(found.cells), levers, found.lamps, tuple(search.tried), flips)
    return pruned(exact, network, rules) if computes(exact, network, rules) else exact


def search_of(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None,
    places: Mapping[str, Place],
    seconds: float,
    told: Told | None,
    seed: int,
    through: tuple[int, str] | None = None,
) -> Search | None:
    """The search for a layout within so many seconds, its labels found; None if the netlist is out of reach.

    `through` is the number of the input and the name of the output of a signal that runs through the box.
    """
    begun = monotonic()
    variants = labels_for(network, begun + TORCHES_SHARE * seconds)
    if not variants:
        return None
    search = Search(network.inputs, variants, room, places, straight(rules), seed, begun + seconds, told, through)
    search.left = BUDGET_A_SECOND * seconds
    return search


def labels_for(network: Network, deadline: float | None = None) -> list[Labels]:
    """The labels of the networks of torches to try: the fewest torches, more with fewer connections, and as mapped."""
    mapped = map_network(network, EXACT_COST)
    plain = labels_of(network, mapped)
    if plain is None or len(plain.table) > MOST_LABELS:
        return []
    others = [labels_of(network, one) for one in fewest_torches(network, len(plain.torch), deadline=deadline)]
    found: list[Labels] = []
    for one in sorted((one for one in (*others, plain) if one is not None), key=lambda one: len(one.torch)):
        if len(one.table) <= MOST_LABELS and one not in found:
            found.append(one)
    return found


def straight(rules: Sequence[RuleSet]) -> bool:
    """Whether a rule set wants wires to arrive straight at what they power."""
    return any(one.wire.pointing == "through" for one in rules)


class Search:
    """Boxes from a fair size downwards; `run` gives the best layout, `tried` what was asked."""

    def __init__(
        self,
        inputs: tuple[str, ...],
        variants: Sequence[Labels],
        room: Cell | None,
        places: Mapping[str, Place],
        arriving_straight: bool,
        seed: int,
        deadline: float,
        told: Told | None,
        through: tuple[int, str] | None = None,
    ) -> None:
        self.inputs, self.variants, self.room, self.places = inputs, variants, room, places
        self.straight, self.seed, self.told, self.through = arriving_straight, seed, told, through
        self.runs: Through | None = None  # how the signal runs through the best layout
        self.deadline = deadline  # of the monotonic clock
        self.tried: list[tuple[Cell, str]] = []
        self.dead: set[tuple[Cell, int]] = set()
        self.best: Found | None = None
        self.box: Cell | None = None
        self.found_with = 0  # the network of torches of the best layout
        self.left = 0.0  # conflicts
        self.used: dict[int, int] = {}  # conflicts of each try of the batch that came to an end
        self.processes = max(1, min(MOST_PROCESSES, os.cpu_count() or 1))
        self.idle: list[_Worker] = []
        self.sizes = list(_boxes(room, places))
        least = min(
            len(one.lever) + len(one.output) + 2 * len(one.torch) + FLIP_FLOP * len(one.latches) for one in variants
        )
        self.fair = FAIR * least * (THROUGH_ROOM if through else 1) * (PINNED_ROOM if places else 1)

    def run(self) -> Found | None:
        """Go on until nothing smaller is found in time."""
        try:
            self._descend()
        finally:
            for worker in self.idle:
                worker.end()
            self.idle = []
        return self.best

    def _descend(self) -> None:
        batches = 0
        while self.left > 0 and monotonic() < self.deadline:
            tries = self._batch(batches)
            if not tries:
                break
            answers = self._ask(tries)
            batches += 1
            first = next((number for number, one in enumerate(answers) if not isinstance(one, str)), None)
            for number, (one, answer) in enumerate(zip(tries, answers, strict=True)):
                if first is not None and number > first and answer != "stopped":
                    continue  # whether it came to an end hangs on the computer
                self.left -= max(self.used.get(number, CONFLICTS), LEAST) * _volume(one.size) / PLAIN_VOLUME
                self.tried.append((one.size, answer if isinstance(answer, str) else "found"))
                if answer == "none" and self.through is None:
                    self.dead.add((one.size, self.variants.index(one.labels)))
                if not isinstance(answer, str):
                    self.box, self.best, self.runs = one.size, answer, one.through
                    self.found_with = self.variants.index(one.labels)
                    batches = 0
            if "stopped" in answers or (self.best is None and batches >= GIVE_UP + len(self.dead)):
                break

    def _batch(self, batch: int) -> list[Try]:
        """The next tries: of boxes near the volume that is wanted, each network of torches in turn."""
        if self.box is not None:
            smaller = [size for size in self.sizes if _volume(size) < _volume(self.box)]
            wanted = _volume(self.box) * min(TIGHTER + 0.04 * batch, 0.95)
        else:
            smaller, wanted = self.sizes, self.fair * WIDER**batch
        alive = [
            (size, number)
            for size in smaller
            for number in range(len(self.variants))
            if (size, number) not in self.dead
        ]
        alive.sort(key=lambda one: (abs(_volume(one[0]) - wanted) + _unevenness(one[0]), self._last(one[1]), one))
        chosen = alive[: 2 * AT_ONCE]
        tries = []
        for number in range(AT_ONCE if chosen else 0):
            size, variant = chosen[(number + batch * AT_ONCE) % len(chosen)]
            seed = self.seed * 1000 + batch * AT_ONCE + number
            labels, through = self.variants[variant], self._through(size, seed)
            tries.append(Try(labels, self.inputs, size, self.places, self.straight, seed, CONFLICTS, through))
        return tries

    def _last(self, variant: int) -> int:
        """Which turn a network of torches has: the one of the best layout comes first, before the first any."""
        return (variant - self.found_with) % len(self.variants)

    def _through(self, size: Cell, seed: int) -> Through | None:
        """Where the signal runs through a box of that size: in a row near the middle, low or high."""
        if self.through is None:
            return None
        rows = range(size[1] // 4, size[1] - size[1] // 4)
        return Through(*self.through, rows[seed // 2 % len(rows)], 1 + seed % min(2, size[2] - 1))

    def _ask(self, tries: Sequence[Try]) -> list[Found | str]:
        """What came of each try; those after the first that succeeds are not waited for."""
        answers: list[Found | str] = ["not decided"] * len(tries)
        waiting = list(range(len(tries)))
        running: dict[int, _Worker] = {}
        self.used = {}
        first = len(tries)
        while waiting or running:
            while waiting and len(running) < self.processes:
                worker = self.idle.pop() if self.idle else _Worker()
                number = waiting.pop(0)
                running[number] = worker
                worker.line.send(tries[number])
            ready = wait([worker.line for worker in running.values()], POLL_SECONDS)
            told = self.told is not None and self.told(tries[0].size, self.box)
            stop = told or monotonic() > self.deadline
            for number, worker in list(running.items()):
                if worker.line in ready:
                    answers[number], self.used[number] = worker.answer()
                    self.idle.append(running.pop(number))
                    if not isinstance(answers[number], str):
                        first = min(first, number)
            for number in [number for number in running if stop or number > first]:
                running.pop(number).end()
            waiting = [] if stop else [number for number in waiting if number < first]
            if told:
                return ["stopped" if answer == "not decided" else answer for answer in answers]
        return answers


class _Worker:
    """A process that answers tries, one after another."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.line, there = context.Pipe()
        self.process = context.Process(target=_work, args=(there,), daemon=True)
        with undisturbed():
            self.process.start()
        there.close()

    def answer(self) -> tuple[Found | str, int]:
        """The answer that has come, and its conflicts."""
        try:
            found: tuple[Found | str, int] = self.line.recv()
            return found
        except EOFError:
            return "not decided", CONFLICTS

    def end(self) -> None:
        """End the process."""
        self.process.terminate()
        self.process.join()
        self.line.close()


def _work(line: Connection) -> None:
    begin_worker()
    while True:
        try:
            one = line.recv()
        except EOFError:
            return
        line.send(solved(one))


def solved(one: Try) -> tuple[Found | str, int]:
    """The layout that answers a try, "none", or "not decided" when its conflicts are used up; and the conflicts."""
    from pysat.solvers import Solver

    random = Random(one.seed)
    encoding = Encoding(one.labels, one.inputs, one.size, one.places, one.straight, one.through)
    clauses = [random.sample(clause, len(clause)) for clause in encoding.clauses]
    random.shuffle(clauses)
    with Solver("cadical195") as solver:
        solver.configure({"phase": 0})  # most cells hold none of what they may hold
        solver.append_formula(clauses)
        solver.conf_budget(one.conflicts)
        answer = solver.solve_limited()
        used = int(solver.accum_stats()["conflicts"])
        if answer is None:
            return "not decided", used
        return encoding.layout(solver.get_model()) if answer else "none", used


def _volume(size: Cell) -> int:
    return size[0] * size[1] * size[2]


def _unevenness(size: Cell) -> int:
    """How many cells of volume a box is put back for being long or flat: such boxes seldom hold what others hold."""
    x, y, z = size
    return 3 * max(abs(x - y) - 1, 0) + 12 * max(3 - z, 0)


def _boxes(room: Cell | None, places: Mapping[str, Place]) -> Iterator[Cell]:
    """Boxes to try; where nothing tells east from north, those that lie along x only."""
    most = room or (LONGEST_SIDE, LONGEST_SIDE, TALLEST)
    told_apart = room is not None or bool(places)
    pinned = [place for place in places.values() if isinstance(place, tuple)]
    least = [max([LEAST_SIDE, *(cell[axis] + 1 for cell in pinned)]) for axis in (0, 1)]
    for x in range(least[0], min(LONGEST_SIDE, most[0]) + 1):
        for y in range(least[1], min(LONGEST_SIDE, most[1]) + 1):
            for z in range(LOWEST, min(TALLEST, most[2]) + 1):
                if (x >= y or told_apart) and x <= LONG * y and y <= LONG * x:
                    yield (x, y, z)


# --- what a laid plan computes, read off its hearing ---


def given_tables(inputs: Sequence[str]) -> tuple[dict[str, int], int]:
    """The cases of the inputs, and how many: bit v is the value in case v, all cases of up to 12 inputs in order.

    >>> given_tables(("a", "b"))
    ({'a': 10, 'b': 12}, 4)
    """
    cases = 1 << len(inputs)
    if cases > MOST_CASES:
        random = Random(len(inputs))
        return {name: random.getrandbits(MOST_CASES) for name in inputs}, MOST_CASES
    tables = [sum(1 << case for case in range(cases) if case >> place & 1) for place in range(len(inputs))]
    return dict(zip(inputs, tables, strict=True)), cases


def tables(
    plan: Plan,
    levers: Mapping[str, Cell],
    inputs: Sequence[str],
    rules: RuleSet,
    flip_flops: Mapping[str, FlipFlop] | None = None,
) -> dict[Cell, int] | None:
    """The truth table of each torch, lamp, lever, wire and repeater by what each hears.

    None if it holds another kind, or a ring. What a flip-flop gives is free like an input. Bit v is the value in case
    v of `given_tables`. Nothing is run: it is the plan's own network.
    """
    flip_flops = flip_flops or {}
    circuit = circuit_of(Setup(plan, rules))
    given, cases = given_tables((*inputs, *flip_flops))
    every = (1 << cases) - 1
    known = {levers[name]: given[name] for name in inputs}
    known |= {where.slave: given[name] for name, where in flip_flops.items()}
    repeaters = {cell for where in flip_flops.values() for cell in where.parts()}
    heard = {cell: [circuit.cells[s] for s, _ in circuit.power.of(number)] for number, cell in enumerate(circuit.cells)}
    kinds = {cell: plan.cells[cell].kind for cell in heard if cell in plan.cells}
    waiting = [cell for cell in heard if cell not in known]
    if any(kinds.get(cell) not in ("torch", "lamp") and cell not in repeaters for cell in waiting):
        return None
    while waiting:
        ready = [cell for cell in waiting if all(source in known for source in heard[cell])]
        if not ready:
            return None
        for cell in ready:
            together = _together(known, heard[cell])
            known[cell] = every ^ together if kinds[cell] == "torch" else together
        waiting = [cell for cell in waiting if cell not in known]
    wires = [cell for cell, part in plan.cells.items() if part.behaviour == "wire"]
    return known | {cell: _together(known, [circuit.cells[s] for s, *_ in circuit.hears(cell)]) for cell in wires}


def _together(known: Mapping[Cell, int], sources: Iterable[Cell]) -> int:
    table = 0
    for source in sources:
        table |= known[source]
    return table


def computes(exact: Exact, network: Network, rules: Sequence[RuleSet]) -> bool:
    """Whether the plan is valid and each lamp has the truth table of its output, by hearing, under each rule set.

    Each flip-flop must hear its data and its clock, and be locked by its locks alone.
    """
    plan, _, lamps, _, flips = exact
    given, cases = given_tables((*network.inputs, *flips))
    wanted = network.values(given, cases)
    every = (1 << cases) - 1
    asked = {cell: wanted[name] for name, cell in lamps.items()}
    for latch in network.latches:
        master, (lock, hold) = flips[latch.output].master, flips[latch.output].locks
        asked[master] = wanted[latch.data]
        asked[lock] = wanted[latch.clock] if latch.kind == "re" else every ^ wanted[latch.clock]
        asked[hold] = every ^ asked[lock]
    for one in rules:
        if next(problems(plan, one), None) is not None:
            return False
        found = tables(plan, exact.levers, network.inputs, one, flips)
        if found is None or any(found[cell] != table for cell, table in asked.items()):
            return False
        if flips and not _locked_rightly(plan, flips.values(), one):
            return False
    return True


def _locked_rightly(plan: Plan, flip_flops: Iterable[FlipFlop], rules: RuleSet) -> bool:
    """Whether each slave hears just its master, and each repeater is locked by just its lock, or by none."""
    circuit = circuit_of(Setup(plan, rules))

    def heard(port: Ports, cell: Cell) -> list[Cell]:
        return [circuit.cells[source] for source, _ in port.of(circuit.index[cell])]

    return all(
        heard(circuit.power, one.slave) == [one.master]
        and heard(circuit.flank, one.master) == [one.locks[0]]
        and heard(circuit.flank, one.slave) == [one.locks[1]]
        and not any(heard(circuit.flank, lock) for lock in one.locks)
        for one in flip_flops
    )


def pruned(
    exact: Exact, network: Network, rules: Sequence[RuleSet], among: Callable[[Cell], bool] = lambda _: True
) -> Exact:
    """The layout without the parts that it does not need, of those in the cells that `among` names."""
    repeaters = {cell for one in exact.flip_flops.values() for cell in one.parts()}
    kept = {*exact.levers.values(), *exact.lamps.values(), *repeaters}
    while True:
        before = exact.plan
        for cell in needless_first(before.cells):
            if cell in kept or not among(cell):
                continue
            less = exact._replace(plan=Plan({there: part for there, part in exact.plan.cells.items() if there != cell}))
            if computes(less, network, rules):
                exact = less
        if exact.plan is before:
            return exact


def needless_first(parts: Mapping[Cell, Part]) -> list[Cell]:
    """The cells of parts in the order in which they are tried to be taken out: torches, wires, blocks, the rest."""
    order = {"torch": 0, "wire": 1, "block": 2}
    return sorted(parts, key=lambda cell: (order.get(parts[cell].kind, 3), -cell[2], cell))
