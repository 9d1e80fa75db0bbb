"""Tuning: knobs whose effect is known from facts of the trade, and loops brought to other holds, each run again."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import load, loads, measure
from tickwright.design import tune
from tickwright.design.tuning.changes import other_triggers
from tickwright.errors import UsageError
from tickwright.plan import apply_edits, dumps
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
# A repeater of one tick joined with a detour of four: the joined wire is on for the press and 3 ticks more.
TAPS = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", r = "repeater east", w = "wire", "4" = "repeater east delay=4"}
layer = [{rows = "####\\n####\\n####"}, {rows = "bwrw\\n.w.w\\n.w4w"}]
triggers = {press = [0, 0, 1]}
outputs = {line = [3, 0, 1]}"""


def test_the_knob_table_says_what_each_delay_does():
    found = tune(loads(TAPS), 24)
    assert found.before.hold_steps == 26
    rows = {row.knob.cell: {value: hold for value, hold, *_ in row.holds} for row in found.knob_table}
    # The hold is the press of 20 steps and the difference of the two delays.
    assert rows[2, 2, 1] == {1: 20, 2: 22, 3: 24, 4: 26}
    assert rows[2, 0, 1] == {1: 26, 2: 24, 3: 22, 4: 20}


def test_the_smallest_change_comes_first_and_does_what_it_says():
    found = tune(loads(TAPS), 24)
    best = found.found[0]
    assert (best.cells_touched, best.hold_steps, best.error_steps, best.sure) == (1, 24, 0, True)
    assert best.changes in {
        ("set the repeater at (2, 2, 1) to 3 ticks instead of 4",),
        ("set the repeater at (2, 0, 1) to 2 ticks instead of 1",),
    }
    touched = [one.cells_touched for one in found.found if one.sure]
    assert touched == sorted(touched)


# The loops of the examples and what each is brought to; holds of the lamp in steps, its own being another.
GOALS = {
    "flat-loop-2": (60,),
    "flat-loop-4": (136,),
    "flat-loop-6": (80, 164),
    "flat-loop-8": (130,),
    "stacked-loop-3": (100,),
    "stacked-loop-4": (120,),
    "stacked-loop-4-uneven": (100,),
    "stacked-loop-5": (150,),
    "taps-loop": (202,),
}


@pytest.mark.parametrize("name", GOALS)
def test_each_loop_of_the_examples_is_brought_to_other_holds(name):
    plan = load(EXAMPLES / f"{name}.toml")
    for goal in GOALS[name]:
        found = tune(plan, goal, most_runs=1_500)
        assert found.before.hold_steps != goal
        best = found.found[0]
        assert (best.hold_steps, best.error_steps, best.sure) == (goal, 0, True), goal
        # Run again, from the text of a file, and by the edits alone.
        again = loads(dumps(best.plan))
        (result,) = measure(again, found.before.trigger, found.before.output)
        assert (result.hold_steps, result.kind) == (goal, "one-shot")
        edited = apply_edits(replace(plan, expectations=()), best.edits)
        assert dict(edited.cells) == dict(best.plan.cells)


def test_items_are_counted_to_the_goal():
    # 32 items drain in 8 x 31 steps; ten more take 80 steps more.
    plan = load(EXAMPLES / "drain-timer.toml")
    before = tune(plan, 1, most_runs=1).before.hold_steps
    best = tune(plan, before + 80).found[0]
    assert best.changes[0].startswith("put 42 items into the hopper at")
    assert (best.hold_steps, best.cells_touched) == (before + 80, 1)


def test_what_cannot_be_reached_is_answered_with_the_nearest():
    found = tune(loads(TAPS), 25, most_runs=150)
    assert abs(found.found[0].error_steps) == 1


def test_the_bound_of_runs_is_kept_and_said():
    found = tune(load(EXAMPLES / "taps-loop.toml"), 300, most_runs=20)
    assert (found.runs, found.finished) == (20, False)


