"""Charts held against circuits: the runs, the hand, policies at every offset, and errors at their place.

The numbers come from the rules by hand: a press lasts 20 steps, a lamp goes off 4 after its power, a repeater with
delay=2 takes 4 steps and hands on a pulse of 20; so the lamp of LAMP is on in steps 8 to 31 after a press.
"""

from __future__ import annotations

import pytest

from charts.landing import BUTTON_AND_TORCH, LAMP, SLOW, TORCH, chart, machine
from tickwright import check_charts, loads, run
from tickwright.charts.matching import edge_errors
from tickwright.charts.moments import Wanted
from tickwright.errors import PlanError


def checked(text):
    return check_charts(loads(text))[0]


def passes(text):
    return [claim.passed for claim in checked(text).claims]


def test_a_press_at_rest_by_itself():
    verdict = checked(LAMP + chart(["lamp: on from press + 8 steps for 24 steps"]))
    claim = verdict.claims[0]
    assert (claim.passed, claim.wanted, claim.seen) == (True, ((8, 32),), ((8, 32),))
    assert verdict.played.script == ("0:press",)
    assert verdict.played.timeline.steps == 33 + 20


@pytest.mark.parametrize(
    ("claim", "kept"),
    [
        ("lamp: on from press + 9 steps for 24 steps", False),
        ("lamp: on from press + 9 steps for 24 steps, give or take 1 step", True),
        ("lamp: on from press + 8 steps until press released + 12 steps", True),
        ("lamp: on from press + 8 steps for good", False),
        ("lamp: off from press + 8 steps for 24 steps", False),
        ("lamp: never on", False),
        ("lamp: never off", False),
        ("lamp: level at least 15", True),
        ("lamp: level at most 14", False),
        ("lamp: 1 pulse of 24 steps from press + 8 steps", True),
        ("lamp: 2 pulses of 24 steps every 2 s from press + 8 steps", False),
        ("lamp: on from press + 10 steps for 1 s, otherwise free", True),
        ("lamp: on from press + 6 steps for 1 s, otherwise free", False),
        ("lamp: on from press + 6 steps for 1 s, give or take 2 steps, otherwise free", True),
        ("lamp: on while press on, late by 8 steps, give or take 4 steps", True),
        ("lamp: on while press on, late by 8 steps", False),
        ("lamp: on from 2nd press for 1 s", False),
        ("press: ignored until 21 steps", False),
        ("press: ready from 40 s", True),
    ],
)
def test_one_claim_of_a_lamp(claim, kept):
    assert passes(LAMP + chart([claim], hand=["0: press"])) == [kept]


def test_the_difference_is_told():
    claim = checked(LAMP + chart(["lamp: on from press + 9 steps for 25 steps"])).claims[0]
    assert claim.detail == (
        "on 1.2 s instead of 1.25 s: on at 0.4 s instead of 0.45 s, 1 step early, off at 1.6 s instead of 1.7 s, "
        "2 steps early"
    )
    claim = checked(LAMP + chart(["lamp: on from press + 8 steps for 10 s"], watch="1 s")).claims[0]
    assert claim.detail == "watch is too short: the run ends at 1 s, the span at 10.4 s"
    claim = checked(LAMP + chart(["lamp: off from press for 1 s"])).claims[0]
    assert claim.detail.startswith("rests off: write on from")
    claim = checked(LAMP + chart(["lamp: on from 3rd press for 1 s"])).claims[0]
    assert claim.detail.startswith("not tried: press came only once")


def test_a_hand_that_waits_for_the_run():
    shows = ["lamp: on from press + 8 steps for 24 steps"]
    verdict = checked(LAMP + chart(shows, hand=["0: press", "lamp off + 2 s: press", "2nd lamp off: press"]))
    assert verdict.passed
    assert verdict.played.script == ("0:press", "72:press", "105:press")
    assert verdict.claims[0].wanted == ((8, 32), (80, 104), (113, 137))
    plan = loads(LAMP)
    trace = run(plan, verdict.played.script, steps=160).trace
    assert trace.changes["lamp"] == ((0, 0), (8, 15), (32, 0), (80, 15), (104, 0), (113, 15), (137, 0))


def test_an_act_that_did_nothing_is_no_event():
    verdict = checked(LAMP + chart(["lamp: on from press + 8 steps for 24 steps"], hand=["0: press", "5: press"]))
    assert verdict.passed
    assert verdict.played.timeline.worked["press"] == (0,)
    assert verdict.played.timeline.released["press"] == (20,)


