"""Edits: functions from a Plan to a new Plan.

The grid always starts at (0, 0, 0). An edit that keeps the coordinates of the rest (place, remove, move) refuses to go
beyond it; one that makes a new whole (rotate, mirror, repeat, join, crop) shifts that whole to start there. Every edit
keeps the file's path and text, so that saving keeps comments and layout; none looks at rules, so that a plan may lack a
support halfway through a change: `validate` says what is missing. All raise PlanError, also for a plan that would be
beyond the limits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import NoReturn

from tickwright.errors import PlanError
from tickwright.findings import Edit
from tickwright.kinds import Part, a_kind, parse_part, turned
from tickwright.kinds import mirrored as mirrored_part
from tickwright.plan.cells import MOST_ALONG, with_changes
from tickwright.plan.limits import MOST_PARTS, check_limits
from tickwright.plan.model import Chart, Expectation, Machine, Plan, PlanPort
from tickwright.plan.modules import laid_cells, turned_use, without_uses
from tickwright.plan.renaming import new_names, renamed_charts
from tickwright.space import Cell, cell_text
from tickwright.toml import shown

AXES = ("x", "y", "z")


def apply_edits(plan: Plan, edits: Iterable[Edit]) -> Plan:
    """The plan after edits given as values, such as those of a repair, one after another.

    >>> plan = apply_edits(Plan({}), [Edit("place", (0, 0, 0), "block"), Edit("place", (0, 0, 1), "wire")])
    >>> plan.bill()
    {'block': 1, 'wire': 1}
    """
    for edit in edits:
        if edit.verb == "place" and edit.part is not None:
            plan = place(plan, edit.cell, parse_part(edit.part))
        elif edit.verb == "remove":
            plan = remove(plan, edit.cell)
        elif edit.verb == "move" and edit.offset is not None:
            plan = move(plan, edit.cell, edit.offset, edit.last)
        else:
            raise PlanError(f'There is no edit "{edit.verb}", or it lacks its part or offset: use place, remove, move.')
    return plan


def place(plan: Plan, cell: Cell, part: Part) -> Plan:
    """The plan with `part` in `cell`, instead of what stood there.

    >>> from tickwright.kinds import parse_part
    >>> place(Plan({}), (1, 0, 0), parse_part("block")).size
    (2, 1, 1)
    """
    return check_limits(replace(plan, cells=with_changes(plan.cells, {cell: part})))


def lay(plan: Plan, cells: Mapping[Cell, Part | None]) -> Plan:
    """The plan with each of `cells` as given, None for empty; one edit however many there are.

    >>> from tickwright.kinds import parse_part
    >>> lay(Plan({(0, 0, 0): parse_part("lamp")}), {(0, 0, 0): None, (2, 0, 0): parse_part("block")}).bill()
    {'block': 1}
    """
    return check_limits(replace(plan, cells=with_changes(plan.cells, cells)))


def remove(plan: Plan, cell: Cell) -> Plan:
    """The plan without the part in `cell`; names keep naming the cell, and the grid its size."""
    if cell not in plan.cells:
        raise PlanError(f"The cell {cell_text(cell)} is empty: there is no part to remove.")
    return replace(plan, cells=with_changes(plan.cells, {cell: None}))


def move(plan: Plan, first: Cell, offset: Cell, last: Cell | None = None) -> Plan:
    """The plan with the part in `first`, or all in the box from `first` to `last`, moved by `offset`.

    Triggers and outputs that name a cell of the box go along. Raises PlanError if the box holds nothing, or if a part
    would come to where another stands.
    """
    low, high = _corners(first, last or first)

    def inside(cell: Cell) -> bool:
        return all(a <= here <= b for a, here, b in zip(low, cell, high, strict=True))

    moving = {cell: part for cell, part in plan.cells.items() if inside(cell)}
    names = [cell for cell in (*plan.triggers.values(), *plan.outputs.values()) if inside(cell)]
    if not moving and not names:
        where = f"The cell {cell_text(low)}" if low == high else f"The box {cell_text(low)} to {cell_text(high)}"
        raise PlanError(f"{where} holds no part and no named cell: there is nothing to move.")
    cells = {cell: part for cell, part in plan.cells.items() if cell not in moving}
    for cell, part in moving.items():
        goal = _plus(cell, offset)
        if goal in cells:
            _refuse_clash(goal, part, cells[goal])
        cells[goal] = part

    def gone(cell: Cell) -> Cell:
        return _plus(cell, offset) if inside(cell) else cell

    uses = []
    for use in plan.uses:
        inner = [inside(cell) for cell, _ in laid_cells(use)]
        if any(inner) and not all(inner):
            raise PlanError(f'The box cuts the module "{use.name}" in two: move all of it, or none.')
        uses.append(use._replace(at=_plus(use.at, offset)) if any(inner) else use)
    triggers, outputs = ({name: gone(at) for name, at in table.items()} for table in (plan.triggers, plan.outputs))
    ports = {name: port._replace(cell=gone(port.cell)) for name, port in plan.ports.items()}
    nets = {name: tuple(map(gone, net)) for name, net in plan.nets.items()}
    return check_limits(
        replace(plan, cells=cells, triggers=triggers, outputs=outputs, ports=ports, nets=nets, uses=tuple(uses))
    )


def rotate(plan: Plan, quarter_turns: int = 1) -> Plan:
    """The plan turned clockwise, seen from above, with its triggers and outputs.

    >>> from tickwright.kinds import parse_part
    >>> plan = Plan({(0, 0, 0): parse_part("block"), (1, 0, 0): parse_part("torch on=west")})
    >>> dict(rotate(plan).cells)[0, 1, 0].facing
    'north'
    """
    for _ in range(quarter_turns % 4):
        wide, deep, high = plan.size
        plan = _transformed(plan, partial(_turned_cell, deep), partial(turned, quarter_turns=1), (deep, wide, high))
    return plan


def mirror(plan: Plan, axis: str) -> Plan:
    """The plan in a mirror that swaps east and west (axis "x") or north and south (axis "y")."""
    if axis not in ("x", "y"):
        raise PlanError(f"A plan cannot be mirrored along {shown(axis)}: use x (east and west) or y (north and south).")
    number = AXES.index(axis)
    far = plan.size[number] - 1

    def swapped(cell: Cell) -> Cell:
        return (far - cell[0], cell[1], cell[2]) if number == 0 else (cell[0], far - cell[1], cell[2])

    return _transformed(plan, swapped, partial(mirrored_part, axis=axis), plan.size)


def repeat(plan: Plan, axis: str, count: int, pitch: int, mirrored: bool = False) -> Plan:
    """The plan `count` times along an axis, one each `pitch` cells; if `mirrored`, every second one mirrored along it.

    The names of copy 2 get "-2" at their end, and so on (the next free number if such a name exists), in its
    expectations too. Raises PlanError if copies would share a cell.

    >>> from tickwright.kinds import parse_part
    >>> sorted(repeat(Plan({(0, 0, 0): parse_part("lamp")}, outputs={"lamp": (0, 0, 0)}), "x", 3, 2).outputs.items())
    [('lamp', (0, 0, 0)), ('lamp-2', (2, 0, 0)), ('lamp-3', (4, 0, 0))]
    """
    if axis not in AXES:
        raise PlanError(f"A plan cannot be repeated along {shown(axis)}: use x, y or z.")
    number = AXES.index(axis)
    for what, value in (("count", count), ("pitch", pitch)):
        if not 1 <= value <= MOST_ALONG[number]:
            raise PlanError(f"The {what} is {shown(value)}: repeating along {axis} takes 1 to {MOST_ALONG[number]:,}.")
    other = mirror(plan, axis) if mirrored and count > 1 else plan
    whole = _Whole()
    for index in range(count):
        x, y, z = (index * pitch if here == number else 0 for here in range(3))
        whole.add(other if index % 2 else plan, (x, y, z), index + 1)
    return whole.plan(plan)


def join(plan: Plan, other: Plan, offset: Cell) -> Plan:
    """Both plans as one, `other` laid with its corner at `offset`; title, path and text are those of `plan`.

    Where `offset` is negative the whole is shifted to start at (0, 0, 0). A name of `other` that is taken gets "-2" at
    its end, or the next free number. Raises PlanError if both have a part in one cell, or are under different rules.
    """
    if plan.rules != other.rules:
        raise PlanError(
            f"The plans are under different rules, {shown(plan.rules)} and {shown(other.rules)}: give both the same."
        )
    x, y, z = (max(0, -distance) for distance in offset)
    whole = _Whole()
    whole.add(plan, (x, y, z), 1)
    whole.add(other, _plus(offset, (x, y, z)), 2)
    return whole.plan(plan)


def crop(plan: Plan) -> Plan:
    """The plan with its grid cut to its parts and named cells, shifted to start at (0, 0, 0)."""
    held = (*plan.cells, *plan.triggers.values(), *plan.outputs.values())
    if not held:
        raise PlanError("The plan holds no part and no named cell: there is nothing to cut it to.")
    x, y, z = (-min(cell[number] for cell in held) for number in range(3))
    return _transformed(plan, partial(_plus, (x, y, z)), lambda part: part, (0, 0, 0))


class _Whole:
    """Plans laid into one grid, one after another."""

    def __init__(self) -> None:
        self.cells: dict[Cell, Part] = {}
        self.triggers: dict[str, Cell] = {}
        self.outputs: dict[str, Cell] = {}
        self.expectations: list[Expectation] = []
        self.part_outputs: set[str] = set()
        self.ports: dict[str, PlanPort] = {}
        self.nets: dict[str, tuple[Cell, ...]] = {}
        self.charts: list[Chart] = []
        self.machines: list[Machine] = []
        self.size: Cell = (0, 0, 0)

    def add(self, plan: Plan, offset: Cell, number: int) -> None:
        """Lay a plan at `offset`; names that are taken get `number` at their end, or the next free one."""
        plan = without_uses(plan)
        if len(self.cells) + len(plan.cells) > MOST_PARTS:
            raise PlanError(f"The plan would have over {MOST_PARTS:,} parts, the most there may be: split it.")
        for cell, part in plan.cells.items():
            goal = _plus(cell, offset)
            if goal in self.cells:
                _refuse_clash(goal, part, self.cells[goal])
            self.cells[goal] = part
        triggers = new_names(plan.triggers, self.triggers, number)
        outputs = new_names(plan.outputs, self.outputs, number)
        self.triggers |= {triggers[name]: _plus(cell, offset) for name, cell in plan.triggers.items()}
        self.outputs |= {outputs[name]: _plus(cell, offset) for name, cell in plan.outputs.items()}
        self.expectations += [
            replace(one, trigger=triggers.get(one.trigger, one.trigger), output=outputs.get(one.output, one.output))
            for one in plan.expectations
        ]
        ports, nets = new_names(plan.ports, self.ports, number), new_names(plan.nets, self.nets, number)
        self.ports |= {ports[name]: port._replace(cell=_plus(port.cell, offset)) for name, port in plan.ports.items()}
        self.nets |= {nets[name]: tuple(_plus(cell, offset) for cell in net) for name, net in plan.nets.items()}
        self.part_outputs |= {outputs[name] for name in plan.part_outputs if name in outputs}
        charts, machines = renamed_charts(plan, {**triggers, **outputs}, self.charts, self.machines, number)
        self.charts += charts
        self.machines += machines
        x, y, z = (max(pair) for pair in zip(self.size, _plus(plan.size, offset), strict=True))
        self.size = (x, y, z)

    def plan(self, like: Plan) -> Plan:
        """The whole as a Plan with the title, rules, path and text of `like`."""
        whole = replace(
            like,
            cells=self.cells,
            triggers=self.triggers,
            outputs=self.outputs,
            expectations=tuple(self.expectations),
            part_outputs=frozenset(self.part_outputs),
            ports=self.ports,
            nets=self.nets,
            uses=(),
            charts=tuple(self.charts),
            machines=tuple(self.machines),
            size=self.size,
        )
        return check_limits(whole)


def _transformed(plan: Plan, go: Callable[[Cell], Cell], turn: Callable[[Part], Part], size: Cell) -> Plan:
    """The plan with every cell, named ones too, gone to another, and every part turned."""
    new_parts = {part: turn(part) for part in set(plan.cells.values())}
    cells = {go(cell): new_parts[part] for cell, part in plan.cells.items()}
    triggers, outputs = ({name: go(cell) for name, cell in names.items()} for names in (plan.triggers, plan.outputs))
    ports = {
        name: port._replace(
            cell=go(port.cell),
            side=str(turn(Part("torch", port.side)).facing),
            also=tuple(str(turn(Part("torch", side)).facing) for side in port.also),
        )
        for name, port in plan.ports.items()
    }
    nets = {name: tuple(map(go, net)) for name, net in plan.nets.items()}
    uses = tuple(turned_use(use, go, turn) for use in plan.uses)
    return check_limits(
        replace(plan, cells=cells, triggers=triggers, outputs=outputs, size=size, ports=ports, nets=nets, uses=uses)
    )


def _turned_cell(deep: int, cell: Cell) -> Cell:
    return (deep - 1 - cell[1], cell[0], cell[2])


def _corners(first: Cell, last: Cell) -> tuple[Cell, Cell]:
    pairs = [sorted(pair) for pair in zip(first, last, strict=True)]
    return (pairs[0][0], pairs[1][0], pairs[2][0]), (pairs[0][1], pairs[1][1], pairs[2][1])


def _plus(cell: Cell, offset: Cell) -> Cell:
    return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])


def _refuse_clash(cell: Cell, coming: Part, standing: Part) -> NoReturn:
    raise PlanError(
        f"In {cell_text(cell)} {a_kind(coming.kind)} would come to where {a_kind(standing.kind)} stands: a cell "
        "holds one part; choose another offset, or remove one of them."
    )
