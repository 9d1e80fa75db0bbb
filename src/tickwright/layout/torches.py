"""As few torches as possible for a small netlist: an exact search, by SAT, for a network of NORs.

A torch is the NOR of what reaches its block, and what reaches a wire or lamp is an OR: so a netlist is so many NORs of
any number of inputs, and each output is an OR of inputs and NORs. The search asks for one torch less until there is no
answer in time; what it finds is a start for the layout, whose torches and labels these are.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from threading import Timer
from time import monotonic
from typing import Any

from tickwright.netlist import Gate, Mapped, Network

MOST_CASES, MOST_TORCHES = 64, 16
SPARE = 2  # torches more than the fewest
CONFLICTS = 20_000  # for each number of torches that is tried


def fewest_torches(
    network: Network, most: int, conflicts: int = CONFLICTS, deadline: float | None = None
) -> list[Mapped]:
    """Networks of at most `most` NORs: the fewest found, and one or two more where that saves connections.

    Each search has so many conflicts of the solver, so that the same netlist gives the same answer on any machine that
    comes to the end before the `deadline` (of the monotonic clock).
    Nothing is found for latches, and for more inputs or torches than can be looked at.
    """
    cases = 1 << len(network.inputs)
    if network.latches or cases > MOST_CASES or most > MOST_TORCHES:
        return []
    ones = [sum(1 << case for case in range(cases) if case >> place & 1) for place in range(len(network.inputs))]
    values = network.values(dict(zip(network.inputs, ones, strict=True)), cases)
    fewest = most + 1
    while fewest > 1 and _Search(network, ones, values, fewest - 1).best(conflicts, False, deadline) is not None:
        fewest -= 1
    found: list[Mapped] = []
    for torches in range(fewest, min(fewest + SPARE, most) + 1):
        better = _Search(network, ones, values, torches).best(conflicts, True, deadline)
        if better is not None and (not found or connections(better) < connections(found[-1])):
            found.append(better)
    return found


def solved_in_time(solver: Any, conflicts: int, deadline: float | None) -> bool | None:
    """Whether there is an answer, None if it is not found with so many conflicts and before the deadline."""
    solver.conf_budget(conflicts)
    if deadline is None:
        found: bool | None = solver.solve_limited()
        return found
    left = deadline - monotonic()
    if left <= 0:
        return None
    timer = Timer(left, solver.interrupt)
    timer.daemon = True
    timer.start()
    try:
        found = solver.solve_limited(expect_interrupt=True)
    finally:
        timer.cancel()
        timer.join()
    solver.clear_interrupt()
    return found


def connections(mapped: Mapped) -> int:
    """How many inputs all gates have together."""
    return sum(len(gate.inputs) for gate in mapped.gates)


class _Search:
    """The clauses for a network of just so many NORs."""

    def __init__(self, network: Network, ones: list[int], values: Mapping[str, int], torches: int) -> None:
        self.network, self.ones, self.values, self.torches = network, ones, values, torches
        self.outputs = [name for name in network.outputs if name not in network.inputs]
        self.count = 0
        self.clauses: list[list[int]] = []
        inputs, cases = len(ones), 1 << len(ones)
        self.heard = {(gate, i): self._new() for gate in range(torches) for i in range(inputs + gate)}
        self.shown = {(name, i): self._new() for name in self.outputs for i in range(inputs + torches)}
        self.on = {(gate, case): self._new() for gate in range(torches) for case in range(cases)}
        for case in range(cases):
            for gate in range(torches):
                self._or(-self.on[gate, case], [(self.heard[gate, i], i) for i in range(inputs + gate)], case)
            for name in self.outputs:
                wanted = self._new()
                self.clauses.append([wanted if values[name] >> case & 1 else -wanted])
                self._or(wanted, [(self.shown[name, i], i) for i in range(inputs + torches)], case)
        for gate in range(torches):  # each torch hears something, and is heard
            own = inputs + gate
            later = [self.heard[after, own] for after in range(gate + 1, torches)]
            self.clauses.append([*later, *(self.shown[name, own] for name in self.outputs)])
            self.clauses.append([self.heard[gate, i] for i in range(own)])

    def _new(self) -> int:
        self.count += 1
        return self.count

    def _or(self, result: int, chosen: list[tuple[int, int]], case: int) -> None:
        """The result, in that case, is the OR of those signals whose variable holds."""
        ways = []
        for var, signal in chosen:
            if signal < len(self.ones):
                if self.ones[signal] >> case & 1:
                    self.clauses.append([-var, result])
                    ways.append(var)
                continue
            value = self.on[signal - len(self.ones), case]
            self.clauses.append([-var, -value, result])
            both = self._new()
            self.clauses += [[-both, var], [-both, value]]
            ways.append(both)
        self.clauses.append([-result, *ways])

    def best(self, conflicts: int, sparing: bool, deadline: float | None) -> Mapped | None:
        """A network, with as few connections as are found if asked."""
        from pysat.card import ITotalizer
        from pysat.solvers import Solver

        choices = [*self.heard.values(), *self.shown.values()]
        found = None
        with Solver("glucose42", bootstrap_with=self.clauses) as solver:
            total = ITotalizer(choices, len(choices), self.count) if sparing else None
            if total is not None:
                solver.append_formula(total.cnf.clauses)
            while True:
                if not solved_in_time(solver, conflicts, deadline):
                    return found
                found = self._read({var for var in solver.get_model() if var > 0})
                if total is None:
                    return found
                solver.add_clause([-total.rhs[connections(found) - 1]])

    def _read(self, true: set[int]) -> Mapped:
        """The gates of a model; what a gate or output hears but does not need is left out."""
        every = (1 << (1 << len(self.ones))) - 1
        names = [*self.network.inputs, *(f"torch-{gate}" for gate in range(self.torches))]
        tables = list(self.ones)
        gates = []
        for gate in range(self.torches):
            inputs = [i for i in range(len(self.ones) + gate) if self.heard[gate, i] in true]
            wanted = _any(tables, inputs)
            inputs = _enough(tables, inputs, wanted)
            gates.append(Gate("nor", names[len(self.ones) + gate], tuple(names[i] for i in inputs)))
            tables.append(every ^ wanted)
        goals = {}
        for name in self.network.outputs:
            if name in self.network.inputs:
                goals[name] = name
                continue
            inputs = _enough(tables, [i for i in range(len(names)) if self.shown[name, i] in true], self.values[name])
            if len(inputs) == 1:
                goals[name] = names[inputs[0]]
            else:
                goals[name] = f"any-{name}"
                gates.append(Gate("or", goals[name], tuple(names[i] for i in inputs)))
        return Mapped(tuple(gates), goals)


def _any(tables: list[int], inputs: list[int]) -> int:
    table = 0
    for i in inputs:
        table |= tables[i]
    return table


def _enough(tables: list[int], inputs: list[int], wanted: int) -> list[int]:
    """As few of the inputs as give the same OR."""
    for size in range(1, len(inputs)):
        for chosen in combinations(inputs, size):
            if _any(tables, list(chosen)) == wanted:
                return list(chosen)
    return inputs
