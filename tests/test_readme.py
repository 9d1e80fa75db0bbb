"""What the README shows is what the program prints."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SHOWN = re.findall(r"```\n\$ tickwright (.*)\n([^`]*)```", (ROOT / "README.md").read_text(encoding="utf-8"))


def test_the_readme_shows_runs():
    assert [command.split()[0] for command, _ in SHOWN] == ["run", "measure", "check", "diagnose"]


@pytest.mark.parametrize(("command", "output"), SHOWN)
def test_the_readme_shows_what_is_printed(command, output):
    env = {**os.environ, "COLUMNS": "100", "PYTHONIOENCODING": "utf-8"}
    words = [sys.executable, "-m", "tickwright", *shlex.split(command)]
    done = subprocess.run(words, capture_output=True, env=env, cwd=ROOT, check=True)
    printed = [line.rstrip() for line in done.stdout.decode("utf-8").splitlines()]
    assert printed == output.splitlines()