def test_an_interrupted_search_keeps_what_it_found():
    def stop(done, _most):
        if done == 15:
            raise KeyboardInterrupt

    found = tune(loads(TAPS), 24, progress=stop)
    assert (found.runs, found.finished) == (15, False)
    assert found.found[0].hold_steps == 24


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"hold_steps": 0}, "A hold of 0 steps cannot be tuned to"),
        ({"hold_steps": 20, "trigger": "pres"}, 'The plan has no trigger "pres"'),
        ({"hold_steps": 20, "output": "lin"}, 'The plan has no output "lin"'),
    ],
)
def test_what_cannot_be_meant_is_refused(words, message):
    with pytest.raises(UsageError, match=message):
        tune(loads(TAPS), **words)


def test_the_command_saves_plans_that_hold_what_they_expect(call, tmp_path):
    goal = tmp_path / "tuned"
    code, out, _ = call("tune", EXAMPLES / "drain-timer.toml", "--hold", "293 steps", "--save", goal, "--json")
    assert code == 0
    document = json.loads(out)
    assert document["tuned"][0]["hold_steps"] == 293
    assert Path(document["tuned"][0]["file"]).name == "drain-timer-tuned-1.toml"
    for one in document["tuned"]:
        assert call("check", one["file"])[0] == 0
    assert {"before", "wanted_steps", "knobs", "runs", "finished"} <= set(document)
    written = {path: path.read_text(encoding="utf-8") for path in goal.iterdir()}
    code, _, err = call("tune", EXAMPLES / "drain-timer.toml", "--hold", "293 steps", "--save", goal)
    assert code == 2
    assert "is there already: name another folder" in err
    assert {path: path.read_text(encoding="utf-8") for path in goal.iterdir()} == written


def test_the_command_says_when_nothing_will_do(call):
    words = ("tune", EXAMPLES / "drain-timer.toml", "--hold", "300 steps", "--runs", "60")
    code, out, _ = call(*words)
    assert code == 1
    assert "0.05 s too long" in out
    assert 'No change that was tried reaches it: that is the nearest. tickwright choose --hold "300 steps"' in out
    assert call(*words, "--within", "1 step")[0] == 0


def test_the_command_says_that_a_plan_holds_it_already(call):
    _, out, _ = call("tune", EXAMPLES / "taps.toml", "--hold", "36 steps", "--runs", "30")
    assert "It holds that already: nothing need be changed." in out


def test_the_command_refuses_a_file_for_a_folder(call, tmp_path):
    (tmp_path / "file").touch()
    code, _, err = call("tune", EXAMPLES / "taps.toml", "--hold", "2 s", "--save", tmp_path / "file")
    assert code == 2
    assert "is no folder" in err


@pytest.mark.parametrize("name", ["flat-loop-6", "stacked-loop-3"])
def test_a_button_that_stays_down_longer_is_the_smallest_change(name):
    # By the rules a short-button is down for 20 steps, a long one for 30: a hold of 108 becomes 118.
    best = tune(load(EXAMPLES / f"{name}.toml"), 118).found[0]
    assert (best.hold_steps, best.cells_touched, best.parts_more, best.sure) == (118, 1, 0, True)
    assert best.changes == ("use a long-button (down for 1.5 s) for press instead of a short-button (down for 1 s)",)
    assert best.cost == "1 long-button instead of 1 short-button"


def test_many_slices_and_a_longer_press_go_together():
    # Each column more is two comparators, 4 steps a turn: three make the turn 20 steps, and 180 is 80 + 3 x 28 + 16, so
    # the press must be 16 steps longer than the button's 20: neither change alone reaches it.
    found = tune(load(EXAMPLES / "flat-loop-4.toml"), 180)
    best = found.found[0]
    assert (best.hold_steps, best.sure) == (180, True)
    assert best.changes[0] == "lay 3 copies of the column x = 3 beside it"
    assert any(change.startswith("lay parts at the trigger press that turn a press of") for change in best.changes)
    assert "cells instead of 6 x 2 x 2" in best.cost
    (result,) = measure(loads(dumps(best.plan)), found.before.trigger, found.before.output)
    assert (result.hold_steps, result.kind) == (180, "one-shot")


def test_another_trigger_is_never_of_the_same_kind():
    plan = load(EXAMPLES / "latch.toml")
    for trigger, cell in plan.triggers.items():
        kinds = [change.plan.cells[cell].kind for change in other_triggers(plan, load_rules(), trigger)]
        assert kinds == ["long-button"]
