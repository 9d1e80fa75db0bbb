"""How many states a second a proof explores on one core: with the reference engine, and with the fast one."""

from __future__ import annotations

import time

from bench_cold_measure import summed
from run import Result

from tickwright import prove
from tickwright.engine.native import StateGraph
from tickwright.plan import Plan, loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

EAST, WEST = "comparator east", "comparator west"

# What is timed: how many flat loops stand side by side, each behind a button of its own, the comparators of one, the
# claim and its limits.
PROOFS = {
    "settles, loop of six (reference engine)": (1, 6, "settles", {}),
    "settles, two loops of four (whole graph)": (2, 4, "settles", {}),
    "settles on a grid, two loops of four (state by state)": (2, 4, "settles", {"grid_steps": 4}),
}


def loops(number: int, comparators: int) -> Plan:
    """Flat loops of so many comparators."""
    half = comparators // 2
    floor = f"###{'#' * half}#\n..#{'#' * half}#\n\n" * number
    parts = f"brw{'>' * half}w\n..w{'<' * half}w\n\n" * number
    return loads(f'''format = "tickwright plan 1"
legend = {{"#" = "block", b = "short-button", r = "repeater east", w = "wire", ">" = "{EAST}", "<" = "{WEST}"}}
layer = [{{rows = """
{floor.rstrip()}
"""}}, {{rows = """
{parts.rstrip()}
"""}}]
triggers = {{{", ".join(f"press{one} = [0, {3 * one}, 1]" for one in range(number))}}}
outputs = {{{", ".join(f"entry{one} = [2, {3 * one}, 1]" for one in range(number))}}}''')


def measure(repeats: int) -> list[Result]:
    """Prove each claim in turn, after one unmeasured round; the time of the process counts, not of the wall."""
    plans = {what: loops(number, comparators) for what, (number, comparators, _, _) in PROOFS.items()}
    rates: dict[str, list[float]] = {f"prove {what}": [] for what in PROOFS}
    alone = "the graph alone, two loops of four"
    rates[alone] = []
    plan = loops(2, 4)
    for round_number in range(repeats + 1):
        for what, (_, _, claim, limits) in PROOFS.items():
            start = time.process_time()
            proof = prove(plans[what], claim, states=10**6, **limits)
            seconds = time.process_time() - start
            if proof.verdict != "proved":
                raise RuntimeError(f"{what}: {proof.verdict}")
            if round_number:
                rates[f"prove {what}"].append(proof.states / seconds)
        start = time.process_time()
        buttons = list(plan.triggers.values())
        graph = StateGraph(Setup(plan, load_rules()), plan.outputs, buttons, [(0,), (1,), (0, 1), (1, 0)], 0)
        while graph.explore():
            pass
        if round_number:
            rates[alone].append(len(graph) / (time.process_time() - start))
    return [summed(what, found, "1/s") for what, found in rates.items()]
