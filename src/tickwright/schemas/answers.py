"""The JSON Schema of all answers, made of the table of records."""

from __future__ import annotations

from typing import Any

from tickwright.schemas.records import COMMANDS, ONE_PLAN, RECORDS, fields_of

__all__ = ["ANSWERS_VERSION", "answers_schema", "type_schema"]

ANSWERS_VERSION = 1
"""It grows when a field is taken away or means something else; new fields may come at any time."""
DIALECT = "https://json-schema.org/draft/2020-12/schema"
_INT = {"type": "integer"}
_PLAIN: dict[str, dict[str, Any]] = {
    "text": {"type": "string"},
    "int": _INT,
    "number": {"type": "number"},
    "bool": {"type": "boolean"},
    "any": {},
    "cell": {"type": "array", "items": _INT, "minItems": 3, "maxItems": 3},
    "size": {"type": "array", "items": {"type": "integer", "minimum": 0}, "minItems": 3, "maxItems": 3},
    "change": {"type": "array", "items": _INT, "minItems": 2, "maxItems": 2},
    "pulse": {"type": "array", "prefixItems": [_INT, {"type": ["integer", "null"]}], "minItems": 2, "maxItems": 2},
}


def type_schema(text: str) -> dict[str, Any]:
    """The schema of a type as the table writes it.

    >>> type_schema("[int]?")
    {'anyOf': [{'type': 'array', 'items': {'type': 'integer'}}, {'type': 'null'}]}
    """
    if text.endswith("?"):
        return {"anyOf": [type_schema(text[:-1]), {"type": "null"}]}
    if text.startswith("["):
        return {"type": "array", "items": type_schema(text[1:-1])}
    if text.startswith("{"):
        return {"type": "object", "additionalProperties": type_schema(text[1:-1])}
    if text.startswith('"'):
        return {"enum": text[1:-1].split("|")}
    return _PLAIN.get(text, {"$ref": f"#/$defs/{text}"})


def answers_schema(strict: bool = False) -> dict[str, Any]:
    """The JSON Schema: under `$defs` each record, and `answer-COMMAND` for all that a command may answer.

    A reader passes over fields that it does not know; so the schema allows them. With `strict` it does not, save in the
    records that say so: that is how tests hold the program to the table.
    """
    records = {name: _record(name, strict) for name in RECORDS}
    answers = {f"answer-{name}": _answer(name) for name in COMMANDS}
    return {
        "$schema": DIALECT,
        "title": f"What tickwright's commands answer with --json, version {ANSWERS_VERSION}",
        "version": ANSWERS_VERSION,
        "anyOf": [{"$ref": f"#/$defs/{name}"} for name in answers],
        "$defs": {**answers, **records},
    }


def _record(name: str, strict: bool) -> dict[str, Any]:
    fields, is_open = fields_of(name)
    return {
        "type": "object",
        "properties": {field.name: {**type_schema(field.type), "description": field.meaning} for field in fields},
        "required": [field.name for field in fields if not field.optional],
        **({"additionalProperties": False} if strict and not is_open else {}),
    }


def _answer(command: str) -> dict[str, Any]:
    alone = [type_schema(record) for record, _ in COMMANDS[command]]
    several: list[dict[str, Any]] = []
    if command in ONE_PLAN:
        items = {"anyOf": [*alone, type_schema("refused_plan")]}
        several = [
            {"type": "object", "properties": {"plans": {"type": "array", "items": items}}, "required": ["plans"]}
        ]
    return {"anyOf": [*alone, *several, type_schema("refusal")]}
