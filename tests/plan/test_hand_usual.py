"""What the hand can do in a cell: the usual act is that of what is there then; and what can never be done there."""

from __future__ import annotations

import pytest

from tickwright import loads, run
from tickwright.errors import UsageError

PLAN = loads("""format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", L = "lamp"}
layer = [{rows = "###"}, {rows = "b.L"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [2, 0, 1]}
""")


def test_a_lever_placed_on_the_way_is_flipped():
    done = run(PLAN, ["3:1,0,1:place=lever", "5:1,0,1", "9:1,0,1"], 30)
    assert done.trace.changes["lamp"] == ((0, 0), (5, 15), (13, 0))


def test_a_button_that_is_gone_is_not_pressed_and_drops_nothing():
    done = run(PLAN, ["3:press:clear", "5:press"], 30)
    assert done.trace.changes["lamp"] == ((0, 0),)
    assert [finding.code for finding in done.findings] == ["act-refused"]
    assert done.findings[0].message == '"press" at (0, 0, 1) did nothing: the cell is empty now.'


@pytest.mark.parametrize(
    "script",
    [
        ("3:press:clear", "5:press:drop"),
        ("3:0,0,0:clear", "5:0,0,1:drop"),  # the button stands on it
        ("3:2,0,0:clear", "5:2,0,0:tread"),
        ("3:1,0,1:place=wire", "5:1,0,0:clear", "7:1,0,1:drop"),
    ],
)
def test_what_an_open_cell_takes_may_be_done_where_a_cell_may_come_to_be_open(script):
    assert "act-refused" not in {finding.code for finding in run(PLAN, script, 30).findings}


def test_a_piston_that_is_placed_may_open_a_cell_and_what_is_still_there_then_refuses():
    refused = run(PLAN, ["3:2,0,2:place=piston down", "5:2,0,1:drop"], 30).findings[-1]
    assert (refused.code, refused.message) == ("act-refused", '"drop" at (2, 0, 1) did nothing: a lamp is there now.')


@pytest.mark.parametrize(
    ("script", "message"),
    [
        (["5:2,0,1:drop"], 'A lamp at (2, 0, 1) cannot take "drop" (in "5:2,0,1:drop"): it takes clear, place.'),
        (["3:1,0,0:clear", "5:2,0,1:drop"], 'A lamp at (2, 0, 1) cannot take "drop" (in "5:2,0,1:drop"): it takes'),
        (["3:2,0,1:place=ejector east", "5:2,0,1:tread"], 'A lamp at (2, 0, 1) cannot take "tread"'),
        (["5:1,0,1:flip"], 'An open cell at (1, 0, 1) cannot take "flip"'),
    ],
)
def test_what_no_part_that_can_come_to_be_there_takes_is_refused(script, message):
    with pytest.raises(UsageError) as caught:
        run(PLAN, script, 30)
    assert str(caught.value).startswith(message)
