"""The pages as a site, in out/site: python dev.py docs --site. A link that leads nowhere ends it with 1."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ROOT / "out" / "site-pages"
LINK = re.compile(r"(\]\()([^)\s#]+)")
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
    quiet = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}  # of news of the theme, which is pinned
    return subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet"], cwd=ROOT, env=quiet, check=False
    ).returncode


def write(page: Path, goal: Path) -> None:
    """Copy a page; what it links to by its place in the project lies in the folder of the site."""
    text = page.read_text(encoding="utf-8")
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
