"""The interactive sheet, driven in real Chromium from disk: nothing leaves it, nothing goes wrong, everything works."""

from __future__ import annotations

import base64
import json
import os
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from browser import chromium, eventually, opened, until
from conftest import need_tool
from golden import hold_screen_to
from pictures import cells_of
from tickwright import diagnose, gather, load, loads, why
from tickwright.dossier import Dossier
from tickwright.plan import Plan, priced_bill
from tickwright.publish.interactive import Design, interactive_sheet
from tickwright.publish.scene import inlined
from tickwright.recording import Press, record, record_presses
from tickwright.verify.rulesets import RuleSetsVerdict

GOLDEN = Path(__file__).resolve().parent / "golden"
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ODD = "\"Läuten\" & <b>'Δοκιμή'</b> </script><script>alert(1)</script> 渡し場"
WIDE = {"width": 1300, "height": 900}


def design(plan):
    """What a sheet shows of a plan, without what takes many presses."""
    known = gather(plan, most_active_steps=1)
    presses, left_out = record_presses(plan, [answer.measured for answer in known.answers])
    return Design(
        known, presses, priced_bill(plan), left_out, why=why(plan) if plan.triggers and plan.outputs else None
    )


def example(name):
    return load(EXAMPLES / f"{name}.toml")


@pytest.fixture(scope="module", name="browser")
def browser_fixture():
    with chromium(need_tool("chromium")) as browser:
        yield browser


@pytest.fixture(scope="module", name="sheet")
def sheet_fixture(tmp_path_factory):
    file = tmp_path_factory.mktemp("sheet") / "sheet.html"
    file.write_text(interactive_sheet([design(example("stacked-loop-3"))]), encoding="utf-8")
    return file


@pytest.fixture(scope="module", name="pair")
def pair_fixture(tmp_path_factory):
    file = tmp_path_factory.mktemp("pair") / "pair.html"
    designs = [design(example(name)) for name in ("stacked-loop-3", "barrier")]
    file.write_text(interactive_sheet(designs), encoding="utf-8")
    return file


def data_of(page):
    """The data that a page holds."""
    return json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page)[1])


def ready(seen):
    seen.page.wait_for_selector("html[data-ready]")
    return seen.page


def seek(page, moment):
    page.evaluate(f"""() => {{
        const time = document.getElementById("time");
        time.value = "{moment}";
        time.dispatchEvent(new Event("input"));
    }}""")


def another(canvas, before):
    """What a canvas shows once that is another picture than before."""
    return eventually(canvas.screenshot, lambda now: now != before)


def shown(page, pane=0):
    """What the named cells of a pane show, as {name: level}."""
    texts = page.locator("figure").nth(pane).locator(".shown li").all_inner_texts()
    return {name: int(value) for name, value in (text.rsplit(maxsplit=1) for text in texts)}


def untroubled(seen, file):
    assert seen.complaints == []
    assert seen.requests == [file.as_uri()]


def test_every_moment_shows_what_the_run_showed(browser, sheet):
    press = design(example("stacked-loop-3")).presses[0]
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        for moment in (0, 1, 2, 20, 57, 109, 110):
            seek(page, moment)
            step = press.recording.pressed_at_step + moment
            assert shown(page) == {
                name: press.recording.trace.value_at(name, step) for name in ("press", "lamp", "entry")
            }
        assert page.locator("#clock").inner_text() == "5.5 s from the press (55 ticks)"
        untroubled(seen, sheet)


