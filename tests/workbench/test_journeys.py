"""The workbench in a real browser: from an empty grid to a published sheet, and back after the server was killed."""

from __future__ import annotations

import re
import shutil
import signal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, click_cell, hear, ready, steady, tab
from tickwright import load, measure
from tickwright.publish import NumberedStands
from tickwright.recording import record

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)  # on a busy machine


class Hand:
    """What a builder's hands do at the grid."""

    def __init__(self, page):
        self.page = page
        self.board = page.locator(".above-board")
        self.at = [0, 0, 0]

    def go(self, x, y, z=None):
        """Move the cursor with the keys."""
        self.board.focus()
        press = self.page.keyboard.press
        for _ in range(abs((self.at[2] if z is None else z) - self.at[2])):
            press("Shift+PageUp" if z > self.at[2] else "PageDown")
        for key, by in (
            ("Right" if x > self.at[0] else "Left", x - self.at[0]),
            ("Down" if y > self.at[1] else "Up", y - self.at[1]),
        ):
            for _ in range(abs(by)):
                press(f"Arrow{key}")
        self.at = [x, y, self.at[2] if z is None else z]
        expect(self.page.locator(".above-board .board-said")).to_contain_text(
            f"({self.at[0]}, {self.at[1]}, {self.at[2]})"
        )

    def choose(self, kind, turns=0):
        """Choose a part with the mouse, and turn it by the key."""
        made = self.page.locator(f'.kind[aria-label="{kind}"]')
        made.click()
        expect(made).to_have_attribute("aria-pressed", "true")
        self.board.focus()
        for _ in range(turns):
            self.page.keyboard.press("r")

    def lay(self, x, y, says):
        self.go(x, y)
        self.page.keyboard.press("Enter")
        expect(self.page.locator(".above-board .board-said")).to_contain_text(f"({x}, {y}, {self.at[2]})  {says}")

    def click(self, x, y):
        """Click a cell with the mouse."""
        click_cell(self.page, x, y)
        self.at = [x, y, self.at[2]]


