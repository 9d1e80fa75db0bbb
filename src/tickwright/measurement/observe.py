"""Watch what presses do until nothing more can happen: to rest, to a state that comes back, or to a stated bound."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from tickwright.engine.reference import Configurations, Simulation, state_key
from tickwright.engine.trace import Trace
from tickwright.findings import Finding
from tickwright.measurement.press import Trigger, press_stimuli, with_button
from tickwright.measurement.pulses import Pulse, pulses
from tickwright.plan.setup import Setup
from tickwright.space import Cell

SETTLE_STEPS = 400
MOST_STEPS = 20 * 3600 * 24
MOST_ACTIVE_STEPS = 400_000
UNCHECKED_STEPS = 300
LOOKED_UP_STEPS = 1_000  # in so many active steps from its last press an observation may come into an earlier one
MOST_KEPT_STATES = 4_000


@dataclass(slots=True)
class Observation:
    """What followed a press, in steps from it.

    `changes[output]` begins with (-1, value before the press). `rest_steps` is when the last thing happened, None if
    the circuit never comes to rest; `returns_to` then is the (step, later step) between which it repeats itself for
    ever. Both None: undecided at the bound. `pressed_at` is the step of the press, `settled` whether all was at rest,
    `active_steps` in how many steps of the run something happened from the press on.
    """

    pressed_at: int
    settled: bool
    changes: dict[str, list[tuple[int, int]]]
    rest_steps: int | None
    returns_to: tuple[int, int] | None
    seen_steps: int
    findings: tuple[Finding, ...]
    active_steps: int = 0

    @property
    def decided(self) -> bool:
        """Whether all that will ever follow is known."""
        return self.rest_steps is not None or self.returns_to is not None

    def rest(self, output: str, threshold: int = 1) -> str:
        """What the output shows at rest, "on" or "off": what it shows just before the press.

        What goes on and off for ever, pressed or not, has no rest and counts as off.
        """
        if not self.settled and self.toggles_for_ever(output, threshold):
            return "off"
        return "on" if self.changes[output][0][1] >= threshold else "off"

    def pulses(self, output: str, threshold: int = 1) -> list[Pulse]:
        """The output's pulses that begin with or after the press; the last has no duration if it never ends.

        A pulse departs from rest and returns to it: of an output that is on at rest pulses are its absences.
        """
        if self.rest(output, threshold) == "off":
            return pulses(self.changes[output], threshold=threshold)
        return pulses((step, int(value < threshold)) for step, value in self.changes[output])

    def trace(self, steps: int) -> Trace:
        """The first `steps` steps from the press as a trace of the outputs."""
        changes: dict[str, tuple[tuple[int, int], ...]] = {}
        for name, pairs in self.changes.items():
            at_press = [value for step, value in pairs if step <= 0][-1]
            changes[name] = ((0, at_press), *(pair for pair in pairs if 0 < pair[0] < steps))
        return Trace(steps, changes)

    def toggles_for_ever(self, output: str, threshold: int = 1) -> bool:
        """Whether the output goes on and off within the part of the run that comes back for ever."""
        if self.returns_to is None:
            return False
        first, last = self.returns_to
        values = [value >= threshold for step, value in self.changes[output] if first < step <= last]
        before = [value >= threshold for step, value in self.changes[output] if step <= first][-1]
        return any(value != before for value in values)


@dataclass(slots=True)
class Futures:
    """What followed each of some states, for observations of one plan, rule set, order, trigger and cells to watch.

    All of them with a length, or all without. One that comes, after its last press, into a state that an earlier one
    was in goes on like that one for ever and need not be run on. States are kept, and looked up, once one was long.
    """

    long: bool = False
    after: dict[Hashable, tuple[Observation, int]] = field(
        default_factory=dict
    )  # state -> who was in it, in which step

    def learn(self, seen: Observation, states: Sequence[tuple[Hashable, int]]) -> None:
        """Keep the states, each with its step; those that come before what comes back for ever, if anything does."""
        last = seen.seen_steps if seen.returns_to is None else seen.returns_to[0]
        if seen.decided:
            for state, step in states:
                if step <= last and len(self.after) < MOST_KEPT_STATES:
                    self.after.setdefault(state, (seen, step))
        self.long = self.long or seen.active_steps > UNCHECKED_STEPS


@dataclass(slots=True)
class Runs:
    """What runs of one plan under one rule set share, so that it is worked out once.

    That is geometries, the circuit come to rest and what was observed already; apart for a plan in which a button
    stands in the trigger's place, by its cell.
    """

    configurations: dict[Cell | None, Configurations] = field(default_factory=dict)
    settled: dict[tuple[str, Cell | None], tuple[Simulation, int, bool]] = field(default_factory=dict)
    seen: dict[tuple[object, ...], Observation] = field(default_factory=dict)
    futures: dict[tuple[object, ...], Futures] = field(default_factory=dict)

    def start(self, setup: Setup, button: Trigger | None = None) -> tuple[Simulation, int, bool]:
        """A simulation of the circuit come to rest, which the caller may run on, and what `settle` says of it."""
        order = setup.order
        cell = button.cell if button is not None else None
        if (order, cell) not in self.settled:
            laid = with_button(setup.plan, button) if button is not None else setup.plan
            shared = self.configurations.setdefault(cell, {})
            sim = Simulation(Setup(laid, setup.rules, order), setup.plan.outputs, configurations=shared)
            self.settled[order, cell] = (sim, *settle(sim))
        sim, pressed_at, settled = self.settled[order, cell]
        return sim.copy(), pressed_at, settled


def observe(
    setup: Setup,
    trigger: Trigger,
    length_steps: int | None = None,
    again: Sequence[int] = (),
    most_steps: int = MOST_STEPS,
    runs: Runs | None = None,
    wait_steps: int = 0,
    level: int | None = None,
    also: Mapping[str, Cell] | None = None,
) -> Observation:
    """Let the circuit settle, press once (and again so many steps after), and watch until it is decided.

    What does not come to rest is pressed at a set step; with `wait_steps`, as many steps later.
    With `length_steps` a button of that length takes the trigger's place, which gives `level` instead of 15 if that is
    given. `also` names cells to watch besides the outputs. Observations of one plan and rule set may share `runs`: of
    one that goes on like an earlier one, `findings` and `active_steps` are those of what was run.
    """
    runs = runs or Runs()
    key = (trigger, length_steps, tuple(again), setup.order, most_steps, wait_steps, level)
    known = runs.seen.get(key)
    if known is not None and not also:
        return known
    sim, pressed_at, settled = runs.start(setup, trigger if length_steps is not None else None)
    if length_steps is not None:
        trigger = trigger._replace(kind="short-button", length_steps=length_steps)
        sim.button_steps = {trigger.cell: length_steps}
    if level is not None:
        sim.button_levels = {trigger.cell: level}
    watch = {**setup.plan.outputs, **(also or {})}
    sim.watch(watch)
    if wait_steps:
        pressed_at += wait_steps
        sim.advance(pressed_at)
    family = (setup.order, trigger.name, length_steps is None, *watch)
    pressed = _Pressed(sim, tuple(watch), pressed_at, settled, runs.futures.setdefault(family, Futures()))
    for offset in (0, *again):
        sim.queue_stimuli(press_stimuli(trigger, pressed_at + offset))
    runs.seen[key] = seen = pressed.watch(max(again, default=0), most_steps)
    return seen


def observe_unpressed(setup: Setup) -> Observation:
    """Watch the circuit from the start of the world until it is decided, and press nothing.

    Steps count from the start; `changes[output]` begins with (-1, 0), so that what is on from the start comes on at 0.
    """
    sim = Simulation(setup, watch=setup.plan.outputs)
    started = _Pressed(sim, tuple(setup.plan.outputs), 0, False, Futures())
    started.before = [0] * len(setup.plan.outputs)
    return started.watch(0, MOST_STEPS)


class _Pressed:
    """A simulation from the moment of a press on, and what it showed since at the end of each step."""

    def __init__(
        self, sim: Simulation, names: tuple[str, ...], pressed_at: int, settled: bool, futures: Futures
    ) -> None:
        self.sim, self.names, self.pressed_at, self.settled, self.futures = sim, names, pressed_at, settled, futures
        self.before = sim.shown()
        self.samples: list[tuple[int, list[int]]] = []
        self._keep()

    def _keep(self) -> None:
        samples = self.samples
        self.sim.sample = lambda step, values: samples.append((step, values))

    def copy(self) -> _Pressed:
        """One that goes on as this would, and on its own."""
        clone = object.__new__(_Pressed)
        clone.__dict__.update(self.__dict__, sim=self.sim.copy(), samples=self.samples.copy())
        clone._keep()
        return clone

    def watch(self, last_press: int, most_steps: int) -> Observation:
        """Run on from the last press, so many steps after the first, until all is decided."""
        sim, pressed_at = self.sim, self.pressed_at
        states: list[tuple[Hashable, int]] = []
        ending = _watch(sim, pressed_at, pressed_at + last_press, most_steps, self.futures, states)
        changes = {name: [(-1, value)] for name, value in zip(self.names, self.before, strict=True)}
        for step, values in self.samples:
            for list_, value in zip(changes.values(), values, strict=True):
                if value != list_[-1][1]:
                    list_.append((step - pressed_at, value))
        seen, found = sim.now - pressed_at, sim.notes.findings()
        observed = Observation(pressed_at, self.settled, changes, None, None, seen, found, len(self.samples))
        if isinstance(ending, _Met):
            return _gone_on(observed, ending)
        observed.rest_steps, observed.returns_to = ending
        self.futures.learn(observed, states)
        return observed


class FirstPress:
    """A press whose run goes on step by step, to press again at moments of it, each time in a copy of the run."""

    def __init__(self, setup: Setup, trigger: Trigger, runs: Runs | None = None) -> None:
        runs = runs or Runs()
        sim, pressed_at, settled = runs.start(setup)
        self._trigger = trigger
        futures = runs.futures.setdefault((setup.order, trigger.name, True, *setup.plan.outputs), Futures())
        self._pressed = _Pressed(sim, tuple(setup.plan.outputs), pressed_at, settled, futures)
        sim.queue_stimuli(press_stimuli(trigger, pressed_at))

    def advance(self, offset: int) -> None:
        """Simulate all that comes before the step `offset` steps after the press."""
        self._pressed.sim.advance(self._pressed.pressed_at + offset)

    def again(self, offset: int) -> Observation:
        """What `observe` sees of this press and a second one `offset` steps after it: no fewer than it has advanced."""
        second = self._pressed.copy()
        second.sim.queue_stimuli(press_stimuli(self._trigger, second.pressed_at + offset))
        return second.watch(offset, MOST_STEPS)


def settle(sim: Simulation) -> tuple[int, bool]:
    """Let a new simulation come to rest; the first step to press in, and whether it did come to rest by then."""
    if sim.next_step() is None:
        return 0, True
    sim.advance(SETTLE_STEPS)
    settled = sim.next_step() is None
    return (sim.now + 1 if settled else SETTLE_STEPS), settled


class _Met(NamedTuple):
    """An observation in the state that an earlier one was in at the end of `step`."""

    earlier: Observation
    step: int


def _watch(
    sim: Simulation,
    pressed_at: int,
    last_press: int,
    most_steps: int,
    futures: Futures,
    states: list[tuple[Hashable, int]],
) -> tuple[int | None, tuple[int, int] | None] | _Met:
    """Run on until rest, a state that comes back, or one that an earlier observation was in; `states` are gathered.

    A state that comes back is found by Brent's way of doubling the distance between kept states.
    """
    sim.advance(last_press + 1)
    kept, kept_at, power, seen = None, 0, 1, 0
    kept_counts: list[int] | None = None
    looked_up = LOOKED_UP_STEPS if futures.long else 0
    for active in range(MOST_ACTIVE_STEPS):
        step = sim.next_step()
        if step is None:
            return sim.now - pressed_at, None
        if step - pressed_at > most_steps:
            break
        sim.step(step)
        if active < looked_up:
            key = state_key(sim)
            met = futures.after.get(key)
            if met is not None and met[0].seen_steps - met[1] + sim.now - pressed_at <= most_steps:
                return _Met(*met)
            states.append((key, sim.now - pressed_at))
        if active < UNCHECKED_STEPS:
            continue
        counts = list(sim.count.values())  # they are part of the state, and quicker to tell apart
        if counts == kept_counts and state_key(sim) == kept:
            return None, (kept_at - pressed_at, sim.now - pressed_at)
        seen += 1
        if seen == power:
            kept, kept_counts, kept_at, power, seen = state_key(sim), counts, sim.now, power * 2, 0
    return None, None


def _gone_on(seen: Observation, met: _Met) -> Observation:
    """The observation up to the state that it met, and from there what the earlier one has."""
    earlier, shift = met.earlier, seen.seen_steps - met.step
    for output, list_ in seen.changes.items():
        list_ += [(step + shift, value) for step, value in earlier.changes[output] if step > met.step]
    first, last = earlier.returns_to or (0, 0)
    return replace(
        seen,
        rest_steps=None if earlier.rest_steps is None else earlier.rest_steps + shift,
        returns_to=None if earlier.returns_to is None else (first + shift, last + shift),
        seen_steps=earlier.seen_steps + shift,
    )
