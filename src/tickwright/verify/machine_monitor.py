"""The machines of a chart on their way through a proof: what states they are in, what they enter and leave.

Also what conditions and ordinals ask of the present, which machines and claims share.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import lcm
from typing import NamedTuple

from tickwright.charts.machines import RACE_STEPS
from tickwright.charts.notation import (
    Automaton,
    Both,
    Claim,
    Condition,
    Either,
    Event,
    Has,
    Ordinal,
    Transition,
    clause_moments,
    condition_atoms,
)

Machines = tuple[tuple[str, int, int], ...]  # state, steps since it was entered, steps since a transition (capped)
On = tuple[bool, ...]  # of outputs, then triggers


class Owed(NamedTuple):
    """An act that machines took before it came: it must still come, in `left` steps; theirs is then the other one."""

    coming: Event
    stood_for: Event
    left: int


class MachineMonitor:
    """The machines of one chart; `outputs` and `triggers` name what a step shows, in this order.

    Letting go of a trigger is an act, too, but for `buttons`, which come up by themselves.
    """

    def __init__(
        self, claims: Sequence[Claim], machines: Sequence[Automaton], outputs: Sequence[str], triggers: Sequence[str],
        buttons: frozenset[str],
    ) -> None:  # fmt: skip
        self.claims = tuple(claims)
        self.machines = tuple(machines)
        self.outputs, self.triggers = tuple(outputs), tuple(triggers)
        self.place = {name: number for number, name in enumerate((*outputs, *triggers))}
        self.buttons = buttons
        minded = {name for machine in machines for one in machine.transitions for name in _minded(one)}
        self.racing = [
            Event(name, "trigger", what)
            for name in triggers for what in ("worked", "released")
            if name in minded and not (what == "released" and name in buttons)
        ]  # fmt: skip
        self.turns = self._turns()
        self.ordinals = list(self.turns)

    def _turns(self) -> dict[Event, tuple[int, ...]]:
        """Of each event that an ordinal counts, the next count after each: finite, and the same to all its ordinals.

        Counts up to the largest `nth`; from there on round the least common multiple of every `every`.
        """
        asked: dict[Event, list[Ordinal]] = {}
        for claim in self.claims:
            for clause in claim.clauses:
                for moment in clause_moments(clause):
                    if moment.ordinal is not None and moment.event is not None:
                        asked.setdefault(moment.event, []).append(moment.ordinal)
        for machine in self.machines:
            for transition in machine.transitions:
                if transition.ordinal is not None and transition.event is not None:
                    asked.setdefault(transition.event, []).append(transition.ordinal)
        found = {}
        for event, ordinals in asked.items():
            round_ = lcm(*(one.number for one in ordinals if one.every))
            once = max((one.number for one in ordinals if not one.every), default=0)
            last = -(-(once + 1) // round_) * round_ + round_ - 1
            found[event] = (*range(1, last + 1), last - round_ + 1)
        return found

    def count(self, counts: tuple[int, ...], events: Iterable[Event]) -> tuple[int, ...]:
        """The counts after these events of a step."""
        happened = set(events)
        return tuple(
            self.turns[event][count] if event in happened else count
            for event, count in zip(self.ordinals, counts, strict=True)
        )

    def cap(self, machine: Automaton) -> int:
        """From this many steps after an entry on, nothing about the machine changes by waiting."""
        afters = [t.after_steps or 0 for t in machine.transitions]
        return max([*afters, machine.deaf_steps or 0, 1])

    def orders(self, owed: Owed | None, acts: tuple[Event, ...]) -> Iterator[tuple[tuple[Event, ...], Owed | None]]:
        """What machines may take for the acts of this step, and what is then still owed."""
        if owed is not None:
            coming, stood_for, left = owed
            if coming in acts:
                yield tuple(stood_for if act == coming else act for act in acts), None
            elif left > 0:
                yield acts, Owed(coming, stood_for, left - 1)
            return
        yield acts, None
        if not self.machines or not acts:
            return
        if len(acts) > 1:
            for act in acts:
                yield (act,), None
            return
        for other in self.racing:
            if other.name != acts[0].name:
                yield (other,), Owed(other, acts[0], RACE_STEPS - 1)

    def on_as_taken(self, on: On, owed: Owed | None) -> On:
        """What is on for machines that have taken an act before it came, and another one not yet."""
        turned = [self.place[event.name] for event in (owed.coming, owed.stood_for)] if owed is not None else []
        return tuple(is_on != (place in turned) for place, is_on in enumerate(on))

    def move(
        self, now_in: Machines, events: list[Event], before: On, on: On, counts: tuple[int, ...],
        started: bool,
    ) -> tuple[Machines, list[Event]]:  # fmt: skip
        """Every machine one step on, and what they entered and left."""
        cap = [self.cap(machine) for machine in self.machines]
        now = [
            (one, min(since + 1, most), min(moved + 1, most))
            for (one, since, moved), most in zip(now_in, cap, strict=True)
        ]
        moves: list[Event] = []
        if not started:
            moves = [Event(m.name, "machine", "enters", m.states[0]) for m in self.machines]
        moved: set[int] = set()
        again = True
        while again:
            again = False
            for number, machine in enumerate(self.machines):
                if number in moved:
                    continue
                was, since, age = now[number]
                lost = 0 < age < (machine.deaf_steps or 0)
                transition = self._taken(machine, was, since, lost, [*events, *moves], now_in, before, on, counts)
                if transition is None:
                    continue
                moved.add(number)
                moves += [
                    Event(machine.name, "machine", "leaves", was),
                    Event(machine.name, "machine", "enters", transition.to),
                ]
                now[number] = (transition.to, 0, 0)
                again = True
        return tuple(now), moves

    def _taken(
        self, machine: Automaton, was: str, since: int, lost: bool, events: list[Event],
        machines: Machines, before: On, on: On, counts: tuple[int, ...],
    ) -> Transition | None:  # fmt: skip
        places = len(self.outputs)
        look = (*before[:places], *on[places:])  # outputs at the step before, triggers at this one
        for transition in machine.transitions:
            if transition.states and was not in transition.states:
                continue
            if transition.after_steps is not None:
                falls = since >= transition.after_steps if transition.condition else since == transition.after_steps
            else:
                event = transition.event
                if event is None or event not in events or (lost and event.kind == "trigger"):
                    continue
                falls = self.counts_now(event, transition.ordinal, counts)
            if falls and (transition.condition is None or self.holds(transition.condition, look, machines)):
                return transition
        return None

    def counts_now(self, event: Event, ordinal: Ordinal | None, counts: tuple[int, ...]) -> bool:
        """Whether the event of this step is one that the ordinal chooses."""
        if ordinal is None:
            return True
        count = counts[self.ordinals.index(event)]
        return count % ordinal.number == 0 if ordinal.every else count == ordinal.number

    def holds(self, condition: Condition, on: On, machines: Machines) -> bool:
        """Whether a condition holds, given what is on and where machines are."""
        if isinstance(condition, Has):
            if condition.kind == "machine":
                number = next(n for n, machine in enumerate(self.machines) if machine.name == condition.name)
                return machines[number][0] == condition.state
            return on[self.place[condition.name]] == condition.on
        if isinstance(condition, Both):
            return all(self.holds(part, on, machines) for part in condition.parts)
        if isinstance(condition, Either):
            return any(self.holds(part, on, machines) for part in condition.parts)
        return not self.holds(condition.inner, on, machines)


def _minded(transition: Transition) -> Iterator[str]:
    """The triggers that a transition waits for or looks at."""
    if transition.event is not None and transition.event.kind == "trigger":
        yield transition.event.name
    yield from (atom.name for atom in condition_atoms(transition.condition) if atom.kind == "trigger")
