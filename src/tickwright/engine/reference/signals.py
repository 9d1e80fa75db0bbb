"""How the parts that only handle levels behave: when told, and when due.

A part that is told looks at its input and may schedule an event; when the event is due it acts.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from tickwright.engine.reference import items, pistons
from tickwright.kinds import PARTS, Behaviour
from tickwright.rules.power import is_ahead
from tickwright.space import Cell, cell_text

if TYPE_CHECKING:
    from tickwright.engine.reference.simulation import Simulation


class TorchMemory:
    """When each torch lately went off, and which are burnt out (dark and deaf)."""

    def __init__(self) -> None:
        self.switch_offs: dict[Cell, deque[int]] = {}
        self.burnt: set[Cell] = set()

    def forget(self, cell: Cell) -> None:
        """The torch in the cell is gone."""
        self.switch_offs.pop(cell, None)
        self.burnt.discard(cell)

    def copy(self) -> TorchMemory:
        """The same memory, to go on separately."""
        clone = TorchMemory()
        clone.switch_offs = {cell: offs.copy() for cell, offs in self.switch_offs.items()}
        clone.burnt = self.burnt.copy()
        return clone

    def burns_out(self, cell: Cell, step: int, count: int, window: int) -> bool:
        """Note a switch-off; whether the last `count` of them lie within `window` steps, first to last."""
        offs = self.switch_offs.setdefault(cell, deque(maxlen=count))
        offs.append(step)
        return len(offs) == count and offs[-1] - offs[0] <= window


def notified(sim: Simulation, cell: Cell, behaviour: Behaviour) -> None:
    """The part's input may have changed: let it look."""
    NOTIFIED[behaviour](sim, cell)


def _repeater_notified(sim: Simulation, cell: Cell) -> None:
    if not locked(sim, cell) and sim.powered(cell) != is_on(sim, cell):
        sim.schedule(cell, _delay(sim, cell), _priority(sim, cell))


def _comparator_notified(sim: Simulation, cell: Cell) -> None:
    if compared(sim, cell) != sim.level.get(cell, 0):
        sim.schedule(cell, _delay(sim, cell), _priority(sim, cell))


def _torch_notified(sim: Simulation, cell: Cell) -> None:
    if cell not in sim.torches.burnt and sim.powered(cell) == is_on(sim, cell):
        sim.schedule(cell, _delay(sim, cell))


def _hopper_notified(sim: Simulation, cell: Cell) -> None:
    sim.matter.wake(sim, cell)


def _piston_notified(sim: Simulation, cell: Cell) -> None:
    pistons.notified(sim, cell)


def _sensor_notified(sim: Simulation, cell: Cell) -> None:
    if not is_on(sim, cell):
        sim.schedule(cell, _delay(sim, cell))


def _ejector_notified(sim: Simulation, cell: Cell) -> None:
    was = cell in sim.ejector_powered
    if sim.powered(cell) and not was:
        sim.ejector_powered.add(cell)
        sim.schedule(cell, _delay(sim, cell))
    elif was and not sim.powered(cell):
        sim.ejector_powered.discard(cell)


def _lamp_notified(sim: Simulation, cell: Cell) -> None:
    powered = sim.powered(cell)
    if powered and not is_on(sim, cell):
        sim.level[cell] = sim.rules.wire.top_level
        sim.notify_of_lamp(cell)
    elif is_on(sim, cell) and not powered:
        sim.schedule(cell, _delay(sim, cell))


def act(sim: Simulation, cell: Cell) -> None:
    """The part's event is due: it acts, which is one change."""
    DUE[PARTS[sim.geometry.parts[cell].kind].behaviour](sim, cell)


def _comparator_due(sim: Simulation, cell: Cell) -> None:
    _show(sim, cell, compared(sim, cell))


def _lamp_due(sim: Simulation, cell: Cell) -> None:
    if not sim.powered(cell):
        _show(sim, cell, 0)


def _sensor_due(sim: Simulation, cell: Cell) -> None:
    if is_on(sim, cell):
        _show(sim, cell, 0)
    else:
        sim.schedule(cell, sim.rules.sensor.pulse)
        _show(sim, cell, sim.rules.wire.top_level)


