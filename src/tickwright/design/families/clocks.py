"""Clocks without items: a torch that puts itself out through repeaters, and a comparator loop that loses nothing.

The torch clock is on for as long as it is off: the torch and the repeaters, once each way. Below three ticks the torch
would burn out. The comparator clock is a corner loop whose corners take nothing, started by a pulse shorter than a
turn, which goes round for ever; only breaking the loop ends it. Its lamp bridges a gap of two ticks.
"""

from __future__ import annotations

from tickwright.design.pulse_formers import ENTRY, former_for, lay_former
from tickwright.design.sketch import Sketch, detour, ring, split_delay, walk
from tickwright.errors import UsageError
from tickwright.plan import Plan

LEAST_TORCH_TICKS = 2  # of the repeaters
LEAST_COMPARATORS = 6


def torch_period_steps(delay_ticks: int) -> int:
    """The naive model of the torch clock: the torch's tick and the repeaters, off and on."""
    return 4 * (1 + delay_ticks)


def make_torch_clock(delay_ticks: int) -> Plan:
    """A torch clock that a lever holds until it is thrown off; the lamp hears the torch.

    Raises UsageError for repeaters of less than 2 ticks together: the torch would burn out.
    """
    if delay_ticks < LEAST_TORCH_TICKS:
        raise UsageError(
            f"A torch clock of {delay_ticks} ticks of repeaters burns out: use {LEAST_TORCH_TICKS} or more."
        )
    sketch = Sketch()
    sketch.put((-1, 0, 1), "lever on=east thrown=yes")
    sketch.put((0, 0, 1), "block")
    sketch.put((1, 0, 1), "torch on=west")
    sketch.put((2, 0, 1), "wire")
    sketch.put((1, -1, 1), "lamp")
    detour(sketch, (2, 0, 1), -2, split_delay(delay_ticks))
    return sketch.plan(f"Torch clock of {torch_period_steps(delay_ticks)} steps", (-1, 0, 1), {"lamp": (1, -1, 1)})


def comparator_period_steps(comparators: int) -> int:
    """The naive model of the comparator clock: a tick for each."""
    return 2 * comparators


def make_comparator_clock(comparators: int, pulse_steps: int) -> Plan:
    """A comparator clock, started by a lever through a short front.

    Raises UsageError if the number of comparators is odd or below 6, or the pulse is not 2 ticks or more and shorter
    than a turn.
    """
    if comparators < LEAST_COMPARATORS or comparators % 2:
        raise UsageError(f"A comparator clock of {comparators}: use an even number from {LEAST_COMPARATORS}.")
    former = former_for(None, pulse_steps) if pulse_steps < comparator_period_steps(comparators) else None
    if former is None:
        raise UsageError(
            f"A pulse of {pulse_steps} steps starts no such clock: use an even number from 4, below a turn."
        )
    across = comparators // 2 - 1
    sketch = Sketch()
    row = ["comparator"] * across
    parts = ["wire", *row, "wire", "comparator", "wire", *row, "wire", "comparator"]
    ring(sketch, list(walk(ENTRY, [("east", across + 1), ("north", 2), ("west", across + 1), ("south", 1)])), parts)
    press = lay_former(sketch, former, "lever", into_block=False)
    sketch.put((0, 0, 0), "lamp")
    return sketch.plan(f"Comparator clock of {comparators}", press, {"lamp": (0, 0, 0)})
