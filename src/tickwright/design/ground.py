"""Ground for wires: which cells a wire may stand in beside a plan, the shortest way between two of them, its laying.

A wire takes one level a cell, so a long one is renewed by repeaters where it runs straight.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence

from tickwright.design.wish import Room
from tickwright.kinds import Part, parse_part
from tickwright.plan.model import Plan
from tickwright.space import HORIZONTAL, Cell, beside

__all__ = ["BLOCK", "NOTHING", "WIRE", "Ground", "joined", "lay", "lay_wire", "round_about", "shortest_way"]

RENEWED_AT = 3  # the level at which a long wire is renewed at the latest, where it can be
TOP_LEVEL = 15
NOTHING: frozenset[Cell] = frozenset()
BLOCK, WIRE = parse_part("block"), parse_part("wire")


class Ground:
    """Which cells of a room may hold a wire beside the plan that lies in it."""

    def __init__(self, plan: Plan, room: Room) -> None:
        self.plan, self.room = plan, room
        self.taken = set(plan.cells)

    def free(self, cell: Cell) -> bool:
        """Whether nothing stands there or may not."""
        return self.room.holds(cell) and cell not in self.room.blocked and cell not in self.taken

    def stands(self, cell: Cell, but: Iterable[Cell] = ()) -> bool:
        """Whether a wire may stand there, on a block of its own, out of touch with the plan but for the cells `but`."""
        floor = beside(cell, "down")
        if not (self.free(cell) and self.free(floor)):
            return False
        touched = [beside(cell, side) for side in HORIZONTAL]
        touched += [beside(one, up) for one in touched for up in ("up", "down")]
        touched += [beside(floor, side) for side in HORIZONTAL] + [beside(cell, "up"), beside(floor, "down")]
        return all(one not in self.taken or one in but for one in touched)


def round_about(cell: Cell) -> frozenset[Cell]:
    """The cells of a plan that a wire may touch where it meets the part in this cell: that, and what is round it."""
    floor = beside(cell, "down")
    return frozenset(
        (cell, floor, *(beside(floor, side) for side in HORIZONTAL), *(beside(cell, way) for way in ("up", "down")))
    )


def joined(cell: Cell) -> list[Cell]:
    """The cells whose wires would join one in this cell."""
    level = [beside(cell, side) for side in HORIZONTAL]
    return [*level, *(beside(one, way) for one in level for way in ("up", "down"))]


def shortest_way(
    ground: Ground, starts: Mapping[Cell, frozenset[Cell]], goal: Cell, at_goal: frozenset[Cell]
) -> list[Cell] | None:
    """The cells of a shortest wire from one of the starts to the goal; None if there is none.

    With each start, and with the goal, stand the cells of the plan that the wire may touch there.
    """
    if not ground.stands(goal, at_goal) and goal not in starts:
        return None
    came: dict[Cell, Cell | None] = {goal: None}
    waiting = deque([goal])
    while waiting:
        here = waiting.popleft()
        if here in starts and (here != goal or ground.stands(here, starts[here] | at_goal)):
            way = [here]
            while (after := came[way[-1]]) is not None:
                way.append(after)
            return way
        for there in joined(here):
            if there not in came and ground.stands(there, starts.get(there, NOTHING)):
                came[there] = here
                waiting.append(there)
    return None


def lay(cells: dict[Cell, Part], cell: Cell, part: Part) -> None:
    """Lay a part, and a block below it where nothing stands yet."""
    cells[cell] = part
    cells.setdefault(beside(cell, "down"), BLOCK)


def lay_wire(cells: dict[Cell, Part], path: Sequence[Cell]) -> None:
    """Wires along a path the way the signal goes; a repeater renews a low level where the path runs straight."""
    level = TOP_LEVEL
    for number, cell in enumerate(path):
        part = WIRE
        if level <= RENEWED_AT and 0 < number < len(path) - 1:
            before, after = path[number - 1], path[number + 1]
            side = next((side for side in HORIZONTAL if beside(before, side) == cell), None)
            if side is not None and beside(cell, side) == after:
                part, level = parse_part(f"repeater {side}"), TOP_LEVEL + 1
        lay(cells, cell, part)
        level -= 1
