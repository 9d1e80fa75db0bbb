"""What several tests share: tools that a machine may lack, and how hard the property tests look."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from answers import held
from tickwright.cli import main

pytest_plugins = ["pace"]

# `python dev.py fuzz` asks for the second. A deadline would fail a test for a busy machine.
settings.register_profile("tests", deadline=None)
settings.register_profile("fuzz", deadline=None, max_examples=2000, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("tests")


def pytest_configure(config):
    """Compile the native engine if its C has changed; tests of it fail, or are skipped, where that cannot be."""
    if not hasattr(config, "workerinput"):
        tool = Path(__file__).resolve().parents[1] / "tools" / "native_library.py"
        subprocess.run([sys.executable, str(tool), "--if-changed"], check=False)


def need_tool(name: str) -> str:
    """Return the path of a command; without it the test is skipped, or fails where TICKWRIGHT_REQUIRE_TOOLS is set."""
    path = shutil.which(name)
    if path is not None:
        return path
    reason = f"{name} is not on the PATH"
    if os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail(f"{reason}, and TICKWRIGHT_REQUIRE_TOOLS says it must be", pytrace=False)
    pytest.skip(reason)


@pytest.fixture(name="need_tool")
def need_tool_fixture():
    """Give the function need_tool to a test that does not import it."""
    return need_tool


@pytest.fixture(name="call")
def caller(monkeypatch, capsys):
    """Call the program; give its exit code, what it printed and what it said of errors.

    An answer with --json is held to the schema of its command.
    """

    def call(*words: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["tickwright", *map(str, words)])
        usual = signal.getsignal(signal.SIGINT), sys.unraisablehook
        try:
            with pytest.raises(SystemExit) as end:
                main()
        finally:
            signal.signal(signal.SIGINT, usual[0])
            sys.unraisablehook = usual[1]
        captured = capsys.readouterr()
        held(tuple(map(str, words)), captured.out)
        return int(end.value.code or 0), captured.out, captured.err

    return call
