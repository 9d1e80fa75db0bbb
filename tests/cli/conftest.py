"""The program called in this process, as the tests of the commands do."""

from __future__ import annotations

import sys

import pytest

from tickwright.cli import main


@pytest.fixture(name="call")
def caller(monkeypatch, capsys):
    """Call the program; give its exit code, what it printed and what it said of errors."""

    def call(*words: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["tickwright", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        captured = capsys.readouterr()
        return int(end.value.code or 0), captured.out, captured.err

    return call
