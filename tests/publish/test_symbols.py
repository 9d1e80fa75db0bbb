"""Symbols: one for every part however it faces, within its cell, told apart, and turned as the part is."""

from __future__ import annotations

from itertools import combinations

import pytest

from tickwright.kinds import PARTS, Part, parse_part, turned
from tickwright.publish.symbols import SYMBOLS, Shape, symbol, wire_symbol

KINDS = [kind for kind in PARTS if kind != "wire"]


def every_part() -> list[Part]:
    """Each kind, each way it may face, with each choice of its arguments, numbers of items left out."""
    found = []
    for kind in PARTS.values():
        for facing in kind.directions or (None,):
            part = Part(kind.name, facing)
            choices = [a for a in kind.arguments if a.name != "items"]
            found += [part._replace(**{a.name: value}) for a in choices for value in a.choices] or [part]
    return [part for part in found if part.kind != "wire"]


def reach(shape: Shape) -> list[tuple[float, float]]:
    """The corners of what a shape covers, strokes left out."""
    grow = shape.radius if shape.form == "circle" else shape.radius / 2 if shape.form == "text" else 0
    return [(x + dx, y + dy) for x, y in shape.points for dx in (-grow, grow) for dy in (-grow, grow)]


def test_the_table_of_parts_names_only_symbols_that_there_are():
    assert {PARTS[kind].symbol for kind in KINDS} <= set(SYMBOLS)


@pytest.mark.parametrize("part", every_part(), ids=str)
@pytest.mark.parametrize("posture", ["rest", "out", "arm"])
def test_a_symbol_stays_within_its_cell(part, posture):
    for on in (False, True):
        for shape in symbol(part, on, posture):
            assert all(-0.001 <= x <= 1.001 and -0.001 <= y <= 1.001 for x, y in reach(shape)), shape


def test_no_two_parts_look_alike():
    looks = {str(part): symbol(part) for part in every_part()}
    alike = [pair for pair in combinations(looks, 2) if looks[pair[0]] == looks[pair[1]]]
    assert {second for _, second in alike} == {text for text in looks if "thrown" in text}  # that shows when it is on
    assert symbol(parse_part("lever"), on=True) != symbol(parse_part("lever"))


@pytest.mark.parametrize("text", ["repeater east delay=3", "comparator north", "torch on=west", "piston south"])
def test_turning_a_part_turns_its_symbol(text):
    part = parse_part(text)
    for before, after in zip(symbol(part), symbol(turned(part, 1)), strict=True):
        assert after.points == tuple((round(1 - y, 4), x) for x, y in before.points)


@pytest.mark.parametrize("delay", [1, 2, 3, 4])
def test_a_repeater_has_a_stroke_for_each_tick(delay):
    upright = [
        shape
        for shape in symbol(Part("repeater", "east", delay=delay))
        if shape.form == "line" and len({x for x, _ in shape.points}) == 1
    ]
    assert len(upright) == delay


def test_a_comparator_says_what_it_does():
    assert [s.text for s in symbol(parse_part("comparator east")) if s.text] == ["≥"]
    assert [s.text for s in symbol(parse_part("comparator east mode=difference")) if s.text] == ["−"]


def test_what_shows_a_level_has_a_place_for_it():
    without = {"block", "insulator", "hopper", "crate"}
    for part in every_part():
        lit = [shape for shape in symbol(part) if "level" in (shape.fill, shape.stroke)]
        assert bool(lit) is (part.kind not in without), part


def test_a_wire_runs_where_it_joins_and_has_an_arrow_where_it_points():
    straight = wire_symbol(["east", "west"], ["east", "west"])
    ends = {shape.points[-1] for shape in straight if shape.stroke == "level"}
    assert ends == {(1.0, 0.5), (0.0, 0.5)}
    arrows = [shape for shape in straight if shape.form == "line" and len(shape.points) == 3]
    assert len(arrows) == 2
    alone = wire_symbol([], ["north", "south", "east", "west"])
    assert len([shape for shape in alone if shape.form == "line" and len(shape.points) == 3]) == 4
    corner = wire_symbol(["east", "south"], [])
    assert [shape for shape in corner if shape.form == "line" and len(shape.points) == 3] == []
    assert wire_symbol(["east"], ["east"], climbing=["east"]) != wire_symbol(["east"], ["east"])
    assert wire_symbol(["east"], ["east"], dropping=["east"]) != wire_symbol(["east"], ["east"])
