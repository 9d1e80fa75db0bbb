"""The JSON Schemas of plan and brief files, for editors: made of the tables that the readers read by."""

from __future__ import annotations

import re
from typing import Any

from tickwright.design.compose import brief
from tickwright.kinds import PARTS, PartKind, signature
from tickwright.plan import reading
from tickwright.plan.cells import MOST_ALONG
from tickwright.plan.chart_tables import STARTS
from tickwright.plan.limits import NAME
from tickwright.plan.modules import ROLES, TURNS
from tickwright.rules import BUILT_IN
from tickwright.schemas.answers import DIALECT
from tickwright.space import DIRECTIONS, HORIZONTAL

__all__ = ["brief_schema", "plan_schema"]

NUMBERS_SPELLED = 16  # a range of whole numbers up to so long is spelled out in a pattern
NAMES = {"pattern": f"^(?:{NAME.pattern})$"}
DURATION = {
    "type": "string",
    "pattern": r"^\s*[0-9][0-9.]*\s*(?:steps?|ticks?|ms|s|min|h)\s*$",
    "description": "A duration with its unit: 12 s, 250 ms, 2 min, 1 h, 120 ticks, 240 steps.",
}


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of a plan file.

    >>> sorted(plan_schema()["properties"])[:4]
    ['chart', 'expect', 'format', 'layer']
    """
    cell = _cell(MOST_ALONG)
    rows = {"type": "string", "description": "One line a row from north to south, one character a cell."}
    ports = {
        "cell": cell,
        "side": {"enum": list(DIRECTIONS)},
        "role": {"enum": list(ROLES)},
        "also": {"type": "array", "items": {"enum": list(DIRECTIONS)}},
        "need": _whole(1, 15, "The least level that it needs."),
        "gives": _whole(1, 15, "The level that it gives."),
    }
    use = {
        "plan": {"type": "string", "description": "A plan file beside this one, or tile:NAME from our shelf."},
        "at": cell,
        "turn": {"enum": list(TURNS)},
        "mirror": {"type": "boolean"},
        "name": {"type": "string", **NAMES},
    }
    output = {"anyOf": [cell, _table({"cell": cell, "shows": {"const": "part"}}, ["cell"], "")]}
    properties = {
        "format": {"const": reading.FORMAT},
        "title": {"type": "string", "maxLength": 200, "description": "The plan's title."},
        "rules": _rules(),
        "legend": {
            "type": "object",
            "description": "One printable character -> a part. A point and a blank are empty cells.",
            "propertyNames": {"minLength": 1, "maxLength": 1, "not": {"enum": list(reading.EMPTY)}},
            "additionalProperties": _part(),
        },
        "layer": _tables({"rows": rows}, ["rows"], "The layers, the bottom one first.", at_least=1),
        "triggers": _named(cell, "What a hand can press: a name -> its cell, [x, y, z]."),
        "outputs": _named(output, "What is watched: a name -> its cell, [x, y, z]."),
        "expect": _tables(_expectations(), ["trigger", "output"], "What the plan promises."),
        **_charts(),
        "ports": _named(_table(ports, ["cell", "side", "role"], ""), "Where wires meet this plan as a module."),
        "nets": _named({"type": "array", "items": cell}, "The cells that one signal takes."),
        "use": _tables(use, ["plan", "at", "name"], "The modules that are laid."),
    }
    assert set(properties) == set(reading.TABLES), "a table of plan files has no schema"
    return _file("A Tickwright plan", properties, ["format", "layer"])


def brief_schema() -> dict[str, Any]:
    """The JSON Schema of a brief.

    >>> brief_schema()["required"]
    ['format', 'inputs', 'outputs', 'chart']
    """
    size = {**_cell(None), "items": _whole(1, brief.LONGEST_SIDE, "")}
    room = {"size": size, "blocked": {"type": "array", "items": _cell(None)}}
    rules = _rules()
    charts = _charts()
    properties = {
        "format": {"const": brief.FORMAT},
        "title": {"type": "string", "maxLength": 200, "description": "The title of what is made."},
        "rules": {"anyOf": [rules, {"type": "array", "items": rules, "minItems": 1}]},
        "room": _table(room, ["size"], "The room that there is."),
        "inputs": _named(_end("part", brief.INPUT_PARTS), "What comes in."),
        "outputs": _named(_end("drives", brief.DRIVES), "What goes out."),
        **charts,
        "chart": {**charts["chart"], "minItems": 1},
    }
    assert set(properties) == set(brief.TABLES), "a table of briefs has no schema"
    return _file("A Tickwright brief", properties, ["format", "inputs", "outputs", "chart"])


def _end(key: str, kinds: tuple[str, ...]) -> dict[str, Any]:
    """An input or output of a brief, and where it lies."""
    anywhere = {"anyOf": [_cell(None), {"enum": list(HORIZONTAL)}], "description": "Its cell, or a side of the room."}
    return _table({key: {"enum": list(kinds)}, "at": anywhere}, [key], "")


def _file(title: str, properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {
        "$schema": DIALECT,
        "title": title,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _table(properties: dict[str, Any], required: list[str], what: str) -> dict[str, Any]:
    made = {"type": "object", "properties": properties, "required": required, "additionalProperties": False}
    return {**made, "description": what} if what else made


def _tables(properties: dict[str, Any], required: list[str], what: str, at_least: int = 0) -> dict[str, Any]:
    items = _table(properties, required, "")
    return {"type": "array", "items": items, "description": what, **({"minItems": at_least} if at_least else {})}


def _named(value: dict[str, Any], what: str) -> dict[str, Any]:
    return {"type": "object", "description": what, "propertyNames": _dotted(), "additionalProperties": value}


def _dotted() -> dict[str, Any]:
    """A name, or NAME.INNER of something in a module."""
    name = NAME.pattern
    return {"pattern": rf"^(?:{name})(?:\.(?:{name}))*$"}


def _whole(least: int, most: int, what: str) -> dict[str, Any]:
    made = {"type": "integer", "minimum": least, "maximum": most}
    return {**made, "description": what} if what else made


def _cell(most: tuple[int, int, int] | None) -> dict[str, Any]:
    numbers = {"type": "integer", "minimum": 0, **({"maximum": max(most) - 1} if most else {})}
    return {"type": "array", "items": numbers, "minItems": 3, "maxItems": 3, "description": "A cell: [x, y, z]."}


def _rules() -> dict[str, Any]:
    names = " or ".join(BUILT_IN)
    return {
        "type": "string",
        "description": f"The rule set: {names}, or a file beside this one.",
        "examples": list(BUILT_IN),
    }


def _part() -> dict[str, Any]:
    """A part's text: one alternative for each kind."""
    kinds = [
        {"pattern": f"^\\s*{_written(kind)}\\s*$", "title": signature(kind), "description": kind.help}
        for kind in PARTS.values()
    ]
    return {"type": "string", "anyOf": kinds, "examples": [signature(kind).split(" [")[0] for kind in PARTS.values()]}


