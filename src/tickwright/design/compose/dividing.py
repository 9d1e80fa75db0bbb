"""What of a brief follows from machines, and what machines look and listen to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tickwright.charts.notation import (
    Automaton,
    Both,
    Claim,
    Condition,
    Either,
    Has,
    While,
    condition_atoms,
)
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.refusing import refuse


@dataclass(frozen=True, slots=True)
class Follows:
    """An output that shows what state a machine is in: on in `states`, `late_steps` after the machine."""

    output: str
    machine: str
    states: frozenset[str]
    late_steps: int
    claim: Claim


def machine_triggers(brief: Brief) -> tuple[str, ...]:
    """The triggers that the brief's machines listen or look to, in its order."""
    return heard_by(brief.automata, brief.inputs)


def heard_by(machines: Iterable[Automaton], triggers: Iterable[str]) -> tuple[str, ...]:
    """Those of the triggers that machines listen or look to."""
    moves = [one for machine in machines for one in machine.transitions]
    used = {one.event.name for one in moves if one.event is not None}
    used |= {atom.name for one in moves for atom in condition_atoms(one.condition)}
    return tuple(name for name in triggers if name in used)


def followers(brief: Brief) -> list[Follows]:
    """The outputs that follow machines; raises Refusal for what cannot."""
    found: list[Follows] = []
    moved = machine_triggers(brief)
    for claim in brief.claims:
        if claim.name in moved and claim.is_policy:
            raise refuse(claim, f"{claim.name} works a machine, which says itself what a further act does")
        if claim.is_policy or not brief.machines:
            continue
        if not any(isinstance(one, While) for one in claim.clauses):
            continue
        (clause,) = [one for one in claim.clauses if isinstance(one, While)]
        atoms = list(condition_atoms(clause.condition))
        if all(atom.kind != "machine" for atom in atoms):
            continue
        if any(atom.kind != "machine" for atom in atoms) or len({atom.name for atom in atoms}) != 1:
            raise refuse(claim, "an output can follow the states of one machine: name no other and nothing else")
        machine = next(one for one in brief.automata if one.name == atoms[0].name)
        states = frozenset(state for state in machine.states if holds(clause.condition, state))
        one = Follows(claim.name, machine.name, states, clause.late_steps, claim)
        before = next((other for other in found if other.output == one.output), None)
        if before is None:
            found.append(one)
        elif before.claim.clauses != claim.clauses:
            raise refuse(claim, f"{claim.name} follows {before.machine} by another claim already")
    return found


def holds(condition: Condition, state: str) -> bool:
    """Whether a condition that looks at one machine only holds while that is in `state`."""
    if isinstance(condition, Has):
        return condition.state == state
    if isinstance(condition, Both):
        return all(holds(part, state) for part in condition.parts)
    if isinstance(condition, Either):
        return any(holds(part, state) for part in condition.parts)
    return not holds(condition.inner, state)


def reachable(machine: Automaton) -> tuple[str, ...]:
    """The states that transitions lead to from the first, in the machine's order.

    >>> reachable(Automaton("m", ("a", "b"), ()))
    ('a',)
    """
    found = {machine.states[0]}
    while True:
        more = {t.to for t in machine.transitions if not t.states or found & set(t.states)} - found
        if not more:
            return tuple(state for state in machine.states if state in found)
        found |= more
