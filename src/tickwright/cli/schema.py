"""`tickwright schema`: the JSON Schemas of answers, plan files and briefs."""

from __future__ import annotations

from typing import Annotated

import typer

from tickwright.cli.show import AsJson, print_json
from tickwright.errors import UsageError, near
from tickwright.schemas import answers_schema, brief_schema, plan_schema

SCHEMAS = {"answers": answers_schema, "plan": plan_schema, "brief": brief_schema}


def command(
    name: Annotated[str, typer.Argument(metavar="|".join(SCHEMAS), help="Which schema.")],
    as_json: AsJson = False,  # noqa: ARG001 - it is JSON in any case
) -> None:
    """Print a JSON Schema: of what commands answer with --json, of plan files, or of briefs."""
    if name not in SCHEMAS:
        raise UsageError(f'There is no schema "{name}".{near(name, SCHEMAS)}')
    print_json(SCHEMAS[name]())
