"""What only a browser shows of the workbench: files let go on it, keys, links to cells, flashing held back."""

from __future__ import annotations

import re
import shutil
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, ready, tab
from tickwright import load
from tickwright.plan import lay, repeat, save

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
DROP = """([name, text]) => {
    const data = new DataTransfer();
    data.items.add(new File([text], name));
    window.dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
}"""


@pytest.fixture(name="bench")
def bench_on_the_loop(tmp_path):
    folder = tmp_path / "landing"
    folder.mkdir()
    shutil.copy(EXAMPLES / "flat-loop-6.toml", folder)
    bench = Bench(folder / "flat-loop-6.toml", tmp_path / "state")
    yield bench
    bench.end()


def parts(page):
    """How many parts the plan has, as the strip says."""
    return page.locator(".strip .item", has_text="parts").locator("b")


def test_a_plan_file_is_let_go_on_the_page_and_a_bad_one_refused(need_tool, bench, tmp_path):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.evaluate(DROP, ["bad.toml", "format = 3"])
        expect(page.get_by_text("The format is 3")).to_be_visible()
        page.evaluate(DROP, ["large.toml", "#" * 9_000_000])
        expect(page.get_by_text("The body is larger than 8,000,000 bytes.")).to_be_visible()
        expect(page.locator(".top .file")).to_contain_text("flat-loop-6.toml")
        page.evaluate(DROP, ["latch.toml", (EXAMPLES / "latch.toml").read_text(encoding="utf-8")])
        expect(page.locator(".top .file")).to_contain_text("latch.toml")
        expect(parts(page)).to_have_text(str(len(load(EXAMPLES / "latch.toml").cells)))
        assert page.errors == []
    assert sorted(path.name for path in (tmp_path / "landing").iterdir()) == ["flat-loop-6.toml", "latch.toml"]


