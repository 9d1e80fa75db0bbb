"""Netlists for tests: files, and texts made by number."""

from __future__ import annotations

from pathlib import Path

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
