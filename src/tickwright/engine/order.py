"""The order in which parts are told, and hoppers take their turns: canonical, reversed, or a shuffle by a seed."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from tickwright.errors import UsageError
from tickwright.space import Cell, zyx


def check_order(order: str) -> None:
    """Refuse an order that is none: "canonical", "reversed" or a seed."""
    if order not in ("canonical", "reversed") and not (order.isascii() and order.isdigit() and len(order) <= 18):
        raise UsageError(f'There is no order "{order}": use canonical, reversed or a whole number (a seed).')


def notification_order(order: str) -> Callable[[Cell], tuple[int, ...]]:
    """The sort key in which parts are told: "canonical" (z, y, x), "reversed", or a shuffle by a seed (a number)."""
    if order == "canonical":
        return zyx
    if order == "reversed":
        return lambda cell: (-cell[2], -cell[1], -cell[0])
    import random

    return cache(lambda cell: (random.Random(f"{order} {cell}").getrandbits(32), *zyx(cell)))
