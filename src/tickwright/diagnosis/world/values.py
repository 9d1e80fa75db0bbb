"""What a rule set may be changed to: every value by its place in the file, what else it may be, and the set with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from tickwright.kinds import PARTS
from tickwright.rules import RuleSet, value_range, values_of

Value = int | str | bool
SWITCHES = ("conducts", "carries", "movable")
POINTINGS = ("joined", "through")
FULL_CELLS = ("still", "lamp", "source", "sensor", "piston", "hopper", "ejector", "crate")  # what may conduct or carry
MOST_NEAR = 160


def all_values(rules: RuleSet) -> dict[str, Value]:
    """Every value of a rule set, with the switches that its file does not list as false."""
    found: dict[str, Value] = dict(values_of(rules))
    for table in SWITCHES:
        for kind, row in PARTS.items():
            if row.behaviour in FULL_CELLS:
                found.setdefault(f"{table}.{kind}", False)
    return found


def others(name: str, value: Value) -> list[Value]:
    """What else a value may be, the nearest first; of numbers those near it and up to twice or four times as much.

    >>> others("wire.pointing", "joined"), others("conducts.lamp", True), others("wire.loss", 1)[:3]
    (['through'], [False], [2, 3, 4])
    """
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, str):
        return [word for word in POINTINGS if word != value]
    table, _, key = name.partition(".")
    least, most = value_range(table, key)
    if key.startswith("priority"):
        least, most = -6, 6
    else:
        far = 40 if value <= 10 else 3 * value
        least, most = max(least, 1 if value <= 80 else value // 3), min(most, far)
    step = max((most - least) // (2 * MOST_NEAR), 1)
    near = {*range(least, most + 1, step), *range(max(least, value - 8), min(most, value + 8) + 1)} - {value}
    return sorted(near, key=lambda other: (abs(other - value), other))


def extremes(name: str, value: Value) -> list[Value]:
    """Some of `others` that show whether the value matters at all: the nearest, the least, the most, some between."""
    found = others(name, value)
    if len(found) <= 6 or isinstance(value, (bool, str)):
        return found
    ordered = sorted(found)
    marks = (0, len(ordered) // 8, len(ordered) // 3, len(ordered) // 2, len(ordered) - 1)
    return list(dict.fromkeys([*found[:4], *(ordered[mark] for mark in marks)]))


def with_values(rules: RuleSet, changes: Mapping[str, Value], name: str | None = None) -> RuleSet:
    """The rule set with other values by their places, such as {"torch.delay": 4}.

    >>> from tickwright.rules import load_rules
    >>> with_values(load_rules(), {"torch.delay": 4}).torch.delay
    4
    """
    data: dict[str, Any] = msgspec.to_builtins(rules)
    for place, value in changes.items():
        table, _, key = place.partition(".")
        data[table] = {**data[table], key: value}
    if name is not None:
        data["name"] = name
    return msgspec.convert(data, RuleSet)


def rules_text(based_on: str, changes: Mapping[str, Value], title: str) -> str:
    """A rule set file that says what differs from the one it is based on.

    >>> print(rules_text("standard", {"torch.delay": 4, "conducts.lamp": False}, "As measured"))
    based_on = "standard"
    title = "As measured"
    <BLANKLINE>
    [conducts]
    lamp = false
    <BLANKLINE>
    [torch]
    delay = 4
    <BLANKLINE>
    """
    lines = [f'based_on = "{based_on}"', f'title = "{title}"']
    for table in sorted({place.partition(".")[0] for place in changes}):
        lines += ["", f"[{table}]", *_rows(table, changes)]
    return "\n".join(lines) + "\n"


def _rows(table: str, changes: Mapping[str, Value]) -> Iterable[str]:
    for place, value in sorted(changes.items()):
        of, _, key = place.partition(".")
        if of == table:
            text = str(value).lower() if isinstance(value, bool) else f'"{value}"' if isinstance(value, str) else value
            yield f"{key} = {text}"
