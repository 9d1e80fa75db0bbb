"""Phase: what a press does at every moment of a circuit that is not at rest before it, such as a running clock."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from tickwright.engine.reference import Simulation, state_key
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import MOST_ACTIVE_STEPS, Observation, Runs, observe, settle
from tickwright.measurement.press import Trigger
from tickwright.plan.setup import Setup

MOST_PHASES = 200
MOST_WATCHED_STEPS = 200_000  # of all presses together, by what the first of them took


class PhaseRow(NamedTuple):
    """What a press `phase_steps` into the period does; None for what never began, or a hold that never ends."""

    phase_steps: int
    kind: str
    delay_steps: int | None
    hold_steps: int | None


class Phases(NamedTuple):
    """The answers to presses at the phases of the circuit's own period.

    `period_steps` is how soon the whole unpressed circuit comes back to the same state; None if it does not run in a
    period, and then `reason` says why there is one phase only. Every `every_steps`-th phase was tried: 1 means all.
    """

    period_steps: int | None
    every_steps: int
    reason: str | None
    rows: tuple[PhaseRow, ...]

    @property
    def delays(self) -> tuple[int, int] | None:
        """The least and the greatest delay of those that answered at all."""
        found = [row.delay_steps for row in self.rows if row.delay_steps is not None]
        return (min(found), max(found)) if found else None

    @property
    def holds(self) -> tuple[int, int] | None:
        """The least and the greatest hold of those that end."""
        found = [row.hold_steps for row in self.rows if row.hold_steps is not None]
        return (min(found), max(found)) if found else None

    def as_data(self) -> dict[str, Any]:
        """The phases as JSON shows them."""
        delays, holds = self.delays or (None, None), self.holds or (None, None)
        return {
            "period_steps": self.period_steps,
            "every_steps": self.every_steps,
            "reason": self.reason,
            "delay_min_steps": delays[0],
            "delay_max_steps": delays[1],
            "hold_min_steps": holds[0],
            "hold_max_steps": holds[1],
            "map": [row._asdict() for row in self.rows],
        }


def phases(setup: Setup, trigger: Trigger, outputs: Sequence[str], alone: Observation) -> dict[str, Phases]:
    """For each output the answers at every phase of one period, at most 200 and fewer of what takes long to watch.

    `alone` is the observation of a press as `observe` makes it: for a circuit at rest before it, that is all there is.
    """
    if alone.settled:
        return _once(alone, outputs, "at rest before the press: one phase only")
    found = unpressed_period(setup)
    if found is None:
        return _once(alone, outputs, "neither at rest before the press nor seen to repeat itself: one phase tried")
    wait, period = found
    number = max(1, min(period, MOST_PHASES, MOST_WATCHED_STEPS // max(alone.seen_steps, 1)))
    every = -(-period // number)
    rows: dict[str, list[PhaseRow]] = {output: [] for output in outputs}
    runs = Runs()
    for phase in range(0, period, every):
        seen = observe(setup, trigger, runs=runs, wait_steps=wait + phase)
        for output in outputs:
            rows[output].append(_row(seen, output, phase))
    return {output: Phases(period, every, None, tuple(rows[output])) for output in outputs}


def _once(alone: Observation, outputs: Sequence[str], reason: str) -> dict[str, Phases]:
    return {output: Phases(None, 1, reason, (_row(alone, output, 0),)) for output in outputs}


def _row(seen: Observation, output: str, phase: int) -> PhaseRow:
    found, kind = seen.pulses(output), kind_of(seen, output)
    hold = hold_of(found) if kind in ("one-shot", "train") else None
    return PhaseRow(phase, kind, found[0].start if found else None, hold)


def unpressed_period(setup: Setup) -> tuple[int, int] | None:
    """How long after the usual step of a press the unpressed circuit runs in its period, and that period, in steps.

    None if it comes to rest, or does not come back to a state that was kept (Brent's way, as for clocks).
    """
    sim = Simulation(setup)
    first, _ = settle(sim)
    kept, kept_at, power, seen = None, 0, 1, 0
    for _ in range(MOST_ACTIVE_STEPS):
        step = sim.next_step()
        if step is None:
            return None
        sim.step(step)
        key = state_key(sim)
        if key == kept:
            return max(kept_at + 1 - first, 0), sim.now - kept_at
        seen += 1
        if seen == power:
            kept, kept_at, power, seen = key, sim.now, power * 2, 0
    return None
