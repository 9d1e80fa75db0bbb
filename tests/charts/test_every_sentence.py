"""What the page of charts says, sentence by sentence, and the test that holds each by hand; a missing one fails.

The sentences are shortened. A name without a file is in test_page.py.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
CHECKING, PARSING, DRAFTING = "charts/test_checking.py", "charts/test_parsing.py", "charts/test_drafting.py"
PROOF, COMMAND = "verify/test_chart_proof.py", "cli/test_check_charts.py"

HELD = {
    # In a plan
    "without hand the one trigger is worked once at 0": f"{CHECKING}::test_a_press_at_rest_by_itself",
    "several triggers, or a machine: hand must be given": f"{CHECKING}::test_several_triggers_need_a_hand",
    "a plan without triggers: nobody acts": "test_nobody_acts_in_a_plan_without_triggers",
    "time 0 is the first step at rest": f"{CHECKING}::test_time_0_is_the_first_step_at_rest",
    "a circuit that never rests is the chart's error": f"{CHECKING}::test_a_circuit_that_never_rests",
    "in hand a number alone is steps": f"{PARSING}::test_lines_of_the_hand",
    "in hand an event means its first time": f"{CHECKING}::test_a_hand_that_waits_for_the_run",
    "an act at an event of an output": "test_an_act_at_an_event_of_an_output_comes_a_step_after_it",
    "an act at an event of a machine": f"{CHECKING}::test_a_hand_may_wait_for_a_machine",
    "- D at an event of an output is an error": f"{PARSING}::test_mistakes_in_the_hand",
    "- D at an event of a trigger": "test_a_line_may_come_before_what_a_trigger_does",
    "watch: until nothing is due, and a second more": (
        "test_watch_by_itself_lasts_until_nothing_is_due_and_a_second_more"
    ),
    # Claims
    "clauses with ; or , between, give or take and otherwise free at the end": (
        f"{PARSING}::test_clauses_stand_one_after_another_and_their_ends_hold_for_all"
    ),
    "on from M for D, until M: in exactly these steps": "test_on_from_is_on_in_exactly_these_steps",
    "on from M for good": "test_on_for_good_never_ends",
    "off from; on from and pulses of what rests on are not kept": ("test_off_from_belongs_to_an_output_that_rests_on"),
    "N pulses, 1 pulse, pulses until; one begun before until is finished": "test_pulses_from_beginning_to_beginning",
    "each pulse counted from its own M": "test_each_pulse_is_counted_from_its_own_moment",
    "never on, never off, level at least, level at most": "test_never_and_levels_hold_in_every_step",
    "on while COND, late by D": "test_on_while_is_on_exactly_when_it_held_so_long_before",
    "before time 0 all is at rest": "test_before_time_0_all_is_at_rest",
    "on while stands alone": f"{PARSING}::test_each_mistake_is_told_at_its_place",
    "give or take moves edges, not steps": "test_give_or_take_moves_edges_not_steps",
    "otherwise free: outside is not judged, gaps are": "test_otherwise_free_judges_spans_and_gaps_only",
    "ignored until": f"{CHECKING}::test_one_claim_of_a_lamp",
    "ignored while": "test_a_policy_ignored_while_tries_the_steps_in_which_it_holds",
    "extends": f"{CHECKING}::test_extends_and_its_offsets",
    "extends: an output with several spans": (
        "test_an_output_with_several_spans_finishes_the_pulse_it_is_in_and_begins_anew"
    ),
    "restarts: rest within 0.5 s": f"{CHECKING}::test_restarts_wants_rest_within_half_a_second_where_it_was_away",
    "restarts: then": f"{CHECKING}::test_restarts_counts_from_the_first_rest_within_half_a_second",
    "ready: the claims anew": f"{CHECKING}::test_ready_keeps_the_claims_anew",
    # Edges and rest
    "7 to 9 is no edge": "test_a_change_of_level_is_no_edge",
    "rest is what shows just before the first act": "test_rest_is_what_shows_just_before_the_first_act",
    "spans that touch are one; each edge keeps its give or take": (
        "test_spans_that_touch_are_one_and_each_edge_keeps_its_own_give_or_take"
    ),
    "pulses that touch are an error": f"{PARSING}::test_each_mistake_is_told_at_its_place",
    "a span must end before the run does": "test_a_span_must_end_before_the_run_does_unless_it_is_for_good",
    "one that begins before time 0 is an error": f"{CHECKING}::test_errors_of_a_chart",
    "an extra span is told once": "test_an_extra_span_is_told_at_the_first_claim_only",
    "follows": "test_a_failed_claim_follows_the_output_that_it_refers_to",
    # Moments
    "durations, events, + D, - D, ordinals, if COND": "test_a_moment_comes_each_time_its_event_happens",
    "worked and released, for each sort of trigger": "test_what_works_a_trigger_and_what_lets_it_go",
    "acts that did nothing are no events": "test_acts_that_do_nothing_are_no_events",
    "machine enters, leaves": "test_a_chart_may_speak_of_what_a_machine_enters_and_leaves",
    "after until it is the next one after the beginning": "test_after_until_an_event_is_the_next_after_the_beginning",
    "after, not at, the beginning": "test_an_event_at_the_beginning_itself_is_not_after_it",
    "a moment that never comes names no span": "test_a_moment_that_never_comes_names_no_span",
    "earlier events of its own output; rings": "test_a_claim_may_use_earlier_events_of_its_own_output",
    # Policies
    "its later acts are left out, others keep their steps": (
        "test_later_acts_of_the_trigger_are_left_out_and_others_keep_their_steps"
    ),
    "a lever is let go and worked again a tick later": "test_a_lever_is_let_go_and_worked_again_a_tick_later",
    "no step to try: not kept": f"{CHECKING}::test_no_step_to_try_is_not_kept",
    "no M: not kept": "test_no_moment_of_a_policy_is_not_kept",
    "several policies follow one another": f"{CHECKING}::test_policies_follow_one_another",
    "every offset, against a plain reading": (
        "charts/test_policies_against_plain.py::test_policies_are_judged_as_a_plain_reading_judges_them"
    ),
    # Names
    "words that name nothing": "test_words_of_the_notation_name_nothing",
    "names begin with a letter, and differ": f"{CHECKING}::test_errors_of_a_chart",
    "shows = part": "charts/test_both_engines.py::test_the_gate_shows_its_part_under_both_engines",
    # Machines
    "transitions: events, ordinals, any, after, if; first listed, one a step": (
        "test_a_machine_takes_the_first_transition_whose_event_falls_in_a_step"
    ),
    "triggers at t, outputs and machines at t - 1": (
        "test_conditions_look_at_triggers_now_and_at_outputs_a_step_before"
    ),
    "events of other machines": "test_events_of_other_machines_fall_in_the_step_in_which_they_move",
    "the first state is entered at time 0": f"{CHECKING}::test_a_machine_may_wait_for_the_first_state_of_another",
    "deaf": "test_acts_in_the_deaf_time_are_lost",
    "acts within 0.2 s in either order": "test_acts_within_a_fifth_of_a_second_are_taken_in_any_order",
    "one order must keep all claims": f"{CHECKING}::test_close_acts_may_be_taken_in_either_order",
    "letting go of a lever is an act": "test_letting_go_of_a_lever_is_an_act_and_of_a_button_none",
    "mistakes in transitions": f"{PARSING}::test_mistakes_in_transitions",
    # Every command
    "check: JSON": f"{COMMAND}::test_check_gives_charts_beside_expectations",
    "check: JUnit, exit 1": f"{COMMAND}::test_check_leaves_with_1_when_a_claim_fails_and_tells_the_difference",
    "check: without": f"{COMMAND}::test_a_plan_without_claims_does_not_spoil_the_rest",
    "check: what cannot be read, 2, and its place": f"{COMMAND}::test_a_chart_that_cannot_be_read_is_told_at_its_place",
    "chart: writes and adds": f"{COMMAND}::test_chart_writes_what_the_plan_does_and_adds_it",
    "chart: checking it then passes": f"{DRAFTING}::test_the_chart_of_an_example_is_kept_by_it",
    "chart: an edit fails it": f"{DRAFTING}::test_an_edit_that_changes_when_an_output_is_on_fails_the_chart",
    "chart: the roundest words": f"{DRAFTING}::test_the_roundest_words",
    "measure: rest on": "measurement/test_absence.py::test_the_json_of_measure_says_what_it_rests_on",
    "tune --chart": "cli/test_tune_to_chart.py::test_tune_brings_a_plan_to_its_chart",
    "compare": "cli/test_tune_to_chart.py::test_compare_counts_the_claims_kept",
    "sweep --chart": "cli/test_sweep_charts.py::test_csv_and_table_have_a_column_for_each_claim",
    "prove --chart": f"{PROOF}::test_a_chart_after_every_sequence_of_presses",
    "prove --chart: machines": f"{PROOF}::test_machines_are_a_product_with_the_circuit",
    "diagnose": "diagnosis/test_claims.py::test_a_failed_claim_names_chart_wanted_seen_and_where",
    "diagnose --observed": "diagnosis/test_observed_claims.py::test_a_clause_finds_the_delay_that_explains_it",
    "export --chart: bands": "publish/test_claim_bands.py::test_bands_tell_the_difference",
    "edges can be dragged": "charts/test_shifting.py::test_an_edge_moved",
}


@cache
def found_in(name: str) -> dict[str, bool]:
    """The tests of a file, and whether each asserts something or waits for an error."""
    tree = ast.parse((TESTS / name).read_text(encoding="utf-8"))
    found = {}
    for one in ast.walk(tree):
        if isinstance(one, ast.FunctionDef) and one.name.startswith("test_"):
            body = list(ast.walk(one))
            raises = any(isinstance(part, ast.Attribute) and part.attr == "raises" for part in body)
            found[one.name] = raises or any(isinstance(part, ast.Assert) for part in body)
    return found


@pytest.mark.parametrize("sentence", HELD)
def test_each_sentence_has_a_test_that_asserts_something(sentence):
    name, _, test = HELD[sentence].rpartition("::")
    assert found_in(name or "charts/test_page.py").get(test) is True, f"{test} of {name or 'test_page.py'}"


def test_each_test_of_the_page_holds_a_sentence():
    held = {value for value in HELD.values() if "::" not in value}
    others = {"test_a_line_that_cannot_come_before_its_event_is_told_at_its_place",
              "test_a_line_whose_moment_never_comes_is_told",
              "test_in_another_order_a_lever_is_on_from_when_it_is_taken"}  # fmt: skip
    assert set(found_in("charts/test_page.py")) == held | others
