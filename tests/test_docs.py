"""The pages of docs/ say what the program does: pictures as runs give them, lists as in the tables, links that lead."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from tickwright import check, loads, run
from tickwright.cli import program
from tickwright.kinds import OPEN_CELL_ACTS, PARTS
from tickwright.plan.reading import ASKS, MOST_ALONG, MOST_PARTS
from tickwright.publish.tokens import THEMES
from tickwright.toml import LARGEST_PLAN_BYTES

ROOT = Path(__file__).resolve().parents[1]
PAGES = [*sorted((ROOT / "docs").rglob("*.md")), *sorted(ROOT.glob("*.md"))]

# What rules.md draws as lanes: a row of parts on blocks, the lever's acts (step, "on" or "off"), and the cells drawn.
FLOOR = "####"
KEY = {
    "#": "block",
    "l": "lever",
    "e": "lever on=east",
    "1": "repeater east",
    "2": "repeater east delay=2",
    "c": "comparator east",
    "t": "torch on=west",
    "L": "lamp",
}
DRAWN = [
    ("l2", [(2, "on"), (4, "off")], 16, {"lever": 0, "repeater": 1}),
    ("l2", [(2, "on"), (12, "off")], 20, {"lever": 0, "repeater": 1}),
    ("l2", [(2, "on"), (10, "off"), (12, "on"), (22, "off")], 32, {"lever": 0, "repeater": 1}),
    ("l1c", [(2, "on"), (3, "off")], 16, {"repeater": 1, "comparator": 2}),
    ("l2c", [(2, "on"), (3, "off")], 16, {"repeater": 1, "comparator": 2}),
    ("e#t", [(2, "on"), (10, "off")], 20, {"lever": 0, "torch": 2}),
    ("l2L", [(2, "on"), (4, "off")], 16, {"repeater": 1, "lamp": 2}),
]


def text_of(page: str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def lanes(row: str, acts: list[tuple[int, str]], steps: int, watched: dict[str, int]) -> list[str]:
    """The lanes of a run, one character for each step, names padded to one width."""
    legend = "".join(f'"{character}" = "{part}"\n' for character, part in KEY.items())
    outputs = "".join(f"{name} = [{x}, 0, 1]\n" for name, x in watched.items())
    layers = f'[[layer]]\nrows = "{FLOOR}"\n[[layer]]\nrows = "{row}"\n'
    plan = loads(f'format = "tickwright plan 1"\n[legend]\n{legend}{layers}[outputs]\n{outputs}')
    changes = run(plan, [f"{step}:0,0,1:{act}" for step, act in acts], steps).trace.changes
    width = max(map(len, watched))
    drawn = []
    for name in watched:
        value, line = 0, ""
        for step in range(steps):
            value = dict(changes[name]).get(step, value)
            line += "█" if value else "▁"
        drawn.append(f"{name:<{width}}  {line}")
    return drawn


def test_the_lanes_of_the_rules_page_are_those_of_runs():
    drawn = [line for row in DRAWN for line in lanes(*row)]
    in_page = re.findall(r"^\w+ +[▁█]+", text_of("docs/rules.md"), re.MULTILINE)
    assert in_page == drawn


def test_the_plan_on_the_plan_file_page_keeps_its_expectations():
    example = re.search(r"```toml\n(.*?)```", text_of("docs/plan-file.md"), re.DOTALL)
    assert example
    verdicts = check(loads(example[1]))
    assert len(verdicts) == 3
    assert [verdict for verdict in verdicts if not verdict.passed] == []


def test_the_plan_file_page_names_every_expectation_and_no_other():
    section = text_of("docs/plan-file.md").split("## `[[expect]]`")[1].split("\n## ")[0]
    named = re.findall(r"^\| `(\w+) =", section, re.MULTILINE)
    assert sorted(named) == sorted([*ASKS, "within"])


def test_the_plan_file_page_names_every_act():
    section = text_of("docs/plan-file.md").split("## The hand")[1].split("\n## ")[0]
    rows = re.findall(r"^\| .*", section, re.MULTILINE)[1:]
    named = {name.partition("=")[0] for row in rows for name in codes(row)}
    assert named == {act for kind in PARTS.values() for act in kind.acts} | {*OPEN_CELL_ACTS, "place", "clear"}


def codes(row: str) -> list[str]:
    """What stands in backticks in the second cell of a table's row."""
    return re.findall(r"`([^`]+)`", row.split("|")[2])


def test_the_plan_file_page_has_the_limits():
    x, y, z = MOST_ALONG
    limits = f"{x} cells from west to east, {y} from north to south, {z} layers, {MOST_PARTS:,} parts"
    page = " ".join(text_of("docs/plan-file.md").split())
    assert f"{limits}, and a file of {LARGEST_PLAN_BYTES:,} bytes" in page


@pytest.mark.parametrize("kind", PARTS)
def test_every_part_is_explained(kind):
    assert re.search(rf"\b{kind}s?\b", text_of("docs/rules.md"), re.IGNORECASE)


def test_every_command_is_documented():
    command = typer.main.get_command(program())
    headings = set(re.findall(r"^## tickwright (.+)$", text_of("docs/cli.md"), re.MULTILINE))
    assert len(command.commands) > 1
    assert headings == set(command.commands)


def test_the_pages_that_take_no_runs_are_up_to_date():
    """Those that take many runs are held to the program by `python dev.py docs --check`, which CI calls, too."""
    command = [sys.executable, str(ROOT / "docs/generate.py"), "--check", "cli.md", "parts.md", "rule-sets.md"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_example_has_its_dossier():
    names = [path.stem for path in sorted(ROOT.glob("examples/*.toml"))]
    dossiers = {path.stem: path.read_text(encoding="utf-8") for path in sorted(ROOT.glob("docs/dossiers/*.md"))}
    assert list(dossiers) == re.findall(r"\(dossiers/([\w-]+)\.md\)", text_of("docs/dossiers.md")) == names
    assert all("| press | kind |" in text for text in dossiers.values())
    expecting = [text for text in dossiers.values() if "Expectations: " in text]
    assert len(expecting) > 20
    assert all(", 0 failed." in text for text in expecting)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        path, _, anchor = target.partition("#")
        goal = (page.parent / path).resolve() if path else page
        assert goal.exists(), f"{page.name} links to {target}"
        if anchor:
            assert anchor in anchors(goal.read_text(encoding="utf-8")), f"{page.name} links to {target}"


def anchors(text: str) -> set[str]:
    """The anchors of a page's headings, made as Markdown viewers commonly make them."""
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def test_the_site_has_our_colours_and_every_page_begins_with_its_title(monkeypatch, tmp_path):
    monkeypatch.syspath_prepend(str(ROOT / "docs"))
    import site_build

    style = site_build.style()
    for tones in THEMES.values():
        assert tones["accent"] in style or tones is THEMES["print"]
    pages = sorted((ROOT / "docs").rglob("*.md"))
    assert len(pages) > 60
    for page in pages:
        goal = tmp_path / page.name
        site_build.write(page, goal)
        assert goal.read_text(encoding="utf-8").startswith("# "), page


def test_the_site_lists_every_page_of_docs_once():
    listed = re.findall(r"^  - (\S+\.md)$", (ROOT / "mkdocs.yml").read_text(encoding="utf-8"), re.MULTILINE)
    beside = ["CHANGELOG.md", "CONTRIBUTING.md", "index.md"]
    assert sorted(listed) == sorted([*beside, *(page.name for page in (ROOT / "docs").glob("*.md"))])
    assert listed[:4] == ["index.md", "install.md", "tutorial.md", "workbench.md"]
