"""Flip-flops in an exact layout: four repeaters in a square, wherever SAT puts them, and what each must hear.

The first repeater, the master, gives to the second, the slave. A third faces into the flank of the master and locks it,
a fourth into that of the slave. The one hears the clock, the other its inverse: so the slave takes what the master held
when the clock changed. The slave's front is the flip-flop's output, what lies behind the master is its data.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from tickwright.kinds import Part
from tickwright.space import FLANKS, HORIZONTAL, OPPOSITE, Cell, beside

MASTER_TICKS = 2


class FlipFlop(NamedTuple):
    """Where a flip-flop lies: the cell of its master, the way that faces, and the side of it on which its locks lie."""

    master: Cell
    facing: str
    side: str

    @property
    def slave(self) -> Cell:
        """The second repeater: what the master gives to."""
        return beside(self.master, self.facing)

    @property
    def locks(self) -> tuple[Cell, Cell]:
        """The repeaters that lock the master and the slave.

        >>> FlipFlop((3, 2, 1), "east", "north").locks
        ((3, 1, 1), (4, 1, 1))
        """
        return beside(self.master, self.side), beside(self.slave, self.side)

    @property
    def heard(self) -> tuple[Cell, Cell, Cell]:
        """What lies behind the master and behind the locks."""
        first, second = self.locks
        return beside(self.master, OPPOSITE[self.facing]), beside(first, self.side), beside(second, self.side)

    @property
    def front(self) -> Cell:
        """The cell that the slave gives to."""
        return beside(self.slave, self.facing)

    def parts(self) -> dict[Cell, Part]:
        """Its repeaters; the master is slow, so that a lock that is on from the start is quicker than its data."""
        master, slave = Part("repeater", self.facing, delay=MASTER_TICKS), Part("repeater", self.facing)
        lock = Part("repeater", OPPOSITE[self.side])
        return {self.master: master, self.slave: slave, **dict.fromkeys(self.locks, lock)}


def flip_flops(inside: set[Cell]) -> Iterator[FlipFlop]:
    """All that lie in these cells, with what each hears and gives to, in order."""
    for cell in sorted(inside):
        for facing in HORIZONTAL:
            for side in FLANKS[facing]:
                one = FlipFlop(cell, facing, side)
                if cell[2] and inside.issuperset((*one.parts(), *one.heard, one.front)):
                    yield one


class Flips:
    """The variables of all flip-flops in a box: `var[number, where]`, and what of them is in which cell."""

    def __init__(self, variables: Mapping[tuple[int, FlipFlop], int]) -> None:
        self.var = variables
        self.of: dict[int, list[int]] = {}
        self.covering: dict[Cell, list[int]] = {}
        self.fronts: dict[Cell, dict[int, list[int]]] = {}  # the cell that a slave gives to, by number
        self.slaves: dict[tuple[Cell, str], dict[int, list[int]]] = {}
        self.masters: dict[tuple[Cell, str], dict[int, list[int]]] = {}
        for (number, where), var in variables.items():
            self.of.setdefault(number, []).append(var)
            for cell in where.parts():
                self.covering.setdefault(cell, []).append(var)
            self.fronts.setdefault(where.front, {}).setdefault(number, []).append(var)
            self.slaves.setdefault((where.slave, where.facing), {}).setdefault(number, []).append(var)
            self.masters.setdefault((where.master, where.facing), {}).setdefault(number, []).append(var)
