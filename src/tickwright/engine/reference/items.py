"""Items: containers, hoppers and ejectors, stacks in the open, and what plates feel."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tickwright.engine.reference import pistons
from tickwright.kinds import CONTAINERS, PARTS, PLATES, STANDS, kinds_with
from tickwright.space import Cell, beside, cell_text, zyx

if TYPE_CHECKING:
    from tickwright.engine.reference.simulation import Simulation


HOPPERS = kinds_with("hopper")


@dataclass(slots=True)
class Stack:
    """Items in the open: let go in some step, at rest in `cell` once they have come to rest."""

    serial: int
    cell: Cell
    number: int
    vanishes: int
    cause: int | None = None  # the change in which it was let go


class Matter:
    """All items outside containers, the creatures that stand about, and when hoppers and plates are next to look.

    Hoppers and plates that could do nothing are left alone until something about them changes, so that waiting costs
    nothing; each acts in the very steps in which one that looked in every step would.
    """

    def __init__(self) -> None:
        self.resting: dict[Cell, list[Stack]] = {}
        self.flights: list[tuple[int, int, Stack]] = []
        self.vanishing: list[tuple[int, int, Stack]] = []
        self.creatures: dict[Cell, int] = {}
        self.ready: dict[Cell, int] = {}
        self.turns: dict[Cell, int] = {}
        self._turn_heap: list[tuple[int, tuple[int, ...], Cell]] = []
        self._turn: tuple[int, ...] | None = None
        self._turns_over = False
        self.on_since: dict[Cell, int] = {}
        self.looks: dict[Cell, int] = {}
        self.looks_over = False
        self._serial = 0
        self.lost = 0
        self.vanished = 0

    def copy(self) -> Matter:
        """The same matter, to go on separately; a stack that stands in several tables is one stack there too."""
        clone = object.__new__(Matter)
        clone.__dict__.update(self.__dict__)
        for name in ("creatures", "ready", "turns", "_turn_heap", "on_since", "looks"):
            clone.__dict__[name] = self.__dict__[name].copy()
        stacks = {id(stack): replace(stack) for _, _, stack in self.vanishing}
        for _, _, stack in self.flights:
            stacks.setdefault(id(stack), replace(stack))
        for here in self.resting.values():
            for stack in here:
                stacks.setdefault(id(stack), replace(stack))
        clone.resting = {cell: [stacks[id(stack)] for stack in here] for cell, here in self.resting.items()}
        clone.flights = [(at, serial, stacks[id(stack)]) for at, serial, stack in self.flights]
        clone.vanishing = [(at, serial, stacks[id(stack)]) for at, serial, stack in self.vanishing]
        return clone

    def begin_step(self) -> None:
        """A step begins: no hopper has had its turn, no plate has looked."""
        self._turn, self._turns_over, self.looks_over = None, False, False

    def next_step(self) -> int | None:
        """The next step in which the items phase has something to do."""
        while self._turn_heap and self.turns.get(self._turn_heap[0][2]) != self._turn_heap[0][0]:
            heapq.heappop(self._turn_heap)
        while self.vanishing and self.vanishing[0][2].number == 0:
            heapq.heappop(self.vanishing)
        firsts = [heap[0][0] for heap in (self._turn_heap, self.flights, self.vanishing) if heap]
        return min((*firsts, *self.looks.values()), default=None)

    def forget(self, cell: Cell) -> None:
        """What stood in the cell is gone."""
        for table in (self.ready, self.turns, self.on_since, self.looks):
            table.pop(cell, None)

    # --- hoppers -------------------------------------------------------------------------------------------------

    def wake(self, sim: Simulation, cell: Cell) -> None:
        """Something about the hopper changed: let it take its next turn that is not yet over."""
        at = self.ready.get(cell, 0)
        if at <= sim.now:
            this_step = not self._turns_over and (self._turn is None or sim.key(cell) > self._turn)
            at = sim.now if this_step else sim.now + 1
        if self.turns.get(cell) != at:
            self.turns[cell] = at
            heapq.heappush(self._turn_heap, (at, sim.key(cell), cell))
            sim.because(cell)

    def recounted(self, sim: Simulation, cell: Cell) -> None:
        """What the cell holds changed: the hoppers in it and beside it may have something to do.

        A locked one is left alone: it is told when its power changes.
        """
        for there in sim.geometry.hoppers_near(cell):
            if not sim.powered(there):
                self.wake(sim, there)

    def take_turns(self, sim: Simulation) -> None:
        """Every hopper that is ready takes its turn, in order."""
        while self._turn_heap and self._turn_heap[0][0] <= sim.now:
            at, key, cell = heapq.heappop(self._turn_heap)
            if self.turns.get(cell) == at:
                del self.turns[cell]
                self._turn = key
                sim.begin("items", cell, sim.causes.pop(cell, None))
                _hopper_turn(sim, cell)
        self._turns_over = True

    # --- items in the open ---------------------------------------------------------------------------------------

    def new_stack(self, sim: Simulation, cell: Cell, number: int) -> Stack:
        """A stack that is let go now, and will rest in `cell`."""
        self._serial += 1
        stack = Stack(self._serial, cell, number, sim.now + sim.rules.item.vanish)
        heapq.heappush(self.vanishing, (stack.vanishes, stack.serial, stack))
        return stack

    def rest(self, sim: Simulation, stack: Stack) -> None:
        """As part of a change: the stack comes to rest, where a plate may feel it and a hopper below take it."""
        here = self.resting.setdefault(stack.cell, [])
        here.append(stack)
        here.sort(key=lambda other: other.serial)
        things_changed(sim, stack.cell)

    def shrink(self, sim: Simulation, stack: Stack, number: int) -> None:
        """As part of a change: so many items of a resting stack are gone."""
        stack.number -= number
        if stack.number == 0:
            here = self.resting[stack.cell]
            here.remove(stack)
            if not here:
                del self.resting[stack.cell]
            things_changed(sim, stack.cell)

    def things(self, cell: Cell, creatures_only: bool = False) -> int:
        """How many things are in the cell: each stack is one, each creature another."""
        return self.creatures.get(cell, 0) + (0 if creatures_only else len(self.resting.get(cell, ())))


def items_phase(sim: Simulation) -> None:
    """Landings, hoppers, items that come to rest, items that vanish, plates that look again."""
    matter = sim.matter
    pistons.land_moves(sim)
    matter.take_turns(sim)
    while matter.flights and matter.flights[0][0] <= sim.now:
        stack = heapq.heappop(matter.flights)[2]
        sim.begin("items", stack.cell, stack.cause)
        matter.rest(sim, stack)
        sim.change()
    while matter.vanishing and matter.vanishing[0][0] <= sim.now:
        stack = heapq.heappop(matter.vanishing)[2]
        if stack.number:
            sim.begin("items", stack.cell, None)
            matter.vanished += stack.number
            matter.shrink(sim, stack, stack.number)
    for cell in sorted((cell for cell, at in matter.looks.items() if at <= sim.now), key=zyx):
        if matter.looks.get(cell) == sim.now:
            del matter.looks[cell]
            sim.begin("items", cell, sim.causes.get(cell))
            _look_again(sim, cell)
    matter.looks_over = True


# --- containers --------------------------------------------------------------------------------------------------


def room(sim: Simulation, cell: Cell) -> int:
    """How many more items the container in the cell takes; 0 if there is none."""
    capacity = sim.geometry.capacity(cell)
    return capacity - sim.count[cell] if capacity else 0


def _hopper_turn(sim: Simulation, cell: Cell) -> None:
    """Push one item into the container it faces, then pull one from above; if either worked, rest for the cooldown."""
    matter = sim.matter
    if matter.ready.get(cell, 0) > sim.now:
        matter.wake(sim, cell)
        return
    if sim.powered(cell):
        return
    worked = False
    goal, above = sim.geometry.hopper_ends(cell)
    if sim.count[cell] > 0 and room(sim, goal) > 0:
        _push(sim, cell, goal)
        worked = True
    if room(sim, cell) > 0:
        if sim.geometry.capacity(above) and sim.count[above] > 0:
            sim.set_count(above, sim.count[above] - 1)
            sim.set_count(cell, sim.count[cell] + 1)
            sim.change()
            worked = True
        elif above in matter.resting:
            matter.shrink(sim, matter.resting[above][0], 1)
            sim.set_count(cell, sim.count[cell] + 1)
            sim.change()
            worked = True
    if worked:
        matter.ready[cell] = sim.now + sim.rules.hopper.cooldown
        matter.wake(sim, cell)


def _push(sim: Simulation, cell: Cell, goal: Cell) -> None:
    if sim.geometry.behaviour(goal) == "hopper" and sim.count[goal] == 0:
        sim.matter.ready[goal] = sim.now + sim.rules.hopper.first_wait
    sim.set_count(cell, sim.count[cell] - 1)
    sim.set_count(goal, sim.count[goal] + 1)
    sim.change()


def eject(sim: Simulation, cell: Cell) -> None:
    """An ejector's event: one item into the container in front, or let go there."""
    if sim.count[cell] == 0:
        return
    front = beside(cell, str(sim.geometry.parts[cell].facing))
    kind = sim.geometry.kind(front)
    if kind in CONTAINERS:
        if room(sim, front) > 0:
            sim.set_count(cell, sim.count[cell] - 1)
            sim.set_count(front, sim.count[front] + 1)
            sim.change()
    elif front not in sim.stands or kind in PLATES:
        sim.set_count(cell, sim.count[cell] - 1)
        let_go(sim, front, 1)
        sim.change()


