"""Modules on the bench: laid, turned, moved and taken out as one, and edited in place. Nothing here knows of pages.

A module is found by a cell: one that a part of it stands in, or an empty one within the box of its parts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from tickwright import Plan, TickwrightError, load
from tickwright.errors import UsageError
from tickwright.kinds import Part, mirrored, turned
from tickwright.plan import (
    SHELF,
    Use,
    inner_cell,
    inner_part,
    inner_side,
    laid_cells,
    module_path,
    own,
    turned_use,
    with_changes,
    with_uses,
)
from tickwright.space import Cell, cell_text
from tickwright.workbench.document import Box

TILE = "tile:"
Edit = Callable[[Plan], Plan]


class Held(NamedTuple):
    """A module in hand: how a plan calls it, its plan, and how it will lie."""

    plan: str
    inside: Plan
    turn: int = 0
    mirror: bool = False

    def use(self, corner: Cell, name: str = "module") -> Use:
        """As it lies with the low corner of its box at a cell."""
        return _with_corner(Use(self.plan, (0, 0, 0), self.turn, self.mirror, name, self.inside), corner)

    @property
    def size(self) -> Cell:
        """How many cells its box has along x, y and z."""
        low, high = box_of(self.use((0, 0, 0)))
        return (high[0] - low[0] + 1, high[1] - low[1] + 1, high[2] - low[2] + 1)


def take_in_hand(plan: str, folder: Path, whole: Path) -> Held:
    """A module of the folder or the shelf, to be laid in the plan at `whole`.

    Raises TickwrightError if it cannot be read, is empty, or holds that plan.
    """
    path = module_path(plan, folder)
    inside = load(path, checked=False)
    if not inside.cells:
        raise UsageError(f"{plan} is empty: there is nothing to lay.")
    if whole.resolve() in files_of(inside):
        raise UsageError(f"{plan} is this plan, or uses it: a plan cannot lie in itself.")
    return Held(plan, inside)


def files_of(plan: Plan) -> set[Path]:
    """The file of a plan and those of all modules in it."""
    found = {Path(plan.path).resolve()} if plan.path else set()
    for use in plan.uses:
        found |= files_of(use.inside)
    return found


def box_of(use: Use) -> Box:
    """The box of the parts of a module as it lies."""
    cells = [cell for cell, _ in laid_cells(use)] or [use.at]
    xs, ys, zs = zip(*cells, strict=True)
    return Box((min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs)))


def within(box: Box, cell: Cell) -> bool:
    """Whether a cell lies in a box."""
    return all(low <= here <= high for low, here, high in zip(box.low, cell, box.high, strict=True))


def use_named(plan: Plan, name: str) -> Use:
    """The module of that name."""
    for use in plan.uses:
        if use.name == name:
            return use
    raise UsageError(f'There is no module "{name}" any more.')


def module_at(plan: Plan, cell: Cell) -> Use | None:
    """The module that a cell is of; None for a part of the plan's own, and where there is none."""
    if not plan.uses:
        return None
    for use in plan.uses:
        if inner_cell(use, cell) in use.inside.cells:
            return use
    if cell in plan.cells:
        return None
    return next((use for use in plan.uses if within(box_of(use), cell)), None)


def refuse_in_modules(plan: Plan, cells: Iterable[Cell]) -> None:
    """Raise UsageError if a part of a module stands in one of the cells."""
    for cell in cells if plan.uses else ():
        use = module_at(plan, cell)
        if use is not None and cell in plan.cells:
            raise UsageError(
                f"{cell_text(cell)} belongs to the module {use.name} ({use.plan}): open the module to change it there "
                "(O), or take it out."
            )


def free_name(plan: Plan, ref: str) -> str:
    """A name for one more use of a module: that of its file, with a number where it is taken."""
    stem = Path(ref.removeprefix(TILE)).stem.lower()
    stem = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "-" for sign in stem) or "module"
    stem = stem[:56]
    taken = {use.name for use in plan.uses}
    number = 2
    name = stem
    while name in taken:
        name, number = f"{stem}-{number}", number + 1
    return name


# --- laying, moving, turning, taking out ---------------------------------------------------------------------------


def laid(plan: Plan, held: Held, corner: Cell) -> Plan:
    """The plan with a module laid, the low corner of its box at a cell."""
    return with_uses(plan, (*plan.uses, held.use(corner, free_name(plan, held.plan))))


def with_use(plan: Plan, name: str, use: Use | None) -> Plan:
    """The plan with another use in place of the one of that name; None takes it out, with what is expected of it."""
    uses = [use if one.name == name else one for one in plan.uses]
    return _with_known_wishes(with_uses(plan, [one for one in uses if one is not None]))


