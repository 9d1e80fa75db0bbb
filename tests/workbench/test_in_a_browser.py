"""What only a browser shows of the workbench: files let go on it, keys, links to cells, flashing held back."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, click_cell, hear, ready, steady, tab
from tickwright import load
from tickwright.plan import lay, repeat, save

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)  # on a busy machine
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
    return page.locator(".strip .count")


def test_a_plan_file_is_let_go_on_the_page_and_a_bad_one_refused(need_tool, bench, tmp_path):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.evaluate(DROP, ["bad.toml", "format = 3"])
        hear(page, "The format is 3")
        page.evaluate(DROP, ["large.toml", "#" * 9_000_000])
        hear(page, "What was sent has more than 8,000,000 bytes")
        expect(page.locator(".top .file")).to_contain_text("flat-loop-6.toml")
        page.evaluate(DROP, ["latch.toml", (EXAMPLES / "latch.toml").read_text(encoding="utf-8")])
        expect(page.locator(".top .file")).to_contain_text("latch.toml")
        expect(parts(page)).to_have_text(str(len(load(EXAMPLES / "latch.toml").cells)))
        assert page.errors == []
    assert sorted(path.name for path in (tmp_path / "landing").iterdir()) == ["flat-loop-6.toml", "latch.toml"]


def test_parts_are_copied_mirrored_repeated_and_brought_back_by_keys(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        board = page.locator(".above-board")
        said = page.locator(".above-board .board-said")
        expect(parts(page)).to_have_text("24")
        board.focus()
        for key in ("ArrowRight", "ArrowRight", "ArrowRight"):
            page.keyboard.press(key)
        expect(said).to_contain_text("(3, 0, 1)  comparator east")
        # Nothing is waited for between the keys: each must meet what the one before it left. The cursor of a box that
        # was copied is at its corner; what was pasted is selected, and goes on being so when it is moved.
        for key in ("Shift+ArrowRight", "Shift+ArrowRight", "x", "Control+c", "Escape", *["ArrowDown"] * 3):
            page.keyboard.press(key)
        for key in ("Control+v", "Alt+ArrowDown", "Alt+ArrowDown", "Alt+ArrowUp", "Alt+ArrowUp"):
            page.keyboard.press(key)
        hear(page, "Copied 3 parts.")
        expect(parts(page)).to_have_text("27")
        expect(page.get_by_role("button", name="Undo")).to_have_attribute("title", "Undo: move")
        expect(said).to_contain_text("(3, 3, 1)  comparator west")  # what was pasted had been mirrored
        page.keyboard.press("d")
        dialog = page.get_by_role("dialog")
        expect(dialog).to_be_visible()
        dialog.get_by_text("southward").click()
        dialog.get_by_label("Cells from one to the next").fill("1")
        dialog.get_by_role("button", name="Repeat").click()
        expect(parts(page)).to_have_text("30")
        expect(dialog).to_have_count(0)
        board.focus()
        for left in (*["27"] * 5, "24", "24"):  # the repeat, four moves, the paste, the mirroring
            page.keyboard.press("Control+z")
            expect(parts(page)).to_have_text(left)
        expect(page.locator(".top .state")).to_have_text("saved in its file")
        for back in ("24", *["27"] * 5, "30"):
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
        said = page.locator(".above-board .board-said")
        for _ in range(5):  # a press that falls into the list's being made anew, for the other length, is lost
            page.get_by_role("button", name="Go to (5, 0, 1)").click()
            if "(5, 0, 1)" in (said.text_content() or ""):
                break
            page.wait_for_timeout(2_000)
        expect(said).to_contain_text("(5, 0, 1)  comparator east")
        expect(page.locator(".lane-off")).to_have_count(3)  # its trigger and its two outputs
        page.get_by_role("button", name="Press", exact=True).click()  # the tool: what takes no press gets a lane
        click_cell(page, 6, 1)
        expect(page.get_by_role("button", name="Hide the lane (6, 1, 1)")).to_be_visible()
        page.get_by_role("button", name="Hide the lane (6, 1, 1)").click()
        expect(page.locator(".lane-off")).to_have_count(3)
        assert page.errors == []


def test_a_click_in_3d_leads_the_cursor_there(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.get_by_role("button", name="3D", exact=True).click()
        canvas = page.locator(".solid canvas")
        expect(page.locator(".solid")).to_have_attribute("data-configuration", "0")
        steady(page)
        box = canvas.bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        cursor = page.locator(".above-board .board-said")
        expect(cursor).not_to_contain_text("(0, 0,")
        expect(cursor).to_contain_text(re.compile(r"comparator|wire|block"))


@pytest.fixture(name="clocks")
def many_clocks(tmp_path):
    """Twelve clocks side by side: played faster than they run, much of the page would flash."""
    folder = tmp_path / "landing"
    folder.mkdir()
    clock = load(EXAMPLES / "torch-clock.toml")
    lever = clock.triggers["run"]
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
        tab(page, "Bench")
        line = page.locator(".line .timeline")
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
        page.add_init_script("""
            window.frame = 0;  // the time of the frame that is being made, which is what a picture is shown by
            const ask = window.requestAnimationFrame.bind(window);
            window.requestAnimationFrame = (make) => ask((now) => {
                window.frame = now;
                make(now);
            });""")
        ready(page, bench.address)
        tab(page, "Bench")
        line = page.locator(".line .timeline")
        expect(line.get_by_role("button", name="Play")).to_be_enabled()
        page.evaluate("""() => {
            window.shown = [];
            const now = document.querySelector(".line .now");
            new MutationObserver(() => window.shown.push(window.frame))
                .observe(now, { characterData: true, childList: true, subtree: true });
        }""")
        line.get_by_role("button", name="Play").click()
        page.wait_for_function("window.shown.length >= 4")
        shown = page.evaluate("window.shown.slice(0, 4)")
        assert min(later - earlier for earlier, later in pairwise(shown)) >= 1000
        line.get_by_role("button", name="Pause").click()
        assert page.errors == []


def test_what_is_typed_for_a_dialog_that_is_on_its_way_gets_there(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.locator(".above-board").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.type("Nrxi ot")  # each a key of the grid, were it not for the first
        page.keyboard.press("Enter")
        expect(page.locator(".above-board .board-said")).to_contain_text("note: rxi ot")
        expect(page.get_by_role("dialog")).to_have_count(0)
        page.get_by_role("button", name="Undo").click()
        expect(page.locator(".top .state")).to_have_text("saved in its file")  # the note was all that changed
        assert page.errors == []


def test_the_part_that_was_chosen_last_is_laid_however_soon(need_tool, bench):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        page.locator(".above-board").focus()
        for key in ("Shift+PageUp", "]", "]", "Enter", "ArrowRight", "r", "]", "Enter"):
            page.keyboard.press(key)
        expect(parts(page)).to_have_text("26")
        said = page.locator(".above-board .board-said")
        expect(said).to_contain_text("(1, 0, 2)")
        page.keyboard.press("ArrowLeft")
        expect(said).to_contain_text("(0, 0, 2)  lamp")
        assert page.errors == []
