"""Plans: the immutable Plan, plan files, edits, bills and scripts of the hand. Imports the leaves and `rules`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports
from tickwright.plan.cells import with_changes
from tickwright.plan.files import dumps, examples_folder, load, loads, save
from tickwright.plan.hand import Stimulus, parse_script
from tickwright.plan.model import Chart, Expectation, Machine, Plan
from tickwright.plan.validate import problems, validate
from tickwright.toml import LARGEST_PLAN_BYTES

if TYPE_CHECKING:
    from tickwright.plan.bill import Bill, BillLine, load_prices, priced_bill, read_prices
    from tickwright.plan.edits import apply_edits, crop, join, lay, mirror, move, place, remove, repeat, rotate
    from tickwright.plan.reading import ASKS, WIDENED, read_expectation
    from tickwright.plan.renaming import with_new_name
    from tickwright.plan.setup import Setup
    from tickwright.plan.writing import chart_text

__all__ = [
    "ASKS",
    "LARGEST_PLAN_BYTES",
    "WIDENED",
    "Bill",
    "BillLine",
    "Chart",
    "Expectation",
    "Machine",
    "Plan",
    "Setup",
    "Stimulus",
    "apply_edits",
    "chart_text",
    "crop",
    "dumps",
    "examples_folder",
    "join",
    "lay",
    "load",
    "load_prices",
    "loads",
    "mirror",
    "move",
    "parse_script",
    "place",
    "priced_bill",
    "problems",
    "read_expectation",
    "read_prices",
    "remove",
    "repeat",
    "rotate",
    "save",
    "validate",
    "with_changes",
    "with_new_name",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "bill": ("Bill", "BillLine", "load_prices", "priced_bill", "read_prices"),
        "edits": ("apply_edits", "crop", "join", "lay", "mirror", "move", "place", "remove", "repeat", "rotate"),
        "renaming": ("with_new_name",),
        "setup": ("Setup",),
        "writing": ("chart_text",),
        "reading": ("ASKS", "WIDENED", "read_expectation"),
    },
)
