"""How long `tickwright measure` on a plan of ten parts takes from a cold start, against a Python that does nothing."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

from run import Result

PLAN = Path(__file__).with_name("ten-parts.toml")
MEASURE = [sys.executable, "-m", "tickwright", "measure", str(PLAN), "--json"]
NOTHING = [sys.executable, "-c", "pass"]


def measure(repeats: int) -> list[Result]:
    """Time both commands in turn, after one unmeasured round that fills the caches of the file system."""
    seconds: dict[str, list[float]] = {"measure": [], "nothing": []}
    for round_number in range(repeats + 1):
        for name, command in (("measure", MEASURE), ("nothing", NOTHING)):
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True)
            if round_number:
                seconds[name].append(time.perf_counter() - start)
    ratios = [ours / bare for ours, bare in zip(seconds["measure"], seconds["nothing"], strict=True)]
    return [
        summed("tickwright measure, ten parts, cold", seconds["measure"], "s"),
        summed("python -c pass", seconds["nothing"], "s"),
        summed("ratio of the two", ratios, "times"),
    ]


def summed(what: str, values: list[float], unit: str) -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
