"""Pulse formers: a trigger, and what makes its press as long as the circuit behind it needs.

A pulse former ends in the cell (0, 0, 1), the *entry*, which is a wire or a full cell of the circuit behind, and
reaches west and south from there.
"""

from __future__ import annotations

from dataclasses import dataclass

from tickwright.design.sketch import Sketch, detour, split_delay
from tickwright.kinds import PLATES
from tickwright.space import Cell

__all__ = ["ENTRY", "PulseFormer", "former_for", "lay_former", "longest_pulse_steps"]

ENTRY: Cell = (0, 0, 1)
MOST_DETOUR_STEPS = 160  # longer ones cost more than what they save
MOST_STRETCHED_STEPS = 8  # the longest delay of a repeater


@dataclass(frozen=True, slots=True)
class PulseFormer:
    """How a press of `trigger_steps` (None: it stays on) becomes a pulse of `pulse_steps` at the entry.

    `shape`: "plain" (as long as the press), "short" (a comparator that takes the press away from itself later),
    "stretch" (a repeater whose delay is longer than the press), or "taps" (the press joined with a later copy of
    itself).
    """

    shape: str
    trigger_steps: int | None
    pulse_steps: int

    def settings(self) -> dict[str, int | str]:
        """What it is, as the settings of a recipe say it."""
        return {} if self.shape == "plain" else {"front": self.shape, "pulse steps": self.pulse_steps}


def former_for(trigger_steps: int | None, pulse_steps: int) -> PulseFormer | None:
    """The pulse former that makes the pulse of this press; None if none does.

    A short one makes 2 ticks or more, of a press longer than that; taps at most double a press, less a tick. Neither
    delays by more than 20 repeaters. A repeater stretches a shorter press to its delay, of 4 ticks at most.

    >>> [former_for(20, steps) and former_for(20, steps).shape for steps in (2, 4, 20, 21, 38, 40)]
    [None, 'short', 'plain', None, 'taps', None]
    >>> [former_for(1, steps) and former_for(1, steps).shape for steps in (2, 3, 8, 10)]
    ['stretch', None, 'stretch', None]
    """
    if trigger_steps == pulse_steps:
        return PulseFormer("plain", trigger_steps, pulse_steps)
    if trigger_steps is None or pulse_steps < trigger_steps:
        if 4 <= pulse_steps <= MOST_DETOUR_STEPS and pulse_steps % 2 == 0:
            return PulseFormer("short", trigger_steps, pulse_steps)
        return None
    if pulse_steps <= MOST_STRETCHED_STEPS and pulse_steps % 2 == 0:
        return PulseFormer("stretch", trigger_steps, pulse_steps)
    more = pulse_steps - trigger_steps
    possible = more % 2 == 0 and more < min(trigger_steps, MOST_DETOUR_STEPS)
    return PulseFormer("taps", trigger_steps, pulse_steps) if possible else None


def longest_pulse_steps(trigger_steps: int | None) -> int:
    """No pulse former makes a longer pulse of this press.

    >>> longest_pulse_steps(1), longest_pulse_steps(20), longest_pulse_steps(None)
    (8, 40, 160)
    """
    if trigger_steps is None:
        return MOST_DETOUR_STEPS
    return max(MOST_STRETCHED_STEPS, trigger_steps + min(trigger_steps, MOST_DETOUR_STEPS))


def lay_former(sketch: Sketch, former: PulseFormer, trigger: str, into_block: bool) -> Cell:
    """Lay the pulse former and return the trigger's cell. The entry itself is laid by the circuit behind.

    `into_block`: the entry is a full cell, which must be powered strongly; else it is a wire.
    """
    x, y, z = ENTRY
    if former.shape == "plain":
        if not into_block:
            return _lay_trigger(sketch, trigger, (x - 1, y, z))
        if trigger in PLATES:
            sketch.put((x - 1, y, z), "repeater east")
            return _lay_trigger(sketch, trigger, (x - 2, y, z))
        sketch.put((x - 1, y, z), f"{trigger} on=east")
        return (x - 1, y, z)
    if former.shape == "stretch":
        sketch.put((x - 1, y, z), f"repeater east delay={former.pulse_steps // 2}")
        return _lay_trigger(sketch, trigger, (x - 2, y, z))
    wire = (x - 2, y, z)
    sketch.put(wire, "wire")
    if former.shape == "short":
        sketch.put((x - 1, y, z), "comparator east mode=difference")
        detour(sketch, wire, 1, split_delay(former.pulse_steps // 2))
    else:
        sketch.put((x - 1, y, z), "repeater east")
        detour(sketch, wire, 2, split_delay((former.pulse_steps - (former.trigger_steps or 0)) // 2 + 1))
    return _lay_trigger(sketch, trigger, (x - 3, y, z))


def _lay_trigger(sketch: Sketch, trigger: str, cell: Cell) -> Cell:
    """A trigger that stands on the floor, beside what hears it."""
    sketch.put(cell, trigger)
    return cell
