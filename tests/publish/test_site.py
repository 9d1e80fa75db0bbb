"""A site of circuits: every link leads to a file of it, nothing leads elsewhere, and its plans are plans."""

from __future__ import annotations

import re
import urllib.parse
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tickwright import load, measure

PLAN = """format = "tickwright plan 1"
title = "Bell <{}>"
legend = {{"#" = "block", b = "short-button", r = "repeater east delay={}", L = "lamp"}}
layer = [{{rows = "###"}}, {{rows = "brL"}}]
triggers = {{press = [0, 0, 1]}}
outputs = {{lamp = [2, 0, 1]}}
"""


class Links(HTMLParser):
    """Every address in a page."""

    def __init__(self, text):
        super().__init__()
        self.found = []
        self.feed(text)

    def handle_starttag(self, _, attrs):
        self.found += [value for name, value in attrs if name in ("href", "src", "srcset", "action", "poster", "data")]


@pytest.fixture(scope="module", name="site")
def site_fixture(tmp_path_factory):
    """A site of two plans, one with a name that an address must quote; and what the command said."""
    import contextlib
    import io
    import sys

    from tickwright.cli import main

    folder = tmp_path_factory.mktemp("shelf")
    plans = [folder / "first bell #1.toml", folder / "bell-2.toml"]
    for number, path in enumerate(plans, 1):
        path.write_text(PLAN.format(number, number), encoding="utf-8")
    said, before = io.StringIO(), sys.argv
    sys.argv = ["tickwright", "sheet", *map(str, plans), "--site", str(folder / "site")]
    try:
        with contextlib.redirect_stdout(said), pytest.raises(SystemExit) as end:
            main()
    finally:
        sys.argv = before
    assert not end.value.code
    return folder / "site", said.getvalue()


def test_every_link_leads_to_a_file_of_the_site(site):
    folder, _ = site
    pages = [folder / "index.html", *sorted(folder.glob("*/index.html"))]
    assert len(pages) == 3
    linked = set()
    for page in pages:
        for address in Links(page.read_text(encoding="utf-8")).found:
            if address == "data:,":
                continue
            assert not urllib.parse.urlsplit(address).scheme, address
            assert not address.startswith("/")
            goal = (page.parent / urllib.parse.unquote(address)).resolve()
            assert goal.is_file(), f"{page}: {address}"
            assert goal.is_relative_to(folder.resolve())
            linked.add(goal)
    for own in folder.glob("*/sheet.pdf"), folder.glob("*/build.html"), folder.glob("*/*.toml"):
        assert set(map(Path.resolve, own)) <= linked


def test_nothing_leads_elsewhere(site):
    folder, _ = site
    for path in (*folder.rglob("*.css"), folder / "index.html", *folder.glob("*/index.html"), *folder.glob("*/*.svg")):
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?:|//[a-z]", text), path
    for address in re.findall(r"url\((.*?)\)", (folder / "style.css").read_text(encoding="utf-8")):
        assert (folder / address).is_file()


def test_pages_say_what_runs_say_and_titles_are_texts(site):
    folder, _ = site
    text = (folder / "index.html").read_text(encoding="utf-8")
    # By hand: the press is 1 s, the lamp's own 0.2 s come on top.
    assert text.count('One press lights the lamp for <span class="figure">1.2 s</span>') == 2
    assert "Bell &lt;1&gt;" in text
    assert "1.2 s = 1 s (the press) + 0.2 s (the lamp)." in (folder / "bell-2/index.html").read_text(encoding="utf-8")
    plan = load(folder / "bell-2/bell-2.toml")
    assert measure(plan)[0].hold_steps == 24


def test_what_would_be_written_is_what_is_written(site, call):
    folder, said = site
    written = {Path(line.split(": ")[0]) for line in said.splitlines() if ": " in line}
    assert {path for path in written if path.is_file()} == {path for path in folder.rglob("*") if path.is_file()}
    plans = [folder.parent / "first bell #1.toml", folder.parent / "bell-2.toml"]
    code, out, _ = call("sheet", *plans, "--site", folder, "--dry-run")
    told = {Path(line.split(": ")[0]) for line in out.splitlines() if ": " in line}
    assert code == 0
    assert written <= told
