"""The page through NiceGUI's in-process user: no browser, no socket."""

from __future__ import annotations

import asyncio
import gc
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from nicegui import background_tasks, ui
from nicegui.testing import UserInteraction

from on_the_page import eventually, sees, visit
from tickwright import Expectation, load, measure
from tickwright.design import Room, Wish, choose, lying
from tickwright.kinds import PARTS
from tickwright.plan import ASKS, WIDENED, lay, load_prices
from tickwright.workbench import dialogs, judge_panel
from tickwright.workbench.elements import attempt
from tickwright.workbench.jobs import Worker
from tickwright.workbench.wish_form import WishForm

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
pytestmark = pytest.mark.timeout(1200)


@pytest.fixture(name="folder")
def landing(tmp_path, monkeypatch):
    monkeypatch.setenv("TICKWRIGHT_STATE", str(tmp_path / "state"))
    folder = tmp_path / "landing"
    folder.mkdir()
    for name in ("flat-loop-6.toml", "latch.toml"):
        shutil.copy(EXAMPLES / name, folder)
    return folder


def test_the_page_shows_what_is_open(folder):
    async def story(user, session):
        await sees(user, "flat-loop-6.toml")
        await sees(user, "saved in its file")
        user.find(marker="part-comparator").click()
        await sees(user, "comparator east")

    visit(folder / "flat-loop-6.toml", story)


def test_another_plan_is_opened_and_a_bad_one_refused(folder):
    (folder / "bad.toml").write_text("format = 3", encoding="utf-8")

    async def story(user, session):
        user.find(marker="tab-shelf").click()
        await sees(user, "latch.toml")
        user.find(marker="open-bad.toml").click()
        await sees(user, "The format is 3")
        assert session.document.path.name == "flat-loop-6.toml"
        user.find(marker="open-latch.toml").click()
        assert session.document.path.name == "latch.toml"

    visit(folder / "flat-loop-6.toml", story)


async def attempted():
    """Wait until all that a click has set going in the background is done, but for jobs that go on."""
    for _ in range(20):
        await asyncio.sleep(0)
    await eventually(lambda: not [one for one in background_tasks.running_tasks if one.get_name() == "attempt"])


def judged(session):
    """Whether all is known: the measures and the findings come from two workers, in either order."""
    return not session.judging.known.busy


def test_the_plan_is_judged_and_a_finding_is_repaired_as_one_edit(folder):
    async def story(user, session):
        await eventually(lambda: judged(session))
        known = session.judging.known
        # Known of the flat loop of six (see its example): delay 1 tick, hold 5.4 s, minimum trigger 6 ticks (lamp: 4).
        entry = next(answer for answer in known.answers if answer.output == "entry")
        assert (entry.delay_steps, entry.hold_steps, entry.minimum_trigger_steps) == (2, 104, 12)
        assert (known.box, len(known.verdicts), known.findings) == ((7, 2, 2), 9, ())
        await sees(user, "5.2\N{NO-BREAK SPACE}s (52\N{NO-BREAK SPACE}ticks)")
        await sees(user, "no findings")

        user.find(marker="tab-judge").click()
        user.find(marker="trigger-length").type("4 ticks").trigger("change")
        await eventually(lambda: judged(session) and session.length_steps == 8)
        assert [finding.code for finding in session.judging.known.findings] == ["trigger-too-short"]
        await sees(user, "parallel taps")
        before = session.document.plan
        user.find(marker="repair-trigger-too-short").click()
        await eventually(lambda: judged(session) and session.document.plan != before)
        assert session.judging.known.findings == ()
        assert session.document.undo() == "repair trigger-too-short"
        assert session.document.plan == before

    visit(folder / "flat-loop-6.toml", story)


def test_a_button_may_be_gone_before_what_it_does_is_done(folder):
    async def story(user, session):
        with user.client:
            line = [ui.element("div")]

        def mend() -> bool:
            line.pop().delete()
            gc.collect()
            return session.change("retitle", lambda plan: replace(plan, title="Mended"))

        with line[0].default_slot:  # which does not keep the line
            assert attempt(mend) is True
        await sees(user, "Mended")

    visit(folder / "flat-loop-6.toml", story)


