"""The siege itself: it counts what it does, ends at its numbers, and finds what is broken."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

import siege

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks, and reads /proc")
FOREVER = time.monotonic() + 1e6


def test_it_ends_when_the_numbers_are_reached(tmp_path):
    words = ["--share", "0.002", "--only", "mutated plans,mutated briefs,mutated rule sets", "--minutes", "1000"]
    command = [sys.executable, siege.__file__, *words, "--seed", "3"]
    ended = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False)
    counts = "200 of 200 mutated plans, 10 of 10 mutated briefs, 40 of 40 mutated rule sets in "
    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout.splitlines()[-1].startswith(counts)
    assert ended.stdout.endswith("; 0 failed\n")


def test_ctrl_c_drops_no_count_of_its_turn(monkeypatch):
    def turn(folder, chance, size):
        yield True
        yield True
        raise KeyboardInterrupt

    monkeypatch.setitem(siege.SORTS, "mutated plans", siege.Sort(turn, 500, 100_000))
    tally = siege.Tally(["mutated plans"], 1.0)
    siege.turns(tally, FOREVER, random.Random(1))
    assert tally.counts() == {"mutated plans": 2}
    assert siege.line(tally, None) == "2 of 100,000 mutated plans; 0 failed"


def test_what_broke_is_kept_and_counted_and_the_rest_goes_on(monkeypatch, tmp_path):
    def turn(folder, chance, size):
        (folder / "plan.toml").write_text("format = 1", encoding="utf-8")
        raise siege.Broken("2 rows are gone")
        yield True

    monkeypatch.setattr(siege.tempfile, "tempdir", str(tmp_path))
    monkeypatch.setitem(siege.SORTS, "sweeps killed", siege.Sort(turn, 1, 3))
    tally = siege.Tally(["sweeps killed"], 1.0)
    siege.turns(tally, FOREVER, random.Random(1))
    tally.hear()
    assert tally.counts() == {"sweeps killed": 3}
    assert len(tally.failures) == 3
    kept = Path(tally.failures[0].partition("kept in ")[2])
    assert (kept / "plan.toml").read_text(encoding="utf-8") == "format = 1"
    assert "Broken: 2 rows are gone" in (kept / "what-broke.txt").read_text(encoding="utf-8")


def test_plans_with_charts_and_machines_are_among_those_mutated():
    texts = [path.read_text(encoding="utf-8") for path in sorted(siege.EXAMPLES.glob("*.toml"))]
    assert any("[[machine]]" in text for text in texts)
    assert any("[[chart]]" in text for text in texts)


def test_ctrl_c_is_pressed_at_commands_that_take_long():
    assert {"why", "chart", "place", "compose", "diagnose", "sweep"} <= {str(words[0]) for words in siege.COMMANDS}


def test_a_workbench_is_killed_while_a_page_edits(tmp_path, monkeypatch):
    monkeypatch.delenv("PYTEST_CURRENT_TEST")  # NiceGUI would take the server for a test of its own
    assert list(siege.page_killed(tmp_path, random.Random(2), 1)) == [True]
