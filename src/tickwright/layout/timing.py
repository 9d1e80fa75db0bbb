"""Static timing of a laid plan: how long after a change everything has come to rest, from the delays of its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from tickwright.engine import circuit_of
from tickwright.kinds import is_a
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.space import Cell


def arrivals(
    plan: Plan, rules: RuleSet, sources: Iterable[Cell], cut: Mapping[Cell, frozenset[Cell]] | None = None
) -> dict[Cell, int] | None:
    """For each part that a change at `sources` can reach, the most steps until it has followed; None if it may never.

    A repeater of d steps may follow as late as 2·d − 1 steps after the last change, since it stretches a pulse that is
    shorter than its delay; a lamp is late by its glow, torches and comparators by their delay. `cut` names for a part
    the sources whose changes it does not pass on: what a flip-flop holds back until its clock comes.
    """
    circuit = circuit_of(Setup(plan, rules))
    kinds = {cell: plan.cells[cell].kind for cell in circuit.cells if cell in plan.cells}
    hears: dict[Cell, set[Cell]] = {}
    for number, cell in enumerate(circuit.cells):
        found = {circuit.cells[source] for port in (circuit.power, circuit.flank) for source, _ in port.of(number)}
        hears[cell] = found - (cut or {}).get(cell, frozenset())
    followers: dict[Cell, list[Cell]] = {}
    for cell, heard in hears.items():
        for source in heard:
            followers.setdefault(source, []).append(cell)
    late = dict.fromkeys(sources, 0)
    reached = set(late)
    waiting = list(late)
    for here in waiting:
        for after in followers.get(here, ()):
            if after not in reached:
                reached.add(after)
                waiting.append(after)
    order = _ordered(reached, followers)
    if order is None:
        return None
    for cell in order:
        if cell in late:
            continue
        own = int(circuit.delay[circuit.index[cell]])
        if is_a(kinds.get(cell), "repeater"):
            own = 2 * own - 1
        late[cell] = own + max(late[source] for source in hears[cell] if source in reached)
    return late


def _ordered(reached: set[Cell], followers: Mapping[Cell, list[Cell]]) -> list[Cell] | None:
    """The reached parts, each after all that it hears of them; None if some hear one another in a ring."""
    waits = dict.fromkeys(reached, 0)
    for here in reached:
        for after in followers.get(here, ()):
            waits[after] += 1
    ready = [cell for cell in reached if not waits[cell]]
    order = []
    while ready:
        here = ready.pop()
        order.append(here)
        for after in followers.get(here, ()):
            waits[after] -= 1
            if not waits[after]:
                ready.append(after)
    return order if len(order) == len(reached) else None
