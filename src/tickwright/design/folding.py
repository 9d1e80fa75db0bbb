"""Folding: loops of comparators laid anew for the room there is, by a search at random that is judged by runs.

A ring is a closed way of comparators, wires and full cells that pass power on, laid element by element through free
cells; what would touch, lie at a flank, or leave the room is left off at once, and a way that comes to a dead end is
begun anew. What a ring holds, pressed at each place where a button can be and seen at each place where an output can
be, is told by the fast engine, many rings at once (of a lamp nearly: it may hear what the block in its place did not).
Nothing is asked of a ring before: each gives many holds, and all that were seen are kept for the next wish with this
room. The same search finds the same rings.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import NamedTuple

from tickwright.design.families import loops
from tickwright.design.recipes import LAMP_STEPS, Goal
from tickwright.design.sketch import PRESS
from tickwright.design.wish import Room
from tickwright.kinds import BUTTONS, Part, parse_part
from tickwright.plan import Plan
from tickwright.plan.hand import Stimulus
from tickwright.rules import RuleSet
from tickwright.space import HORIZONTAL, OPPOSITE, VECTORS, Cell, beside

__all__ = ["Folded", "Folding"]

MOST_REGION = 64  # cells of the part of a room that one ring is laid in
MOST_ELEMENTS = 48  # of a ring
AT_ONCE = 60  # rings judged in one call
MOST_BUTTONS = 12  # places tried for each ring
CLOSES_EARLY = 0.2
ATTEMPTS = 30_000
ENOUGH = 6  # designs of one hold
PRESSED_AT = 4  # step
LONGEST_STEPS = 700  # of a hold; no loop whose turn is no longer than a press holds longer
BLOCK, WIRE = parse_part("block"), parse_part("wire")
COMPARATOR, LINE, RELAY, FED = "comparator", "wire", "relay", "fed"


class Element(NamedTuple):
    """One element of a ring: a comparator that faces `way`, a wire, a full cell in front of a comparator (`RELAY`), or
    the full cell below a wire, which feeds a comparator (`FED`).
    """

    sort: str
    cell: Cell
    way: str = ""


Ring = tuple[Element, ...]


class Folded(NamedTuple):
    """A ring that was laid and run in a room's own cells: where its button and its output are, and what it held."""

    hold_steps: int
    parts: int
    ring: Ring
    press: Cell
    button: Part
    output: str
    watched: Cell

    @property
    def comparators(self) -> int:
        """How many comparators it has."""
        return sum(element.sort == COMPARATOR for element in self.ring)

    @property
    def plan(self) -> Plan:
        """The plan, in the room's cells."""
        cells = {**_laid(self.ring), self.press: self.button}
        if self.output == "lamp":
            cells[self.watched] = parse_part("lamp")
        title = f"Folded loop of {self.comparators}"
        return Plan(cells, {PRESS: self.press}, {self.output: self.watched}, title=title)


Tell = Callable[[str], bool]


