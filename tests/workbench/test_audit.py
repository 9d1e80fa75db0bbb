"""What axe says of every screen of the workbench, in light and dark; and that nothing sticks out of any.

Source: the rules of axe-core for WCAG 2.2 level AA (npm axe-core); .ci/run installs it.
"""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from at_the_bench import Bench, browsing, hear, ready, steady, tab
from golden import hold_screen_to
from tickwright.publish import contrast

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)  # on a busy machine
GOLDEN = Path(__file__).resolve().parent / "golden"
PICTURED = ("choose", "compare", "publish", "files")  # and the bench before anything is done
DARK = ("bench", "choose", "files")  # in a narrow window
PASSING = (".strip", ".card-foot", ".solid canvas")  # differs each time
STYLE = (  # of what comes late, or is as long as the name of a folder
    ".strip { flex: none !important; width: 200px !important; height: 34px; overflow: hidden }"
    " .tries, .shelf-title .hint, .shelf-title code { display: none !important }"
)
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(name="bench")
def bench_of_two_plans(tmp_path):
    folder = tmp_path / "landing"
    folder.mkdir()
    for name in ("flat-loop-6.toml", "latch.toml"):
        shutil.copy(EXAMPLES / name, folder)
    bench = Bench(folder / "flat-loop-6.toml", tmp_path / "state")
    yield bench
    bench.end()


@pytest.fixture(name="axe")
def script_of_axe():
    path = os.environ.get("TICKWRIGHT_AXE")
    if not path and os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail("TICKWRIGHT_AXE names no script, and TICKWRIGHT_REQUIRE_TOOLS says it must be there")
    if not path:
        pytest.skip("TICKWRIGHT_AXE does not name axe.min.js of the npm package axe-core")
    return Path(path).read_text(encoding="utf-8")


def screens(page):
    """Show one screen after another, each with what work leaves on it; gives their names."""
    expect(page.locator(".strip")).to_contain_text("measured in")
    page.get_by_role("button", name="3D", exact=True).click()
    expect(page.locator(".solid canvas")).to_be_visible()
    yield "lay"
    page.locator(".above-board").focus()
    page.keyboard.press("F1")
    expect(page.get_by_role("dialog")).to_be_visible()
    yield "the keys"
    page.get_by_role("dialog").get_by_role("button", name="Close").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    page.locator(".above-board").focus()
    page.keyboard.press("Shift+N")
    expect(page.get_by_role("dialog")).to_be_visible()
    yield "a note"
    page.get_by_role("dialog").get_by_role("button", name="Cancel").click()
    expect(page.get_by_role("dialog")).to_have_count(0)

    tab(page, "Bench")
    page.get_by_role("button", name="Press press", exact=True).click()
    page.locator(".line .readings summary").click()
    expect(page.locator(".line .readings")).to_contain_text("lamp 0: 0, 2: 15, 110: 0")
    yield "watch"

    tab(page, "Why")
    page.get_by_role("button", name=re.compile("A turn costs two levels")).first.click()
    expect(page.locator(".above-board")).to_have_attribute("data-lit", re.compile(","))
    yield "why"

    tab(page, "Judge")
    length = page.get_by_label("Trigger length, to try another one")
    length.fill("4 ticks")
    length.press("Tab")
    expect(page.get_by_role("button", name="Apply this repair")).to_be_visible()
    page.get_by_role("button", name="Work out the dossier").click()
    summaries = page.locator(".side details summary")
    expect(summaries.first).to_be_visible()
    summaries.first.click()
    yield "judge"

    tab(page, "Designs")
    page.get_by_label("Hold, such as 12 s").fill("5.4 s")
    page.get_by_text("More wishes").click()
    page.get_by_label("Pitch of copies").fill("z=3")
    page.get_by_role("button", name="Find designs").click()
    expect(page.get_by_text('The pitch "z=3" cannot be read')).to_be_visible()
    yield "a wish that cannot be meant"
    page.get_by_label("Pitch of copies").fill("")
    page.get_by_role("button", name="Find designs").click()
    expect(page.get_by_role("button", name="Compare design 1")).to_be_visible()
    yield "choose"

    tab(page, "Side by side")
    page.get_by_role("button", name="Add the plan that is open").click()
    expect(page.locator(".compared")).to_have_count(1)
    page.get_by_role("button", name="Work out the figures").click()
    expect(page.get_by_text("pitch x, y")).to_be_visible()
    yield "compare"

    tab(page, "Sheet")
    page.get_by_label("What", exact=True).click()
    page.get_by_role("option", name="Picture (SVG)").click()
    page.get_by_role("button", name="Make it and look").click()
    expect(page.locator(".preview img")).to_be_visible()
    yield "publish"

    tab(page, "Shelf")
    expect(page.get_by_role("button", name="Open latch.toml")).to_be_visible()
    expect(page.get_by_text("being run and drawn")).to_have_count(0)
    yield "files"


