"""The table of the smallest designs: its ranges follow on one another, and name what the chooser finds."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tickwright import Wish, choose
from tickwright.design import table
from tickwright.design.table import Range, table_ranges, table_text

LAST = 60


@pytest.fixture(autouse=True)
def shorter(monkeypatch):
    """The first three seconds are run whole, of the second three some."""
    monkeypatch.setattr(table, "LAST_TICK", LAST)
    monkeypatch.setattr(table, "ALL_RUN_TICKS", LAST // 2)


def test_every_hold_is_in_one_range_and_the_first_are_all_run():
    ranges = list(table_ranges("short-button"))
    assert (ranges[0].first_ticks, ranges[-1].last_ticks) == (1, LAST)
    assert all(after.first_ticks == before.last_ticks + 1 for before, after in pairwise(ranges))
    for found in ranges:
        count = found.last_ticks - found.first_ticks + 1
        assert 1 <= found.runs <= count
        if found.last_ticks <= LAST // 2:
            assert found.runs == count


def test_the_smallest_is_the_chooser_s_smallest():
    for found in table_ranges("short-button"):
        for ticks in {found.first_ticks, found.last_ticks}:
            best = min(choose(Wish(2 * ticks)).designs, key=lambda design: (design.parts, design.volume))
            assert best.family == found.family
            assert found.parts[0] <= best.parts <= found.parts[1]
            assert found.volume[0] <= best.volume <= found.volume[1]


def test_a_model_that_is_wrong_is_found(monkeypatch):
    monkeypatch.setattr(table, "_holds", lambda _: False)
    monkeypatch.setattr(table, "ALL_RUN_TICKS", 0)
    with pytest.raises(AssertionError, match="the naive model of pulse shortener is wrong"):
        list(table_ranges("short-button"))


def test_the_text_has_a_section_for_each_trigger_and_stops_when_told():
    told: list[str] = []

    def stop(text: str) -> bool:
        told.append(text)
        return len(told) > 1

    text = table_text(stop)
    assert [line for line in text.splitlines() if line.startswith("## ")] == [
        "## short-button", "## long-button", "## lever",
    ]  # fmt: skip
    assert "| 1 tick (0.1 s) to" in text


def test_a_range_is_a_record():
    found = next(iter(table_ranges("lever")))
    assert isinstance(found, Range)
    assert (found.trigger, found.first_ticks) == ("lever", 1)
