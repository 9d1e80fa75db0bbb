"""Pistons: looking, pushing, pulling, and cells on the move."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from tickwright.kinds import PARTS, PISTONS, STANDS, Part, support_cell
from tickwright.rules.layout import Stand
from tickwright.space import DIRECTIONS, Cell, along, beside, cell_text

if TYPE_CHECKING:
    from tickwright.engine.reference.simulation import Simulation


@dataclass(slots=True)
class Move:
    """Cells on their way: their goals, nearest the piston first, and the level each will show when it has landed.

    `retracted` is whether the piston has gone back; it is told when the last of the cells has landed.
    """

    lands: int
    piston: Cell
    goals: list[Cell]
    levels: list[int]
    retracted: bool
    cause: int | None = None  # the change with which it began


@dataclass(slots=True)
class Moves:
    """The pistons that wait to move, and the moves under way in the order they started."""

    queue: deque[Cell] = field(default_factory=deque)
    underway: list[Move] = field(default_factory=list)

    def copy(self) -> Moves:
        """The same moves, to go on separately."""
        return Moves(
            self.queue.copy(),
            [replace(move, goals=move.goals.copy(), levels=move.levels.copy()) for move in self.underway],
        )


def notified(sim: Simulation, cell: Cell) -> None:
    """If power and state differ, queue a move; a piston that is going back does not act."""
    posture = sim.stands[cell].posture
    if posture != "back" and cell not in sim.moves.queue and sim.powered(cell) != (posture == "out"):
        sim.moves.queue.append(cell)
        sim.because(cell)


def start_moves(sim: Simulation) -> None:
    """The moves phase: each queued piston in turn; one whose cause has gone is dropped."""
    queue = sim.moves.queue
    while queue:
        cell = queue.popleft()
        if sim.geometry.kind(cell) not in PISTONS:
            continue
        stand = sim.stands[cell]
        if stand.posture == "back" or sim.powered(cell) == (stand.posture == "out"):
            continue
        sim.begin("moves", cell, sim.causes.pop(cell, None))
        if stand.posture == "out":
            _retract(sim, cell, stand.part)
        else:
            _extend(sim, cell, stand.part)


def land_moves(sim: Simulation) -> None:
    """Of the items phase: cells that have been on the move long enough land, and retracted pistons look again."""
    while sim.moves.underway and sim.moves.underway[0].lands <= sim.now:
        move = sim.moves.underway.pop(0)
        sim.begin("items", move.piston, move.cause)
        _land(sim, move)
        if move.retracted:
            stand = sim.stands.get(move.piston)
            if stand is not None and stand.posture == "back":
                sim.set_stand(move.piston, stand._replace(posture="rest"), quietly=True)
                sim.reason = move.cause
                sim.notify(move.piston)


def movable(sim: Simulation, stand: Stand) -> bool:
    """Whether a piston can push or pull it: certain full cells, and pistons at rest."""
    return stand.posture == "rest" and sim.rules.movable.get(stand.part.kind, False)


def _row(sim: Simulation, cell: Cell, facing: str) -> tuple[list[Cell], Cell | None] | None:
    """The cells to push, nearest first, and the standing part that ends the row and breaks; None if it cannot move."""
    row: list[Cell] = []
    here = beside(cell, facing)
    while True:
        stand = sim.stands.get(here)
        if stand is None:
            return row, None
        if stand.part.kind in STANDS and not stand.inert:
            return row, here
        if not movable(sim, stand) or len(row) == sim.rules.piston.push_limit:
            _note_blocked(sim, cell, here, stand)
            return None
        row.append(here)
        here = beside(here, facing)


def _note_blocked(sim: Simulation, cell: Cell, here: Cell, stand: Stand) -> None:
    if movable(sim, stand):
        why = f"more than {sim.rules.piston.push_limit} cells stand in a row before it"
    elif stand.posture == "arm":
        why = f"the arm of another piston is at {cell_text(here)}"
    elif stand.inert:
        why = f"the {stand.part.kind} at {cell_text(here)} is on the move"
    else:
        why = f"the {stand.part.kind} at {cell_text(here)} cannot be pushed"
        why += " while it is at work" if stand.part.kind in PISTONS else ""
    kind = sim.stands[cell].part.kind
    message = f"The {kind} at {cell_text(cell)} cannot extend: {why}."
    sim.notes.add("piston-blocked", "warning", message, (cell, here), sim.now)


def _extend(sim: Simulation, cell: Cell, part: Part) -> None:
    """Push the row by one. The start of the move, its breaks and its arm are one change."""
    facing = str(part.facing)
    found = _row(sim, cell, facing)
    if found is None:
        return
    row, in_the_way = found
    if in_the_way is not None:
        break_part(sim, in_the_way, f"the {part.kind} at {cell_text(cell)} pushed into it")
    sim.set_stand(cell, Stand(part, "out"))
    sim.set_level(cell, sim.rules.wire.top_level)
    move = Move(sim.now + sim.rules.piston.travel, cell, [], [], retracted=False)
    for here in reversed(row):
        _carry_off(sim, here, beside(here, facing), move)
    move.goals.reverse()
    move.levels.reverse()
    sim.set_stand(beside(cell, facing), Stand(part, "arm"))
    break_unsupported(sim, [cell, *row])
    if row:
        sim.moves.underway.append(move)
    sim.change()
    move.cause = sim.reason


def _retract(sim: Simulation, cell: Cell, part: Part) -> None:
    """Go back; a pull-piston takes the cell before its arm along, unless a push of its own has not landed yet."""
    facing = str(part.facing)
    arm = beside(cell, facing)
    pushing = [move for move in sim.moves.underway if move.piston == cell and not move.retracted]
    sim.set_stand(cell, Stand(part, "back"))
    sim.set_level(cell, 0)
    sim.set_stand(arm, None)
    back = Move(sim.now + sim.rules.piston.travel, cell, [], [], retracted=True)
    if PARTS[part.kind].pulls:
        before = along(cell, facing, 2)
        stand = sim.stands.get(before)
        if pushing:
            left = ", ".join(cell_text(goal) for move in pushing for goal in move.goals)
            message = (
                f"The {part.kind} at {cell_text(cell)} went back before what it pushed had landed: "
                f"it left the cell at {left} behind."
            )
            sim.notes.add("cell-left-behind", "warning", message, (cell, *pushing[0].goals), sim.now)
        elif stand is not None and movable(sim, stand):
            _carry_off(sim, before, arm, back)
            break_unsupported(sim, [before])
        elif stand is not None and stand.part.kind not in STANDS:
            message = f"The {part.kind} at {cell_text(cell)} cannot pull the {stand.part.kind} at {cell_text(before)}."
            sim.notes.add("piston-cannot-pull", "warning", message, (cell, before), sim.now)
    sim.moves.underway.append(back)
    sim.change()
    back.cause = sim.reason
    for move in pushing:
        if move in sim.moves.underway:
            sim.moves.underway.remove(move)
            _land(sim, move)


def _carry_off(sim: Simulation, here: Cell, goal: Cell, move: Move) -> None:
    """Start one cell on its way: it leaves at once and fills its goal, inert; it keeps its state but no event."""
    stand = sim.stands[here]
    level = sim.level.get(here, 0)
    move.goals.append(goal)
    move.levels.append(0 if PARTS[stand.part.kind].lands_off else level)
    sim.take_away(here)
    sim.set_stand(goal, Stand(stand.part, "moving"))


def _land(sim: Simulation, move: Move) -> None:
    """Each landing is one change, the cell nearest the piston first."""
    for goal, level in zip(move.goals, move.levels, strict=True):
        stand = sim.stands.get(goal)
        if stand is None or stand.posture != "moving":
            continue
        sim.set_stand(goal, Stand(stand.part))
        if level:
            sim.level[goal] = level
        sim.change()


def break_unsupported(sim: Simulation, supports: list[Cell]) -> None:
    """As part of a change: break what stood on any of these cells and has lost its support."""
    for support in supports:
        for side in DIRECTIONS:
            there = beside(support, side)
            stand = sim.stands.get(there)
            if stand is None or stand.inert or support_cell(stand.part, there) != support:
                continue
            if not still_carried(sim, stand.part, there):
                break_part(sim, there, f"it lost the cell that it stands on at {cell_text(support)}")


def still_carried(sim: Simulation, part: Part, cell: Cell) -> bool:
    """Whether what the standing part would stand on carries it; a piston only at rest, and never on its face."""
    support = support_cell(part, cell)
    stand = sim.stands.get(support) if support is not None else None
    if stand is None or stand.posture != "rest" or not sim.rules.carries.get(stand.part.kind, False):
        return False
    return stand.part.kind not in PISTONS or beside(support or cell, str(stand.part.facing)) != cell


def break_part(sim: Simulation, cell: Cell, why: str) -> None:
    """As part of a change: the standing part in the cell breaks; the run goes on without it and says so."""
    kind = sim.stands[cell].part.kind
    message = f"The {kind} at {cell_text(cell)} broke: {why}."
    sim.notes.add("part-broke", "error", message, (cell,), sim.now)
    sim.take_away(cell)
