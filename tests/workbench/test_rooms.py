"""Journeys through the rooms in a real browser: laid in a section, tuned in place by keys, built on a phone."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, ready, steady, tab
from tickwright import load, measure
from tickwright.plan import repeat, save
from tickwright.workbench.keys import PART_KEYS

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)  # on a busy machine


@pytest.fixture(name="bench_on")
def opener(tmp_path):
    """Open a workbench on a copy of an example, or on a plan that is not there yet."""
    made = []

    def open_bench(name):
        folder = tmp_path / "landing"
        folder.mkdir()
        if (EXAMPLES / f"{name}.toml").exists():
            shutil.copy(EXAMPLES / f"{name}.toml", folder)
        made.append(Bench(folder / f"{name}.toml", tmp_path / "state"))
        return made[0]

    yield open_bench
    for bench in made:
        bench.end()


def go(page, at, goal):
    """Move the cursor of the section with the keys."""
    for axis, (less, more) in ((0, ("ArrowLeft", "ArrowRight")), (2, ("ArrowDown", "ArrowUp"))):
        for _ in range(abs(goal[axis] - at[axis])):
            page.keyboard.press(more if goal[axis] > at[axis] else less)


def test_a_loop_is_laid_in_the_section_view(need_tool, bench_on, tmp_path):
    """The stacked loop of three lies in one section: all of it is laid there, part by part, with the keys alone."""
    wanted = load(EXAMPLES / "stacked-loop-3.toml")
    with browsing(need_tool("chromium")) as page:
        ready(page, bench_on("stack").address)
        section, said = page.locator(".section-board"), page.locator(".section-board .board-said")
        chosen = page.locator(".chosen .code")
        section.focus()
        at = [0, 0, 0]
        for (x, y, z), part in sorted(wanted.cells.items(), key=lambda one: (one[0][2], str(one[1]), one[0])):
            go(page, at, (x, y, z))
            at = [x, y, z]
            expect(said).to_contain_text(f"({x}, {y}, {z})")
            its_key = next(key for key, kinds in PART_KEYS.items() if part.kind in kinds)
            for key, text in ((its_key, rf"^{part.kind}\b"), ("r", re.escape(str(part)) + "$")):
                while not re.search(text, now := chosen.inner_text()):
                    page.keyboard.press(key)
                    expect(chosen).not_to_have_text(now)
            page.keyboard.press("Enter")
            expect(said).to_contain_text(f"({x}, {y}, {z})  {part}".split(" on=")[0].split(" delay")[0])
        for table, key in (("triggers", "Shift+T"), ("outputs", "Shift+O")):
            for name, (x, y, z) in getattr(wanted, table).items():
                go(page, at, (x, y, z))
                at = [x, y, z]
                expect(said).to_contain_text(f"({x}, {y}, {z})")
                page.keyboard.press(key)
                page.get_by_role("dialog").get_by_role("textbox").fill(name)
                page.keyboard.press("Enter")
                expect(page.get_by_role("dialog")).to_have_count(0)
                section.focus()
        # The example's own promise (see its file): one press lights the lamp for 5.4 s.
        expect(page.locator(".sentence")).to_have_text("One press lights the lamp for 5.4 s, 0.1 s after it.")
        page.keyboard.press("Control+s")
        expect(page.locator(".top .state")).to_have_text("saved in its file")
        assert page.errors == []
    laid = load(tmp_path / "landing" / "stack.toml")
    assert laid.cells == wanted.cells
    assert {one.output: one.hold_steps for one in measure(laid)}["lamp"] == 108


def test_what_a_longer_button_would_do_is_tried_and_put_by_keys(need_tool, bench_on):
    with browsing(need_tool("chromium")) as page:
        ready(page, bench_on("flat-loop-6").address)
        sentence, ghost = page.locator(".sentence"), page.locator(".ghost")
        page.locator(".above-board").focus()
        expect(page.locator(".try")).to_have_count(6)  # all that a press may come from is measured
        page.keyboard.press(">")
        # A long button gives 1.5 s: half a second more, and so much longer the loop is fed.
        expect(ghost).to_contain_text("long-button")
        expect(ghost).to_contain_text("lamp 5.4 s → 5.9 s")
        tried = page.locator('.try[aria-pressed="true"]')
        expect(tried).to_have_attribute("aria-label", re.compile("long-button.*5.9 s"))
        expect(page.get_by_role("button", name="Undo")).to_be_disabled()  # nothing is done yet
        page.keyboard.press("Escape")
        expect(ghost).to_be_hidden()
        expect(tried).to_have_count(0)
        expect(sentence).to_contain_text("for 5.4 s")
        page.keyboard.press(">")
        expect(ghost).to_be_visible()
        expect(tried).to_have_attribute("aria-label", re.compile("long-button.*5.9 s"))
        page.keyboard.press("Enter")
        expect(sentence).to_contain_text("for 5.9 s")
        expect(page.get_by_role("button", name="Undo")).to_have_attribute("title", "Undo: put long-button")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("3")  # the repeater beside it: two ticks later
        expect(sentence).to_contain_text("0.3 s after it")
        for _ in range(2):
            page.keyboard.press("Control+z")
        expect(sentence).to_have_text("One press lights the lamp for 5.4 s, 0.1 s after it.")
        assert page.errors == []


def middle(page, x, y):
    """Where the middle of a cell of the layer view is on the page."""
    steady(page)
    board = page.locator(".above-board")
    box = board.bounding_box()
    unit, left, top = (float(board.get_attribute(f"data-{name}")) for name in ("unit", "left", "top"))
    return box["x"] + left + (x + 0.5) * unit, box["y"] + top + (y + 0.5) * unit


def test_a_circuit_is_built_on_a_phone_by_touch_and_pinching_lays_nothing(need_tool, bench_on):
    looks = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
    with browsing(need_tool("chromium"), **looks) as page:
        ready(page, bench_on("phone").address)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        board, count = page.locator(".above-board"), page.locator(".strip .count")
        said = board.locator(".board-said")
        for kind, cells in (("block", ((0, 0), (1, 0))), ("lamp", ((2, 0),))):
            page.locator(f'.kind[aria-label="{kind}"]').tap()
            expect(page.locator(f'.kind[aria-label="{kind}"]')).to_have_attribute("aria-pressed", "true")
            board.scroll_into_view_if_needed()
            for x, y in cells:
                page.touchscreen.tap(*middle(page, x, y))
                expect(said).to_contain_text(f"({x}, {y}, 0)  {kind}")
        expect(count).to_have_text("3")
        unit = board.get_attribute("data-unit")
        pinch(page, middle(page, 1, 1), middle(page, 3, 1))
        expect(board).not_to_have_attribute("data-unit", unit)
        page.touchscreen.tap(*middle(page, 2, 1))
        expect(said).to_contain_text("(2, 1, 0)  lamp")
        expect(count).to_have_text("4")  # the pinch laid nothing
        assert page.errors == []


def pinch(page, one, other):
    """Two fingers go apart."""
    session = page.context.new_cdp_session(page)

    def touch(sort, *points):
        places = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
        session.send("Input.dispatchTouchEvent", {"type": sort, "touchPoints": places})

    touch("touchStart", one)
    touch("touchStart", one, other)
    for by in (6, 12, 18, 24):
        touch("touchMove", (one[0] - by, one[1]), (other[0] + by, other[1]))
    touch("touchEnd")


def test_the_reasons_light_the_parts_that_they_speak_of(need_tool, bench_on):
    """Cells by hand, from the example: the ring's first comparator stands at (3, 0, 1), its fourth at (5, 1, 1)."""
    with browsing(need_tool("chromium")) as page:
        ready(page, bench_on("flat-loop-6").address)
        board, section, lanes = page.locator(".above-board"), page.locator(".section-board"), page.locator(".line .now")
        page.get_by_role("tab", name="Why", exact=True).click()
        group = page.get_by_role("region", name="press → lamp")
        expect(group.get_by_role("listitem")).to_have_count(9)
        costs = group.get_by_role("button", name=re.compile("A turn costs two levels"))
        costs.hover()
        expect(board).to_have_attribute("data-lit", "5,1,1 3,0,1")
        page.mouse.move(640, 60)
        expect(board).to_have_attribute("data-lit", "")
        # The repeater is on a tick after the press, each of six comparators a tick after the one before: step 14.
        group.get_by_role("button", name=re.compile("The repeater lets go at 1.1 s")).click()
        expect(board).to_have_attribute("data-lit", re.compile(r"\b1,0,1\b"))
        expect(section).to_have_attribute("data-lit", re.compile(r"\b1,0,1\b"))
        expect(lanes).to_contain_text("step 14")
        board.focus()
        page.keyboard.press("PageDown")
        expect(board).to_have_attribute("data-at", "0")
        costs.click()  # what it speaks of lies in the layer above, so that is shown
        expect(board).to_have_attribute("data-at", "1")
        expect(board).to_have_attribute("data-lit", "5,1,1 3,0,1")
        group.get_by_role("button", name="Tell it: press → lamp").click()
        second = group.get_by_role("listitem").nth(1)
        expect(second).to_have_attribute("aria-current", "true")  # after the first, by itself
        group.get_by_role("button", name="Stop: press → lamp").click()
        expect(group.locator("[aria-current]")).to_have_count(0)
        expect(board).to_have_attribute("data-lit", "")
        costs.click()
        page.get_by_role("tab", name="Cell", exact=True).click()
        expect(board).to_have_attribute("data-lit", "")
        assert page.errors == []


