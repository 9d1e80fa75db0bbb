"""The document: history without end, a journal that a crash cannot break, and files that nobody overwrites unasked."""

from __future__ import annotations

import fcntl
import os
import resource
import runpy
import shutil
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickwright import TickwrightError, load
from tickwright.errors import PlanError, UsageError
from tickwright.kinds import PARTS, parse_part, part_text
from tickwright.plan import Plan, dumps, lay
from tickwright.workbench import journal
from tickwright.workbench.changes import change_between
from tickwright.workbench.document import Box, ChangedOutside, Document
from tickwright.workbench.folder import Folder
from tickwright.workbench.journal import journals_of
from tickwright.workbench.laying import (
    again,
    box_of,
    erase,
    fill,
    flip,
    lift,
    name_cell,
    notes_of,
    pinned_notes,
    put,
    shift,
    turn,
    with_note_at,
    with_notes,
)

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
BLOCK = parse_part("block")


OPENED = []


@pytest.fixture(autouse=True)
def own_state(tmp_path, monkeypatch):
    """Journals of its own for each test, and no file left open by it."""
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    yield
    while OPENED:
        crash(OPENED.pop())


def opened(path):
    document = Document.open(path)
    OPENED.append(document)
    return document


@pytest.fixture(name="path")
def plan_file(tmp_path):
    folder = tmp_path / "landing"
    folder.mkdir()
    shutil.copy(EXAMPLES / "flat-loop-6.toml", folder)
    return folder / "flat-loop-6.toml"


def put_block(document, cell=(0, 1, 1)):
    return document.change("place block", lambda plan: lay(plan, {cell: BLOCK}))


def crash(document):
    """What a killed process leaves: the files as they are, and no lock."""
    document._journal.close()


def test_a_change_is_undone_and_made_again(path):
    document = opened(path)
    before = document.plan
    assert put_block(document)
    after = document.plan
    assert (document.unsaved, document.undo_label, document.redo_label) == (True, "place block", None)
    assert document.undo() == "place block"
    assert (document.plan, document.unsaved, document.redo_label) == (before, False, "place block")
    assert document.redo() == "place block"
    assert document.plan == after
    assert document.redo() is None


def test_an_edit_that_changes_nothing_or_fails_leaves_no_trace(path):
    document = opened(path)
    assert not document.change("nothing", lambda plan: plan)
    with pytest.raises(PlanError):
        document.change("outside", lambda plan: lay(plan, {(-1, 0, 0): BLOCK}))
    assert document.undo() is None
    assert journals_of(path.parent) == []


def test_undo_has_no_end(path):
    document = opened(path)
    first = document.plan
    for number in range(300):
        put_block(document, (number, 3, 0))
    while document.undo():
        pass
    assert document.plan == first


@given(st.lists(st.tuples(st.sampled_from("puur"), st.integers(0, 5), st.sampled_from(sorted(PARTS))), max_size=30))
def test_any_course_of_edits_comes_back_from_the_journal(tmp_path_factory, steps):
    folder = tmp_path_factory.mktemp("any")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TICKWRIGHT_STATE", str(folder / "state"))
        document = opened(folder / "new.toml")
        states = [document.plan]  # a model of the history: a plain list of plans
        at = 0
        for sort, x, kind in steps:
            if sort == "p":
                part = parse_part(f"{kind} {PARTS[kind].directions[0]}" if PARTS[kind].direction == "" else kind)
                if document.change("p", lambda plan, x=x, part=part: lay(plan, {(x, 0, 0): part})):
                    states[at + 1 :] = [document.plan]
                    at += 1
            elif sort == "u" and document.undo():
                at -= 1
            elif sort == "r" and document.redo():
                at += 1
            assert document.plan == states[at]
        crash(document)
        back = opened(folder / "new.toml")
        assert back.plan == states[at]
        while back.redo():
            at += 1
        assert (back.plan, at) == (states[-1], len(states) - 1)
        while back.undo():
            pass
        assert back.plan == states[0]
        crash(back)


def test_a_crash_loses_nothing_and_says_so(path):
    document = opened(path)
    put_block(document)
    document.change("name", lambda plan: name_cell(plan, "outputs", "bell", (1, 0, 1)))
    plan = document.plan
    crash(document)
    back = opened(path)
    assert back.plan == plan
    assert "brought back" in back.notice
    assert back.unsaved
    assert load(path) != plan  # the file itself was not touched


