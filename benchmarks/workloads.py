"""The plans of the engine benchmarks, made by rule: rings, idle fields, tiles of mixed parts, small loops.

A part is whatever fills a cell; each stands on a block, which counts as well. Outputs are few: what is timed is the
circuit, not the watching.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from tickwright import Plan
from tickwright.kinds import Part, parse_part
from tickwright.plan import Stimulus
from tickwright.space import Cell

ROW = 64  # repeaters in a row of a ring; twice as many in a large one, which is then still within the limits of a plan
BUTTON = (0, 8, 1)  # where the button of a small loop is


class Workload(NamedTuple):
    """A plan and what the hand does; from step `going_at` on all of it is going."""

    name: str
    plan: Plan
    stimuli: tuple[Stimulus, ...]
    going_at: int


class Ground:
    """A plan being laid: parts that stand on blocks."""

    def __init__(self) -> None:
        self.cells: dict[Cell, Part] = {}

    def put(self, x: int, y: int, text: str) -> None:
        """Lay a part with a block below it."""
        self.cells[x, y, 1] = parse_part(text)
        self.cells[x, y, 0] = parse_part("block")


def ring(parts: int) -> Workload:
    """About so many parts as one closed ring of one-tick repeaters full of pulses: half the repeaters act each tick.

    It is laid as a snake of rows; a lever at the end of each lets pulses into the next, two ticks on, two off.
    """
    row = ROW if parts < 50_000 else 2 * ROW
    rows = max(2, round(parts / (row + 4) / 4) * 2)
    row = row if rows > 2 else max(4, (parts - 20) // 16 * 4)
    ground, stimuli = Ground(), []
    for number in range(rows):
        y, east = 2 * number, number % 2 == 0
        for x in range(row):
            ground.put(3 + x, y, "repeater east" if east else "repeater west")
        ground.put(2, y, "wire")
        ground.put(3 + row, y, "wire")
        if number + 1 < rows:
            ground.put(3 + row if east else 2, y + 1, "wire")
            lever = (4 + row if east else 1, y + 1)
            ground.put(*lever, "lever")
            stimuli += [Stimulus(step, (*lever, 1), "flip") for step in range(0, 2 * row, 4)]
    last = 2 * (rows - 1)
    for x, y in product((0, 1), (0, last)):
        ground.put(x, y, "wire")
    for y in range(1, last):
        ground.put(0, y, "repeater north")
    plan = Plan(ground.cells, outputs={"out": (3, 0, 1)})
    return Workload(f"ring, {len(plan.cells):,} parts", plan, tuple(sorted(stimuli)), 2 * row + 2)


def idle(parts: int) -> Workload:
    """So many parts in which nothing happens, and among them one loop of 20 parts that never rests."""
    ground = Ground()
    for x, text in enumerate(("wire", "repeater east delay=2", "repeater east", "wire"), 1):
        ground.put(x, 0, text)
        ground.put(x, 1, text.replace("east", "west"))
    ground.put(0, 0, "lever")
    ground.put(2, 2, "lamp")
    x, y = 0, 4
    while len(ground.cells) < parts:
        ground.put(x, y, ("lamp", "wire", "repeater east", "comparator east")[(x // 2 + y // 2) % 4])
        x, y = (x + 2, y) if x < 1000 else (0, y + 2)
    stimuli = (Stimulus(0, (0, 0, 1), "flip"), Stimulus(4, (0, 0, 1), "flip"))
    plan = Plan(ground.cells, outputs={"out": (1, 0, 1)})
    return Workload(f"{len(plan.cells):,} parts, one loop of 20 active", plan, stimuli, 40)


TILE = """\
........L......
lw2rw...s......
.w..wcwdwrwL...
.w21w..w.n.....
....wwwwww.....
"""
KEY = {
    "l": "lever", "w": "wire", "r": "repeater east", "2": "repeater east delay=2", "1": "repeater west", "L": "lamp",
    "n": "repeater north", "s": "change-sensor north", "c": "comparator east", "d": "comparator east mode=difference",
}  # fmt: skip


def mixed(parts: int) -> Workload:
    """Tiles with comparators, flanks, a lock, a sensor and a torch, each with a clock of its own, of 12 steps."""
    rng = random.Random(5)
    ground, stimuli = Ground(), []
    for number in range(max(1, round(parts / (2 * sum(map(TILE.count, KEY)) + 2)))):
        left, top = 15 * (number % 60), 6 * (number // 60)
        for y, line in enumerate(TILE.splitlines()):
            for x, character in enumerate(line):
                if character != ".":
                    west = character == "2" and y == 3
                    text = "repeater west delay=2" if west else KEY[character]
                    ground.put(left + x, top + y, text)
        ground.cells |= {
            (left + 6, top + 5, 0): parse_part("torch on=north"),
            (left + 7, top + 5, 0): parse_part("lamp"),
        }
        begins = rng.randrange(12)
        stimuli += [Stimulus(begins + later, (left, top + 1, 1), "flip") for later in (0, 4)]
    plan = Plan(ground.cells, outputs={"out": (11, 2, 1)})
    return Workload(f"mixed tiles, {len(plan.cells):,} parts", plan, tuple(sorted(stimuli)), 60)


def small_loops(number: int) -> Iterator[Plan]:
    """So many different one-shots: a button, a chain of repeaters, a flat loop of comparators, a chain to a lamp."""
    chains = [delays for length in range(4) for delays in product((1, 2, 3, 4), repeat=length)]
    kinds = list(product(("short-button", "long-button"), range(1, 5), chains, chains))
    if number > len(kinds):
        raise ValueError(f"There are {len(kinds):,} different small loops, not {number:,}.")
    for button, half, before, after in random.Random(6).sample(kinds, number):
        ground = Ground()
        ground.put(BUTTON[0], BUTTON[1], button)
        for x, delay in enumerate(before, 1):
            ground.put(x, 8, f"repeater east delay={delay}")
        entry = len(before) + 1
        for x, y in product((entry, entry + half + 1), (8, 9)):
            ground.put(x, y, "wire")
        for x in range(entry + 1, entry + half + 1):
            ground.put(x, 8, "comparator east")
            ground.put(x, 9, "comparator west")
        for y, delay in enumerate(after, 1):
            ground.put(entry, 8 - y, f"repeater north delay={delay}")
        ground.put(entry, 7 - len(after), "lamp")
        yield Plan(ground.cells, triggers={"press": BUTTON}, outputs={"lamp": (entry, 7 - len(after), 1)})
