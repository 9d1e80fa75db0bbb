"""The edits that a page asks for, without a page."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tickwright import TickwrightError
from tickwright.kinds import PARTS, parse_part
from tickwright.workbench.actions import ACTIONS, choose_kind, perform
from tickwright.workbench.cells import EMPTY, View, rules_of
from tickwright.workbench.document import Box
from tickwright.workbench.keys import PART_KEYS, TABLE, Key, key_map, key_rows
from tickwright.workbench.laying import with_rules
from tickwright.workbench.session import Session

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(name="session")
def opened(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    shutil.copy(ROOT / "examples/flat-loop-6.toml", folder)
    session = Session.open(folder / "flat-loop-6.toml")
    yield session
    session.document.close()


def ask(session, op, cell=(0, 0, 0), **more):
    return perform(session, {"op": op, "cell": list(cell), "box": None, **more})


def test_parts_are_laid_and_erased_one_step_each(session):
    plan = session.document.plan
    ask(session, "place", cells=[[0, 3, 0], [1, 3, 0]], part="insulator")
    assert [session.document.plan.cells[x, 3, 0].kind for x in (0, 1)] == ["insulator", "insulator"]
    ask(session, "erase", cells=[[0, 3, 0], [5, 5, 5]])
    ask(session, "erase", (1, 3, 0))
    ask(session, "undo")
    ask(session, "undo")
    assert ask(session, "undo").message == "Undone: place insulator."
    assert session.document.plan == plan
    assert ask(session, "undo").message == "Nothing is left to undo."


def test_a_part_turns_through_all_its_directions(session):
    ask(session, "place", (0, 4, 0), part="piston north")
    seen = []
    for _ in range(6):
        seen.append(session.document.plan.cells[0, 4, 0].facing)
        ask(session, "turn", (0, 4, 0))
    assert seen == ["north", "east", "south", "west", "up", "down"]
    ask(session, "turn-back", (0, 4, 0))
    assert session.document.plan.cells[0, 4, 0].facing == "down"


def test_over_an_empty_cell_the_chosen_part_turns(session):
    choose_kind(session, "repeater")
    facing = session.tool.facing
    ask(session, "turn", (9, 9, 0))
    assert (facing, session.tool.facing) == ("east", "south")
    assert session.document.undo_label is None


def test_a_box_is_copied_cut_pasted_moved_and_turned(session):
    box = [[2, 0, 1], [6, 1, 1]]
    before = len(session.document.plan.cells)
    assert ask(session, "copy", box=box).message == "Copied 10 parts."
    assert ask(session, "paste", (2, 4, 1)).box == Box((2, 4, 1), (6, 5, 1))
    assert len(session.document.plan.cells) == before + 10
    assert ask(session, "move", box=[[2, 4, 1], [6, 5, 1]], by=[0, 1, 0]).box == Box((2, 5, 1), (6, 6, 1))
    assert ask(session, "turn", box=[[2, 5, 1], [6, 6, 1]]).box == Box((2, 5, 1), (3, 9, 1))
    assert ask(session, "cut", box=[[2, 5, 1], [3, 9, 1]]).message == "Cut 10 parts."
    assert len(session.document.plan.cells) == before
    ask(session, "mirror-x", box=box)
    ask(session, "mirror-x", box=box)
    assert session.document.plan.cells[3, 0, 1] == parse_part("comparator east")


def test_the_part_under_the_cursor_can_be_chosen(session):
    ask(session, "pick", (3, 1, 1))
    assert session.tool == parse_part("comparator west")
    ask(session, "part-after")
    assert session.tool.kind == "torch"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"op": "burn", "cell": [0, 0, 0]}, 'no edit "burn"'),
        ({"op": "place"}, "cannot be read"),
        ({"op": "place", "cell": [0, 0, "a"]}, "cannot be read"),
        ({"op": "place", "cell": [0, 0, 0], "part": "reapeter"}, 'Did you mean "repeater"'),
        ({"op": "place", "cell": [0, 0, 0], "cells": [[0, 0, 0]] * 20_001}, "too many"),
        ({"op": "place", "cell": [5000, 0, 0], "part": "block"}, "the most is"),
        ({"op": "fill", "cell": [0, 0, 0], "box": [[0, 0, 0], [999, 999, 200]]}, "select a smaller one"),
        ({"op": "move", "cell": [0, 0, 0], "by": [-1, 0, 0]}, "leave the grid"),
        ({"op": "paste", "cell": [0, 0, 0]}, "Nothing has been copied"),
    ],
)
def test_what_cannot_be_done_changes_nothing_and_gets_a_message(session, data, message):
    plan = session.document.plan
    with pytest.raises(TickwrightError, match=message):
        perform(session, data)
    assert (session.document.plan, session.document.undo_label) == (plan, None)


def test_every_edit_can_be_asked_for_by_a_key_and_every_key_does_something():
    board = (ROOT / "src/tickwright/workbench/web/board.js").read_text(encoding="utf-8")
    ops = {op.split(":")[0] for op in key_map().values()}
    asked_by_drag = {"place", "fill", "lay-module"}
    assert set(ACTIONS) - asked_by_drag <= ops
    for op in ops - set(ACTIONS) - {"save"}:
        assert f'"{op}":' in board or f"{op}:" in board or op.startswith("ask-"), op


def test_no_key_stands_for_two_things():
    keys = [key for row in TABLE for key in row.keys]
    assert len(keys) == len(set(keys))
    with pytest.raises(ValueError, match="The key w stands for part:wire and for other"):
        key_map([*TABLE, Key(("w",), "W", "other", "something else")])


def test_every_part_has_a_key():
    assert sorted(kind for kinds in PART_KEYS.values() for kind in kinds) == sorted(PARTS)


def test_the_docs_list_the_keys_of_the_grids():
    page = (ROOT / "docs/workbench.md").read_text(encoding="utf-8")
    assert "".join(f"| {keys} | {text} |\n" for keys, text in key_rows()) in page


def test_keys_set_delays_and_modes_and_choose_parts_in_turn(session):
    ask(session, "place", (5, 5, 0), part="block")
    ask(session, "place", (5, 5, 1), part="repeater east")
    perform(session, {"op": "delay", "cell": [5, 5, 1], "value": "3"})
    assert session.document.plan.cells[5, 5, 1] == parse_part("repeater east delay=3")
    perform(session, {"op": "mode", "cell": [3, 0, 1]})
    assert session.document.plan.cells[3, 0, 1] == parse_part("comparator east mode=difference")
    before = session.document.plan
    perform(session, {"op": "delay", "cell": [3, 0, 1], "value": "2"})  # it has none
    assert session.document.plan == before
    for kind in ("piston", "pull-piston", "piston"):
        perform(session, {"op": "part", "cell": [0, 0, 0], "value": "piston|pull-piston"})
        assert session.tool.kind == kind


# --- what the layer view is sent ---------------------------------------------------------------------------------


def whole(view, session):
    return view.whole(session.document.plan, *rules_of(session.document))


def drawn(session, cell):
    view = View()
    data = whole(view, session)
    row = next(row for row in data["cells"] if tuple(row[:3]) == cell)
    return data["sorts"][row[3]]["text"]


def test_wires_are_drawn_as_the_rules_see_them(session):
    # At the entry (2, 0, 1): a repeater to the west, a comparator to the east, a wire to the south. It joins all three;
    # under `standard` it points where it joins.
    assert drawn(session, (2, 0, 1)) == "wire, joins south and east and west, points south and east and west"
    session.change("rules", lambda plan: with_rules(plan, "older-wire"))
    # Under `older-wire` it points to a side only if the one opposite is joined and no cross side is: nowhere here.
    assert drawn(session, (2, 0, 1)) == "wire, joins south and east and west, points nothing"


def test_a_patch_holds_what_changed_and_no_more(session):
    view = View()
    whole(view, session)
    ask(session, "place", (0, 5, 0), part="lamp")
    data = view.patch(session.document.plan, session.rules())
    assert ([row[:3] for row in data["cells"]], data["sorts"]) == ([(0, 5, 0)], [])
    ask(session, "erase", (6, 1, 1))  # the wire north of it loses a join; the block below is as it was
    data = view.patch(session.document.plan, session.rules())
    assert {row[:3]: row[3] == EMPTY for row in data["cells"]} == {(6, 1, 1): True, (6, 0, 1): False}
    assert view.patch(session.document.plan, session.rules())["cells"] == []


def test_problems_are_at_their_cells(session):
    ask(session, "erase", (1, 0, 0))
    found = whole(View(), session)["problems"]
    assert [(row[:3], row[3]) for row in found] == [((1, 0, 1), "error")]
    assert "no support" in found[0][4]


def test_a_rule_set_that_is_missing_is_a_problem_and_the_plan_is_drawn_all_the_same(session):
    session.change("rules", lambda plan: with_rules(plan, "none.toml"))
    data = whole(View(), session)
    assert "none.toml" in data["problems"][0][4]
    assert len(data["cells"]) == len(session.document.plan.cells)


# --- sessions ----------------------------------------------------------------------------------------------------


def test_a_folder_opens_with_the_work_that_was_not_saved(session, tmp_path):
    ask(session, "place", (0, 5, 0), part="lamp")
    path, plan = session.document.path, session.document.plan
    session.document._journal.close()
    again = Session.open(path.parent)
    assert (again.document.path, again.document.plan) == (path, plan)
    again.document.close()
    session.document = again.document


def test_a_plan_that_cannot_be_opened_leaves_the_one_that_is_open(session):
    bad = session.folder.root / "bad.toml"
    bad.write_text("nothing", encoding="utf-8")
    before = session.document
    with pytest.raises(TickwrightError, match=r"bad\.toml"):
        session.switch(bad)
    assert session.document is before
    ask(session, "place", (0, 5, 0), part="lamp")
    assert before.unsaved
