"""`tickwright bill`: how many parts a plan takes, and what they cost."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, print_json, print_table
from tickwright.plan import load_prices, priced_bill


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Count the parts of a plan and add up what they cost by your own price table."""
    bill = priced_bill(load(plan), load_prices(prices) if prices is not None else None)
    if as_json:
        lines = [
            {"kind": line.kind, "number": line.number, "price": float(line.price), "cost": float(line.cost)}
            for line in bill.lines
        ]
        print_json(
            {"plan": str(plan), "lines": lines, "number": bill.number, "total": float(bill.total), "items": bill.items}
        )
        return
    kinds = "1 kind" if len(bill.lines) == 1 else f"{len(bill.lines)} kinds"
    cost = "" if prices is None else f", {bill.total} in all"
    title = f"{bill.number:,} part{'' if bill.number == 1 else 's'} of {kinds}{cost}."
    print_table(title, ("part", "number", "price", "cost"), bill.rows())
