"""In a real browser: a module is laid, carried, edited where it lies and saved; a build of it is asked about."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, click_cell, hear, ready, steady
from tickwright import load
from tickwright.kinds import parse_part

LAMP = """format = "tickwright plan 1"
title = "Lamp with its driver"
legend = {"#" = "block", r = "repeater east", L = "lamp"}
layer = [{rows = "#"}, {rows = "rL"}]
outputs = {light = [1, 0, 1]}
[ports]
in = {cell = [0, 0, 1], side = "west", role = "in"}
"""
WHOLE = """format = "tickwright plan 1"
title = "Ferry landing"
legend = {"#" = "block", b = "short-button", w = "wire"}
layer = [{rows = "##"}, {rows = "bw"}]
triggers = {press = [0, 0, 1]}
"""
MOST_SKIPPED = 12  # questions; the picture comes after a few
pytestmark = pytest.mark.timeout(600)


def cell_at(page, x, y):
    """The middle of a cell of the layer that is shown, on the page."""
    board = page.locator(".above-board")
    box = board.bounding_box()
    unit, left, top = (float(board.get_attribute(f"data-{name}")) for name in ("unit", "left", "top"))
    return box["x"] + left + (x + 0.5) * unit, box["y"] + top + (y + 0.5) * unit


def answer_what_is_lit(page):
    """Ask about a build, tap two parts of the picture, and take the answer back."""
    page.get_by_role("tab", name="Ask", exact=True).click()
    page.get_by_role("button", name="Begin", exact=True).click()
    lit = page.locator(".tap-cell")
    question = page.locator(".question")
    skipped = 0
    while "which parts are lit?" not in question.inner_text():  # which question comes first is not held here
        assert skipped < MOST_SKIPPED, f"no picture was shown within {skipped} questions"
        page.get_by_role("button", name="Don't know").click()
        skipped += 1
        expect(page.get_by_text(f"Answered so far: {skipped}")).to_be_visible()
    asked = question.inner_text()
    lit.first.click()
    expect(lit.first).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_role("button", name="This one is lit")).to_be_visible()
    lit.last.click()
    page.get_by_role("button", name="These 2 are lit").click()
    expect(page.get_by_text(f"Answered so far: {skipped + 1}")).to_be_visible()
    page.get_by_role("button", name="Take the last answer back").click()
    expect(question).to_have_text(asked)


def test_a_module_is_laid_carried_opened_edited_in_place_and_asked_about(need_tool, tmp_path):
    chromium = need_tool("chromium")
    folder = tmp_path / "landing"
    folder.mkdir()
    (folder / "lamp.toml").write_text(LAMP)
    (folder / "whole.toml").write_text(WHOLE)
    bench = Bench(folder / "whole.toml", tmp_path / "state")
    try:
        with browsing(chromium) as page:
            ready(page, bench.address)
            sentence, cell = page.locator(".sentence"), page.get_by_role("tabpanel", name="Cell", exact=True)
            page.get_by_role("button", name="module", exact=True).click()
            page.get_by_role("dialog").get_by_role("button", name="lamp.toml").click()
            page.get_by_role("button", name="0", exact=True).click()
            expect(page.locator(".above-board")).to_have_attribute("data-at", "0")
            click_cell(page, 3, 0)
            expect(cell).to_contain_text("lamp.toml. This cell is (0, 0, 0) in it.")

            # by the mouse one cell to the west, where the wire meets it: findings and the answer follow
            page.get_by_role("button", name="Select", exact=True).click()
            steady(page)
            page.mouse.move(*cell_at(page, 3, 0))
            page.mouse.down()
            page.mouse.move(*cell_at(page, 2, 0), steps=3)
            page.mouse.up()
            expect(sentence).to_have_text("One press lights the lamp.light for 1.2 s, 0.1 s after it.")

            page.keyboard.press("f")  # as a box
            page.keyboard.press("Shift+PageUp")
            page.keyboard.press("o")
            hear(page, "lamp is open: what you change goes to lamp.toml.")
            page.keyboard.press("4")
            expect(sentence).to_have_text("One press lights the lamp.light for 1.2 s, 0.4 s after it.")
            click_cell(page, 0, 0)
            page.keyboard.press("Delete")
            hear(page, "(0, 0, 1) belongs to the whole, and lamp is being edited: go back to the whole first.")
            page.keyboard.press("Control+z")
            expect(sentence).to_contain_text("0.1 s after it.")
            page.keyboard.press("Control+y")
            page.get_by_role("button", name="Back to the whole").first.click()
            page.locator(".above-board").focus()
            page.keyboard.press("Control+s")
            hear(page, "Saved whole.toml.")
            answer_what_is_lit(page)
            assert not page.errors
    finally:
        bench.end()
    assert load(folder / "lamp.toml", checked=False).cells[0, 0, 1] == parse_part("repeater east delay=4")
    (use,) = load(folder / "whole.toml").uses
    assert (use.plan, use.at, use.name) == ("lamp.toml", (2, 0, 0), "lamp")