def _with_known_wishes(plan: Plan) -> Plan:
    """The plan without what is expected of names that it does not have any more."""
    known = {*plan.triggers, *plan.outputs}
    return replace(plan, expectations=tuple(one for one in plan.expectations if {one.trigger, one.output} <= known))


def renamed(plan: Plan, name: str, new: str) -> Plan:
    """The plan with another name for a module, in its expectations too."""
    found = with_uses(plan, [one._replace(name=new) if one.name == name else one for one in plan.uses])

    def call(old: str) -> str:
        return f"{new}.{old.removeprefix(f'{name}.')}" if old.startswith(f"{name}.") else old

    wishes = [replace(one, trigger=call(one.trigger), output=call(one.output)) for one in plan.expectations]
    return replace(found, expectations=tuple(wishes))


def moved(use: Use, by: Cell) -> Use:
    """The module so many cells further."""
    return use._replace(at=_plus(use.at, by))


def quarter_turned(use: Use, by: int) -> Use:
    """The module turned by quarters clockwise, the low corner of its box staying where it is."""
    corner = box_of(use).low
    for _ in range(by % 4):
        use = turned_use(use, lambda cell: (-cell[1], cell[0], cell[2]), lambda part: turned(part, 1))
    return _with_corner(use, corner)


def flipped(use: Use, axis: str) -> Use:
    """The module mirrored within its box: "x" swaps east and west, "y" north and south."""
    corner = box_of(use).low

    def go(cell: Cell) -> Cell:
        return (-cell[0], cell[1], cell[2]) if axis == "x" else (cell[0], -cell[1], cell[2])

    return _with_corner(turned_use(use, go, lambda part: mirrored(part, axis)), corner)


def _with_corner(use: Use, corner: Cell) -> Use:
    low = box_of(use).low
    return moved(use, (corner[0] - low[0], corner[1] - low[1], corner[2] - low[2]))


def _plus(cell: Cell, by: Cell) -> Cell:
    return (cell[0] + by[0], cell[1] + by[1], cell[2] + by[2])


def sorted_by_box(plan: Plan, box: Box) -> tuple[list[Use], list[Use]]:
    """The modules that lie in the box with all their parts, and those outside. Raises UsageError for one cut in two."""
    inside: list[Use] = []
    outside: list[Use] = []
    for use in plan.uses:
        there = {within(box, cell) for cell, _ in laid_cells(use)}
        if len(there) > 1:
            raise UsageError(f'The box cuts the module "{use.name}" in two: select all of it, or none.')
        (inside if True in there else outside).append(use)
    return inside, outside


# --- editing in place ----------------------------------------------------------------------------------------------


def in_place(name: str, edit: Edit) -> Edit:
    """The edit done to the module of that name where it lies: it changes the module's plan, and so all its places."""

    def done(plan: Plan) -> Plan:
        use = use_named(plan, name)
        seen = _seen(plan, use)
        after = edit(seen)
        if after == seen:
            return plan
        inside = _edited(use, plan, seen, after)
        uses = [one._replace(inside=inside) if one.plan == use.plan else one for one in plan.uses]
        return _with_known_wishes(with_uses(plan, uses))

    return done


def _seen(plan: Plan, use: Use) -> Plan:
    """The plan with the module's parts as its own; its names have / in place of the dot, which no other name has."""

    def call(names: Mapping[str, Any]) -> dict[str, Any]:
        mark = f"{use.name}."
        return {name.replace(".", "/") if name.startswith(mark) else name: value for name, value in names.items()}

    others = tuple(one for one in plan.uses if one is not use)
    return replace(
        plan, uses=others, triggers=call(plan.triggers), outputs=call(plan.outputs), ports=call(plan.ports),
        part_outputs=frozenset(call(dict.fromkeys(plan.part_outputs))),
    )  # fmt: skip


def _edited(use: Use, plan: Plan, seen: Plan, after: Plan) -> Plan:
    """The module's plan after an edit of the whole that was done where the module lies."""
    if after.uses != seen.uses:
        raise UsageError(f"Other modules are not changed while {use.name} is edited: go back to the whole first.")
    if any(getattr(after, field) != getattr(seen, field) for field in ("title", "rules", "charts", "machines")):
        raise UsageError(f"Only parts and names are changed while {use.name} is edited: go back to the whole first.")
    bare = own(plan)
    changes: dict[Cell, Part | None] = {}
    for cell in {**seen.cells, **after.cells}:
        part = after.cells.get(cell)
        if part == seen.cells.get(cell):
            continue
        if cell in bare.cells:
            raise UsageError(
                f"{cell_text(cell)} belongs to the whole, and {use.name} is being edited: go back to the whole first."
            )
        inner = inner_cell(use, cell)
        if min(inner) < 0:
            raise UsageError(
                f"{cell_text(cell)} lies before the first cell of {use.name}, which is at {cell_text(use.at)} here: a "
                "module does not grow that way. Lay the part in the whole, or move the module's parts first."
            )
        changes[inner] = inner_part(use, part) if part is not None else None
    before = replace(own(use.inside), uses=())
    triggers, outputs = _names(use, bare.triggers, after.triggers), _names(use, bare.outputs, after.outputs)
    ports = {
        key: port._replace(
            cell=inner_cell(use, port.cell),
            side=inner_side(use, port.side),
            also=tuple(inner_side(use, side) for side in port.also),
        )
        for key, port in _inner(use, bare.ports, after.ports).items()
    }
    fresh = replace(
        before,
        cells=with_changes(before.cells, changes),
        triggers=triggers,
        outputs=outputs,
        ports=ports,
        part_outputs=before.part_outputs & set(outputs),
    )
    if not fresh.cells:
        raise UsageError(f"That would leave {use.name} empty: take the module out of the whole instead.")
    return _with_known_wishes(with_uses(fresh, use.inside.uses))