def test_an_output_that_rests_on():
    # The torch goes off 2 steps after the lever, the lamp 4 later; lit again 2 after the lever, the lamp at once.
    text = TORCH + chart(
        ["lamp: off from throw + 6 steps until throw released + 2 steps"], hand=["0: throw", "3 s: throw"]
    )
    verdict = checked(text)
    assert verdict.claims[0].wanted == ((6, 62),)
    assert verdict.passed
    text = TORCH + chart(["lamp: on from 0 until throw + 6 steps"], hand=["0: throw"])
    assert "rests on: write off from" in checked(text).claims[0].detail


def test_time_0_is_the_first_step_at_rest():
    # A torch stands on a powered block at the start: it goes off in step 2 and the lamp in step 6, so step 7 is rest.
    text = TORCH.replace('"lever on=down"', '"lever on=down thrown=yes"')
    verdict = checked(text + chart(["lamp: on from throw released + 2 steps for good"], hand=["0: throw"]))
    assert verdict.played.zero_step == 7
    assert verdict.played.script == ("7:throw",)
    assert verdict.passed
    verdict = checked(text + chart(["lamp: off from 6 steps for good"], hand=[], starts="at step 0"))
    assert verdict.passed


def test_machines_watch_the_run():
    toggle = machine("light", ["dark", "lit"], ["dark: press -> lit", "lit: press -> dark"])
    hand = ["0: press", "40: press", "100: press"]
    text = LAMP + toggle + chart(["lamp: on while light is lit"], hand=hand)
    assert checked(text).claims[0].wanted == ((0, 40), (100, None))
    waits = machine("light", ["dark", "lit"], ["dark: press -> lit", "lit: after 24 steps -> dark"])
    text = LAMP + waits + chart(["lamp: on while light is lit, late by 8 steps"], hand=hand)
    assert checked(text).passed
    text = LAMP + waits + chart(["lamp: on from light enters lit + 8 steps for 24 steps"], hand=hand)
    assert checked(text).passed


def test_a_machine_may_wait_for_the_first_state_of_another():
    one = machine("one", ["a", "b"], ["a: press -> b"])
    two = machine("two", ["x", "y", "z"], ["x: one enters a -> y", "y: one leaves a -> z"])
    # `one` enters its first state at time 0, and in that step `two` goes on to y; with the press at 30 it goes on to z.
    text = LAMP + one + two + chart(["lamp: on while two is y", "lamp: level at least 1"], hand=["30: press"])
    assert checked(text).claims[0].wanted == ((0, 30),)


def test_a_hand_may_wait_for_a_machine():
    waits = machine("turn", ["idle", "open"], ["idle: press -> open", "open: after 5 s -> idle"])
    text = (
        LAMP
        + waits
        + chart(["lamp: on from press + 8 steps for 24 steps"], hand=["0: press", "turn leaves open: press"])
    )
    assert checked(text).played.script == ("0:press", "101:press")


TWO = '''format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"L" = "lamp"
[[layer]]
rows = """
##
..
##
"""
[[layer]]
rows = """
bL
..
bL
"""
[triggers]
north = [0, 0, 1]
south = [0, 2, 1]
[outputs]
left = [1, 0, 1]
right = [1, 2, 1]
'''


def test_close_acts_may_be_taken_in_either_order():
    first = machine("first", ["none", "n", "s"], ["none: north -> n", "none: south -> s"])
    claims = ["left: on from first enters s + 0 steps for 24 steps", "right: on from south for 24 steps"]
    apart = TWO + first + chart(claims, hand=["0: north", "6: south"])
    assert not checked(apart).passed
    # Taken the other way round south's act has the step of north's: left is then on from step 0.
    close = TWO + first + chart(claims, hand=["0: north", "4: south"])
    assert checked(close).passed


def test_several_triggers_need_a_hand():
    with pytest.raises(PlanError, match="does not say what the hand does, and the plan has several triggers"):
        checked(TWO + chart(["left: never on"]))
    with pytest.raises(PlanError, match="its claims name several triggers, north, south"):
        checked(TWO + chart(["left: on from north for 1 s", "right: on from south for 1 s"]))
    assert checked(TWO + chart(["left: on from north for 24 steps", "right: never on"])).passed
    lone = machine("m", ["a", "b"], ["a: north -> b"])
    with pytest.raises(PlanError, match="its claims name the machine m"):
        checked(TWO + lone + chart(["left: on while m is b"]))


