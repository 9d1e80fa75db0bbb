"""The file of a sweep when SQLite cannot go on: one message, exit code 2, and what was recorded is still there."""

from __future__ import annotations

import os
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from tickwright.sweeps import results

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TAPS = EXAMPLES / "taps.toml"
MORE = ["--length", "1 tick..60 ticks", "--workers", "1"]


@pytest.fixture(name="file")
def swept(call, tmp_path):
    """A file with forty points."""
    file = tmp_path / "r.sqlite"
    assert call("sweep", TAPS, "--into", file, "--length", "1 tick..40 ticks", "--workers", "1", "--csv")[0] == 0
    return file


def rows(file):
    opened = sqlite3.connect(file)
    found = opened.execute("SELECT key, answer FROM points ORDER BY key").fetchall()
    opened.close()
    return found


def pages_of(file):
    with closing(sqlite3.connect(file)) as opened:
        return opened.execute("PRAGMA page_count").fetchone()[0]


def refused(call, *words):
    code, out, err = call("sweep", *words)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert err.startswith("tickwright: ")
    return err


def on_opening(monkeypatch, command):
    """Have each file that is opened for results set up by a command of SQLite's."""
    usual = results.Results._open

    def opened(self):
        usual(self)
        self._file.execute(command)

    monkeypatch.setattr(results.Results, "_open", opened)


def test_a_file_that_cannot_grow(call, monkeypatch, file):
    pages = pages_of(file)
    before = rows(file)
    with monkeypatch.context() as patch:
        on_opening(patch, f"PRAGMA max_page_count = {pages}")
        said = refused(call, TAPS, "--into", file, *MORE)
    assert said == (
        f'tickwright: "{file}" cannot grow, disk full: make room. What is recorded stays; the same command goes on '
        "from there.\n"
    )
    assert rows(file) == before
    assert call("sweep", TAPS, "--into", file, *MORE, "--csv")[0] == 0
    assert len(rows(file)) == 60


def test_what_a_file_has_room_for_is_recorded(call, monkeypatch, file):
    pages = pages_of(file)
    before = rows(file)
    with monkeypatch.context() as patch:
        on_opening(patch, f"PRAGMA max_page_count = {pages + 1}")
        refused(call, TAPS, "--into", file, *MORE)
    assert set(before) < set(rows(file))
    assert len(rows(file)) < 60
    assert call("sweep", TAPS, "--into", file, *MORE, "--csv")[0] == 0
    assert len(rows(file)) == 60


def test_a_full_disk(call, tmp_path):
    """On a real file system of 64 KiB, where this machine lets one be mounted."""
    small = tmp_path / "small"
    small.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(small)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no file system can be mounted here")
    try:
        said = refused(call, TAPS, "--into", small / "r.sqlite", "--length", "1 tick..400 ticks", "--workers", "1")
        assert "make room" in said or "the room on it" in said
        kept = rows(small / "r.sqlite")
        assert 0 < len(kept) < 400
        assert call("sweep", "--into", small / "r.sqlite", "--csv")[0] == 0
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_a_file_that_may_not_be_written(call, monkeypatch, file):
    before = rows(file)
    on_opening(monkeypatch, "PRAGMA query_only = ON")
    said = refused(call, TAPS, "--into", file, *MORE)
    assert said == f'tickwright: "{file}" may not be written: allow it, or name another file.\n'
    assert rows(file) == before
    assert call("sweep", "--into", file, "--csv")[0] == 0  # it can be read all the same


def test_a_file_that_another_program_is_writing(call, monkeypatch, file):
    monkeypatch.setattr(results, "WAIT_SECONDS", 0.05)
    before = rows(file)
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    said = refused(call, TAPS, "--into", file, *MORE)
    assert "is being written by another program" in said
    other.execute("ROLLBACK")
    other.close()
    assert rows(file) == before


@pytest.mark.parametrize("words", [[TAPS, *MORE], []])
def test_a_damaged_page(call, file, words):
    data = bytearray(file.read_bytes())
    assert len(data) > 5 * 4096
    data[4096:] = b"\xa5" * (len(data) - 4096)
    file.write_bytes(data)
    said = refused(call, *words, "--into", file)
    assert said == f'tickwright: "{file}" is damaged: keep a copy, and sweep into another file.\n'
    assert file.read_bytes() == data


@pytest.mark.parametrize(
    "bad",
    ["answer = 'no JSON'", "answer = '{}}'", "answer = '[]'",
     "answer = '{\"results\": [{}]}'", "answer = '{\"plan\": 1}'",
     "settings = '7'", "acts = '[1]'", "length_steps = 'long'", f"answer = '{'[' * 5000}'", "plan = x'ff'"],
)  # fmt: skip
def test_a_row_that_no_sweep_has_written(call, file, bad):
    opened = sqlite3.connect(file)
    opened.execute(f"UPDATE points SET {bad} WHERE rowid = 3")
    opened.commit()
    opened.close()
    before = file.read_bytes()
    said = refused(call, "--into", file)
    assert "holds a row that no sweep has written, of the point " in said
    assert refused(call, TAPS, "--into", file, "--length", "1 tick..40 ticks") == said
    assert file.read_bytes() == before


def test_a_file_without_its_table(call, file):
    opened = sqlite3.connect(file)
    opened.execute("ALTER TABLE points RENAME TO lost")
    opened.close()
    assert "is no file of sweep results as they are written" in refused(call, "--into", file)
