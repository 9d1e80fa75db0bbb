"""Geometry against hand-drawn cases: each sentence of the rules on joins, pointing, power and who is told.

What is expected was read off the pictures with the rules in hand. Levels are also held against a shortest-path search
over cells that shares nothing with the geometry.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pictures import cells_of
from tickwright.engine import run
from tickwright.kinds import Part, parse_part, turned
from tickwright.plan.model import Plan
from tickwright.rules import load_rules
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.power import strong_sources, weak_sources
from tickwright.rules.wire import joins, points
from tickwright.space import CLOCKWISE, Cell

RULES = ("standard", "older-wire")
KEY = {
    "#": "block", "i": "insulator", "L": "lamp", "P": "power-block", "w": "wire", "t": "torch", "T": "torch on=west",
    "v": "lever", "V": "lever thrown=yes", "l": "lever on=west", "b": "short-button on=west", "o": "tread-plate",
    ">": "repeater east", "<": "repeater west", "^": "repeater north", "c": "comparator east",
    "d": "comparator east mode=difference", "n": "comparator north", "s": "change-sensor east",
    "S": "change-sensor west", "U": "change-sensor up", "D": "change-sensor down", "p": "piston north",
    "h": "hopper", "e": "ejector north", "C": "crate", "u": "torch on=south", "m": "torch on=north",
    "x": "lever on=north", "y": "lever on=south",
}  # fmt: skip


def geometry_of(cells: dict[Cell, Part], rules: str = "standard") -> Geometry:
    return Geometry({cell: Stand(part) for cell, part in cells.items()}, load_rules(rules))


def drawn(*layers: str, rules: str = "standard", floor: bool = True) -> Geometry:
    return geometry_of(cells_of(layers, KEY, floor), rules)


# --- joins: a wire in the middle of nothing and what lies east of it, turned to all four sides ---------------------


def around_a_wire(east: dict[tuple[int, int], str], turns: int) -> tuple[Geometry, str]:
    """A wire at the origin on a block, the parts of `east` at (steps east, height), all turned; where east is now."""
    cells = {(0, 0, -1): parse_part("block"), (0, 0, 0): parse_part("wire")}
    side = "east"
    for _ in range(turns):
        side = CLOCKWISE[side]
    dx, dy = {"east": (1, 0), "south": (0, 1), "west": (-1, 0), "north": (0, -1)}[side]
    for (distance, height), text in east.items():
        cells[distance * dx, distance * dy, height] = turned(parse_part(text), turns)
    return geometry_of(cells), side


DRAWS = (
    "wire", "torch", "lever", "short-button", "long-button", "item-plate", "tread-plate", "counting-plate",
    "power-block", "comparator north", "comparator east", "comparator south", "comparator west", "repeater east",
    "repeater west", "change-sensor west",
)  # fmt: skip
DRAWS_NOT = (
    "repeater north", "repeater south", "change-sensor east", "change-sensor north", "change-sensor south",
    "change-sensor up", "change-sensor down", "block", "insulator", "lamp", "piston west", "pull-piston west", "hopper",
    "hopper into=west", "ejector west", "crate",
)  # fmt: skip
CONDUCTING_CARRIERS = ("block", "lamp", "ejector north")
OTHER_CARRIERS = ("insulator", "hopper", "crate", "change-sensor east", "piston north")


@pytest.mark.parametrize("turns", range(4))
class TestJoins:
    @pytest.mark.parametrize("part", DRAWS)
    def test_what_draws_a_join(self, part: str, turns: int) -> None:
        geometry, side = around_a_wire({(1, -1): "block", (1, 0): part}, turns)
        assert joins(geometry, (0, 0, 0)) == (side,)

    @pytest.mark.parametrize("part", DRAWS_NOT)
    def test_what_draws_none(self, part: str, turns: int) -> None:
        geometry, _ = around_a_wire({(1, -1): "block", (1, 0): part}, turns)
        assert joins(geometry, (0, 0, 0)) == ()

    @pytest.mark.parametrize("carrier", CONDUCTING_CARRIERS + OTHER_CARRIERS)
    @pytest.mark.parametrize(("roof", "joined"), [(None, True), ("insulator", True), ("block", False), ("lamp", False)])
    def test_climbing(self, carrier: str, roof: str | None, joined: bool, turns: int) -> None:
        """A wire stands on a part there that carries, and no conducting cell is above this wire.

        It joins on an insulator too, though no level can come down there.
        """
        east = {(1, 0): carrier, (1, 1): "wire"} | ({(0, 1): roof} if roof else {})
        geometry, side = around_a_wire(east, turns)
        assert joins(geometry, (0, 0, 0)) == ((side,) if joined else ())

    @pytest.mark.parametrize("below", [None, "piston up"])
    def test_not_climbing(self, below: str | None, turns: int) -> None:
        """A wire there that stands on nothing that carries on its top, as while its support leaves."""
        east = {(1, 1): "wire"} | ({(1, 0): below} if below else {})
        geometry, _ = around_a_wire(east, turns)
        assert joins(geometry, (0, 0, 0)) == ()

    @pytest.mark.parametrize(
        ("between", "joined"),
        [(None, True), ("insulator", True), ("hopper", True), ("crate", True), ("block", False), ("lamp", False)],
    )
    @pytest.mark.parametrize("under", ["block", "insulator"])
    def test_descending(self, between: str | None, joined: bool, under: str, turns: int) -> None:
        """That side does not conduct and a wire is below it; whatever carries this wire, and whatever is above it."""
        east = {(0, -1): under, (0, 1): "block", (1, -2): "block", (1, -1): "wire"}
        east |= {(1, 0): between} if between else {}
        geometry, side = around_a_wire(east, turns)
        assert joins(geometry, (0, 0, 0)) == ((side,) if joined else ())


# --- pointing: all sixteen ways to be joined -----------------------------------------------------------------------

# joined sides -> where it points under standard, and under older-wire; n, e, s, w
POINTING = {
    "": ("nesw", "nesw"),
    "n": ("ns", "s"), "s": ("ns", "n"), "e": ("ew", "w"), "w": ("ew", "e"),
    "ns": ("ns", "ns"), "ew": ("ew", "ew"),
    "ne": ("ne", ""), "es": ("es", ""), "sw": ("sw", ""), "nw": ("nw", ""),
    "nes": ("nes", ""), "esw": ("esw", ""), "nsw": ("nsw", ""), "new": ("new", ""),
    "nesw": ("nesw", ""),
}  # fmt: skip
SIDES = {"n": (0, -1), "e": (1, 0), "s": (0, 1), "w": (-1, 0)}


@pytest.mark.parametrize("rules", RULES)
@pytest.mark.parametrize("joined", POINTING)
def test_pointing(joined: str, rules: str) -> None:
    cells = {(x, y, -1): parse_part("block") for x in (-1, 0, 1) for y in (-1, 0, 1)}
    cells |= {(0, 0, 0): parse_part("wire")} | {(*SIDES[side], 0): parse_part("lever") for side in joined}
    pointed = {side[0] for side in points(geometry_of(cells, rules), (0, 0, 0))}
    assert pointed == set(POINTING[joined][RULES.index(rules)])


@pytest.mark.parametrize(
    ("layers", "standard", "older"),
    [
        # It climbs the block in the east: standard points there too; older-wire only away from it.
        ((".w#", "..w"), {"east", "west"}, {"west"}),
        # It also arrives straight at it from the west: now both do.
        (("ww#", "..w"), {"east", "west"}, {"east", "west"}),
        # It climbs east and is joined north: a corner.
        ((".v./.w#", ".../..w"), {"east", "north"}, set()),
        # It climbs on both sides.
        (("#w#", "w.w"), {"east", "west"}, {"east", "west"}),
    ],
)
def test_pointing_where_it_climbs(layers: tuple[str, ...], standard: set[str], older: set[str]) -> None:
    wire = (1, layers[0].count("/"), 1)
    assert set(points(drawn(*layers), wire)) == standard
    assert set(points(drawn(*layers, rules="older-wire"), wire)) == older


def test_a_wire_that_climbs_a_block_powers_it_under_standard_only() -> None:
    layers = (".w#", "..w")
    climbing, upper, block = (1, 0, 1), (2, 0, 2), (2, 0, 1)
    assert weak_sources(drawn(*layers), block) == {climbing, upper}
    assert weak_sources(drawn(*layers, rules="older-wire"), block) == {upper}
    straight = ("ww#", "..w")
    assert weak_sources(drawn(*straight, rules="older-wire"), block) == {climbing, upper}


@pytest.mark.parametrize("rules", RULES)
def test_a_wire_powers_what_is_under_it_and_never_what_is_above(rules: str) -> None:
    geometry = drawn("L", "w", "L", rules=rules)
    assert geometry.fan_in((0, 0, 1)).power == {(0, 0, 2)}
    assert geometry.fan_in((0, 0, 3)).power == set()
    geometry = drawn("#", "w", "#", rules=rules)
    assert weak_sources(geometry, (0, 0, 1)) == {(0, 0, 2)}
    assert weak_sources(geometry, (0, 0, 3)) == set()


# --- levels over climbs --------------------------------------------------------------------------------------------


def levels(*layers: str, watch: tuple[Cell, ...], rules: str = "standard") -> list[int]:
    """What the cells show at rest."""
    names = {str(cell): cell for cell in watch}
    trace = run(Plan(cells_of(layers, KEY, floor=True)), steps=10, rules=rules, watch=names).trace
    return [trace.value_at(name, 9) for name in names]


@pytest.mark.parametrize("rules", RULES)
class TestClimbs:
    @pytest.mark.parametrize("carrier", "#LeihCs")
    @pytest.mark.parametrize(("roof", "open_above"), [(".", True), ("i", True), ("#", False), ("L", False)])
    def test_upward_over_anything_that_carries(self, carrier: str, roof: str, open_above: bool, rules: str) -> None:
        """The lever feeds the lower wire; the upper has one less unless a conducting cell is above the lower."""
        wires = ((1, 0, 1), (2, 0, 2))
        assert levels(f"Vw{carrier}", f".{roof}w", watch=wires, rules=rules) == [15, 14 if open_above else 0]

    @pytest.mark.parametrize(
        ("carrier", "conducts"), [("#", True), ("L", True), ("e", True), *((mark, False) for mark in "ihCs")]
    )
    @pytest.mark.parametrize(("roof", "open_above"), [(".", True), ("i", True), ("#", False), ("L", False)])
    def test_downward_only_over_what_conducts(
        self, carrier: str, conducts: bool, roof: str, open_above: bool, rules: str
    ) -> None:
        """The lever feeds the upper wire, from an insulator so that it powers nothing else."""
        wires = ((1, 0, 1), (2, 0, 2))
        lower = 14 if conducts and open_above else 0
        assert levels(f".w{carrier}i", f".{roof}wV", watch=wires, rules=rules) == [lower, 15]

    def test_a_stair(self, rules: str) -> None:
        """Up two blocks and down one: a level lost in each cell."""
        wires = ((1, 0, 1), (2, 0, 2), (3, 0, 3), (4, 0, 2), (5, 0, 2))
        assert levels("Vw####", "..w#ww", "...w", watch=wires, rules=rules) == [15, 14, 13, 12, 11]

    def test_no_level_straight_up_or_two_high(self, rules: str) -> None:
        """A wire right above another's roof, and one two cells higher in the neighbouring cell, are not joined."""
        assert levels("Vwi", ".ii", ".ww", watch=((1, 0, 1), (1, 0, 3), (2, 0, 3)), rules=rules) == [15, 0, 0]


