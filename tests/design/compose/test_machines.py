"""Briefs with machines, composed; the runs beside them stand in the list of briefs, their steps by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from unittest.mock import Mock

import pytest
from played import spans

from tickwright.design.compose import compose, composing, load_brief, read_brief
from tickwright.design.compose.composing import Composed
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.machine_monitors import machine_monitors
from tickwright.design.compose.planning import network_of
from tickwright.design.compose.proving import BriefProof
from tickwright.plan import examples_folder
from tickwright.plan.model import Plan

BRIEFS = examples_folder() / "briefs"
SETTLED = 80
HEAD = """format = "tickwright brief 1"
inputs = {press = {part = "short-button"}, safe = {part = "lever"}}
outputs = {lamp = {drives = "lamp"}, belt = {drives = "line"}}
"""


@pytest.fixture(scope="module")
def toggle():
    return compose(load_brief(BRIEFS / "toggle.toml"), seed=1, minutes=30)


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_each_press_turns_the_lamp_on_or_off(toggle, rules):
    assert toggle.composed
    acts = [(0, "press"), (50, "press"), (101, "press")]
    assert spans(toggle.plan, acts, SETTLED, 300, rules, "fast")["lamp"] == [(14, 64), (115,)]
    assert spans(toggle.plan, [], SETTLED, 200, rules, "fast")["lamp"] == []


def test_the_toggle_is_proved_for_all_presses(toggle):
    assert toggle.proof.verdict == "proved"
    assert toggle.proof.states > 100


@pytest.mark.parametrize("apart", [22, 23, 24, 25, 31, 200])
def test_a_press_counts_again_22_steps_after_the_one_before(toggle, apart):
    assert toggle.plan.machines[0].deaf_steps == 22
    assert spans(toggle.plan, [(0, "press"), (apart, "press")], SETTLED, 400, "standard", "fast")["lamp"] == [
        (14, apart + 14)
    ]


@pytest.fixture(scope="module")
def belt():
    return compose(load_brief(BRIEFS / "belt.toml"), seed=1, minutes=30, proof=False)


def test_the_belt_runs_only_while_the_lever_is_on(belt):
    assert belt.composed
    acts = [(0, "go"), (60, "safe:on"), (100, "go"), (400, "go"), (450, "safe:off")]
    assert spans(belt.plan, acts, SETTLED, 700, "standard", "fast")["belt"] == [(114, 254), (414, 464)]


def test_a_reset_turns_a_toggle_off_and_never_on():
    found = compose(load_brief(BRIEFS / "toggle-reset.toml"), seed=0, minutes=30, proof=False)
    assert found.composed
    acts = [(0, "press"), (60, "reset"), (120, "reset"), (180, "press"), (240, "press"), (300, "reset")]
    assert spans(found.plan, acts, SETTLED, 500, "standard", "fast")["lamp"] == [(14, 74), (194, 254)]


def test_a_machine_of_five_states_counts_to_four():
    found = compose(load_brief(BRIEFS / "sorter.toml"), seed=0, minutes=30, proof=False)
    assert found.composed
    acts = [(60 * n + (30 if act == "take" else 0), f"item:{act}") for n in range(9) for act in ("drop", "take")]
    assert spans(found.plan, acts, SETTLED, 800, "standard", "fast")["kick"] == [(194, 218), (434, 458)]


def brief(transitions, *shows, states=("still", "runs", "more"), deaf=None):
    text = f"{HEAD}chart = [{{shows = {json.dumps(shows)}}}]\n[[machine]]\n"
    text += f'name = "m"\nstates = {json.dumps(states)}\ntransitions = {json.dumps(transitions)}\n'
    return read_brief(text + (f'deaf = "{deaf}"\n' if deaf else ""))


BELT = "belt: on while m is runs, late by 0.7 s"
TURN = ["still: press -> runs", "runs: press -> still"]
THREE_LEAD_BACK = [
    "still: press -> more", "more: press -> runs", "more: safe -> still", "more: safe released -> still",
    "more: after 5 s -> still", "runs: press -> still",
]  # fmt: skip


@pytest.mark.parametrize(
    ("transitions", "shows", "why"),
    [
        (TURN, "belt: on while m is runs, late by 0.3 s", "follows m by 0.5 s at the soonest"),
        ([*TURN, "still: after 3 s -> runs"], BELT, "would run before anybody has acted"),
        ([*TURN, "runs: after 1 s -> still"], BELT, "a wait takes whole ticks from 1.1 s on"),
        ([*TURN, "runs: lamp on -> still"], BELT, "name a trigger or after"),
        (["still: 2nd press -> runs"], BELT, "let the machine count"),
        (["still: press if lamp on -> runs"], BELT, "triggers that are on or off"),
        (TURN, "belt: on while m is runs and safe on, late by 0.7 s", "the states of one machine"),
        (
            [
                "still: press -> runs",
                "runs: press if safe on -> more",
                "runs: safe -> still",
                "runs: after 3 s -> more",
            ],
            BELT,
            "at most two can be kept apart",
        ),
    ],
)
def test_what_cannot_be_built_is_refused_with_its_reason(transitions, shows, why):
    found = compose(brief(transitions, shows))
    assert not found.composed
    assert found.plan is None
    assert found.claim == shows
    assert why in found.why


def test_an_output_that_follows_too_soon_is_told_by_how_much():
    found = compose(brief(TURN, "lamp: on while m is runs, late by 0.5 s"))
    assert [(one.instead, one.amount_steps) for one in found.relax] == [("lamp: on while m is runs, late by 0.7 s", 4)]


@pytest.mark.parametrize("deaf", ["1 s", "1.2 s"])
def test_another_time_of_deafness_than_what_is_built_is_refused(deaf):
    found = compose(brief(TURN, BELT, deaf=deaf))
    assert "1.1 s" in found.why


@pytest.mark.parametrize(
    ("name", "states"),
    [("knock", {"one", "two"}), ("two-keys", {"first", "second"}), ("lift", set()), ("code", set())],
)
def test_an_act_goes_before_a_wait_that_ends_in_its_step_where_it_is_listed_first(name, states):
    assert network_of(load_brief(BRIEFS / f"{name}.toml")).ordered == {("lock", state): True for state in states}


WAITS = ["still: press -> runs", "runs: press -> more", "runs: after 3 s -> still", "more: press -> still"]
TAKEN = "an act in the step in which a wait ends is taken, not the wait"
LISTED = [WAITS[0], WAITS[2], WAITS[1], WAITS[3]]
FIRST = "in runs the wait is taken, not an act in the step in which it ends"
LEFT = "in runs either may be, the act or the wait, if the act comes in the step of its end"
SOON = "lamp: on while m is runs, late by 0.7 s"  # a lamp goes off so late that no act could give way in time


@pytest.mark.parametrize(
    ("transitions", "shows", "told", "follow"),
    [
        (WAITS, BELT, TAKEN, ["more"]),
        (LISTED, BELT, FIRST, ["still"]),
        (LISTED, SOON, LEFT, ["more", "still"]),
    ],
)
def test_the_proof_asks_for_what_is_listed_first_or_says_that_it_does_not(transitions, shows, told, follow):
    wanted = brief(transitions, shows)
    (monitor,) = machine_monitors(lowered(wanted), network_of(wanted))
    assert monitor.bound.endswith(told)
    state = monitor.start
    for step in range(61):
        acts = ("press",) if step in (0, 60) else ()
        state, _ = monitor.step(state, acts, (14 <= step < 74, step < 20 or step == 60))
    assert sorted(one.entries[0][1] for one in state[0]) == follow


def test_acts_that_are_joined_beside_another_are_composed_only_if_that_is_proved():
    assert network_of(load_brief(BRIEFS / "code.toml")).joined == []  # two beside another are shut out by themselves
    network = network_of(brief(THREE_LEAD_BACK, BELT))
    assert network.joined == ["m is more"]
    wanted = brief(TURN, BELT)
    assert network_of(wanted).joined == []
    kept = Mock(passed=True)
    for verdict in ("proved", "undecided", "refuted", None):
        proof = BriefProof(verdict, 1, "") if verdict else None
        found = Composed(wanted, 0, Plan({}), (kept,), proof)
        assert found.composed == (verdict != "refuted")
        assert replace(found, joined=("lock is b",)).composed == (verdict == "proved")


def test_what_the_proof_refutes_is_told_with_its_reason_and_the_acts(monkeypatch):
    refuted = BriefProof(
        "refuted", 3, "", "lamp is on at step 70 after these acts, and should be off", ("40:press",), 90
    )
    monkeypatch.setattr(composing, "prove_brief", lambda *_given: refuted)
    told = compose(brief(TURN, BELT), seed=1, minutes=30).as_data("belt.toml")
    assert (told["composed"], told["claim"]) == (False, None)
    assert told["why"] == f"the proof refutes it: {refuted.detail}"
    assert (told["proof"]["counterexample"], told["proof"]["replay_steps"]) == (["40:press"], 90)


@pytest.mark.parametrize("name", ["airlock", "belt", "code", "knock", "lift", "toggle", "two-keys"])
def test_every_brief_of_a_machine_has_a_network(name):
    network = network_of(load_brief(BRIEFS / f"{name}.toml"))
    assert network.nets()
    assert all(deaf == 22 for deaf in network.deaf.values())
