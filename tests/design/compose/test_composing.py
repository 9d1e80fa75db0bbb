"""Briefs composed, placed and proved, with the runs that stand for them in the list of briefs (steps by hand)."""

from __future__ import annotations

import pytest
from played import spans

from tickwright.design.compose import compose, load_brief, read_brief
from tickwright.plan import examples_folder

BRIEFS = examples_folder() / "briefs"


@pytest.fixture(scope="module")
def ferry():
    return compose(load_brief(BRIEFS / "ferry-gate.toml"), seed=0, minutes=30)


FERRY = {
    "gate": [(40, 280)],
    "bell": [(40, 44), (60, 64), (80, 84)],
    "lamp": [(6, 300)],
}


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_the_ferry_gate_is_exact_and_quiet_from_step_0(ferry, rules):
    assert ferry.composed
    assert spans(ferry.plan, [(0, "press")], 60, 400, rules) == FERRY
    assert all(not one for one in spans(ferry.plan, [], 0, 400, rules).values())


def test_the_ferry_gate_fits_in_36_by_26_cells_of_ground(ferry):
    x, y, _ = ferry.plan.size
    assert x * y <= 36 * 26


def test_the_ferry_gate_is_proved_for_all_presses(ferry):
    assert ferry.proof.verdict == "proved"
    assert ferry.proof.states > 1000


def test_no_fourth_bell_whatever_comes_between(ferry):
    seen = spans(ferry.plan, [(0, "press"), (288, "press"), (320, "press")], 60, 800)
    assert [begin for begin, _ in seen["bell"]] == [40, 60, 80, 360, 380, 400]


@pytest.mark.parametrize(("second", "taken"), [(278, False), (299, False), (300, True), (301, True)])
def test_a_press_counts_again_at_lamp_off_to_the_step(ferry, second, taken):
    seen = spans(ferry.plan, [(0, "press"), (second, "press")], 60, 800)
    assert seen["lamp"][1:] == ([(second + 6, second + 300)] if taken else [])


TWO = """format = "tickwright brief 1"
rules = ["standard", "older-wire"]
[inputs]
call = {part = "short-button"}
shut = {part = "long-button"}
[outputs]
lamp = {drives = "lamp"}
door = {drives = "piston-door"}
[[chart]]
shows = ["lamp: off from call + 1 s for 3 s", "door: on from shut + 1 s for 2 s", "shut: ignored until door off"]
"""


@pytest.fixture(scope="module")
def two():
    return compose(read_brief(TWO), seed=1, minutes=30)


def test_a_light_that_rests_on_and_a_door_keep_their_spans_and_are_proved(two):
    assert two.composed
    assert two.proof.verdict == "proved"
    assert two.plan.part_outputs == {"door"}
    assert "door: off from shut + 1 s for 2 s" in two.plan.charts[0].shows
    assert spans(two.plan, [(0, "call")], 60, 200)["lamp"] == [(20, 80)]
    seen = {claim.name: claim.seen for claim in two.verdicts[0].claims}
    shut_at = two.verdicts[0].played.timeline.worked["shut"][0]
    assert seen["door"] == ((shut_at + 20, shut_at + 60),)


def test_two_triggers_within_a_fifth_of_a_second_do_not_disturb_each_other(two):
    alone = spans(two.plan, [(0, "call")], 60, 200)["lamp"]
    for apart in range(5):
        assert spans(two.plan, [(0, "call"), (apart, "shut")], 60, 200)["lamp"] == alone


def test_a_room_with_fixed_places_and_blocked_cells_is_kept():
    text = TWO.replace("[inputs]", "room = {size = [40, 40, 6], blocked = [[3, 3, 1]]}\n[inputs]")
    text = text.replace('call = {part = "short-button"}', 'call = {part = "short-button", at = [0, 16, 1]}')
    text = text.replace('lamp = {drives = "lamp"}', 'lamp = {drives = "lamp", at = [39, 4, 1]}')
    found = compose(read_brief(text), seed=1, minutes=30, proof=False)
    assert found.composed
    assert found.plan.triggers["call"] == (0, 16, 1)
    assert found.plan.outputs["lamp"] == (39, 4, 1)
    assert (3, 3, 1) not in found.plan.cells
    assert all(x < 40 and y < 40 and z < 6 for x, y, z in found.plan.cells)


PULSES = """format = "tickwright brief 1"
inputs = {press = {part = "short-button"}}
outputs = {lamp = {drives = "lamp"}, horn = {drives = "line"}}
[[chart]]
shows = [
  "lamp: 5 pulses of 0.5 s every 1.2 s from press + 1.5 s",
  "horn: 2 pulses of 0.3 s every 1 s from press + 1 s",
]
"""


def test_pulses_of_each_length_keep_it_whichever_set_begins_them():
    found = compose(read_brief(PULSES), seed=0, minutes=30)
    assert found.composed
    assert found.proof.verdict == "proved"
    seen = spans(found.plan, [(0, "press")], 60, 300)
    assert seen["lamp"] == [(30 + 24 * n, 40 + 24 * n) for n in range(5)]
    assert seen["horn"] == [(20, 26), (40, 46)]
