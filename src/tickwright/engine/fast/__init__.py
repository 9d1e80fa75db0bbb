"""The fast engine: Circuits stepped by compiled code; for sweeps, searches, proofs and large plans.

Data flow: `packing` lays a Circuit into `arrays`; `signals`, `matter`, `steps` and `many` are the compiled code, called
through `entries`; `simulation` drives one run, and does in Python what moves cells (`moving`); `batch` drives many;
`stategraph` finds all that can follow a state (compiled: `states`).
Imports numpy and numba: import this only when it is needed.
"""

from tickwright.engine.fast.batch import Batch, Jobs, Outcomes
from tickwright.engine.fast.simulation import Simulation, trace_of
from tickwright.engine.fast.stategraph import StateGraph
from tickwright.engine.interface import Job

__all__ = ["Batch", "Job", "Jobs", "Outcomes", "Simulation", "StateGraph", "trace_of"]
