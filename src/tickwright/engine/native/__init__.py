"""The native engine: rules.md again, in C (`c/`), for sweeps, searches, proofs and large plans.

Data flow: `library` loads what was compiled, `packing` lays plans and stimuli out as it takes them, `simulation` runs
one plan, `batch` many in one call, `copies` one run with further acts, `states` finds all states, `product` walks them
with observers of presses, `monitored` with a monitor of the caller's, `messages` says what the library noted, `routes`
lays tiles and routes nets. Imports leaves, `kinds`, `rules`, `plan` and traces; no numpy.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from tickwright.engine.interface import Job
from tickwright.engine.native.batch import Batch, Outcomes, press_lengths
from tickwright.engine.native.copies import ACT, LET_GO, WORKED, Further, further
from tickwright.engine.native.library import is_installed
from tickwright.engine.native.monitored import FORBIDDEN, UNJUDGED, WRONG, Asked, Monitored, Refuted
from tickwright.engine.native.product import Limit, Product
from tickwright.engine.native.simulation import Simulation
from tickwright.engine.native.states import StateGraph
from tickwright.engine.notes import Notes
from tickwright.engine.trace import Trace
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.space import Cell

__all__ = [
    "ACT", "FORBIDDEN", "LET_GO", "UNJUDGED", "WORKED", "WRONG", "Asked", "Batch", "Further", "Job", "Limit",
    "Monitored", "Outcomes", "Product", "Refuted", "Simulation", "StateGraph", "further", "is_installed",
    "press_lengths", "trace_of",
]  # fmt: skip


def trace_of(
    setup: Setup,
    watch: Mapping[str, Cell],
    stimuli: Iterable[Stimulus],
    steps: int,
    most_work: int | None = None,
) -> tuple[Trace, Notes] | None:
    """Simulate steps 0 to `steps` - 1; see `tickwright.engine.interface.Engine`."""
    simulation = Simulation(setup, watch, stimuli)
    if not simulation.advance(steps, most_work):
        return None
    return simulation.trace(steps), simulation.notes