# --- strong and weak power -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layers", "block", "strong"),
    [
        ((">#",), (1, 0, 1), {(0, 0, 1)}),
        (("c#",), (1, 0, 1), {(0, 0, 1)}),
        (("s#",), (1, 0, 1), {(0, 0, 1)}),
        (("U", "#"), (0, 0, 2), {(0, 0, 1)}),
        (("#", "D"), (0, 0, 1), {(0, 0, 2)}),
        (("t", "#"), (0, 0, 2), {(0, 0, 1)}),  # a torch below
        (("#l",), (0, 0, 1), {(1, 0, 1)}),  # fixed to it
        (("#b",), (0, 0, 1), {(1, 0, 1)}),
        (("#", "v"), (0, 0, 1), {(0, 0, 2)}),
        (("#", "o"), (0, 0, 1), {(0, 0, 2)}),
        (("L", "v"), (0, 0, 1), {(0, 0, 2)}),  # lamps and ejectors conduct
        (("e", "v"), (0, 0, 1), {(0, 0, 2)}),
        # Nothing else:
        (("#>",), (0, 0, 1), set()),  # its back
        (("^#",), (1, 0, 1), set()),  # passes by
        (("#T",), (0, 0, 1), set()),  # a torch fixed to it
        (("#", "t"), (0, 0, 1), set()),
        (("t#",), (1, 0, 1), set()),  # torch, lever, plate, power-block beside it
        (("v#",), (1, 0, 1), set()),
        (("o#",), (1, 0, 1), set()),
        (("P#",), (1, 0, 1), set()),
        (("#", "P"), (0, 0, 1), set()),
        (("#", "w"), (0, 0, 1), set()),  # wires power weakly
        (("w#",), (1, 0, 1), set()),
        (("i", "v"), (0, 0, 1), set()),  # what does not conduct is not powered
        (("C", "v"), (0, 0, 1), set()),
        ((">i",), (1, 0, 1), set()),
    ],
)
def test_strong_power(layers: tuple[str, ...], block: Cell, strong: set[Cell]) -> None:
    assert strong_sources(drawn(*layers), block) == strong


