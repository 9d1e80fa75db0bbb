"""Tuning: the smallest changes to a plan that bring its hold to the one wanted, and what each of its knobs does."""

from tickwright.design.tuning.tuner import KnobRow, Tuned, Tuning, knob_table, tune

__all__ = ["KnobRow", "Tuned", "Tuning", "knob_table", "tune"]
