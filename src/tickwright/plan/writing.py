"""From a Plan to the text of a plan file: the old text changed where the plan changed, or a new one laid out afresh."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import chain

from tickwright.durations import duration_text, ticks_text
from tickwright.kinds import PARTS, Part, parse_part, part_text
from tickwright.plan.amend import Amendment, entry_lines
from tickwright.plan.cells import EMPTY_CODE, ROW_END, Cells, code_of, different_parts
from tickwright.plan.model import Chart, Expectation, Machine, Plan, Use
from tickwright.plan.modules import PORT_LEVELS
from tickwright.plan.reading import DURATION_KEYS, EMPTY, FORMAT, NUMBER_KEYS, split_rows
from tickwright.space import Cell
from tickwright.toml import quoted, read_toml

Legend = Mapping[str, Part]
Layers = list[list[str]]

_FIRST_CHARACTERS = {"block": "#", "insulator": "="}
_MORE_CHARACTERS = (
    range(0x21, 0x7F),  # ASCII, then letters of Latin, Greek, Cyrillic and Han, which stay apart from one another
    range(0xC0, 0x180),
    range(0x391, 0x3CA),
    range(0x410, 0x450),
    range(0x4E00, 0x9FA6),
)
_NEVER_CHARACTERS = EMPTY + "\"'\\"
_SHOWN_IN_TICKS = 20


def fresh_text(plan: Plan) -> str:
    """The plan as a new plan file: one character for each different part, all rows of full length."""
    names = _Characters({})
    kinds = list(PARTS)
    for part in sorted(different_parts(plan.cells), key=lambda part: (kinds.index(part.kind), part_text(part))):
        names.character(part)
    text = entry_lines({"format": quoted(FORMAT), **_root(plan)})
    if names.parts:
        text += f"\n[legend]\n{entry_lines(_legend_entries(names.parts), quote=True)}"
    for rows in _grid(plan, [], names):
        text += f"\n[[layer]]\n{entry_lines(_layer_entries(rows))}"
    for table, entries in (("triggers", _cell_entries(plan.triggers)), ("outputs", _output_entries(plan))):
        if entries:
            text += f"\n[{table}]\n{entry_lines(entries)}"
    for table, entries in (("ports", _port_entries(plan)), ("nets", _net_entries(plan))):
        if entries:
            text += f"\n[{table}]\n{entry_lines(entries)}"
    for use in plan.uses:
        text += f"\n[[use]]\n{entry_lines(_use_entries(use))}"
    for expectation in plan.expectations:
        text += f"\n[[expect]]\n{entry_lines(_entries(expectation))}"
    for machine in plan.machines:
        text += f"\n[[machine]]\n{entry_lines(_machine_entries(machine))}"
    for chart in plan.charts:
        text += f"\n[[chart]]\n{entry_lines(_chart_entries(chart))}"
    return text


def changed_text(plan: Plan, old: Plan, text: str) -> str:
    """The plan file `text`, which describes `old`, changed to describe `plan`.

    Comments, layout, the characters of the legend and the order of what stays are kept.
    """
    amendment = Amendment(text)
    amendment.root(_root(old), _root(plan), after="format")
    if _laid(plan) != _laid(old):
        data, _ = read_toml(text)
        legend = {character: parse_part(part) for character, part in data.get("legend", {}).items()}
        names = _Characters(legend)
        layers = [split_rows(layer["rows"]) for layer in data["layer"]]
        new_layers = _grid(plan, layers, names)
        amendment.tables("layer", list(map(_layer_entries, layers)), list(map(_layer_entries, new_layers)))
        amendment.table("legend", _legend_entries(legend), _legend_entries(names.parts), quote=True)
    amendment.table("triggers", _cell_entries(old.triggers), _cell_entries(plan.triggers))
    amendment.table("outputs", _output_entries(old), _output_entries(plan))
    amendment.table("ports", _port_entries(old), _port_entries(plan))
    amendment.table("nets", _net_entries(old), _net_entries(plan))
    amendment.tables("use", list(map(_use_entries, old.uses)), list(map(_use_entries, plan.uses)))
    amendment.tables("expect", list(map(_entries, old.expectations)), list(map(_entries, plan.expectations)))
    amendment.tables("machine", list(map(_machine_entries, old.machines)), list(map(_machine_entries, plan.machines)))
    amendment.tables("chart", list(map(_chart_entries, old.charts)), list(map(_chart_entries, plan.charts)))
    return amendment.result()


def _port_entries(plan: Plan) -> dict[str, str]:
    found = {}
    for name, port in plan.ports.items():
        entries = {"cell": str(list(port.cell)), "side": quoted(port.side), "role": quoted(port.role)}
        if port.also:
            entries["also"] = f"[{', '.join(map(quoted, port.also))}]"
        entries |= {key: str(getattr(port, key)) for key, usual in PORT_LEVELS.items() if getattr(port, key) != usual}
        found[name] = f"{{{', '.join(f'{key} = {value}' for key, value in entries.items())}}}"
    return found


def _net_entries(plan: Plan) -> dict[str, str]:
    return {name: f"[{', '.join(str(list(cell)) for cell in cells)}]" for name, cells in plan.nets.items()}


def _use_entries(use: Use) -> dict[str, str]:
    entries = {"plan": quoted(use.plan), "at": str(list(use.at))}
    if use.turn:
        entries["turn"] = str(use.turn)
    if use.mirror:
        entries["mirror"] = "true"
    return entries | {"name": quoted(use.name)}


def _laid(plan: Plan) -> tuple[object, ...]:
    """What decides how far the rows reach: named cells too, which may alone have made the grid."""
    return plan.cells, plan.size, plan.triggers, plan.outputs


class _Characters:
    """Characters for parts: those that a legend has, and new ones for parts that have none yet."""

    def __init__(self, legend: Legend) -> None:
        self.parts = dict(legend)
        self._of: dict[Part, str] = {part: character for character, part in reversed(list(legend.items()))}

    def character(self, part: Part) -> str:
        if part not in self._of:
            character = next(character for character in _candidates(part) if character not in self.parts)
            self._of[part] = character
            self.parts[character] = part
        return self._of[part]


def _candidates(part: Part) -> Iterator[str]:
    letters = [letter for letter in part.kind if letter.isalpha()]
    first = _FIRST_CHARACTERS.get(part.kind, letters[0])
    more = chain.from_iterable(_MORE_CHARACTERS)
    for character in chain(first, letters[0].upper(), letters, map(chr, more)):
        if character not in _NEVER_CHARACTERS and (character.isascii() or character.isalpha()):
            yield character


def _grid(plan: Plan, old: Layers, names: _Characters) -> Layers:
    """The rows of every layer: old characters where they still fit, each row as long as it was or has to be."""
    by_layer = _rows_to_write(plan.cells, old, names.parts)
    wide, deep, high = _needed(plan)
    layers = []
    for z in range(max(1, high, min(len(old), plan.size[2]))):
        rows = [row[: plan.size[0]] for row in old[z][: plan.size[1]]] if z < len(old) else []
        kept = len(plan.cells.layers[z]) if isinstance(plan.cells, Cells) and z < len(plan.cells.layers) else 0
        layers.append(_layer(rows or ["".ljust(wide, EMPTY[0])] * deep, by_layer.get(z, {}), kept, names))
    if max(map(len, layers)) < deep:
        layers[0] += [""] * (deep - len(layers[0]))
    if max((len(row) for rows in layers for row in rows), default=0) < wide:
        layers[0] = layers[0] or [""]
        layers[0][0] = layers[0][0].ljust(wide, EMPTY[0])
    return layers


def _needed(plan: Plan) -> Cell:
    """How far the rows must reach along each axis: to the grid's end, unless named cells alone reach as far."""
    named = Plan({}, plan.triggers, plan.outputs).size
    parts = Plan(plan.cells).size
    x, y, z = (
        size if size > by_name else by_part for size, by_name, by_part in zip(plan.size, named, parts, strict=True)
    )
    return (x, y, z)


