"""How long a day of world time (1,728,000 steps) of a running clock of 320 items takes in the reference engine.

Processor seconds, which other work on the machine does not lengthen much. Beside it, in the same run, a plain Python
loop of as many rounds is timed; the ratio holds on other machines too.
"""

from __future__ import annotations

import statistics
import time
from pathlib import Path

from run import Result

from tickwright import load, run

PLAN = Path(__file__).resolve().parents[1] / "examples" / "hopper-clock.toml"
DAY_STEPS = 24 * 60 * 60 * 20
MOST_REPEATS = 3


def measure(repeats: int) -> list[Result]:
    """Time a day of the clock and the plain loop in turn; three turns at most, for they are long."""
    plan = load(PLAN)
    watched = {"back": plan.outputs["back"]}
    days, loops, ratios = [], [], []
    for _ in range(min(repeats, MOST_REPEATS)):
        start = time.process_time()
        turns = len(run(plan, ["60:run"], steps=DAY_STEPS, watch=watched).trace.changes["back"])
        between = time.process_time()
        count = 0
        for step in range(DAY_STEPS):
            count += step & 1
        end = time.process_time()
        if turns < 600 or count != DAY_STEPS // 2:
            raise RuntimeError(f"The clock turned {turns} times in a day: it should turn more than 600 times.")
        days.append(between - start)
        loops.append(end - between)
        ratios.append(days[-1] / loops[-1])
    return [
        summed("a day of a running 320-item clock, reference engine", days, "s"),
        summed("a plain loop of 1,728,000 rounds", loops, "s"),
        summed("ratio of the two", ratios, "times"),
    ]


def summed(what: str, values: list[float], unit: str) -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