def test_a_press_is_recorded_and_a_script_kept_in_order(folder):
    async def story(user, session):
        user.find(marker="tab-press").click()
        user.find(marker="act").type("20:press")
        user.find("Add act").click()
        assert session.script == ["20:press"]
        await eventually(lambda: session.kept)
        data, media_type = session.kept[max(session.kept)]
        assert (media_type, len(data) > 100) == ("application/octet-stream", True)
        user.find(marker="act").clear().type("20:pres")
        user.find("Add act").click()
        await sees(user, "neither a trigger of the plan nor a cell")
        assert session.script == ["20:press"]
        user.find("Clear script").click()
        assert session.script == []

    visit(folder / "flat-loop-6.toml", story)


def test_a_dialog_is_closed_by_its_button(folder):
    async def story(user, session):
        with user.client:
            dialogs.show_keys()
        await sees(user, "Keys of the grids")
        (dialog,) = user.find(kind=ui.dialog).elements
        user.find("Close").click()
        await attempted()  # it must not be opened again
        assert not dialog.value

    visit(folder / "flat-loop-6.toml", story)


def test_a_plan_that_cannot_be_run_says_why(folder):
    async def story(user, session):
        session.change("erase", lambda plan: lay(plan, {(1, 0, 0): None}))
        await eventually(lambda: "no support" in session.judging.known.trouble)
        await sees(user, "no support")

    visit(folder / "flat-loop-6.toml", story)


def test_up_to_six_plans_are_compared_on_one_clock(folder):
    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find(marker="tab-compare").click()
        user.find("Add the plan that is open").click()
        await eventually(lambda: session.kept)
        assert list(session.compared) == ["flat-loop-6"]
        user.find("Work out the figures").click()
        await sees(user, "pitch x, y")
        await user.should_see("7 × 2 × 2")  # the box of the flat loop of six
        session.compared["stacked"] = load(EXAMPLES / "stacked-loop-3.toml")
        user.find("Work out the figures").click()
        await sees(user, "flat-loop-6 against stacked: ")
        await sees(user, '"flat-loop-6" makes 7 turns of 0.6 s, "stacked" 14 of 0.3 s.')  # by hand: six and three ticks
        session.compared.pop("stacked")
        plan = session.document.plan
        session.compared |= {f"copy {number}": plan for number in range(5)}
        session.compared.pop("flat-loop-6")
        user.find("Add the plan that is open").click()
        user.find(marker="tab-bench").click()
        session.compared["sixth"] = session.compared.pop("flat-loop-6")
        user.find(marker="tab-designs").click()
        user.find(marker="tab-compare").click()
        user.find("Add the plan that is open").click()
        await sees(user, "6 plans are compared already")

    visit(folder / "flat-loop-6.toml", story)


def test_a_file_is_made_looked_at_and_saved_but_not_over_another(folder):
    async def story(user, session):
        user.find(marker="tab-sheet").click()
        user.find(marker="publish-form").click()
        user.find("Picture (SVG)").click()
        user.find("Make it and look").click()
        await eventually(lambda: any(media == "image/svg+xml" for _, media in session.kept.values()))
        user.find("Save in the folder").click()
        svg = (folder / "flat-loop-6.svg").read_text(encoding="utf-8")
        assert "<svg" in svg
        user.find("Save in the folder").click()
        await sees(user, "already: choose another name")
        user.find(marker="publish-name").clear().type("../out.svg")
        user.find("Save in the folder").click()
        await sees(user, "leads out of the opened folder")
        assert not (folder.parent / "out.svg").exists()

    visit(folder / "flat-loop-6.toml", story)


BLINKING = f"""format = "tickwright plan 1"
legend = {{L = "lamp", w = "wire", f = "lever on=down"}}
triggers = {{beat = [0, 0, 1]}}
outputs = {{lamp = [0, 0, 0]}}
[[layer]]
rows = '''
{"LLLLLLLL" + chr(10)}{("LLLLLLLL" + chr(10)) * 7}'''
[[layer]]
rows = '''
{"fwwwwwww" + chr(10)}{("wwwwwwww" + chr(10)) * 7}'''
"""


