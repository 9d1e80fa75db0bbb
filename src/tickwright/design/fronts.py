"""Fronts: a trigger, and what makes its press as long as the circuit behind it needs.

A front ends in the cell (0, 0, 1), the *entry*, which is a wire or a full cell of the circuit behind, and reaches west
and south from there. Lengths are in ticks; a trigger that stays on has none.
"""

from __future__ import annotations

from dataclasses import dataclass

from tickwright.design.sketch import Sketch, detour, split_delay
from tickwright.parts import PLATES
from tickwright.space import Cell

__all__ = ["ENTRY", "Front", "front_for", "lay_front"]

ENTRY: Cell = (0, 0, 1)


@dataclass(frozen=True, slots=True)
class Front:
    """How a press of `trigger_ticks` (None: it stays on) becomes a pulse of `pulse_ticks` at the entry.

    `shape`: "plain" (as long as the press), "short" (a comparator that takes the press away from itself later), or
    "taps" (the press joined with a later copy of itself). `delay_ticks` is from the press to the entry.
    """

    shape: str
    trigger_ticks: int | None
    pulse_ticks: int | None
    delay_ticks: int

    @property
    def more_ticks(self) -> int:
        """By how much the pulse is longer than the press."""
        return (self.pulse_ticks or 0) - (self.trigger_ticks or 0)

    def settings(self) -> dict[str, int | str]:
        """What it is, as the settings of a recipe say it."""
        return {} if self.shape == "plain" else {"front": self.shape, "pulse ticks": self.pulse_ticks or 0}


def front_for(trigger_ticks: int | None, pulse_ticks: int | None) -> Front | None:
    """The front that makes the pulse of this press; None if none does.

    A short front makes 2 ticks or more, of a press longer than that; taps at most double a press, less a tick.
    """
    if trigger_ticks == pulse_ticks:
        return Front("plain", trigger_ticks, pulse_ticks, 0)
    if pulse_ticks is None or pulse_ticks < 2:
        return None
    if trigger_ticks is None or pulse_ticks < trigger_ticks:
        return Front("short", trigger_ticks, pulse_ticks, 1)
    if pulse_ticks < 2 * trigger_ticks:
        return Front("taps", trigger_ticks, pulse_ticks, 1)
    return None


def lay_front(sketch: Sketch, front: Front, trigger: str, into_block: bool) -> Cell:
    """Lay the front and return the trigger's cell. The entry itself is laid by the circuit behind.

    `into_block`: the entry is a full cell, which must be powered strongly; else it is a wire.
    """
    x, y, z = ENTRY
    if front.shape == "plain":
        if not into_block:
            return _lay_trigger(sketch, trigger, (x - 1, y, z))
        if trigger in PLATES:
            sketch.put((x - 1, y, z), "repeater east")
            return _lay_trigger(sketch, trigger, (x - 2, y, z))
        sketch.put((x - 1, y, z), f"{trigger} on=east")
        return (x - 1, y, z)
    wire = (x - 2, y, z)
    sketch.put(wire, "wire")
    if front.shape == "short":
        sketch.put((x - 1, y, z), "comparator east mode=difference")
        detour(sketch, wire, 1, split_delay(front.pulse_ticks or 0))
    else:
        sketch.put((x - 1, y, z), "repeater east")
        detour(sketch, wire, 2, split_delay(front.more_ticks + 1))
    return _lay_trigger(sketch, trigger, (x - 3, y, z))


def _lay_trigger(sketch: Sketch, trigger: str, cell: Cell) -> Cell:
    """A trigger that stands on the floor, beside what hears it."""
    sketch.put(cell, trigger)
    return cell
