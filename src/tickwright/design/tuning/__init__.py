"""Tuning: the smallest changes to a plan that bring its hold to the one wanted, and what each of its knobs does."""

from tickwright.design.tuning.by_chart import ChartTuning, TunedToChart, tune_to_chart
from tickwright.design.tuning.changes import choices_at
from tickwright.design.tuning.costs import KNOBS_COST, NO_HOLD, error_text, holds_texts
from tickwright.design.tuning.knob_row import KnobRow
from tickwright.design.tuning.tuner import Tuned, Tuning, knob_table, tune

__all__ = [
    "KNOBS_COST",
    "NO_HOLD",
    "ChartTuning",
    "KnobRow",
    "Tuned",
    "TunedToChart",
    "Tuning",
    "choices_at",
    "error_text",
    "holds_texts",
    "knob_table",
    "tune",
    "tune_to_chart",
]