@pytest.mark.parametrize(
    ("layers", "block", "weak"),
    [
        (("#", "w"), (0, 0, 1), {(0, 0, 2)}),
        (("w#",), (1, 0, 1), {(0, 0, 1)}),  # no joins: all four sides
        (("vw#",), (2, 0, 1), {(1, 0, 1)}),
        (("v./w#",), (1, 1, 1), set()),  # runs past it
        (("w#w",), (1, 0, 1), {(0, 0, 1), (2, 0, 1)}),
        ((">#",), (1, 0, 1), set()),
        (("wi",), (1, 0, 1), set()),
        (("w", "#"), (0, 0, 2), set()),  # never the one above
    ],
)
def test_weak_power(layers: tuple[str, ...], block: Cell, weak: set[Cell]) -> None:
    assert weak_sources(drawn(*layers), block) == weak


@pytest.mark.parametrize("rules", RULES)
def test_a_wire_hears_strong_power_every_other_part_both(rules: str) -> None:
    weak = drawn("vw#w", rules=rules)
    assert weak.wire_sources((3, 0, 1)) == set()
    assert drawn("vw#L", rules=rules).fan_in((3, 0, 1)).power == {(1, 0, 1)}
    assert drawn("vw#>", rules=rules).fan_in((3, 0, 1)).power == {(1, 0, 1)}
    assert drawn("vw#T", rules=rules).fan_in((3, 0, 1)).power == {(1, 0, 1)}
    assert drawn(">#w", rules=rules).wire_sources((2, 0, 1)) == {(0, 0, 1)}
    assert drawn(">#L", rules=rules).fan_in((2, 0, 1)).power == {(0, 0, 1)}


