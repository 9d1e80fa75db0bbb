"""Bills by the user's own prices."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_texts import LANDING

from tickwright.errors import PlanError
from tickwright.plan import BillLine, load_prices, loads, priced_bill, read_prices

PRICES = """\
# what the harbour stores ask
[prices]
block = 0.10
wire = 0.3
repeater = 3
comparator = 4.25
short-button = 0
"""
NUMBER = "write a number from 0 to 1,000,000,000 with at most 6 decimals."


def test_without_prices_each_part_costs_one():
    bill = priced_bill(loads(LANDING))
    assert bill.lines[0] == BillLine("block", 4, Decimal(1), Decimal(4))
    assert [line.kind for line in bill.lines] == ["block", "comparator", "repeater", "short-button", "wire"]
    assert (bill.number, bill.total) == (8, 8)


def test_prices_are_added_exactly():
    bill = priced_bill(loads(LANDING), read_prices(PRICES))
    assert [str(line.cost) for line in bill.lines] == ["0.40", "4.25", "3", "0", "0.3"]
    assert str(bill.total) == "7.95"


def test_a_part_without_a_price_is_not_guessed():
    with pytest.raises(PlanError) as caught:
        priced_bill(loads(LANDING), read_prices("[prices]\nwire = 1\n"))
    assert str(caught.value) == "The price table has no price for block, of which the plan takes 4: add block = ..."


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "line 1, column 1: The price table has no [prices]: write [prices] and under it kind = number."),
        ("prices = 3", "line 1, column 1: The price table has no [prices]: write [prices] and under it kind = number."),
        ("wire = 3", 'line 1, column 1: A price table has no "wire": write the prices under [prices].'),
        ("[prices]\nwier = 3", 'line 2, column 1: There is no part "wier" to price. Did you mean "wire"?'),
        (
            '[prices]\nwire = "3"',
            'line 2, column 1: The price of wire is "3": ' + NUMBER,
        ),
        (
            "[prices]\nlamp = 1\nwire = -0.5",
            "line 3, column 1: The price of wire is -0.5: " + NUMBER,
        ),
        (
            "[prices]\nwire = nan",
            "line 2, column 1: The price of wire is NaN: " + NUMBER,
        ),
        (
            "[prices]\nwire = true",
            "line 2, column 1: The price of wire is true: " + NUMBER,
        ),
        (
            "[prices\n",
            (
                "line 1, column 8: This is not TOML (Expected ']' at the end of a table declaration), [prices: "
                'a line is a [table], a # comment, or name = value with text in quotes, such as "w" = "wire".'
            ),
        ),
    ],
)
def test_a_wrong_price_table_is_answered_with_its_place(text, message):
    with pytest.raises(PlanError) as caught:
        read_prices(text)
    assert str(caught.value) == message


def test_price_files(tmp_path):
    path = tmp_path / "prices.toml"
    path.write_text(PRICES, encoding="utf-8")
    assert load_prices(path)["comparator"] == Decimal("4.25")
    path.write_text("[prices]\nwire = inf\n", encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        load_prices(path)
    assert str(caught.value).startswith(f"{path}, line 2, column 1: The price of wire is Infinity: write")
    with pytest.raises(PlanError, match="There is no file"):
        load_prices(tmp_path / "none" / "prices.toml")


@given(st.text("0123456789.e-+_xinfa", max_size=20))
def test_any_number_is_a_price_or_one_error(word):
    try:
        prices = read_prices(f"[prices]\nwire = {word}\n")
    except PlanError as error:
        line = error.line
    else:
        line = None
        assert 0 <= prices["wire"] <= 10**9
    assert line in (None, 2)