def test_a_failed_claim_says_whom_it_follows():
    text = TWO + chart(
        ["left: on from north + 1 s for 24 steps", "right: on from left on + 1 s for 24 steps"],
        hand=["0: north", "20: south"],
    )
    verdict = checked(text)
    assert [claim.passed for claim in verdict.claims] == [False, True]
    text = text.replace("left on + 1 s", "left on + 2 s")
    assert [claim.follows for claim in checked(text).claims] == [None, "left"]


def test_an_extra_span_is_told_once_at_the_first_claim():
    text = LAMP + chart(
        ["lamp: on from 1st press + 8 steps for 24 steps", "lamp: on from 2nd press + 8 steps for 24 steps"],
        hand=["0: press", "80: press", "160: press"],
    )
    claims = checked(text).claims
    assert [claim.passed for claim in claims] == [False, True]
    assert claims[0].detail == "on from 8.4 s to 9.6 s, which is not wanted"


LOOP = LAMP.replace("brrL", "brrL")


def test_spans_that_overlap_become_one():
    # Presses 24 steps apart: the button is down 20, the lamp stays lit for the 4 steps between.
    text = LAMP + chart(["lamp: on from press + 8 steps for 24 steps"], hand=["0: press", "24: press"])
    claim = checked(text).claims[0]
    assert (claim.passed, claim.wanted) == (True, ((8, 56),))


def test_extends_and_its_offsets():
    # From 22 steps after the press on a further one keeps the lamp lit if it comes before step 24: then its power
    # reaches the lamp before it goes dark.
    verdict = checked(LAMP + chart(["press: extends until 24 steps", "lamp: on from press + 8 steps for 24 steps"]))
    assert verdict.passed
    verdict = checked(LAMP + chart(["press: extends until 32 steps"]))
    assert not verdict.passed
    assert "does not extend lamp" in verdict.claims[0].detail
    assert "--do 0:press --do 25:press" in verdict.claims[0].detail


def test_policies_follow_one_another():
    verdict = checked(LAMP + chart(["press: extends until 24 steps; ready from lamp off"]))
    assert verdict.passed
    assert verdict.claims[0].detail.startswith("2 tried, at 1.1 s to 1.15 s; 801 tried, at 1.6 s")


def test_ready_keeps_the_claims_anew():
    spans = "lamp: on from press + 8 steps for 24 steps"
    assert passes(LAMP + chart([spans, "press: ready from lamp off"])) == [True, True]
    # Before that the first lamp is still lit when the second begins.
    claim = checked(LAMP + chart([spans, "press: ready from lamp on"])).claims[1]
    assert not claim.passed
    assert claim.detail.startswith("a press at 1.1 s does not keep lamp anew")
    assert claim.detail.endswith("(10 of 787 offsets)")


def test_no_step_to_try_is_not_kept():
    claim = checked(LAMP + chart(["press: ignored until 20 steps"])).claims[0]
    assert (claim.passed, claim.detail) == (False, "not tried: there is no step to try between 1.1 s and 1 s")
    claim = checked(LAMP + chart(["press: ignored while lamp off"], watch="1.5 s")).claims[0]
    assert claim.detail == "not tried: the condition never holds after the press"


def test_restarts_wants_rest_within_half_a_second_where_it_was_away():
    # Right beside its button: lit from 0 to 23; pressed again at 22, 23 or 24 it shows rest in no step. From 25 on it
    # is at rest before the press, and only begins anew.
    claim = checked(TWO + chart(["north: restarts until 2 s"], hand=["0: north"])).claims[0]
    assert not claim.passed
    assert claim.detail == (
        "a press at 1.1 s does not bring left to rest within 0.5 s: --do 0:north --do 22:north (3 of 18 offsets)"
    )
    again = ["north: ignored until left off + 1 step; restarts until 2 s"]
    assert checked(TWO + chart(again, hand=["0: north"])).claims[0].detail.endswith("(3 of 3 offsets)")


def test_restarts_where_the_rest_is_short():
    # Dark from 6 to 21. Pressed at 22 the lamp is lit from 22 to 27, and then dark again as after the first press.
    text = BUTTON_AND_TORCH + chart(["throw: restarts until 3 s", "lamp: off from throw + 6 steps for 16 steps"])
    claims = checked(text).claims
    assert [claim.passed for claim in claims] == [True, True]
    assert claims[0].detail == "38 tried, at 1.1 s to 2.95 s"


