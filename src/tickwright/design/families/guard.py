"""A guard in front of a circuit: it lets a press in only while the circuit is at rest, as a pulse of set length.

A difference comparator hears the press behind it. At one flank the press itself, a repeater later, ends what it lets
in after 2 ticks; at the other flank whatever says that the circuit is busy lets nothing in at all. A repeater of 4
ticks makes a pulse of 8 steps of it, and taps behind that one of 14. A press longer than the hold is let in once, too.
"""

from __future__ import annotations

from tickwright.design.pulse_formers import ENTRY
from tickwright.design.sketch import Sketch, detour
from tickwright.kinds import BUTTONS
from tickwright.plan import Plan
from tickwright.space import Cell

__all__ = [
    "GUARD", "LONG_STEPS", "PULSES", "SHORT_STEPS",
    "busy_line", "guards", "lay_guard", "lay_open_guard", "loose_guards",
]  # fmt: skip

GUARD = "guard"  # the shape of a pulse former that is one

SHORT_STEPS, LONG_STEPS = 8, 14
PULSES = (SHORT_STEPS, LONG_STEPS)
OUTLASTING_TICKS = 3  # by which the busy line keeps the guard shut after the circuit came to rest


def guards(trigger: str, trigger_steps: int | None) -> bool:
    """Whether a guard can stand behind such a trigger: a button, that lets go by itself."""
    return trigger in BUTTONS and trigger_steps is not None


def lay_guard(sketch: Sketch, pulse_steps: int, trigger: str, away: int = 0) -> Cell:
    """Lay the guard west of the entry, a full cell or a wire, so many cells further off; return the trigger's cell.

    The busy line must reach the cell that `busy_line` names, at any level.
    """
    x, y, z = ENTRY
    gate = _comparator(pulse_steps, away)[0]
    end = x - 1
    if away or pulse_steps == LONG_STEPS:
        sketch.put((end, y, z), "repeater east")
        end -= 1
        sketch.fill(((end - cell, y, z) for cell in range(max(away - 1, 0))), "wire")
        end -= max(away - 1, 0)
    if pulse_steps == LONG_STEPS:
        sketch.put((end, y, z), "wire")
        sketch.put((end - 1, y, z), "repeater east")
        sketch.put((end - 2, y, z), "wire")
        detour(sketch, (end - 2, y, z), 2, [4], north=True)
    sketch.put((gate + 1, y, z), "repeater east delay=4")
    sketch.put((gate, y, z), "comparator east mode=difference")
    sketch.put((gate - 1, y, z), "block")
    sketch.put((gate - 2, y, z), f"{trigger} on=east")
    sketch.fill([(gate - 1, y - 1, z), (gate - 1, y - 2, z), (gate, y - 2, z)], "wire")
    sketch.put((gate, y - 1, z), "repeater south delay=2")
    sketch.put((gate, y + 1, z), f"repeater north delay={OUTLASTING_TICKS}")
    return (gate - 2, y, z)


def busy_line(pulse_steps: int, away: int = 0) -> Cell:
    """The cell behind the guard's busy repeater: a wire there shuts the guard."""
    x, y, z = _comparator(pulse_steps, away)
    return (x, y + 2, z)


def lay_open_guard(sketch: Sketch) -> Cell:
    """Lay only what makes a pulse of 8 steps west of the entry, a full cell; return the cell that lets it begin."""
    x, y, z = ENTRY
    sketch.put((x - 1, y, z), "repeater east delay=4")
    return (x - 2, y, z)


def loose_guards(trigger: str) -> list[Plan]:
    """A guard by itself, its button in each of four places; in the first it powers a wire that it touches.

    Its outputs are cells for wires: "begins" is powered when a press is let in, "busy" shuts it.
    """
    found = []
    for place, on in (((-1, -1, 1), "south"), ((-2, 0, 1), "east"), ((-1, 1, 1), "north"), ((-1, 0, 2), "down")):
        sketch = Sketch()
        sketch.put((0, 0, 1), "comparator east mode=difference")
        sketch.put((-1, 0, 1), "block")
        sketch.put(place, f"{trigger} on={on}")
        line = [(-1, -1, 1), (-1, -2, 1), (0, -2, 1)]
        sketch.fill((cell for cell in line if cell != place), "wire")
        sketch.put((0, -1, 1), "repeater south delay=2")
        sketch.put((0, 1, 1), f"repeater north delay={OUTLASTING_TICKS}")
        found.append(sketch.plan("Guard", place, {"begins": (1, 0, 1), "busy": (0, 2, 1)}))
    return found


def _comparator(pulse_steps: int, away: int) -> Cell:
    x, y, z = ENTRY
    if pulse_steps == SHORT_STEPS:
        return (x - 2 - away, y, z)
    return (x - 6 - max(away - 1, 0), y, z)
