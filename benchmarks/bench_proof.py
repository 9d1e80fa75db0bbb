"""How many states a second a proof explores on one core, on the reference engine: a flat loop of six, any presses."""

from __future__ import annotations

import time
from pathlib import Path

from bench_cold_measure import summed
from run import Result

from tickwright import load, prove

PLAN = Path(__file__).resolve().parents[1] / "examples" / "flat-loop-6.toml"


def measure(repeats: int) -> list[Result]:
    """Prove two claims in turn, after one unmeasured round; the time of the process counts, not of the wall."""
    plan = load(PLAN)
    rates: dict[str, list[float]] = {"settles": [], "expectations": []}
    for round_number in range(repeats + 1):
        for claim, found in rates.items():
            start = time.process_time()
            proof = prove(plan, claim)
            if round_number:
                found.append(proof.states / (time.process_time() - start))
    return [summed(f"prove --claim {claim}, flat loop of six", found, "1/s") for claim, found in rates.items()]
