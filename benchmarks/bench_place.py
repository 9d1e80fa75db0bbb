"""Placing: netlists from 6 to 151 gates, each laid once as `tickwright place` does: size, parts, CPU, and the way.

Published netlists and registers of `examples/netlists`, ripple adders in plain BLIF, and truth tables at random.
"""

from __future__ import annotations

import resource
from collections.abc import Iterator
from typing import NamedTuple

from run import Result
from tests.netlist.texts import adder, covers, netlist

from tickwright.layout import Placed, place_network
from tickwright.netlist import Network, parse_blif

FULL_ADDER = """
.model full-adder
.inputs a b c
.outputs sum carry
.names a b c sum
100 1
010 1
001 1
111 1
.names a b c carry
11- 1
1-1 1
-11 1
.end
"""
COVERS = ((70, 1), (100, 1))  # how many, from which seed: 110 and 151 gates
MANY_MINUTES, MINUTES = 5.0, 1.0


class Job(NamedTuple):
    """A netlist to place, and how long it may take."""

    what: str
    network: Network
    minutes: float


def jobs() -> Iterator[Job]:
    """The netlists, the small ones first."""
    yield Job("ISCAS-85 c17", netlist("c17.blif"), MINUTES)
    yield Job("full adder", parse_blif(FULL_ADDER), MINUTES)
    for bits in (4, 8, 16):
        yield Job(f"adder of {bits} bits, from plain BLIF", parse_blif(adder(bits)), MINUTES)
    yield Job("LFSR of 4 stages", netlist("lfsr4.blif"), MINUTES)
    yield Job("Johnson ring of 4 stages", netlist("johnson4.blif"), MINUTES)
    yield Job("ISCAS-89 s27", netlist("s27.blif"), MINUTES)
    yield Job("digit on seven lamps", netlist("seven-segment.blif"), MINUTES)
    for count, seed in COVERS:
        network = parse_blif(covers(count, seed, inputs=16, outputs=count // 2, letters="01"))
        yield Job(f"{count} truth tables at random, of 2 or 3 signals each", network, MANY_MINUTES)


def processor_seconds() -> float:
    """What this process and those that it has ended have taken."""
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(used.ru_utime + used.ru_stime for used in both)


def tried(job: Job) -> tuple[Placed, float]:
    """The netlist placed, and the seconds of processor time."""
    begun = processor_seconds()
    placed = place_network(job.network, minutes=job.minutes)
    return placed, processor_seconds() - begun


def rows() -> Iterator[tuple[str, ...]]:
    """A row of the table for each netlist."""
    from tickwright.netlist import map_network

    for job in jobs():
        placed, seconds = tried(job)
        gates = len(map_network(job.network).gates)
        x, y, z = placed.plan.size
        judged = placed.judgement
        played = "–" if judged is None else f"{judged.vectors:,}{', all' if judged.complete else ' at random'}"
        settled = "–" if judged is None or judged.settle_steps is None else f"{judged.settle_steps} steps"
        way = placed.way if placed.placed else f"{placed.way}, not placed: {len(placed.unrouted)} ways missing"
        name = f"{job.what} ({gates} gates and latches)"
        size = (f"{x}×{y}×{z}", f"{x * y * z:,}", f"{len(placed.plan.cells):,}")
        yield name, f"{job.minutes:g} min", way, *size, settled, played, f"{seconds:.1f} s"


def measure(repeats: int) -> list[Result]:
    """Place each netlist once (`repeats` makes no difference): parts and seconds of CPU."""
    del repeats
    found = []
    for job in jobs():
        placed, seconds = tried(job)
        parts = float(len(placed.plan.cells))
        told = f"{job.what}, {placed.way}" if placed.placed else f"{job.what}, NOT placed"
        found.append(Result(f"{told}: parts", parts, "", parts, parts))
        found.append(Result(f"{told}: CPU", seconds, "s", seconds, seconds))
    return found
