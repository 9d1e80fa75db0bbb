"""Charts proved after every sequence of presses, and refuted by scripts of the hand that show the failure when run."""

from __future__ import annotations

import json

import pytest

from charts.landing import BUTTON_AND_TORCH, LAMP, chart, machine
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
        # Times of the clock: nothing is pressed, and nothing comes; a beginning after its end names no span.
        (LAMP + chart(["lamp: on from 8 steps for 24 steps"]), "refuted"),
        (LAMP + chart([SPAN + "; on from 8 steps until 4 steps"]), "proved"),
        (LAMP + chart(["lamp: on from press + 8 steps until 20 steps"]), "refuted"),
        # Beside a span that is wanted, one whose end never comes: nothing is missed until it comes.
        (LAMP + chart([SPAN + "; on from 1st press + 60 steps until 2nd lamp on, otherwise free"]), "refuted"),
        (LAMP + chart([SPAN + "; on from 2nd press + 60 steps until 1st lamp on, otherwise free"]), "proved"),
        # What rests on is not wanted on.
        (BUTTON_AND_TORCH + chart(["lamp: on from throw for 1 s, otherwise free"]), "refuted"),
        # Wide give or take: pressed 25 steps apart there are two spans, each near its own; 22 apart they are one.
        (LAMP + chart(["lamp: on from press + 6 steps for 18 steps, give or take 2 s"]), "refuted"),
        (LAMP + chart(["lamp: on from press + 8 steps for 16 steps, give or take 8 steps"]), "refuted"),
        (LAMP + chart(["lamp: on from press + 7 steps for 24 steps, give or take 2 steps"]), "proved"),
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


def test_what_give_or_take_allows_is_not_refuted():
    # Wanted are 6 to 24 and 31 to 49, seen 8 to 32 and 33 to 57: each edge within 2 s. With 22 apart it is one span.
    found = proof(LAMP + chart(["lamp: on from press + 6 steps for 18 steps, give or take 2 s"]))
    first, second = (int(act.partition(":")[0]) for act in found.counterexample)
    assert second - first in (22, 23, 24)


def test_restarts_is_proved_and_refuted():
    # The lamp is dark from 6 to 21 after a press. Pressed again at 22, a tick after the button comes up, it is
    # lit from 22 to 27 and then all comes anew.
    dark = ["lamp: off from throw + 6 steps for 16 steps", "throw: restarts until lamp on + 2 s"]
    assert proof(BUTTON_AND_TORCH + chart(dark)).verdict == "proved"
    # Right beside its button a lamp that is pressed again at 22 or 23 is lit all along.
    lit = ["left: on from north for 24 steps", "north: restarts until left off"]
    found = proof(TWO + chart(lit, hand=["0: north"]), triggers=["north"])
    assert found.verdict == "refuted"
    first, second = (int(act.partition(":")[0]) for act in found.counterexample)
    assert second - first in (22, 23)


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
        (["lamp: on from press released - 12 steps for 24 steps"], "says something of the time before its event"),
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