class Folding:
    """Rings in one room for one button, the trigger where the room is entered, the output where it is left."""

    def __init__(self, room: Room, trigger: str, rules: RuleSet, attempts: int = ATTEMPTS, seed: int = 1) -> None:
        from tickwright.engine.interface import is_installed

        self.room, self.trigger, self.rules = room, trigger, rules
        self.draw = random.Random(seed)
        self.found: dict[tuple[int, str], list[Folded]] = {}
        self.known: set[frozenset[Element]] = set()
        self.attempts = 0
        free = {cell for cell in _cells(room.size, (0, 0, 0)) if cell not in room.blocked}
        possible = trigger in BUTTONS and room.size[2] > 1 and len(free) > 7 and is_installed("fast")
        self.most_attempts = attempts if possible else 0
        self.free = frozenset(free)
        self.most_comparators = rules.button_steps(trigger) // 2 if trigger in BUTTONS else 0

    def holding(self, goal: Goal, tell: Tell) -> list[Folded]:
        """Rings that hold as the goal says, the fewest parts first; the search goes on until there are enough of them.

        `tell` is told what is done, and ends the search if it returns true.
        """
        if goal.least_steps > LONGEST_STEPS:
            return []
        while self.attempts < self.most_attempts and len(found := self._known(goal)) < ENOUGH:
            rings: list[Ring] = []
            while len(rings) < AT_ONCE and self.attempts < self.most_attempts:
                self.attempts += 1
                ring = self._ring()
                if ring is not None and frozenset(ring) not in self.known:
                    self.known.add(frozenset(ring))
                    rings.append(ring)
            self._judge(rings)
            if tell(f"loops folded into the room, {len(self.known):,} laid, {len(found)} found"):
                break
        return self._known(goal)

    def _known(self, goal: Goal) -> list[Folded]:
        found = [
            one
            for (hold, output), several in self.found.items()
            if goal.meets(hold) and output in goal.outputs
            for one in several
        ]
        return sorted(found, key=lambda one: (abs(one.hold_steps - goal.hold_steps), one.parts))

    def _ring(self) -> Ring | None:
        """A ring from one attempt, if it closed, in a part of the room that is drawn anew for each."""
        size = list(self.room.size)
        while size[0] * size[1] * size[2] > MOST_REGION:
            size[self.draw.choices((0, 1, 2), [length - 1 if length > 2 else 0 for length in size])[0]] -= 1
        corner = [self.draw.randint(0, whole - part) for whole, part in zip(self.room.size, size, strict=True)]
        region = self.free
        if size != list(self.room.size):
            region = region.intersection(_cells((size[0], size[1], size[2]), (corner[0], corner[1], corner[2])))
        starts = sorted(cell for cell in region if cell[2] > corner[2])
        return _Walk(region, starts, self.most_comparators, self.draw).ring() if starts else None

    def _judge(self, rings: list[Ring]) -> None:
        """Run rings with a button at each place where one can be, and keep what they held."""
        from tickwright.engine.native import Batch, Job

        batch, jobs, tried = Batch(), [], []
        for ring in rings:
            cells = _laid(ring)
            places = list(_buttons(cells, ring, self.room, self.trigger))
            for press, button in self.draw.sample(places, min(MOST_BUTTONS, len(places))):
                whole = {**cells, press: button}
                outputs = list(_outputs(whole, ring, self.room))
                if outputs:
                    number = batch.add(whole, [watched for watched, _ in outputs], self.rules)
                    jobs.append(Job(number, (Stimulus(PRESSED_AT, press, "press"),)))
                    tried.append((ring, press, button, outputs, len(whole)))
        if not jobs:
            return
        done = batch.run(jobs, PRESSED_AT + 2 * LONGEST_STEPS)
        for job, (ring, press, button, outputs, parts) in enumerate(tried):
            if not done.at_rest[job]:
                continue
            for row, (watched, output) in enumerate(outputs, done.start[job]):
                if done.pulses[row] == 1 and done.first_on[row] >= PRESSED_AT and done.last[row] == 0:
                    hold = done.last_off[row] - done.first_on[row] + (LAMP_STEPS if output == "lamp" else 0)
                    self._keep(Folded(hold, parts, ring, press, button, output, watched))

    def _keep(self, one: Folded) -> None:
        kept = self.found.setdefault((one.hold_steps, one.output), [])
        kept.append(one)
        kept.sort(key=lambda other: other.parts)
        del kept[ENOUGH:]


def _cells(size: Cell, corner: Cell) -> Iterator[Cell]:
    (wide, deep, high), (left, back, low) = size, corner
    return ((left + x, back + y, low + z) for x in range(wide) for y in range(deep) for z in range(high))


