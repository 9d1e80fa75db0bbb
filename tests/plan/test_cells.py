"""Cells kept as codes answer as a plain mapping of the same cells does; so does a plan that keeps them."""

from __future__ import annotations

import pickle
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickwright import loads
from tickwright.engine import run
from tickwright.errors import PlanError
from tickwright.kinds import Part, parse_part
from tickwright.plan import cells as cells_of_plans
from tickwright.plan import dumps, lay, place, remove
from tickwright.plan.cells import MOST_ALONG, Cells, different_parts, with_changes
from tickwright.plan.model import Plan
from tickwright.plan.validate import problems, validate
from tickwright.rules import load_rules

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))
PARTS = [
    parse_part(text)
    for text in (
        "block", "insulator", "wire", "repeater east delay=3", "torch on=west", "torch on=north", "torch on=down",
        "lever on=up", "piston up", "piston west", "hopper", "crate items=1728", "short-button on=east", "lamp",
    )
]  # fmt: skip
CELLS = st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(0, 2))
LAID = st.dictionaries(CELLS, st.sampled_from(PARTS), max_size=30)


@pytest.fixture
def coded(monkeypatch):
    """From now on every plan keeps its cells as codes, however small."""
    for module in ("tickwright.plan.model", "tickwright.plan.reading"):
        monkeypatch.setattr(f"{module}.LARGE_PLAN", 0)


@given(LAID, st.lists(CELLS, max_size=8))
def test_codes_answer_as_the_mapping_does(laid, asked):
    cells = Cells.of(laid)
    assert dict(cells) == dict(cells.items()) == laid
    assert (cells == laid, laid == cells, len(cells)) == (True, True, len(laid))
    assert list(cells) == sorted(laid, key=lambda cell: cell[::-1])
    assert list(cells.values()) == [laid[cell] for cell in cells]
    assert cells.counts() == {part: list(laid.values()).count(part) for part in {*laid.values()}}
    assert {*cells.parts} == {*different_parts(cells)} == {*laid.values()}
    assert cells.far == Plan(laid).size if laid else cells.far == (0, 0, 0)
    for cell in (*asked, (-1, 0, 0), (0, -1, 0), (0, 0, -1), (99, 0, 0), (0, 99, 0), (0, 0, 99)):
        assert (cells.get(cell), cell in cells) == (laid.get(cell), cell in laid)
    assert pickle.loads(pickle.dumps(cells)) == cells


@given(LAID, st.dictionaries(CELLS, st.sampled_from([None, *PARTS]), max_size=8))
def test_a_change_is_that_of_the_mapping_and_leaves_the_first_as_it_was(laid, changes):
    cells = Cells.of(laid)
    after = with_changes(cells, changes)
    assert isinstance(after, Cells)
    assert after == with_changes(laid, changes)
    assert (cells == laid, len(after)) == (True, len(dict(after)))
    assert (after == cells) == (dict(after) == laid)
    assert after.far == Cells.of(dict(after)).far


def test_an_unlike_palette_is_no_difference_and_an_unlike_part_is():
    block, wire = parse_part("block"), parse_part("wire")
    one = Cells((block, wire), (("!!",), ('"',)))
    assert one == Cells((wire, block), (('"" ',), ("!", "")))
    assert one != Cells((wire, block), (('""',), ('"',)))
    assert one != Cells((block, parse_part("lamp")), (("!!",), ('"',)))
    assert one != Cells((block, wire), (("!!",), ("", '"')))
    assert one != 7


def test_only_the_rows_that_change_are_made_anew():
    rows = tuple("!" * 50 for _ in range(50))
    cells = Cells((parse_part("block"),), (rows, rows))
    after = cells.changed({(3, 7, 1): None})
    assert after.layers[0] is rows
    assert [y for y in range(50) if after.layers[1][y] is not rows[y]] == [7]


@given(LAID)
def test_what_lacks_support_is_refused_as_before(laid):
    rules = load_rules()
    coded = Plan(Cells.of(laid))
    assert list(problems(coded, rules)) == list(problems(Plan(laid), rules))


