"""The table of the smallest designs: its ranges follow on one another, each hold is run, and the chooser agrees."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tickwright import Wish, choose
from tickwright.design import catalogue, table
from tickwright.design.families import hopper_timer, pulse_shortener
from tickwright.design.table import Range, table_ranges, table_text

LAST = 40
ITEM_STEPS = 8


@pytest.fixture(autouse=True)
def shorter(monkeypatch):
    """The first six seconds, in several calls."""
    monkeypatch.setattr(table, "LAST_TICK", LAST)
    monkeypatch.setattr(table, "TOGETHER", 25)


@pytest.fixture(name="wrong")
def wrong_model(monkeypatch):
    """The model of the hopper timer says an item too much."""
    model = hopper_timer.hold_steps
    monkeypatch.setattr(hopper_timer, "hold_steps", lambda *numbers: model(*numbers) + ITEM_STEPS)


def holds(ranges: list[Range]) -> list[int]:
    """Every hold that a range covers, in ticks."""
    return [ticks for found in ranges for ticks in range(found.first_ticks, found.last_ticks + 1)]


def test_every_hold_is_in_one_range():
    ranges = list(table_ranges("short-button"))
    assert holds(ranges) == list(range(1, LAST + 1))
    assert [found.refuted for found in ranges] == [0] * len(ranges)
    assert all((one.family, one.sort) != (after.family, after.sort) for one, after in pairwise(ranges))


def test_the_smallest_is_the_chooser_s_smallest():
    for found in table_ranges("short-button"):
        for ticks in {found.first_ticks, found.last_ticks}:
            best = min(choose(Wish(2 * ticks)).designs, key=lambda design: (design.parts, design.volume))
            assert best.family == found.family
            assert found.parts[0] <= best.parts <= found.parts[1]
            assert found.volume[0] <= best.volume <= found.volume[1]


def test_every_hold_is_run(monkeypatch):
    from tickwright.design.trials import Trials

    run: list[str] = []
    honest = Trials.holds

    def counted(self, plans, most_steps):
        run.extend(plan.title for plan in plans)
        return honest(self, plans, most_steps)

    monkeypatch.setattr(Trials, "holds", counted)
    assert len(holds(list(table_ranges("lever")))) == LAST
    assert len(run) == LAST


@pytest.mark.usefixtures("wrong")
def test_a_model_that_is_wrong_is_caught_by_the_run_and_the_next_design_taken():
    found = list(table_ranges("short-button"))
    assert not [row for row in found if row.family == "hopper timer"]
    assert sum(row.refuted for row in found) > 0
    for row in found:
        for ticks in {row.first_ticks, row.last_ticks} if row.refuted else ():
            assert row.family in {design.family for design in choose(Wish(2 * ticks)).designs}


@pytest.mark.usefixtures("wrong")
def test_a_hold_whose_designs_all_fail_is_in_no_range_and_the_text_says_so(monkeypatch):
    monkeypatch.setattr(catalogue, "_MODULES", (pulse_shortener, hopper_timer))
    ranges = list(table_ranges("short-button"))
    assert holds(ranges) == list(range(1, 12))  # nothing cuts 10 ticks short to more than 9; a lamp adds 2
    text = table_text()
    assert f"11 of {LAST} holds have a design, each run with that very hold." in text
    assert "Smaller plans passed over, since a run showed another hold than their model: 0." in text


def test_a_gap_parts_two_ranges(monkeypatch):
    from tickwright.design.trials import Trials

    honest = Trials.holds
    monkeypatch.setattr(catalogue, "_MODULES", (pulse_shortener,))
    monkeypatch.setattr(Trials, "holds", lambda *args: [None if held == 10 else held for held in honest(*args)])
    ranges = list(table_ranges("short-button"))
    assert [(found.first_ticks, found.last_ticks) for found in ranges] == [(1, 4), (6, 11)]


def test_the_text_has_a_section_for_each_trigger_and_stops_when_told():
    told: list[str] = []

    def stop(text: str) -> bool:
        told.append(text)
        return len(told) > 1

    text = table_text(stop)
    assert told == [f"short-button, 0 of {LAST} holds", f"short-button, 25 of {LAST} holds"]
    assert [line for line in text.splitlines() if line.startswith("## ")] == [
        "## short-button", "## long-button", "## lever",
    ]  # fmt: skip
    assert "| 1 tick (0.1 s) to" in text
    assert f"Stopped before the end. 25 of {LAST} holds have a design" in text
    assert f"Stopped before the end. 0 of {LAST} holds have a design" in text


def test_a_range_is_a_record():
    found = next(iter(table_ranges("lever")))
    assert isinstance(found, Range)
    assert (found.trigger, found.first_ticks) == ("lever", 1)
