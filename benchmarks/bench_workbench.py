"""How long the workbench takes to answer: the first page, an edit of a large plan, the measures after an edit.

Each is timed against what it cannot be quicker than, in the same run: importing NiceGUI, loading the same plan, and
measuring the same plan without a page.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from run import Result

from tickwright import Plan, load, load_rules
from tickwright import measure as measure_plan
from tickwright.plan import repeat, save
from tickwright.workbench.actions import perform
from tickwright.workbench.cells import View
from tickwright.workbench.jobs import Worker
from tickwright.workbench.session import Session

LOOP = Path(__file__).resolve().parents[1] / "examples" / "flat-loop-6.toml"
RULES = load_rules("standard")


def measure(repeats: int) -> list[Result]:
    """All figures, with journals kept in a folder of their own."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["TICKWRIGHT_STATE"] = folder
        chromium = shutil.which("chromium")
        shown = in_a_browser(repeats, Path(folder), chromium) if chromium else []
        return [*edits(repeats, Path(folder)), *judging(repeats), *first_page(repeats), *shown]


def edits(repeats: int, folder: Path) -> list[Result]:
    """One part laid in a plan of 5,040: the edit, its journal, and what the page is sent."""
    path = large_plan(folder)
    session = Session.open(path)
    view = View()
    view.whole(session.document.plan, RULES)
    times: dict[str, list[float]] = {"edit": [], "load": []}
    for number in range(repeats):
        asked = {"op": "place", "cell": [number, 3, 1], "box": None, "part": "insulator"}
        times["edit"].append(
            seconds(lambda asked=asked: (perform(session, asked), view.patch(session.document.plan, RULES)))
        )
        times["load"].append(seconds(lambda: load(path)))
    count = len(session.document.plan.cells)
    session.close()
    return pair(
        f"one edit of {count:,} parts, to what the page is sent", "loading that plan", times["edit"], times["load"]
    )


def large_plan(folder: Path) -> Path:
    """A file of 210 loops of six side by side, 5,040 parts, the first of which is pressed and watched."""
    path = folder / "large.toml"
    save(loops(("x", 10, 9), ("y", 21, 4)), path)
    return path


def judging(repeats: int) -> list[Result]:
    """A plan of 96 parts: from the edit to hold and delay, and to minimum trigger and margin too."""
    plan = loops(("y", 4, 3))
    parts = len(plan.cells)

    async def run() -> tuple[list[float], list[float], list[float]]:
        worker = Worker("bench")
        first, whole, bare = [], [], []
        for number in range(repeats + 1):
            start, told = time.perf_counter(), Told()
            await worker.do("judge", plan, RULES, None, tell=told)
            if number:  # the first round starts the process
                whole.append(time.perf_counter() - start)
                first.append(told.at - start)
                bare.append(seconds(lambda: measure_plan(plan, rules=RULES)))
        worker.stop()
        return first, whole, bare

    first, whole, bare = asyncio.run(run())
    return [
        summed(f"hold and delay after an edit, {parts} parts", first),
        *pair("all measures after it", "measuring without a page", whole, bare),
    ]


class Told:
    """Notes when it is called."""

    at = 0.0

    def __call__(self, _: Any) -> None:
        """Note the time."""
        self.at = time.perf_counter()


def loops(*times: tuple[str, int, int]) -> Plan:
    """Loops of six side by side along each axis, so many times at a pitch; the first of them is pressed and watched."""
    plan = load(LOOP)
    named = replace(
        plan, triggers={"press": plan.triggers["press"]}, outputs={"lamp": plan.outputs["lamp"]}, expectations=()
    )
    laid = plan
    for axis, count, pitch in times:
        laid = repeat(laid, axis, count, pitch)
    return replace(laid, triggers=named.triggers, outputs=named.outputs, expectations=())


def first_page(repeats: int) -> list[Result]:
    """From the command to the page's HTML, against importing NiceGUI."""
    times: dict[str, list[float]] = {"page": [], "import": []}
    for _ in range(repeats):
        times["page"].append(seconds(one_page))
        times["import"].append(seconds(import_nicegui))
    return pair("from the command to the first page's HTML", "importing NiceGUI", times["page"], times["import"])


def one_page() -> None:
    """Start the workbench, fetch its page, and end it."""
    with workbench(LOOP) as address:
        urllib.request.urlopen(address).read()  # noqa: S310 - its own address


def in_a_browser(repeats: int, folder: Path, chromium: str) -> list[Result]:
    """In Chromium, drawn without a graphics card: the first page, and the large plan, each up to what is painted."""
    from playwright.sync_api import sync_playwright

    times: dict[str, list[float]] = {"page": [], "import": [], "edit": [], "move": [], "load": []}
    path = large_plan(folder)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        for _ in range(repeats):
            times["page"].append(seconds(lambda: one_board(browser.new_page())))
            times["import"].append(seconds(import_nicegui))
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        with workbench(path) as address:
            page.goto(address)
            page.locator(".above-board[data-unit]").wait_for()
            page.locator(".above-board").focus()
            page.keyboard.press("PageUp")
            for _ in range(repeats):
                times["move"].append(page.evaluate(PAINTED, "ArrowRight"))
                held = "empty" not in page.locator(".above-board .board-said").inner_text()
                times["edit"].append(page.evaluate(PAINTED, "Delete" if held else "Enter"))
                times["load"].append(seconds(lambda: load(path)))
                page.wait_for_timeout(500)
        browser.close()
    count = f"{len(load(path).cells):,} parts"
    return [
        *opening(repeats, folder, chromium),
        *pair("from the command to the first page painted", "importing NiceGUI", times["page"], times["import"]),
        *pair(f"one edit of {count}, from the key to what is painted", "loading it", times["edit"], times["load"]),
        summed(f"a step of the cursor in {count}, from the key to what is painted", times["move"]),
    ]


