"""Tuning: the smallest changes to a plan that bring its hold to the one wanted, and what each of its knobs does."""

from tickwright.design.tuning.by_chart import ChartTuning, TunedToChart, tune_to_chart
from tickwright.design.tuning.changes import choices_at
from tickwright.design.tuning.tuner import KnobRow, Tuned, Tuning, knob_table, tune

__all__ = [
    "ChartTuning",
    "KnobRow",
    "Tuned",
    "TunedToChart",
    "Tuning",
    "choices_at",
    "knob_table",
    "tune",
    "tune_to_chart",
]
