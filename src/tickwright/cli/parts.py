"""`tickwright parts`: the table of parts, and the bill of a plan."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from tickwright.cli.show import AsJson, print_json, print_table
from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS, PartKind, choices_text, signature


def command(
    kind: Annotated[str | None, typer.Argument(help="One kind of part; all if not given.")] = None,
    as_json: AsJson = False,
) -> None:
    """List the kinds of parts: how each is written and what it does."""
    if kind is not None and kind not in PARTS:
        raise UsageError(f'There is no part "{kind}".{near(kind, PARTS)}')
    chosen = [PARTS[kind]] if kind is not None else list(PARTS.values())
    if as_json:
        print_json({"parts": [_data(entry) for entry in chosen]})
    elif kind is None:
        print_table("Parts", ("written", "what it does"), [(signature(entry), entry.help) for entry in chosen])
    else:
        _tell(chosen[0])


def _data(kind: PartKind) -> dict[str, Any]:
    return {
        "kind": kind.name,
        "written": signature(kind),
        "help": kind.help,
        "symbol": kind.symbol,
        "directions": list(kind.directions),
        "default_direction": kind.default_direction,
        "arguments": [
            {"name": a.name, "default": a.default, "values": choices_text(a), "help": a.help} for a in kind.arguments
        ],
        "stands_on": {"below": "the cell below", "facing": "the cell it is fixed to"}.get(kind.support or ""),
        "acts": [*kind.acts, "place", "clear"],
    }


def _tell(kind: PartKind) -> None:
    print(f"{kind.name}: {kind.help}")
    print(f"  written: {signature(kind)}")
    if kind.directions:
        print(f"  directions: {', '.join(kind.directions)}")
    for argument in kind.arguments:
        print(f"  {argument.name}: {argument.help} ({choices_text(argument)})")
    if kind.support:
        print(f"  stands on {'the cell below' if kind.support == 'below' else 'the cell it is fixed to'}")
    print(f"  the hand can: {', '.join([*kind.acts, 'place', 'clear'])}")
