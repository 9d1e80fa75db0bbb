"""Edges of claims that are moved: the numbers that change, and all that stays as it is written. By hand."""

from __future__ import annotations

import pytest

from tickwright import TickwrightError
from tickwright.charts import Timeline, Wave, edges_of, moved, parse_claim
from tickwright.charts.notation import Names

NAMES = Names(("press",), ("lamp", "bell"), {})


@pytest.mark.parametrize(
    ("text", "clause", "side", "by", "then"),
    [
        ("lamp: on from press for 1 s", 0, "end", 4, "lamp: on from press for 1.2 s"),
        ("lamp: on from press for 1 s", 0, "begin", 4, "lamp: on from press + 0.2 s for 0.8 s"),
        ("lamp: on from press + 4 steps for 1 s", 0, "begin", -4, "lamp: on from press for 1.2 s"),
        ("lamp: on from press + 1 tick for 8 ticks", 0, "end", 1, "lamp: on from press + 1 tick for 0.85 s"),
        ("lamp: on from press + 1 tick for 8 ticks", 0, "end", -14, "lamp: on from press + 1 tick for 1 tick"),
        ("lamp: on from 2 s for good", 0, "begin", -40, "lamp: on from 0 for good"),
        ("lamp: on from 0 until bell off", 0, "end", 1, "lamp: on from 0 until bell off + 0.05 s"),
        ("lamp: on from 0 until bell off + 1 step", 0, "end", -2, "lamp: on from 0 until bell off - 1 step"),
        (
            "lamp: on from press for 1 s; on from 2nd press + 1 s if bell on for 2 s, give or take 1 tick",
            1,
            "begin",
            20,
            "lamp: on from press for 1 s; on from 2nd press + 2 s if bell on for 1 s, give or take 1 tick",
        ),
        ("bell: 3 pulses of 2 s every 3 s from 0", 0, "begin", 2, "bell: 3 pulses of 2 s every 3 s from 0.1 s"),
        ("bell: 3 pulses of 2 s every 3 s from press", 0, "end", 2, "bell: 3 pulses of 2.1 s every 3 s from press"),
    ],
)  # fmt: skip
def test_an_edge_moved(text, clause, side, by, then):
    assert moved(text, NAMES, clause, side, by) == then
    # Back again it says the same, if not always in the same unit.
    assert parse_claim(moved(then, NAMES, clause, side, -by), NAMES).clauses == parse_claim(text, NAMES).clauses


@pytest.mark.parametrize(
    ("text", "side", "by", "message"),
    [
        ("lamp: on from press for 2 steps", "end", -2, "lasts at least one step"),
        ("lamp: on from press for 2 steps", "begin", 2, "lasts at least one step"),
        ("lamp: on from 1 step for 2 s", "begin", -2, "Nothing comes before time 0"),
        ("lamp: on from press for good", "end", 2, "has no end there"),
        ("lamp: on form press for good", "end", 2, "cannot stand"),
    ],
)
def test_what_cannot_be_moved_is_said(text, side, by, message):
    with pytest.raises(TickwrightError, match=message):
        moved(text, NAMES, 0, side, by)


def test_the_edges_of_a_run():
    line = Timeline(100, {"lamp": Wave(False), "bell": Wave(False)}, worked={"press": (0, 50)})
    texts = ("lamp: on from press + 2 steps for 5 steps", "bell: 2 pulses of 2 steps every 6 steps from 2nd press")
    edges = edges_of([parse_claim(text, NAMES) for text in texts], line)
    assert [(edge.claim, edge.side, edge.nth, edge.step, edge.least, edge.most) for edge in edges] == [
        (0, "begin", 0, 2, 0, 6),
        (0, "end", 0, 7, 3, None),
        (0, "begin", 1, 52, 0, 56),
        (0, "end", 1, 57, 53, None),
        (1, "begin", 0, 50, 0, None),
        (1, "end", 0, 52, 51, 55),
    ]
