"""What makes a well-formed Plan an error under a rule set: no support, nothing to watch, more items than fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tickwright.errors import PlanError
from tickwright.kinds import CONTAINERS, PISTONS, Part, a_kind, support_cell
from tickwright.places import Places
from tickwright.plan.cells import EMPTY_CODE, MOST_ALONG, Cells, code_of
from tickwright.plan.model import Plan
from tickwright.plan.modules import module_text, whereabouts
from tickwright.rules import RuleSet
from tickwright.space import OPPOSITE, VECTORS, Cell, along, beside, cell_text, zyx

MOST_PISTON_PLACES = 20_000


def validate(plan: Plan, rules: RuleSet, places: Places | None = None) -> None:
    """Refuse a plan whose circuit cannot be built under these rules.

    A part that stands needs a cell below it, or the cell that it is fixed to, that carries; an output may watch an
    empty cell only if pistons can move something there; a container holds what fits. Triggers may name any cell.
    Raises PlanError for the first such error in (z, y, x) order, at its place if `places` of the plan's text is given.

    >>> from tickwright.kinds import parse_part
    >>> from tickwright.rules import load_rules
    >>> validate(Plan({(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part("wire")}), load_rules())
    """
    for message, cell, output in problems(plan, rules):
        inner = whereabouts(plan, cell)
        said = message + module_text(plan, (cell,)) if inner or places is None else message
        if places is None:
            raise PlanError(said, cells=(cell,))
        if inner:
            where = places.of("use", [use.name for use in plan.uses].index(inner[0][0]))
        else:
            where = places.of_cell(cell) if output is None else places.of("outputs", output)
        raise PlanError(said, *where, cells=(cell,))


def problems(plan: Plan, rules: RuleSet) -> Iterator[tuple[str, Cell, str | None]]:
    """All that `validate` refuses, as (message, cell, name of the output or None), in (z, y, x) order, outputs last.

    >>> from tickwright.kinds import parse_part
    >>> from tickwright.rules import load_rules
    >>> [cell for _, cell, _ in problems(Plan({(0, 0, 1): parse_part("wire")}), load_rules())]
    [(0, 0, 1)]
    """
    suspect = () if isinstance(plan.cells, Cells) and _stands(plan.cells, rules) else plan.cells
    for cell in sorted(suspect, key=zyx):
        part = plan.cells[cell]
        message = _unsupported(plan, rules, cell, part) or _overfull(rules, cell, part)
        if message is not None:
            yield message, cell, None
    for name, cell in plan.outputs.items():
        if cell not in plan.cells and not pistons_can_reach(plan, rules, cell):
            message = (
                f'The output "{name}" watches {cell_text(cell)}, an empty cell that no piston reaches: name a '
                "cell that holds a part."
            )
            yield message, cell, name


def _stands(cells: Cells, rules: RuleSet) -> bool:
    """Whether all parts have their support and hold what fits, seen row by row in numbers with a bit for each cell."""
    if any(_overfull(rules, (0, 0, 0), part) for part in cells.parts):
        return False
    sides = {part: _support_side(part) for part in cells.parts}
    return all(_stands_on(cells, rules, side, sides) for side in {*sides.values()} - {None} if side is not None)


def _support_side(part: Part) -> str | None:
    support = part.row.support
    return None if support is None else "down" if support == "below" else part.facing


def _stands_on(cells: Cells, rules: RuleSet, side: str, sides: Mapping[Part, str | None]) -> bool:
    """Whether all parts that stand on what is on that side of them, find something there that carries."""
    wide, deep, high = cells.far
    needs, carries = {ord(EMPTY_CODE): "0"}, {ord(EMPTY_CODE): "0"}
    for place, part in enumerate(cells.palette):
        code = ord(code_of(place))
        carrying = rules.carries.get(part.kind, False)
        needs[code] = str(int(sides.get(part) == side))
        carries[code] = str(int(carrying and not (part.kind in PISTONS and part.facing == OPPOSITE[side])))

    def bits(y: int, z: int, table: Mapping[int, str]) -> int:
        if not 0 <= z < len(cells.layers) or not 0 <= y < len(cells.layers[z]):
            return 0
        row = cells.layers[z][y].rstrip(EMPTY_CODE)
        return int(row.translate(table).ljust(wide, "0") or "0", 2)

    dx, dy, dz = VECTORS[side]
    for z in range(high):
        for y in range(min(deep, len(cells.layers[z]))):
            standing = bits(y, z, needs)
            if standing:
                below = bits(y + dy, z + dz, carries)
                if standing & ~(below << 1 if dx > 0 else below >> 1 if dx < 0 else below):
                    return False
    return True


def is_supported(cells: Mapping[Cell, Part], rules: RuleSet, cell: Cell, part: Part) -> bool:
    """Whether a part in that cell would have what it needs to stand among these parts.

    >>> from tickwright.kinds import parse_part
    >>> from tickwright.rules import load_rules
    >>> is_supported({(0, 0, 0): parse_part("block")}, load_rules(), (0, 0, 1), parse_part("wire"))
    True
    """
    needed = support_cell(part, cell)
    if needed is None:
        return True
    under = cells.get(needed)
    if under is None or not rules.carries.get(under.kind, False):
        return False
    return not (under.kind in PISTONS and beside(needed, str(under.facing)) == cell)


def _unsupported(plan: Plan, rules: RuleSet, cell: Cell, part: Part) -> str | None:
    needed = support_cell(part, cell)
    if needed is None or is_supported(plan.cells, rules, cell, part):
        return None
    under = plan.cells.get(needed)
    if under is not None and rules.carries.get(under.kind, False):
        what = f"the face of {a_kind(under.kind)}, which carries nothing"
    elif under is not None:
        what = f"{a_kind(under.kind)}, which carries nothing"
    else:
        what = "nothing"
    carriers = ", ".join(sorted(kind for kind, carries in rules.carries.items() if carries))
    place = "below it" if needed == beside(cell, "down") else f"{part.facing} of it"
    return (
        f"The {part.kind} at {cell_text(cell)} has no support: the cell {cell_text(needed)}, {place}, holds {what}. "
        f"Put a part there that carries ({carriers}), or remove the {part.kind}."
    )


def _overfull(rules: RuleSet, cell: Cell, part: Part) -> str | None:
    if part.kind not in CONTAINERS or part.items <= rules.capacity(part.kind):
        return None
    return (
        f"The {part.kind} at {cell_text(cell)} holds {part.items} items: under the rules {rules.name} at most "
        f"{rules.capacity(part.kind)} fit; give it fewer."
    )


def pistons_can_reach(plan: Plan, rules: RuleSet, cell: Cell) -> bool:
    """Whether a piston's arm or a cell that it moves may come to stand in `cell`, rather too often than too seldom.

    A piston reaches the cells before its face up to one more than it can push; being itself movable, it may act from
    wherever pistons move it. With more than 20,000 such places every cell counts as reached.
    """
    waiting = [(at, str(part.facing)) for at, part in plan.cells.items() if part.kind in PISTONS]
    known: dict[Cell, set[str]] = {}  # where pistons may be, and facing where
    reached: dict[Cell, set[str]] = {}  # what they may move, and along which direction
    count = 0
    while waiting:
        at, facing = waiting.pop()
        if facing in known.setdefault(at, set()):
            continue
        known[at].add(facing)
        count += 1
        if count > MOST_PISTON_PLACES:
            return True
        for direction in reached.get(at, ()):
            waiting += _shifted(at, facing, direction)
        for distance in range(1, rules.piston.push_limit + 2):
            goal = along(at, facing, distance)
            if goal == cell:
                return True
            if facing not in reached.setdefault(goal, set()):
                reached[goal].add(facing)
                for other in known.get(goal, ()):
                    waiting += _shifted(goal, other, facing)
    return False


def _shifted(at: Cell, facing: str, direction: str) -> list[tuple[Cell, str]]:
    """A piston there pushed or pulled along that direction, within the largest grid."""
    goals = (beside(at, direction), beside(at, OPPOSITE[direction]))
    return [
        (goal, facing) for goal in goals if all(-1 <= here <= most for here, most in zip(goal, MOST_ALONG, strict=True))
    ]
