"""The examples in each command's help run as they stand."""

from __future__ import annotations

import io
import shlex
import sys
from pathlib import Path

import pytest
import typer

from tickwright.cli import SAMPLES, program
from tickwright.cli.app import COMMANDS

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
# These search for minutes or serve for ever: their options are held to what there is, and tests of their own run them.
ONLY_READ = ("compose", "place", "workbench")
ELSEWHERE = ("demo",)  # takes no words; tests/cli/test_commands.py runs it
LINES = [sample.line for samples in SAMPLES.values() for sample in samples]


def words_of(line: str) -> list[str]:
    """A line as the shell passes it on, patterns of files filled in."""
    words = [map(str, sorted(Path().glob(word))) if "*" in word else [word] for word in shlex.split(line)]
    return [word for found in words for word in found]


def test_every_command_has_examples_in_its_help(call):
    assert set(SAMPLES) == set(COMMANDS)
    _, out, _ = call("run", "--help")
    for sample in SAMPLES["run"]:
        assert f"    # {sample.what}\n    tickwright {sample.line}\n" in out


@pytest.mark.parametrize("line", [line for line in LINES if line.split()[0] not in (*ONLY_READ, *ELSEWHERE)])
def test_an_example_runs_as_it_stands(call, line, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    Path("examples").symlink_to(EXAMPLES)
    words, _, source = line.partition(" < ")
    if source:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(Path(source).read_bytes())))
    if line.startswith("sweep --into"):
        call("sweep", "examples/taps.toml", "--set", "2,0,1:delay=1..2", "--into", "taps.sqlite", "--workers", "1")
    code, out, err = call(*words_of(words))
    assert (code, err) == (0, "")
    assert out


@pytest.mark.parametrize("line", [line for line in LINES if line.split()[0] in ONLY_READ])
def test_an_example_that_is_not_run_names_options_and_files_that_exist(line, monkeypatch):
    monkeypatch.chdir(EXAMPLES.parent)
    name, *words = words_of(line)
    command = typer.main.get_command(program([name])).commands[name]
    read = command.make_context(name, list(words)).params
    first = next(Path(value) for key, value in read.items() if key in ("brief", "netlist", "target"))
    assert first.exists() or first.name == "new.toml"
