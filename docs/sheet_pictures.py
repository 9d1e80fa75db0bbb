"""Take the pictures of guided build, lesson and site in docs/sheets.md: python docs/sheet_pictures.py [NAME ...].

Needs Chromium, and pdftoppm for the slides.
"""

from __future__ import annotations

import argparse
import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tickwright import load
from tickwright.material import Material, gather_material
from tickwright.publish import Style, guided_page, make_site
from tickwright.publish.lesson import slides, slides_pdf

HERE = Path(__file__).resolve().parent
BUILD_STEPS = (4, 8, 9)  # of the guided build that are shown
SLIDES = ("What goes round", "Question 1")
SITE = ("flat-loop-4", "stacked-loop-3", "latch")
GAP = 24
BETWEEN = "#c9ccd3"
COLOURS = 255


def main() -> int:
    """Take the pictures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", choices=[*PICTURES, []], help="only these")
    parser.add_argument("--folder", type=Path, default=HERE / "pictures", help="where to put them")
    options = parser.parse_args()
    options.folder.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name in options.names or PICTURES:
            side_by_side(PICTURES[name](browser)).save(options.folder / f"{name}.png", optimize=True)
        browser.close()
    return 0


def gathered(name: str) -> Material:
    """All that is known of an example."""
    return gather_material(load(HERE.parent / "examples" / f"{name}.toml"))


def side_by_side(shots: Sequence[Image.Image]) -> Image.Image:
    """Pictures of one height beside each other."""
    wide = sum(shot.width + GAP for shot in shots) - GAP
    whole = Image.new("RGB", (wide, shots[0].height), BETWEEN)
    left = 0
    for shot in shots:
        whole.paste(shot, (left, 0))
        left += shot.width + GAP
    return whole.quantize(COLOURS)


def guided_build(browser: Browser) -> list[Image.Image]:
    """Three screens of the guided build on a phone."""
    shots = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "build.html")
        file.write_text(guided_page(gathered("stacked-loop-4")), encoding="utf-8")
        page = browser.new_page(viewport={"width": 390, "height": 760})
        page.goto(file.as_uri())
        page.wait_for_selector("html[data-ready]")
        for number in range(max(BUILD_STEPS) + 1):
            if number in BUILD_STEPS:
                shots.append(seen(page.screenshot()))
            page.locator("#main").click()
        page.close()
    return shots


def lesson(_: Browser) -> list[Image.Image]:
    """Two slides of a lesson."""
    made = slides([gathered("flat-loop-6")])
    heads = [slide.head for slide in made]
    shots = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "lesson.pdf")
        file.write_bytes(slides_pdf(made, "A lesson"))
        for head in SLIDES:
            number = str(heads.index(head) + 1)
            asked = ["pdftoppm", "-png", "-f", number, "-l", number, "-scale-to-x", "600", "-scale-to-y", "-1"]
            shots.append(seen(subprocess.run([*asked, str(file)], check=True, capture_output=True).stdout))
    return shots


def site(browser: Browser) -> list[Image.Image]:
    """The page of cards of a site."""
    with tempfile.TemporaryDirectory() as folder:
        for file, content in make_site({name: gathered(name) for name in SITE}, Style()):
            path = Path(folder, file.name)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        page = browser.new_page(viewport={"width": 980, "height": 400})
        page.goto(Path(folder, "index.html").as_uri())
        page.wait_for_load_state("networkidle")
        shot = seen(page.screenshot(full_page=True))
        page.close()
    return [shot]


def seen(png: bytes) -> Image.Image:
    """A picture from its PNG."""
    return Image.open(io.BytesIO(png)).convert("RGB")


PICTURES: dict[str, Callable[[Browser], list[Image.Image]]] = {
    "guided-build": guided_build,
    "lesson": lesson,
    "site": site,
}

if __name__ == "__main__":
    sys.exit(main())