def test_a_plan_of_300_parts_with_169_pairs_is_opened_and_pressed(need_tool, bench_on, tmp_path):
    """Thirteen loops beside each other, a trigger and a lamp each; each holds as the example alone (see its file)."""
    bench = bench_on("latch")
    one = load(EXAMPLES / "flat-loop-6.toml")
    many = repeat(replace(one, expectations=(), charts=()), "y", 13, one.size[1] + 2)
    many = replace(many, outputs={name: cell for name, cell in many.outputs.items() if name.startswith("lamp")})
    assert (len(many.cells), len(many.triggers), len(many.outputs)) == (312, 13, 13)
    save(many, tmp_path / "landing" / "many.toml")
    with browsing(need_tool("chromium")) as page:
        ready(page, bench.address)
        tab(page, "Shelf")
        page.get_by_role("button", name="Open many.toml").click()
        expect(page.locator(".top .file")).to_contain_text("many.toml")
        expect(page.locator(".sentence")).to_contain_text("for 5.4 s, 0.1 s after it")
        expect(page.locator(".strip")).to_contain_text("312")
        page.locator(".above-board").focus()
        page.keyboard.press("Delete")  # the first button: its loop no longer answers to it
        expect(page.locator(".strip")).to_contain_text("311")
        page.get_by_role("button", name="Undo", exact=True).click()
        expect(page.locator(".strip")).to_contain_text("312")
        expect(page.locator(".sentence")).to_contain_text("for 5.4 s, 0.1 s after it")
        assert page.errors == []