@pytest.mark.parametrize(("scheme", "wide", "high"), [("light", 1280, 720), ("dark", 390, 844)])
def test_axe_finds_nothing_that_keeps_anybody_out(need_tool, bench, axe, scheme, wide, high):
    found = []
    looks = {"color_scheme": scheme, "reduced_motion": "reduce", "viewport": {"width": wide, "height": high}}
    with browsing(need_tool("chromium"), **looks) as page:
        ready(page, bench.address)
        dark = page.locator("body.body--dark")
        expect(dark).to_have_count(1 if scheme == "dark" else 0)
        page.evaluate(axe)
        for name in screens(page):
            steady(page)
            answer = page.evaluate(f"axe.run({{ runOnly: {RULES} }})")
            assert len(answer["passes"]) > 10
            nodes = [(one["id"], node) for one in answer["violations"] for node in one["nodes"]]
            found += [f"{name}: {rule}: {node['html'][:200]} {node['failureSummary']}" for rule, node in nodes]
        assert page.errors == []
    assert found == [], "\n\n".join(found)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_said_in_passing_can_be_read(need_tool, bench, scheme):
    """Axe is too slow to see it. Source: WCAG 2.2, SC 1.4.3."""
    with browsing(need_tool("chromium"), color_scheme=scheme) as page:
        ready(page, bench.address)
        page.locator(".above-board").focus()
        for key, said in (("Control+c", "Copied 1 part."), ("d", "Select a box first")):
            page.keyboard.press(key)
            hear(page, said)
            told = page.evaluate("window.toldIn")
            ground, *inks = ("#" + "".join(f"{int(n):02x}" for n in re.findall(r"[0-9]+", one)[:3]) for one in told)
            assert min(contrast(ink, ground) for ink in inks) >= 4.5, (said, told)
            assert len(inks) == (2 if key == "d" else 1)  # the text, and a button that closes what is bad


def hold_room_to(page, name, wide):
    """Hold a room to its golden picture, from its top; some in a narrow window in dark, too."""
    page.evaluate("for (const one of document.querySelectorAll('*')) if (one.scrollTop) one.scrollTop = 0")
    steady(page)
    hold_screen_to(GOLDEN / f"{name}-{wide}.png", page, *PASSING, style=STYLE)
    if wide == 900 and name in DARK:
        page.emulate_media(color_scheme="dark")
        expect(page.locator("body.body--dark")).to_have_count(1)
        steady(page)
        hold_screen_to(GOLDEN / f"{name}-dark.png", page, *PASSING, style=STYLE)
        page.emulate_media(color_scheme="light")
        expect(page.locator("body.body--dark")).to_have_count(0)
        steady(page)


@pytest.mark.parametrize(("wide", "high"), [(1280, 720), (900, 700)])
def test_nothing_sticks_out_of_the_page(need_tool, bench, wide, high):
    with browsing(need_tool("chromium"), viewport={"width": wide, "height": high}) as page:
        ready(page, bench.address)
        expect(page.locator(".strip")).to_contain_text("measured in")
        expect(page.get_by_role("button", name="Play", exact=True)).to_be_enabled()  # it has been run
        steady(page)
        hold_room_to(page, "bench", wide)
        for name in screens(page):
            steady(page)
            if name in PICTURED:
                hold_room_to(page, name, wide)
            size = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]")
            assert size[0] <= wide, name
            assert size[1] <= high, name
            assert page.evaluate(CUT) == [], name


# Buttons and labels whose text is wider or higher than the place that shows it.
TEXTS = ".act, .plain, .q-tab, .q-field__label, th, td, .hint, .code, summary, .title"
CUT = """() => [...document.querySelectorAll('TEXTS')]
    .filter((one) => one.getClientRects().length && !one.closest(".unseen") && one.scrollWidth > one.clientWidth + 1
        && getComputedStyle(one).display !== "inline" && getComputedStyle(one).overflowX !== "visible")
    .map((one) => one.textContent.trim().slice(0, 60))""".replace("TEXTS", TEXTS)