# Press a key at the grid; the seconds until what it says has changed and two frames have been painted.
PAINTED = """(key) => new Promise((resolve) => {
    const board = document.querySelector(".above-board");
    const said = board.querySelector(".board-said");
    const [before, start] = [said.textContent, performance.now()];
    new MutationObserver((_, seen) => {
        if (said.textContent === before) return;
        seen.disconnect();
        requestAnimationFrame(() => requestAnimationFrame(() => resolve((performance.now() - start) / 1000)));
    }).observe(said, { characterData: true, childList: true, subtree: true });
    board.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
})"""


def one_board(page: Any) -> None:
    """Start the workbench, show its page until the grid is drawn, and end both."""
    with workbench(LOOP) as address:
        page.goto(address)
        page.locator(".above-board[data-unit]").wait_for()
    page.close()


def opening(repeats: int, folder: Path, chromium: str) -> list[Result]:
    """The server's own processor time to open 312 parts with 169 pairs in a page that is there, and to take an edit.

    What is measured of the plan is measured by other processes, whose time is not the server's.
    """
    from playwright.sync_api import expect, sync_playwright

    plan = load(LOOP)
    many = repeat(replace(plan, expectations=(), charts=()), "y", 13, 4)
    lamps = {name: cell for name, cell in many.outputs.items() if name.startswith("lamp")}
    (folder / "pairs").mkdir()
    save(replace(many, outputs=lamps), folder / "pairs" / "many.toml")
    shutil.copy(LOOP, folder / "pairs" / "one.toml")
    times: dict[str, list[float]] = {"open": [], "edit": []}
    expect.set_options(timeout=60_000)
    with sync_playwright() as playwright, workbench(folder / "pairs" / "one.toml") as address:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(address)
        expect(page.locator(".strip")).to_contain_text("measured in")
        for _ in range(repeats):
            opened, edited = open_and_edit(page, address)
            times["open"].append(opened)
            times["edit"].append(edited)
            page.get_by_role("tab", name="Shelf", exact=True).click()
            page.get_by_role("button", name="Open one.toml").click()
            expect(page.locator(".top .file")).to_contain_text("one.toml")
        browser.close()
    told = "312 parts with 169 pairs, the server's processor time"
    return [summed(f"opening {told}", times["open"]), summed(f"one edit of {told}", times["edit"])]


def open_and_edit(page: Any, address: str) -> tuple[float, float]:
    """Open the plan of 312 parts from the shelf, and lay one off: the server's seconds for each."""
    from playwright.sync_api import expect

    strip = page.locator(".strip")
    page.get_by_role("tab", name="Shelf", exact=True).click()
    page.get_by_role("button", name="Open many.toml").wait_for()
    page.wait_for_timeout(1000)  # until the shelf has come to rest
    before = server_seconds(address)
    page.get_by_role("button", name="Open many.toml").click()
    expect(strip).to_contain_text("312")
    expect(strip).to_contain_text("measured in")
    opened = server_seconds(address)
    page.locator(".above-board").focus()
    page.keyboard.press("Delete")
    expect(strip).to_contain_text("311")
    expect(strip).to_contain_text("measured in")
    edited = server_seconds(address)
    page.keyboard.press("Control+z")
    expect(strip).to_contain_text("312")
    return opened - before, edited - opened


def server_seconds(address: str) -> float:
    """The processor time that the server at this address has taken so far, without its other processes. Linux."""
    port = address.rstrip("/").rpartition(":")[2]
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = (stat.parent / "cmdline").read_bytes().split(b"\0")
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:  # a process that has ended meanwhile
            continue
        if b"workbench" in words and port.encode() in words:
            return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    raise RuntimeError(f"No workbench is at {address}.")


def import_nicegui() -> None:
    """Import NiceGUI in a process of its own."""
    subprocess.run([sys.executable, "-c", "import nicegui"], check=True)


@contextmanager
def workbench(plan: Path) -> Iterator[str]:
    """A workbench on a plan, and its address."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port = trial.getsockname()[1]
    words = [sys.executable, "-m", "tickwright", "workbench", str(plan), "--no-browser", "--port", str(port)]
    process = subprocess.Popen(words, stderr=subprocess.PIPE)
    try:
        process.stderr.readline()
        yield f"http://127.0.0.1:{port}/"
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stderr.close()


def seconds(do: Callable[[], Any]) -> float:
    """How long it takes."""
    start = time.perf_counter()
    do()
    return time.perf_counter() - start


def pair(what: str, peer: str, ours: list[float], theirs: list[float]) -> list[Result]:
    """Both times and their ratio, turn by turn."""
    ratios = [one / other for one, other in zip(ours, theirs, strict=True)]
    return [summed(what, ours), summed(peer, theirs), summed("ratio", ratios, "times")]


def summed(what: str, values: list[float], unit: str = "s") -> Result:
    """Reduce repeats to a median with its spread."""
    return Result(what, statistics.median(values), unit, min(values), max(values))
