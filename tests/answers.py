"""Answers with --json against the JSON Schema of their command; fields that it does not list are refused."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any

import pytest

from tickwright.schemas import COMMANDS, answers_schema

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator, ValidationError


def wrong(command: str, text: str) -> list[str]:
    """What in an answer goes against the schema of its command, at the end of the line that goes deepest."""
    return [line for error in validator(command).iter_errors(json.loads(text)) for line in leaves(error)]


def held(words: tuple[str, ...], text: str) -> None:
    """Fail for an answer of the program that does not keep to the schema; others are no data, and pass."""
    if "--json" in words and words[0] in COMMANDS and text:
        found = wrong(words[0], text)
        if found:
            pytest.fail("\n".join([f"tickwright {' '.join(words)} goes against its schema:", *found]))


@cache
def validator(command: str) -> Draft202012Validator:
    """The validator of all that a command may answer."""
    from jsonschema import Draft202012Validator

    return Draft202012Validator({**schema(), "anyOf": [{"$ref": f"#/$defs/answer-{command}"}]})


@cache
def schema() -> dict[str, Any]:
    """The schema that allows nothing that is not listed."""
    return answers_schema(strict=True)


def leaves(error: ValidationError) -> list[str]:
    """The errors that lie deepest: what is wrong in each of the answers that it might have been."""
    if not error.context:
        return [f"{error.json_path}: {error.message[:200]}"]
    return [line for inner in error.context for line in leaves(inner)]
