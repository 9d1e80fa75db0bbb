"""Plan files: load and save, the text kept as it is wherever the plan did not change."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from tickwright.errors import PlanError, RuleSetError
from tickwright.plan.model import Plan
from tickwright.plan.reading import read_plan
from tickwright.plan.toml import read_text
from tickwright.plan.validate import validate
from tickwright.rules import load_rules


def load(path: str | os.PathLike[str]) -> Plan:
    """Read the plan file at `path` and check it under the rules that it names.

    Raises PlanError, with the file, line and column, for whatever is wrong with the file or the plan.
    """
    try:
        return loads(read_text(path), path)
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, str(path)) from None


def loads(text: str, path: str | os.PathLike[str] | None = None) -> Plan:
    """Read a plan file's text; a rules file that it names is sought beside `path`.

    Raises PlanError with line and column.

    >>> plan = loads('format = "tickwright plan 1"\\nkey = {w = "wire", "#" = "block"}\\n'
    ...              'layer = [{rows = "##"}, {rows = "ww"}]')
    >>> plan.size, plan.bill()
    ((2, 1, 2), {'block': 2, 'wire': 2})
    """
    plan, places = read_plan(text)
    folder = Path(path).parent if path is not None else None
    try:
        rules = load_rules(plan.rules, folder)
    except RuleSetError as error:
        raise places.error(str(error), "rules") from None
    validate(plan, rules, places)
    return replace(plan, path=str(path) if path is not None else None, source=text)