def test_restarts_counts_from_the_first_rest_within_half_a_second():
    # Lit from 40 to 63: a press at 53 finds it lit until 63, 11 steps later; one at 54 sees it dark at 64, 10 later.
    later = chart(["press: ignored until 53 steps", "press: restarts until 64 steps"])
    claims = checked(SLOW + later).claims
    assert claims[1].detail == (
        "a press at 2.65 s does not bring lamp to rest within 0.5 s: --do 0:press --do 53:press (1 of 11 offsets)"
    )
    later = chart(["press: ignored until 54 steps", "press: restarts until 64 steps"])
    assert [claim.passed for claim in checked(SLOW + later).claims] == [False, True]
    # Pressed while it is still dark the first press lights it all the same, which the chart moved does not want.
    claim = checked(SLOW + chart(["press: restarts until 40 steps"])).claims[0]
    assert claim.detail.startswith("a press at 1.1 s does not restart lamp, which differs at 2 s")
    assert claim.detail.endswith("(18 of 18 offsets)")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (chart(["lamp: on form press for 1 s"]), "line 27, column 20: In the claim of chart"),
        (chart(["lamp: on from press - 1 s for 1 s"]), "a span would begin 1 s before time 0"),
        (chart(["lamp: on from lamp on for 1 s"]), "the edge defines itself: lamp on waits for lamp on"),
        (chart(["lamp: on from press until lamp off + 1 s"]), "the edge defines itself: lamp off waits for lamp off"),
        (chart(["lamp: on from press until lamp off - 1 s"]), "the edge defines itself: lamp off waits for lamp off"),
        (chart(["lamp: on from press for 1 s"], hand=["0: pres"]), '"pres" in "pres" is neither a trigger'),
        (chart(["lamp: on from press for 1 s"], hand=["0: press:flip"]), 'cannot take "flip"'),
        (chart(["lamp: on from press for 1 s"], starts="later"), 'write starts = "at rest"'),
        (chart(["lamp: on from press for 1 s"], watch="0 s"), "watch is no time at all"),
        (chart(["lamp: on from press for 1 s"], watches="9 s"), 'Did you mean "watch"?'),
        (chart([]), "shows is empty"),
        (machine("press", ["a"], []) + chart(["lamp: never on"]), "is the name of a trigger and of a machine"),
        (machine("m", ["any"], []) + chart(["lamp: never on"]), 'The state is called "any", a word of the notation'),
        (machine("2m", ["a"], []) + chart(["lamp: never on"]), "it must begin with a letter"),
        (machine("m", ["a", "a"], []), 'The state "a" stands twice'),
        (machine("m", ["a"], ["a: press -> b"]) + chart(["lamp: never on"]), "In the transition of machine"),
        (chart(["lamp: never on"]) + chart(["lamp: never on"]), 'Two charts are called "it"'),
    ],
)
def test_errors_of_a_chart(more, message):
    with pytest.raises(PlanError) as caught:
        checked(LAMP + more)
    assert message in str(caught.value)


def test_a_circuit_that_never_rests():
    clock = '''format = "tickwright plan 1"
[legend]
"#" = "block"
"w" = "wire"
"t" = "torch on=west"
"r" = "repeater west delay=4"
[[layer]]
rows = """
.###
"""
[[layer]]
rows = """
.#tw
.r.w
.www
"""
[outputs]
torch = [2, 0, 1]
'''
    clock = clock.replace('rows = """\n.###\n"""', 'rows = """\n####\n####\n####\n"""')
    with pytest.raises(PlanError, match="the untouched circuit never rests"):
        checked(clock.replace(".r.w", ".w.w").replace(".www", ".www") + chart(["torch: never off"]))


@pytest.mark.parametrize(
    ("seen", "wrong"),
    [
        ((40, 80), ()),
        ((42, 80), ()),
        ((43, 80), ("begin",)),
        ((38, 86), ()),
        ((40, 87), ("end",)),
        ((40, 73), ("end",)),
        ((37, 90), ("begin", "end")),
        ((40, None), ("end",)),
    ],
)
def test_each_edge_has_a_give_and_take_of_its_own(seen, wrong):
    """Wanted: from 40, 2 steps off at most, to 80, 6 steps off at most."""
    assert edge_errors(Wanted(40, 80, 0, 0, 2, 6, frozenset({0}), frozenset()), seen) == wrong
