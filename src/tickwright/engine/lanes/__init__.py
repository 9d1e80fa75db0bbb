"""The lane engine: one circuit under 64 scripts of the hand at once, a bit for each; for parts that handle levels only.

Data flow: `packing` lays a Circuit into the arrays of `columns`, over which `ports` and `kernel` are the compiled code;
`simulation` runs scripts in lanes and gives traces or holds. Imports numpy and numba: import this only when needed.
"""

from tickwright.engine.lanes.packing import refusal
from tickwright.engine.lanes.simulation import Lanes, Presses

__all__ = ["Lanes", "Presses", "refusal"]