def _rows_to_write(cells: Mapping[Cell, Part], old: Layers, legend: Legend) -> dict[int, dict[int, dict[int, Part]]]:
    """The parts by z, y and x; of a large plan only those of rows that do not say the same already."""
    found: dict[int, dict[int, dict[int, Part]]] = {}
    if not isinstance(cells, Cells):
        for (x, y, z), part in cells.items():
            found.setdefault(z, {}).setdefault(y, {})[x] = part
        return found
    codes = {part: code_of(place) for place, part in enumerate(cells.palette)}
    table = {**dict.fromkeys(map(ord, EMPTY), EMPTY_CODE), **{ord(c): codes.get(p, ROW_END) for c, p in legend.items()}}
    parts = {code: part for part, code in codes.items()}
    for z, rows in enumerate(cells.layers):
        for y, row in enumerate(rows):
            there = old[z][y].translate(table) if z < len(old) and y < len(old[z]) else None
            if there is None or there.rstrip(EMPTY_CODE) != row.rstrip(EMPTY_CODE):
                here = {x: parts[code] for x, code in enumerate(row) if code != EMPTY_CODE}
                found.setdefault(z, {})[y] = here
    return found


def _layer(old_rows: list[str], parts: Mapping[int, Mapping[int, Part]], kept: int, names: _Characters) -> list[str]:
    """The rows of a layer: what `parts` holds of each, x by part; of the first `kept` rows those not in it stay."""
    rows = []
    for y in range(max([len(old_rows), *(y + 1 for y, row in parts.items() if row)])):
        row = list(old_rows[y]) if y < len(old_rows) else []
        here = parts.get(y, {})
        if y in parts or y >= kept:
            row = [sign if sign in EMPTY or x in here else EMPTY[0] for x, sign in enumerate(row)]
        for x, part in sorted(here.items()):
            row += EMPTY[0] * (x + 1 - len(row))
            if names.parts.get(row[x]) != part:
                row[x] = names.character(part)
        rows.append("".join(row))
    return rows


