"""The fast engine: Circuits stepped by compiled code; for sweeps, searches, proofs and large plans.

Data flow: `packing` lays a Circuit into `arrays`; `signals`, `matter`, `steps` and `many` are the compiled code, called
through `entries`; `simulation` drives one run, and does in Python what moves cells (`moving`); `batch` drives many;
`stategraph` finds all that can follow a state (compiled: `states`).
Imports numpy and numba: import this only when it is needed.
"""

from tickwright.engine.fast.batch import Batch, Job, Jobs, Outcomes
from tickwright.engine.fast.simulation import Simulation
from tickwright.engine.fast.stategraph import StateGraph

__all__ = ["Batch", "Job", "Jobs", "Outcomes", "Simulation", "StateGraph"]
