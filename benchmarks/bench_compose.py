"""Composing: the ferry gate from its chart, and random briefs: how many are composed or refused, whether any is wrong.

What a random brief's plan shows is held, step by step, against the tables that the brief was written from (see
compose_briefs). `python benchmarks/bench_compose.py [N] [SEED]` prints them one by one.
"""

from __future__ import annotations

import sys
import time
from random import Random
from statistics import median

from compose_briefs import Table, random_table
from run import Result

from tickwright.design.compose import Composed, compose, load_brief, read_brief
from tickwright.engine import run
from tickwright.plan import examples_folder

BRIEFS = 40
MINUTES = 4.0
HANDS, ACTS = 4, 7
SETTLED = 80  # steps before the first act: all has come to rest
AFTER = 700  # steps after the last act


def measure(repeats: int) -> list[Result]:
    """Compose the ferry gate so often (at most three times), and the random briefs once."""
    brief = load_brief(examples_folder() / "briefs" / "ferry-gate.toml")
    times = []
    for seed in range(1, 1 + min(repeats, 3)):
        begun = time.process_time()
        found = compose(brief, seed, 10)
        assert found.composed, found.why
        times.append(time.process_time() - begun)
    results = [Result("the ferry gate, seconds of CPU", median(times), "s", min(times), max(times))]
    counts = {"composed": 0, "refused": 0, "not laid": 0, "wrong": 0}
    for seed in range(BRIEFS):
        counts[outcome(seed)[0]] += 1
    return results + [Result(f"of {BRIEFS} random briefs {what}", n, "", n, n) for what, n in counts.items()]


def outcome(seed: int) -> tuple[str, str]:
    """What becomes of a random brief: "composed", "refused" with its reason, "not laid" or "wrong"; and more of it."""
    table = random_table(seed)
    found = compose(read_brief(table.text()), seed, MINUTES)
    proof = found.proof
    if found.plan is None or not found.verdicts:
        told = f"{found.claim}: {found.why}"
        return ("refused" if found.claim is not None else "not laid"), told
    wrong = judged(table, found, Random(seed))
    told = f"{found.plan.size}, {len(found.plan.cells)} parts"
    told += f", proof {proof.verdict} {proof.states} {proof.detail} {' '.join(proof.counterexample)}" if proof else ""
    if wrong or not found.composed:
        return "wrong", f"{wrong or ''} {found.claim or ''} {found.why or ''} {told}"
    return "composed", told


def judged(table: Table, found: Composed, random: Random) -> str | None:
    """The first step in which an output shows another thing than the tables want, over random hands; None if none."""
    plan = found.plan
    assert plan is not None
    deaf = plan.machines[0].deaf_steps or 0 if plan.machines else 0
    for _ in range(HANDS):
        acts = table.hand(random, ACTS, deaf)
        steps = acts[-1][0] + AFTER
        wanted = table.wanted(acts, steps, deaf)
        script = [f"{SETTLED + step}:{name}" for step, name in acts]
        trace = run(plan, script, SETTLED + steps, plan.rules, engine="fast").trace
        for name, values in wanted.items():
            shown = [False] * (SETTLED + steps)
            for (at, value), (to, _) in zip(
                trace.changes[name], [*trace.changes[name][1:], (SETTLED + steps, 0)], strict=True
            ):
                for step in range(at, to):
                    shown[step] = bool(value) != (name in plan.part_outputs)
            for step, want in enumerate(values):
                if shown[SETTLED + step] != want:
                    return f"{name} is wrong at step {SETTLED + step} after {' '.join(script)}"
    return None


if __name__ == "__main__":
    number, first = (int(sys.argv[1]) if len(sys.argv) > 1 else BRIEFS), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    for one in range(first, first + number):
        began = time.process_time()
        print(one, *outcome(one), f"{time.process_time() - began:.1f} s", flush=True)
