"""From the values of a plan file to a Plan: every table, key and value checked, each error at its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any

from tickwright.durations import parse_duration
from tickwright.errors import DurationError, PartError, PlanError, near
from tickwright.kinds import Part, parse_part
from tickwright.places import Places
from tickwright.plan.cells import EMPTY_CODE, LARGE_PLAN, MOST_ALONG, ROW_END, Cells, code_of
from tickwright.plan.chart_tables import read_charts, read_machines
from tickwright.plan.limits import LONGEST_NAME, MOST_PARTS, NAME
from tickwright.plan.model import Expectation, Plan
from tickwright.plan.modules import flattened, read_nets, read_ports, read_uses
from tickwright.plan.values import read_line, read_table, read_tables
from tickwright.space import Cell, cell_text
from tickwright.toml import LARGEST_PLAN_BYTES, read_toml, shown

FORMAT = "tickwright plan 1"
EMPTY = ". "

TABLES = (
    "format", "title", "rules", "legend", "layer", "triggers", "outputs", "expect", "chart", "machine", "ports", "nets",
    "use",
)  # fmt: skip
DURATION_KEYS = {
    "hold": "hold_steps",
    "delay": "delay_steps",
    "recovery": "recovery_steps",
    "settles_within": "settles_within_steps",
    "minimum_trigger_at_most": "minimum_trigger_at_most_steps",
}
NUMBER_KEYS = {"pulses": (0, 1_000_000), "level_at_least": (1, 15)}
MOST_DIGITS = 9
WIDENED = ("hold", "delay", "recovery")
ASKS = (*DURATION_KEYS, *NUMBER_KEYS, "never")
EXPECT_KEYS = ("trigger", "output", "within", *ASKS)


def read_plan(text: str, folder: Path | None = None, chain: tuple[Path, ...] = ()) -> tuple[Plan, Places]:
    """The Plan that a plan file's text describes, without `source`, and the places of what it says.

    Modules are sought in `folder`; `chain` holds the files that led to this one, itself last. The rules of the circuit
    (supports, watched cells) are not looked at: `validate` does that. Raises PlanError with
    line and column.
    """
    data, places = read_toml(text, most_bytes=LARGEST_PLAN_BYTES)
    _read_format(data, places)
    for name in data:
        if name == "key":
            raise places.error("[key] is called [legend] now: write [legend] in its place.", name)
        if name not in TABLES:
            raise places.error(f"A plan file has no {shown(name)}.{near(name, TABLES)}", name)
    title = read_line(data.get("title", ""), places, "title", longest=200, path=("title",))
    rules = read_line(data.get("rules", "standard"), places, "rules", longest=1000, path=("rules",))
    cells, size = _read_layers(data, _read_legend(data, places), places)
    triggers = _read_names(data, "triggers", places)
    part_outputs = _read_part_outputs(data, places)
    outputs = _read_names(data, "outputs", places)
    charts, machines = read_charts(data, places), read_machines(data, places)
    ports, nets = read_ports(data, places), read_nets(data, places)
    uses = read_uses(data, places, folder, chain, lambda *given: read_plan(*given)[0])
    plan = Plan(cells, triggers, outputs, (), title, rules, size, part_outputs, charts, machines, ports, nets, uses)
    plan = flattened(plan, places) if uses else plan
    expectations = _read_expectations(data, dict(plan.triggers), dict(plan.outputs), places)
    return replace(plan, expectations=expectations), places


def _read_format(data: dict[str, Any], places: Places) -> None:
    found = data.get("format")
    if found == FORMAT:
        return
    if found is None:
        raise places.error(f'The file does not say what it is: write format = "{FORMAT}" as its first line.')
    raise places.error(f'The format is {shown(found)}: this version reads format = "{FORMAT}".', "format")


def _read_legend(data: dict[str, Any], places: Places) -> dict[str, Part]:
    legend: dict[str, Part] = {}
    for character, text in read_table(data, "legend", places).items():
        where = ("legend", character)
        if len(character) != 1 or not character.isprintable():
            raise places.error(
                f"[legend] has {shown(character)}, which is not one printable character: use one, such as w.", *where
            )
        if character in EMPTY:
            raise places.error(f"[legend] has {shown(character)}, which means an empty cell: use another.", *where)
        line = read_line(text, places, f"part for {shown(character)}", longest=120, path=where)
        try:
            legend[character] = parse_part(line)
        except PartError as error:
            raise places.error(str(error), *where) from None
    return legend


def _read_layers(data: dict[str, Any], legend: dict[str, Part], places: Places) -> tuple[Mapping[Cell, Part], Cell]:
    layers = read_tables(data, "layer", places)
    if not layers:
        raise places.error(
            'The plan has no layer: write [[layer]] and under it rows = """...""", the bottom layer first.', "layer"
        )
    if len(layers) > MOST_ALONG[2]:
        what = f"The plan has {len(layers):,} layers: the most is {MOST_ALONG[2]}."
        raise places.error(what, "layer", MOST_ALONG[2])
    palette = tuple(dict.fromkeys(legend.values()))
    codes = {part: code_of(place) for place, part in enumerate(palette)}
    table = {**dict.fromkeys(map(ord, EMPTY), EMPTY_CODE), **{ord(sign): codes[part] for sign, part in legend.items()}}
    known = {*EMPTY, ROW_END, *legend}
    coded: list[tuple[str, ...]] = []
    wide = deep = number = 0
    for z, layer in enumerate(layers):
        for name in layer:
            if name != "rows":
                raise places.error(f"A layer has no {shown(name)}.{near(name, ['rows'])}", "layer", z, name)
        if "rows" not in layer:
            raise places.error('This layer has no rows: write rows = """...""" under it.', "layer", z)
        rows = _rows(layer["rows"], z, places)
        deep = max(deep, len(rows))
        wide = max([wide, *map(len, rows)])
        text = layer["rows"].translate(table)
        number += len(text) - text.count(EMPTY_CODE) - text.count(ROW_END)
        if wide > MOST_ALONG[0] or number > MOST_PARTS or not known.issuperset(layer["rows"]):
            _refuse_rows(rows, z, legend, sum(map(_filled, chain.from_iterable(coded))), places)
        coded.append(tuple(split_rows(text)))
    cells = Cells(palette, tuple(coded), number)
    return (cells if number >= LARGE_PLAN else dict(cells.items())), (wide, deep, len(layers))


def _filled(row: str) -> int:
    return len(row) - row.count(EMPTY_CODE)


def _rows(text: object, z: int, places: Places) -> list[str]:
    if not isinstance(text, str):
        raise places.error(f'The rows are {shown(text)}: write them as text, rows = """...""".', "layer", z, "rows")
    rows = split_rows(text)
    if len(rows) > MOST_ALONG[1]:
        what = f"The layer has {len(rows):,} rows: the most is {MOST_ALONG[1]:,}."
        raise places.error(what, "layer", z, "rows")
    return rows


def split_rows(text: str) -> list[str]:
    """The rows that a layer's text holds; a newline at its end makes no extra row."""
    rows = text.split("\n")
    return rows if rows[-1] else rows[:-1]


