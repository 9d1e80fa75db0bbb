"""The fast engine: Circuits stepped by compiled code; for sweeps, searches, proofs and large plans.

Data flow: `packing` lays a Circuit into `arrays`; `signals`, `matter` and `steps` are the compiled code over them;
`simulation` drives it, and does in Python what moves cells. Imports numpy and numba: import this only when needed.
"""

from tickwright.engine.fast.simulation import Simulation

__all__ = ["Simulation"]
