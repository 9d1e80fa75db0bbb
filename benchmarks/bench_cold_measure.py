"""How long `tickwright measure`, short and `--full`, takes on ten parts from a cold start, against an idle Python."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

from run import Result

PLAN = Path(__file__).with_name("ten-parts.toml")
MEASURE = [sys.executable, "-m", "tickwright", "measure", str(PLAN), "--json"]
FULL = [*MEASURE, "--full"]
NOTHING = [sys.executable, "-c", "pass"]
# Compiled modules are kept between runs, as they are for a user, even where the surroundings switch that off.
SURROUNDINGS = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def measure(repeats: int) -> list[Result]:
    """Time the commands in turn, after one unmeasured round that fills the caches (files, compiled modules)."""
    seconds: dict[str, list[float]] = {"measure": [], "full": [], "nothing": []}
    for round_number in range(repeats + 1):
        for name, command in (("measure", MEASURE), ("full", FULL), ("nothing", NOTHING)):
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True, env=SURROUNDINGS)
            if round_number:
                seconds[name].append(time.perf_counter() - start)
    ratios = [ours / bare for ours, bare in zip(seconds["measure"], seconds["nothing"], strict=True)]
    return [
        summed("tickwright measure, ten parts, cold", seconds["measure"], "s"),
        summed("tickwright measure --full, ten parts, cold", seconds["full"], "s"),
        summed("python -c pass", seconds["nothing"], "s"),
        summed("ratio of measure to pass", ratios, "times"),
    ]


def summed(what: str, values: list[float], unit: str) -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
