"""Follow all advice of the chooser: `python dev.py advice [--wishes N]`.

Wishes with rooms and second presses are drawn, of which most cannot be met; what `choose` then says may give way is
typed as its `options` say, and must be met. Tests follow a few of the same wishes.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
from collections.abc import Callable, Iterator

SEED = "rooms and second presses"
SEED_OF_NEW = "delays, clocks, outputs turned over and second presses"
HOLDS = ("1 s", "2.4 s", "5.4 s", "7 s", "12 s", "15 s", "20 s", "30 s")
ROOMS = ("3x3x3", "4x3x3", "5x2x3", "4x4x2", "5x3x3", "6x2x2", "7x4x3", "9x5x4")
Options = dict[str, str | list[str] | bool | None]  # True: a flag
Choose = Callable[[list[str]], tuple[int, str]]


def drawn(number: int) -> Iterator[Options]:
    """So many wishes, always the same: a hold, a room, what a second press does, and at times a third thing."""
    draw = random.Random(SEED)
    others: tuple[Options, ...] = (
        {},
        {},
        {"--delay-at-most": "0 steps"},
        {"--without": "hopper"},
        {"--have": "comparator 4, repeater 3"},
        {"--pitch": "y=2"},
        {"--trigger": "lever"},
        {"--within": "2 ticks"},
        {"--in": "west", "--out": "east"},
    )
    for _ in range(number):
        wish: Options = {"--hold": draw.choice(HOLDS), "--room": draw.choice(ROOMS)}
        yield wish | {"--second-press": draw.choice(("ignored", "extends"))} | draw.choice(others)


def drawn_new(number: int) -> Iterator[Options]:
    """So many wishes, always the same, for clocks, and for holds with a delay, a recovery, a restart and the like."""
    draw = random.Random(SEED_OF_NEW)
    others: tuple[Options, ...] = (
        {"--second-press": "restarts"},
        {"--second-press": "ignored"},
        {"--second-press": "ignored", "--room": "9x7x4"},
        {"--delay": "1 s"},
        {"--delay": "0.55 s"},
        {"--inverted": True},
        {"--inverted": True, "--output": "line", "--delay": "0.8 s"},
        {"--recovery-at-most": "0.5 s", "--have": "comparator 2, hopper 2"},
        {"--room": "4x3x4"},
        {"--room": "6x4x2", "--in": "west"},
    )
    clocks = ("2 s", "4 s", "5 s", "1 min")  # whole numbers of steps by each duty
    for _ in range(number):
        if draw.random() < 0.15:
            yield {"--period": draw.choice(clocks), "--duty": draw.choice(("25%", "50%", "0.8"))}
        else:
            yield {"--hold": draw.choice((*HOLDS, "1 min", "5 min"))} | draw.choice(others)


def words(options: Options) -> list[str]:
    """The command line of a wish; an option of several values is repeated."""
    found = ["choose", "--json"]
    for option, value in options.items():
        for one in value if isinstance(value, list) else [value]:
            found += [] if one is None else [option] if one is True else [option, str(one)]
    return found


def untrue(wish: Options, choose: Choose) -> tuple[int, list[str]]:
    """How many pieces of advice a wish is given, -1 if it is met; and those that are not true when followed."""
    code, out = choose(words(wish))
    found = json.loads(out)
    if code == 0 and found["designs"]:
        return -1, []
    wrong = [] if found["relax"] else [f"no advice for {wish}"]
    for advice in found["relax"]:
        code, out = choose(words(wish | advice["options"]))
        if code != 0 or not json.loads(out)["designs"]:
            wrong.append(f"{wish}: {advice}")
    return len(found["relax"]), wrong


def run_choose(line: list[str]) -> tuple[int, str]:
    """Run the program as a person does."""
    done = subprocess.run([sys.executable, "-m", "tickwright", *line], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout


def main() -> int:
    """Follow the advice for each wish; 1 if any of it is not true."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wishes", type=int, default=40, help="how many wishes are drawn")
    parser.add_argument("--new", action="store_true", help="wishes for delays, clocks, inverted outputs and restarts")
    options = parser.parse_args()
    met = advices = 0
    wrong: list[str] = []
    for number, wish in enumerate((drawn_new if options.new else drawn)(options.wishes), 1):
        count, untold = untrue(wish, run_choose)
        met, advices, wrong = met + (count < 0), advices + max(count, 0), wrong + untold
        print(f"{number}: {wish}: {'met' if count < 0 else f'{count} advised'}", *untold, sep="\n  ", flush=True)
    print(f"{met} wishes met; {advices} pieces of advice for the others, {len(wrong)} not true when followed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
