"""How large a plan and its names may be, and the check of it that edits and saving share."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeVar

from tickwright.errors import PlanError
from tickwright.plan.cells import MOST_ALONG, Cells
from tickwright.space import cell_text

if TYPE_CHECKING:
    from tickwright.plan.model import Plan

    Checked = TypeVar("Checked", bound=Plan)

MOST_PARTS = 10_000_000
LONGEST_NAME = 64
NAME = re.compile(rf"[A-Za-z0-9_-]{{1,{LONGEST_NAME}}}")  # of a trigger, an output, a module


def check_limits(plan: Checked) -> Checked:
    """The same plan, if its grid starts at (0, 0, 0) and is within the limits; else raises PlanError."""
    laid = () if isinstance(plan.cells, Cells) else plan.cells  # codes hold no cell outside the grid
    for cell in (*laid, *plan.triggers.values(), *plan.outputs.values()):
        if min(cell) < 0:
            raise PlanError(
                f"The cell {cell_text(cell)} lies outside the grid, which starts at (0, 0, 0): move the plan east, "
                "south or up first."
            )
    for axis, length, most in zip("xyz", plan.size, MOST_ALONG, strict=True):
        if length > most:
            raise PlanError(f"The plan would be {length:,} cells along {axis}: the most is {most:,}; split it.")
    if len(plan.cells) > MOST_PARTS:
        raise PlanError(f"The plan would have {len(plan.cells):,} parts: the most is {MOST_PARTS:,}; split it.")
    return plan
