"""Netlists for tests: files, and texts made by number."""

from __future__ import annotations

from pathlib import Path
from random import Random

from tickwright.netlist import Network, read_netlist

FOLDER = Path(__file__).parents[2] / "examples" / "netlists"


def netlist(name: str) -> Network:
    return read_netlist(FOLDER / name)


def adder(bits: int) -> str:
    """A ripple adder of half and full adders as sums of products."""
    lines = [
        f".model add{bits}",
        ".inputs " + " ".join(f"a[{i}] b[{i}]" for i in range(bits)),
        ".outputs " + " ".join(f"s[{i}]" for i in range(bits)) + " co",
    ]
    carry = ""
    for i in range(bits):
        following = "co" if i == bits - 1 else f"c{i}"
        if not carry:
            lines += [f".names a[{i}] b[{i}] s[{i}]", "10 1", "01 1", f".names a[{i}] b[{i}] {following}", "11 1"]
        else:
            lines += [f".names a[{i}] b[{i}] {carry} s[{i}]", "100 1", "010 1", "001 1", "111 1"]
            lines += [f".names a[{i}] b[{i}] {carry} {following}", "11- 1", "1-1 1", "-11 1"]
        carry = following
    return "\n".join([*lines, ".end"])


def covers(count: int, seed: int, inputs: int = 8, outputs: int = 6, letters: str = "01-") -> str:
    """Covers at random, each of two or three signals before it; the last ones are the outputs.

    Their rows are drawn from `letters`: without - fewer of them come to nothing.
    """
    random = Random(seed)
    known = [f"i{number}" for number in range(inputs)]
    lines = [".model covers", ".inputs " + " ".join(known)]
    lines.append(".outputs " + " ".join(f"g{number}" for number in range(count - outputs, count)))
    for number in range(count):
        heard = random.sample(known[-3 * inputs :], random.choice((2, 2, 3)))
        rows = {"".join(random.choice(letters) for _ in heard) for _ in range(random.randint(1, 2))}
        lines += [f".names {' '.join(heard)} g{number}", *(f"{row} 1" for row in sorted(rows))]
        known.append(f"g{number}")
    return "\n".join([*lines, ".end"])
