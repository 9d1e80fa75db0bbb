"""Look for what breaks: the property tests with fresh seeds, and both engines on random worlds, in turns.

Usage: python dev.py fuzz [--minutes N] [--only properties|worlds] [--seed N] [--static] [pytest arguments]

A world on which the engines differ is made small and kept in tests/corpus, where the tests run it for ever. At the end
it says how many worlds there were and which rules they reached; Ctrl-C ends it early and says the same.
"""

from __future__ import annotations

import argparse
import secrets
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import chain, count
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from worlds.corpus import keep, kept
from worlds.differ import RULE_SETS, Difference, compare, examples, fast, reference
from worlds.generator import World, random_world
from worlds.rules import RULES
from worlds.shrink import shrunk

SHORTEST_TURN = 60.0
SAY_EVERY = 30.0


@dataclass
class Tally:
    """What was done so far."""

    worlds: int = 0
    seconds: float = 0.0
    rounds: int = 0
    counts: Counter[str] = field(default_factory=Counter)

    def line(self) -> str:
        reached = sum(1 for name in RULES if self.counts[name])
        return (
            f"{self.worlds:,} worlds in {self.seconds / 60:.1f} minutes, each through both engines under "
            f"{len(RULE_SETS)} rule sets and several orders; {reached} of {len(RULES)} rules reached"
        )


def main() -> int:
    parser = argparse.ArgumentParser(prog="python dev.py fuzz", description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--minutes", type=float, default=5.0, help="start no new turn after so many minutes [5]")
    parser.add_argument("--only", choices=("properties", "worlds"), help="one of the two only")
    parser.add_argument("--seed", type=int, default=secrets.randbelow(2**32), help="of the first world [by chance]")
    parser.add_argument("--static", action="store_true", help="worlds without pistons, items and building")
    options, rest = parser.parse_known_args()
    end = time.monotonic() + options.minutes * 60
    tally = Tally()
    worlds = chain(kept(), examples(), (random_world(seed, options.static) for seed in count(options.seed)))
    print(f"the first random world has the seed {options.seed}", flush=True)
    try:
        return turns(options.only, end, tally, worlds, rest)
    except KeyboardInterrupt:
        print("\nended early")
        return 130
    finally:
        tell(tally, options.only)


def turns(only: str | None, end: float, tally: Tally, worlds: Iterable[World], rest: list[str]) -> int:
    """Property tests and worlds, a turn each, until the time is over or something breaks; the exit code."""
    turn = SHORTEST_TURN
    while tally.rounds == 0 or time.monotonic() < end:
        started = time.monotonic()
        tally.rounds += 1
        if only != "worlds":
            code = property_round(tally.rounds, rest)
            if code:
                return code
            turn = max(SHORTEST_TURN, time.monotonic() - started)
        if only != "properties":
            stop = end if only == "worlds" else min(end, time.monotonic() + turn)
            found = world_round(worlds, max(stop, time.monotonic() + 1), tally)
            if found is not None:
                report(found)
                return 1
    return 0


def property_round(number: int, rest: list[str]) -> int:
    """The property tests once, with a fresh seed."""
    flags = ["-n", "auto", "-q", "-m", "hypothesis", "--timeout", "0", "--hypothesis-profile", "fuzz"]
    arguments = [*flags, f"--hypothesis-seed={secrets.randbelow(2**32)}", *rest]
    print(f"round {number}: pytest {' '.join(arguments)}", flush=True)
    code = subprocess.run([sys.executable, "-m", "pytest", *arguments], check=False).returncode
    if code:
        print(f"round {number} ended with exit code {code}; the line above that begins with its number repeats it")
    return code


def world_round(worlds: Iterable[World], stop: float, tally: Tally) -> Difference | None:
    """Worlds until the time is over; the first difference."""
    said = started = time.monotonic()
    before = tally.seconds
    for world in worlds:
        found = compare(world, reference, fast, RULE_SETS, counts=tally.counts)
        now = time.monotonic()
        tally.worlds += 1
        tally.seconds = before + now - started
        if found is not None:
            return found
        if now - said > SAY_EVERY:
            said = now
            print(tally.line(), flush=True)
        if now > stop:
            break
    return None


def report(found: Difference) -> None:
    """Make the world small, keep it, and say where."""
    print(f"a difference: {found}", flush=True)

    def again(world: World) -> Difference | None:
        return compare(world, reference, fast, [found.rules], [found.order])

    def differs(world: World) -> int | None:
        difference = again(world)
        return None if difference is None else difference.step

    small = shrunk(found.world, differs)
    path = keep(small, f"{again(small)}\nIt was {found.world.name}.")
    print(f"{again(small)}\nkept in {path}, the script of the hand beside it:")
    print(path.read_text("utf-8"), path.with_suffix(".hand").read_text("utf-8"), sep="\n", flush=True)


def tell(tally: Tally, only: str | None) -> None:
    """What was done, and how often each rule was reached."""
    if only != "worlds":
        print(f"{tally.rounds} rounds of the property tests")
    if only != "properties":
        print(tally.line())
        for name in sorted(RULES, key=lambda name: -tally.counts[name]):
            print(f"{tally.counts[name]:>10,}  {name:<22} {RULES[name]}")


if __name__ == "__main__":
    sys.exit(main())
