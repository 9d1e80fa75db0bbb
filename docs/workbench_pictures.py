"""Take the pictures of docs/workbench.md from a real workbench in Chromium: python docs/workbench_pictures.py [FOLDER].

Every screen in light and dark at four sizes is taken with --all, to be looked at; the page shows a few of them.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, expect, sync_playwright

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parent / "examples"
PORT = 8199
FLAGS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox"]
PATIENCE = 90_000  # ms
SIZES = {"small": (1280, 800), "large": (1920, 1080), "narrow": (900, 700), "phone": (390, 844)}
IN_THE_PAGE = {
    ("bench", "light"), ("tune", "dark"), ("judge", "light"), ("designs", "light"), ("compare", "dark"),
    ("shelf", "dark"), ("why", "light"),
}  # fmt: skip


def main() -> int:
    """Take the pictures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=HERE / "pictures", help="where to put them")
    parser.add_argument("--all", action="store_true", help="every screen, light and dark, at four sizes")
    parser.add_argument("--only", help="one screen alone, such as why")
    options = parser.parse_args()
    options.folder.mkdir(exist_ok=True)
    looks = [(theme, size) for theme in ("light", "dark") for size in SIZES if options.all or size == "small"]
    with workbench() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for theme, size in looks:
            wide, high = SIZES[size]
            page = browser.new_page(viewport={"width": wide, "height": high}, color_scheme=theme)  # type: ignore[arg-type]
            page.set_default_timeout(PATIENCE)
            expect.set_options(timeout=PATIENCE)
            page.goto(address)
            for name, show in SCREENS.items():
                if (options.all or (name, theme) in IN_THE_PAGE) and options.only in (None, name):
                    show(page)
                    page.mouse.move(640, 60)  # over nothing that would light up
                    page.wait_for_timeout(700)
                    ending = f"-{theme}-{size}" if options.all else ""
                    page.screenshot(path=options.folder / f"workbench-{name}{ending}.png")
                    print(f"{name}, {theme}, {wide} x {high}")
            page.close()
        browser.close()
    return 0


@contextmanager
def workbench() -> Iterator[str]:
    """A workbench on a copy of some examples, and its address."""
    with tempfile.TemporaryDirectory() as folder:
        for name in ("flat-loop-6", "stacked-loop-3", "taps-loop"):
            shutil.copy(EXAMPLES / f"{name}.toml", folder)
        words = ["-m", "tickwright", "workbench", f"{folder}/flat-loop-6.toml", "--no-browser", "--port", str(PORT)]
        surroundings = {**os.environ, "TICKWRIGHT_STATE": f"{folder}/.state"}
        process = subprocess.Popen([sys.executable, *words], stderr=subprocess.PIPE, text=True, env=surroundings)
        assert process.stderr is not None
        said = process.stderr.readline()
        if str(PORT) not in said or "The workbench is at" not in said:
            raise SystemExit(said)
        try:
            yield f"http://127.0.0.1:{PORT}/"
        finally:
            process.send_signal(signal.SIGINT)
            process.wait()
            process.stderr.close()


def tab(page: Page, name: str) -> None:
    """Show a room, or a side panel of the bench."""
    page.get_by_role("tab", name=name, exact=True).click()


def judge_press_of(page: Page, length: str) -> None:
    """Judge the bench with a trigger of that length; "" is as it is built."""
    tab(page, "Bench")
    tab(page, "Judge")
    field = page.get_by_label("Trigger length, to try another one")
    field.fill(length)
    field.press("Tab")


def bench(page: Page) -> None:
    """The bench, 1.3 s into the press."""
    judge_press_of(page, "")
    tab(page, "Cell")
    expect(page.locator(".sentence")).to_contain_text("for 5.4 s")
    expect(page.locator(".strip")).to_contain_text("measured in")
    grid, undo = page.locator(".above-board"), page.get_by_role("button", name="Undo")
    grid.focus()
    page.keyboard.press("Delete")  # and back: the first answer took as long as it takes to start what measures
    expect(undo).to_be_enabled()
    expect(page.locator(".tries")).to_have_count(0)
    page.keyboard.press("Control+z")
    expect(undo).to_be_disabled()
    expect(page.locator(".try")).to_have_count(6)
    expect(page.locator(".top .state")).to_have_text("saved in its file")
    expect(page.locator(".strip")).to_contain_text("measured in")
    expect(page.get_by_text("Undone: erase.")).to_have_count(0)
    expect(page.get_by_role("button", name="Play")).to_be_enabled()
    page.locator(".line .lanes").focus()
    page.keyboard.press("Home")
    for _ in range(26):
        page.keyboard.press("ArrowRight")
    page.locator(".line .lanes").blur()


def tune(page: Page) -> None:
    """A longer button tried."""
    bench(page)
    page.locator(".above-board").focus()
    page.keyboard.press(">")
    expect(page.locator(".ghost")).to_contain_text("Put it here")


def why(page: Page) -> None:
    """One of the reasons, its parts lit."""
    judge_press_of(page, "")
    tab(page, "Why")
    reason = page.get_by_role("button", name="A turn costs two levels").first
    expect(reason).to_be_visible()
    reason.click()
    expect(page.locator(".above-board")).to_have_attribute("data-lit", re.compile(","))


def judge(page: Page) -> None:
    """A trigger too short, and what mends it."""
    judge_press_of(page, "4 ticks")
    expect(page.get_by_role("button", name="Apply this repair")).to_be_visible()
    expect(page.locator(".strip")).to_contain_text("1 warning")
    page.get_by_role("button", name="Apply this repair").scroll_into_view_if_needed()


def designs(page: Page) -> None:
    """Designs for twelve seconds."""
    tab(page, "Designs")
    tab(page, "Cards")
    page.get_by_label("Hold, such as 12 s").fill("12 s")
    page.get_by_role("button", name="Find designs").click()
    expect(page.get_by_role("button", name="Compare design 1")).to_be_visible()
    page.locator(".room-designs").evaluate("room => room.scrollTop = 0")


def compare(page: Page) -> None:
    """Three plans, some way into their press."""
    tab(page, "Designs")
    tab(page, "Side by side")
    for name in ("flat-loop-6", "stacked-loop-3", "taps-loop"):
        if not page.get_by_role("button", name=f"Take out {name}").count():
            page.get_by_label("Add a plan").click()
            page.get_by_role("option", name=f"{name}.toml").click()
            expect(page.get_by_role("button", name=f"Take out {name}")).to_be_visible()
    expect(page.locator(".inner").get_by_role("button", name="Next change")).to_be_enabled()
    page.wait_for_timeout(3000)
    page.locator(".inner .lanes").focus()
    for _ in range(14):
        page.keyboard.press(".")
    page.locator(".inner .lanes").blur()


def sheet(page: Page) -> None:
    """The picture of the plan."""
    tab(page, "Sheet")
    page.get_by_label("What", exact=True).click()
    page.get_by_role("option", name="Picture (SVG)").click()
    page.get_by_role("button", name="Make it and look").click()
    expect(page.locator(".preview img")).to_be_visible()


def shelf(page: Page) -> None:
    """The folder's plans."""
    tab(page, "Shelf")
    expect(page.locator(".plan-card .card-sentence")).to_have_count(3)


SCREENS: dict[str, Callable[[Page], None]] = {
    "bench": bench,
    "tune": tune,
    "designs": designs,
    "compare": compare,
    "sheet": sheet,
    "shelf": shelf,
    "judge": judge,
    "why": why,
}

if __name__ == "__main__":
    sys.exit(main())
