"""The pace: slow tests are left out of `--fast`, a new one is noticed, and the list names tests that there are."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

from pace import LIST, read_list

TESTS = Path(__file__).resolve().parent
PLAIN = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}  # other plugins take long to load
# Burns so much of the processor's time, and sleeps or not: a test that only waits is not slow by this measure.
SUITE = """
import time

SEEN = []

def burn(seconds):
    end = time.process_time() + seconds
    while time.process_time() < end:
        pass

def test_quick(): pass
def test_known_to_be_slow(): burn(0.3)
def test_slow(): burn(0.3)
def test_slow_at_first():
    burn(0 if SEEN else 0.3)
    SEEN.append(1)
"""
MANY = """
import time

import pytest

@pytest.fixture(name="browser")
def a_browser(): return None

def burn(seconds):
    end = time.process_time() + seconds
    while time.process_time() < end:
        pass

@pytest.mark.parametrize("number", range(6))
def test_cases_that_are_slow_together(number): burn(0.19)
@pytest.mark.parametrize("number", range(3))
def test_cases_that_are_not(number): burn(0.19)
def test_in_a_browser(browser): pass

@pytest.fixture(scope="module")
def made_once(): burn(1.1)

def test_makes_what_is_shared(made_once): pass
@pytest.mark.parametrize("number", range(2))
def test_uses_what_is_shared(made_once, number): pass
"""


def run(folder, *options, noticed="0.2"):
    (folder / "test_some.py").write_text(SUITE, encoding="utf-8")
    words = [sys.executable, "-m", "pytest", "-p", "pace", "-p", "xdist.plugin", "-q", "--noticed-seconds", noticed]
    words += ["--slow-list", str(folder / "slow.txt"), *options, str(folder / "test_some.py"), "--rootdir", str(folder)]
    return subprocess.run(words, capture_output=True, text=True, check=False, cwd=TESTS, env=PLAIN)


def test_a_slow_test_that_is_not_listed_is_named_and_fails_the_run_where_it_is_far_too_slow(tmp_path):
    (tmp_path / "slow.txt").write_text("test_some.py::test_known_to_be_slow\n", encoding="utf-8")
    for workers, noticed, code in (((), "0.2", 0), (("-n", "1"), "0.06", 1)):
        done = run(tmp_path, *workers, noticed=noticed)
        assert done.returncode == code, done.stdout
        assert "4 passed" in done.stdout
        assert [line for line in done.stdout.splitlines() if "python dev.py test --record-pace" in line] == [
            line for line in done.stdout.splitlines() if line.startswith("test_some.py::test_slow takes 0.3 s")
        ]
        assert done.stdout.count("--record-pace") == 1


def test_the_list_is_written_from_what_was_run_and_fast_leaves_it_out(tmp_path):
    listed = tmp_path / "slow.txt"
    assert "--fast needs the list" in run(tmp_path, "--fast").stderr
    listed.write_text("other.py::test_elsewhere\ntest_some.py::test_quick\n", encoding="utf-8")
    (tmp_path / "slow_some.py").write_text(SUITE.replace("burn(0.3)", "burn(1.1)"), encoding="utf-8")
    (tmp_path / "many_some.py").write_text(MANY, encoding="utf-8")
    more = (str(tmp_path / "slow_some.py"), str(tmp_path / "many_some.py"))
    done = run(tmp_path, "--record-pace", *more)
    assert done.returncode == 0, done.stdout
    assert read_list(listed) == {
        "many_some.py::test_cases_that_are_slow_together",
        "many_some.py::test_makes_what_is_shared",
        "many_some.py::test_uses_what_is_shared",
        "other.py::test_elsewhere",
        "slow_some.py::test_known_to_be_slow",
        "slow_some.py::test_slow",
    }
    done = run(tmp_path, "--fast", "--noticed-seconds", "5", *more)
    assert done.returncode == 0, done.stdout
    # A browser's time is not seen: it is left out though it is not listed.
    assert "9 passed, 12 deselected" in done.stdout


def test_fast_does_not_load_what_it_leaves_out_as_a_whole(tmp_path):
    (tmp_path / "slow.txt").write_text("test_all_slow.py::test_one\n", encoding="utf-8")
    (tmp_path / "test_all_slow.py").write_text("1 / 0\ndef test_one(): pass\n", encoding="utf-8")
    (tmp_path / "test_at_a_bench.py").write_text("from bench import Bench\ndef test_two(): pass\n", encoding="utf-8")
    done = run(tmp_path, "--fast", "--noticed-seconds", "5", str(tmp_path))
    assert done.returncode == 0, done.stdout
    assert "4 passed" in done.stdout
    assert "2 errors" in run(tmp_path, "--noticed-seconds", "5", str(tmp_path)).stdout


def test_the_list_names_tests_that_there_are():
    known = set()
    for path in TESTS.rglob("test_*.py"):
        found = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        known |= {f"{path.relative_to(TESTS.parent).as_posix()}::{one.name}" for one in found if _is_test(one)}
    assert known
    assert sorted(read_list(LIST) - known) == []


def _is_test(node):
    return isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_")