def _refuse_rows(rows: list[str], z: int, legend: dict[str, Part], number: int, places: Places) -> None:
    """Say what is wrong first in the rows of a layer; `number` is how many parts the layers below have."""
    for y, row in enumerate(rows):
        if len(row) > MOST_ALONG[0]:
            what = f"The row has {len(row):,} cells: the most is {MOST_ALONG[0]:,}."
            raise places.cell_error(what, (MOST_ALONG[0], y, z))
        for x, character in enumerate(row):
            if character not in EMPTY and character not in legend:
                raise places.cell_error(_unknown(character, (x, y, z), legend), (x, y, z))
        number += sum(character not in EMPTY for character in row)
        if number > MOST_PARTS:
            raise places.error(f"The plan has over {MOST_PARTS:,} parts, the most that is read: split it.", "layer", z)


def _unknown(character: str, cell: Cell, legend: dict[str, Part]) -> str:
    if character == "\t":
        return f"A tab at {cell_text(cell)}: a row has one character for each cell; use . or spaces for empty ones."
    known = f" Known: {' '.join(legend)}" if legend and len(legend) <= 40 else ""
    return (
        f"The character {shown(character)} at {cell_text(cell)} is not in [legend]: add {_legend_line(character)} "
        f"there, or use . for an empty cell.{known}"
    )


def _legend_line(character: str) -> str:
    return f'{shown(character)} = "..."' if character not in "\"'\\" else "it"


def _read_names(data: dict[str, Any], table: str, places: Places) -> dict[str, Cell]:
    names: dict[str, Cell] = {}
    for name, given in read_table(data, table, places).items():
        where = (table, name)
        value = given["cell"] if isinstance(given, dict) and table == "outputs" else given
        if not NAME.fullmatch(name):
            raise places.error(
                f"The name {shown(name)} is not 1 to {LONGEST_NAME} letters (a-z), digits, - and _: rename it.", *where
            )
        if not (isinstance(value, list) and len(value) == 3 and all(type(number) is int for number in value)):
            said = _coordinates(value) if isinstance(value, list) else shown(value)
            raise places.error(f"{name} is {said}: write its cell as three whole numbers, [x, y, z].", *where)
        for axis, number, most in zip("xyz", value, MOST_ALONG, strict=True):
            if not 0 <= number < most:
                what = f"The {axis} of {name} is {shown(number)}: {axis} runs from 0 to {most - 1}."
                raise places.error(what, *where)
        names[name] = (value[0], value[1], value[2])
    return names


