"""The guided build: check-points hold on the other engine; the page leads to the end on a phone, from disk, offline."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from browser import chromium, opened
from conftest import need_tool
from tickwright import gather, load, loads, run
from tickwright.diagnosis import Conversation, diagnose
from tickwright.guiding import Guide, gather_guide
from tickwright.material import Material
from tickwright.plan import Stimulus, priced_bill
from tickwright.publish.guide import guided_page
from tickwright.recording import record_presses
from tickwright.rules import load_rules

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
NO_STORE = "Object.defineProperty(window, 'localStorage', {get() { throw new Error('none') }})"


def example(name):
    return load(EXAMPLES[0].parent / f"{name}.toml")


def material(plan, questions=0):
    """What the guided build shows of a plan, without what takes many presses."""
    known = gather(plan, most_active_steps=1)
    presses, left_out = record_presses(plan, [answer.measured for answer in known.answers])
    found = diagnose(plan, depth="pressed")
    rules, guide = load_rules(plan.rules), gather_guide(plan, questions=questions)
    return Material(
        plan, rules, known, tuple(presses), tuple(left_out), found, None, {}, priced_bill(plan), False, guide=guide
    )


def data_of(page):
    return json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page)[1])


# --- check-points ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_check_point_holds_on_the_other_engine_and_leaves_all_as_it_was(path):
    plan = load(path)
    guide = gather_guide(plan)
    assert sorted(cell for group in guide.groups for cell in group.cells) == sorted(plan.cells)
    for check in guide.checks:
        laid = {cell for group in guide.groups[: check.after + 1] for cell in group.cells}
        assert set(check.plan.cells) == laid
        at, trigger = 400, plan.triggers[check.trigger]
        acts = [Stimulus(at, trigger, check.act)]
        if check.undone:
            acts.append(Stimulus(at + 60, trigger, check.undone))
        trace = run(check.plan, acts, 2_000, engine="fast", watch={"here": check.cell}).trace
        before = trace.value_at("here", at - 1)
        assert before != check.value
        assert {trace.value_at("here", at + step) for step in range(check.first, check.last)} == {check.value}
        assert trace.value_at("here", 1_999) == before


def test_check_points_by_hand():
    # By hand: pressed, the repeater gives 15 to the wire before it for as long as the press, a tick later; the wire
    # south of it has one level less. In the drain timer the lever is on, and its wire goes dark when it is flipped.
    checks = {check.cell: check for check in gather_guide(example("flat-loop-6")).checks}
    wire = checks[2, 1, 1]
    assert (wire.act, wire.value, wire.first, wire.last) == ("press", 14, 2, 22)
    (check,) = gather_guide(example("drain-timer")).checks
    assert (check.act, check.cell, check.value, check.undone) == ("flip", (3, 0, 1), 0, "flip")


def test_a_press_that_would_stay_is_no_check_point():
    # By hand: a lamp beside a repeater that locks itself stays on; built half, without the lock, it goes off again.
    guide = gather_guide(example("latch"))
    assert all(check.after < len(guide.groups) - 1 for check in guide.checks)
    assert all(check.plan.cells[check.cell].kind != "short-button" for check in guide.checks)


# --- the page --------------------------------------------------------------------------------------------------------


def test_the_page_counts_what_to_take_along_in_stacks():
    text = """format = "tickwright plan 1"
    title = "A long pier <b>"
    legend = {"#" = "block", b = "short-button", L = "lamp"}
    triggers = {press = [0, 0, 1]}
    outputs = {lamp = [1, 0, 1]}
    """
    rows = "#" * 70
    plan = loads(text + f'layer = [{{rows = "{rows}\\n{rows}"}}, {{rows = "bL"}}]')
    page = guided_page(material(plan))
    steps = data_of(page)["steps"]
    assert (steps[0]["rows"][0]["text"], steps[0]["rows"][0]["stacks"]) == ("140 blocks", "2 stacks of 64, and 12")
    assert "<title>A long pier &lt;b&gt;: build it</title>" in page
    assert [step["type"] for step in steps] == ["ready", "lay", "lay", "lay", "press"]
    assert steps[1]["text"] == "Lay them in rows 0 and 1 at 0 to 69."


def test_containers_are_filled_once_all_is_laid():
    steps = data_of(guided_page(material(example("drain-timer"))))["steps"]
    assert [step["text"] for step in steps if step["type"] == "fill"] == [
        "Put 32 items into the hopper at x 2, y 1 in layer 1."
    ]
    assert [step["type"] for step in steps][-2:] == ["fill", "press"]


def test_a_plan_without_triggers_has_a_guide_too():
    text = (EXAMPLES[0].parent / "torch-clock.toml").read_text(encoding="utf-8").split("[triggers]")[0]
    steps = data_of(guided_page(material(loads(text + "[outputs]\nbeat = [2, 0, 1]\n"))))["steps"]
    assert steps[-1]["text"] == "Nothing is to be pressed. Watch what it does by itself."


def test_a_build_is_led_to_the_end_on_a_phone_offline(tmp_path):
    plan = example("stacked-loop-3")
    made = material(plan, questions=3)
    file = tmp_path / "build.html"
    file.write_text(guided_page(made), encoding="utf-8")
    asking = made.guide.asking
    assert asking.question == Conversation(plan).round.question
    with chromium(need_tool("chromium")) as browser:
        with opened(browser, file, offline=True, **PHONE) as seen:
            page, steps = seen.page, len(made.guide.groups) + len(made.guide.checks) + 1
            page.wait_for_selector("html[data-ready]")
            assert page.locator("#answer").inner_text() == "One press lights the lamp for 5.4 s, 0.1 s after it."
            assert page.locator("li.take").first.inner_text() == "10 blocks"
            for number in range(steps):
                assert page.locator("#bar").get_attribute("aria-valuenow") == str(number)
                assert page.evaluate("document.documentElement.scrollWidth") <= 390
                if page.locator("#else").count():  # a check-point
                    assert "now: the " in page.locator("#step").inner_text()
                page.locator("#main").tap()
                if number == steps // 2:  # the phone is put away, and the page loaded anew
                    page.reload()
                    page.wait_for_selector("html[data-ready]")
                    assert page.locator("#bar").get_attribute("aria-valuenow") == str(number + 1)
            assert page.locator("#step h2").inner_text() == "The first press"
            page.locator("#else").tap()
            shown = asking.question.split(" which of these")[0] + " which parts are lit?"
            assert page.locator("#question").inner_text() == shown
            page.locator(".answers button").nth(1).tap()
            assert asking.then[asking.answers[1]].leading[0].mistakes[0].look in page.locator("#step").inner_text()
            command = f'tickwright diagnose stacked-loop-3.toml --ask --answer "{asking.answers[1]}"'
            assert page.locator("code").inner_text() == command
            page.reload()
            page.wait_for_selector("html[data-ready]")
            assert page.locator("code").inner_text() == command
            page.locator("#main").tap()  # mended, and pressed again
            page.locator("#main").tap()
            assert page.locator("#step h2").inner_text() == "It is built, and it works."
            assert seen.complaints == []
            assert set(seen.requests) == {file.as_uri()}
        with opened(browser, file, before=NO_STORE, **PHONE) as seen:  # a browser that keeps nothing for such pages
            page = seen.page
            page.wait_for_selector("html[data-ready]")
            page.locator("#main").tap()
            page.reload()
            page.wait_for_selector("html[data-ready]")
            assert page.locator("#bar").get_attribute("aria-valuenow") == "1"
            page.locator("#menu").tap()
            assert "kept in the address" in page.locator("#overview").inner_text()
            assert seen.complaints == []


def test_what_is_asked_after_an_answer_is_what_the_command_asks():
    plan = example("drain-timer")
    tree = gather_guide(plan, questions=4).asking
    talk = Conversation(plan)
    assert (tree.question, tree.answers) == (talk.round.question, talk.round.answers)
    assert len(tree.then) == 3
    for answer, then in tree.then.items():
        talk.answer(answer)
        assert (then.question or None, then.answers) == (talk.round.question, talk.round.answers)
        talk.take_back()


def test_a_guide_without_questions_leads_to_the_command():
    made = material(example("taps"))
    assert made.guide.asking is None
    assert data_of(guided_page(made))["asking"] is None
    assert Guide((), (), ()).asking is None
