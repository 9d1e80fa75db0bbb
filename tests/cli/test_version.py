"""`tickwright --version` says the version and whether the fast engine is there; without it the reference runs all."""

from __future__ import annotations

import platform
from importlib.metadata import version
from pathlib import Path

import pytest

from tickwright import extras
from tickwright.engine import run
from tickwright.engine.native import library
from tickwright.plan import load

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "latch.toml"


@pytest.fixture
def no_library(monkeypatch, tmp_path):
    """As where the library was never compiled."""
    monkeypatch.setenv(library.LIBRARY_VARIABLE, str(tmp_path / "none"))
    library.library.cache_clear()
    yield
    library.library.cache_clear()


def test_the_version_is_said(call):
    code, out, err = call("--version")
    assert (code, err) == (0, "")
    first, second, third, fourth = out.splitlines()
    assert first.startswith(f"tickwright {version('tickwright')}; the fast engine is ")
    assert second.startswith(f"Python {platform.python_version()}; wheel py3-none-")
    assert third.startswith("with click ")
    assert f", numpy {version('numpy')}, ortools {version('ortools')}, " in third
    assert "mypy" not in third
    assert fourth == "extras: cluster, film, verilog, workbench; not installed: none"  # as developers have it


def test_the_version_says_which_extras_are_missing(call, monkeypatch):
    monkeypatch.setattr(extras, "find_spec", lambda name: None if name in ("PIL", "nicegui") else 1)
    assert call("--version")[1].endswith("extras: cluster, verilog; not installed: film, workbench\n")


def test_without_the_library_the_version_says_so_and_fast_is_an_error(call, no_library):
    assert "the fast engine is missing: all runs on the reference" in call("--version")[1]
    code, out, err = call("run", EXAMPLE, "--engine", "fast")
    assert (code, out) == (2, "")
    assert "The fast engine's library is not installed" in err
    assert "--engine reference" in err


def test_without_the_library_what_is_large_runs_on_the_reference(monkeypatch, no_library):
    monkeypatch.setattr("tickwright.engine.running.LARGE_PLAN", 1)
    assert run(load(EXAMPLE), [], 20).engine == "reference"
    monkeypatch.setattr("tickwright.engine.running.MOST_WORK", 0)
    monkeypatch.setattr("tickwright.engine.running.LARGE_PLAN", 10**6)
    assert run(load(EXAMPLE), [], 20).engine == "reference"
