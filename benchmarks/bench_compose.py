"""Composing: the ferry gate from its chart, and random briefs: how many are composed or refused, how fast.

The random briefs have 1 to 3 triggers and 1 to 4 outputs, with spans, pulses, ends by other triggers, and policies.
`python benchmarks/bench_compose.py [N] [SEED]` prints them one by one.
"""

from __future__ import annotations

import json
import sys
import time
from random import Random
from statistics import median

from run import Result

from tickwright.design.compose import compose, load_brief, read_brief
from tickwright.plan import examples_folder

BRIEFS = 40
MINUTES = 1.0


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
    counts = {"composed": 0, "refused": 0, "not laid or refuted": 0}
    for seed in range(BRIEFS):
        counts[outcome(seed)[0]] += 1
    return results + [Result(f"of {BRIEFS} random briefs {what}", n, "", n, n) for what, n in counts.items()]


def outcome(seed: int) -> tuple[str, str]:
    """What becomes of a random brief: "composed", "refused" before placing, or neither; and the reason."""
    found = compose(read_brief(random_brief(seed)), seed, MINUTES)
    proof = found.proof
    told = f"proof {proof.verdict} {proof.detail} {' '.join(proof.counterexample)}" if proof else ""
    if found.composed:
        return "composed", told
    if found.plan is None and found.claim is not None:
        return "refused", f"{found.claim}: {found.why}"
    return "not laid or refuted", f"{found.claim} {found.why} {told}"


def random_brief(seed: int) -> str:
    """A brief, the same for the same seed."""
    random = Random(seed)
    triggers = [f"t{place}" for place in range(random.randint(1, 3))]
    outputs = [f"o{place}" for place in range(random.randint(1, 4))]
    drives = {name: random.choice(("line", "lamp", "lamp", "piston-door")) for name in outputs}
    shows = []
    for name in outputs:
        trigger = random.choice(triggers)
        start = ticks(random.randint(3, 40) * 2)
        length = ticks(random.randint(5, 60) * 2)
        kind = random.random()
        other = random.choice(triggers)
        if kind < 0.15 and other != trigger:
            shows.append(f"{name}: on from {trigger} + {ticks(random.randint(10, 20) * 2)} until {other} + 1 s")
        elif kind < 0.35 and drives[name] != "piston-door":
            count, every = random.randint(2, 5), random.randint(12, 20)
            shows.append(f"{name}: {count} pulses of 0.4 s every {ticks(every * 2)} from {trigger} + 1 s")
        elif kind < 0.45:
            shows.append(f"{name}: off from {trigger} + {start} for {length}")
        else:
            shows.append(f"{name}: on from {trigger} + {start} for {length}")
    for name in triggers:
        mine = [one.partition(":")[0] for one in shows if f"from {name} " in one and "until" not in one]
        if mine and random.random() < 0.7:
            edge = "on" if any(one.startswith(f"{mine[0]}: off") for one in shows) else "off"
            shows.append(f"{name}: ignored until {mine[0]} {edge}")
    part = random.choice(("short-button", "long-button"))
    lines = ['format = "tickwright brief 1"', 'rules = ["standard", "older-wire"]', "[inputs]"]
    lines += [f'{name} = {{part = "{part}"}}' for name in triggers]
    lines += ["[outputs]", *(f'{name} = {{drives = "{drives[name]}"}}' for name in outputs)]
    return "\n".join([*lines, "[[chart]]", f"shows = {json.dumps(shows)}", ""])


def ticks(steps: int) -> str:
    """Steps as a duration."""
    return f"{steps // 2} ticks"


if __name__ == "__main__":
    number, first = (int(sys.argv[1]) if len(sys.argv) > 1 else BRIEFS), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    for one in range(first, first + number):
        began = time.process_time()
        print(one, *outcome(one), f"{time.process_time() - began:.1f} s", flush=True)