def test_a_film_is_slowed_where_it_would_flash_unless_that_is_overridden_after_a_warning(folder):
    """Source: WCAG 2.2, SC 2.3.1."""
    (folder / "floor.toml").write_text(BLINKING, encoding="utf-8")

    async def story(user, session):
        session.script = [f"{20 + 2 * turn}:beat:flip" for turn in range(16)]
        user.find(marker="tab-sheet").click()
        assert the(user, "publish-form").value != "vtt"
        with pytest.raises(AssertionError):
            user.find(marker="film-flashing")  # of films alone
        the(user, "publish-form").value = "vtt"
        user.find("Make it and look").click()
        await sees(user, "times slower than asked for: it would have")
        slowed = session.kept[max(session.kept)][0]
        box = the(user, "film-flashing")
        user.find(marker="film-flashing").click()
        await sees(user, "photosensitive epilepsy")
        assert not box.value
        user.find("Keep it slow").click()
        assert not box.value
        user.find(marker="film-flashing").click()
        user.find(kind=ui.button, content="Let it flash").click()
        assert box.value
        user.find("Make it and look").click()
        await sees(user, "Warning: the film has")
        assert session.kept[max(session.kept)][0] != slowed
        the(user, "publish-form").value = "gif"
        assert not box.value

    visit(folder / "floor.toml", story)


def test_no_link_leads_out_of_the_folder(folder):
    outside = folder.parent / "outside"
    outside.mkdir()
    shutil.copy(EXAMPLES / "taps.toml", outside)
    (folder / "out").symlink_to(outside)
    (folder / "linked.toml").symlink_to(outside / "taps.toml")

    async def story(user, session):
        user.find(marker="tab-shelf").click()
        await sees(user, "latch.toml")
        await user.should_not_see("linked.toml")
        user.find(marker="new-name").clear().type("out/taps.toml")
        user.find("Begin a new plan").click()
        await sees(user, "leads out of the opened folder")
        user.find(marker="tab-designs").click()
        user.find(marker="wish-hold_steps").type("12 s")
        user.find(marker="wish-floor").type("linked.toml")
        user.find("Find designs").click()
        floor = the(user, "wish-floor")
        await eventually(lambda: floor.error)
        assert "leads out of the opened folder" in floor.error
        user.find(marker="tab-sheet").click()
        user.find(marker="publish-form").click()
        user.find("Picture (SVG)").click()
        user.find("Make it and look").click()
        await eventually(lambda: any(media == "image/svg+xml" for _, media in session.kept.values()))
        await sees(user, "Take it elsewhere")
        user.find(marker="publish-name").clear().type("out/lamp.svg")
        user.notify.messages.clear()
        user.find("Save in the folder").click()
        await sees(user, "leads out of the opened folder")
        assert [path.name for path in outside.iterdir()] == ["taps.toml"]
        assert session.document.path == folder / "flat-loop-6.toml"

    visit(folder / "flat-loop-6.toml", story)


def test_a_runaway_job_is_shown_and_stopped_while_the_page_answers(folder, monkeypatch):
    shutil.copy(EXAMPLES / "two-keys.toml", folder)
    monkeypatch.setattr(judge_panel, "STATES", 10**8)

    async def story(user, session):
        user.find(marker="tab-judge").click()
        user.find(kind=ui.button, content="Prove").click()
        worker = session.worker("long")
        await eventually(lambda: worker.job == "prove")
        await sees(user, "states explored")
        session.change("erase", lambda plan: lay(plan, {(0, 0, 1): None}))  # an edit is answered all the same
        await eventually(lambda: session.judging.known.whole or session.judging.known.trouble)
        assert worker.job == "prove"
        user.find(kind=ui.button, content="Work out the dossier").click()
        await sees(user, "Another long job, the prove, is at work")
        user.find(kind=ui.button, content="Stop").click()  # with what there is
        await sees(user, "undecided: ")
        await sees(user, "stopped by hand")
        assert worker.job is None

    visit(folder / "two-keys.toml", story)


def test_a_job_that_does_not_end_when_it_is_asked_is_stopped_at_once(folder, monkeypatch):
    monkeypatch.setattr(Worker, "end", lambda _: None)  # it does not hear
    monkeypatch.setattr(judge_panel, "STATES", 10**8)
    shutil.copy(EXAMPLES / "two-keys.toml", folder)

    async def story(user, session):
        user.find(marker="tab-judge").click()
        user.find(kind=ui.button, content="Prove").click()
        await eventually(lambda: session.worker("long").job == "prove")
        user.find(kind=ui.button, content="Stop").click()  # its process may not be up yet
        await sees(user, "ending with what there is")
        user.find(kind=ui.button, content="Stop at once").click()
        await sees(user, "Stopped.")
        assert session.worker("long").job is None

    visit(folder / "two-keys.toml", story)


