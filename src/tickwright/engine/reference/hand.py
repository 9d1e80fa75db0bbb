"""The hand: what the builder does, each act one change. What cannot be done at that moment is noted, nothing more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.engine.reference import items, pistons
from tickwright.parts import BUTTONS, CONTAINERS, PISTONS, PLATES, Part, a_kind, support_cell
from tickwright.plan.hand import USUAL, Act, default_act
from tickwright.space import Cell, beside, cell_text

if TYPE_CHECKING:
    from tickwright.engine.reference.simulation import Simulation


def perform(sim: Simulation, act: Act) -> None:
    """Do one act; if it cannot be done now, note why."""
    if act.verb == USUAL:
        act = act._replace(verb=_usual(sim, act.cell))
    if act.verb == "place" and act.part is not None:
        problem = _place(sim, act.cell, act.part)
    elif act.verb == "clear":
        problem = _clear(sim, act.cell)
    else:
        problem = _use(sim, act)
    if problem:
        message = f'"{act.verb}" at {cell_text(act.cell)} did nothing: {problem}.'
        sim.notes.add("act-refused", "warning", message, (act.cell,), sim.now)
    else:
        sim.change()


def _usual(sim: Simulation, cell: Cell) -> str:
    """The usual act of the part in the cell, or, if it is empty now, of what was there at the start."""
    stand = sim.stands.get(cell) or sim.laid.get(cell)
    return default_act(stand.part.kind if stand else None) or "press"


def _use(sim: Simulation, act: Act) -> str | None:
    stand = sim.stands.get(act.cell)
    if stand is not None and stand.inert:
        return "an arm is there" if stand.posture == "arm" else f"the {stand.part.kind} there is on the move"
    kind = stand.part.kind if stand is not None else None
    if act.verb == "press" and kind in BUTTONS and kind is not None:
        if sim.level.get(act.cell, 0) == 0:
            sim.set_level(act.cell, sim.button_levels.get(act.cell, sim.rules.wire.top_level))
            sim.schedule(act.cell, sim.button_steps.get(act.cell) or sim.rules.button_steps(kind))
        return None
    if act.verb in ("flip", "on", "off") and kind == "lever":
        on = sim.level.get(act.cell, 0) > 0
        wanted = not on if act.verb == "flip" else act.verb == "on"
        if wanted != on:
            sim.set_level(act.cell, sim.rules.wire.top_level if wanted else 0)
        return None
    if act.verb in ("put", "take") and kind in CONTAINERS:
        return _handle_items(sim, act)
    if act.verb in ("drop", "take", "tread", "leave") and (kind is None or kind in PLATES):
        return _handle_things(sim, act)
    return f"{a_kind(kind)} is there now" if kind else "the cell is empty now"


def _handle_items(sim: Simulation, act: Act) -> str | None:
    """Put items into a container or take some out, as many as fit."""
    held = sim.count[act.cell]
    number = min(act.number, items.room(sim, act.cell)) if act.verb == "put" else -min(act.number, held)
    if number == 0:
        return "it is full" if act.verb == "put" else "it is empty"
    sim.set_count(act.cell, held + number)
    return None


def _handle_things(sim: Simulation, act: Act) -> str | None:
    """Drop a stack, take every stack there, let a creature tread or leave."""
    matter, cell = sim.matter, act.cell
    if act.verb == "drop":
        items.let_go(sim, cell, act.number)
        return None
    if act.verb == "take":
        stacks = list(matter.resting.get(cell, ()))
        for stack in stacks:
            matter.shrink(sim, stack, stack.number)
        return None if stacks else "nothing lies there"
    if act.verb == "leave" and matter.creatures.get(cell, 0) == 0:
        return "no creature is there"
    matter.creatures[cell] = matter.creatures.get(cell, 0) + (1 if act.verb == "tread" else -1)
    items.things_changed(sim, cell)
    return None


def _place(sim: Simulation, cell: Cell, part: Part) -> str | None:
    """Place a part, in the stead of what is there."""
    stand = sim.stands.get(cell)
    if stand is not None and stand.inert:
        return "an arm is there" if stand.posture == "arm" else f"the {stand.part.kind} there is on the move"
    support = support_cell(part, cell)
    if support is not None and not pistons.still_carried(sim, part, cell):
        return f"{a_kind(part.kind)} needs a part that carries it at {cell_text(support)}"
    if part.kind in CONTAINERS and part.items > sim.rules.capacity(part.kind):
        return f"{a_kind(part.kind)} holds at most {sim.rules.capacity(part.kind)} items"
    _remove(sim, cell)
    sim.put_down(cell, part)
    pistons.break_unsupported(sim, [cell])
    if part.kind in PLATES:
        items.things_changed(sim, cell)
    return None


def _clear(sim: Simulation, cell: Cell) -> str | None:
    stand = sim.stands.get(cell)
    if stand is None:
        return "the cell is empty"
    if stand.inert:
        return "an arm is there" if stand.posture == "arm" else f"the {stand.part.kind} there is on the move"
    _remove(sim, cell)
    pistons.break_unsupported(sim, [cell])
    return None


def _remove(sim: Simulation, cell: Cell) -> None:
    """As part of a change: what is in the cell is gone, an extended piston's arm with it."""
    stand = sim.stands.get(cell)
    if stand is None:
        return
    if stand.part.kind in PISTONS and stand.posture == "out":
        sim.set_stand(beside(cell, str(stand.part.facing)), None)
    sim.take_away(cell)
