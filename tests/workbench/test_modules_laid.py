"""Modules on the bench, without a page: laid, turned, moved, taken out, edited in place, kept and saved."""

from __future__ import annotations

import pytest

from tickwright import TickwrightError, load, measure
from tickwright.kinds import parse_part
from tickwright.workbench import modules
from tickwright.workbench.actions import perform
from tickwright.workbench.document import ChangedOutside, Document
from tickwright.workbench.session import Session

LAMP = """# a note that stays
format = "tickwright plan 1"
legend = {"#" = "block", r = "repeater east", L = "lamp"}
[[layer]]
rows = "#"
[[layer]]
rows = "rL"
[outputs]
light = [1, 0, 1]
[ports]
in = {cell = [0, 0, 1], side = "west", role = "in"}
"""
WHOLE = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button"}
[[layer]]
rows = "#"
[[layer]]
rows = "b"
[triggers]
press = [0, 0, 1]
"""


@pytest.fixture(name="session")
def opened(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    (folder / "lamp.toml").write_text(LAMP)
    (folder / "whole.toml").write_text(WHOLE)
    session = Session.open(folder / "whole.toml")
    yield session
    session.document.close()


def ask(session, op, cell=(0, 0, 0), **more):
    return perform(session, {"op": op, "cell": list(cell), "box": None, **more})


def lay_lamp(session, cell=(1, 0, 0)):
    session.hold_module("lamp.toml")
    ask(session, "lay-module", cell)


def kinds(session):
    return {cell: str(part) for cell, part in session.document.plan.cells.items()}


def test_a_module_is_laid_and_saved_as_a_use_that_runs(session):
    lay_lamp(session)
    plan = session.document.plan
    assert plan.cells[1, 0, 1] == parse_part("repeater east")
    assert plan.outputs == {"lamp.light": (2, 0, 1)}
    session.document.save()
    text = session.document.path.read_text()
    assert 'plan = "lamp.toml"' in text
    assert "repeater" not in text
    (pressed,) = measure(load(session.document.path))
    assert pressed.hold_steps == 24  # as docs/modules.md has it: the button's 20, and the lamp goes out 4 later


def test_a_module_turns_about_its_corner_moves_and_goes_as_one(session):
    lay_lamp(session, (3, 2, 0))
    before = session.document.plan
    ask(session, "turn", (3, 2, 1))
    assert kinds(session) == {
        (0, 0, 0): "block",
        (0, 0, 1): "short-button",
        (3, 2, 0): "block",
        (3, 2, 1): "repeater south",
        (3, 3, 1): "lamp",
    }
    ask(session, "turn", (3, 2, 1))
    assert session.document.plan.cells[4, 2, 1] == parse_part("repeater west")  # the corner of its box stays
    ask(session, "mirror-x", (3, 2, 1))
    ask(session, "mirror-y", (3, 2, 1))
    assert session.document.plan.cells[3, 2, 1] == parse_part("repeater east")
    ask(session, "move", (3, 2, 1), by=[2, 1, 1])
    assert session.document.plan.cells[5, 3, 2] == parse_part("repeater east")
    with pytest.raises(TickwrightError, match="leave the grid"):
        ask(session, "move", (5, 3, 2), by=[0, 0, -2])
    ask(session, "erase", (5, 3, 2))
    assert session.document.plan.uses == ()
    assert len(session.document.plan.cells) == 2
    for _ in range(6):
        ask(session, "undo")
    assert session.document.plan == before


def test_a_part_of_a_module_cannot_be_laid_over_and_a_box_cannot_cut_it(session):
    lay_lamp(session)
    with pytest.raises(TickwrightError, match=r"\(2, 0, 1\) belongs to the module lamp \(lamp.toml\): open the module"):
        ask(session, "place", (2, 0, 1), part="block")
    with pytest.raises(TickwrightError, match='cuts the module "lamp" in two'):
        ask(session, "move", (0, 0, 0), box=[[0, 0, 0], [1, 0, 1]], by=[0, 1, 0])
    with pytest.raises(TickwrightError, match="where block stands already"):
        ask(session, "move", (2, 0, 1), by=[-1, 0, 0])
    ask(session, "move", (0, 0, 0), box=[[0, 0, 0], [2, 0, 1]], by=[0, 1, 0])
    assert session.document.plan.uses[0].at == (1, 1, 0)
    with pytest.raises(TickwrightError, match="a plan cannot lie in itself"):
        session.hold_module("whole.toml")


def test_an_edit_in_place_goes_to_all_places_and_to_the_file(session):
    lay_lamp(session)
    session.hold_module("lamp.toml")
    ask(session, "turn", (9, 9, 0))  # in hand
    ask(session, "lay-module", (6, 2, 0))
    ask(session, "open-module", (6, 2, 1))
    assert session.inside == "lamp-2"
    ask(session, "delay", (6, 2, 1), value="4")
    ask(session, "place", (6, 4, 1), part="torch on=north")
    plan = session.document.plan
    assert plan.cells[1, 0, 1] == parse_part("repeater east delay=4")  # in the other place, too
    assert plan.cells[3, 0, 1] == parse_part("torch on=west")
    assert plan.cells[6, 2, 1] == parse_part("repeater south delay=4")
    ask(session, "undo")
    assert (3, 0, 1) not in session.document.plan.cells
    assert session.inside == "lamp-2"
    with pytest.raises(TickwrightError, match="belongs to the whole"):
        ask(session, "erase", (0, 0, 1))
    with pytest.raises(TickwrightError, match="lies before the first cell"):
        ask(session, "place", (6, 1, 1), part="block")
    lamp = session.document.path.with_name("lamp.toml")
    assert lamp.read_text() == LAMP
    ask(session, "leave-module")
    session.document.save()
    assert "delay=4" in lamp.read_text()
    assert lamp.read_text().startswith("# a note that stays")
    assert load(session.document.path) == session.document.plan
    ask(session, "undo")  # what is saved can be taken back
    assert session.document.plan.cells[1, 0, 1] == parse_part("repeater east")
    session.document.save()
    assert load(session.document.path) == session.document.plan


def test_a_name_given_in_place_is_the_modules(session):
    lay_lamp(session)
    session.open_module("lamp")
    from tickwright.workbench import laying

    session.change("name", lambda plan: laying.name_cell(plan, "outputs", "mid", (1, 0, 1)))
    assert session.document.plan.outputs == {"lamp.light": (2, 0, 1), "lamp.mid": (1, 0, 1)}
    session.leave_module()
    session.change("rename", lambda plan: modules.renamed(plan, "lamp", "busy"))
    assert session.document.plan.outputs == {"busy.light": (2, 0, 1), "busy.mid": (1, 0, 1)}


def test_a_tile_is_edited_in_a_copy(session):
    session.hold_module("tile:nor2")
    ask(session, "lay-module", (3, 3, 0))
    tile = session.document.plan.uses[0].inside.cells
    session.open_module("nor2")
    assert session.document.plan.uses[0].plan == "nor2.toml"
    assert load(session.document.path.with_name("nor2.toml"), checked=False).cells == tile
    session.leave_module()
    ask(session, "undo")
    assert session.document.plan.uses[0].plan == "tile:nor2"


def test_one_place_alone_gets_a_copy(session):
    lay_lamp(session)
    lay_lamp(session, (5, 0, 0))
    session.open_module("lamp-2", alone=True)
    ask(session, "delay", (5, 0, 1), value="3")
    assert [use.plan for use in session.document.plan.uses] == ["lamp.toml", "lamp-2.toml"]
    assert session.document.plan.cells[1, 0, 1] == parse_part("repeater east")
    session.document.save()
    assert "delay=3" in session.document.path.with_name("lamp-2.toml").read_text()
    assert session.document.path.with_name("lamp.toml").read_text() == LAMP


def test_work_on_modules_that_was_not_saved_comes_back(session, tmp_path):
    lay_lamp(session)
    ask(session, "turn", (1, 0, 1))
    session.open_module("lamp")
    ask(session, "delay", (1, 0, 1), value="2")
    plan, path = session.document.plan, session.document.path
    session.document.close()  # as when the process is killed: the journal stays
    session.document = Document.open(path)
    assert session.document.plan == plan
    assert session.document.notice == "The work that was not saved has been brought back."
    session.document.undo()
    assert session.document.plan.cells[1, 0, 1] == parse_part("repeater south")
    session.document.redo()
    session.document.save()
    assert load(path) == plan


def test_a_modules_file_that_changed_outside_is_not_written_over(session):
    lay_lamp(session)
    session.open_module("lamp")
    ask(session, "delay", (1, 0, 1), value="2")
    lamp = session.document.path.with_name("lamp.toml")
    lamp.write_text(LAMP.replace("repeater east", "repeater east delay=3"))
    with pytest.raises(ChangedOutside, match=r"lamp\.toml was changed by another program"):
        session.document.save()
    assert "delay=3" in lamp.read_text()
    session.document.save(overwrite=True)
    assert "delay=2" in lamp.read_text()
