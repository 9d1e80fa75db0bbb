"""State machines that watch a run: which transitions its events take, step by step."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from tickwright.charts.notation import Automaton, Both, Condition, Either, Event, Has, Transition
from tickwright.charts.timeline import Timeline, Wave

RACE_STEPS = 4
MOST_ORDERS = 4_096
Entries = tuple[tuple[int, str], ...]


class Worked(NamedTuple):
    """An event of a trigger as the machines take it, and the step it fell in if that is another one."""

    step: int
    event: Event
    came: int | None = None


def watched(
    machines: Sequence[Automaton], timeline: Timeline, order: Sequence[Worked] | None = None
) -> dict[str, Entries]:
    """What states each machine enters in this run, and in which step; the first state at step 0.

    In step t the first listed transition of the state at the end of t - 1 is taken whose event falls in t and whose
    condition holds (triggers at t, outputs and machines at t - 1); one a step. `order` gives the events of triggers in
    another order in which they are taken: then acts of one step are looked at one after the other.

    >>> from tickwright.charts.notation import Names
    >>> from tickwright.charts.parsing import parse_transition
    >>> names = Names(("press",), (), {"lamp": ("off", "on")})
    >>> texts = ("off: press -> on", "on: press -> off")
    >>> toggle = Automaton("lamp", ("off", "on"), tuple(parse_transition(t, names, ("off", "on")) for t in texts))
    >>> watched([toggle], Timeline(99, worked={"press": (3, 30)}))["lamp"]
    ((0, 'off'), (3, 'on'), (30, 'off'))
    """
    if not machines:
        return {}
    return _Watch(machines, timeline, order).run()


def trigger_events(timeline: Timeline) -> list[Worked]:
    """All events of triggers in order of time; those of one step in the order of the triggers."""
    found = [
        Worked(step, Event(name, "trigger", "worked")) for name, steps in timeline.worked.items() for step in steps
    ]
    for name, steps in timeline.released.items():
        found += [Worked(step, Event(name, "trigger", "released")) for step in steps]
    return sorted(found, key=lambda worked: worked.step)


def orders(timeline: Timeline, held_on: Collection[str] = ()) -> Iterator[list[Worked] | None]:
    """Every order in which machines may take the acts: those of different triggers within 0.2 s in either one.

    The first, None, is as they come. Acts that change places take each other's steps. `held_on` are the triggers that
    hold on until they are let go: letting one go is an act, too.
    """
    yield None
    events = trigger_events(timeline)
    acts = [one for one in events if one.event.what == "worked" or one.event.name in held_on]
    others = [one for one in events if one not in acts]
    for number, order in enumerate(_turned(acts, [])):
        if number >= MOST_ORDERS:
            return
        if order != acts or any(a.step == b.step for a, b in pairwise(acts)):
            taken = [Worked(at.step, one.event, one.step) for at, one in zip(acts, order, strict=True)]
            yield sorted([*others, *taken], key=lambda one: one.step)


def _turned(left: list[Worked], order: list[Worked]) -> Iterator[list[Worked]]:
    """Every order of the acts in which only those within 0.2 s, of different triggers, have changed places."""
    if not left:
        yield order
        return
    for number, one in enumerate(left):
        passed = left[:number]
        if passed and one.step - passed[0].step > RACE_STEPS:
            return
        if all(other.event.name != one.event.name for other in passed):
            yield from _turned([*passed, *left[number + 1 :]], [*order, one])


class _Watch:
    """Machines at work over one run."""

    def __init__(self, machines: Sequence[Automaton], timeline: Timeline, order: Sequence[Worked] | None) -> None:
        self.one_by_one = order is not None
        self.machines = _in_order(machines)
        self.triggers = _as_taken(timeline.triggers, order or ())
        self.timeline = timeline
        self.entries: dict[str, list[tuple[int, str]]] = {one.name: [(0, one.states[0])] for one in machines}
        self.counted: dict[Event, int] = {}
        self.by_step: dict[int, list[Event]] = {}
        for one in trigger_events(timeline) if order is None else order:
            self.by_step.setdefault(one.step, []).append(one.event)
        self.by_step.setdefault(0, []).extend(Event(one.name, "machine", "enters", one.states[0]) for one in machines)
        outputs = {atom for one in machines for t in one.transitions for atom in _output_events(t)}
        for event in outputs:
            for step in timeline.times(event):
                self.by_step.setdefault(step, []).append(event)

    def run(self) -> dict[str, Entries]:
        waiting = [step for step in self.by_step if step < self.timeline.steps]
        looks = {*waiting, *self._change_steps()}
        while looks:
            step = min(looks)
            looks.discard(step)
            for machine in self._step(step):
                for transition in machine.transitions:
                    due = step + (transition.after_steps or 0)
                    if transition.after_steps is not None and due < self.timeline.steps:
                        looks.add(due)
                if step + 1 < self.timeline.steps:
                    looks.add(step + 1)  # a condition that looks at this machine sees it then
        return {name: tuple(entries) for name, entries in self.entries.items()}

    def _change_steps(self) -> set[int]:
        """Steps in which an `after` may fall at the start, or a condition that one waits for may begin to hold."""
        steps: set[int] = set()
        for machine in self.machines:
            for transition in machine.transitions:
                if transition.after_steps is None:
                    continue
                steps.add(transition.after_steps)
                for name, kind in _looked_at(transition.condition):
                    if kind == "output":
                        steps |= {step + 1 for step in self.timeline.outputs[name].toggles}
                    elif kind == "trigger":
                        steps |= set(self.triggers[name].toggles)
        return {step for step in steps if step < self.timeline.steps}

    def _step(self, step: int) -> list[Automaton]:
        """Let every machine take its transition of this step; those that did."""
        events = list(self.by_step.get(step, ()))
        for event in dict.fromkeys(events):
            self.counted[event] = self.counted.get(event, 0) + 1
        before = {name: _state_before(entries, step) for name, entries in self.entries.items()}
        moved: list[Automaton] = []
        again = True
        while again:
            again = False
            for machine in self.machines:
                if machine in moved:
                    continue
                taken = self._taken(machine, step, events, before)
                if taken is not None:
                    now = before[machine.name]
                    self.entries[machine.name].append((step, taken.to))
                    moved.append(machine)
                    for what, state in (("leaves", now), ("enters", taken.to)):
                        event = Event(machine.name, "machine", what, state)  # type: ignore[arg-type]
                        events.append(event)
                        self.counted[event] = self.counted.get(event, 0) + 1
                    again = True
        return moved

    def _taken(
        self, machine: Automaton, step: int, events: list[Event], before: Mapping[str, str]
    ) -> Transition | None:
        entered, _ = self.entries[machine.name][-1]
        first_entry = len(self.entries[machine.name]) == 1
        deaf = machine.deaf_steps or 0
        lost = not first_entry and 0 < step - entered < deaf
        triggers_here = [event for event in events if event.kind == "trigger" and event.what == "worked"]
        heard: list[list[Event]] = [events]
        if (
            self.one_by_one and len(set(triggers_here)) > 1
        ):  # acts of one step: the first in the order that a transition takes
            others = [event for event in events if event not in triggers_here]
            heard = [[*others, event] for event in triggers_here]
        for heard_now in heard:
            for transition in machine.transitions:
                if transition.states and before[machine.name] not in transition.states:
                    continue
                if transition.after_steps is not None:
                    due = entered + transition.after_steps
                    falls = step >= due if transition.condition is not None else step == due
                else:
                    event = transition.event
                    if event is None:
                        continue
                    falls = event in heard_now and not (lost and event.kind == "trigger")
                    if falls and transition.ordinal is not None:
                        count, number = self.counted[event], transition.ordinal.number
                        falls = count % number == 0 if transition.ordinal.every else count == number
                if falls and self._holds(transition.condition, step, before):
                    return transition
        return None

    def _holds(self, condition: Condition | None, step: int, before: Mapping[str, str]) -> bool:
        """Triggers at this step, outputs and machines at the one before."""
        if condition is None:
            return True
        if isinstance(condition, Has):
            if condition.kind == "machine":
                return before[condition.name] == condition.state
            if condition.kind == "trigger":
                return self.triggers[condition.name].at(step) == condition.on
            return self.timeline.outputs[condition.name].at(step - 1) == condition.on
        if isinstance(condition, Both):
            return all(self._holds(part, step, before) for part in condition.parts)
        if isinstance(condition, Either):
            return any(self._holds(part, step, before) for part in condition.parts)
        return not self._holds(condition.inner, step, before)


def _as_taken(waves: Mapping[str, Wave], order: Sequence[Worked]) -> dict[str, Wave]:
    """When triggers are on for machines that take the acts in this order."""
    found = dict(waves)
    for name, wave in waves.items():
        to = {one.came: one.step for one in order if one.came is not None and one.event.name == name}
        found[name] = wave._replace(toggles=tuple(sorted(to.get(step, step) for step in wave.toggles)))
    return found


def _state_before(entries: Sequence[tuple[int, str]], step: int) -> str:
    """The state at the end of the step before; at step 0 the first one."""
    for at, state in reversed(entries):
        if at < step:
            return state
    return entries[0][1]


def _in_order(machines: Sequence[Automaton]) -> list[Automaton]:
    """Machines after those whose events they wait for; those that wait for each other as they are listed."""
    waits = {
        one.name: {t.event.name for t in one.transitions if t.event is not None and t.event.kind == "machine"}
        for one in machines
    }
    done: list[Automaton] = []
    left = list(machines)
    while left:
        names = {one.name for one in left}
        ready = [one for one in left if not (waits[one.name] - {one.name}) & names] or left[:1]
        done += ready
        left = [one for one in left if one not in ready]
    return done


def _output_events(transition: Transition) -> list[Event]:
    return [transition.event] if transition.event is not None and transition.event.kind == "output" else []


def _looked_at(condition: Condition | None) -> Iterator[tuple[str, str]]:
    if isinstance(condition, Has):
        yield condition.name, condition.kind
    elif isinstance(condition, Both | Either):
        for part in condition.parts:
            yield from _looked_at(part)
    elif condition is not None:
        yield from _looked_at(condition.inner)


def with_machines(timeline: Timeline, machines: Sequence[Automaton], order: Sequence[Worked] | None = None) -> Timeline:
    """The run with its machines watched."""
    return replace(timeline, machines=watched(machines, timeline, order))
