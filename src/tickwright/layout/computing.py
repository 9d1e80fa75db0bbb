"""What an exact layout computes, read off its hearing; and the layout without the parts that it does not need."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from random import Random
from typing import NamedTuple

from tickwright.engine import circuit_of
from tickwright.engine.circuit import Ports
from tickwright.kinds import Part
from tickwright.layout.flipping import FlipFlop
from tickwright.layout.labels import MOST_CASES
from tickwright.netlist import Network
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import Cell


class Exact(NamedTuple):
    """An exact layout: the plan, and where each input's lever, each output's lamp and each latch's flip-flop is.

    `tried` names the boxes that were tried.
    """

    plan: Plan
    levers: dict[str, Cell]
    lamps: dict[str, Cell]
    tried: tuple[tuple[Cell, str], ...]  # box; "found", "none" (for these labels), "not decided" or "stopped"
    flip_flops: Mapping[str, FlipFlop] = {}


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
