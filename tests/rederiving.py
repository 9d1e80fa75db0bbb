"""Derive every figure of `why` again for plans with one part changed: `python dev.py rederive [--plans N] [--seed S]`.

A part of an example is taken away, turned, set otherwise or replaced. What is then told must be right: each figure is
got again from a run of the other engine, and no sentence is too long to be read at once. Tests do a few of the same.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from pathlib import Path

from tickwright import Plan, TickwrightError, load, why
from tickwright.diagnosis.reasons import Derivation, Explained, cells_of
from tickwright.diagnosis.reasons.sentences import LONGEST
from tickwright.kinds import PARTS
from tickwright.plan import lay, place
from tickwright.plan.setup import Setup

EXAMPLES = sorted((Path(__file__).resolve().parents[1] / "examples").glob("*.toml"))
# What runs for hours has thousands of changes: its figures are derived once, by hand, when this is changed.
LONG = ("hour-counter", "hopper-clock")
SHORT = [path for path in EXAMPLES if path.stem not in LONG]
KINDS = ("block", "insulator", "wire", "lamp", "torch", "repeater", "comparator")


def disagreeing(explained: Explained) -> list[str]:
    """Every figure that another run, on the other engine, has otherwise, with its sentence."""
    wrong = []
    for trigger, (pressed_at, steps) in explained.presses.items():
        mine = [one for one in explained.sentences if one.trigger == trigger]
        derived = Derivation(Setup(explained.plan, explained.rules), trigger, pressed_at, steps, "fast")
        derived.watch(cells_of(mine))
        for sentence in mine:
            for figure in sentence.figures:
                value = derived.value(figure)
                if value != figure.value:
                    wrong.append(f"{sentence.text} ({figure.text}: {value})")
    return wrong


def varied(number: int, seed: int) -> Iterator[Explained]:
    """So many explained plans with one part changed, always the same; those that cannot stand are left out."""
    chance = random.Random(seed)
    told = 0
    while told < number:
        try:
            yield why(one_changed(chance))
        except TickwrightError:
            continue  # a part has lost its support, or the trigger its part
        told += 1


def one_changed(chance: random.Random) -> Plan:
    """An example with one part changed."""
    plan = load(chance.choice(SHORT))
    cell = chance.choice(sorted(plan.cells))
    part = plan.cells[cell]
    roll = chance.random()
    if roll < 0.4 and part.kind == "repeater":
        return place(plan, cell, part._replace(delay=chance.choice([1, 2, 3, 4])))
    if roll < 0.6:
        return lay(plan, {cell: None})
    kind = PARTS[chance.choice(KINDS)]
    facing = chance.choice(kind.directions) if kind.directions else None
    return place(plan, cell, part._replace(kind=kind.name, facing=facing, delay=1, mode="threshold"))


def main() -> int:
    """Derive again; 1 if a figure is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=1000, help="how many changed plans")
    parser.add_argument("--seed", type=int, default=21)
    options = parser.parse_args()
    plans = figures = 0
    wrong: list[str] = []
    try:
        for explained in varied(options.plans, options.seed):
            plans += 1
            figures += sum(len(one.figures) for one in explained.sentences)
            found = disagreeing(explained)
            found += [f"too long: {one.text}" for one in explained.sentences if len(one.text) > LONGEST]
            wrong += found
            if found or plans % 25 == 0:
                print(f"{plans}: {explained.plan.title}: {figures:,} figures so far", *found, sep="\n  ", flush=True)
    except KeyboardInterrupt:
        pass
    print(f"{plans:,} plans with one part changed: {figures:,} figures, {len(wrong)} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
