"""Charts proved after every sequence of presses, and refuted by scripts of the hand that show the failure when run."""

from __future__ import annotations

import json

import pytest

from charts.landing import BUTTON_AND_TORCH, LAMP, chart, machine
from charts.test_checking import TWO
from tickwright import check_charts, loads, prove_chart, run
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


BUTTON_AND_LEVER = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", v = "lever", L = "lamp"}
layer = [{rows = "####"}, {rows = "bL.v"}]
triggers = {north = [0, 0, 1], safe = [3, 0, 1]}
outputs = {lamp = [1, 0, 1]}
"""


def test_a_lever_let_go_within_a_fifth_of_a_second_may_be_taken_after_a_press():
    # Taken as they come, the machine loses a press in the first four steps after the lever; the lamp does not.
    texts = [
        "s: north -> x",
        "s: safe released -> z",
        "z: after 4 steps -> s",
        "x: north -> x",
        "x: after 24 steps -> s",
    ]
    claim = ["lamp: on while m is x, give or take 4 steps"]
    text = BUTTON_AND_LEVER + machine("m", ["s", "z", "x"], texts) + chart(claim, hand=["0: north"])
    assert proof(text, hands=3).verdict == "proved"
    longer = text.replace("after 4 steps", "after 6 steps")
    assert proof(longer, hands=3).verdict == "refuted"


LATCH_AND_DEAD = """format = "tickwright plan 1"
legend."#" = "block"
legend.b = "short-button"
legend.w = "wire"
legend.L = "lamp"
legend.r = "repeater east"
legend.d = "comparator north mode=difference"
layer = [{rows = '''
.#######..
###.#....#
..###.....
'''}, {rows = '''
.brwwwL...
brd.w....L
..www.....
'''}]
triggers = {set = [1, 0, 1], reset = [0, 1, 1]}
outputs = {barrier = [6, 0, 1], dead = [9, 1, 1]}
"""


@pytest.mark.parametrize(
    ("shows", "more", "verdict", "said"),
    [
        # Nothing lights `dead`: the span has no end, and is none.
        ("barrier: on from set + 2 steps until dead on", {}, "refuted", "dead on never comes"),
        ("barrier: on from set + 2 steps until dead on", {"hands": 1}, "undecided", "dead on never comes"),
        # That the hand does not reset it here is no fault of the circuit: left out, and said.
        ("barrier: on from set + 2 steps until reset", {}, "proved", ""),
        ("dead: on from dead off for 1 s", {}, "refuted", "dead off never comes"),
        ("set: ignored until dead on", {}, "refuted", "dead on never comes any more"),
        ("set: ready from dead on", {}, "refuted", "dead on never comes"),
        ("set: ignored until set released + 2 steps", {}, "refuted", "no press can come while it lasts"),
    ],
)
def test_what_waits_for_a_moment_that_never_comes_is_not_kept(shows, more, verdict, said):
    text = LATCH_AND_DEAD + chart([shows], hand=["0: set"])
    found = proof(text, triggers=["set"], **more)
    assert found.verdict == verdict
    assert said in found.detail
    assert bool(found.left_out) == (verdict == "proved")
    assert verdict == "proved" or not check_charts(loads(text))[0].passed


def test_presses_at_few_steps_say_nothing_of_a_policy_that_none_of_them_meets():
    # From 22 to 23 steps after the first press: none of every 50th step falls there, and one of every step does.
    text = LAMP + chart([SPAN, "press: ignored until lamp off - 8 steps"])
    seldom = proof(text, grid_steps=50)
    assert (seldom.verdict, len(seldom.left_out)) == ("proved", 1)
    assert "no press can come while it lasts" in seldom.left_out[0]
    assert proof(text).verdict == "refuted"


def test_a_moment_that_may_come_no_more_is_not_kept_either():
    # The first time that the lamp by the other button lights must come after the press.
    text = LATCH_AND_DEAD.replace("###.#....#", "###.#...##").replace("brd.w....L", "brd.w...bL")
    text = text.replace("triggers = {", "triggers = {north = [8, 1, 1], ")
    shows = ["barrier: on from set + 2 steps for good", "set: ignored until 1st dead on"]
    text += chart(shows, hand=["0: set", "3 s: north"])
    assert check_charts(loads(text))[0].passed
    found = proof(text, triggers=["set", "north"])
    assert found.verdict == "refuted"
    assert found.detail == "set: ignored until 1st dead on: dead on never comes any more, whatever is done"
    # Both in one step: the lamp lights then, not after the press.
    assert found.counterexample == ("0:set", "0:north")
    replayed = text.replace('"0: set", "3 s: north"', '"0: set", "0: north"')
    assert not check_charts(loads(replayed))[0].passed


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
