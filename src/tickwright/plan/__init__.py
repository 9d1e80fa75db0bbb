"""Plans: the immutable Plan, plan files, edits, bills and scripts of the hand. Imports the leaves and `rules`."""

from tickwright.plan.bill import Bill, BillLine, load_prices, priced_bill, read_prices
from tickwright.plan.edits import crop, join, mirror, move, place, remove, repeat, rotate
from tickwright.plan.files import dumps, load, loads, save
from tickwright.plan.hand import Act, parse_script
from tickwright.plan.model import Expectation, Plan
from tickwright.plan.validate import validate

__all__ = [
    "Act",
    "Bill",
    "BillLine",
    "Expectation",
    "Plan",
    "crop",
    "dumps",
    "join",
    "load",
    "load_prices",
    "loads",
    "mirror",
    "move",
    "parse_script",
    "place",
    "priced_bill",
    "read_prices",
    "remove",
    "repeat",
    "rotate",
    "save",
    "validate",
]
