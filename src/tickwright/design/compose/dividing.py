"""A brief in two: what follows from machines, and the spans that follow from acts."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tickwright.charts.notation import (
    Automaton,
    Both,
    Claim,
    Condition,
    Either,
    Has,
    Not,
    While,
    condition_atoms,
    names_in,
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


def span_part(brief: Brief) -> Brief:
    """The brief without machines, what shows them and the triggers that work them."""
    if not brief.machines:
        return brief
    shown = {one.output for one in followers(brief)}
    moved = machine_triggers(brief)
    inputs = {name: end for name, end in brief.inputs.items() if name not in moved}
    outputs = {name: end for name, end in brief.outputs.items() if name not in shown}
    claims = tuple(one for one in brief.claims if one.name not in shown and one.name not in moved)
    return replace(brief, inputs=inputs, outputs=outputs, claims=claims, machines=(), automata=())


def machine_triggers(brief: Brief) -> tuple[str, ...]:
    """The triggers that machines listen or look to, in the brief's order."""
    used: set[str] = set()
    for one in brief.automata:
        for transition in one.transitions:
            if transition.event is not None:
                used.add(transition.event.name)
            used.update(atom.name for atom in condition_atoms(transition.condition))
    return tuple(name for name in brief.inputs if name in used)


def followers(brief: Brief) -> list[Follows]:
    """The outputs that follow machines; raises Refusal for what cannot."""
    found: list[Follows] = []
    moved = machine_triggers(brief)
    for claim in brief.claims:
        if claim.name in moved and claim.is_policy:
            raise refuse(claim, f"{claim.name} works a machine, which says itself what a further act does")
        names = names_in(claim)
        if claim.is_policy or not brief.machines:
            continue
        if not any(isinstance(one, While) for one in claim.clauses):
            if any(name in moved or kind == "machine" for name, kind in names.items()):
                why = 'spans beside a machine of the same trigger are not composed: write "on while MACHINE is STATE"'
                raise refuse(claim, why)
            continue
        (clause,) = [one for one in claim.clauses if isinstance(one, While)]
        atoms = list(condition_atoms(clause.condition))
        if len(atoms) == 1 and atoms[0].kind == "trigger" and atoms[0].name not in moved:
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


def literals(condition: Condition | None) -> tuple[tuple[str, bool], ...] | None:
    """The levels of triggers that must all be on (True) or off (False); None if it is something else.

    >>> literals(Both((Has("safe", "trigger"), Not(Has("stop", "trigger")))))
    (('safe', True), ('stop', False))
    """
    if condition is None:
        return ()
    if isinstance(condition, Has):
        return ((condition.name, condition.on),) if condition.kind == "trigger" else None
    if isinstance(condition, Not) and isinstance(condition.inner, Has):
        inner = condition.inner
        return ((inner.name, not inner.on),) if inner.kind == "trigger" else None
    if isinstance(condition, Both):
        found: list[tuple[str, bool]] = []
        for part in condition.parts:
            more = literals(part)
            if more is None:
                return None
            found += more
        return tuple(found)
    return None


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
