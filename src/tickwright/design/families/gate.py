"""The gate that the hopper families share: a full cell that a press powers, and two hoppers that pass items to and fro.

While the gate is on, the first hopper is let go and the second is locked; a comparator reads the first and, through
repeaters, keeps the gate on until it is empty. Then the second gives everything back, and all is as it was. While the
gate is off, its torch holds the comparator's flank at a level that no fill passes. The second hopper is let go a tick
or more after the gate went off, lest its first item opens the gate again.
"""

from __future__ import annotations

from tickwright.design.sketch import Sketch, split_delay
from tickwright.space import Cell, beside

__all__ = [
    "ITEM_STEPS",
    "MOST_DELAY_TICKS",
    "MOST_ITEMS",
    "READERS",
    "gate_steps",
    "lay_busy",
    "lay_gate",
    "lay_reader",
    "lay_release",
    "least_pulse_steps",
]

ITEM_STEPS = 8
MOST_ITEMS = 297  # more would show 14, which is more than the line at the flank has left behind two repeaters
MOST_DELAY_TICKS = 8
# Of what reads the second hopper, from the first one on: the comparator's place, a wire's or none, the repeater's.
READERS = {
    "straight south": ((0, 2, "south"), None, (0, 3, "south")),
    "south and west": ((0, 2, "south"), (0, 3), (-1, 3, "west")),
    "south and east": ((0, 2, "south"), (0, 3), (1, 3, "east")),
    "straight east": ((1, 1, "east"), None, (2, 1, "east")),
    "east and south": ((1, 1, "east"), (2, 1), (2, 2, "south")),
    "east and north": ((1, 1, "east"), (2, 1), (2, 0, "north")),
}


def least_pulse_steps(delay_ticks: int) -> int:
    """How long the press must be: for the torch, the comparator, and its repeaters."""
    return 4 + 2 * delay_ticks


def gate_steps(items: int, delay_ticks: int) -> int:
    """The naive model of how long the gate is on: the items but one, torch and comparator, and the repeaters."""
    return ITEM_STEPS * (items - 1) + 4 + 2 * delay_ticks


def lay_gate(sketch: Sketch, gate: Cell, items: int, delay_ticks: int, part: str = "block") -> Cell:
    """Lay the gate at a cell, as that part, its comparator and hoppers to the east; return the first hopper's cell.

    North of it runs the line of its torch, up to the comparator; the cell north of the first hopper is a block that
    locks it when it is powered.
    """
    x, y, z = gate
    delays = split_delay(delay_ticks)
    last = x + len(delays) + 1
    sketch.put(gate, part)
    for number, delay in enumerate(delays):
        sketch.put((x + 1 + number, y, z), f"repeater west delay={delay}")
    sketch.put((last, y, z), "comparator west mode=difference")
    sketch.put((last + 1, y, z), f"hopper into=south items={items}")
    sketch.put((last + 1, y + 1, z), "hopper into=north")
    sketch.put((x, y - 1, z), "torch on=south")
    sketch.fill(((column, y - 1, z) for column in range(x + 1, last + 1)), "wire")
    sketch.put((last + 1, y - 1, z), "block")
    return (last + 1, y, z)


def lay_release(sketch: Sketch, gate: Cell, first: Cell) -> None:
    """South of the gate a wire that is on with it, and the repeater through which it locks the second hopper."""
    x, y, z = gate
    sketch.fill(((column, y + 1, z) for column in range(x, first[0] - 2)), "wire")
    sketch.put((first[0] - 2, y + 1, z), "repeater east")
    sketch.put((first[0] - 1, y + 1, z), "block")


def lay_busy(sketch: Sketch, gate: Cell, first: Cell, end: Cell) -> None:
    """The busy line, south of the gate: on while the gate is, and while the second hopper holds anything.

    It ends in the cell `end`, two cells south of the gate's row and west of the gate.
    """
    x, y, z = gate
    south = y + 3
    sketch.put((x, y + 2, z), "repeater south")
    sketch.put((first[0], y + 2, z), "comparator south")
    sketch.put((first[0], south, z), "wire")
    sketch.put((first[0] - 1, south, z), "repeater west")
    sketch.fill(((column, south, z) for column in range(end[0], first[0] - 1)), "wire")
    sketch.put(end, "wire")


def lay_reader(sketch: Sketch, first: Cell, reader: str) -> Cell:
    """What is on while the second hopper holds anything, one of `READERS`; return the cell that it powers."""
    x, y, z = first
    (dx, dy, way), wire, (rx, ry, out) = READERS[reader]
    sketch.put((x + dx, y + dy, z), f"comparator {way}")
    if wire is not None:
        sketch.put((x + wire[0], y + wire[1], z), "wire")
    repeater = (x + rx, y + ry, z)
    sketch.put(repeater, f"repeater {out}")
    return beside(repeater, out)
