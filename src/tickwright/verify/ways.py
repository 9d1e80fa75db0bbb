"""How the states of a circuit follow each other under the hand: step by step, as a proof needs it.

The reference engine walks any circuit. Where no items and no cells move, the fast engine finds the same states
some twenty times as fast, once it has been loaded.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from itertools import permutations
from typing import Any, NamedTuple, Protocol

from tickwright.engine.reference import Simulation, state_key
from tickwright.kinds import BUTTONS, CONTAINERS, PARTS, is_a, kinds_with
from tickwright.measurement.press import Trigger
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup


class Step(NamedTuple):
    """What one step leads to: the acts at its end, the state then, what takes it up again, the output levels."""

    stimuli: tuple[Stimulus, ...]
    state: Hashable
    payload: Any
    levels: tuple[int, ...]


class Ways(Protocol):
    """The states and how they follow each other."""

    start: Step

    def look(self, payload: Any) -> tuple[bool, tuple[int, ...]]:
        """Whether nothing is due in the state of the payload, and the levels of the outputs."""

    def onward(self, payload: Any, most: int) -> Iterator[Step]:
        """The next step hands off, then with each list of at most so many acts that change something.

        Each trigger is used at most once, in any order. The payload may be used up.
        """


def needs_reference(plan: Plan, triggers: Sequence[Trigger]) -> bool:
    """Whether items or cells may move, which the graph of states cannot take."""
    matter = kinds_with("piston", "hopper", "ejector", "plate")
    by_hand = all(is_a(trigger.kind, "button", "lever") for trigger in triggers)
    return not by_hand or any(part.kind in matter for part in plan.cells.values())


class ReferenceWays:
    """The ways of a simulation of the reference engine, at the end of the step before `first`."""

    def __init__(self, sim: Simulation, triggers: Sequence[Trigger]) -> None:
        self.triggers = triggers
        self.start = self._step((), sim)

    def _step(self, stimuli: tuple[Stimulus, ...], sim: Simulation) -> Step:
        return Step(stimuli, state_key(sim), sim, tuple(sim.shown()))

    def look(self, payload: Simulation) -> tuple[bool, tuple[int, ...]]:
        """Whether nothing is due in this state, and the levels of the outputs."""
        return payload.next_step() is None, tuple(payload.shown())

    def onward(self, payload: Simulation, most: int) -> Iterator[Step]:
        """The next step hands off, then with each list of at most so many acts that change something."""
        sim = payload
        sim.step(sim.now + 1)
        pressed = []
        for stimuli in self._lists(sim, most):
            after = sim.copy()
            for stimulus in stimuli:
                after.do(stimulus)
            pressed.append((stimuli, after))
        yield self._step((), sim)
        for stimuli, after in pressed:
            yield self._step(stimuli, after)

    def _lists(self, sim: Simulation, most: int) -> Iterator[tuple[Stimulus, ...]]:
        stimuli = [stimulus for trigger in self.triggers if (stimulus := _act(sim, trigger)) is not None]
        for number in range(1, min(most, len(stimuli)) + 1):
            yield from permutations(stimuli, number)


class FastWays:
    """The ways of the fast engine's graph of states, for a plan that does not need the reference."""

    def __init__(self, setup: Setup, triggers: Sequence[Trigger], most: int | None, first: int) -> None:
        from tickwright.engine.native import StateGraph

        stimuli = [
            Stimulus(first, trigger.cell, "flip" if is_a(trigger.kind, "lever") else "press") for trigger in triggers
        ]
        numbers = range(1, min(len(stimuli) if most is None else most, len(stimuli)) + 1)
        places = [one for number in numbers for one in permutations(range(len(stimuli)), number)]
        self.lists = [tuple(stimuli[place] for place in places) for places in places]
        self.graph = StateGraph(setup, setup.plan.outputs, [stimulus.cell for stimulus in stimuli], places, first)
        self.start = Step((), 0, 0, self.graph.levels(0))

    def look(self, payload: int) -> tuple[bool, tuple[int, ...]]:
        """Whether nothing is due in this state, and the levels of the outputs."""
        return self.graph.rests(payload), self.graph.levels(payload)

    def onward(self, payload: int, most: int) -> Iterator[Step]:
        """The next step hands off, then with each list of at most so many acts that change something."""
        levels = self.graph.levels
        off, *pressed = self.graph.after(payload)
        yield Step((), off, off, levels(off))
        if most:
            for stimuli, after in zip(self.lists, pressed, strict=True):
                if after >= 0 and len(stimuli) <= most:
                    yield Step(stimuli, after, after, levels(after))


def _act(sim: Simulation, trigger: Trigger) -> Stimulus | None:
    """What the hand can do to the trigger at this moment that changes something; None if nothing."""
    cell, kind = trigger.cell, sim.kind_at(trigger.cell)
    if kind != trigger.kind:
        return None  # an arm, a cell on the move, or another part is there now
    if kind in BUTTONS:
        return Stimulus(sim.now, cell, "press") if sim.level.get(cell, 0) == 0 else None
    if is_a(kind, "lever"):
        return Stimulus(sim.now, cell, "flip")
    if kind is not None and PARTS[kind].feels == "creatures":
        return Stimulus(sim.now, cell, "leave" if sim.matter.creatures.get(cell, 0) else "tread")
    if kind in CONTAINERS:
        return Stimulus(sim.now, cell, "put")
    return Stimulus(sim.now, cell, "take" if cell in sim.matter.resting else "drop")
