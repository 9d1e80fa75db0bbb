"""Rules from builds: which rule sets give what was measured in a world, and what to build next to tell them apart.

`measured` reads what was measured, `runs` plays it under many rule sets, `values` says what a rule set may be changed
to, `fitting` searches, `bench` has small circuits that together tell most changes apart.
"""

from __future__ import annotations

from tickwright.diagnosis.world.bench import bench_sheet, measured_text
from tickwright.diagnosis.world.circuits import bench_names, bench_plan
from tickwright.diagnosis.world.fitting import Explained, Fitted, fit_rules
from tickwright.diagnosis.world.measured import Measured, load_measured
from tickwright.diagnosis.world.values import rules_text, with_values

__all__ = [
    "Explained",
    "Fitted",
    "Measured",
    "bench_names",
    "bench_plan",
    "bench_sheet",
    "fit_rules",
    "load_measured",
    "measured_text",
    "rules_text",
    "with_values",
]
