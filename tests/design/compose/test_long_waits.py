"""Long waits after a press: rings that fade, one behind the other; the steps by hand."""

from __future__ import annotations

import pytest

from tickwright.design.compose import compose, load_brief, read_brief
from tickwright.design.compose.planning import network_of
from tickwright.engine import run
from tickwright.plan import examples_folder

SHOW = """format = "tickwright brief 1"
rules = ["standard", "older-wire"]
inputs = {press = {part = "short-button"}}
outputs = {lamp = {drives = "lamp"}, bell = {drives = "line"}}
[[chart]]
shows = ["lamp: on from press + 0.6 s for 50 s", "bell: on from press + 30 s for 1 s", "press: ignored until lamp off"]
"""


@pytest.fixture(scope="module")
def show():
    return compose(read_brief(SHOW), seed=1, minutes=30, proof=False)


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_outputs_that_come_long_after_the_press_are_exact(show, rules):
    assert show.composed
    for again in (None, 300, 1011, 1012, 1013):
        acts = ["60:press"] if again is None else ["60:press", f"{60 + again}:press"]
        changes = run(show.plan, acts, 2300, rules, engine="fast").trace.changes
        began = [0] if again is None or again < 1012 else [0, again]
        lamp = [step - 60 for step, _ in changes["lamp"][1:]]
        bell = [step - 60 for step, value in changes["bell"] if step and bool(value)]
        assert lamp == [edge for at in began for edge in (at + 12, at + 1012)]
        assert bell[0] == 600
        assert [at + 600 for at in began] == [step for step in bell if step in (600, 600 + (again or 0))]


def test_ten_minutes_take_rings_of_comparators_and_not_a_repeater_for_each_0_4_s():
    network = network_of(load_brief(examples_folder() / "briefs" / "beacon.toml"))
    rings = [name for name in network.made if "ring" in name]
    parts = [part for made in network.made.values() for part in made.tile.plan.cells.values()]
    acting = sum(part.kind in ("comparator", "repeater") for part in parts)
    assert len(rings) > 3
    assert acting < 11832 // 24


def test_the_long_waits_of_eight_outputs_follow_one_another_and_none_is_made_twice():
    network = network_of(load_brief(examples_folder() / "briefs" / "evening-show.toml"))
    (program,) = network.programs
    waits = [tap for tap in program.taps if tap.source]
    assert len(waits) == 5
    assert [program.taps.index(tap) > tap.base for tap in waits] == [True] * 5
    bases = [program.taps[tap.base].step for tap in waits]
    assert bases[1:] == [tap.step for tap in waits[:-1]]  # each counts from the end of the one before
    assert sum(tap.fixed_steps for tap in waits) < 12_040  # all together last no longer than the longest
    assert network.ready == {"press": 12_040}
