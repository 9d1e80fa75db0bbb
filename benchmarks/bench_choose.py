"""How long a typical `tickwright choose` takes, cold as a command and warm in Python, against an idle Python.

And once, since it takes a minute or so, how long the table of the smallest designs takes.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from run import Result

from tickwright import Wish, choose

HOLD_STEPS = 240
CHOOSE = [sys.executable, "-m", "tickwright", "choose", "--hold", f"{HOLD_STEPS} steps", "--json"]
TABLE = [sys.executable, "-m", "tickwright", "choose", "--table"]
NOTHING = [sys.executable, "-c", "pass"]


def measure(repeats: int) -> list[Result]:
    """Time the command, the call and an idle Python in turn, after one unmeasured round."""
    seconds: dict[str, list[float]] = {"cold": [], "warm": [], "nothing": []}
    for round_number in range(repeats + 1):
        for name, command in (("cold", CHOOSE), ("nothing", NOTHING)):
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True)
            if round_number:
                seconds[name].append(time.perf_counter() - start)
        start = time.perf_counter()
        found = choose(Wish(HOLD_STEPS)).designs
        if round_number:
            seconds["warm"].append(time.perf_counter() - start)
        if not found or found[0].hold_steps != HOLD_STEPS:
            raise RuntimeError(f"No design of {HOLD_STEPS} steps was found.")
    start = time.perf_counter()
    subprocess.run(TABLE, check=True, capture_output=True)
    table = time.perf_counter() - start
    ratios = [ours / bare for ours, bare in zip(seconds["cold"], seconds["nothing"], strict=True)]
    return [
        summed("tickwright choose, 12 s, cold", seconds["cold"], "s"),
        summed("choose(Wish(240)), warm", seconds["warm"], "s"),
        summed("tickwright choose --table, once", [table], "s"),
        summed("python -c pass", seconds["nothing"], "s"),
        summed("ratio of cold choose to pass", ratios, "times"),
    ]


def summed(what: str, values: list[float], unit: str) -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