def test_parts_are_copied_mirrored_repeated_and_brought_back_by_keys(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        board = page.locator(".work .board")
        said = page.locator(".work .board-said")
        expect(parts(page)).to_have_text("24")
        board.focus()
        for key in ("ArrowRight", "ArrowRight", "ArrowRight"):
            page.keyboard.press(key)
        expect(said).to_contain_text("(3, 0, 1)  comparator east")
        for key in ("Shift+ArrowRight", "Shift+ArrowRight", "x"):
            page.keyboard.press(key)
        expect(page.get_by_role("button", name="Undo")).to_have_attribute("title", "Undo: mirror")
        page.keyboard.press("Control+c")
        expect(page.get_by_text("Copied 3 parts.")).to_be_visible()
        page.keyboard.press("Escape")
        expect(said).to_contain_text("(3, 0, 1)")
        for _ in range(3):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Control+v")
        expect(parts(page)).to_have_text("27")
        expect(said).to_contain_text("(3, 3, 1)  comparator west")  # what was pasted had been mirrored
        page.keyboard.press("Alt+ArrowDown")  # what was pasted is selected, and goes on being so when it is moved
        expect(said).to_contain_text("(3, 4, 1)  comparator west")
        page.keyboard.press("Alt+ArrowUp")
        expect(said).to_contain_text("(3, 3, 1)  comparator west")
        expect(parts(page)).to_have_text("27")
        page.keyboard.press("d")
        dialog = page.get_by_role("dialog")
        expect(dialog).to_be_visible()
        dialog.get_by_text("southward").click()
        dialog.get_by_label("Cells from one to the next").fill("1")
        dialog.get_by_role("button", name="Repeat").click()
        expect(parts(page)).to_have_text("30")
        expect(dialog).to_have_count(0)
        board.focus()
        for left in ("27", "27", "27", "24", "24"):  # the repeat, two moves, the paste, the mirroring
            page.keyboard.press("Control+z")
            expect(parts(page)).to_have_text(left)
        expect(page.locator(".top .state")).to_have_text("saved in its file")
        for back in ("24", "27", "27", "27", "30"):
            page.keyboard.press("Control+y")
            expect(parts(page)).to_have_text(back)
        assert page.errors == []


def test_findings_lead_to_their_cells_and_a_click_shows_a_lane(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        tab(page, "Judge")
        length = page.get_by_label("Trigger length, to try another one")
        length.fill("4 ticks")
        length.press("Tab")
        page.get_by_role("button", name="Go to (5, 0, 1)").click()
        expect(page.locator(".work .board-said")).to_contain_text("(5, 0, 1)  comparator east")
        tab(page, "Press and watch")
        expect(page.locator(".lane-off")).to_have_count(3)  # its trigger and its two outputs
        board = page.locator(".work .board")
        box = board.bounding_box()
        unit, left, top = (float(board.get_attribute(f"data-{name}")) for name in ("unit", "left", "top"))
        page.mouse.click(box["x"] + left + 6.5 * unit, box["y"] + top + 1.5 * unit)
        expect(page.get_by_role("button", name="Hide the lane (6, 1, 1)")).to_be_visible()
        page.get_by_role("button", name="Hide the lane (6, 1, 1)").click()
        expect(page.locator(".lane-off")).to_have_count(3)
        assert page.errors == []


def test_a_click_in_3d_leads_the_cursor_there(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.get_by_role("button", name="3D").click()
        canvas = page.locator(".solid canvas")
        expect(canvas).to_be_visible()
        page.wait_for_timeout(1500)  # drawn by software
        box = canvas.bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        cursor = page.locator(".work .board-said")
        expect(cursor).not_to_contain_text("(0, 0,")
        expect(cursor).to_contain_text(re.compile(r"comparator|wire|block"))


@pytest.fixture(name="clocks")
def many_clocks(tmp_path):
    """Twelve clocks side by side: played faster than they run, much of the page would flash."""
    folder = tmp_path / "landing"
    folder.mkdir()
    clock = load(EXAMPLES / "torch-clock.toml")
    lever = clock.triggers["start"]
    clock = replace(
        lay(clock, {lever: clock.cells[lever]._replace(thrown=False)}), triggers={}, outputs={}, expectations=()
    )
    save(repeat(repeat(clock, "x", 4, clock.size[0] + 1), "y", 3, clock.size[1] + 1), folder / "clocks.toml")
    bench = Bench(folder / "clocks.toml", tmp_path / "state")
    yield bench
    bench.end()


def test_what_would_flash_is_slowed_until_that_is_overridden(need_tool, clocks):
    """Source: WCAG 2.2, SC 2.3.1: no more than three flashes a second, of more than a small part of the page."""
    with browsing(need_tool("chromium")) as page:
        ready(page, clocks.address)
        tab(page, "Press and watch")
        line = page.locator(".work .timeline")
        held = line.locator(".held")
        expect(line.get_by_role("button", name="Play")).to_be_enabled()
        expect(held).to_have_count(0)  # each clock flashes less than three times a second at full speed
        line.get_by_label("Speed").select_option("4")
        expect(held).to_contain_text("Slowed to 1 ×")
        expect(held).to_contain_text("would flash more than three times a second")
        held.get_by_role("button", name="Play it all the same").click()
        dialog = page.get_by_role("dialog")
        expect(dialog).to_contain_text("photosensitive epilepsy")
        dialog.get_by_role("button", name="Play it guarded").click()
        expect(dialog).to_have_count(0)
        expect(held).to_contain_text("would flash more than three times a second")
        held.get_by_role("button", name="Play it all the same").click()
        dialog.get_by_role("button", name="Let it flash").click()
        expect(held).to_contain_text("Flashing is allowed")
        held.get_by_role("button", name="Guard again").click()
        expect(held).to_contain_text("would flash more than three times a second")
        assert page.errors == []


def test_who_asked_for_less_motion_sees_one_picture_a_second(need_tool, bench):
    with browsing(need_tool("chromium"), reduced_motion="reduce") as page:
        ready(page, bench.address)
        tab(page, "Press and watch")
        line = page.locator(".work .timeline")
        expect(line.get_by_role("button", name="Play")).to_be_enabled()
        page.evaluate("""() => {
            window.shown = [];
            const now = document.querySelector(".work .now");
            new MutationObserver(() => window.shown.push(performance.now()))
                .observe(now, { characterData: true, childList: true, subtree: true });
        }""")
        line.get_by_role("button", name="Play").click()
        start = time.monotonic()
        page.wait_for_timeout(4500)
        line.get_by_role("button", name="Pause").click()
        took = time.monotonic() - start
        shown = page.evaluate("window.shown")
        assert 2 <= len(shown) <= took + 2
        assert min(later - earlier for earlier, later in pairwise(shown)) > 900
