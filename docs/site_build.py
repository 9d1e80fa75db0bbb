"""The pages as a site, in out/site: python dev.py docs --site. A link that leads nowhere ends it with 1."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

from tickwright.publish.tokens import FONT_FILES, FONT_FOLDER, THEMES, font_face

ROOT = Path(__file__).resolve().parents[1]
PAGES = ROOT / "out" / "site-pages"
LINK = re.compile(r"(\]\()([^)\s#]+)")
NOTE = re.compile(r"<!--.*?-->\s*", re.DOTALL)  # at the head of a page that is written by a program
SCHEMES = {"light": "default", "dark": "slate"}
BESIDE = ("CHANGELOG.md", "CONTRIBUTING.md", "LICENSE")


def build() -> int:
    """Gather all pages into one folder, their links made to fit, and have mkdocs build them; its exit code."""
    shutil.rmtree(PAGES, ignore_errors=True)
    PAGES.mkdir(parents=True)
    for page in sorted((ROOT / "docs").rglob("*.md")):
        write(page, PAGES / page.relative_to(ROOT / "docs"))
    write(ROOT / "README.md", PAGES / "index.md")
    for name in BESIDE:
        write(ROOT / name, PAGES / name)
    shutil.copytree(ROOT / "docs" / "pictures", PAGES / "pictures")
    shutil.copytree(ROOT / "docs" / "tutorial", PAGES / "tutorial")
    shutil.copytree(ROOT / "examples", PAGES / "examples")
    (PAGES / "fonts").mkdir()
    for name in FONT_FILES:
        shutil.copy(FONT_FOLDER / f"{name}.woff2", PAGES / "fonts")
    (PAGES / "site.css").write_text(style(), encoding="utf-8")
    quiet = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}  # of news of the theme, which is pinned
    return subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet"], cwd=ROOT, env=quiet, check=False
    ).returncode


def style() -> str:
    """The colours and letters of all our surfaces, as the site's theme asks for them."""
    rules = [font_face(embedded=False, folder="fonts"), ":root { --md-text-font: Inter Tabular }"]
    for theme, scheme in SCHEMES.items():
        tones = THEMES[theme]
        roles = {
            "primary-fg-color": "panel", "primary-bg-color": "ink", "primary-bg-color--light": "soft",
            "default-bg-color": "paper", "default-fg-color": "ink", "default-fg-color--light": "soft",
            "typeset-color": "ink", "typeset-a-color": "accent", "accent-fg-color": "accent", "code-bg-color": "block",
            "code-fg-color": "ink",
        }  # fmt: skip
        colours = ";".join(f"--md-{name}:{tones[role]}" for name, role in roles.items())
        rules.append(f'[data-md-color-scheme="{scheme}"] {{ {colours}; --line: {tones["line"]} }}')
    rules.append(
        ".md-header { box-shadow: none !important; border-bottom: 1px solid var(--line) }\n"
        ".md-typeset h1, .md-typeset h2 { font-weight: 700; color: inherit; letter-spacing: 0 }\n"
        ".md-typeset a { text-decoration: underline }\n"
        ".md-typeset .headerlink, .md-typeset a:has(img) { text-decoration: none }"
    )
    return "\n".join(rules) + "\n"


def write(page: Path, goal: Path) -> None:
    """Copy a page; what it links to by its place in the project lies in the folder of the site."""
    text = page.read_text(encoding="utf-8")
    note = NOTE.match(text)
    text = text[note.end() :] if note else text  # or the page would have no title in the list of pages
    goal.parent.mkdir(exist_ok=True)
    goal.write_text(LINK.sub(lambda found: found[1] + moved(page, found[2]), text), encoding="utf-8")


def moved(page: Path, target: str) -> str:
    """Where a link of a page leads in the site."""
    if ":" in target:
        return target
    place = (page.parent / target).resolve().relative_to(ROOT)
    renamed = {("README.md",): Path("index.md"), ("examples",): Path("examples.md")}.get(place.parts, place)
    there = Path(*renamed.parts[1:]) if renamed.parts[0] == "docs" else renamed
    here = page.parent.relative_to(ROOT / "docs") if page.is_relative_to(ROOT / "docs") else Path()
    return Path(os.path.relpath(there, here)).as_posix()