# Each picture has the listening part at (0, 1, 1), facing east, and what is at its north flank above it in the drawing.
FLANKS = {
    "a wire": ("w", True, False), "a power-block": ("P", True, False), "a repeater that faces it": ("r", True, True),
    "a comparator that faces it": ("k", True, True), "a change-sensor that faces it": ("q", True, False),
    "a repeater that passes by": (">", False, False), "a repeater that faces away": ("^", False, False),
    "a comparator that passes by": ("c", False, False), "a change-sensor that passes by": ("s", False, False),
    "a torch": ("t", False, False), "a lever": ("v", False, False), "a plate": ("o", False, False),
    "a lamp": ("L", False, False), "a block": ("#", False, False), "a crate": ("C", False, False),
}  # fmt: skip
SOUTHWARD = {"r": "repeater south", "k": "comparator south", "q": "change-sensor south"}


@pytest.mark.parametrize("rules", RULES)
@pytest.mark.parametrize("what", FLANKS)
def test_flanks_and_locks(what: str, rules: str) -> None:
    """What a comparator's flank hears, and what locks a repeater; lamp and block are strongly powered by a lever."""
    mark, heard, locks = FLANKS[what]
    above = "v" if mark in "L#" else "."
    comparator = geometry_of(cells_of((f"{mark}/c", above), KEY | SOUTHWARD, floor=True), rules)
    assert comparator.fan_in((0, 1, 1)).flank == ({(0, 0, 1)} if heard else set())
    repeater = geometry_of(cells_of((f"{mark}/>", above), KEY | SOUTHWARD, floor=True), rules)
    assert repeater.fan_in((0, 1, 1)).lock == ({(0, 0, 1)} if locks else set())


