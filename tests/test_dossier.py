"""The dossier: one plan, everything known, as data and as a page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tickwright import load
from tickwright.dossier import gather
from tickwright.measurement import find_trigger, observe
from tickwright.plan.setup import Setup
from tickwright.publish import dossier_tables
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"


def test_the_dossier_of_a_flat_loop():
    known = gather(load(EXAMPLES / "flat-loop-4.toml"))
    lamp, entry = known.answers
    assert (lamp.measured.hold_steps, entry.measured.hold_steps) == (80, 76)
    assert {answer.retrigger.verdict for answer in known.answers} == {"extends"}
    assert [answer.recovery_steps for answer in known.answers] == [0, 0]
    assert not any(verdict.sensitive for verdict in known.order)
    assert {verdict.pitch_cells for verdict in known.neighbours if verdict.axis == "y"} == {3}
    assert all(verdict.passed for verdict in known.expectations)


def test_an_extra_cell_of_wire_ends_a_fading_hold_a_turn_earlier():
    # A turn of the flat loop of four takes 8 steps and two levels, so every second cell costs a turn.
    entry = gather(load(EXAMPLES / "flat-loop-4.toml"), output="entry").answers[0]
    assert [row.hold_steps for row in entry.distances[:5]] == [76, 68, 68, 60, 60]
    # A turn of the stacked loop of three takes 6 steps and one level.
    entry = gather(load(EXAMPLES / "stacked-loop-3.toml"), output="entry").answers[0]
    assert [row.hold_steps for row in entry.distances] == list(range(104, 14, -6))


def test_a_lamp_has_one_level_whatever_is_laid_behind_it():
    assert gather(load(EXAMPLES / "taps.toml"), output="bell").answers[0].distances == ()


def test_laps_follow_the_level_until_it_fades():
    laps = gather(load(EXAMPLES / "flat-loop-4.toml")).laps["press"]
    assert [lap.cell for lap in laps] == [(3, 0, 1), (4, 0, 1), (3, 1, 1), (4, 1, 1)]
    # The press of 20 steps comes 2 + 2 steps later; from then on two levels less a turn of 8 steps.
    turns = [(24 + 8 * turn, 13 - 2 * turn) for turn in range(7)]
    assert laps[0].levels == ((-1, 0), (4, 15), *turns, (80, 0))


def test_the_length_map_is_not_monotone_below_the_minimum():
    entry = gather(load(EXAMPLES / "flat-loop-4.toml"), output="entry").answers[0]
    rows = {row.length_steps: row for row in entry.lengths}
    assert [rows[length].kind for length in (1, 2, 3, 7, 8)] == ["one-shot", "one-shot", "train", "train", "one-shot"]
    assert (rows[2].hold_steps, rows[7].hold_steps, rows[8].hold_steps) == (2, 63, 64)
    assert len(rows[3].pulses) == 8


def test_full_adds_to_the_document(call):
    code, out, _ = call("measure", EXAMPLES / "flat-loop-2.toml", "--full", "--json")
    assert code == 0
    document = json.loads(out)
    assert {"plan", "rules", "results", "laps", "order", "neighbours", "rule_sets", "findings"} <= set(document)
    for result in document["results"]:
        assert result["recovery_steps"] == 0
        assert result["retrigger"]["verdict"] == "extends"
        assert result["retrigger"]["map"][0]["offset"] == 20
        assert result["phase"]["reason"] == "at rest before the press: one phase only"
        assert result["phase"]["hold_max_steps"] == result["hold_steps"]
        assert result["delay_seconds"] == result["delay_steps"] / 20
    assert [verdict["sensitive"] for verdict in document["order"]] == [False]
    assert [one["rules"] for one in document["rule_sets"]["sets"]] == ["standard", "older-wire"]


@pytest.mark.parametrize("name", ["latch", "pulse-shortener", "edge-detector", "older-wire-fade"])
def test_the_page_of_full_has_every_section(call, name):
    code, out, _ = call("measure", EXAMPLES / f"{name}.toml", "--full")
    assert code == 0
    for title in (
        "A second press",
        "Phase of the press",
        "Trigger lengths",
        "Trigger levels",
        "Order of telling",
        "Neighbours",
        "Rule sets",
        "Expectations: ",
    ):
        assert title in out


@pytest.mark.parametrize("more", [("--length", "5 ticks"), ("--order", "reversed")])
def test_full_refuses_what_it_tries_by_itself(call, more):
    code, out, err = call("measure", EXAMPLES / "taps.toml", "--full", *more)
    assert (code, out) == (2, "")
    assert "leave out --length and --order" in err


def test_what_takes_many_presses_is_left_out_and_named_where_a_press_is_long():
    plan = load(EXAMPLES / "flat-loop-2.toml")
    whole = gather(plan)
    setup = Setup(plan, load_rules(plan.rules))
    place = find_trigger(setup, "press")
    rest = observe(setup, place).active_steps
    assert rest > 10
    assert gather(plan, most_active_steps=rest) == whole
    assert whole.left_out == ()
    cut = gather(plan, most_active_steps=rest - 1)
    assert "neighbours" in cut.left_out
    assert (cut.order, cut.neighbours) == ((), ())
    for answer, full in zip(cut.answers, whole.answers, strict=True):
        assert answer.measured == full.measured
        assert (answer.recovery_steps, answer.lengths, answer.retrigger.verdict) == (None, (), None)
        assert answer.retrigger.reason == f"Not tried: after one press something happens in {rest:,} steps."
    assert (cut.laps, cut.rule_sets) == (whole.laps, whole.rule_sets)
    assert cut.as_data()["left_out"] == list(cut.left_out)


def test_a_lever_s_second_press_is_answered_without_a_run_however_long_a_press():
    plan = load(EXAMPLES / "torch-clock.toml")
    cut = gather(plan, most_active_steps=1)
    assert cut.left_out == ("trigger lengths and levels", "order", "neighbours")
    assert cut.answers[0].retrigger.reason == "The trigger is a lever, which does not let go by itself."
    whole = gather(plan)
    assert whole.left_out == ()
    assert whole.answers[0].retrigger == cut.answers[0].retrigger
    assert whole.answers[0].recovery_steps is None
    assert [one.pitch_cells for one in whole.neighbours if one.axis == "y"] == [4, 4]


def test_the_tables_say_why_there_is_no_recovery_and_what_stands_for_a_thrown_lever():
    latch = gather(load(EXAMPLES / "latch.toml"))
    notes = {table.title: table.notes for table in dossier_tables(latch)}
    assert notes["A second press"][0].startswith("No recovery: a press gives no single pulse that ends")
    assert notes["Trigger lengths"] == ()
    timer = gather(load(EXAMPLES / "drain-timer.toml"))
    notes = {table.title: table.notes for table in dossier_tables(timer)}
    assert notes["Trigger lengths"][0].startswith("release is a lever that is on until it is thrown.")
    loop = load(EXAMPLES / "flat-loop-2.toml")
    notes = {table.title: table.notes for table in dossier_tables(gather(loop))}
    assert notes["A second press"] == ()
    notes = {table.title: table.notes for table in dossier_tables(gather(loop, most_active_steps=1))}
    assert notes["A second press"][0].startswith("Recovery was not tried")
