"""The usual act is that of what is in the cell when it comes to it."""

from __future__ import annotations

from tickwright import loads, run

PLAN = loads("""format = "tickwright plan 1"
key = {"#" = "block", b = "short-button", w = "wire", L = "lamp"}
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