def _inner(use: Use, outer: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """What an edited module names: its own names without the module's before them, and new ones."""
    found = {}
    for name, value in after.items():
        _, _, inner = name.partition("/")
        if inner and "/" not in inner:
            found[inner] = value
        elif not inner and "." not in name and name not in outer:
            found[name] = value
        elif name in outer and outer[name] != value:
            raise UsageError(f'"{name}" is a name of the whole, and {use.name} is being edited: go back to it first.')
    return found


def _names(use: Use, outer: Mapping[str, Cell], after: Mapping[str, Cell]) -> dict[str, Cell]:
    return {name: inner_cell(use, cell) for name, cell in _inner(use, outer, after).items()}


# --- what a page shows ---------------------------------------------------------------------------------------------


def rows(plan: Plan, inside: str) -> list[dict[str, Any]]:
    """The modules as the grids draw them: name, box, cells, ports; `inside` names the one that is being edited."""
    found = []
    for use in plan.uses:
        low, high = box_of(use)
        ports = [
            (*port.cell, port.side, port.role, name.removeprefix(f"{use.name}."))
            for name, port in plan.ports.items()
            if name.startswith(f"{use.name}.") and "." not in name.removeprefix(f"{use.name}.")
        ]
        cells = [cell for cell, _ in laid_cells(use)]
        edited = use.name == inside
        found.append({"name": use.name, "low": low, "high": high, "cells": cells, "ports": ports, "edited": edited})
    return found


def words_of(plan: Plan, use: Use) -> str:
    """What a module is, in a few words: its file, how it is turned, in how many places.

    >>> from tickwright.kinds import parse_part
    >>> lamp = Use("m.toml", (0, 0, 0), 90, True, "m", Plan({(0, 0, 0): parse_part("lamp")}))
    >>> words_of(Plan({}, uses=(lamp,)), lamp)
    'm.toml, mirrored, turned by 90°'
    """
    said = [use.plan.replace(TILE, "the tile ")]
    said += ["mirrored"] if use.mirror else []
    said += [f"turned by {use.turn}°"] if use.turn else []
    places = sum(one.plan == use.plan for one in plan.uses)
    said += [f"laid in {places} places here"] if places > 1 else []
    return ", ".join(said)


def is_tile(use: Use) -> bool:
    """Whether a module is one of our shelf, which is never written to."""
    return use.plan.startswith(TILE)


class Offered(NamedTuple):
    """A module that may be laid: how a plan calls it, its title, and its names, in words."""

    plan: str
    title: str
    ports: str
    own: bool


def offered(names: Iterable[str], whole: Path) -> list[Offered]:
    """Those of the plans beside the one at `whole` that may lie in it, then the tiles of the shelf."""
    found = []
    for name, path, mine in [
        *((name, whole.parent / name, True) for name in names),
        *((f"{TILE}{path.stem}", path, False) for path in sorted(SHELF.glob("*.toml"))),
    ]:
        if path.resolve() == whole.resolve():
            continue
        try:
            plan = load(path, checked=False)
        except TickwrightError:
            continue
        if plan.cells and whole.resolve() not in files_of(plan):
            found.append(Offered(name, plan.title, ports_text(plan), mine))
    return found


def ports_text(plan: Plan) -> str:
    """The ports of a plan, or else its triggers and outputs, in words.

    >>> from tickwright.kinds import parse_part
    >>> ports_text(Plan({(0, 0, 0): parse_part("lamp")}, outputs={"light": (0, 0, 0)}))
    'out: light'
    """
    said = []
    for role, table in (("in", plan.triggers), ("out", plan.outputs)):
        ports = [name for name, port in plan.ports.items() if port.role == role]
        names = [name for name in dict.fromkeys([*ports, *table]) if "." not in name]
        said += [f"{role}: {', '.join(names)}"] if names else []
    return " · ".join(said)
