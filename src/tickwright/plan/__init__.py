"""Plans: the immutable Plan, plan files, edits, bills and scripts of the hand. Imports the leaves and `rules`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports
from tickwright.plan.cells import with_changes
from tickwright.plan.files import dumps, examples_folder, load, loads, save
from tickwright.plan.hand import Stimulus, parse_script
from tickwright.plan.model import Chart, Expectation, Machine, Plan, PlanPort, Use
from tickwright.plan.validate import problems, validate
from tickwright.toml import LARGEST_PLAN_BYTES

if TYPE_CHECKING:
    from tickwright.plan.bill import Bill, BillLine, Prices, load_prices, priced_bill, read_prices
    from tickwright.plan.edits import apply_edits, crop, join, lay, mirror, move, place, remove, repeat, rotate
    from tickwright.plan.modules import (
        SHELF,
        inner_cell,
        inner_part,
        inner_side,
        laid_cells,
        module_path,
        own,
        turned_use,
        whereabouts,
        with_uses,
        without_uses,
    )
    from tickwright.plan.reading import ASKS, WIDENED, read_expectation
    from tickwright.plan.renaming import with_new_name
    from tickwright.plan.setup import Setup
    from tickwright.plan.writing import chart_text

__all__ = [
    "ASKS",
    "LARGEST_PLAN_BYTES",
    "SHELF",
    "WIDENED",
    "Bill",
    "BillLine",
    "Chart",
    "Expectation",
    "Machine",
    "Plan",
    "PlanPort",
    "Prices",
    "Setup",
    "Stimulus",
    "Use",
    "apply_edits",
    "chart_text",
    "crop",
    "dumps",
    "examples_folder",
    "inner_cell",
    "inner_part",
    "inner_side",
    "join",
    "laid_cells",
    "lay",
    "load",
    "load_prices",
    "loads",
    "mirror",
    "module_path",
    "move",
    "own",
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
    "turned_use",
    "validate",
    "whereabouts",
    "with_changes",
    "with_new_name",
    "with_uses",
    "without_uses",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "bill": ("Bill", "BillLine", "Prices", "load_prices", "priced_bill", "read_prices"),
        "modules": (
            "SHELF",
            "inner_cell",
            "inner_part",
            "inner_side",
            "laid_cells",
            "module_path",
            "own",
            "turned_use",
            "whereabouts",
            "with_uses",
            "without_uses",
        ),
        "edits": ("apply_edits", "crop", "join", "lay", "mirror", "move", "place", "remove", "repeat", "rotate"),
        "renaming": ("with_new_name",),
        "setup": ("Setup",),
        "writing": ("chart_text",),
        "reading": ("ASKS", "WIDENED", "read_expectation"),
    },
)
