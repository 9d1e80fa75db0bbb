"""Composing: the ferry gate from its chart, all briefs there are, and random ones: whether any plan is wrong.

What a random brief's plan shows is held, step by step, against the tables that the brief was written from (see
compose_briefs). `python benchmarks/bench_compose.py [N] [SEED]` prints them one by one.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random
from statistics import median

from compose_briefs import Table, random_table
from run import Result
from tests import resuming

from tickwright.charts import ChartVerdict, check_charts
from tickwright.design.compose import Composed, compose, load_brief, read_brief
from tickwright.engine import run
from tickwright.plan import examples_folder
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet

BRIEFS = 40
MINUTES = 4.0
HANDS, ACTS = 4, 7
KEPT = Path(__file__).resolve().parents[1] / "out" / "bench-compose.jsonl"  # so that a stopped run goes on
ORDERS = ("canonical", "reversed", "1", "2", "3")
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


def rows() -> Iterator[list[str]]:
    """A row for each brief of examples/briefs, then for each random one; what an earlier run has done is not done anew.

    Each is what the brief is, what came of it, its ground and parts, the proof's states, how the charts were checked,
    and seconds of processor time.
    """
    done = {row[0]: row for row in resuming.records(KEPT)}
    briefs = [path.stem for path in sorted((examples_folder() / "briefs").glob("*.toml"))]
    for what in (*briefs, *(f"random brief {seed}" for seed in range(BRIEFS))):
        if what not in done:
            begun = time.process_time()
            row = example_row(what) if what in briefs else random_row(int(what.split()[-1]))
            done[what] = [what, *row, f"{time.process_time() - begun:.1f} s"]
            resuming.add(KEPT, done[what])
        yield done[what]


def example_row(name: str) -> list[str]:
    """A brief of the examples, composed once; its charts held in both engines, all its rules, several orders."""
    brief = load_brief(examples_folder() / "briefs" / f"{name}.toml")
    found = compose(brief, 0, MINUTES)
    if found.plan is None or not found.verdicts:
        return [f"refused: {found.why}" if found.claim else f"not laid: {found.why}", "", "", "", ""]
    checks = failed = 0
    charts = []
    for chart in found.plan.charts:  # what a further press does takes a run for each step: the proof holds that
        shows = tuple(line for line in chart.shows if line.partition(":")[0].strip() not in found.plan.triggers)
        charts.append(replace(chart, shows=shows))
    bare = replace(found.plan, charts=tuple(charts))
    for rules in brief.rulesets:
        for order in ORDERS:
            for one in check_charts(bare, rules, order=order):
                checks += 2
                failed += (not one.passed) + (not same_in_both_engines(bare, one, rules, order))
    proof = found.proof
    told = "composed" if found.composed else f"not composed: {found.why or found.claim}"
    proved = f"{proof.verdict}, {proof.states:,} states" if proof else "none"
    return [told, ground(found), f"{len(found.plan.cells):,}", proved, f"{checks - failed} of {checks} kept"]


def same_in_both_engines(plan: Plan, verdict: ChartVerdict, rules: RuleSet, order: str) -> bool:
    """Whether the compiled engine shows in a chart's run what the reference engine does, by which it was judged."""
    played = verdict.played
    assert played is not None
    steps = played.zero_step + played.timeline.steps
    first, second = (
        run(plan, played.script, steps, rules, order, engine=engine).trace for engine in ("reference", "fast")
    )
    return first == second


def random_row(seed: int) -> list[str]:
    """A random brief: what came of it, judged by the tables that it was written from."""
    what, found, why = tried(seed)
    plan, proof = found.plan, found.proof
    if plan is None or not found.verdicts:
        return [f"{what}: {found.claim}: {found.why}" if found.claim else f"{what}: {found.why}", "", "", "", ""]
    proved = f"{proof.verdict}, {proof.states:,} states" if proof else "none"
    told = f"{what}: {why}" if why else what
    return [told, ground(found), f"{len(plan.cells):,}", proved, f"{HANDS} random hands"]


def ground(found: Composed) -> str:
    """The ground that a plan takes, in cells."""
    assert found.plan is not None
    return f"{found.plan.size[0]}x{found.plan.size[1]}"


def outcome(seed: int) -> tuple[str, str]:
    """What becomes of a random brief: "composed", "refused" with its reason, "not laid" or "wrong"; and more of it."""
    what, found, why = tried(seed)
    plan, proof = found.plan, found.proof
    if plan is None or not found.verdicts:
        return what, f"{found.claim}: {found.why}"
    told = f"{plan.size}, {len(plan.cells)} parts"
    told += f", proof {proof.verdict} {proof.states} {proof.detail} {' '.join(proof.counterexample)}" if proof else ""
    return what, f"{why} {told}".lstrip()


def tried(seed: int) -> tuple[str, Composed, str]:
    """A random brief composed and judged: "composed", "refused", "not laid" or "wrong", and what is wrong."""
    table = random_table(seed)
    found = compose(read_brief(table.text()), seed, MINUTES)
    if found.plan is None or not found.verdicts:
        return ("refused" if found.claim is not None else "not laid"), found, ""
    wrong = judged(table, found, Random(seed))
    if wrong or not found.composed:
        return "wrong", found, " ".join(one for one in (wrong, found.claim, found.why) if one)
    return "composed", found, ""


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
