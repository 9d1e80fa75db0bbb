"""What README and docs show of the command line is what it does: each line is run, or left out with a reason."""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
import typer

from tickwright.cli import SAMPLES, program

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").glob("*.md"))]
BLOCK = re.compile(r"^```(?P<language>\w*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
PLACEHOLDER = re.compile(r"\b[A-Z]+\b|\.\.\. |\[|\||<")
OWN_PLAN = "my-plan.toml"  # what pages call a plan of the reader's

# What a line begins with -> why it is not run here.
LEFT_OUT = {
    "compose ": "searches for minutes; tests/design/compose lays this brief",
    "place ": "searches for minutes; tests/layout lays netlists, tests/schemas/test_schema_of_answers.py calls it",
    "run placed/": "shows what place has laid; see there",
    "discover ": "searches for minutes; tests/design/test_discover.py asks for less",
    "rules fit": "runs hundreds of circuits; tests/diagnosis/test_rules_from_builds.py fits a few",
    "check my-plan.toml --rules world.toml": "takes the rules that rules fit has saved; see there",
    "sheet examples/stacked-loop-3.toml --film": "draws a film for a minute; tests/publish/test_film.py draws some",
    "sheet examples/flat-loop-4.toml": "makes a whole site; tests/publish/test_site.py makes one",
    "choose --table": "runs thousands of designs; tests/cli/test_choose_command.py asks for a few rows",
    "sheet examples/stacked-loop-3.toml --lesson": "takes long; tests/publish/test_lesson.py makes lessons",
    "workbench": "serves until it is stopped; tests/workbench opens it",
}
# What the help shows, too, is run by tests/cli/test_samples.py, or left out there.
IN_HELP = {sample.line for samples in SAMPLES.values() for sample in samples}


def blocks_of_commands() -> list[tuple[str, str]]:
    """Every block that begins with something to type: page and text."""
    begins = re.compile(r"\$ |tickwright (?!\[)|python |pip |uv |pipx |\. ")
    found = [(page.name, block) for page in PAGES for block in BLOCK.finditer(page.read_text(encoding="utf-8"))]
    plain = [(page, block["text"]) for page, block in found if block["language"] in ("", "console", "sh")]
    return [(page, text.replace("\\\n", " ")) for page, text in plain if begins.match(text)]


def shown_runs() -> list[tuple[str, str, str]]:
    """Every command that a page shows with its output: page, command, output."""
    found = []
    for page, block in blocks_of_commands():
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, output = part.partition("\n")
            found.append((page, line, output))
    return found


def lines_without_output() -> list[tuple[str, str]]:
    """Every line of a block that shows no output, without its comment."""
    texts = [(page, block) for page, block in blocks_of_commands() if not block.startswith("$ ")]
    return [(page, re.split(r"\s+#", line)[0]) for page, text in texts for line in text.splitlines() if line]


def told_commands() -> list[tuple[str, str]]:
    """Every command of ours without its output, from blocks and sentences, where nothing is left to fill in."""
    found = lines_without_output()
    for page in PAGES:
        found += [(page.name, line) for line in re.findall(r"`(tickwright [a-z][^`\n]*)`", page.read_text("utf-8"))]
    ours = [(page, line) for page, line in found if line.startswith("tickwright ") and not PLACEHOLDER.search(line)]
    return list(dict.fromkeys(ours))


def lines_to_type() -> dict[str, list[list[str]]]:
    """Of each page the lines that can be typed as they stand, in order, as words; a mere name of a command is none."""
    found: dict[str, list[list[str]]] = {}
    for page, command in told_commands():
        line = command.removeprefix("tickwright ")
        words = shlex.split(line)
        if line in IN_HELP or line.startswith(("--", *LEFT_OUT)):
            continue
        called = typer.main.get_command(program([words[0]])).commands[words[0]]
        with contextlib.suppress(click.MissingParameter):
            called.make_context(words[0], words[1 : words.index(">") if ">" in words else None])
            if len(words) > 1:
                found.setdefault(page, []).append(words)
    return found


def lay_out(page: str, folder: Path) -> None:
    """Put into a folder what a reader of the page has there: the examples, and the files that it says to save."""
    (folder / "examples").symlink_to(ROOT / "examples")
    shutil.copy(ROOT / "examples" / "taps.toml", folder / OWN_PLAN)
    text = next(one for one in PAGES if one.name == page).read_text(encoding="utf-8")
    for block in BLOCK.finditer(text):
        before = text[: block.start()].rstrip().rpartition("\n\n")[2]
        for name in re.findall(r"`([\w-]+\.(?:toml|blif))`", before)[:1]:
            if not (folder / name).exists():
                (folder / name).write_text(block["text"], encoding="utf-8")


@pytest.mark.parametrize("page", lines_to_type())
def test_what_is_told_can_be_typed_line_by_line(call, page, monkeypatch, tmp_path):
    lay_out(page, tmp_path)
    monkeypatch.chdir(tmp_path)
    for words in lines_to_type()[page]:
        for word in words:
            if not Path(word).exists() and (ROOT / "examples" / word).is_file():
                shutil.copy(ROOT / "examples" / word, word)
        code, out, err = call(*(words[: words.index(">")] if ">" in words else words))
        assert (code, err) == (0, ""), words
        assert out


def test_what_is_left_out_stands_on_a_page():
    told = [command.removeprefix("tickwright ") for _, command in told_commands()]
    assert [start for start in LEFT_OUT if not any(line.startswith(start) for line in told)] == []
    assert all(Path(ROOT / file).exists() for why in LEFT_OUT.values() for file in re.findall(r"tests/\S*\w", why))


def test_lines_that_are_not_ours_are_chores_or_install():
    """What they do is not tried here: the chores are what CI calls, and `dev.py install` tries the ways to install."""
    chores = subprocess.run([sys.executable, "dev.py"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    known = set(re.findall(r"^  (\w+) ", chores, re.MULTILINE))
    named = {name for page in PAGES for name in re.findall(r"python dev\.py (\w+)", page.read_text("utf-8"))}
    assert {"demo", "test", "lock"} <= named
    assert named - {"COMMAND"} <= known
    others = {line for _, line in lines_without_output() if not line.startswith(("tickwright ", "python dev.py "))}
    assert others == {". .venv/bin/activate", 'pip install ".[cluster]"'} | {
        "dask scheduler",
        "dask worker tcp://ADDRESS:8786",
    }


def test_the_pages_show_and_tell_commands():
    assert [command.split()[1] for page, command, _ in shown_runs() if page == "README.md"] == [
        "run", "measure", "check", "diagnose",
    ]  # fmt: skip
    assert len(told_commands()) > 40


@pytest.mark.parametrize(("page", "command", "output"), shown_runs(), ids=lambda text: text[:60])
def test_what_is_shown_is_what_is_printed(page, command, output):
    """Where a page shows a conversation, what stands after `> ` is typed; a line that ends with ... goes on."""
    name, *words = shlex.split(command)
    assert name == "tickwright"
    env = {**os.environ, "COLUMNS": "100", "PYTHONIOENCODING": "utf-8"}
    typed = "".join(f"{answer}\n" for answer in re.findall(r"^> (.*)", output, re.MULTILINE))
    call = [sys.executable, "-m", "tickwright", *words]
    done = subprocess.run(call, capture_output=True, env=env, cwd=ROOT, check=False, input=typed.encode())
    assert done.returncode in (0, 1), done.stderr.decode("utf-8")
    printed = [line.rstrip() for line in done.stdout.decode("utf-8").splitlines()]
    shown = [line.rstrip() for line in output.splitlines() if not line.startswith("> ")]
    if typed:
        printed = printed[: len(shown)]
    pairs = zip(printed, shown, strict=False)
    cut = [one[: len(two) - 3] + "..." if two.endswith("...") else one for one, two in pairs]
    assert cut + printed[len(cut) :] == shown


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