def test_a_job_that_fails_says_so_and_can_be_begun_again(folder, monkeypatch):
    do = Worker.do

    async def fail(worker, job, *args, **more):
        if job == "prove":
            raise RuntimeError("ZeroDivisionError: division by zero")
        return await do(worker, job, *args, **more)

    async def story(user, _session):
        user.find(marker="tab-judge").click()
        with monkeypatch.context() as patch:
            patch.setattr(Worker, "do", fail)
            user.find(kind=ui.button, content="Prove").click()
            await sees(user, "It failed, which is a defect of Tickwright: ZeroDivisionError: division by zero")
        user.find(kind=ui.button, content="Prove").click()
        await sees(user, "proved: ")

    visit(folder / "flat-loop-6.toml", story)


def test_a_search_that_is_stopped_shows_what_it_has(folder):
    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find(marker="wish-hold_steps").type("12 s")
        user.find("Find designs").click()
        await eventually(lambda: session.worker("long").job == "choose")
        user.find(kind=ui.button, content="Stop").click()
        await sees(user, "Stopped before the end")
        await sees(user, "The search was stopped.")
        user.find(marker="tab-judge").click()
        user.find(marker="tune-hold").type("11.35 s")
        user.find(kind=ui.button, content="Tune").click()
        await eventually(lambda: session.worker("long").job == "tune")
        user.find(kind=ui.button, content="Stop").click()
        await sees(user, "The search was cut short")
        await sees(user, "What each knob does")

    visit(folder / "flat-loop-6.toml", story)


def test_judging_is_stopped_and_what_is_known_stays(folder):
    async def story(user, session):
        user.find(marker="tab-judge").click()
        await eventually(lambda: session.judging.known.answers)
        session.change("erase", lambda plan: lay(plan, {(5, 0, 1): None}))
        user.find(kind=ui.button, content="Stop").click()
        await sees(user, "Stopped before all was looked for")
        await attempted()
        assert not session.judging.known.busy
        session.document.undo()
        session.tell("plan")
        await eventually(lambda: judged(session))
        assert not session.judging.known.stopped

    visit(folder / "flat-loop-6.toml", story)


def test_an_example_is_opened_as_a_copy_and_a_new_plan_begun(folder):
    async def story(user, session):
        user.find(marker="tab-shelf").click()
        user.find(marker="example-taps").click()
        assert session.document.path == folder / "taps.toml"
        assert (folder / "taps.toml").exists()
        user.find(marker="tab-shelf").click()
        user.find(marker="new-name").clear().type("bell.toml")
        user.find("Begin a new plan").click()
        assert session.document.path == folder / "bell.toml"
        assert session.document.plan.cells == {}

    visit(folder / "flat-loop-6.toml", story)


def test_a_file_changed_outside_is_asked_about(folder):
    path = folder / "flat-loop-6.toml"

    async def story(user, session):
        session.change("erase", lambda plan: lay(plan, {(0, 0, 1): None}))
        theirs = path.read_text(encoding="utf-8").replace("flat loop of six", "mended by hand")
        path.write_text(theirs, encoding="utf-8")
        user.find("Save").click()
        await sees(user, "The file was changed outside")
        assert path.read_text(encoding="utf-8") == theirs
        user.find("Take the file's").click()
        assert session.document.plan.title == "Gangway lamp, mended by hand"
        assert session.document.undo() == "read the file again"

    visit(path, story)


def test_designs_are_chosen_opened_and_compared(folder):
    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find("Find designs").click()
        await sees(user, "Say the hold that is wanted")
        user.find(marker="wish-hold_steps").type("5.4 s")
        user.find("Find designs").click()
        await sees(user, marker="design-open-0")
        user.find(marker="design-compare-0").click()
        (plan,) = session.compared.values()
        assert measure(plan)[0].hold_steps == 108
        user.find(marker="design-open-0").click()
        assert session.document.plan.cells == plan.cells
        assert session.document.path.parent == folder

    visit(folder / "flat-loop-6.toml", story)


PRICES = "[prices]\n" + "".join(f"{kind} = {2 if kind == 'hopper' else 1}\n" for kind in PARTS)


