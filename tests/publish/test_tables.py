"""CSV read back by the standard reader."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

from tickwright.engine.trace import Trace
from tickwright.kinds import parse_part
from tickwright.plan import Plan, priced_bill
from tickwright.publish import bill_csv, levels_csv


def test_levels_have_a_row_for_each_change_and_for_the_ends():
    trace = Trace(50, {"lamp": ((0, 0), (4, 15), (20, 0)), "bell": ((0, 3), (20, 4))})
    rows = list(csv.DictReader(io.StringIO(levels_csv(trace))))
    assert [(row["step"], row["seconds"], row["lamp"], row["bell"]) for row in rows] == [
        ("0", "0", "0", "3"), ("4", "0.2", "15", "3"), ("20", "1", "0", "4"), ("49", "2.45", "0", "4"),
    ]  # fmt: skip


def test_the_bill_ends_with_its_total():
    plan = Plan({(x, 0, 0): parse_part("lamp" if x else "block") for x in range(3)})
    bill = priced_bill(plan, {"lamp": Decimal("2.50"), "block": Decimal("0.10")})
    assert bill_csv(bill).splitlines() == [
        "part,number,price,cost", "lamp,2,2.50,5.00", "block,1,0.10,0.10", "total,3,,5.10",
    ]  # fmt: skip