def _root(plan: Plan) -> dict[str, str]:
    title = {"title": quoted(plan.title)} if plan.title else {}
    return title | ({"rules": quoted(plan.rules)} if plan.rules != "standard" else {})


def _legend_entries(legend: Legend) -> dict[str, str]:
    return {character: quoted(part_text(part)) for character, part in legend.items()}


def _layer_entries(rows: Iterable[str]) -> dict[str, str]:
    text = "".join(f"{row}\n" for row in rows)
    if ("\\" in text or '"""' in text) and "'''" not in text:
        return {"rows": f"'''\n{text}'''"}
    text = text.replace("\\", "\\\\").replace('"""', '""\\"')
    return {"rows": f'"""\n{text}"""'}


def _cell_entries(names: Mapping[str, Cell]) -> dict[str, str]:
    return {name: str(list(cell)) for name, cell in names.items()}


def _output_entries(plan: Plan) -> dict[str, str]:
    """Outputs as their cells; those that show a part as a table in one line."""
    return {
        name: f'{{cell = {cell}, shows = "part"}}' if name in plan.part_outputs else cell
        for name, cell in _cell_entries(plan.outputs).items()
    }


def _machine_entries(machine: Machine) -> dict[str, str]:
    entries = {"name": quoted(machine.name), "states": _list(machine.states)}
    entries["transitions"] = _list(machine.transitions)
    return entries | ({"deaf": quoted(_time(machine.deaf_steps))} if machine.deaf_steps is not None else {})


def _chart_entries(chart: Chart) -> dict[str, str]:
    entries = {"name": quoted(chart.name)}
    if not chart.at_rest:
        entries["starts"] = quoted("at step 0")
    if chart.hand is not None:
        entries["hand"] = _list(chart.hand)
    if chart.watch_steps is not None:
        entries["watch"] = quoted(_time(chart.watch_steps))
    return entries | {"shows": _list(chart.shows)}


def _list(texts: tuple[str, ...]) -> str:
    """A list of texts, in one line if it has one, else a line for each."""
    if len(texts) < 2:
        return f"[{', '.join(map(quoted, texts))}]"
    return "[\n" + "".join(f"  {quoted(text)},\n" for text in texts) + "]"


def chart_text(chart: Chart) -> str:
    """A chart as the lines of a plan file."""
    return f"[[chart]]\n{entry_lines(_chart_entries(chart))}"


def _time(steps: int) -> str:
    return ticks_text(steps) if steps % 2 == 0 and steps < _SHOWN_IN_TICKS else duration_text(steps)


def _entries(expectation: Expectation) -> dict[str, str]:
    entries = {"trigger": quoted(expectation.trigger), "output": quoted(expectation.output)}
    for name, field in {**DURATION_KEYS, "within": "within_steps"}.items():
        steps = getattr(expectation, field)
        if steps is not None and (steps or name != "within"):
            entries[name] = quoted(ticks_text(steps) if steps < _SHOWN_IN_TICKS else duration_text(steps))
    for name in NUMBER_KEYS:
        if getattr(expectation, name) is not None:
            entries[name] = str(getattr(expectation, name))
    return entries | ({"never": "true"} if expectation.never else {})