# --- who is told ---------------------------------------------------------------------------------------------------


def test_who_is_told_of_a_lever() -> None:
    """The lever's listeners: the lamps beside it and, through the block it is fixed to, those beside the block.

    Looking down, the lever (2, 1, 2) stands on the block (2, 1, 1). Not told: the repeaters that show the block their
    fronts, the lamp behind the block (1, 1, 2), which the lever only stands beside.
    """
    geometry = drawn("..L/L>#</..L", "..L/L#vL/..L")
    beside_lever = {(2, 0, 2), (3, 1, 2), (2, 2, 2)}
    beside_block = {(2, 0, 1), (2, 2, 1)}
    assert geometry.kind((1, 1, 1)) == "repeater"
    assert set(geometry.listeners((2, 1, 2))) == beside_lever | beside_block
    assert geometry.fed_wires((2, 1, 2)) == ()


def test_who_is_told_of_a_wire() -> None:
    """The wire (1, 1, 1), fed from the west, points east and west unless something joins it north or south."""
    # Through the block it points at; not the lamp that it passes.
    assert set(drawn("..../vw#L/.L..").listeners((1, 1, 1))) == {(3, 1, 1)}
    # A repeater that has it behind, or a comparator that has it at its flank, bends it: the lamp in the east is not
    # pointed at, but those two hear a wire whatever its shape.
    assert set(drawn(".^./vwL/...").listeners((1, 1, 1))) == {(1, 0, 1)}
    assert set(drawn(".c./vwL/...").listeners((1, 1, 1))) == {(1, 0, 1)}
    # Straight, or with no joins at all, it is heard where it points.
    assert set(drawn(".L./LwL/.L.").listeners((1, 1, 1))) == {(1, 0, 1), (0, 1, 1), (2, 1, 1), (1, 2, 1)}
    assert set(drawn("vwL", rules="older-wire").listeners((1, 0, 1))) == {(2, 0, 1)}


def test_who_is_told_of_a_change_that_is_seen() -> None:
    """The change-sensor that has the cell behind it; not the one that has it in front or beside."""
    geometry = drawn(".U./SLs/.s.", ".U.")
    assert set(geometry.watchers((1, 1, 1))) == {(0, 1, 1), (2, 1, 1)}
    assert set(drawn("L", "U").watchers((0, 0, 1))) == {(0, 0, 2)}
    assert set(drawn("D", "L").watchers((0, 0, 2))) == {(0, 0, 1)}


def test_pistons_are_told_of_all_within_two_cells() -> None:
    geometry = drawn("p.p.v.p.p")
    assert set(geometry.pistons_near((4, 0, 1))) == {(2, 0, 1), (6, 0, 1)}


# The torch goes off two steps after the lever, and the comparator (R = 15, S = 13 while the torch is lit) shows what it
# computes two steps after the lever. If the torch is told first it acts first: 15 at once. If the comparator is first
# it shows 15 - 13 = 2, and 15 two steps later. The torch lies north of the comparator, then south of it.
TORCH_NORTH = (".uww/.#.w/.xwd",)
TORCH_SOUTH = (".ywd/.#.w/.mww",)
TOLD_FIRST = [(0, 0), (5, 15)]
TOLD_LAST = [(0, 0), (5, 2), (7, 15)]


@pytest.mark.parametrize(
    ("picture", "lever", "comparator", "order", "expected"),
    [
        (TORCH_NORTH, (1, 2, 1), (3, 2, 1), "canonical", TOLD_FIRST),
        (TORCH_NORTH, (1, 2, 1), (3, 2, 1), "reversed", TOLD_LAST),
        (TORCH_SOUTH, (1, 0, 1), (3, 0, 1), "canonical", TOLD_LAST),
        (TORCH_SOUTH, (1, 0, 1), (3, 0, 1), "reversed", TOLD_FIRST),
    ],
)
def test_parts_are_told_in_order(
    picture: tuple[str, ...], lever: Cell, comparator: Cell, order: str, expected: list[tuple[int, int]]
) -> None:
    plan = Plan(cells_of(picture, KEY, floor=True), {"lever": lever}, {"comparator": comparator})
    trace = run(plan, ["3:lever:on"], 20, order=order).trace
    assert list(trace.changes["comparator"]) == expected