def test_the_length_of_the_trigger_can_be_chosen(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        lengths = page.locator("figure").first.locator("select").nth(1)
        assert lengths.locator("option").all_inner_texts()[0] == "10 ticks (1 s), as laid"
        lengths.select_option(label="2 ticks (0.2 s)")
        # Shorter than its minimum of three ticks, not one fading level but a train (facts of the trade, 4).
        until(page, "document.querySelector('#time').max < 120")  # the shorter run is there
        levels = []
        for moment in range(60):
            seek(page, moment)
            levels.append(shown(page)["entry"] > 0)
        rises = sum(now and not before for before, now in pairwise(levels))
        assert rises > 1
        untroubled(seen, sheet)


def test_two_designs_run_side_by_side_on_one_clock(browser, pair):
    with opened(browser, pair, viewport=WIDE) as seen:
        page = ready(seen)
        assert page.title() == "Gangway lamp, stacked loop of three and Gangway barrier on a loop"
        until(page, "document.querySelectorAll('figure .lane').length >= 6")
        runs = [design(example(name)).presses[0].recording for name in ("stacked-loop-3", "barrier")]
        for moment in (0, 3, 30, 110):
            seek(page, moment)
            for number, run in enumerate(runs):
                then = {name: run.trace.value_at(name, run.pressed_at_step + moment) for name in run.trace.names}
                assert shown(page, number) == then
        assert page.locator("canvas").count() == 2
        page.select_option("#second", "")
        until(page, "document.querySelectorAll('canvas').length === 1")
        page.select_option("#second", label="Gangway barrier on a loop")
        until(page, "document.querySelectorAll('canvas').length === 2")
        untroubled(seen, pair)


def test_it_plays_steps_and_says_where_it_is(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        page.locator("body").press(".")
        assert page.locator("#clock").inner_text() == "0.05 s from the press (0.5 ticks)"
        assert "lamp 0" in page.locator("#said").inner_text()
        page.locator("body").press("]")  # the lamp lights a tick after the press
        assert page.locator("#clock").inner_text() == "0.1 s from the press (1 tick)"
        assert "lamp 15" in page.locator("#said").inner_text()
        page.select_option("#speed", "0.1")  # so slow that the run does not end before it is stopped
        page.locator("body").press(" ")
        until(page, "Number(document.getElementById('time').value) > 3")
        page.locator("body").press(" ")
        assert page.locator("#play").inner_text() == "Play"
        at = page.input_value("#time")
        page.select_option("#speed", "20")  # a playback that went on would go far in the next frames
        page.evaluate("""async () => {
            for (let frames = 0; frames < 10; frames++) await new Promise(requestAnimationFrame);
        }""")
        assert page.input_value("#time") == at
        untroubled(seen, sheet)


def test_the_view_turns_and_layers_come_off(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        canvas = page.locator("canvas").first
        box = canvas.bounding_box()
        before = canvas.screenshot()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 90, y - 20, steps=4)
        page.mouse.up()
        turned = another(canvas, before)
        page.locator("#layer").fill("0")
        another(canvas, turned)
        assert page.locator("#layer-shown").inner_text() == "0"
        untroubled(seen, sheet)


def test_a_cell_tells_its_part_level_and_lane_from_the_keyboard_alone(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        seek(page, 30)
        page.focus("canvas")
        for key in ("ArrowRight", "PageUp"):  # the first cell, (0, 0, 0), and what is above it
            page.keyboard.press(key)
        panel = page.locator("#panel").inner_text()
        assert "Cell (0, 0, 1): press" in panel
        assert "short-button" in panel
        assert "fixed to the cell below" in panel
        assert "Now: 0" in panel
        assert page.locator("#said").inner_text() == "(0, 0, 1): short-button, 0"
        page.keyboard.press("ArrowRight")
        assert "repeater east" in page.locator("#panel").inner_text()
        assert page.locator("figure").first.locator(".lane-name").last.text_content() == "(1, 0, 1)"
        untroubled(seen, sheet)


def test_without_webgl_all_but_the_view_works(browser, sheet):
    with opened(browser, sheet, viewport=WIDE, before="HTMLCanvasElement.prototype.getContext = () => null") as seen:
        page = ready(seen)
        assert "This browser draws no 3D view" in page.locator("figure").inner_text()
        seek(page, 30)
        assert shown(page)["lamp"] == 15
        for tab in ("cell", "build", "dossier", "findings", "bill"):
            page.locator(f"#tab-{tab}").click()
        page.locator("#tab-build").click()
        page.locator("#build-back").click()
        assert "Step 11 of 12" in page.locator("#build-now").inner_text()
        assert not [line for line in seen.complaints if "WebGL" not in line]


def test_a_key_held_down_goes_no_faster_than_is_safe(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        page.evaluate("""async () => {
            const until = performance.now() + 1000;
            for (let first = true; performance.now() < until; first = false) {
                const key = new KeyboardEvent("keydown", { key: ".", repeat: !first, bubbles: true });
                document.body.dispatchEvent(key);
                await new Promise((done) => setTimeout(done, 10));
            }
        }""")
        assert 1 <= int(page.input_value("#time")) <= 7
        untroubled(seen, sheet)


def test_the_build_goes_step_by_step(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        page.locator("#tab-build").focus()
        page.keyboard.press("Enter")
        assert "Step 12 of 12" in page.locator("#build-now").inner_text()
        whole = page.locator("canvas").first.screenshot()
        for _ in range(11):
            page.locator("#build-back").press("Enter")
        assert page.locator("#build-now").inner_text() == "Step 1 of 12, layer 0: 6 × block at (0, 0, 0) to (5, 0, 0)."
        another(page.locator("canvas").first, whole)
        page.locator("#build-next").press("Enter")
        assert "lamp at (2, 0, 1)" in page.locator("[aria-current=step]").inner_text()
        untroubled(seen, sheet)


def test_the_panels_show_what_is_known(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        page.locator("#tab-cell").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        text = page.locator("#panel").inner_text()
        assert "Expectations: 9 passed, 0 failed." in text
        assert "5.4 s (54 ticks)" in text
        page.locator("#tab-why").click()
        # By hand: a stacked loop of three loses a level in each of its 14 turns of three ticks (see test_reasons.py).
        said = "Three comparators feed one another in a ring; one turn takes 0.3 s."
        before = page.locator("canvas").first.screenshot()
        page.get_by_role("button", name=said).first.click()
        another(page.locator("canvas").first, before)
        page.locator("#tab-bill").click()
        assert page.locator("#panel tbody tr").last.inner_text().split() == ["all", "19", "19"]
        page.locator("#tab-keys").click()
        assert "play or pause" in page.locator("#panel").inner_text()
        untroubled(seen, sheet)


def test_a_finding_tells_once_what_mends_it(browser, tmp_path):
    plan = example("older-wire-fade")
    found = diagnose(plan).findings
    repairs = [finding.repair.text for finding in found]
    assert len(repairs) == 2
    file = tmp_path / "sheet.html"
    file.write_text(interactive_sheet([design(plan)._replace(findings=found)]), encoding="utf-8")
    with opened(browser, file, viewport=WIDE) as seen:
        page = ready(seen)
        page.locator("#tab-findings").click()
        rows = page.locator("#panel li").all_inner_texts()
        assert len(rows) == 2
        assert all(f"To mend it: {repair}" in row for repair, row in zip(repairs, rows, strict=True))
        untroubled(seen, file)


def test_long_words_and_names_stay_in_their_places(browser, tmp_path):
    plan = example("stacked-loop-3")
    triggers = {"the-button-at-the-upper-end-of-the-gangway": plan.triggers["press"]}
    outputs = {f"{name}-of-the-loop-under-the-planks-of-the-landing": cell for name, cell in plan.outputs.items()}
    named = replace(plan, title="Gangway" * 28, triggers=triggers, outputs=outputs, expectations=())
    file = tmp_path / "sheet.html"
    file.write_text(interactive_sheet([design(named)]), encoding="utf-8")
    with opened(browser, file, viewport=WIDE) as seen:
        page = ready(seen)
        for title in page.locator("h1, figure h2").all():
            assert title.evaluate("(one) => one.scrollWidth <= one.clientWidth")
        boxes = """(() => {
            const view = document.querySelector(".view").getBoundingClientRect();
            const names = [...document.querySelectorAll(".view span")].filter((one) => one.textContent.length > 9);
            const boxes = names.map((one) => one.getBoundingClientRect());
            return boxes.length === 3 && boxes.every((one, i) =>
                one.left >= view.left && one.right <= view.right && one.top >= view.top && one.bottom <= view.bottom
                && boxes.slice(i + 1).every((other) => one.bottom <= other.top || other.bottom <= one.top
                    || one.right <= other.left || other.right <= one.left));
        })()"""
        until(page, boxes)
        seek(page, -10)
        assert page.locator("#clock").inner_text() == "0.5 s before the press (5 ticks)"
        untroubled(seen, file)


def test_triggers_come_in_the_order_of_the_plan():
    (shown,) = data_of(interactive_sheet([design(example("latch"))]))["designs"]
    assert list(dict.fromkeys(run["trigger"] for run in shown["runs"])) == ["set", "reset"]
    assert [run["own"] for run in shown["runs"]].count(True) == 2


def test_designs_of_one_title_are_told_apart():
    one = design(example("pulse-shortener"))
    data = data_of(interactive_sheet([one, one]))
    title = one.dossier.plan.title
    assert [shown["title"] for shown in data["designs"]] == [f"{title} (1)", f"{title} (2)"]


def test_odd_titles_show_as_they_are_and_do_nothing(browser, tmp_path):
    odd = design(replace(example("pulse-shortener"), title=ODD))
    file = tmp_path / "sheet.html"
    file.write_text(interactive_sheet([odd]), encoding="utf-8")
    with opened(browser, file) as seen:
        page = ready(seen)
        assert page.title() == ODD
        assert page.locator("#title").inner_text() == ODD
        assert page.locator("b", has_text="Δοκιμή").count() == 0
        untroubled(seen, file)


def test_the_policy_keeps_out_what_is_not_its_own(browser, tmp_path, sheet):
    # The same page with a script and a request put into it by another hand: neither runs nor leaves.
    text = sheet.read_text(encoding="utf-8")
    assert re.search(r"default-src 'none'; script-src 'sha256-[\w+/=]+'; style-src 'sha256-[\w+/=]+'", text)
    file = tmp_path / "sheet.html"
    foreign = '<script>window.foreign = true</script><img id="other" src="other.gif"></body>'
    file.write_text(text.replace("</body>", foreign), encoding="utf-8")
    (tmp_path / "other.gif").write_bytes(base64.b64decode("R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7"))
    with opened(browser, file) as seen:
        page = ready(seen)
        assert page.evaluate("window.foreign") is None
        assert page.evaluate("document.getElementById('other').naturalWidth") == 0
        assert len([line for line in seen.complaints if "Content Security Policy" in line]) == 2


def test_it_follows_the_colours_and_the_calm_that_are_asked_for(browser, sheet):
    with opened(browser, sheet, color_scheme="dark", reduced_motion="reduce") as seen:
        page = ready(seen)
        assert page.evaluate("document.documentElement.dataset.theme") == "dark"
        assert page.input_value("#speed") == "0.25"
        page.locator("#theme").click()
        assert page.evaluate("document.documentElement.dataset.theme") == "light"
        untroubled(seen, sheet)


@pytest.mark.parametrize("width", [320, 700, 1900])
def test_nothing_sticks_out_of_the_page(browser, sheet, width):
    with opened(browser, sheet, viewport={"width": width, "height": 800}) as seen:
        page = ready(seen)
        for tab in ("cell", "build", "dossier", "findings", "bill", "keys"):
            page.locator(f"#tab-{tab}").click()
            assert page.evaluate("document.documentElement.scrollWidth") <= width, tab
        page.locator("#tab-build").click()
        hold_screen_to(GOLDEN / f"page-{width}.png", page, "figure canvas")
        untroubled(seen, sheet)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_that_keeps_anybody_out(browser, pair, scheme):
    """Source: the rules of axe-core for WCAG 2.2 level AA (npm axe-core); .ci/run installs it."""
    axe = os.environ.get("TICKWRIGHT_AXE")
    if not axe and os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail("TICKWRIGHT_AXE names no script, and TICKWRIGHT_REQUIRE_TOOLS says it must be there")
    if not axe:
        pytest.skip("TICKWRIGHT_AXE does not name axe.min.js of the npm package axe-core")
    with opened(browser, pair, viewport=WIDE, color_scheme=scheme) as seen:
        page = ready(seen)
        until(page, "document.querySelectorAll('figure .lane').length >= 6")
        page.evaluate(Path(axe).read_text(encoding="utf-8"))
        for tab in ("cell", "build", "dossier", "findings", "bill", "keys"):
            page.locator(f"#tab-{tab}").click()
            found = page.evaluate("axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })")
            assert len(found["passes"]) > 10
            assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == [], tab


def test_every_control_has_a_name(browser, sheet):
    with opened(browser, sheet, viewport=WIDE) as seen:
        page = ready(seen)
        nameless = page.evaluate("""() => [...document.querySelectorAll("button, select, input, canvas, [role]")]
            .filter((one) => one.offsetParent !== null && one.id !== "said")
            .filter((one) => !(one.getAttribute("aria-label") || one.getAttribute("aria-labelledby")
                || (one.labels && one.labels.length && one.labels[0].textContent.trim()) || one.textContent.trim()))
            .map((one) => one.outerHTML.slice(0, 80))""")
        assert nameless == []
        untroubled(seen, sheet)


def test_three_hundred_busy_parts_take_less_than_one_and_a_half_megabytes():
    # A button, 74 pairs of repeater and wire, and a lamp, each on its own block; every one of them changes in a press.
    row = "b" + "rw" * 74 + "L"
    legend = {"#": "block", "b": "short-button", "r": "repeater east", "w": "wire", "L": "lamp"}
    plan = Plan(cells_of(["#" * len(row), row], legend), {"press": (0, 0, 1)}, {"lamp": (149, 0, 1)})
    assert len(plan.cells) == 300
    lengths = range(2, 28, 2)
    presses = [Press("press", n, False, record(plan, trigger="press", length_steps=n)) for n in lengths]
    nothing = RuleSetsVerdict((), ())
    known = Dossier(plan, "standard", (), {}, (), (), nothing, (), ())
    page = interactive_sheet([Design(known, presses, priced_bill(plan))])
    assert len(page.encode("utf-8")) < 1_500_000
    (shown,) = data_of(page)["designs"]
    assert [run["length_steps"] for run in shown["runs"]] == list(lengths)


RING = """format = "tickwright plan 1"
title = "Ring of two repeaters"
legend = {"#" = "block", b = "short-button", w = "wire", ">" = "repeater east", "<" = "repeater west"}
layer = [{rows = "###\\n###\\n#.."}, {rows = "w>w\\nw<w\\nb.."}]
triggers = {press = [0, 2, 1]}
outputs = {corner = [2, 0, 1]}
"""


def test_playing_never_flashes_large_areas_unasked(browser, tmp_path):
    # A press of one tick runs round the ring of two ticks: five flashes a second in all its cells.
    file = tmp_path / "sheet.html"
    file.write_text(interactive_sheet([design(loads(RING))]), encoding="utf-8")
    with opened(browser, file, viewport=WIDE) as seen:
        page = ready(seen)
        guard = page.locator("#guard")
        assert not guard.is_visible()
        page.locator("figure").first.locator("select").nth(1).select_option(label="1 tick (0.1 s)")
        guard.wait_for(state="visible")
        assert "2 times slower" in guard.inner_text()
        page.locator("#guard-override").click()
        assert "seizures" in page.locator("#warning").inner_text()
        page.keyboard.press("Enter")  # the button that has the focus keeps it slow
        page.locator("#warning").wait_for(state="hidden")
        assert "2 times slower" in guard.inner_text()
        page.locator("#guard-override").click()
        page.locator("#warning-go").click()
        until(page, "document.getElementById('guard-text').textContent.includes('at full speed although')")
        page.select_option("#speed", "2")  # another speed is another question
        assert "4 times slower" in guard.inner_text()
        page.select_option("#speed", "0.25")
        assert not guard.is_visible()
        untroubled(seen, file)


# Source: WCAG 2.2 SC 2.3.1 and its definition of general flash; full frame, so that any flashing is over too large an
# area. Luminances at a rate of flashes a second, two changes each.
@pytest.mark.parametrize(
    ("dark", "bright", "rate", "safe"),
    [
        (0.0, 1.0, 3, True),
        (0.0, 1.0, 4, False),
        (0.81, 0.95, 4, True),
        (0.50, 0.59, 4, True),
        (0.50, 0.60, 4, False),
    ],
)
def test_flashing_is_judged_by_the_published_limits(browser, sheet, tmp_path, dark, bright, rate, safe):
    limits = data_of(sheet.read_text(encoding="utf-8"))["limits"]
    assert (limits["most"], limits["least"], limits["dark"], limits["area"]) == (3, 0.1, 0.8, 21_824)
    pairs = [[n / (2 * rate), bright if n % 2 else dark] for n in range(8 * rate)]
    file = tmp_path / "flash.html"
    script = inlined("flash.js") + "window.judge = (pairs, limits) => mostFlashes(flashTimes(pairs, limits), 1);"
    file.write_text(f"<!doctype html><script>{script}</script>", encoding="utf-8")
    with opened(browser, file) as seen:
        assert (seen.page.evaluate("([pairs, limits]) => judge(pairs, limits)", [pairs, limits]) <= 3) is safe
        untroubled(seen, file)