def _written(kind: PartKind) -> str:
    """The pattern of a kind as it is written, its words in any order."""
    words = []
    if kind.direction is not None:
        before = f"{kind.direction}=" if kind.direction else ""
        words.append(f"{before}(?:{'|'.join(kind.directions)})")
    for argument in kind.arguments:
        if isinstance(argument.default, bool):
            values = "yes|no"
        elif isinstance(argument.default, int) and len(argument.choices) > NUMBERS_SPELLED:
            values = "[0-9]{1,9}"
        else:
            values = "|".join(re.escape(str(choice)) for choice in argument.choices)
        words.append(f"{argument.name}=(?:{values})")
    needed = kind.direction is not None and kind.default_direction is None
    more = f"(?:\\s+(?:{'|'.join(words)}))" if words else ""
    return f"{re.escape(kind.name)}{more}{'+' if needed else '*' if more else ''}"


def _expectations() -> dict[str, Any]:
    numbers = {key: _whole(*bounds, "") for key, bounds in reading.NUMBER_KEYS.items()}
    made: dict[str, Any] = {
        "trigger": {"type": "string"},
        "output": {"type": "string"},
        "within": DURATION,
        "never": {"const": True},
        **dict.fromkeys(reading.DURATION_KEYS, DURATION),
        **numbers,
    }
    assert set(made) == set(reading.EXPECT_KEYS), "a key of [[expect]] has no schema"
    return made


def _charts() -> dict[str, dict[str, Any]]:
    lines = {"type": "array", "items": {"type": "string"}}
    name = {"type": "string", "maxLength": 200}
    chart = {
        "name": name,
        "starts": {"enum": list(STARTS)},
        "hand": {**lines, "description": "What the hand does, such as 0: press."},
        "watch": DURATION,
        "shows": {**lines, "minItems": 1, "description": "Claims, such as lamp: on from press for 2 s."},
    }
    machine = {"name": name, "states": {**lines, "minItems": 1}, "transitions": lines, "deaf": DURATION}
    return {
        "chart": _tables(chart, ["shows"], "Claims over time."),
        "machine": _tables(machine, ["name", "states"], "State machines that charts speak of."),
    }
