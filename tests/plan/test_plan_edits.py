"""Edits: what they give, what they refuse, and what turning and mirroring back undoes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_texts import LANDING, plans

from tickwright.errors import PlanError
from tickwright.kinds import parse_part
from tickwright.plan import (
    Expectation,
    Plan,
    crop,
    dumps,
    join,
    loads,
    mirror,
    move,
    place,
    remove,
    repeat,
    rotate,
    validate,
)
from tickwright.rules import load_rules

BLOCK, WIRE = parse_part("block"), parse_part("wire")


def refused(edit, *arguments, **named) -> str:
    with pytest.raises(PlanError) as caught:
        edit(*arguments, **named)
    return str(caught.value)


@pytest.fixture
def landing() -> Plan:
    return loads(LANDING)


def test_placing_and_removing(landing):
    lit = place(landing, (4, 0, 0), parse_part("lamp"))
    assert lit.cells[4, 0, 0].kind == "lamp"
    assert lit.size == (5, 1, 2)
    assert landing.size == (4, 1, 2)
    assert remove(lit, (4, 0, 0)).cells == landing.cells
    assert place(landing, (0, 0, 0), WIRE).cells[0, 0, 0] == WIRE
    assert refused(remove, landing, (9, 0, 0)) == "The cell (9, 0, 0) is empty: there is no part to remove."
    assert refused(place, landing, (-1, 0, 0), WIRE) == (
        "The cell (-1, 0, 0) lies outside the grid, which starts at (0, 0, 0): move the plan east, south or up first."
    )
    assert (
        refused(place, landing, (0, 0, 256), WIRE) == "The plan would be 257 cells along z: the most is 256; split it."
    )


def test_moving_takes_names_along(landing):
    moved = move(landing, (0, 0, 0), (2, 1, 3), last=(3, 0, 1))
    assert moved.cells == {(x + 2, y + 1, z + 3): part for (x, y, z), part in landing.cells.items()}
    assert (moved.triggers["press"], moved.outputs["lamp"]) == ((2, 1, 4), (5, 1, 4))
    one = move(landing, (3, 0, 1), (0, 0, 5))
    assert (one.cells[3, 0, 6], one.outputs["lamp"], one.triggers) == (WIRE, (3, 0, 6), landing.triggers)
    assert (3, 0, 1) not in one.cells
    along = move(landing, (3, 0, 1), (1, 0, 0), last=(0, 0, 0))  # corners in any order, over its own cells
    assert sorted(along.cells) == [(x + 1, y, z) for x, y, z in sorted(landing.cells)]


def test_moving_refuses_what_cannot_be(landing):
    assert refused(move, landing, (0, 0, 1), (1, 0, 0)) == (
        "In (1, 0, 1) a short-button would come to where a repeater stands: a cell holds one part; choose another "
        "offset, or remove one of them."
    )
    assert refused(move, landing, (7, 0, 0), (1, 0, 0)) == (
        "The cell (7, 0, 0) holds no part and no named cell: there is nothing to move."
    )
    assert refused(move, landing, (7, 0, 0), (1, 0, 0), last=(8, 0, 0)) == (
        "The box (7, 0, 0) to (8, 0, 0) holds no part and no named cell: there is nothing to move."
    )
    assert "The cell (-1, 0, 0) lies outside the grid" in refused(move, landing, (0, 0, 0), (-1, 0, 0))


def test_a_quarter_turn_is_clockwise(landing):
    turned = rotate(landing)
    assert turned.size == (1, 4, 2)
    assert turned.cells[0, 1, 1] == parse_part("repeater south delay=2")
    assert (turned.triggers["press"], turned.outputs["lamp"]) == ((0, 0, 1), (0, 3, 1))
    assert rotate(landing, -1) == rotate(landing, 3) == rotate(rotate(turned))
    validate(turned, load_rules())


def test_a_mirror_swaps_two_sides(landing):
    mirrored = mirror(landing, "x")
    assert mirrored.cells[2, 0, 1] == parse_part("repeater west delay=2")
    assert (mirrored.triggers["press"], mirrored.outputs["lamp"]) == ((3, 0, 1), (0, 0, 1))
    assert mirror(landing, "y") == landing
    assert refused(mirror, landing, "z") == (
        'A plan cannot be mirrored along "z": use x (east and west) or y (north and south).'
    )


@given(plans())
def test_turning_and_mirroring_back_undoes_it(plan):
    assert rotate(plan, 4) == plan
    turned = plan
    for _ in range(4):
        turned = rotate(turned)
    assert turned == plan
    for axis in ("x", "y"):
        assert mirror(mirror(plan, axis), axis) == plan
    assert mirror(mirror(plan, "x"), "y") == rotate(plan, 2)
    assert rotate(mirror(plan, "x")) == mirror(rotate(plan), "y")


@given(plans(), st.integers(0, 3), st.sampled_from(["x", "y"]))
def test_turning_and_mirroring_keep_the_bill_and_supports(plan, quarter_turns, axis):
    def outcome(one: Plan) -> bool:
        try:
            validate(replace(one, outputs={}, expectations=()), load_rules())
        except PlanError:
            return False
        return True

    other = mirror(rotate(plan, quarter_turns), axis)
    assert other.bill() == plan.bill()
    assert outcome(other) == outcome(plan)


def test_repeating_names_the_copies(landing):
    row = repeat(landing, "y", 3, 2)
    assert row.size == (4, 5, 2)
    assert len(row.cells) == 24
    assert dict(row.triggers) == {"press": (0, 0, 1), "press-2": (0, 2, 1), "press-3": (0, 4, 1)}
    assert row.outputs["lamp-3"] == (3, 4, 1)
    assert row.expectations[2] == Expectation("press-3", "lamp-3", hold_steps=20, within_steps=2)
    validate(row, load_rules())
    assert repeat(landing, "x", 1, 1) == landing
    assert repeat(landing, "z", 2, 2).cells[1, 0, 3].kind == "repeater"


def test_repeating_mirrored_turns_every_second_copy(landing):
    row = repeat(landing, "x", 3, 5, mirrored=True)
    assert [row.cells[x, 0, 1].facing for x in (1, 7, 11)] == ["east", "west", "east"]
    assert [row.triggers[name][0] for name in ("press", "press-2", "press-3")] == [0, 8, 10]
    assert refused(repeat, landing, "z", 2, 2, mirrored=True).startswith('A plan cannot be mirrored along "z"')


def test_repeating_refuses_what_cannot_be(landing, monkeypatch):
    assert refused(repeat, landing, "x", 2, 3) == (
        "In (3, 0, 0) a block would come to where a block stands: a cell holds one part; choose another offset, or "
        "remove one of them."
    )
    assert refused(repeat, landing, "east", 2, 3) == 'A plan cannot be repeated along "east": use x, y or z.'
    assert refused(repeat, landing, "x", 0, 3) == "The count is 0: repeating along x takes 1 to 4,096."
    assert refused(repeat, landing, "z", 2, 0) == "The pitch is 0: repeating along z takes 1 to 256."
    assert refused(repeat, landing, "x", 2000, 4) == (
        "The plan would be 8,000 cells along x: the most is 4,096; split it."
    )
    wide = Plan({(x, y, 0): BLOCK for x in range(40) for y in range(30)})
    monkeypatch.setattr("tickwright.plan.edits.MOST_PARTS", 2_000)
    assert refused(repeat, wide, "z", 2, 1) == "The plan would have over 2,000 parts, the most there may be: split it."
    long = Plan({(0, 0, 0): BLOCK}, triggers={"p" * 63: (0, 0, 0)})
    assert refused(repeat, long, "x", 2, 1) == (
        f'The name "{"p" * 63}-2" would have over 64 characters: shorten "{"p" * 63}" first.'
    )


def test_joining_lays_one_plan_beside_another(landing):
    bell = Plan({(0, 0, 0): parse_part("lamp")}, outputs={"lamp": (0, 0, 0), "lamp-2": (0, 0, 0)}, title="Bell")
    both = join(landing, bell, (5, 1, 0))
    assert both.cells[5, 1, 0].kind == "lamp"
    assert dict(both.outputs) == {"lamp": (3, 0, 1), "lamp-3": (5, 1, 0), "lamp-2": (5, 1, 0)}
    assert (both.title, both.size, both.source) == ("Gangway lamp", (6, 2, 2), LANDING)
    west = join(landing, bell, (-2, 0, 0))
    assert west.cells[0, 0, 0].kind == "lamp"
    assert (west.triggers["press"], west.size) == ((2, 0, 1), (6, 1, 2))
    assert refused(join, landing, bell, (1, 0, 1)).startswith("In (1, 0, 1) a lamp would come to where a repeater")
    assert refused(join, landing, replace(bell, rules="older-wire"), (9, 0, 0)) == (
        'The plans are under different rules, "standard" and "older-wire": give both the same.'
    )


@given(plans(), plans())
def test_names_of_joined_plans_stay_apart(first, second):
    both = join(replace(first, rules="standard"), replace(second, rules="standard"), (7, 0, 0))
    assert len(both.cells) == len(first.cells) + len(second.cells)
    assert len(both.triggers) == len(first.triggers) + len(second.triggers)
    assert len(both.outputs) == len(first.outputs) + len(second.outputs)
    shifted = {(x + 7, y, z) for x, y, z in second.triggers.values()}
    assert {both.triggers[one.trigger] for one in both.expectations[len(first.expectations) :]} <= shifted


def test_cropping_cuts_to_parts_and_names():
    plan = Plan({(2, 3, 4): BLOCK}, triggers={"rope": (4, 3, 4)}, size=(9, 9, 9))
    cut = crop(plan)
    assert (dict(cut.cells), dict(cut.triggers), cut.size) == ({(0, 0, 0): BLOCK}, {"rope": (2, 0, 0)}, (3, 1, 1))
    assert refused(crop, Plan({}, size=(3, 3, 3))) == (
        "The plan holds no part and no named cell: there is nothing to cut it to."
    )


def test_comments_outlive_edits(landing):
    text = dumps(repeat(rotate(landing), "x", 2, 3))
    assert loads(text).size == (4, 4, 2)
    for comment in ("# what is used at the landing", "# copper", "# the quay", "# along the rail", "# the end"):
        assert comment in text
