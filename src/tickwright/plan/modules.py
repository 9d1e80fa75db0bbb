"""Modules: [ports], [nets] and [[use]] in plan files; uses are laid flat on reading, and kept as uses on saving."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from tickwright.errors import PlanError, near
from tickwright.findings import Finding
from tickwright.kinds import Part, mirrored, turned
from tickwright.places import Places
from tickwright.plan.cells import MOST_ALONG
from tickwright.plan.limits import LONGEST_NAME, MOST_PARTS, NAME
from tickwright.plan.model import Plan, PlanPort, Use
from tickwright.plan.values import read_line, read_table, read_tables
from tickwright.space import DIRECTIONS, OPPOSITE, Cell, cell_text
from tickwright.toml import LARGEST_PLAN_BYTES, read_text, shown

DEEPEST = 32
SHELF = Path(__file__).resolve().parents[1] / "shelf"
SHELF_MARK = "tile:"
PORT_KEYS = ("cell", "side", "role", "also", "need", "gives")
USE_KEYS = ("plan", "at", "turn", "mirror", "name")
TURNS = (0, 90, 180, 270)
ROLES = ("in", "out")
MOST_NETS = 20_000

Reader = Callable[[str, Path | None, tuple[Path, ...]], Plan]


# --- ports and nets -----------------------------------------------------------------------------------------------


def read_ports(data: dict[str, Any], places: Places) -> dict[str, PlanPort]:
    """The table [ports]: name = {cell = [x, y, z], side = "west", role = "in"}. Raises PlanError at its place."""
    found = {}
    for name, value in read_table(data, "ports", places).items():
        where = ("ports", name)
        _check_name(name, places, *where)
        if not isinstance(value, dict):
            what = f'{name} is {shown(value)}: write {{cell = [x, y, z], side = "west", role = "in"}}.'
            raise places.error(what, *where)
        for key in value:
            if key not in PORT_KEYS:
                raise places.error(f"A port has no {shown(key)}.{near(key, PORT_KEYS)}", *where, key)
        cell = read_cell(value.get("cell"), places, "cell", *where, "cell")
        side = _one_of(value.get("side"), DIRECTIONS, places, "side", *where, "side")
        role = _one_of(value.get("role"), ROLES, places, "role", *where, "role")
        also = value.get("also", [])
        if not isinstance(also, list):
            raise places.error(f'also is {shown(also)}: write a list of sides, such as ["north"].', *where, "also")
        sides = tuple(_one_of(one, DIRECTIONS, places, "side", *where, "also") for one in also)
        levels = [_level(value.get(key, default), places, key, *where, key) for key, default in PORT_LEVELS.items()]
        found[name] = PlanPort(cell, side, role, sides, *levels)
    return found


PORT_LEVELS = {"need": 2, "gives": 15}


def _level(value: object, places: Places, what: str, *where: str | int) -> int:
    if type(value) is not int or not 1 <= value <= 15:
        raise places.error(f"{what} is {shown(value)}: write a level from 1 to 15.", *where)
    return value


def read_nets(data: dict[str, Any], places: Places) -> dict[str, tuple[Cell, ...]]:
    """The table [nets]: name = [[x, y, z], ...], the cells that one signal takes. Raises PlanError at its place."""
    found = {}
    table = read_table(data, "nets", places)
    if len(table) > MOST_NETS:
        raise places.error(f"There are {len(table):,} nets: the most is {MOST_NETS:,}.", "nets")
    for name, value in table.items():
        _check_name(name, places, "nets", name)
        if not isinstance(value, list):
            raise places.error(f"{name} is {shown(value)}: write a list of cells, [[x, y, z], ...].", "nets", name)
        found[name] = tuple(read_cell(cell, places, name, "nets", name) for cell in value)
    return found


def read_cell(value: object, places: Places, what: str, *where: str | int) -> Cell:
    """The value as a cell within the grid; else a PlanError at `where`."""
    if not (isinstance(value, list) and len(value) == 3 and all(type(number) is int for number in value)):
        said = f"{what} is {shown(value)}" if value is not None else f"There is no {what}"
        raise places.error(f"{said}: write its cell as three whole numbers, [x, y, z].", *where)
    for axis, number, most in zip("xyz", value, MOST_ALONG, strict=True):
        if not 0 <= number < most:
            raise places.error(f"The {axis} of {what} is {shown(number)}: {axis} runs from 0 to {most - 1}.", *where)
    return (value[0], value[1], value[2])


def _check_name(name: str, places: Places, *where: str | int) -> None:
    if not NAME.fullmatch(name):
        raise places.error(
            f"The name {shown(name)} is not 1 to {LONGEST_NAME} letters (a-z), digits, - and _: rename it.", *where
        )


def _one_of(value: object, known: tuple[str, ...], places: Places, what: str, *where: str | int) -> str:
    if not isinstance(value, str) or value not in known:
        said = f"The {what} is {shown(value)}" if value is not None else f"There is no {what}"
        raise places.error(f"{said}: write one of {', '.join(known)}.", *where)
    return value


# --- uses ---------------------------------------------------------------------------------------------------------


def read_uses(
    data: dict[str, Any], places: Places, folder: Path | None, chain: tuple[Path, ...], read: Reader
) -> tuple[Use, ...]:
    """The uses of a file, each with the plan that it lays; `chain` holds the files that led here, `read` reads one.

    Raises PlanError at the use, with the place in the module's file where that is what is wrong.
    """
    uses: list[Use] = []
    known: dict[Path, Plan] = {}
    for index, entry in enumerate(read_tables(data, "use", places)):
        for key in entry:
            if key not in USE_KEYS:
                raise places.error(f"A use has no {shown(key)}.{near(key, USE_KEYS)}", "use", index, key)
        for key in ("plan", "at", "name"):
            if key not in entry:
                raise places.error(f"This use has no {key}: write plan, at and name.", "use", index)
        plan = read_line(entry["plan"], places, "plan", longest=1000, path=("use", index, "plan"))
        name = read_line(entry["name"], places, "name", longest=LONGEST_NAME, path=("use", index, "name"))
        _check_name(name, places, "use", index, "name")
        if any(use.name == name for use in uses):
            raise places.error(f"Two uses are called {shown(name)}: give each its own name.", "use", index, "name")
        at = read_cell(entry["at"], places, "at", "use", index, "at")
        turn = entry.get("turn", 0)
        if type(turn) is not int or turn not in TURNS:
            raise places.error(f"turn is {shown(turn)}: write 0, 90, 180 or 270.", "use", index, "turn")
        mirror = entry.get("mirror", False)
        if not isinstance(mirror, bool):
            raise places.error(f"mirror is {shown(mirror)}: write true or false.", "use", index, "mirror")
        path = _found(plan, places, folder, chain, index)
        if path not in known:
            known[path] = _inside(path, places, chain, read, index)
        uses.append(Use(plan, at, turn, mirror, name, known[path]))
    return tuple(uses)


def _found(plan: str, places: Places, folder: Path | None, chain: tuple[Path, ...], index: int) -> Path:
    """The file of a module: on the shelf, or in the folder of the file that uses it."""
    where = ("use", index, "plan")
    if plan.startswith(SHELF_MARK):
        name = plan.removeprefix(SHELF_MARK)
        path = SHELF / f"{name}.toml"
        tiles = sorted(one.stem for one in SHELF.glob("*.toml"))
        if name not in tiles:
            raise places.error(f"There is no tile {shown(name)} on the shelf.{near(name, tiles)}", *where)
    else:
        if folder is None:
            raise places.error(f"The module {shown(plan)} lies beside a file, and this text is of none.", *where)
        path = (folder / plan).resolve()
        if not path.is_relative_to(folder.resolve()):
            what = f"The module {shown(plan)} lies outside the folder of this plan: put it beside the plan."
            raise places.error(what, *where)
        if not path.is_file():
            raise places.error(f"There is no file {shown(plan)} beside this plan.", *where)
    if path in chain:
        ring = " → ".join(one.name for one in (*chain[chain.index(path) :], path))
        raise places.error(f"The module {shown(plan)} uses itself: {ring}. Take one of these uses out.", *where)
    if len(chain) > DEEPEST:
        raise places.error(f"Modules lie more than {DEEPEST} deep here: the most is {DEEPEST}.", *where)
    return path


def _inside(path: Path, places: Places, chain: tuple[Path, ...], read: Reader, index: int) -> Plan:
    try:
        text = read_text(path, LARGEST_PLAN_BYTES)
        return replace(read(text, path.parent, (*chain, path)), path=str(path), source=text)
    except PlanError as error:
        there = f", line {error.line}, column {error.column or 1}" if error.line is not None else ""
        raise places.error(f"In the module {path.name}{there}: {error.message}", "use", index, "plan") from None


def laid_cell(use: Use, cell: Cell) -> Cell:
    """Where a cell of the module comes to lie: mirrored east to west, turned clockwise about (0, 0, 0), moved.

    >>> laid_cell(Use("m.toml", (5, 5, 1), 90, False, "m", Plan({})), (1, 0, 0))
    (5, 6, 1)
    """
    x, y, z = cell
    x = -x if use.mirror else x
    for _ in range(use.turn // 90):
        x, y = -y, x
    return (x + use.at[0], y + use.at[1], z + use.at[2])


def inner_cell(use: Use, cell: Cell) -> Cell:
    """The cell of the module that lies in this cell of the whole; the opposite of `laid_cell`."""
    x, y, z = (here - at for here, at in zip(cell, use.at, strict=True))
    for _ in range(use.turn // 90):
        x, y = y, -x
    return (-x if use.mirror else x, y, z)


def laid_side(use: Use, side: str) -> str:
    """Which way a side of the module comes to face."""
    return str(_laid_part(use, Part("torch", side)).facing)


def _laid_part(use: Use, part: Part) -> Part:
    return turned(mirrored(part, "x") if use.mirror else part, use.turn // 90)


def inner_side(use: Use, side: str) -> str:
    """The side of the module that faces so; the opposite of `laid_side`."""
    return next(one for one in DIRECTIONS if laid_side(use, one) == side)


def inner_part(use: Use, part: Part) -> Part:
    """A part of the whole as the module has it: what it is before it is mirrored and turned."""
    back = turned(part, -use.turn // 90 % 4)
    return mirrored(back, "x") if use.mirror else back


def laid_cells(use: Use) -> Iterator[tuple[Cell, Part]]:
    """The parts of the module as they come to lie."""
    forms = {part: _laid_part(use, part) for part in set(use.inside.cells.values())}
    for cell, part in use.inside.cells.items():
        yield laid_cell(use, cell), forms[part]


def flattened(plan: Plan, places: Places | None = None) -> Plan:
    """The plan with the parts and names of its uses; raises PlanError where two want one cell, or the grid ends.

    `places` are those of the plan's text, None for a plan that is not of one.
    """
    cells = dict(plan.cells)
    owner: dict[Cell, Use] = {}
    triggers, outputs, ports = dict(plan.triggers), dict(plan.outputs), dict(plan.ports)
    part_outputs = set(plan.part_outputs)
    for index, use in enumerate(plan.uses):
        for cell, part in laid_cells(use):
            if cell in cells:
                raise _overlap(plan, places, index, cell, part, owner.get(cell))
            if not all(0 <= here < most for here, most in zip(cell, MOST_ALONG, strict=True)):
                what = f'The module "{use.name}" reaches out of the grid, to {cell_text(cell)}: move it with at.'
                raise _error(places, what, "use", index, "at")
            cells[cell] = part
            owner[cell] = use
        if len(cells) > MOST_PARTS:
            raise _error(places, f"With this module the plan has over {MOST_PARTS:,} parts, the most.", "use", index)
        triggers |= {f"{use.name}.{name}": laid_cell(use, cell) for name, cell in use.inside.triggers.items()}
        outputs |= {f"{use.name}.{name}": laid_cell(use, cell) for name, cell in use.inside.outputs.items()}
        part_outputs |= {f"{use.name}.{name}" for name in use.inside.part_outputs}
        ports |= {f"{use.name}.{name}": laid_port(use, port) for name, port in use.inside.ports.items()}
        for name in (*triggers, *outputs):
            _check_long(name, places, index)
    return replace(
        plan, cells=cells, triggers=triggers, outputs=outputs, ports=ports, part_outputs=frozenset(part_outputs)
    )


def _error(places: Places | None, what: str, *where: str | int) -> PlanError:
    return places.error(what, *where) if places is not None else PlanError(what)


def _check_long(name: str, places: Places | None, index: int) -> None:
    if len(name) > 4 * LONGEST_NAME:
        raise _error(places, f"The name {shown(name)} has over {4 * LONGEST_NAME} characters.", "use", index, "name")


def laid_port(use: Use, port: PlanPort) -> PlanPort:
    """A port of the module as it comes to lie."""
    also = tuple(laid_side(use, side) for side in port.also)
    return port._replace(cell=laid_cell(use, port.cell), side=laid_side(use, port.side), also=also)


def _overlap(plan: Plan, places: Places | None, index: int, cell: Cell, part: Part, other: Use | None) -> PlanError:
    use = plan.uses[index]
    inner = cell_text(inner_cell(use, cell))
    if other is not None:
        line = f" of line {places.of('use', plan.uses.index(other))[0]}" if places is not None else ""
        there = f'the module "{other.name}"{line} has one, its cell {cell_text(inner_cell(other, cell))}'
    else:
        line = "in line {}, column {}".format(*places.of_cell(cell)) if places is not None else "already"
        there = f"{plan.cells[cell].kind} stands {line}"
    return _error(
        places,
        f'In {cell_text(cell)} the module "{use.name}" has its {part.kind}, its cell {inner}, where {there}: move one.',
        "use", index,
    )  # fmt: skip


def with_uses(plan: Plan, uses: Iterable[Use]) -> Plan:
    """The plan with these uses instead of its own, laid flat.

    Raises PlanError where a part of the plan was changed that one of its uses lays, two want one cell, or two uses have
    one name.

    >>> from tickwright.kinds import parse_part
    >>> lamp = Use("m.toml", (2, 0, 0), 0, False, "m", Plan({(0, 0, 0): parse_part("lamp")}, outputs={"on": (0, 0, 0)}))
    >>> whole = with_uses(Plan({(0, 0, 0): parse_part("block")}), [lamp])
    >>> sorted(whole.cells), dict(whole.outputs), with_uses(whole, []).size
    ([(0, 0, 0), (2, 0, 0)], {'m.on': (2, 0, 0)}, (1, 1, 1))
    """
    uses = tuple(uses)
    if not uses and not plan.uses:
        return plan
    for index, use in enumerate(uses):
        if not NAME.fullmatch(use.name):
            raise PlanError(
                f"{shown(use.name)} is no name of a module: use 1 to {LONGEST_NAME} letters (a-z), digits, - and _."
            )
        if any(other.name == use.name for other in uses[:index]):
            raise PlanError(f'Two modules are called "{use.name}": give each its own name.')
    return flattened(replace(own(plan), uses=uses))


def module_path(plan: str, folder: Path) -> Path:
    """The file of a module that a plan in `folder` calls so: in that folder, or a tile of the shelf.

    Raises PlanError if there is none.
    """
    if plan.startswith(SHELF_MARK):
        path = SHELF / f"{plan.removeprefix(SHELF_MARK)}.toml"
        inside = path.parent == SHELF
    else:
        path = (folder / plan).resolve()
        inside = path.is_relative_to(folder.resolve())
    if not inside or not path.is_file():
        raise PlanError(
            f"There is no module {shown(plan)} here: name a plan in this folder, or tile:NAME of the shelf."
        )
    return path


# --- from the whole back to its modules ------------------------------------------------------------------------------


def whereabouts(plan: Plan, cell: Cell) -> tuple[tuple[str, str, Cell], ...]:
    """The modules that a cell of the whole lies in, outermost first: name, file and the cell in it.

    >>> from tickwright.kinds import parse_part
    >>> inside = Plan({(0, 0, 0): parse_part("block")})
    >>> whereabouts(Plan({}, uses=(Use("m.toml", (2, 3, 0), 0, False, "m", inside),)), (2, 3, 0))
    (('m', 'm.toml', (0, 0, 0)),)
    """
    for use in plan.uses:
        inner = inner_cell(use, cell)
        if inner in use.inside.cells:
            return ((use.name, use.plan, inner), *whereabouts(use.inside, inner))
    return ()


def module_text(plan: Plan, cells: tuple[Cell, ...]) -> str:
    """Where cells of the whole lie in their modules, in words for the end of a message; "" for cells of none."""
    found = []
    for cell in cells:
        inner = whereabouts(plan, cell)
        if inner:
            names = ".".join(name for name, _, _ in inner)
            found.append(f"{cell_text(cell)} is {cell_text(inner[-1][2])} of {names} ({inner[-1][1]})")
    return f" In its module: {'; '.join(found)}." if found else ""


def told_in_modules(plan: Plan, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, each with where its cells lie in their modules at the end of its message."""
    if not plan.uses:
        return tuple(findings)
    return tuple(one._replace(message=one.message + module_text(plan, one.cells)) for one in findings)