def test_what_a_crash_cut_short_is_left_out_and_work_goes_on(path):
    document = opened(path)
    put_block(document)
    plan = document.plan
    put_block(document, (5, 3, 0))
    crash(document)
    file = document._journal.file
    file.write_bytes(file.read_bytes()[:-7])
    back = opened(path)
    assert back.plan == plan
    put_block(back, (6, 3, 0))
    plan = back.plan
    crash(back)
    assert opened(path).plan == plan


@contextmanager
def no_room(journal_file, bytes_left):
    """While it lasts no file grows past the length of this one and so many bytes more, as if the disk were full."""
    length = journal_file.stat().st_size if journal_file.exists() else 0
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (length + bytes_left, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def journal_file(document):
    return document._journal.file


@pytest.mark.parametrize("bytes_left", [0, 1, 40])
def test_what_there_is_no_room_for_is_said_and_kept_when_there_is(path, bytes_left):
    document = opened(path)
    put_block(document)
    whole = journal_file(document).read_bytes()
    with no_room(journal_file(document), bytes_left):
        for x in range(1, 6):
            put_block(document, (x, 1, 1))
        document.undo()
        assert document.not_kept == "the file may not grow any more"
        assert journal_file(document).read_bytes() == whole  # no half of a line is left
        assert not document.keep()
    assert document.keep()
    assert document.not_kept == ""
    put_block(document, (9, 1, 1))
    before = document.plan
    crash(document)
    again = opened(path)
    assert again.plan == before
    assert again.undo() == "place block"
    assert again.redo() == "place block"


def test_what_was_never_kept_does_not_come_back_in_part(path):
    document = opened(path)
    put_block(document)
    kept = document.plan
    with no_room(journal_file(document), 60):
        for x in range(1, 32):
            put_block(document, (x, 1, 1))
        crash(document)
    assert opened(path).plan == kept


def test_a_journal_that_cannot_even_begin_begins_when_there_is_room(path):
    document = opened(path)
    opening = document.plan
    with no_room(journal_file(document), 0):
        put_block(document)
        put_block(document, (1, 1, 1))
        assert document.not_kept
        assert not list(journal_file(document).parent.glob("*.jsonl"))
        assert not list(journal_file(document).parent.glob("*.new"))
    assert document.keep()
    before = document.plan
    crash(document)
    again = opened(path)
    assert again.plan == before
    again.undo()
    again.undo()
    assert again.plan == opening


def test_saving_makes_up_for_a_journal_without_room(path):
    document = opened(path)
    put_block(document)
    with no_room(journal_file(document), 0):
        put_block(document, (1, 1, 1))
        assert document.not_kept
        document.save()
    assert document.not_kept == ""
    assert load(path) == document.plan


def test_a_full_disk_is_called_so(tmp_path, monkeypatch):
    """On a real file system of 64 KiB, where this machine lets one be mounted."""
    small = tmp_path / "small"
    small.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(small)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no file system can be mounted here")
    try:
        monkeypatch.setenv("TICKWRIGHT_STATE", str(small))
        document = opened(tmp_path / "new-plan.toml")
        put_block(document, (0, 0, 1))
        kept = 1
        while not document.not_kept:
            put_block(document, (kept % 20, kept // 20, 1))
            kept += 1
        assert document.not_kept == "disk full"
        size = journal_file(document).stat().st_size
        put_block(document, (0, 0, 0))
        assert journal_file(document).stat().st_size == size
        assert journal_file(document).read_bytes().count(b"\n") == kept  # the first line, and all but the last change
        crash(document)
        assert len(opened(document.path).plan.cells) == kept - 1
    finally:
        while OPENED:
            crash(OPENED.pop())
        subprocess.run(["umount", str(small)], check=True)


def test_a_journal_that_is_none_is_put_aside(path):
    document = opened(path)
    put_block(document)
    crash(document)
    document._journal.file.write_bytes(b"\x00\xff nothing of ours\n")
    back = opened(path)
    assert back.plan == load(path)
    assert "put aside" in back.notice
    assert list(document._journal.file.parent.glob("*.unreadable"))


def test_a_new_plan_has_no_file_until_it_is_saved(tmp_path):
    path = tmp_path / "bell.toml"
    document = opened(path)
    assert document.unsaved
    put_block(document)
    assert not path.exists()
    assert journals_of(tmp_path) == [path]
    document.save()
    assert not document.unsaved
    assert load(path).cells == document.plan.cells
    document.close()
    assert journals_of(tmp_path) == []


def test_saving_keeps_comments_and_undo_goes_past_it(path):
    document = opened(path)
    text = path.read_text(encoding="utf-8")
    put_block(document)
    document.save()
    assert path.read_text(encoding="utf-8").startswith(text.split("format")[0])
    document.undo()
    assert document.unsaved
    document.save()
    assert path.read_text(encoding="utf-8") == text


def test_a_file_changed_outside_is_not_overwritten_unasked(path):
    document = opened(path)
    put_block(document)
    theirs = path.read_text(encoding="utf-8").replace("flat loop of six", "mended by hand")
    path.write_text(theirs, encoding="utf-8")
    assert document.outside() == "changed"
    with pytest.raises(ChangedOutside, match="changed by another program"):
        document.save()
    assert path.read_text(encoding="utf-8") == theirs
    mine = document.plan
    document.take_file()
    assert document.plan.title == "Gangway lamp, mended by hand"
    document.undo()
    assert document.plan == mine
    document.save()  # now it knows what it replaces
    assert document.outside() == "same"


def test_a_file_changed_outside_may_be_overwritten_deliberately(path):
    document = opened(path)
    put_block(document)
    path.write_text("not a plan", encoding="utf-8")
    with pytest.raises(ChangedOutside):
        document.save()
    document.save(overwrite=True)
    assert load(path) == document.plan


def test_unsaved_work_comes_back_even_if_the_file_changed_meanwhile(path):
    document = opened(path)
    put_block(document)
    plan = document.plan
    crash(document)
    path.write_text(path.read_text(encoding="utf-8") + "# mended\n", encoding="utf-8")
    back = opened(path)
    assert back.plan == plan
    assert back.outside() == "changed"


def test_a_plan_open_elsewhere_is_not_opened_twice(path):
    opened(path)
    with pytest.raises(UsageError, match="open in another workbench"):
        opened(path)


class ByteLocks:
    """`msvcrt.locking` as its documentation has it: a region of a file is locked for one opening of it, or OSError."""

    LK_NBLCK = 2

    def locking(self, descriptor, mode, count):
        assert (mode, count, os.lseek(descriptor, 0, os.SEEK_CUR)) == (self.LK_NBLCK, 1, 0)
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_a_plan_open_elsewhere_is_not_opened_twice_on_windows_either(path, monkeypatch):
    monkeypatch.setitem(sys.modules, "msvcrt", ByteLocks())
    monkeypatch.setattr(sys, "platform", "win32")
    there = runpy.run_path(journal.__file__)["Journal"]
    first, second = there(path), there(path)
    first.lock()
    with pytest.raises(UsageError, match="open in another workbench"):
        second.lock()
    first.close()
    second.lock()
    second.close()


def test_a_bad_file_gives_a_message(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text("format = 3", encoding="utf-8")
    with pytest.raises(TickwrightError, match=r"bad.toml, line 1"):
        opened(path)
    path.unlink()
    assert opened(path).plan.cells == {}  # and the name is free again


def test_work_in_progress_can_be_saved_and_opened(tmp_path):
    path = tmp_path / "half.toml"
    document = opened(path)
    document.change("wire", lambda plan: lay(plan, {(0, 0, 1): parse_part("wire")}))
    document.save()
    document.close()
    assert part_text(opened(path).plan.cells[0, 0, 1]) == "wire"


# --- edits -------------------------------------------------------------------------------------------------------


def test_boxes_turn_mirror_and_repeat():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    whole = Box((0, 0, 0), (6, 1, 1))
    turned = plan
    for _ in range(4):
        wide, deep, _z = turned.size
        turned = turn(turned, Box((0, 0, 0), (max(wide, deep) - 1,) * 2 + (1,)))
    assert turn(plan, whole, 4).cells == plan.cells
    assert (turned.cells, turned.triggers) == (plan.cells, plan.triggers)
    assert flip(flip(plan, whole, "x"), whole, "x") == plan
    assert flip(plan, whole, "x").triggers["press"] == (6, 0, 1)
    twice = again(plan, whole, "y", 2, 3)
    assert len(twice.cells) == 2 * len(plan.cells)
    assert put(plan, lift(plan, whole), (0, 3, 0)).cells == twice.cells
    assert erase(plan, whole).cells == {}


def test_a_move_takes_names_along_and_never_leaves_the_grid():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    whole = Box((0, 0, 0), (6, 1, 1))
    moved = shift(plan, whole, (2, 1, 0))
    assert moved.triggers["press"] == (2, 1, 1)
    assert len(moved.cells) == len(plan.cells)
    with pytest.raises(UsageError, match="leave the grid"):
        shift(plan, whole, (-1, 0, 0))


def test_names_follow_into_the_expectations():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    renamed = name_cell(plan, "outputs", "lantern", plan.outputs["lamp"])
    assert {wish.output for wish in renamed.expectations} == {"lantern", "entry"}
    assert list(renamed.outputs) == ["lantern", "entry"]
    gone = name_cell(plan, "outputs", "", plan.outputs["lamp"])
    assert {wish.output for wish in gone.expectations} == {"entry"}
    with pytest.raises(UsageError, match="names"):
        name_cell(plan, "outputs", "entry", (0, 0, 0))
    with pytest.raises(UsageError, match="is no name"):
        name_cell(plan, "outputs", "La mp", (0, 0, 0))


def test_notes_are_the_comments_at_the_head_of_the_file():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    assert notes_of(plan).startswith("The gangway lamp after dark")
    noted = with_note_at(with_notes(plan, "Short."), (2, 0, 1), "the entry")
    assert dumps(noted).startswith('# Short.\n# (2, 0, 1): the entry\nformat = "tickwright plan 1"')
    assert pinned_notes(noted) == {(2, 0, 1): "the entry"}
    assert noted == plan
    assert not change_between("note", plan, noted).empty
    assert notes_of(with_note_at(noted, (2, 0, 1), "")) == "Short."
    with pytest.raises(UsageError, match="cannot be printed"):
        with_notes(plan, "bell\x07")


def test_a_note_may_say_anything_that_a_comment_may():
    text = '"""\n[layer]\n# hash\n\nend'
    plan = with_notes(Plan({(0, 0, 0): BLOCK}), text)
    assert notes_of(plan) == text
    assert fill(plan, [(1, 0, 0)], BLOCK).cells == {(0, 0, 0): BLOCK, (1, 0, 0): BLOCK}
    assert box_of((1, 1, 1), (0, 2, 0)) == Box((0, 1, 0), (1, 2, 1))


# --- the folder --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["../out.toml", "a/../../out.toml", "/etc/hosts", "link.toml", "linked/secret.toml", "", ".", "a\0b", "x" * 300],
)
def test_no_name_leads_out_of_the_folder(tmp_path, name):
    (tmp_path / "out.toml").write_text("secret", encoding="utf-8")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "secret.toml").write_text("secret", encoding="utf-8")
    root = tmp_path / "landing"
    root.mkdir()
    (root / "link.toml").symlink_to(tmp_path / "out.toml")
    (root / "linked").symlink_to(elsewhere)
    folder = Folder(root)
    with pytest.raises(UsageError, match=r"leads out|no file name"):
        folder.place(name)
    with pytest.raises(UsageError):
        folder.write(name, b"overwritten", replace=True)
    assert (tmp_path / "out.toml").read_text(encoding="utf-8") == "secret"
    assert folder.plans() == []


def test_a_link_inside_the_folder_is_fine(path):
    (path.parent / "link.toml").symlink_to(path)
    folder = Folder(path.parent)
    assert folder.place("link.toml") == path
    assert [plan.name for plan in folder.plans()] == ["flat-loop-6.toml", "link.toml"]


def test_files_are_written_whole_and_not_over_others(tmp_path):
    folder = Folder(tmp_path)
    folder.write("sheets/lamp.svg", b"<svg/>")
    with pytest.raises(UsageError, match="already"):
        folder.write("sheets/lamp.svg", b"other")
    assert (tmp_path / "sheets/lamp.svg").read_bytes() == b"<svg/>"
    assert folder.write("sheets/lamp.svg", b"other", replace=True).read_bytes() == b"other"
    with pytest.raises(UsageError, match="does not end in"):
        folder.place("plan.txt", ".toml")
