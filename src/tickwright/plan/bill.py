"""The bill of a plan: how many parts of each kind it takes, and what they cost by the user's own prices."""

from __future__ import annotations

import os
from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from tickwright.arguments import checked
from tickwright.errors import PlanError, near
from tickwright.kinds import PARTS
from tickwright.places import Places
from tickwright.plan.model import Plan
from tickwright.toml import read_text, read_toml, shown

Prices = Mapping[str, Decimal]
HIGHEST_PRICE = 10**9
STACK = 64  # items in a slot
DECIMALS = 6


class BillLine(NamedTuple):
    """One kind of part: how many, the price of one, and what they cost together."""

    kind: str
    number: int
    price: Decimal
    cost: Decimal


class Bill(NamedTuple):
    """The lines of a bill, most parts first, then by name; the sums of numbers and of costs; how many items it takes.

    Those are what the containers hold at the start. Prices are of parts: items cost nothing.
    """

    lines: tuple[BillLine, ...]
    number: int
    total: Decimal
    items: int = 0

    def rows(self) -> list[tuple[str, str, str, str]]:
        """The bill as tables show it, columns part, number, price and cost: parts, items if any, and the total."""
        parts = [(line.kind, str(line.number), str(line.price), str(line.cost)) for line in self.lines]
        items = [("items", items_text(self.items), "", "")] if self.items else []
        return [*parts, *items, ("total", str(self.number), "", str(self.total))]


def items_text(items: int) -> str:
    """A number of items, with how many stacks they are if that is one or more.

    >>> items_text(29), items_text(64), items_text(158)
    ('29', '64 (1 stack of 64)', '158 (2 stacks of 64 and 30)')
    """
    stacks, loose = divmod(items, STACK)
    if not stacks:
        return str(items)
    more = f" and {loose}" if loose else ""
    return f"{items} ({stacks} {'stack' if stacks == 1 else 'stacks'} of {STACK}{more})"


@checked
def priced_bill(plan: Plan, prices: Prices | None = None) -> Bill:
    """The bill of a plan by a price table; without one each part costs 1.

    Raises PlanError if the table has no price for a part of the plan.

    >>> from tickwright.kinds import parse_part
    >>> priced_bill(Plan({(0, 0, 0): parse_part("lamp")}), {"lamp": Decimal("2.50")}).total
    Decimal('2.50')
    """
    lines = []
    for kind, number in plan.bill().items():
        if prices is not None and kind not in prices:
            raise PlanError(
                f"The price table has no price for {kind}, of which the plan takes {number}: add {kind} = ..."
            )
        price = Decimal(1) if prices is None else prices[kind]
        lines.append(BillLine(kind, number, price, price * number))
    total = sum((line.cost for line in lines), Decimal(0))
    items = sum(part.items for part in plan.cells.values())
    return Bill(tuple(lines), sum(line.number for line in lines), total, items)


@checked
def load_prices(path: str | os.PathLike[str]) -> Prices:
    """Read a price table: a TOML file with `[prices]` and under it kind = number, such as wire = 0.25.

    Raises PlanError, with the file, line and column, for whatever is wrong with it.
    """
    try:
        return read_prices(read_text(path))
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, str(path)) from None


@checked
def read_prices(text: str) -> Prices:
    r"""Read the text of a price table. Raises PlanError with line and column.

    >>> read_prices("[prices]\nwire = 0.25\n")
    {'wire': Decimal('0.25')}
    """
    data, places = read_toml(text, parse_float=Decimal)
    for name in data:
        if name != "prices":
            raise places.error(f"A price table has no {shown(name)}: write the prices under [prices].", name)
    table = data.get("prices")
    if not isinstance(table, dict):
        raise places.error("The price table has no [prices]: write [prices] and under it kind = number.", "prices")
    return {kind: _price(kind, value, places) for kind, value in table.items()}


def _price(kind: str, value: object, places: Places) -> Decimal:
    if kind not in PARTS:
        raise places.error(f"There is no part {shown(kind)} to price.{near(kind, PARTS)}", "prices", kind)
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        price = Decimal(value)
        if price.is_finite() and 0 <= price <= HIGHEST_PRICE and price == round(price, DECIMALS):
            return price
    raise places.error(
        f"The price of {kind} is {shown(value)}: write a number from 0 to {HIGHEST_PRICE:,} with at most {DECIMALS} "
        "decimals.",
        "prices",
        kind,
    )
