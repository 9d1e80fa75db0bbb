"""How long `what_if` takes on ten parts, warm: every single mistake built, run and compared; against one measure."""

from __future__ import annotations

import statistics
import time
from pathlib import Path

from run import Result

from tickwright import load
from tickwright import measure as measure_plan
from tickwright.diagnosis import what_if

PLAN = Path(__file__).with_name("ten-parts.toml")


def measure(repeats: int) -> list[Result]:
    """Time both in turn in this process, after one unmeasured round."""
    plan = load(PLAN)
    seconds: dict[str, list[float]] = {"what_if": [], "measure": []}
    count = 0
    for round_number in range(repeats + 1):
        for name, times in seconds.items():
            start = time.perf_counter()
            if name == "what_if":
                count = len(what_if(plan).consequences)
            else:
                measure_plan(plan)
            if round_number:
                times.append(time.perf_counter() - start)
    each = [took / count * 1000 for took in seconds["what_if"]]
    ratios = [ours / one for ours, one in zip(seconds["what_if"], seconds["measure"], strict=True)]
    return [
        summed(f"what_if, ten parts, {count} mistakes, warm", seconds["what_if"], "s"),
        summed("  each mistake", each, "ms"),
        summed("ratio of what_if to measure", ratios, "times"),
    ]


def summed(what: str, values: list[float], unit: str) -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
