"""What README and docs show of the command line is what it does: output as printed, options and files that exist."""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
import typer

from tickwright.cli import program

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
BLOCK = re.compile(r"^```(?:console|sh)?\n(.*?)^```", re.MULTILINE | re.DOTALL)
PLACEHOLDER = re.compile(r"\b[A-Z]{3,}\b|\.\.\. |\[|\||<")


def shown_runs() -> list[tuple[str, str, str]]:
    """Every command that a page shows with its output: page, command, output."""
    found = []
    for page in PAGES:
        for block in BLOCK.findall(page.read_text(encoding="utf-8")):
            for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
                line, _, output = part.partition("\n")
                if "--ask" in line:  # a conversation: what is answered is typed in between
                    continue
                found.append((page.name, line, output))
    return found


def told_commands() -> list[tuple[str, str]]:
    """Every command that stands in a block or a sentence without its output, where nothing is left to fill in."""
    found = []
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        lines = [line for block in BLOCK.findall(text) for line in block.replace("\\\n", " ").splitlines()]
        lines += re.findall(r"`(tickwright [a-z][^`\n]*)`", text)
        for line in lines:
            command = line.split(" # ")[0].split("   #")[0].strip()
            if command.startswith("tickwright ") and not PLACEHOLDER.search(command):
                found.append((page.name, command))
    return list(dict.fromkeys(found))


def test_the_pages_show_and_tell_commands():
    assert [command.split()[1] for page, command, _ in shown_runs() if page == "README.md"] == [
        "run", "measure", "check", "diagnose",
    ]  # fmt: skip
    assert len(told_commands()) > 40


@pytest.mark.parametrize(("page", "command", "output"), shown_runs(), ids=lambda text: text[:60])
def test_what_is_shown_is_what_is_printed(page, command, output):
    name, *words = shlex.split(command)
    assert name == "tickwright"
    env = {**os.environ, "COLUMNS": "100", "PYTHONIOENCODING": "utf-8"}
    call = [sys.executable, "-m", "tickwright", *words]
    done = subprocess.run(call, capture_output=True, env=env, cwd=ROOT, check=False)
    assert done.returncode in (0, 1), done.stderr.decode("utf-8")
    printed = [line.rstrip() for line in done.stdout.decode("utf-8").splitlines()]
    assert printed == [line.rstrip() for line in output.splitlines()]


@pytest.mark.parametrize(("page", "command"), told_commands(), ids=lambda text: text[:60])
def test_what_is_told_names_commands_options_and_examples_that_exist(page, command, monkeypatch):
    monkeypatch.chdir(ROOT)
    words = shlex.split(command.split(" > ")[0])[1:]
    if words[0].startswith("--"):
        words = [word.removeprefix("--show-completion") for word in words if word != "--install-completion"]
        typer.main.get_command(program(["parts"])).make_context("tickwright", [*words, "parts"], resilient_parsing=True)
        return
    called = typer.main.get_command(program([words[0]])).commands[words[0]]
    with contextlib.suppress(click.MissingParameter):  # a sentence may name a command without its plan
        called.make_context(words[0], list(words[1:]), resilient_parsing="--help" in words)
    for word in words[1:]:
        if word.startswith("examples/") and "*" not in word:
            assert (ROOT / word).exists(), word