# --- items in the open -------------------------------------------------------------------------------------------


def let_go(sim: Simulation, cell: Cell, number: int) -> None:
    """As part of a change: a stack is let go in the cell and falls to its place, or is lost."""
    goal = _place_of_rest(sim, cell)
    if goal is None:
        sim.matter.lost += number
        message = f"{number} {'item' if number == 1 else 'items'} let go at {cell_text(cell)} fell out of the world."
        sim.notes.add("item-lost", "warning", message, (cell,), sim.now, "Put a floor or a plate below.")
        return
    stack = sim.matter.new_stack(sim, goal, number)
    stack.cause = sim.reason
    if goal == cell:
        sim.matter.rest(sim, stack)
    else:
        heapq.heappush(sim.matter.flights, (sim.now + sim.rules.item.rest, stack.serial, stack))


def _place_of_rest(sim: Simulation, cell: Cell) -> Cell | None:
    """The first plate's cell on the way down, or the cell above the first part that does not stand."""
    bottom = min((z for _, _, z in sim.stands), default=0)
    here = cell
    while sim.kind_at(here) not in PLATES:
        below = beside(here, "down")
        stand = sim.stands.get(below)
        if stand is not None and (stand.inert or stand.part.kind not in STANDS):
            return here
        if below[2] < bottom:
            return None
        here = below
    return here


