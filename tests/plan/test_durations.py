"""Durations in words: whole minutes and hours as such, and what is written is read as it was meant."""

from __future__ import annotations

import pytest

from tickwright.durations import duration_text, parse_duration


@pytest.mark.parametrize(
    ("steps", "text"),
    [(0, "0 s"), (1, "0.05 s"), (1_180, "59 s"), (1_200, "1 min"), (24_000, "20 min"), (24_020, "1201 s"),
     (72_000, "1 h"), (144_000, "2 h"), (108_000, "90 min")],
)  # fmt: skip
def test_a_duration_is_told_in_the_largest_unit_that_is_whole(steps, text):
    assert duration_text(steps) == text
    assert parse_duration(text) == steps
