"""Search for loops smaller than those on the shelf, and add them: `python dev.py fold [--minutes N] [--box 4 3 3]`.

Rings are laid at random in one box after another, pressed, and seen at each place where an output can be. One is added
to `src/tickwright/design/folded.txt` if it holds a whole number of ticks from 2 to 12 s, in every order of telling, and
no ring on the shelf has the same hold and output within its box, however turned. Those that it makes needless are taken
off. At Ctrl-C, and when the time is over, what was found is kept.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterator
from itertools import product

from tickwright import Plan, load_rules
from tickwright.design import Wish
from tickwright.design.folding import Folding
from tickwright.design.judging import Judge, candidate_of
from tickwright.design.recipes import Goal, Recipe, as_is
from tickwright.design.shelf import FILE, Shelved, shelf, written
from tickwright.design.wish import Room
from tickwright.plan import crop
from tickwright.space import Cell

MOST_CELLS = 48
TICKS = range(40, 241, 2)
NEVER = Goal(1, 1, 1, "short-button", 20, ("lamp", "line"))  # met by no ring: the search goes on to its end


def boxes() -> list[Cell]:
    """All boxes that may be searched, each in one of its turns."""
    sides = product(range(3, 9), range(2, 7), range(2, 5))
    return [(x, y, z) for x, y, z in sides if x >= y and 12 <= x * y * z <= MOST_CELLS]


def smaller(one: Shelved, other: Shelved) -> bool:
    """Whether one lies in the box of the other, with the same hold and output."""
    if (one.hold_steps, one.output) != (other.hold_steps, other.output):
        return False
    flat = zip(sorted(one.size[:2]), sorted(other.size[:2]), strict=True)
    return one.size[2] <= other.size[2] and all(a <= b for a, b in flat)


def found_in(box: Cell, seed: int, until: float) -> Iterator[Plan]:
    """Plans of rings in a box that hold one of the times in TICKS."""
    folding = Folding(Room(box), "short-button", load_rules(), attempts=6_000, seed=seed)
    folding.holding(NEVER, lambda _: time.monotonic() > until)
    for (hold, _), several in folding.found.items():
        if hold in TICKS:
            yield from (crop(one.plan) for one in several)


def judged(plan: Plan, judge: Judge) -> Shelved | None:
    """The ring for the shelf, if a press gives one pulse of the same length in every order."""
    (output,) = plan.outputs
    design = judge.design(candidate_of(Recipe("", {}, output, 1, lambda: as_is(plan)), Wish(1)), Wish(1))
    if design is None or design.hold_steps not in TICKS or not judge.keeps_in_every_order(design):
        return None
    return written(plan, design.hold_steps)


def main() -> int:
    """Search for so many minutes, and write the shelf anew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0, help="how long")
    parser.add_argument("--seed", type=int, default=1, help="other rings for other numbers")
    parser.add_argument("--box", type=int, nargs=3, metavar=("X", "Y", "Z"), help="this box alone")
    given = parser.parse_args()
    draw, until = random.Random(given.seed), time.monotonic() + 60 * given.minutes
    judge, kept, added, searched = Judge(load_rules()), list(shelf()), 0, 0
    try:
        while time.monotonic() < until:
            box = tuple(given.box) if given.box else draw.choice(boxes())
            searched += 1
            for plan in found_in(box, draw.randrange(10**9), until):
                ring = judged(plan, judge)
                if ring is None or any(smaller(one, ring) for one in kept):
                    continue
                kept = [one for one in kept if not smaller(ring, one)] + [ring]
                added += 1
                print(f"{ring.hold_steps / 20:g} s, {ring.output}, {'x'.join(map(str, ring.size))}", flush=True)
    except KeyboardInterrupt:
        print("stopped")
    kept.sort(key=lambda one: (one.hold_steps, one.output, one.size[0] * one.size[1] * one.size[2], one.size))
    FILE.write_text("".join(f"{one.line}\n" for one in kept), encoding="utf-8")
    missing = [f"{hold / 20:g} s" for hold in TICKS if hold not in {one.hold_steps for one in kept}]
    print(f"{searched} boxes searched, {added} rings added, {len(kept)} on the shelf; no ring for: {missing or 'none'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
