"""Symbols: one for every part however it faces, within its cell, told apart at 24 pixels, and turned as the part is."""

from __future__ import annotations

import io
from itertools import combinations

import pytest

from tickwright.kinds import PARTS, Part, parse_part, turned
from tickwright.publish import Drawing, Group, png_bytes
from tickwright.publish.canvas import rectangle
from tickwright.publish.drawing import square
from tickwright.publish.shapes import Shape
from tickwright.publish.shown import paint
from tickwright.publish.symbol_table import SYMBOLS
from tickwright.publish.symbols import side_symbol, symbol, wire_side_symbol, wire_symbol
from tickwright.publish.tokens import THEMES

KINDS = [kind for kind in PARTS if kind != "wire"]
STATES = [(on, posture) for on in (False, True) for posture in ("rest", "out", "arm")]


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
    grow = shape.radius if shape.form == "circle" else shape.radius / 2 if shape.form in ("number", "sign") else 0
    return [(x + dx, y + dy) for x, y in shape.points for dx in (-grow, grow) for dy in (-grow, grow)]


def test_the_table_of_parts_names_only_symbols_that_there_are():
    assert {PARTS[kind].symbol for kind in KINDS} <= set(SYMBOLS)


@pytest.mark.parametrize("part", every_part(), ids=str)
def test_a_symbol_stays_within_its_cell(part):
    for draw in (symbol, side_symbol):
        for on, posture in STATES:
            if posture != "rest" and part.kind not in ("piston", "pull-piston"):
                continue
            for shape in draw(part, on, posture, True):
                assert all(-0.001 <= x <= 1.001 and -0.001 <= y <= 1.001 for x, y in reach(shape)), shape


def test_no_two_parts_look_alike():
    looks = {str(part): symbol(part) for part in every_part()}
    alike = [pair for pair in combinations(looks, 2) if looks[pair[0]] == looks[pair[1]]]
    thrown = {text for text in looks if "thrown" in text}  # that shows when it is on
    assert {second for _, second in alike} == thrown
    assert symbol(parse_part("lever"), on=True) != symbol(parse_part("lever"))