def own(plan: Plan) -> Plan:
    """The plan without what its uses lay, as its file says it; raises PlanError if that was changed in the whole."""
    if not plan.uses:
        return plan
    cells = dict(plan.cells)
    for use in plan.uses:
        for cell, part in laid_cells(use):
            if cells.pop(cell, None) != part:
                what = f"{cell_text(cell)} belongs to the module {use.name} ({use.plan}), and was changed"
                raise PlanError(f"{what}: change it in that file, or take the use out and lay its parts here.")

    def kept(names: Mapping[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in names.items() if "." not in name}

    return replace(
        plan,
        cells=cells,
        triggers=kept(plan.triggers),
        outputs=kept(plan.outputs),
        ports=kept(plan.ports),
        part_outputs=frozenset(name for name in plan.part_outputs if "." not in name),
        size=plan.size if replace(plan, size=(0, 0, 0)).size != plan.size else (0, 0, 0),
    )


def without_uses(plan: Plan) -> Plan:
    """The plan with the parts of its modules as its own; their names have - in place of the dot."""
    if not plan.uses:
        return plan

    def plain(names: Mapping[str, Any]) -> dict[str, Any]:
        return {name.replace(".", "-"): value for name, value in names.items()}

    return replace(
        plan,
        uses=(),
        triggers=plain(plan.triggers),
        outputs=plain(plan.outputs),
        ports=plain(plan.ports),
        part_outputs=frozenset(name.replace(".", "-") for name in plan.part_outputs),
        expectations=tuple(
            replace(one, trigger=one.trigger.replace(".", "-"), output=one.output.replace(".", "-"))
            for one in plan.expectations
        ),
    )


def turned_use(use: Use, go: Callable[[Cell], Cell], turn: Callable[[Part], Part]) -> Use:
    """The use in a plan whose cells go by `go` and whose parts turn by `turn`: a quarter turn, a mirror or a move."""
    east, south = (str(turn(Part("torch", laid_side(use, side))).facing) for side in ("east", "south"))
    clockwise = ("east", "south", "west", "north")
    flipped = clockwise[(clockwise.index(east) + 1) % 4] != south
    first = OPPOSITE[east] if flipped else east
    return use._replace(at=go(use.at), turn=90 * clockwise.index(first), mirror=flipped)
