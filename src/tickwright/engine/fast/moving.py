"""Of the fast engine, in Python: pistons, cells on the move, breaks, and the acts of the hand that change what stands.

Each change swaps the circuit for that of the new configuration; levels, entries and items stay where they are, since an
actor's number is that of its cell.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tickwright.engine.circuit import KIND, Circuit
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.entries import notify_all
from tickwright.kinds import CONTAINERS, PISTONS, PLATES, STANDS, Part, a_kind, support_cell
from tickwright.plan.hand import Stimulus
from tickwright.rules.layout import Stand
from tickwright.space import DIRECTIONS, Cell, along, beside, cell_text

if TYPE_CHECKING:
    from tickwright.engine.fast.simulation import Simulation

_WIRE, _SENSOR = KIND["wire"], KIND["change-sensor"]


@dataclass(slots=True)
class Move:
    """Cells on their way: their goals, nearest the piston first, and the level each will show when it has landed."""

    lands: int
    piston: Cell
    goals: list[Cell]
    levels: list[int]
    retracted: bool


class Change:
    """One change that moves cells, while it is put together; `tell` completes it."""

    def __init__(self, sim: Simulation) -> None:
        self.sim = sim
        self.circuit = sim.setting.circuit
        self.levels: list[int] = sim.world.hot[:, a.LEVEL].tolist()
        self.before: dict[int, int] = {}  # an actor whose level is set: what it was
        self.looks: dict[Cell, Hashable] = {}  # a cell in which something else stands: how it looked

    def set_level(self, cell: Cell, level: int) -> None:
        """What the part in the cell shows."""
        self.before.setdefault(self.sim.actor(cell), self.sim.level(cell))
        self.sim.set_level(cell, level)

    def set_stand(self, cell: Cell, stand: Stand | None) -> None:
        """What stands in a cell."""
        if cell not in self.looks:
            self.looks[cell] = _look(self.sim.stands.get(cell), _level(self.circuit, cell, self.levels))
        self.sim.set_stand(cell, stand)

    def take_away(self, cell: Cell) -> None:
        """The part in the cell is gone, its state and its event with it."""
        self.set_stand(cell, None)
        self.sim.forget(cell)

    def break_part(self, cell: Cell, why: str) -> None:
        """The standing part in the cell breaks; the run goes on without it and says so."""
        message = f"The {self.sim.stands[cell].part.kind} at {cell_text(cell)} broke: {why}."
        self.sim.notes.add("part-broke", "error", message, (cell,), self.sim.now)
        self.take_away(cell)

    def break_unsupported(self, supports: list[Cell]) -> None:
        """Break what stood on any of these cells and has lost its support."""
        for support in supports:
            for side in DIRECTIONS:
                there = beside(support, side)
                stand = self.sim.stands.get(there)
                if stand is None or stand.inert or support_cell(stand.part, there) != support:
                    continue
                if not _still_carried(self.sim, stand.part, there):
                    self.break_part(there, f"it lost the cell that it stands on at {cell_text(support)}")

    def notify(self) -> None:
        """Settle the wires under the new configuration, then tell everyone whose input may have changed, in order.

        All that hear are told, pistons left out: those whose input is as it was do nothing.
        """
        sim, old = self.sim, self.circuit
        sim.reconfigure()
        setting, hot = sim.setting, sim.world.hot
        circuit, geometry = setting.circuit, setting.circuit.geometry
        levels: list[int] = hot[:, a.LEVEL].tolist()
        changed = [(actor, before, levels[actor]) for actor, before in self.before.items()]
        for wire, cell in setting.live:
            before = old.level(cell, self.levels) if old.geometry.kind(cell) == "wire" else 0
            hot[wire, a.LEVEL] = level = circuit.level(cell, levels)
            changed.append((wire, before, level))
        more: set[int] = set()  # change-sensors and pistons
        for actor, before, level in changed:
            if level != before and actor < circuit.n:
                visibly = circuit.kind[actor] == _WIRE or (before > 0) != (level > 0)
                more.update(one for one in circuit.notified.of(actor) if visibly or circuit.kind[one] != _SENSOR)
        index = sim.roster.index
        for cell, look in self.looks.items():
            if _look(sim.stands.get(cell), _level(circuit, cell, levels)) != look:
                more.update(index[watcher] for watcher in geometry.watchers(cell))
            more.update(index[piston] for piston in geometry.pistons_near(cell))
        notified = setting.notified
        if more:
            notified = np.union1d(notified, np.array(list(more), np.int32))
            notified = notified[np.argsort(sim.world.part[notified, a.RANK])]
        notify_all(*sim.world.arrays, notified)


def _level(circuit: Circuit, cell: Cell, levels: list[int]) -> int:
    """The level of a wire or an actor."""
    if circuit.geometry.kind(cell) == "wire":
        return circuit.level(cell, levels)
    actor = circuit.index.get(cell)
    return levels[actor] if actor is not None and actor < len(levels) else 0


def _look(stand: Stand | None, level: int) -> Hashable:
    """What a change-sensor sees of what stands in a cell: the part and whether it is on; an arm; a cell moving."""
    if stand is None or stand.inert:
        return stand and stand.posture
    return stand.seen_part, level > 0


# --- pistons -----------------------------------------------------------------------------------------------------


def moves_phase(sim: Simulation) -> None:
    """The moves phase, each queued piston in turn; and the landings, with which the items phase begins."""
    while sim.world.c[a.QUEUE_LENGTH]:
        cell = sim.next_in_queue()
        if sim.setting.circuit.geometry.kind(cell) not in PISTONS:
            continue
        stand = sim.stands[cell]
        out = stand.posture == "out"
        if stand.posture == "back" or sim.powered(cell) == out:
            continue
        if out:
            _retract(sim, cell, stand.part)
        else:
            _extend(sim, cell, stand.part)
    while sim.moves and sim.moves[0].lands <= sim.now:
        move = sim.moves.pop(0)
        _land(sim, move)
        stand_now = sim.stands.get(move.piston)
        if move.retracted and stand_now is not None and stand_now.posture == "back":
            sim.set_stand(move.piston, stand_now._replace(posture="rest"))
            sim.reconfigure()
            notify_all(*sim.world.arrays, np.array([sim.roster.index[move.piston]], np.int32))
    sim.world.c[a.LANDS] = sim.moves[0].lands if sim.moves else a.NEVER


def _movable(sim: Simulation, stand: Stand) -> bool:
    return stand.posture == "rest" and sim.rules.movable.get(stand.part.kind, False)


def _row(sim: Simulation, cell: Cell, facing: str) -> tuple[list[Cell], Cell | None] | None:
    """The cells to push, nearest first, and the standing part that breaks; None if something is in the way."""
    row: list[Cell] = []
    here = beside(cell, facing)
    while (stand := sim.stands.get(here)) is not None:
        if stand.part.kind in STANDS and not stand.inert:
            return row, here
        if not _movable(sim, stand) or len(row) == sim.rules.piston.push_limit:
            _note_blocked(sim, cell, here, stand)
            return None
        row.append(here)
        here = beside(here, facing)
    return row, None


def _note_blocked(sim: Simulation, cell: Cell, here: Cell, stand: Stand) -> None:
    what = f"the {stand.part.kind} at {cell_text(here)}"
    if _movable(sim, stand):
        why = f"more than {sim.rules.piston.push_limit} cells stand in a row before it"
    elif stand.posture == "arm":
        why = f"the arm of another piston is at {cell_text(here)}"
    elif stand.inert:
        why = f"{what} is on the move"
    else:
        why = f"{what} cannot be pushed{' while it is at work' if stand.part.kind in PISTONS else ''}"
    message = f"The {sim.stands[cell].part.kind} at {cell_text(cell)} cannot extend: {why}."
    sim.notes.add("piston-blocked", "warning", message, (cell, here), sim.now)


def _extend(sim: Simulation, cell: Cell, part: Part) -> None:
    """Push the row by one. The start of the move, its breaks and its arm are one change."""
    facing = str(part.facing)
    found = _row(sim, cell, facing)
    if found is None:
        return
    row, in_the_way = found
    change = Change(sim)
    if in_the_way is not None:
        change.break_part(in_the_way, f"the {part.kind} at {cell_text(cell)} pushed into it")
    change.set_stand(cell, Stand(part, "out"))
    change.set_level(cell, sim.rules.wire.top_level)
    move = Move(sim.now + sim.rules.piston.travel, cell, [], [], retracted=False)
    for here in reversed(row):
        _carry_off(change, here, beside(here, facing), move)
    move.goals.reverse()
    move.levels.reverse()
    change.set_stand(beside(cell, facing), Stand(part, "arm"))
    change.break_unsupported([cell, *row])
    if row:
        sim.moves.append(move)
    change.notify()


def _retract(sim: Simulation, cell: Cell, part: Part) -> None:
    """Go back; a pull-piston takes the cell before its arm along, unless a push of its own has not landed yet."""
    facing = str(part.facing)
    arm = beside(cell, facing)
    pushing = [move for move in sim.moves if move.piston == cell and not move.retracted]
    change = Change(sim)
    change.set_stand(cell, Stand(part, "back"))
    change.set_level(cell, 0)
    change.set_stand(arm, None)
    back = Move(sim.now + sim.rules.piston.travel, cell, [], [], retracted=True)
    if part.kind == "pull-piston":
        before = along(cell, facing, 2)
        stand = sim.stands.get(before)
        if pushing:
            left = ", ".join(cell_text(goal) for move in pushing for goal in move.goals)
            message = (
                f"The pull-piston at {cell_text(cell)} went back before what it pushed had landed: "
                f"it left the cell at {left} behind."
            )
            sim.notes.add("cell-left-behind", "warning", message, (cell, *pushing[0].goals), sim.now)
        elif stand is not None and _movable(sim, stand):
            _carry_off(change, before, arm, back)
            change.break_unsupported([before])
        elif stand is not None and stand.part.kind not in STANDS:
            message = f"The pull-piston at {cell_text(cell)} cannot pull the {stand.part.kind} at {cell_text(before)}."
            sim.notes.add("piston-cannot-pull", "warning", message, (cell, before), sim.now)
    sim.moves.append(back)
    change.notify()
    for move in pushing:
        sim.moves.remove(move)
        _land(sim, move)


def _carry_off(change: Change, here: Cell, goal: Cell, move: Move) -> None:
    """Start one cell on its way: it leaves at once and fills its goal, inert; it keeps its state but no event."""
    stand = change.sim.stands[here]
    level = change.sim.level(here)
    move.goals.append(goal)
    move.levels.append(0 if stand.part.kind == "change-sensor" else level)
    change.take_away(here)
    change.set_stand(goal, Stand(stand.part, "moving"))


def _land(sim: Simulation, move: Move) -> None:
    """Each landing is one change, the cell nearest the piston first."""
    for goal, level in zip(move.goals, move.levels, strict=True):
        stand = sim.stands.get(goal)
        if stand is None or stand.posture != "moving":
            continue
        change = Change(sim)
        change.set_stand(goal, Stand(stand.part))
        if level:
            sim.set_level(goal, level)
        change.notify()


def _still_carried(sim: Simulation, part: Part, cell: Cell) -> bool:
    """Whether what the standing part would stand on carries it; a piston only at rest, and never on its face."""
    support = support_cell(part, cell)
    stand = sim.stands.get(support) if support is not None else None
    if stand is None or stand.posture != "rest" or not sim.rules.carries.get(stand.part.kind, False):
        return False
    return stand.part.kind not in PISTONS or beside(support or cell, str(stand.part.facing)) != cell


# --- the hand ----------------------------------------------------------------------------------------------------


def perform(sim: Simulation, act: Stimulus) -> None:
    """Place a part or clear a cell; if that cannot be done now, note why."""
    part = act.part if act.verb == "place" else None
    problem = _problem(sim, act.cell, part)
    if problem:
        sim.note_refused(act.cell, act.verb, problem, sim.now)
        return
    change = Change(sim)
    stand = sim.stands.get(act.cell)
    if stand is not None:
        if stand.part.kind in PISTONS and stand.posture == "out":
            change.set_stand(beside(act.cell, str(stand.part.facing)), None)
        change.take_away(act.cell)
    if part is not None:
        _put_down(change, act.cell, part)
    change.break_unsupported([act.cell])
    if part is not None and part.kind in PLATES:
        level = sim.plate_level(act.cell, part)
        if level:
            change.set_level(act.cell, level)
            sim.world.tables["matter"][sim.roster.index[act.cell], a.SINCE] = sim.now
    change.notify()


def _problem(sim: Simulation, cell: Cell, part: Part | None) -> str | None:
    """Why the hand cannot place the part there, or clear the cell if it has none."""
    stand = sim.stands.get(cell)
    if stand is None and part is None:
        return "the cell is empty"
    if stand is not None and stand.inert:
        return sim.why_not(cell)
    if part is None:
        return None
    support = support_cell(part, cell)
    if support is not None and not _still_carried(sim, part, cell):
        return f"{a_kind(part.kind)} needs a part that carries it at {cell_text(support)}"
    if part.kind in CONTAINERS and part.items > sim.rules.capacity(part.kind):
        return f"{a_kind(part.kind)} holds at most {sim.rules.capacity(part.kind)} items"
    return None


def _put_down(change: Change, cell: Cell, part: Part) -> None:
    """A part in its state of rest."""
    change.set_stand(cell, Stand(part))
    if part.kind in ("torch", "power-block") or (part.kind == "lever" and part.thrown):
        change.sim.set_level(cell, change.sim.rules.wire.top_level)
    elif part.kind in CONTAINERS:
        change.sim.set_count(cell, part.items)
