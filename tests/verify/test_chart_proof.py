"""Charts proved after every sequence of presses, and refuted by scripts of the hand that show the failure when run."""

from __future__ import annotations

import json

import pytest

from charts.landing import LAMP, chart, machine
from charts.test_checking import TWO
from tickwright import loads, prove_chart, run
from tickwright.errors import UsageError

SPAN = "lamp: on from press + 8 steps for 24 steps"


def proof(text, **more):
    return prove_chart(loads(text), "it", **more)


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        (LAMP + chart([SPAN]), "proved"),
        (LAMP + chart(["lamp: on from press + 8 steps for 25 steps"]), "refuted"),
        # Pressed 25 steps apart the wanted spans touch and are one, the seen ones are two.
        (LAMP + chart(["lamp: on from press + 7 steps for 25 steps, give or take 1 step"]), "refuted"),
        (LAMP + chart(["lamp: on from press + 8 steps until press released + 12 steps"]), "proved"),
        (LAMP + chart([SPAN, "press: ignored until lamp off"]), "refuted"),
        (LAMP + chart([SPAN, "press: ready from lamp off"]), "proved"),
        (LAMP + chart([SPAN, "press: extends until lamp off - 8 steps"]), "proved"),
        (LAMP + chart([SPAN, "press: extends until lamp off - 4 steps"]), "refuted"),
        (LAMP + chart(["lamp: level at least 15"]), "proved"),
        (LAMP + chart(["lamp: level at most 14"]), "refuted"),
        (LAMP + chart(["lamp: on from 2nd press + 8 steps for 24 steps"]), "refuted"),
        (LAMP + chart(["lamp: on from press + 10 steps for 1 s, otherwise free"]), "proved"),
        (TWO + chart(["left: on from north for 24 steps"], hand=["0: north"]), "proved"),
        (TWO + chart(["left: on from north for 24 steps", "right: never on"], hand=["0: north"]), "refuted"),
    ],
)
def test_a_chart_after_every_sequence_of_presses(text, verdict):
    assert proof(text).verdict == verdict


def test_a_refutation_is_a_script_that_run_replays():
    found = proof(LAMP + chart([SPAN, "press: ignored until lamp off"]))
    # The button is let go at 20 and may be pressed again from 22 on; a press before 24 only keeps the lamp lit.
    assert found.counterexample == ("0:press", "24:press")
    trace = run(loads(LAMP), found.counterexample, steps=found.replay_steps).trace
    assert trace.changes["lamp"] == ((0, 0), (8, 15), (56, 0))
    assert "let go a tick before it is worked again" in found.bound


def test_machines_are_a_product_with_the_circuit():
    names = ["dark", "lit"]
    restarted = ["dark: press -> lit", "lit: press -> lit", "lit: after 24 steps -> dark"]
    claim = ["lamp: on while light is lit, late by 8 steps"]
    assert proof(LAMP + machine("light", names, restarted) + chart(claim, hand=["0: press"])).verdict == "proved"
    lost = ["dark: press -> lit", "lit: after 24 steps -> dark"]
    found = proof(LAMP + machine("light", names, lost) + chart(claim, hand=["0: press"]))
    assert found.verdict == "refuted"
    # Pressed again while lit, the machine does not hear it and the lamp does: from 22 on, a tick after the release.
    assert found.counterexample[0] == "0:press"
    assert 22 <= int(found.counterexample[1].partition(":")[0]) <= 24


def test_a_bound_of_states_is_said():
    found = proof(LAMP + chart([SPAN]), states=10)
    assert (found.verdict, "limit of 10 states" in found.detail) == ("undecided", True)
    assert proof(LAMP + chart([SPAN]), hands=1).bound.startswith("at most 1 presses of press")


@pytest.mark.parametrize(
    ("shows", "message"),
    [
        (["lamp: on from 2 s for 1 s"], "names a time of the clock"),
        (["lamp: on from press until lamp off - 1 s; on from press for 1 s"], "defines itself"),
        (["lamp: on from press + 8 steps until press released + 12 steps, give or take 1 s"], "gives more than passes"),
    ],
)
def test_what_no_step_can_tell_is_refused(shows, message):
    with pytest.raises(Exception, match=message):
        proof(LAMP + chart(shows))


def test_the_command(call, tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(LAMP + chart([SPAN]), encoding="utf-8")
    code, out, _ = call("prove", str(path), "--chart", "it", "--json")
    assert (code, json.loads(out)["verdict"]) == (0, "proved")
    code, out, _ = call("prove", str(path), "--chart", "that")
    assert code == 2
    assert call("prove", str(path))[0] == 2
    assert call("prove", str(path), "--chart", "it", "--output", "lamp")[0] == 2


def test_a_circuit_that_never_rests_is_refused():
    with pytest.raises(UsageError, match=r"plan has no \[\[chart\]\]"):
        prove_chart(loads(LAMP), "it")