def _read_part_outputs(data: dict[str, Any], places: Places) -> frozenset[str]:
    """The outputs written as {cell = [x, y, z], shows = "part"}; any other table is refused."""
    found = set()
    for name, value in read_table(data, "outputs", places).items():
        if not isinstance(value, dict):
            continue
        such = f'write {shown(name)[1:-1]} = [x, y, z], or {{cell = [x, y, z], shows = "part"}}.'
        for key in value:
            if key not in ("cell", "shows"):
                raise places.error(f"An output has no {shown(key)}: {such}", "outputs", name, key)
        if "cell" not in value:
            raise places.error(f"The output {shown(name)} names no cell: {such}", "outputs", name)
        if "shows" in value and value["shows"] != "part":
            what = f'The output {shown(name)} shows {shown(value["shows"])}: write shows = "part", or leave it out.'
            raise places.error(what, "outputs", name, "shows")
        if value.get("shows") == "part":
            found.add(name)
    return frozenset(found)


def _coordinates(values: list[Any]) -> str:
    more = ", ..." if len(values) > 4 else ""
    return f"[{', '.join(shown(value) for value in values[:4])}{more}]"


def _read_expectations(
    data: dict[str, Any], triggers: dict[str, Cell], outputs: dict[str, Cell], places: Places
) -> tuple[Expectation, ...]:
    entries = read_tables(data, "expect", places)
    for index, entry in enumerate(entries):
        for name in entry:
            if name not in EXPECT_KEYS:
                what = f"An expectation has no {shown(name)}.{near(name, EXPECT_KEYS)}"
                raise places.error(what, "expect", index, name)
        _check_known(entry, index, "trigger", triggers, places)
        _check_known(entry, index, "output", outputs, places)
        _check_asks(entry, index, places)
    return tuple(
        Expectation(
            entry["trigger"],
            entry["output"],
            **_durations(entry, index, places),
            **_numbers(entry, index, places),
            never="never" in entry,
        )
        for index, entry in enumerate(entries)
    )


def read_expectation(plan: Plan, trigger: str, output: str, key: str, value: str, within: str = "") -> Expectation:
    """An expectation of one key (one of ASKS), its value as people write it: a duration, a number, nothing for never.

    Raises PlanError for what a plan file could not say either.

    >>> plan = Plan({}, {"press": (0, 0, 0)}, {"lamp": (1, 0, 0)})
    >>> wish = read_expectation(plan, "press", "lamp", "hold", "5 s", "1 tick")
    >>> wish.hold_steps, wish.within_steps
    (100, 2)
    """
    said: object = value
    if key == "never":
        said = True
    elif key in NUMBER_KEYS and value.isdecimal() and len(value) <= MOST_DIGITS:
        said = int(value)
    entry = {"trigger": trigger, "output": output, key: said, **({"within": within} if within else {})}
    try:
        return _read_expectations({"expect": [entry]}, dict(plan.triggers), dict(plan.outputs), Places(""))[0]
    except PlanError as error:
        raise PlanError(error.message) from None


def _check_known(entry: dict[str, Any], index: int, name: str, known: dict[str, Cell], places: Places) -> None:
    if name not in entry:
        what = f"This expectation names no {name}: write {name} = and one of [{name}s]."
        raise places.error(what, "expect", index)
    value = entry[name]
    if not isinstance(value, str) or value not in known:
        hint = near(value if isinstance(value, str) else "", known) or f" [{name}s] is empty: name a cell there."
        raise places.error(f"There is no {name} {shown(value)} in [{name}s].{hint}", "expect", index, name)


def _check_asks(entry: dict[str, Any], index: int, places: Places) -> None:
    if not any(name in entry for name in ASKS):
        what = f"This expectation asks for nothing: give it one or more of {', '.join(ASKS)}."
        raise places.error(what, "expect", index)
    if "within" in entry and not any(name in entry for name in WIDENED):
        what = f"within has nothing to widen: it belongs to one of {', '.join(WIDENED)}."
        raise places.error(what, "expect", index, "within")
    if entry.get("never", True) is not True:
        what = f"never is {shown(entry['never'])}: write never = true, or leave it out."
        raise places.error(what, "expect", index, "never")


def _durations(entry: dict[str, Any], index: int, places: Places) -> dict[str, int]:
    steps = {}
    for name, field in (*DURATION_KEYS.items(), ("within", "within_steps")):
        if name in entry:
            where = ("expect", index, name)
            text = read_line(entry[name], places, name, longest=40, path=where, such='"5 s"')
            try:
                steps[field] = parse_duration(text)
            except DurationError as error:
                raise places.error(f"{name}: {error}", *where) from None
    return steps


def _numbers(entry: dict[str, Any], index: int, places: Places) -> dict[str, int]:
    numbers = {}
    for name, (low, high) in NUMBER_KEYS.items():
        if name in entry:
            value = entry[name]
            if type(value) is not int or not low <= value <= high:
                what = f"{name} is {shown(value)}: write a whole number from {low} to {high:,}."
                raise places.error(what, "expect", index, name)
            numbers[name] = value
    return numbers
