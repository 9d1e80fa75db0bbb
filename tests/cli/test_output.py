"""Where answers and files go: a reader that has gone, a disk that is full; and errors as JSON."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LATCH = EXAMPLES / "latch.toml"
full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="has no /dev/full")


def tickwright(*words, **more):
    return subprocess.Popen([sys.executable, "-m", "tickwright", *map(str, words)], **more)


@pytest.mark.parametrize("words", [["parts"], ["parts", "--json"], ["explain"], ["run", LATCH, "--json"]])
def test_a_reader_that_has_gone_is_no_error(words):
    reader, writer = os.pipe()
    os.close(reader)
    process = tickwright(*words, stdout=writer, stderr=subprocess.PIPE)
    os.close(writer)
    assert process.communicate()[1] == b""
    assert process.returncode == 0


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_closed_streams_are_no_error(closed):
    command = f'"{sys.executable}" -m tickwright measure "{LATCH}" --json {closed}'
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


@full
def test_an_answer_that_cannot_be_printed_is_said():
    with Path("/dev/full").open("wb") as out:
        process = tickwright("parts", stdout=out, stderr=subprocess.PIPE)
        said = process.communicate()[1]
    assert (process.returncode, said) == (2, b"tickwright: The answer cannot be printed: disk full.\n")


@full
@pytest.mark.parametrize(
    "words",
    [
        ["export", LATCH, "--svg", "-o"],
        ["run", LATCH, "--for", "1 s", "--vcd"],
        ["check", EXAMPLES / "taps.toml", "--junit"],
    ],
)
def test_a_full_disk_is_named_with_its_file(call, words):
    code, _, err = call(*words, "/dev/full")
    assert code == 2
    assert err == 'tickwright: "/dev/full": disk full. Check the path and what you may read and write there.\n'


def test_a_file_that_finds_no_room_leaves_the_old_one_and_nothing_half_written(call, tmp_path, monkeypatch):
    goal = tmp_path / "latch.svg"
    goal.write_text("old", encoding="utf-8")

    def no_room(self, data):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", no_room)
    code, out, err = call("export", LATCH, "--svg", "-o", goal)
    assert (code, out) == (2, "")
    assert err == f'tickwright: "{goal}": disk full. Check the path and what you may read and write there.\n'
    assert [path.name for path in tmp_path.iterdir()] == ["latch.svg"]
    assert goal.read_text(encoding="utf-8") == "old"


def test_memory_that_runs_out_is_told_in_one_message(call, tmp_path, monkeypatch):
    def out_of_memory(self, *_, **__):
        raise MemoryError

    monkeypatch.setattr(Path, "write_bytes", out_of_memory)
    code, out, err = call("export", LATCH, "--svg", "-o", tmp_path / "latch.svg")
    assert (code, out) == (2, "")
    assert err == "tickwright: This took more memory than there is: try a smaller plan, brief or box.\n"


def test_an_error_is_json_where_the_answer_would_be(call, tmp_path):
    plan = tmp_path / "odd.toml"
    plan.write_text(LATCH.read_text(encoding="utf-8").replace("layer", "lair", 1), encoding="utf-8")
    for words, said, line in (
        (["measure", plan], "lair", True),
        (["run", LATCH, "--do", "0:nobody"], "nobody", False),
        (["measure", LATCH, "--none"], "--none", False),
    ):
        code, out, err = call(*words, "--json")
        assert (code, err) == (2, "")
        document = json.loads(out)
        assert list(document) == ["error"]
        assert list(document["error"]) == ["message", "file", "line", "cells"]
        assert said in document["error"]["message"]
        assert (document["error"]["line"] is not None) == line
        assert document["error"]["file"] == (str(plan) if line else None)


def test_the_cell_at_fault_is_in_the_error(call, tmp_path):
    plan = tmp_path / "hanging.toml"
    plan.write_text(
        'format = "tickwright plan 1"\nlegend = {w = "wire"}\nlayer = [{rows = ""}, {rows = ".w"}]\n', encoding="utf-8"
    )
    error = json.loads(call("bill", plan, "--json")[1])["error"]
    assert (error["file"], error["line"], error["cells"]) == (str(plan), 3, [[1, 0, 1]])
