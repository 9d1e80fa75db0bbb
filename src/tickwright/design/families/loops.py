"""What all loops of comparators share: how a level fades in them, and what hangs on their entry.

A pulse at the entry of a loop of N comparators is passed on by one comparator a tick; after N ticks it is back at the
entry, less what the wires of the loop took. So the loop needs a pulse of at least N ticks (a shorter one runs round as
a burst train), and holds for the pulse and N ticks for each turn until less than one level is left.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from tickwright.design.pulse_formers import ENTRY, PulseFormer, former_for, longest_pulse_steps
from tickwright.design.recipes import LAMP_STEPS, Goal
from tickwright.design.sketch import Sketch
from tickwright.space import Cell

TOP_LEVEL = 15


def turns(lost_a_turn: int) -> int:
    """How often a level of 15 comes round again, at 1 or more, if each turn takes so many levels.

    >>> turns(1), turns(2), turns(3), turns(15)
    (14, 7, 4, 0)
    """
    return (TOP_LEVEL - 1) // lost_a_turn


def lost(parts: Sequence[str]) -> int:
    """How many levels a closed ring of wires and comparators takes a turn: each run of wires its cells less one.

    >>> lost(["wire", "comparator", "comparator", "wire", "wire", "comparator", "comparator", "wire"])
    2
    """
    wires = parts.count("wire")
    runs = sum(1 for here, after in zip(parts, [*parts[1:], parts[0]], strict=True) if here == "wire" != after)
    return wires - runs


def hold_steps(comparators: int, lost_a_turn: int, pulse_steps: int, output: str) -> int:
    """The naive model: the pulse, a tick for each comparator of each further turn, and what a lamp adds."""
    return pulse_steps + 2 * comparators * turns(lost_a_turn) + LAMP_STEPS * (output == "lamp")


def fitting(
    goal: Goal, comparators: int, lost_a_turn: int, model: Callable[[int, int, int, str], int] = hold_steps
) -> Iterator[tuple[PulseFormer, str, int]]:
    """Fronts and outputs with which a loop meets the goal by the naive model, with that hold."""
    longest = longest_pulse_steps(goal.trigger_steps)
    for output in goal.outputs:
        base = model(comparators, lost_a_turn, 0, output)
        if not goal.least_steps - longest <= base <= goal.most_steps:
            continue
        for pulse_steps in goal.pulses(base, 2 * comparators):
            former = former_for(goal.trigger_steps, pulse_steps)
            if former is not None:
                yield former, output, base + pulse_steps


def lay_output(sketch: Sketch, output: str) -> dict[str, Cell]:
    """What is watched of a loop in two rows: a lamp under its entry, the entry, or a wire behind a repeater.

    The repeater hears the end of the way back, which is on whenever the entry is.
    """
    x, y, z = ENTRY
    if output == "lamp":
        sketch.put((x, y, z - 1), "lamp")
        return {"lamp": (x, y, z - 1)}
    if output == "line":
        return {"line": ENTRY}
    sketch.put((x, y - 2, z), "repeater north")
    sketch.put((x, y - 3, z), "wire")
    return {"line": (x, y - 3, z)}
