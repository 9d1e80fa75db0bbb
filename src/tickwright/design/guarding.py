"""Guarding: a timer and a guard laid apart in a room in which the two do not fit side by side, joined by wires.

The guard lets a press in only while the timer is at rest, so that a second press is ignored. Each is laid in every
place and turn, those whose ends are near each other first. One wire lets the timer begin, the other shuts the guard;
where a part stands before the one that hears it there is none. What comes of it is still to be run.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import NamedTuple

from tickwright.design.families import guard, hopper_counter, hopper_timer
from tickwright.design.families.gate import READERS
from tickwright.design.fitting import fits, in_room
from tickwright.design.ground import WIRE, Ground, joined, lay_wire, round_about, shortest_way
from tickwright.design.recipes import Goal, OpenRecipe
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Room
from tickwright.errors import PlanError
from tickwright.kinds import PARTS, Part, is_a
from tickwright.plan import Plan
from tickwright.space import HORIZONTAL, OPPOSITE, VECTORS, Cell, beside

__all__ = ["guarded", "open_recipes"]

MOST_PLACES = 240  # of the timer, and of the guard; of more, so many are drawn
MOST_PAIRS = 4_000  # for which wires are sought
MOST_WIRES = 12  # cells of a wire: a longer one would be renewed by a repeater, which takes time
MOST_LAID = 60  # plans given


class _Lying(NamedTuple):
    """A part of the whole as it lies in the room: its cells, what acts there, and what that touches.

    `ends` are where a press is let in and what is busy: the cell of a wire, and of the part beside it.
    """

    plan: Plan
    cells: frozenset[Cell]
    acting: frozenset[Cell]
    touched: frozenset[Cell]
    ends: tuple[tuple[Cell, Cell], tuple[Cell, Cell]]


def open_recipes(goal: Goal) -> list[OpenRecipe]:
    """Timers without their guard that meet a goal, the nearest hold first; none for what is not a button."""
    if not guard.guards(goal.trigger, goal.trigger_steps):
        return []
    found = [*hopper_timer.open_recipes(goal), *hopper_counter.open_recipes(goal)]
    return sorted(found, key=lambda one: abs(one.hold_steps - goal.hold_steps))


def guarded(recipe: OpenRecipe, trigger: str, room: Room) -> Iterator[Plan]:
    """Plans of a timer with a guard behind such a button, in the room's own cells; a few dozen at most."""
    draw = random.Random(1)
    timers = [one for reader in READERS for one in _timers(recipe, reader, room)]
    guards = [
        one
        for plan in guard.loose_guards(trigger)
        for one in _places(plan, room)
        if room.at(room.enter, one.plan.triggers[PRESS])
    ]
    timers, guards = _few(timers, draw), _few(guards, draw)
    pairs = [
        (_apart(timer, one), number, other)
        for number, timer in enumerate(timers)
        for other, one in enumerate(guards)
        if _side_by_side(timer, one)
    ]
    pairs.sort()
    laid = 0
    for _, number, other in pairs[:MOST_PAIRS]:
        plan = _joined(timers[number], guards[other], room)
        if plan is not None:
            yield plan
            laid += 1
        if laid == MOST_LAID:
            return


def _timers(recipe: OpenRecipe, reader: str, room: Room) -> Iterator[_Lying]:
    try:
        plan = recipe.make(reader)
    except PlanError:  # the reader has no room beside the timer
        return
    for one in _places(plan, room):
        if room.at(room.leave, next(iter(one.plan.outputs.values()))):
            yield one


def _places(plan: Plan, room: Room) -> Iterator[_Lying]:
    """All ways in which it lies in the room, wherever that is entered and left."""
    free = Room(room.size, room.blocked)
    for how in fits(plan, free):
        lying = in_room(plan, free, how)
        low = how.offset[2]
        acting = {cell for cell, part in lying.cells.items() if not is_a(part.kind, "still")}
        full = {cell for cell in lying.cells if cell not in acting and cell[2] > low}
        touched = {beside(cell, way) for cell in acting | full for way in VECTORS}
        touched |= {one for cell in acting if lying.cells[cell] == WIRE for one in joined(cell)}
        yield _Lying(lying, frozenset(lying.cells), frozenset(acting), frozenset(touched), _ends(lying))


def _ends(lying: Plan) -> tuple[tuple[Cell, Cell], tuple[Cell, Cell]]:
    begins = lying.outputs.get("begins", lying.triggers[PRESS])
    speaks = "begins" in lying.outputs  # the guard says what begins, the timer what is busy
    busy = lying.outputs["busy"]
    return (begins, _part_at(lying, begins, speaks)), (busy, _part_at(lying, busy, not speaks))


def _part_at(plan: Plan, end: Cell, speaks: bool) -> Cell:
    """The part that powers a cell, if it `speaks`, or the repeater that hears it."""
    for way in HORIZONTAL:
        part = plan.cells.get(beside(end, way))
        if part is not None and PARTS[part.kind].powers == "front":
            facing = OPPOSITE[way] if speaks else way
            if part.facing == facing:
                return beside(end, way)
    return end


def _meets(one: tuple[Cell, Cell], other: tuple[Cell, Cell]) -> bool:
    """Whether each part stands where the other's wire would: then none is needed."""
    return one[0] == other[1] and one[1] == other[0]


def _side_by_side(timer: _Lying, one: _Lying) -> bool:
    """Whether neither is where the other is, and they touch at most where one hears the other."""
    if timer.cells & one.cells:
        return False
    met = {cell for a, b in zip(timer.ends, one.ends, strict=True) if _meets(a, b) for cell in a}
    return not (timer.touched & one.acting) - met and not (one.touched & timer.acting) - met


def _few(places: list[_Lying], draw: random.Random) -> list[_Lying]:
    return places if len(places) <= MOST_PLACES else draw.sample(places, MOST_PLACES)


def _apart(timer: _Lying, one: _Lying) -> int:
    """How far the ends that wires must join are from each other."""
    ends = zip(timer.ends, one.ends, strict=True)
    return sum(abs(a - b) for (here, _), (there, _) in ends for a, b in zip(here, there, strict=True))


def _joined(timer: _Lying, one: _Lying, room: Room) -> Plan | None:
    """Both with the two wires between them, if there are ways for these."""
    cells: dict[Cell, Part] = {**timer.plan.cells, **one.plan.cells}
    (begins, busy), (lets_in, shuts) = timer.ends, one.ends
    for start, goal in ((lets_in, begins), (busy, shuts)):
        if _meets(start, goal):
            continue
        ground = Ground(Plan(cells, {}, {}, size=room.size), room)
        path = shortest_way(ground, {start[0]: round_about(start[1])}, goal[0], round_about(goal[1]))
        if path is None or len(path) > MOST_WIRES:
            return None
        lay_wire(cells, path)
    outputs = {name: cell for name, cell in timer.plan.outputs.items() if name != "busy"}
    title = f"{timer.plan.title}, guarded"
    return Plan(cells, dict(one.plan.triggers), outputs, title=title, size=room.size)