def test_all_that_is_wished_for_reaches_the_chooser(folder):
    (folder / "prices.toml").write_text(PRICES, encoding="utf-8")
    wishes = {
        "hold_steps": "12 s", "within_steps": "2 ticks", "room": "9 x 5 x 4", "blocked": "2,0,1; 3,2,1",
        "enter": "west", "have": "hopper 4, comparator 12", "without": "torch", "prices": "prices.toml",
        "rules": "standard, older-wire",
    }  # fmt: skip

    async def story(user, session):
        user.find(marker="tab-designs").click()
        for name, text in wishes.items():
            user.find(marker=f"wish-{name}").clear().type(text)
        user.find("Find designs").click()
        await sees(user, marker="design-open-0")
        user.find(marker="design-open-0").click()
        plan = session.document.plan
        # The same wishes, told the command: what it finds is what is opened, as it lies in the room.
        wish = Wish(
            240, 4, room=Room((9, 5, 4), frozenset({(2, 0, 1), (3, 2, 1)}), "west"),
            have={"hopper": 4, "comparator": 12}, allowed=frozenset(PARTS) - {"torch"},
            prices=load_prices(folder / "prices.toml"), rules=("standard", "older-wire"),
        )  # fmt: skip
        best = choose(wish).designs[0]
        assert plan == lying(best, wish.room)
        assert plan.size == (9, 5, 4)
        assert not {(2, 0, 1), (3, 2, 1)} & set(plan.cells)
        assert next(iter(plan.triggers.values()))[0] == 0
        assert abs(measure(plan)[0].hold_steps - 240) <= 4

    visit(folder / "flat-loop-6.toml", story)


def test_further_outputs_are_wished_for_one_a_line(folder, monkeypatch):
    read, wished = WishForm.wish, []
    monkeypatch.setattr(WishForm, "wish", lambda form: wished.append(read(form)))

    async def story(user, _session):
        user.find(marker="tab-designs").click()
        user.find(marker="wish-hold_steps").type("1 s")
        further = "bell line: on from press + 1 s for 1 s", "gate: on from press for 2 s"
        the(user, "wish-also").value = "\n\n".join(further)
        user.find("Find designs").click()
        await eventually(lambda: wished)
        assert wished == [Wish(20, also=further)]

    visit(folder / "flat-loop-6.toml", story)


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("hold_steps", "12", 'The duration "12" has no unit'),
        ("hold_steps", "25 h", "wish for 1 step to 24 hours"),
        ("trigger_steps", "0 ticks", "A press of 0 steps is none"),
        ("room", "9x5", 'The room "9x5" is no box'),
        ("blocked", "9,9", 'Blocked "9,9" is no cell'),
        ("blocked", "1,1,1", "Blocked cells and sides need a room"),
        ("enter", "west", "Blocked cells and sides need a room"),
        ("have", "comparators", '"comparators" is no number of parts'),
        ("have", "hoper 3", 'There is no part "hoper". Did you mean "hopper"?'),
        ("allowed", "wires", 'There is no part "wires". Did you mean "wire"?'),
        ("without", "hoper", 'There is no part "hoper". Did you mean "hopper"?'),
        ("prices", "../prices.toml", "leads out of the opened folder"),
        ("prices", "flat-loop-6.toml", "A price table has no"),
        ("floor", "none.toml", "none.toml"),
        ("pitch", "z=3", 'The pitch "z=3" cannot be read'),
        ("also", "bell line", '"bell line" is no further output'),
        ("rules", "standart", "does not end in .toml"),
        ("rules", "/etc/world.toml", "leads out of the opened folder"),
    ],
)
def test_a_wish_that_cannot_be_meant_says_so_at_its_field_and_loses_nothing(folder, name, text, message):
    async def story(user, session):
        given = {"hold_steps": "12 s", "within_steps": "1 tick", name: text}
        user.find(marker="tab-designs").click()
        for field, value in given.items():
            user.find(marker=f"wish-{field}").clear().type(value)
        user.find("Find designs").click()
        form = {name: the(user, f"wish-{name}") for name in ("within_steps", "hold_steps", name, "output")}
        await eventually(lambda: form[name].error)
        assert message in form[name].error
        assert [field for field, one in form.items() if one.error] == [name]
        assert {field: form[field].value for field in given} == given
        assert session.worker("long").job is None

    visit(folder / "flat-loop-6.toml", story)