def lay_the_loop(page):
    """Six comparators in a flat loop, as the example has it: blocks below, wires at both ends, button and repeater."""
    hand = Hand(page)
    hand.choose("block")
    hand.go(0, 0)
    for _ in range(6):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")  # fills the box
    page.keyboard.press("Escape")
    hand.at = [6, 1, 0]
    hand.choose("lamp")
    hand.lay(2, 0, "lamp")
    hand.go(0, 0, 1)
    hand.choose("short-button")
    hand.lay(0, 0, "short-button")
    hand.choose("repeater")
    hand.go(1, 0)
    chosen = page.locator(".chosen .code")
    while not (now := chosen.inner_text()).startswith("repeater east"):
        page.keyboard.press("r")
        expect(chosen).not_to_have_text(now)
    hand.lay(1, 0, "repeater east")
    hand.choose("comparator")
    for x in (3, 4, 5):
        hand.lay(x, 0, "comparator east")
    hand.go(5, 1)
    hand.choose("comparator", turns=2)
    expect(chosen).to_have_text("comparator west")
    for x in (5, 4, 3):
        hand.lay(x, 1, "comparator west")
    hand.choose("wire")
    for x, y in ((2, 0), (6, 0), (6, 1), (2, 1)):
        hand.click(x, y)
        expect(page.locator(".above-board .board-said")).to_contain_text(f"({x}, {y}, 1)  wire")
    for cell, key, name in (((0, 0), "Shift+T", "press"), ((2, 0), "Shift+O", "entry")):
        hand.go(*cell)
        page.keyboard.press(key)
        page.get_by_role("dialog").get_by_role("textbox").fill(name)
        page.keyboard.press("Enter")
        expect(page.get_by_role("dialog")).to_have_count(0)
    hand.go(2, 0, 0)
    page.keyboard.press("Shift+O")
    page.get_by_role("dialog").get_by_role("textbox").fill("lamp")
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_from_an_empty_grid_to_a_published_file_and_nothing_lost(need_tool, tmp_path):
    chromium = need_tool("chromium")
    folder, state = tmp_path / "landing", tmp_path / "state"
    folder.mkdir()
    bench = Bench(folder, state)
    try:
        with browsing(chromium) as page:
            ready(page, bench.address)
            tab(page, "Shelf")
            page.get_by_label("Name of a new plan").fill("gangway.toml")
            page.get_by_role("button", name="Begin a new plan").click()
            expect(page.locator(".top .file")).to_contain_text("gangway.toml")
            lay_the_loop(page)

            # The exact hold: that of the flat loop of six, 5.2 s at its entry and 5.4 s at the lamp (see its example).
            strip = page.locator(".strip")
            figures = page.get_by_role("tabpanel", name="Cell", exact=True)
            expect(figures).to_contain_text("5.4 s (54 ticks)")
            expect(figures).to_contain_text("5.2 s (52 ticks)")
            expect(page.locator(".sentence")).to_have_text("One press lights the lamp for 5.4 s, 0.1 s after it.")
            expect(strip).to_contain_text("measured in")
            page.get_by_role("button", name="Press press", exact=True).click()
            lanes = page.locator(".line .readings")
            lanes.locator("summary").click()
            expect(lanes).to_contain_text("lamp 0: 0, 2: 15, 110: 0")
            page.get_by_role("slider", name="Cursor B").focus()
            page.keyboard.press("Home")
            page.keyboard.press("Shift+ArrowRight")
            expect(page.locator(".line .measure")).to_contain_text("B − A: 2 steps, 1 tick, 0.1 s")

            # A shorter trigger breaks it; the finding says so, and its repair is one edit.
            tab(page, "Judge")
            length = page.get_by_label("Trigger length, to try another one")
            length.fill("4 ticks")
            length.press("Tab")
            answers = page.get_by_role("tabpanel", name="Judge", exact=True)
            expect(answers).to_contain_text("train of")
            expect(page.locator(".finding")).to_contain_text("one turn of its 6 parts takes")
            page.get_by_role("button", name="Apply this repair").click()
            expect(strip).to_contain_text("no findings")
            expect(answers).not_to_contain_text("train of")
            expect(page.get_by_role("button", name="Undo")).to_have_attribute("title", "Undo: repair trigger-too-short")

            # A smaller design for the same hold, side by side with this one on one clock.
            tab(page, "Designs")
            page.get_by_label("Hold, such as 12 s").fill("5.4 s")
            page.get_by_role("button", name="Find designs").click()
            expect(page.get_by_role("button", name="Compare design 1")).to_be_visible()
            card = page.get_by_role("article", name="Design 1", exact=True)
            expect(card).to_contain_text("lights the lamp for 5.4 s")
            assert int(re.search(r"(\d+) parts in", card.inner_text())[1]) < 26
            page.get_by_role("button", name="Compare design 1").click()
            tab(page, "Side by side")
            page.get_by_role("button", name="Add the plan that is open").click()
            expect(page.locator(".compared")).to_have_count(2)
            both = page.locator(".inner .readings")
            both.locator("summary").click()
            expect(both).to_contain_text("lamp 0: 15, 108: 0")  # the design that was chosen, from its press: 5.4 s
            expect(both.locator("p")).to_have_count(2)

            tab(page, "Sheet")
            page.get_by_role("button", name="Make it and look").click()
            expect(page.locator(".preview iframe")).to_be_visible()
            page.get_by_role("button", name="Save in the folder").click()
            hear(page, "Saved gangway.pdf")
            assert (folder / "gangway.pdf").read_bytes().startswith(b"%PDF-")
            assert page.errors == []
            fetched = [
                url for url in page.seen if re.match(r"(https?|wss?|ftp):", url)
            ]  # not what the browser ships, its PDF viewer
            outside = [url for url in fetched if not url.startswith(bench.address)]
            assert (len(fetched) > 5, outside) == (True, [])

        assert not (folder / "gangway.toml").exists()  # nothing was saved: all of it is in the journal
        bench.end(signal.SIGKILL)
        bench = Bench(folder, state)
        with browsing(chromium) as page:
            ready(page, bench.address)
            expect(page.locator(".top .file")).to_contain_text("gangway.toml")
            hear(page, "has been brought back")
            page.get_by_role("button", name="Undo").click()  # the history is there too
            expect(page.locator(".sentence")).to_contain_text("for 5.4 s")
            page.get_by_role("button", name="Save").click()
            hear(page, "Saved gangway.toml")
        plan = load(folder / "gangway.toml")
        found = {one.output: one.hold_steps for one in measure(plan)}
        assert (found, len(plan.cells)) == ({"entry": 104, "lamp": 108}, 14 + 12)
    finally:
        bench.end()