def pictured() -> dict[tuple[str, str], tuple[tuple[Shape, ...], int, str]]:
    """Every kind and state from above and from the side: its shapes, its level, and its kind."""
    found: dict[tuple[str, str], tuple[tuple[Shape, ...], int, str]] = {}
    texts = [kind for kind in PARTS if PARTS[kind].direction != "" and kind != "wire"]
    texts += [f"{kind} east" for kind in PARTS if PARTS[kind].direction == ""]
    texts += [f"repeater east delay={delay}" for delay in (2, 3, 4)]
    texts += ["comparator east mode=difference", "counting-plate counts=10", "hopper into=east", "torch on=east"]
    texts += ["piston up", "piston down", "pull-piston up", "pull-piston down", "ejector up", "ejector down"]
    texts += ["lever on=east", "short-button on=east", "long-button on=east", "change-sensor up"]
    alone = ("block", "insulator", "power-block")
    for text in dict.fromkeys(texts):
        part = parse_part(text)
        for posture in ("rest", "out", "arm") if "piston east" in text else ("rest",):
            for on in (False,) if part.kind in alone else (False, True):
                level = 15 if part.kind == "power-block" else 12 if on and part.kind not in ("hopper", "crate") else 0
                name = f"{text} {posture} {'on' if on else 'off'}"
                found["above", name] = (symbol(part, on, posture), level, part.kind)
                found["side", name] = (side_symbol(part, on, posture), level, part.kind)
    part = parse_part("repeater east delay=2")
    for on in (False, True):
        found["above", f"locked {on}"] = (symbol(part, on, "rest", True), 12 * on, part.kind)
        found["side", f"locked {on}"] = (side_symbol(part, on, "rest", True), 12 * on, part.kind)
        wires = {"straight": "ew", "corner": "es", "three joins": "ews", "four joins": "ewsn", "none": ""}
        words = {"e": "east", "w": "west", "s": "south", "n": "north"}
        side = {"e": "east", "w": "west", "s": "up", "n": "down"}
        for name, letters in wires.items():
            joined = [words[letter] for letter in letters]
            found["above", f"wire {name} {on}"] = (wire_symbol(joined), 12 * on, "wire")
            found["side", f"wire {name} {on}"] = (
                wire_side_symbol([side[letter] for letter in letters]),
                12 * on,
                "wire",
            )
        flat = ("east", "west")
        found["above", f"wire that climbs {on}"] = (wire_symbol(flat, climbing=["east"]), 12 * on, "wire")
        found["above", f"wire that drops {on}"] = (wire_symbol(flat, dropping=["east"]), 12 * on, "wire")
        found["above", f"wire that is heard {on}"] = (wire_symbol(flat, ["east"]), 12 * on, "wire")
        found["side", f"wire that climbs {on}"] = (wire_side_symbol(flat, ["east"]), 12 * on, "wire")
    return found


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_two_kinds_and_states_differ_at_24_pixels(theme):
    """At least a dozen pixels of the 576 differ by a fifth of the whole range."""
    from PIL import Image, ImageChops

    shown, colours, side, apart = pictured(), THEMES[theme], 24, 28
    marks = []
    for number, (shapes, level, kind) in enumerate(shown.values()):
        x, y = 2 + number % 20 * apart, 2 + number // 20 * apart
        if kind in ("block", "insulator"):
            body = colours["block" if kind == "block" else "panel"]
            marks.append(rectangle(x + 1, y + 1, side - 2, side - 2, body, colours["edge"], 1.2))
        marks += paint(shapes, square(x, y, side), side, colours, level, 32)
    sheet = Drawing(20 * apart, (len(shown) // 20 + 1) * apart, colours["panel"], "", "", (Group(tuple(marks)),))
    whole = Image.open(io.BytesIO(png_bytes(sheet, 1.0))).convert("L")
    crops = {}
    for number, key in enumerate(shown):
        x, y = 1 + number % 20 * apart, 1 + number // 20 * apart
        crops[key] = whole.crop((x, y, x + side + 2, y + side + 2))
    poor = []
    for one, other in combinations(crops, 2):
        if one[0] == other[0]:
            counts = ImageChops.difference(crops[one], crops[other]).histogram()
            if sum(counts[48:]) < 12:
                poor.append((one, other, sum(counts[48:])))
    assert poor == []


@pytest.mark.parametrize("text", ["repeater east delay=3", "comparator north", "torch on=west", "piston south"])
def test_turning_a_part_turns_its_symbol(text):
    part = parse_part(text)
    for before, after in zip(symbol(part), symbol(turned(part, 1)), strict=True):
        assert after.points == tuple((round(1 - y, 4), x) for x, y in before.points)


@pytest.mark.parametrize("delay", [1, 2, 3, 4])
def test_a_repeater_has_a_dot_for_each_tick(delay):
    for draw in (symbol, side_symbol):
        assert len([s for s in draw(Part("repeater", "east", delay=delay)) if s.form == "circle"]) == delay


def test_a_comparator_says_what_it_does_on_and_off():
    for draw in (symbol, side_symbol):
        for on in (False, True):
            assert [s.text for s in draw(parse_part("comparator east"), on) if s.form == "sign"] == ["≥"]
            difference = draw(parse_part("comparator east mode=difference"), on)
            assert [s.text for s in difference if s.form == "sign"] == ["−"]
    others = [part for part in every_part() if part.kind != "comparator"]
    assert not [s for part in others for on in (False, True) for s in symbol(part, on) if s.form == "sign"]


@pytest.mark.parametrize("facing", ["east", "west", "north", "south"])
def test_the_number_of_a_lit_comparator_stands_in_its_body_and_the_sign_in_its_nose(facing):
    from tickwright.space import VECTORS

    shapes = symbol(Part("comparator", facing), True)
    ((number,),) = [s.points for s in shapes if s.form == "number"]
    ((sign,),) = [s.points for s in shapes if s.form == "sign"]
    dx, dy, _ = VECTORS[facing]
    assert (sign[0] - number[0]) * dx + (sign[1] - number[1]) * dy > 0.2


def test_off_is_an_outline_and_on_is_filled():
    colours = THEMES["light"]
    grounds = {colours["panel"], colours["block"], "none"}
    dots = {"repeater"}  # their dots are solid either way
    for part in every_part():
        if part.kind in ("power-block", "hopper", "ejector", "crate"):
            continue
        for draw in (symbol, side_symbol):
            off = [m for m in paint(draw(part), square(0, 0, 48), 48, colours) if m.form in ("area", "circle")]
            if part.kind not in dots and part.facing not in ("up", "down"):
                assert {mark.fill for mark in off} <= grounds, part
            on = [m.fill for m in paint(draw(part, True), square(0, 0, 48), 48, colours, 12, 12)]
            level = {colours["level-12"], colours["amber"]}
            assert part.kind in ("block", "insulator") or level & set(on), part


def test_a_wire_runs_where_it_joins_and_has_an_arrow_where_something_listens():
    straight = wire_symbol(["east", "west"])
    ends = {shape.points[-1] for shape in straight if shape.form == "wire"}
    assert ends == {(1.0, 0.5), (0.0, 0.5)}
    assert [shape for shape in straight if shape.form == "area"] == []
    heard = wire_symbol(["east", "west"], ["west"])
    (arrow,) = [shape for shape in heard if shape.form == "area"]
    assert min(x for x, _ in arrow.points) < 0.05
    assert wire_symbol(["east"], climbing=["east"]) != wire_symbol(["east"])
    assert wire_symbol(["east"], dropping=["east"]) != wire_symbol(["east"])


def test_a_number_is_left_out_rather_than_made_small():
    shapes = wire_symbol(["east"])
    texts = {unit: [m for m in paint(shapes, square(0, 0, unit), unit, THEMES["light"], 13, 13) if m.form == "text"]
             for unit in (24, 29, 30, 48)}  # fmt: skip
    assert [len(found) for found in texts.values()] == [0, 0, 1, 1]
    assert texts[30][0].radius >= 11
