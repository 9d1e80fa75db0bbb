"""`tickwright rules`: show a rule set, or what two of them differ in."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from tickwright import RuleSet, load_rules
from tickwright.cli.show import AsJson, print_json, print_table
from tickwright.errors import UsageError
from tickwright.rules import BUILT_IN, values_of


def command(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[NAME] | diff A B", help="A rule set's name or file.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the rule sets, show one with all its values, or show what two of them differ in."""
    match words or []:
        case []:
            _list(as_json)
        case ["diff", first, second]:
            _diff(load_rules(first), load_rules(second), as_json)
        case [name] if name != "diff":
            _one(load_rules(name), as_json)
        case _:
            raise UsageError("Write tickwright rules, tickwright rules NAME, or tickwright rules diff A B.")


def _list(as_json: bool) -> None:
    found = [load_rules(name) for name in BUILT_IN]
    if as_json:
        print_json({"rules": [{"name": rules.name, "title": rules.title} for rules in found]})
    else:
        print_table("Rule sets", ("name", "title"), [(rules.name, rules.title) for rules in found])


def _one(rules: RuleSet, as_json: bool) -> None:
    values = values_of(rules)
    if as_json:
        print_json({"name": rules.name, "title": rules.title, "values": values})
    else:
        title = f"{rules.name}: {rules.title} (delays in steps)"
        print_table(title, ("value", "is"), [(key, _text(value)) for key, value in values.items()])


def _diff(first: RuleSet, second: RuleSet, as_json: bool) -> None:
    a, b = values_of(first), values_of(second)
    rows = [(key, a.get(key), b.get(key)) for key in dict.fromkeys((*a, *b)) if a.get(key) != b.get(key)]
    if as_json:
        differences = [{"value": key, "a": left, "b": right} for key, left, right in rows]
        print_json({"a": first.name, "b": second.name, "differences": differences})
    elif rows:
        heads = ("value", first.name, second.name)
        print_table("Differences", heads, [(key, _text(left), _text(right)) for key, left, right in rows])
    else:
        print(f"{first.name} and {second.name} have the same values.")


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "-" if value is None else str(value)
