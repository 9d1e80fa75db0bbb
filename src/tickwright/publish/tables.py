"""Tables of a run and of a plan as CSV (RFC 4180, but with line ends of one character): levels and bills."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from tickwright.durations import STEPS_PER_SECOND
from tickwright.engine.trace import Trace
from tickwright.plan.bill import Bill


def levels_csv(trace: Trace) -> str:
    r"""The trace as CSV: a row for step 0, for each step at which a value changes, and for the last step.

    Columns: step, seconds from the start of the run at full speed, then each name as the trace orders them, with the
    value at the end of that step.

    >>> levels_csv(Trace(40, {"lamp": ((0, 0), (4, 15), (20, 0))}))
    'step,seconds,lamp\n0,0,0\n4,0.2,15\n20,1,0\n39,1.95,0\n'
    """
    steps = sorted({0, trace.steps - 1, *(step for changes in trace.changes.values() for step, _ in changes)})
    rows = (
        (step, f"{step / STEPS_PER_SECOND:g}", *(trace.value_at(name, step) for name in trace.names)) for step in steps
    )
    return _text([("step", "seconds", *trace.names), *rows])


def bill_csv(bill: Bill) -> str:
    """The bill as CSV: a row for each kind of part, the items and the total; columns part, number, price, cost."""
    rows: list[tuple[object, ...]] = [(line.kind, line.number, line.price, line.cost) for line in bill.lines]
    items = [("items", bill.items, "", "")] if bill.items else []
    return _text([("part", "number", "price", "cost"), *rows, *items, ("total", bill.number, "", bill.total)])


def _text(rows: Iterable[Iterable[object]]) -> str:
    file = io.StringIO()
    csv.writer(file, lineterminator="\n").writerows(rows)
    return file.getvalue()
