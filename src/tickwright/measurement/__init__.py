"""Numbers read off runs: pulses and their terms, holds, thresholds, recovery. Imports up to `engine`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports
from tickwright.measurement.measuring import Measurement, measure, measure_with_findings
from tickwright.measurement.observe import Observation, Runs, observe
from tickwright.measurement.press import Trigger, find_trigger
from tickwright.measurement.pulses import Pulse, duties, periods, pulses, separations

if TYPE_CHECKING:
    from tickwright.measurement.alone import ByItself, by_itself
    from tickwright.measurement.levels import (
        DistanceRow,
        Lap,
        LengthRow,
        LevelRow,
        holds_against_distance,
        lap_table,
        length_map,
        level_map,
    )
    from tickwright.measurement.phase import PhaseRow, Phases, phases
    from tickwright.measurement.recovery import recovery_steps
    from tickwright.measurement.second_press import Retrigger, SecondPress, retrigger

__all__ = [
    "ByItself",
    "DistanceRow",
    "Lap",
    "LengthRow",
    "LevelRow",
    "Measurement",
    "Observation",
    "PhaseRow",
    "Phases",
    "Pulse",
    "Retrigger",
    "Runs",
    "SecondPress",
    "Trigger",
    "by_itself",
    "duties",
    "find_trigger",
    "holds_against_distance",
    "lap_table",
    "length_map",
    "level_map",
    "measure",
    "measure_with_findings",
    "observe",
    "periods",
    "phases",
    "pulses",
    "recovery_steps",
    "retrigger",
    "separations",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "alone": ("ByItself", "by_itself"),
        "levels": (
            "DistanceRow",
            "Lap",
            "LengthRow",
            "LevelRow",
            "holds_against_distance",
            "lap_table",
            "length_map",
            "level_map",
        ),
        "phase": ("PhaseRow", "Phases", "phases"),
        "recovery": ("recovery_steps",),
        "second_press": ("Retrigger", "SecondPress", "retrigger"),
    },
)
