"""Watch what presses do until nothing more can happen: to rest, to a state that comes back, or to a stated bound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tickwright.engine.reference import Configurations, Simulation, state_key
from tickwright.engine.trace import Trace
from tickwright.findings import Finding
from tickwright.measure.press import Trigger, press_acts, with_button
from tickwright.measure.pulses import Pulse, pulses
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet

SETTLE_STEPS = 400
MOST_STEPS = 20 * 3600 * 24
MOST_ACTIVE_STEPS = 400_000
UNCHECKED_STEPS = 300


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

    def pulses(self, output: str, threshold: int = 1) -> list[Pulse]:
        """The output's pulses that begin with or after the press; the last has no duration if it never ends."""
        return pulses(self.changes[output], threshold=threshold)

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


def observe(
    plan: Plan,
    rules: RuleSet,
    trigger: Trigger,
    length_steps: int | None = None,
    again: Sequence[int] = (),
    order: str = "canonical",
    most_steps: int = MOST_STEPS,
    configurations: Configurations | None = None,
    wait_steps: int = 0,
    level: int | None = None,
) -> Observation:
    """Let the circuit settle, press once (and again so many steps after), and watch until it is decided.

    What does not come to rest is pressed at a set step; with `wait_steps`, as many steps later.
    With `length_steps` a button of that length takes the trigger's place, which gives `level` instead of 15 if that is
    given. Observations of one plan, rule set and
    trigger, all with or all without a length, may share `configurations`.
    """
    button_steps = None
    if length_steps is not None:
        plan = with_button(plan, trigger)
        trigger = trigger._replace(kind="short-button", length_steps=length_steps)
        button_steps = {trigger.cell: length_steps}
    samples: list[tuple[int, list[int]]] = []
    sim = Simulation(
        plan,
        rules,
        order,
        plan.outputs,
        lambda step, values: samples.append((step, values)),
        button_steps,
        configurations,
        None if level is None else {trigger.cell: level},
    )
    pressed_at, settled = settle(sim)
    if wait_steps:
        pressed_at += wait_steps
        sim.advance(pressed_at)
    before = sim.shown()
    samples.clear()
    for offset in (0, *again):
        sim.queue_acts(press_acts(trigger, pressed_at + offset))
    last_press = pressed_at + max(again, default=0)
    rest, returns = _watch(sim, pressed_at, last_press, most_steps)
    changes = {name: [(-1, value)] for name, value in zip(plan.outputs, before, strict=True)}
    for step, values in samples:
        for list_, value in zip(changes.values(), values, strict=True):
            if value != list_[-1][1]:
                list_.append((step - pressed_at, value))
    seen, found = sim.now - pressed_at, sim.notes.findings()
    return Observation(pressed_at, settled, changes, rest, returns, seen, found, len(samples))


def settle(sim: Simulation) -> tuple[int, bool]:
    """Let a new simulation come to rest; the first step to press in, and whether it did come to rest by then."""
    if sim.next_step() is None:
        return 0, True
    sim.advance(SETTLE_STEPS)
    settled = sim.next_step() is None
    return (sim.now + 1 if settled else SETTLE_STEPS), settled


def _watch(
    sim: Simulation, pressed_at: int, last_press: int, most_steps: int
) -> tuple[int | None, tuple[int, int] | None]:
    """Run on until rest or a state that comes back (Brent's way of doubling the distance between kept states)."""
    sim.advance(last_press + 1)
    kept, kept_at, power, seen = None, 0, 1, 0
    for active in range(MOST_ACTIVE_STEPS):
        step = sim.next_step()
        if step is None:
            return sim.now - pressed_at, None
        if step - pressed_at > most_steps:
            break
        sim.step(step)
        if active < UNCHECKED_STEPS:
            continue
        key = state_key(sim)
        if key == kept:
            return None, (kept_at - pressed_at, sim.now - pressed_at)
        seen += 1
        if seen == power:
            kept, kept_at, power, seen = key, sim.now, power * 2, 0
    return None, None
