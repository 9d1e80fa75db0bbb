"""Briefs: a chart without a plan. What comes in, what goes out, the room there is, and the claims."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tickwright.arguments import checked
from tickwright.charts.notation import RESERVED, Automaton, Claim, Names, Transition
from tickwright.charts.parsing import NotationError, parse_claim, parse_transition
from tickwright.errors import PlanError, RuleSetError, near
from tickwright.kinds import BUTTONS
from tickwright.places import Places
from tickwright.plan.chart_tables import read_charts, read_machines
from tickwright.plan.limits import NAME
from tickwright.plan.model import Chart, Machine
from tickwright.plan.values import read_line, read_table
from tickwright.rules import RuleSet, load_rules
from tickwright.space import HORIZONTAL, Cell
from tickwright.toml import read_text, read_toml, shown

FORMAT = "tickwright brief 1"
TABLES = ("format", "title", "rules", "room", "inputs", "outputs", "chart", "machine")
INPUT_PARTS = (*BUTTONS, "lever", "item-plate", "tread-plate")
DRIVES = ("line", "lamp", "piston-door")
LONGEST_SIDE = 400
MOST_NAMES = 64


@dataclass(frozen=True, slots=True)
class End:
    """An input or output of a brief: its part, or what it drives, and where it lies: a cell, a side, or anywhere."""

    name: str
    part: str
    at: Cell | str | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """The room there is: its size in cells along x, y and z, and cells that are taken already."""

    size: Cell
    blocked: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class Brief:
    """A brief as read. `rulesets` are all the rules it must work under, the first first."""

    title: str
    rulesets: tuple[RuleSet, ...]
    rule_names: tuple[str, ...]
    inputs: dict[str, End]
    outputs: dict[str, End]
    claims: tuple[Claim, ...]
    charts: tuple[Chart, ...]
    machines: tuple[Machine, ...] = ()
    automata: tuple[Automaton, ...] = ()
    room: Room | None = None
    path: str | None = None
    lines: dict[str, int] = field(default_factory=dict)  # of each claim, by its text


@checked
def load_brief(path: str | Path) -> Brief:
    """Read the brief at `path`; PlanError with file, line and column for whatever is wrong with it."""
    try:
        return read_brief(read_text(path), path)
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, str(path)) from None


@checked
def read_brief(text: str, path: str | Path | None = None) -> Brief:
    """Read a brief's text.

    >>> brief = read_brief('''format = "tickwright brief 1"
    ... inputs = {press = {part = "short-button"}}
    ... outputs = {lamp = {drives = "lamp"}}
    ... chart = [{shows = ["lamp: on from press + 1 s for 2 s"]}]''')
    >>> brief.claims[0].clauses[0].lasts_steps
    40
    """
    data, places = read_toml(text)
    found = data.get("format")
    if found != FORMAT:
        said = "does not say what it is" if found is None else f"has the format {shown(found)}"
        raise places.error(f'The file {said}: a brief begins with format = "{FORMAT}".', "format")
    for name in data:
        if name not in TABLES:
            raise places.error(f"A brief has no {shown(name)}.{near(name, TABLES)}", name)
    title = read_line(data.get("title", ""), places, "title", longest=200, path=("title",))
    names, rulesets = _read_rules(data, places, Path(path).parent if path else None)
    inputs = _read_ends(data, "inputs", "part", INPUT_PARTS, places)
    outputs = _read_ends(data, "outputs", "drives", DRIVES, places)
    room = _read_room(data, places)
    _in_room({**inputs, **outputs}, room, places, inputs)
    charts, machines = read_charts(data, places), read_machines(data, places)
    if not charts:
        raise places.error('The brief claims nothing: write [[chart]] and under it shows = ["..."].', "chart")
    _distinct(inputs, outputs, machines, places)
    known = Names.of(inputs, outputs, machines)
    claims: list[Claim] = []
    lines: dict[str, int] = {}
    for index, chart in enumerate(charts):
        for number, line in enumerate(chart.shows):
            where = ("chart", index, "shows", number)
            claims.append(_parsed(parse_claim, line, places, where, known))
            lines[line] = places.of(*where)[0]
    automata = tuple(_automaton(one, index, known, places) for index, one in enumerate(machines))
    return Brief(
        title, rulesets, names, inputs, outputs, tuple(claims), charts, machines, automata, room,
        str(path) if path is not None else None, lines,
    )  # fmt: skip


def _parsed(parse: Any, line: str, places: Places, where: tuple[str | int, ...], *more: Any) -> Any:
    try:
        return parse(line, *more)
    except NotationError as error:
        told = f'"{line}", place {error.at + 1}: {error.sentence}'
        raise places.error(told, *where) from None


def _automaton(machine: Machine, index: int, known: Names, places: Places) -> Automaton:
    transitions: list[Transition] = []
    for number, line in enumerate(machine.transitions):
        where = ("machine", index, "transitions", number)
        transitions.append(_parsed(parse_transition, line, places, where, known, machine.states))
    return Automaton(machine.name, machine.states, tuple(transitions), machine.deaf_steps)


def _read_rules(
    data: dict[str, Any], places: Places, folder: Path | None
) -> tuple[tuple[str, ...], tuple[RuleSet, ...]]:
    given = data.get("rules", ["standard"])
    if isinstance(given, str):
        given = [given]
    if not isinstance(given, list) or not given:
        raise places.error(f'rules is {shown(given)}: write a list of rule sets, ["standard"].', "rules")
    names = tuple(
        read_line(one, places, "rule set", longest=1000, path=("rules", place)) for place, one in enumerate(given)
    )
    try:
        return names, tuple(load_rules(name, folder) for name in names)
    except RuleSetError as error:
        raise places.error(str(error), "rules") from None


def _read_ends(data: dict[str, Any], table: str, key: str, kinds: tuple[str, ...], places: Places) -> dict[str, End]:
    ends: dict[str, End] = {}
    entries = read_table(data, table, places)
    one = table[:-1]
    article = "An" if one[0] in "aeiou" else "A"
    if not entries:
        raise places.error(f'The brief has no {table}: write [{table}] and under it NAME = {{{key} = "{kinds[0]}"}}.')
    if len(entries) > MOST_NAMES:
        raise places.error(f"The brief has {len(entries)} {table}: the most is {MOST_NAMES}.", table)
    for name, value in entries.items():
        where = (table, name)
        if not NAME.fullmatch(name) or not name[0].isalpha():
            what = f"The name {shown(name)} must begin with a letter and hold letters, digits, - and _ only."
            raise places.error(what, *where)
        if name in RESERVED:
            raise places.error(f"{shown(name)} is a word of the notation of charts: choose another name.", *where)
        if not isinstance(value, dict):
            raise places.error(f'{name} is {shown(value)}: write {{{key} = "{kinds[0]}"}}.', *where)
        for word in value:
            if word not in (key, "at"):
                raise places.error(f"{article} {one} has no {shown(word)}.{near(word, (key, 'at'))}", table, name, word)
        kind = value.get(key)
        if kind not in kinds:
            said = f"it has no {key}" if kind is None else f"{key} = {shown(kind)} cannot be composed"
            raise places.error(f"{name}: {said}: use {', '.join(kinds)}.", *where)
        ends[name] = End(name, kind, _read_at(value.get("at"), name, where, places))
    return ends


def _read_at(value: object, name: str, where: tuple[str, str], places: Places) -> Cell | str | None:
    if value is None or (isinstance(value, str) and value in HORIZONTAL):
        return value
    if isinstance(value, list) and len(value) == 3 and all(type(number) is int for number in value):
        return (value[0], value[1], value[2])
    said = f"{name} lies at {shown(value)}: write at = [x, y, z], or a side: {', '.join(HORIZONTAL)}."
    raise places.error(said, *where, "at")


def _read_room(data: dict[str, Any], places: Places) -> Room | None:
    if "room" not in data:
        return None
    table = read_table(data, "room", places)
    for key in table:
        if key not in ("size", "blocked"):
            raise places.error(f"A room has no {shown(key)}.{near(key, ('size', 'blocked'))}", "room", key)
    size = table.get("size")
    if size is None or not _is_cell(size) or not all(1 <= number <= LONGEST_SIDE for number in size):
        what = f"The size of the room is {shown(size)}: write [x, y, z], each from 1 to {LONGEST_SIDE}."
        raise places.error(what, "room", "size")
    blocked = table.get("blocked", [])
    if not isinstance(blocked, list) or not all(map(_is_cell, blocked)):
        raise places.error("blocked is a list of cells: write [[x, y, z], ...].", "room", "blocked")
    return Room((size[0], size[1], size[2]), tuple((x, y, z) for x, y, z in blocked))


def _is_cell(value: object) -> bool:
    return isinstance(value, list | tuple) and len(value) == 3 and all(type(number) is int for number in value)


def _in_room(ends: dict[str, End], room: Room | None, places: Places, inputs: dict[str, End]) -> None:
    taken: dict[Cell, str] = {}
    for name, end in ends.items():
        if not isinstance(end.at, tuple):
            continue
        where = ("inputs" if name in inputs else "outputs", name, "at")
        if any(number < 0 for number in end.at) or end.at[2] != 1:
            what = f"{name} lies at {list(end.at)}: what is composed acts at z = 1; x and y are 0 or more."
            raise places.error(what, *where)
        if room and not all(number < most for number, most in zip(end.at, room.size, strict=True)):
            raise places.error(f"{name} lies at {list(end.at)}, outside the room of {list(room.size)}.", *where)
        if room and end.at in room.blocked:
            raise places.error(f"{name} lies at {list(end.at)}, which is blocked.", *where)
        if end.at in taken:
            raise places.error(f"{name} and {taken[end.at]} lie in one cell, {list(end.at)}.", *where)
        taken[end.at] = name


def _distinct(inputs: dict[str, End], outputs: dict[str, End], machines: tuple[Machine, ...], places: Places) -> None:
    seen: set[str] = set()
    for table, names in (("inputs", inputs), ("outputs", outputs)):
        for name in names:
            if name in seen:
                raise places.error(f"{name} is both an input and an output: rename one.", table, name)
            seen.add(name)
    for index, machine in enumerate(machines):
        if machine.name in seen:
            raise places.error(
                f"The machine {machine.name} has the name of something else: rename it.", "machine", index
            )
        seen.add(machine.name)
