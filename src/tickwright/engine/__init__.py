"""Engines and what they record: runs and traces. Imports the leaves, `rules` and `plan`; nothing heavy early."""

from tickwright.engine.running import Run, run
from tickwright.engine.trace import Trace, first_difference

__all__ = ["Run", "Trace", "first_difference", "run"]
