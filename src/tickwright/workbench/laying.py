"""The edits of the layer view: functions from a Plan and a box of cells to a new Plan, names going along.

They build on the edits of `tickwright.plan`; what is laid over something replaces it, as undo brings it back.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from tickwright import Expectation, Plan
from tickwright.errors import UsageError
from tickwright.kinds import PARTS, Part, mirrored, turned
from tickwright.plan import PlanPort, lay, loads, own, turned_use, with_new_name, with_uses
from tickwright.space import Cell, cell_text
from tickwright.workbench import modules
from tickwright.workbench.document import Box

_NAME = re.compile(r"[a-z0-9_-]{1,64}")
_PINNED = re.compile(r"#\s*\((\d+),\s*(\d+),\s*(\d+)\):\s?(.*)")
MOST_COPIED = 20_000


@dataclass(frozen=True, slots=True)
class Clip:
    """Parts lifted out of a plan, by their place from the lowest corner of their box."""

    size: Cell
    parts: Mapping[Cell, Part]


def box_of(first: Cell, last: Cell) -> Box:
    """The box with these two corners.

    >>> box_of((3, 0, 1), (1, 2, 1))
    Box(low=(1, 0, 1), high=(3, 2, 1))
    """
    low, high = zip(*(sorted(pair) for pair in zip(first, last, strict=True)), strict=True)
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def inside(box: Box, cell: Cell) -> bool:
    """Whether the cell lies in the box."""
    return all(a <= here <= b for a, here, b in zip(box.low, cell, box.high, strict=True))


def fill(plan: Plan, cells: Iterable[Cell], part: Part) -> Plan:
    """The plan with that part in each of the cells."""
    return replaced(plan, dict.fromkeys(cells, part))


def replaced(plan: Plan, cells: Mapping[Cell, Part | None]) -> Plan:
    """The plan with each of the cells as given, None for empty. Raises UsageError where a module has a part."""
    modules.refuse_in_modules(plan, cells)
    return lay(plan, cells)


def erase(plan: Plan, box: Box) -> Plan:
    """The plan without the parts and modules in the box; names go on naming their cells."""
    gone, _ = modules.sorted_by_box(plan, box)
    for use in gone:
        plan = modules.with_use(plan, use.name, None)
    return lay(plan, {cell: None for cell in plan.cells if inside(box, cell)})


def erase_cells(plan: Plan, cells: Iterable[Cell]) -> Plan:
    """The plan without the parts in the cells; a module of which one is a part goes as a whole."""
    cells = [cell for cell in cells if cell in plan.cells]
    gone = {use.name for use in (modules.module_at(plan, cell) for cell in cells) if use is not None}
    for name in gone:
        plan = modules.with_use(plan, name, None)
    return lay(plan, {cell: None for cell in cells if cell in plan.cells})


def lift(plan: Plan, box: Box) -> Clip:
    """What stands in the box."""
    x, y, z = box.low
    parts = {(at[0] - x, at[1] - y, at[2] - z): part for at, part in plan.cells.items() if inside(box, at)}
    if len(parts) > MOST_COPIED:
        raise UsageError(f"{len(parts):,} parts cannot be copied at once: the most is {MOST_COPIED:,}.")
    return Clip((box.high[0] - x + 1, box.high[1] - y + 1, box.high[2] - z + 1), parts)


def put(plan: Plan, clip: Clip, at: Cell) -> Plan:
    """The plan with what was lifted laid at a cell, its lowest corner there."""
    return replaced(plan, {(at[0] + x, at[1] + y, at[2] + z): part for (x, y, z), part in clip.parts.items()})


def shift(plan: Plan, box: Box, offset: Cell) -> Plan:
    """The plan with what is in the box moved by an offset, names too; what stood there is replaced."""

    def go(cell: Cell) -> Cell:
        return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])

    return _transformed(plan, box, go, lambda part: part)


def turn(plan: Plan, box: Box, quarter_turns: int = 1) -> Plan:
    """The plan with the box turned clockwise, seen from above, about its lowest corner's place.

    >>> from tickwright.kinds import parse_part
    >>> plan = Plan({(1, 1, 0): parse_part("repeater east"), (2, 1, 0): parse_part("lamp")})
    >>> sorted((cell, str(part)) for cell, part in turn(plan, box_of((1, 1, 0), (2, 1, 0))).cells.items())
    [((1, 1, 0), 'repeater south'), ((1, 2, 0), 'lamp')]
    """
    for _ in range(quarter_turns % 4):
        x, y, _z = box.low
        wide, deep = box.high[0] - x + 1, box.high[1] - y + 1

        def go(cell: Cell, x: int = x, y: int = y, deep: int = deep) -> Cell:
            return (x + deep - 1 - (cell[1] - y), y + cell[0] - x, cell[2])

        plan = _transformed(plan, box, go, lambda part: turned(part, 1))
        box = Box(box.low, (x + deep - 1, y + wide - 1, box.high[2]))
    return plan


def flip(plan: Plan, box: Box, axis: str) -> Plan:
    """The plan with the box mirrored within its place: axis "x" swaps east and west, "y" north and south."""
    number = "xy".index(axis)
    total = box.low[number] + box.high[number]

    def go(cell: Cell) -> Cell:
        return (total - cell[0], cell[1], cell[2]) if number == 0 else (cell[0], total - cell[1], cell[2])

    return _transformed(plan, box, go, lambda part: mirrored(part, axis))


def again(plan: Plan, box: Box, axis: str, count: int, pitch: int) -> Plan:
    """The plan with what is in the box laid `count` times in all, each `pitch` cells further along x, y or z."""
    if axis not in "xyz" or len(axis) != 1:
        raise UsageError(f'Nothing can be repeated along "{axis}": use x, y or z.')
    if not (2 <= count <= 200 and 1 <= pitch <= 200):
        raise UsageError(f"{count} times, {pitch} cells apart: use 2 to 200 times, 1 to 200 cells apart.")
    clip = lift(plan, box)
    if len(clip.parts) * count > MOST_COPIED:
        raise UsageError(f"That would be {len(clip.parts) * count:,} parts: the most at once is {MOST_COPIED:,}.")
    for number in range(1, count):
        x, y, z = (number * pitch if axis == here else 0 for here in "xyz")
        plan = put(plan, clip, (box.low[0] + x, box.low[1] + y, box.low[2] + z))
    return plan


def _transformed(plan: Plan, box: Box, go: Callable[[Cell], Cell], change: Callable[[Part], Part]) -> Plan:
    goals = [go(corner) for corner in box]
    if min(min(goal) for goal in goals) < 0:
        raise UsageError("That would leave the grid, which begins at (0, 0, 0): make room there first.")
    going, _ = modules.sorted_by_box(plan, box)
    bare = replace(own(plan), uses=())
    moving = {cell: part for cell, part in bare.cells.items() if inside(box, cell)}

    def gone(cell: Cell) -> Cell:
        return go(cell) if inside(box, cell) else cell

    def side(port: PlanPort, one: str) -> str:
        return str(change(Part("torch", one)).facing) if inside(box, port.cell) else one

    named: dict[str, Any] = {
        table: {name: gone(cell) for name, cell in getattr(bare, table).items()} for table in ("triggers", "outputs")
    }
    named["ports"] = {
        name: port._replace(
            cell=gone(port.cell), side=side(port, port.side), also=tuple(side(port, one) for one in port.also)
        )
        for name, port in bare.ports.items()
    }
    named["nets"] = {name: tuple(map(gone, cells)) for name, cells in bare.nets.items()}
    laid: dict[Cell, Part | None] = dict.fromkeys(moving)
    laid |= {go(cell): change(part) for cell, part in moving.items()}
    uses = [turned_use(use, go, change) if use in going else use for use in plan.uses]
    return with_uses(lay(replace(bare, **named), laid), uses)


# --- names, wishes, notes ----------------------------------------------------------------------------------------


def name_cell(plan: Plan, table: str, name: str, cell: Cell) -> Plan:
    """The plan with a trigger or an output (`table` "triggers" or "outputs") of that name at the cell.

    The cell has one name in a table: an older one is replaced, in the expectations too. An empty name takes it away.
    """
    if table not in ("triggers", "outputs"):
        raise UsageError(f'There is no list of "{table}".')
    named: dict[str, Cell] = dict(getattr(plan, table))
    old = next((known for known, at in named.items() if at == cell), None)
    if name and not _NAME.fullmatch(name):
        raise UsageError(f'"{name[:70]}" is no name: use 1 to 64 letters (a-z), digits, - and _.')
    if name in named and named[name] != cell:
        raise UsageError(f'"{name}" names {cell_text(named[name])} already: choose another name.')
    if name and old is not None:
        named = {name if known == old else known: at for known, at in named.items()}
    elif name:
        named[name] = cell
    elif old is not None:
        del named[old]
    field = table[:-1]
    renamed: dict[str, Any] = {field: name}
    wishes = [
        replace(wish, **renamed) if getattr(wish, field) == old else wish
        for wish in plan.expectations
        if name or getattr(wish, field) != old
    ]
    tables: dict[str, Any] = {table: named}
    if name and old is not None and name != old:
        plan = with_new_name(plan, old, name)
        if table == "outputs":
            tables["part_outputs"] = frozenset(name if known == old else known for known in plan.part_outputs)
    elif old is not None and table == "outputs":
        tables["part_outputs"] = plan.part_outputs & set(named)
    return replace(plan, **tables, expectations=tuple(wishes))


def with_title(plan: Plan, title: str) -> Plan:
    """The plan with another title."""
    if len(title) > 200 or not title.isprintable():
        raise UsageError("A title has at most 200 characters, all of them printable.")
    return replace(plan, title=title)


def with_rules(plan: Plan, rules: str) -> Plan:
    """The plan under another rule set, named."""
    return replace(plan, rules=rules)


def with_wishes(plan: Plan, wishes: Iterable[Expectation]) -> Plan:
    """The plan with these expectations."""
    return replace(plan, expectations=tuple(wishes))


def notes_of(plan: Plan) -> str:
    """The notes of a plan: the comment lines at the head of its file, without their marks."""
    lines = _head(plan.source or "")
    return "\n".join(line.lstrip()[1:].removeprefix(" ").rstrip() for line in lines)


def pinned_notes(plan: Plan) -> dict[Cell, str]:
    r"""The notes that begin with a cell, such as "(2, 0, 1): watch this wire", by that cell.

    >>> plan = with_notes(Plan({}, size=(2, 1, 1)), "For the bell.\n(1, 0, 0): the clapper")
    >>> notes_of(plan), pinned_notes(plan)
    ('For the bell.\n(1, 0, 0): the clapper', {(1, 0, 0): 'the clapper'})
    """
    found = {}
    for line in _head(plan.source or ""):
        match = _PINNED.fullmatch(line.strip())
        if match:
            x, y, z, text = match.groups()
            found[int(x), int(y), int(z)] = text
    return found


def with_notes(plan: Plan, text: str) -> Plan:
    """The plan with these notes at the head of its file, as comments, which the plan file keeps."""
    from tickwright.plan import dumps

    if any(use.inside.source != dumps(use.inside) for use in plan.uses):
        raise UsageError("A module is edited and not saved yet: save first, then write notes.")
    if len(text) > 20_000:
        raise UsageError(f"The notes have {len(text):,} characters: the most is 20,000.")
    if any(not (sign.isprintable() or sign == "\n") for sign in text):
        raise UsageError("The notes hold a character that cannot be printed: take it out.")
    source = dumps(plan)
    rest = source.split("\n")[len(_head(source)) :]
    head = [f"# {line}".rstrip() for line in text.rstrip().split("\n")] if text.strip() else []
    return loads("\n".join([*head, *rest]), plan.path, checked=False)


def with_note_at(plan: Plan, cell: Cell, text: str) -> Plan:
    """The plan with a note pinned to a cell; an empty text takes it away."""
    mark = f"({cell[0]}, {cell[1]}, {cell[2]}):"
    kept = [line for line in notes_of(plan).split("\n") if not line.startswith(mark)]
    added = [f"{mark} {' '.join(text.split())}"] if text.strip() else []
    return with_notes(plan, "\n".join([*kept, *added]).strip("\n"))


def _head(source: str) -> list[str]:
    """The comment lines that a plan's text begins with."""
    head = []
    for line in source.split("\n"):
        if not line.lstrip("\ufeff").lstrip().startswith("#"):
            break
        head.append(line)
    return head


def next_direction(kind: str, facing: str | None, by: int) -> str | None:
    """The direction after this one among those that the kind takes; None for a kind that has none."""
    directions = PARTS[kind].directions
    if not directions:
        return None
    clockwise: list[str] = [way for way in ("north", "east", "south", "west", "up", "down") if way in directions]
    return clockwise[(clockwise.index(str(facing)) + by) % len(clockwise)]
