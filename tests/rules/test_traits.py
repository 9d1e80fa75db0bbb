"""The traits of every kind, against the rules' own sentences: what each gives, powers, hears and carries.

The table is written from the page of rules, a line for each kind, and not from the rows that it checks.
"""

from __future__ import annotations

import pytest

from tickwright.errors import PartError
from tickwright.kinds import BEHAVIOURS, PARTS, Part, parse_part
from tickwright.rules import load_rules
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.power import gives, powers
from tickwright.space import DIRECTIONS

NONE, ALL = "", "north south east west up down"
# part -> sides on which it gives to what listens; sides on which it powers a conducting cell strongly
GIVES = {
    "block": (NONE, NONE), "insulator": (NONE, NONE), "lamp": (NONE, NONE), "power-block": (ALL, NONE),
    "wire": (NONE, NONE), "repeater east": ("east", "east"), "comparator east": ("east", "east"),
    "torch": ("north south east west up", "up"), "torch on=east": ("north south west up down", "up"),
    "lever on=east": (ALL, "east"), "short-button on=up": (ALL, "up"), "long-button": (ALL, "down"),
    "item-plate": (ALL, "down"), "tread-plate": (ALL, "down"), "counting-plate": (ALL, "down"),
    "change-sensor up": ("up", "up"), "piston east": (NONE, NONE), "pull-piston east": (NONE, NONE),
    "hopper": (NONE, NONE), "ejector east": (NONE, NONE), "crate": (NONE, NONE),
}  # fmt: skip


@pytest.mark.parametrize("text", GIVES)
def test_what_a_part_gives_and_powers(text):
    geometry = Geometry({(0, 0, 0): Stand(parse_part(text))}, load_rules())
    given, strongly = GIVES[text]
    assert {side for side in DIRECTIONS if gives(geometry, (0, 0, 0), side)} == set(given.split())
    assert {side for side in DIRECTIONS if powers(parse_part(text), side)} == set(strongly.split())


def test_the_table_names_every_kind():
    assert {text.split()[0] for text in GIVES} == set(PARTS)
    assert {kind.behaviour for kind in PARTS.values()} == set(BEHAVIOURS)


CARRIES = [
    ("piston up", "rest", "up", False), ("piston up", "rest", "east", True), ("piston east", "rest", "up", True),
    ("piston east", "out", "up", False), ("pull-piston east", "back", "up", False), ("block", "rest", "up", True),
    ("block", "moving", "up", False), ("wire", "rest", "up", False), ("lamp", "rest", "down", True),
    ("insulator", "rest", "up", True), ("repeater east", "rest", "up", False), ("piston east", "arm", "up", False),
]  # fmt: skip


@pytest.mark.parametrize(("text", "posture", "side", "carries"), CARRIES)
def test_what_carries(text, posture, side, carries):
    geometry = Geometry({(0, 0, 0): Stand(parse_part(text), posture)}, load_rules())
    assert geometry.carries((0, 0, 0), side) == carries


def test_a_kind_that_there_is_not_is_refused_by_its_name():
    with pytest.raises(PartError, match='There is no part "slow-lmp"'):
        parse_part("slow-lmp")
    with pytest.raises(KeyError, match="slow-lmp"):
        Geometry({(0, 0, 0): Stand(Part("slow-lmp"))}, load_rules()).fan_in((0, 0, 0))