def test_the_3d_view_follows_what_pistons_move(need_tool, tmp_path):
    chromium = need_tool("chromium")
    folder = tmp_path / "landing"
    folder.mkdir()
    shutil.copy(EXAMPLES / "shuttle.toml", folder)
    plan = load(folder / "shuttle.toml")
    trigger = next(iter(plan.triggers))
    bench = Bench(folder / "shuttle.toml", tmp_path / "state")
    try:
        with browsing(chromium) as page:
            ready(page, bench.address)
            page.get_by_role("button", name="3D", exact=True).click()
            view = page.locator(".solid")
            expect(view.locator("canvas")).to_be_visible()
            tab(page, "Bench")
            page.get_by_role("button", name=f"Press {trigger}").click()
            line = page.locator(".line .timeline")
            line.get_by_role("button", name="Pause").click()
            line.get_by_role("button", name="Start").click()
            expect(view).to_have_attribute("data-configuration", "0")
            scenes = record(plan, [f"0:{trigger}"], 600).scenes  # what the reference engine says stands when
            numbered = NumberedStands(plan)
            numbers = [numbered.number(stands) for _, stands in scenes]
            assert max(numbers) >= 3
            now = 0
            for (step, _), number in zip(scenes, numbers, strict=True):
                page.locator(".line .lanes").focus()
                for _ in range(step - now):
                    page.keyboard.press("ArrowRight")
                now = step
                expect(line.locator(".now")).to_contain_text(f"step {step} ")
                expect(view).to_have_attribute("data-configuration", str(number))
            tab(page, "Bench")  # as laid again
            expect(view).to_have_attribute("data-configuration", "0")
            assert page.errors == []
    finally:
        bench.end()


def test_dragging_a_charts_edge(need_tool, tmp_path):
    chromium = need_tool("chromium")
    shutil.copy(EXAMPLES / "gate-and-bell.toml", tmp_path / "gate.toml")
    bench = Bench(tmp_path / "gate.toml", tmp_path / "state")
    try:
        with browsing(chromium) as page:
            ready(page, bench.address)
            tab(page, "Designs")
            tab(page, "Chart")
            claim = page.get_by_label("Claim 1", exact=True)
            kept = page.get_by_text("All 2 claims are kept.")
            expect(kept).to_be_visible()
            expect(claim).to_have_value("gate: on from press + 0.5 s for 1.4 s")
            edge = page.get_by_role("slider", name="gate, claim 1: ends")
            expect(edge).to_have_attribute("aria-valuetext", "1.9 s")
            steady(page)
            grip = edge.locator("circle").bounding_box()
            x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
            scale = page.locator(".chart-lanes .over").bounding_box()["width"] / 860
            ends = [float(line.get_attribute("x1")) for line in page.locator(".edge line").all()[:2]]
            step = (ends[1] - ends[0]) / 28  # the gate is wanted for 28 steps
            page.mouse.move(x, y)
            page.mouse.down()
            page.mouse.move(x + 5 * step * scale, y, steps=3)
            page.mouse.move(x + 6 * step * scale, y)
            expect(edge).to_have_attribute(
                "aria-valuetext", "2.2 s"
            )  # it is told on the way, and nothing is changed yet
            expect(claim).to_have_value("gate: on from press + 0.5 s for 1.4 s")
            page.mouse.up()
            expect(claim).to_have_value("gate: on from press + 0.5 s for 1.7 s")
            expect(page.get_by_text("1 of 2 claims kept.")).to_be_visible()
            expect(page.locator(".for-light text", has_text="0.3 s short")).to_be_visible()
            edge.focus()
            for _ in range(2):
                page.keyboard.press("ArrowLeft")
            expect(claim).to_have_value("gate: on from press + 0.5 s for 1.6 s")
            undo = page.get_by_role("button", name="Undo")
            for told in ("1.65 s", "1.7 s", "1.4 s"):
                undo.click()
                expect(claim).to_have_value(f"gate: on from press + 0.5 s for {told}")
            expect(kept).to_be_visible()
            assert not page.errors
    finally:
        bench.end()
