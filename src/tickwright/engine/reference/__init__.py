"""The reference engine: the rules on plain cells, clarity first; the oracle, and the quick path for small jobs.

Data flow: `simulation` holds the world and its one way to change; `signals`, `pistons`, `items` and `hand` say what
each part does in it. Imports rules and plan; no numpy.
"""

from tickwright.engine.reference.simulation import Configurations, Simulation, trace_of
from tickwright.engine.reference.state import state_key

__all__ = ["Configurations", "Simulation", "state_key", "trace_of"]