def _ejector_due(sim: Simulation, cell: Cell) -> None:
    items.eject(sim, cell)


def _button_due(sim: Simulation, cell: Cell) -> None:
    _show(sim, cell, 0)


def _show(sim: Simulation, cell: Cell, level: int) -> None:
    if level != sim.level.get(cell, 0):
        sim.set_level(cell, level)
        sim.change()


def is_on(sim: Simulation, cell: Cell) -> bool:
    """On means level 1 or more."""
    return sim.level.get(cell, 0) > 0


def _delay(sim: Simulation, cell: Cell) -> int:
    return sim.rules.delay_steps(sim.geometry.parts[cell])


def _priority(sim: Simulation, cell: Cell) -> int:
    hastened, while_off, while_on = PARTS[sim.geometry.parts[cell].kind].priorities
    if is_ahead(sim.geometry, cell):
        return sim.rules.value(hastened)
    return sim.rules.value(while_on if is_on(sim, cell) else while_off)


# --- repeater ----------------------------------------------------------------------------------------------------


def locked(sim: Simulation, cell: Cell) -> bool:
    """Whether a powered repeater or comparator faces into either flank of the repeater."""
    return sim.heard(sim.geometry.fan_in(cell).lock) > 0


def _repeater_due(sim: Simulation, cell: Cell) -> None:
    """On and input gone: off. Off: on, whatever the input now is; off again later if it was already gone."""
    if locked(sim, cell):
        return
    powered = sim.powered(cell)
    if is_on(sim, cell):
        if not powered:
            _show(sim, cell, 0)
        return
    _show(sim, cell, sim.rules.wire.top_level)
    if not powered:
        sim.schedule(cell, _delay(sim, cell), sim.rules.repeater.priority_off)


# --- comparator --------------------------------------------------------------------------------------------------


def compared(sim: Simulation, cell: Cell) -> int:
    """The level that the comparator computes from its rear and flanks at this moment."""
    fan_in = sim.geometry.fan_in(cell)
    rear = sim.heard(fan_in.power)
    if fan_in.container is not None:
        container, directly = fan_in.container
        if directly or rear < sim.rules.wire.top_level:
            rear = sim.rules.fill_level(sim.geometry.parts[container].kind, sim.count[container])
    flank = sim.heard(fan_in.flank)
    if sim.geometry.parts[cell].mode == "difference":
        return max(rear - flank, 0)
    return rear if rear >= flank else 0


# --- torch -------------------------------------------------------------------------------------------------------


def _torch_due(sim: Simulation, cell: Cell) -> None:
    """Look again, and change only if it still should; too many switch-offs burn it out for a while."""
    rules = sim.rules.torch
    powered = sim.powered(cell)
    sim.torches.burnt.discard(cell)
    if is_on(sim, cell) and powered:
        if sim.torches.burns_out(cell, sim.now, rules.burnout_count, rules.burnout_window):
            sim.torches.burnt.add(cell)
            sim.schedule(cell, rules.burnout_rest)
            message = (
                f"The torch at {cell_text(cell)} went off {rules.burnout_count} times within "
                f"{rules.burnout_window} steps: it stays dark for {rules.burnout_rest} steps."
            )
            sim.notes.add("torch-burns-out", "warning", message, (cell,), sim.now)
        _show(sim, cell, 0)
    elif not is_on(sim, cell) and not powered:
        _show(sim, cell, sim.rules.wire.top_level)


# --- what each behaviour does; a kind whose behaviour is not here is an error, never something else ---------------

NOTIFIED: Mapping[Behaviour, Callable[[Simulation, Cell], None]] = {
    "repeater": _repeater_notified,
    "comparator": _comparator_notified,
    "torch": _torch_notified,
    "lamp": _lamp_notified,
    "sensor": _sensor_notified,
    "ejector": _ejector_notified,
    "hopper": _hopper_notified,
    "piston": _piston_notified,
}
DUE: Mapping[Behaviour, Callable[[Simulation, Cell], None]] = {
    "repeater": _repeater_due,
    "comparator": _comparator_due,
    "torch": _torch_due,
    "lamp": _lamp_due,
    "sensor": _sensor_due,
    "ejector": _ejector_due,
    "button": _button_due,
}
