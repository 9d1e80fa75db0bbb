"""Recordings hold what a run shows, in every cell and at every step, the moves of pistons included."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright import Wish, choose, load, measure, run
from tickwright.errors import UsageError
from tickwright.recording import record, record_presses

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


@pytest.mark.parametrize("name", ["stacked-loop-3", "shuttle", "drain-timer", "torch-clock", "dropped-item"])
def test_every_cell_shows_what_a_run_that_watches_it_shows(name):
    plan = load(EXAMPLES / f"{name}.toml")
    recording = record(plan, steps=300)
    watched = {str(cell): cell for cell in recording.shown}
    seen = run(plan, recording.stimuli, 300, watch=watched)
    assert recording.stimuli
    assert {str(cell): changes for cell, changes in recording.shown.items()} == dict(seen.trace.changes)
    assert recording.findings == seen.findings


def test_a_moment_holds_what_stands_there_then():
    recording = record(load(EXAMPLES / "shuttle.toml"), steps=200)
    postures = {stand.posture for _, stands in recording.scenes for stand in stands.values()}
    assert {"rest", "out", "arm", "moving"} <= postures
    for (step, stands), (after, _) in zip(recording.scenes, recording.scenes[1:], strict=False):
        assert recording.moment(step).stands == recording.moment(after - 1).stands == stands


def test_it_ends_a_second_after_all_rests_or_where_asked():
    plan = load(EXAMPLES / "pulse-shortener.toml")
    recording = record(plan)
    last = max(changes[-1][0] for changes in recording.shown.values())
    assert recording.rested
    assert recording.trace.steps >= last + 20
    assert record(plan, steps=10).trace.steps == 10
    assert not record(load(EXAMPLES / "torch-clock.toml")).rested


def test_a_run_can_be_ended_sooner():
    plan = load(EXAMPLES / "shuttle.toml")
    whole, short = record(plan), record(plan, steps=60)
    cut = whole.until(60)
    assert (cut.trace, cut.rested, cut.stimuli) == (short.trace, False, whole.stimuli)
    for step in range(60):
        assert cut.moment(step) == short.moment(step)
    assert whole.until(whole.trace.steps) is whole


def test_the_trigger_may_have_any_length():
    recording = record(load(EXAMPLES / "pulse-shortener.toml"), length_steps=7)
    (trigger,) = recording.plan.triggers
    at = recording.pressed_at_step
    changes = recording.trace.changes[trigger]
    assert [(step - at, value) for step, value in changes if step >= at] == [(0, 15), (7, 0)]


def test_a_step_outside_the_run_is_refused():
    with pytest.raises(UsageError, match="Step 10 lies outside the run: it has the steps 0 to 9"):
        record(load(EXAMPLES / "pulse-shortener.toml"), steps=10).moment(10)


def test_presses_are_recorded_for_the_lengths_that_tell():
    # The loop's entry needs three ticks, and its button gives ten: those, a tick less than three, one, and others.
    plan = load(EXAMPLES / "stacked-loop-3.toml")
    presses, left_out = record_presses(plan, measure(plan))
    assert left_out == []
    assert [press.length_steps for press in presses if press.own] == [20]
    lengths = [press.length_steps for press in presses if not press.own]
    assert {2, 4, 6} <= set(lengths)
    assert 20 not in lengths
    assert len(lengths) <= 12
    for press in presses:
        at = press.recording.pressed_at_step
        changes = press.recording.trace.changes["press"]
        assert [(step - at, value) for step, value in changes if step >= at] == [(0, 15), (press.length_steps, 0)]
        assert changes[0] == (0, 0)


def test_what_never_rests_is_recorded_for_a_while():
    plan = load(EXAMPLES / "torch-clock.toml")
    presses, _ = record_presses(plan, measure(plan))
    assert {press.own: press.recording.rested for press in presses} == {True: False, False: False}
    longest = max(press.recording.trace.steps for press in presses if not press.own)
    assert longest <= 1_100  # half a minute from the press, which waits twenty seconds for rest that never comes


def test_a_run_that_takes_twenty_minutes_is_kept_to_its_end():
    (design,) = choose(Wish(24_000)).designs[:1]
    made = record(design.plan)
    assert made.rested
    (on, off) = (step for step, _ in made.trace.changes[design.output][1:])
    assert off - on == 24_000
    assert made.trace.steps > off


def test_a_clock_is_kept_for_two_minutes():
    made = record(load(EXAMPLES / "torch-clock.toml"))
    assert (made.rested, made.trace.steps) == (False, 2_400)
    assert max(step for changes in made.shown.values() for step, _ in changes) < 2_400