# --- plates ------------------------------------------------------------------------------------------------------


def plate_level(sim: Simulation, cell: Cell) -> int:
    """What the plate in the cell would show if it looked now."""
    part = sim.stands[cell].part
    kind = PARTS[part.kind]
    things = sim.matter.things(cell, creatures_only=kind.feels == "creatures")
    top = sim.rules.wire.top_level
    if kind.shows_level:
        return min(top, -(-things // part.counts))
    return top if things else 0


def things_changed(sim: Simulation, cell: Cell) -> None:
    """As part of a change: things came or went in the cell. A plate goes on at once; it goes off when it looks."""
    kind = sim.kind_at(cell)
    if kind in PLATES:
        if sim.level.get(cell, 0) == 0:
            level = plate_level(sim, cell)
            if level:
                sim.set_level(cell, level)
                sim.matter.on_since[cell] = sim.now
        else:
            _look_later(sim, cell)
    below = beside(cell, "down")
    if sim.kind_at(below) in HOPPERS:
        sim.matter.wake(sim, below)


def _look_later(sim: Simulation, cell: Cell) -> None:
    """The plate's next look that is not yet over is one that matters."""
    every = sim.look_every(cell)
    since = sim.matter.on_since[cell]
    earliest = sim.now + (1 if sim.matter.looks_over or sim.now == since else 0)
    sim.because(cell)
    sim.matter.looks[cell] = since + -(-(earliest - since) // every) * every


def _look_again(sim: Simulation, cell: Cell) -> None:
    """A plate's look: it changes or releases."""
    level = plate_level(sim, cell)
    if level == 0:
        sim.matter.on_since.pop(cell, None)
    if level != sim.level.get(cell, 0):
        sim.set_level(cell, level)
        sim.change()