def test_all_that_stands_is_found_to_stand():
    """A torch on each side, seen from all four, a lever below a block, and one on a piston's face, which is none."""
    block = parse_part("block")
    sides = {"east": (0, 1, 0), "west": (2, 1, 0), "south": (1, 0, 0), "north": (1, 2, 0)}
    laid = {(1, 1, 0): block, **{cell: parse_part(f"torch on={side}") for side, cell in sides.items()}}
    laid |= {(5, 5, 1): block, (5, 5, 0): parse_part("lever on=up"), (7, 0, 0): parse_part("piston west")}
    laid[8, 0, 0] = parse_part("torch on=west")
    validate(Plan(Cells.of(laid)), load_rules())
    with pytest.raises(PlanError, match=r"the face of a piston"):
        validate(Plan(Cells.of({**laid, (6, 0, 0): parse_part("torch on=east")})), load_rules())
    for side, (x, y, z) in sides.items():
        moved = {cell: part for cell, part in laid.items() if cell != (1, 1, 0) and cell not in sides.values()}
        with pytest.raises(PlanError, match=rf"\({x}, {y}, {z}\) has no support"):
            validate(Plan(Cells.of({**moved, (x, y, z): laid[sides[side]]})), load_rules())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_runs_and_saves_the_same(path, coded, monkeypatch):
    text = path.read_text(encoding="utf-8")
    plan = loads(text, path)
    assert isinstance(plan.cells, Cells)
    monkeypatch.undo()
    plain = loads(text, path)
    assert not isinstance(plain.cells, Cells)
    assert (plan == plain, plain == plan, plan.bill() == plain.bill(), dumps(plan) == text) == (True, True, True, True)
    hand = [f"5:{name}" for name in plan.triggers][:1]
    one, other = (run(given, hand, 60, engine="fast") for given in (plan, plain))
    assert (one.trace, one.findings) == (other.trace, other.findings)


def test_an_edit_is_saved_as_from_a_plain_mapping(coded, monkeypatch):
    chance = random.Random(4)
    for path in EXAMPLES[:8]:
        text = path.read_text(encoding="utf-8")
        plan = loads(text, path)
        changes: dict[tuple[int, int, int], Part | None] = {}
        for _ in range(5):
            x, y, z = (chance.randrange(along + 1) for along in plan.size)
            changes[x, y, z] = chance.choice([None, *PARTS])
        coded_text, fresh = dumps(lay(plan, changes)), dumps(Plan(plan.cells, plan.triggers, plan.outputs))
        with monkeypatch.context() as few:
            few.setattr("tickwright.plan.model.LARGE_PLAN", 10**9)
            few.setattr("tickwright.plan.reading.LARGE_PLAN", 10**9)
            plain = loads(text, path)
            assert dumps(lay(plain, changes)) == coded_text
            assert dumps(Plan(dict(plain.cells), plain.triggers, plain.outputs)) == fresh


def test_a_large_plan_is_kept_as_codes_through_edits():
    wide = cells_of_plans.LARGE_PLAN // 10
    rows = "\n".join(["#" * wide] * 10)
    plan = loads(f'format = "tickwright plan 1"\nlegend = {{"#" = "block"}}\nlayer = [{{rows = """\n{rows}"""}}]')
    assert (isinstance(plan.cells, Cells), plan.size, plan.bill()) == (True, (wide, 10, 1), {"block": 10 * wide})
    more = place(plan, (3, 4, 1), parse_part("wire"))
    assert (isinstance(more.cells, Cells), more.size) == (True, (wide, 10, 2))
    assert remove(more, (3, 4, 1)).cells == plan.cells
    assert isinstance(Plan(dict(plan.cells)).cells, Cells)
    with pytest.raises(PlanError, match="outside the grid"):
        place(plan, (0, -1, 0), parse_part("block"))
    with pytest.raises(PlanError, match=f"{MOST_ALONG[0] + 1:,} cells along x"):
        place(plan, (MOST_ALONG[0], 0, 0), parse_part("block"))