# --- levels against a shortest-path search -------------------------------------------------------------------------

CONDUCTS = {"block", "lamp"}
ROUND = ((1, 0), (-1, 0), (0, 1), (0, -1))


def random_world(source: random.Random) -> dict[Cell, Part]:
    """Hills of blocks, lamps, insulators, power-blocks and crates, wires and levers on them, and roofs in the air."""
    size = source.randint(3, 9)
    full = ("block",) * 6 + ("insulator",) * 4 + ("lamp", "crate") + ("power-block",) * (source.random() < 0.2)
    cells: dict[Cell, Part] = {}
    flat = source.random()
    for x in range(size):
        for y in range(size):
            top = 0 if source.random() < flat else source.randint(0, 3)
            for z in range(top + 1):
                cells[x, y, z] = parse_part(source.choice(full))
            roll = source.random()
            if roll < 0.8:
                cells[x, y, top + 1] = parse_part("wire")
            elif roll < 0.84:
                cells[x, y, top + 1] = parse_part(source.choice(("lever", "lever thrown=yes")))
            if source.random() < 0.15:
                height = top + source.choice((2, 2, 3))
                cells[x, y, height] = parse_part(source.choice(full))
                if source.random() < 0.5:
                    cells[x, y, height + 1] = parse_part("wire")
    return cells


def shortest_paths(kinds: dict[Cell, str], thrown: set[Cell]) -> dict[Cell, int]:
    """15 less the least number of cells from a wire that hears a source: breadth-first search, straight from the text.

    "Sources are direct neighbours that give to it and strongly powered neighbours": here levers that are on and
    power-blocks, and conducting cells with such a lever on top. "Level flows between wires side by side; and between a
    lower wire and an upper one that stands on a part in the neighbouring cell, if no conducting cell sits above the
    lower one: always upward, but downward only if what carries the upper wire conducts."
    """
    wires = {cell for cell, kind in kinds.items() if kind == "wire"}
    reached = []
    for x, y, z in sorted(wires):
        for there in ((x + 1, y, z), (x - 1, y, z), (x, y + 1, z), (x, y - 1, z), (x, y, z + 1), (x, y, z - 1)):
            powered = kinds.get(there) in CONDUCTS and (there[0], there[1], there[2] + 1) in thrown
            if there in thrown or kinds.get(there) == "power-block" or powered:
                reached.append((x, y, z))
                break
    level = dict.fromkeys(wires, 0) | dict.fromkeys(reached, 15)
    for x, y, z in reached:  # grows while it is read: nearest first
        strength = level[x, y, z] - 1
        for dx, dy in ROUND:
            goals = [(x + dx, y + dy, z)]
            if kinds.get((x, y, z + 1)) not in CONDUCTS:
                goals.append((x + dx, y + dy, z + 1))
            if kinds.get((x, y, z - 1)) in CONDUCTS and kinds.get((x + dx, y + dy, z)) not in CONDUCTS:
                goals.append((x + dx, y + dy, z - 1))
            for goal in goals:
                if goal in wires and level[goal] == 0 and strength > 0:
                    level[goal] = strength
                    reached.append(goal)
    return level


@given(seed=st.integers(0, 2**32 - 1), rules=st.sampled_from(RULES))
def test_levels_are_15_less_the_shortest_path(seed: int, rules: str) -> None:
    """At the start, and again after each flip of a lever."""
    source = random.Random(seed)
    cells = random_world(source)
    kinds = {cell: part.kind for cell, part in cells.items()}
    watch = {str(cell): cell for cell, kind in kinds.items() if kind == "wire"}
    levers = sorted(cell for cell, kind in kinds.items() if kind == "lever")
    flips = [source.choice(levers) for _ in range(6)] if levers else []
    script = [f"{step}:{x},{y},{z}:flip" for step, (x, y, z) in enumerate(flips, 1)]
    trace = run(Plan(cells), script, 10, rules=rules, watch=watch).trace
    thrown = {cell for cell in levers if cells[cell].thrown}
    for step in range(len(flips) + 1):
        if step:
            thrown ^= {flips[step - 1]}
        expected = shortest_paths(kinds, thrown)
        assert {cell: trace.value_at(name, step) for name, cell in watch.items()} == expected, f"step {step}"