def test_what_contradicts_itself_is_said_at_one_field(folder):
    async def story(user, session):
        user.find(marker="tab-designs").click()
        user.find(marker="wish-hold_steps").type("12 s")
        level, output = the(user, "wish-level"), the(user, "wish-output")
        level.value = 15
        the(user, "wish-distance_cells").value = 3
        user.find("Find designs").click()
        await eventually(lambda: level.error)
        assert "Level 15 behind 3 cells of wire cannot be had" in level.error
        level.value = 5
        output.value = "lamp"
        user.find("Find designs").click()
        await eventually(lambda: output.error)
        assert level.error is None
        assert "A lamp gives no level to a wire" in output.error

    visit(folder / "flat-loop-6.toml", story)


def the(user, marker):
    """The one element of that marker."""
    (found,) = user.find(marker=marker).elements
    return found


EXPECTED = [
    # Known of the flat loop of six (see its example): the lamp holds 5.4 s after 1 tick, minimum trigger 4 ticks there.
    ("hold", "5.4 s", "1 tick", Expectation("press", "lamp", hold_steps=108, within_steps=2), True),
    ("hold", "5.5 s", "", Expectation("press", "lamp", hold_steps=110), False),
    ("delay", "1 tick", "", Expectation("press", "lamp", delay_steps=2), True),
    ("recovery", "0 s", "", Expectation("press", "lamp", recovery_steps=0), True),
    ("settles_within", "4 s", "", Expectation("press", "lamp", settles_within_steps=80), False),
    ("minimum_trigger_at_most", "4 ticks", "", Expectation("press", "lamp", minimum_trigger_at_most_steps=8), True),
    ("pulses", "1", "", Expectation("press", "lamp", pulses=1), True),
    ("level_at_least", "15", "", Expectation("press", "lamp", level_at_least=15), True),
    ("never", "", "", Expectation("press", "lamp", never=True), False),
]


def test_all_that_check_knows_can_be_expected(folder):
    assert {key for key, *_ in EXPECTED} == set(ASKS)

    async def story(user, session):
        session.change("expect no more", lambda plan: replace(plan, expectations=()))
        user.find(marker="tab-judge").click()
        for key, value, within, _, _ in EXPECTED:
            the(user, "expect-key").value = key
            if key in WIDENED:
                user.find(marker="expect-within").clear().type(within)
            else:
                await user.should_not_see(marker="expect-within")
            if key == "never":
                await user.should_not_see(marker="expect-value")
            else:
                user.find(marker="expect-value").clear().type(value)
            user.find("Expect this").click()
        assert session.document.plan.expectations == tuple(wish for *_, wish, _ in EXPECTED)
        the(user, "expect-output").value = "entry"
        the(user, "expect-key").value = "pulses"
        user.find(marker="expect-value").clear().type("some")
        user.find("Expect this").click()
        await sees(user, 'pulses is "some": write a whole number from 0 to 1,000,000.')
        user.find(marker="expect-value").clear().type("1")
        user.find("Expect this").click()
        assert session.document.plan.expectations[-1] == Expectation("press", "entry", pulses=1)
        await eventually(lambda: session.judging.known.verdicts)
        assert [verdict.passed for verdict in session.judging.known.verdicts] == [
            *(kept for *_, kept in EXPECTED),
            True,
        ]
        session.document.save()
        assert load(folder / "flat-loop-6.toml").expectations == session.document.plan.expectations

    visit(folder / "flat-loop-6.toml", story)


def test_the_plan_is_tuned_by_one_edit(folder):
    async def story(user, session):
        user.find(marker="tab-judge").click()
        user.find(marker="tune-hold").type("6 s")
        user.find(kind=ui.button, content="Tune").click()
        await sees(user, marker="apply-tuned")
        before = session.document.plan
        element = min(user.find(marker="apply-tuned").elements, key=lambda one: one.id)
        UserInteraction(user, {element}, None).click()
        assert session.document.undo_label == "tune"
        assert measure(session.document.plan, output="lamp")[0].hold_steps == 120
        assert session.document.undo() == "tune"
        assert session.document.plan == before

    visit(folder / "flat-loop-6.toml", story)
