"""The hand: what the builder does, each act one change. What cannot be done at that moment is noted, nothing more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.engine.reference import items, pistons
from tickwright.kinds import BUTTONS, CONTAINERS, PISTONS, PLATES, Part, a_kind, kinds_with, support_cell
from tickwright.plan.hand import USUAL, Stimulus, default_act
from tickwright.space import Cell, beside, cell_text

if TYPE_CHECKING:
    from tickwright.engine.reference.simulation import Simulation


LEVERS = kinds_with("lever")


def perform(sim: Simulation, stimulus: Stimulus) -> None:
    """Do one act; if it cannot be done now, note why."""
    if stimulus.verb == USUAL:
        stimulus = stimulus._replace(verb=_usual(sim, stimulus.cell))
    if stimulus.verb == "place" and stimulus.part is not None:
        problem = _place(sim, stimulus.cell, stimulus.part)
    elif stimulus.verb == "clear":
        problem = _clear(sim, stimulus.cell)
    else:
        problem = _use(sim, stimulus)
    if problem:
        message = f'"{stimulus.verb}" at {cell_text(stimulus.cell)} did nothing: {problem}.'
        sim.notes.add("act-refused", "warning", message, (stimulus.cell,), sim.now)
    else:
        sim.change()


def _usual(sim: Simulation, cell: Cell) -> str:
    """The usual act of the part in the cell, or, if none or only an arm is there, of what was there at the start."""
    stand = sim.stands.get(cell)
    if stand is None or stand.posture == "arm":
        stand = sim.laid.get(cell)
    return default_act(stand.part.kind if stand else None) or "press"


def _use(sim: Simulation, stimulus: Stimulus) -> str | None:
    stand = sim.stands.get(stimulus.cell)
    if stand is not None and stand.inert:
        return "an arm is there" if stand.posture == "arm" else f"the {stand.part.kind} there is on the move"
    kind = stand.part.kind if stand is not None else None
    if stimulus.verb == "press" and kind in BUTTONS and kind is not None:
        if sim.level.get(stimulus.cell, 0) == 0:
            sim.set_level(stimulus.cell, sim.button_levels.get(stimulus.cell, sim.rules.wire.top_level))
            sim.schedule(stimulus.cell, sim.button_steps.get(stimulus.cell) or sim.rules.button_steps(kind))
        return None
    if stimulus.verb in ("flip", "on", "off") and kind in LEVERS:
        on = sim.level.get(stimulus.cell, 0) > 0
        wanted = not on if stimulus.verb == "flip" else stimulus.verb == "on"
        if wanted != on:
            sim.set_level(stimulus.cell, sim.rules.wire.top_level if wanted else 0)
        return None
    if stimulus.verb in ("put", "take") and kind in CONTAINERS:
        return _handle_items(sim, stimulus)
    if stimulus.verb in ("drop", "take", "tread", "leave") and (kind is None or kind in PLATES):
        return _handle_things(sim, stimulus)
    return f"{a_kind(kind)} is there now" if kind else "the cell is empty now"


def _handle_items(sim: Simulation, stimulus: Stimulus) -> str | None:
    """Put items into a container or take some out, as many as fit."""
    held = sim.count[stimulus.cell]
    number = (
        min(stimulus.number, items.room(sim, stimulus.cell)) if stimulus.verb == "put" else -min(stimulus.number, held)
    )
    if number == 0:
        return "it is full" if stimulus.verb == "put" else "it is empty"
    sim.set_count(stimulus.cell, held + number)
    return None


def _handle_things(sim: Simulation, stimulus: Stimulus) -> str | None:
    """Drop a stack, take every stack there, let a creature tread or leave."""
    matter, cell = sim.matter, stimulus.cell
    if stimulus.verb == "drop":
        items.let_go(sim, cell, stimulus.number)
        return None
    if stimulus.verb == "take":
        stacks = list(matter.resting.get(cell, ()))
        for stack in stacks:
            matter.shrink(sim, stack, stack.number)
        return None if stacks else "nothing lies there"
    if stimulus.verb == "leave" and matter.creatures.get(cell, 0) == 0:
        return "no creature is there"
    matter.creatures[cell] = matter.creatures.get(cell, 0) + (1 if stimulus.verb == "tread" else -1)
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
