"""Fold loops into odd rooms, run and prove each: `python dev.py rooms [--rooms N] [--seed S]`.

Rooms are drawn with corners and cells blocked and, at times, sides to enter and to leave by; holds are any tick from
2 to 10 s. A room counts if a folded loop is the answer, from the shelf or laid for it. Each is read again from its
file's text, must lie in the room's free cells, show the very hold on both engines, and be proved never to stick on,
however it is pressed. Each answer is kept in `out/rooms`: a run that was stopped goes on where it was, `--again` anew.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from itertools import count
from pathlib import Path

from resuming import add, records
from tickwright import choose, load_rules, loads, prove, run
from tickwright.design import Design, Room, Wish, lying
from tickwright.design.shelf import NAME
from tickwright.plan import dumps, validate
from tickwright.space import HORIZONTAL

ROOT = Path(__file__).resolve().parents[1]
SEED = "odd rooms"
PRESSED_AT = 60


def drawn(seed: str, number: int) -> tuple[Room, int]:
    """A room, and a hold in steps."""
    draw = random.Random(f"{seed} {number}")
    wide, deep, high = size = (draw.randint(3, 7), draw.randint(2, 5), draw.randint(2, 4))
    blocked = {tuple(draw.randrange(side) for side in size) for _ in range(draw.randint(0, 3))}
    if draw.random() < 0.4 and wide > 3 and deep > 2:  # an L
        corner = (range(wide // 2 + 1, wide), range(deep // 2 + 1, deep))
        blocked |= {(x, y, z) for x in corner[0] for y in corner[1] for z in range(high)}
    ways = [draw.choice((*(None,) * 12, *HORIZONTAL)) for _ in range(2)]
    return Room(size, frozenset(blocked), *ways), 2 * draw.randint(20, 100)


def folded(room: Room, hold: int) -> tuple[str, Design | None]:
    """What the chooser finds: "shelf" or "laid" with the design, else "none" or the name of a family that fits."""
    designs = choose(Wish(hold, room=room), lambda text: text.startswith("what to relax")).designs
    best = next((one for one in designs if not one.error_steps), None)
    if best is None:
        return "none", None
    if best.family != NAME:
        return "as its family lays it", None
    return "laid for the room" if "laid" in best.settings else "from the shelf", best


def misfits(room: Room, hold: int, design: Design) -> list[str]:
    """What is not as it should be."""
    plan = loads(dumps(lying(design, room)))
    validate(plan, load_rules())
    wrong = [f"{cell} is not free" for cell in plan.cells if not room.holds(cell) or cell in room.blocked]
    wrong += [] if room.at(room.enter, plan.triggers["press"]) else ["the button is not where the room is entered"]
    wrong += [] if room.at(room.leave, plan.outputs[design.output]) else ["the output is not where the room is left"]
    begin = PRESSED_AT + design.delay_steps
    for engine in ("reference", "fast"):
        trace = run(plan, [f"{PRESSED_AT}:press"], begin + hold + 300, engine=engine).trace
        changes = trace.changes_of(design.output)
        edges = [step for (step, now), (_, was) in zip(changes[1:], changes, strict=False) if (now > 0) != (was > 0)]
        wrong += [] if edges == [begin, begin + hold] else [f"{engine}: {edges}"]
    proof = prove(plan, "never-sticks", design.output)
    return wrong + ([] if proof.verdict == "proved" else [f"never-sticks is {proof.verdict}"])


def main() -> int:
    """Draw rooms until so many were folded into; 1 if any of them is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=30, help="how many are folded into")
    parser.add_argument("--seed", default=SEED, help="other rooms for other words")
    parser.add_argument("--again", action="store_true", help="begin anew")
    given = parser.parse_args()
    kept = ROOT / "out" / "rooms" / f"{given.seed.replace(' ', '-')}.jsonl"
    known = records(kept, given.again)
    counts, wrong, number = Counter(what for what, _ in known), sum(bool(bad) for _, bad in known), len(known)
    for number in count(len(known)):
        if counts["from the shelf"] + counts["laid for the room"] >= given.rooms:
            break
        room, hold = drawn(given.seed, number)
        begun = time.process_time()
        what, design = folded(room, hold)
        bad = misfits(room, hold, design) if design is not None else []
        counts[what], wrong = counts[what] + 1, wrong + bool(bad)
        add(kept, [what, bad])
        told = f"{room.text}, {len(room.blocked)} blocked, {hold / 20:g} s: {what}"
        print(f"{number + 1}: {told}, {time.process_time() - begun:.1f} s of CPU", *bad, sep="\n  ", flush=True)
    print(f"{number} rooms: {dict(counts)}; of those folded into {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