class _Walk:
    """One attempt to close a ring of so many comparators that loses so many levels a turn."""

    def __init__(self, region: frozenset[Cell], starts: list[Cell], most: int, draw: random.Random) -> None:
        self.region, self.starts, self.most, self.draw = region, starts, most, draw
        self.ring_so_far: list[Element] = []
        self.parts: dict[Cell, str] = {}  # what stands in a cell; a support is "block"

    def ring(self) -> Ring | None:
        """A ring, beginning with a comparator; None if this attempt came to a dead end.

        How many comparators it has at least is drawn, so that long rings are not left for the many short ones.
        """
        first = Element(COMPARATOR, self.draw.choice(self.starts), self.draw.choice(HORIZONTAL))
        if not self._put(first):
            return None
        least = self.draw.choice((1, self.draw.randint(1, self.most)))
        comparators, lost = 1, 0
        while len(self.ring_so_far) < MOST_ELEMENTS:
            last = self.ring_so_far[-1]
            ways = list(self._following(last))
            self.draw.shuffle(ways)
            closes = first in ways and 0 < lost < loops.TOP_LEVEL and len(self.ring_so_far) > 2
            if closes and (comparators >= least or self.draw.random() < CLOSES_EARLY):
                return tuple(self.ring_so_far)
            for element in ways:
                more = comparators + (element.sort == COMPARATOR)
                if more <= self.most and self._near(element, more) and self._put(element):
                    lost += element.sort == last.sort == LINE
                    comparators = more
                    break
            else:
                return None
        return None

    def _near(self, element: Element, comparators: int) -> bool:
        """Whether it is not too far from the beginning to come back there."""
        goal, here = self.ring_so_far[0].cell, element.cell
        away = abs(goal[0] - here[0]) + abs(goal[1] - here[1])
        return away <= 2 * (self.most - comparators) + 3

    def _following(self, last: Element) -> Iterator[Element]:
        """What may come after an element."""
        cell = last.cell
        if last.sort == COMPARATOR:
            ahead = beside(cell, last.way)
            yield Element(COMPARATOR, ahead, last.way)
            yield Element(LINE, ahead)
            yield Element(RELAY, ahead)
            return
        for way in HORIZONTAL:
            side = beside(cell, way)
            yield Element(COMPARATOR, side, way)
            if last.sort == LINE:
                yield from (Element(LINE, one) for one in (side, beside(side, "up"), beside(side, "down")))
            elif last.sort == RELAY:
                yield Element(LINE, side)
        if last.sort == LINE:
            yield Element(FED, beside(cell, "down"))
        elif last.sort == RELAY:
            yield Element(LINE, beside(cell, "up"))
            yield Element(LINE, beside(cell, "down"))

    def _put(self, element: Element) -> bool:
        """Lay an element and what it stands on, if it may stand there; else nothing is laid."""
        cell = element.cell
        if cell not in self.region:
            return False
        there = self.parts.get(cell)
        if element.sort in (RELAY, FED):
            if there not in (None, "block") or (element.sort == RELAY and there is not None):
                return False
            self.parts[cell] = "block"
        else:
            floor = beside(cell, "down")
            if there is not None or floor not in self.region or self.parts.get(floor, "block") != "block":
                return False
            if not self._is_clear(element):
                return False
            self.parts[cell] = element.sort
            self.parts[floor] = "block"
        self.ring_so_far.append(element)
        return True

    def _is_clear(self, element: Element) -> bool:
        """Whether a comparator or wire in this cell touches no other element but those before and after it."""
        cell, last = element.cell, self.ring_so_far[-1] if self.ring_so_far else None
        first = self.ring_so_far[0] if self.ring_so_far else None
        if element.sort == COMPARATOR:
            flanks = [beside(cell, way) for way in HORIZONTAL if way not in (element.way, OPPOSITE[element.way])]
            return all(self.parts.get(flank) != LINE for flank in flanks)
        for way in HORIZONTAL:
            side = beside(cell, way)
            for one in (side, beside(side, "up"), beside(side, "down")):
                if self.parts.get(one) == LINE and (last is None or one != last.cell):
                    return False
        for other in self.ring_so_far:
            if other.sort != COMPARATOR or other is first:
                continue
            if cell in [beside(other.cell, way) for way in HORIZONTAL if way not in (other.way, OPPOSITE[other.way])]:
                return False
        if first is not None and first.sort == COMPARATOR:
            return cell not in [
                beside(first.cell, way) for way in HORIZONTAL if way not in (first.way, OPPOSITE[first.way])
            ]
        return True


def _laid(ring: Ring) -> dict[Cell, Part]:
    """The parts of a ring, with the blocks that it stands on."""
    cells: dict[Cell, Part] = {}
    for element in ring:
        if element.sort in (RELAY, FED):
            cells[element.cell] = BLOCK
            continue
        cells[element.cell] = WIRE if element.sort == LINE else parse_part(f"comparator {element.way}")
        cells.setdefault(beside(element.cell, "down"), BLOCK)
    return cells


def _buttons(cells: dict[Cell, Part], ring: Ring, room: Room, kind: str) -> Iterator[tuple[Cell, Part]]:
    """Where a button may be: beside a wire of the ring, fixed to any full cell; or fixed to a full cell of the ring."""
    wires = {element.cell for element in ring if element.sort == LINE}
    fed = {element.cell for element in ring if element.sort in (RELAY, FED)}
    for cell in sorted({beside(one, way) for one in wires | fed for way in VECTORS}):
        if cell in cells or cell in room.blocked or not room.holds(cell) or not room.at(room.enter, cell):
            continue
        touches = any(beside(cell, way) in wires for way in VECTORS)
        for way in VECTORS:
            on = beside(cell, way)
            if cells.get(on) == BLOCK and (touches or on in fed):
                yield cell, parse_part(f"{kind} on={way}")


def _outputs(cells: dict[Cell, Part], ring: Ring, room: Room) -> Iterator[tuple[Cell, str]]:
    """What may show a hold: a wire of the ring, or a full cell that can be a lamp."""
    for element in ring:
        if element.sort == LINE and room.at(room.leave, element.cell):
            yield element.cell, "line"
    below = {beside(element.cell, "down") for element in ring if element.sort == LINE}
    below |= {element.cell for element in ring if element.sort in (RELAY, FED)}
    for cell in sorted(below):
        if cells.get(cell) == BLOCK and room.at(room.leave, cell):
            yield cell, "lamp"
