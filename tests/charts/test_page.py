"""What the page of charts says, sentence by sentence: runs are written down by hand, and what must come of each.

A run is a Timeline of 100 steps in which the outputs a, b and c go on and off in the steps given; p and q are triggers.
"""

from __future__ import annotations

import pytest

from charts.landing import LAMP, SLOW, TORCH, chart, machine
from charts.test_checking import TWO, checked
from tickwright.charts import Timeline, Wave, judge, watched
from tickwright.charts.machines import orders, with_machines
from tickwright.charts.notation import Automaton, Names
from tickwright.charts.parsing import parse_claim, parse_transition
from tickwright.errors import PlanError

STATES = ("x", "y", "z")
NAMES = Names(("p", "q"), ("a", "b", "c"), {"m": STATES, "n": STATES})


def run_of(steps=100, rests_on=(), p=(), q=(), **toggles):
    """A run: when outputs change, and when triggers are worked, each for 10 steps."""
    waves = {name: Wave(name in rests_on, tuple(toggles.get(name, ()))) for name in "abc"}
    worked = {"p": tuple(p), "q": tuple(q)}
    released = {name: tuple(step + 10 for step in found) for name, found in worked.items()}
    triggers = {
        name: Wave(False, tuple(step for at in found for step in (at, at + 10))) for name, found in worked.items()
    }
    rest = {name: name in rests_on for name in "abc"}
    return Timeline(steps, waves, triggers, worked, released, rest)


def told(claims, line):
    return judge([parse_claim(text, NAMES) for text in claims], line)


def kept(claim, line):
    return told([claim], line)[0].passed


def moves(transitions, line, deaf=0, other=()):
    """What m enters in a run, and in which steps; `other` are transitions of a second machine n."""
    read = [
        Automaton(name, STATES, tuple(parse_transition(text, NAMES, STATES) for text in texts), deaf)
        for name, texts in (("m", transitions), ("n", other))
    ]
    return watched(read, line)["m"]


# --- clauses ----------------------------------------------------------------------------------------------------------


def test_nobody_acts_in_a_plan_without_triggers():
    text = TORCH.replace("[triggers]\nthrow = [0, 0, 2]\n", "")
    assert checked(text + chart(["lamp: never off"])).passed
    assert checked(text + chart(["lamp: never off"])).played.script == ()


@pytest.mark.parametrize(
    ("claim", "is_kept"),
    [
        ("a: on from 20 steps for 30 steps", True),
        ("a: on from p + 2 steps for 30 steps", True),  # in steps t + 2 to t + 31
        ("a: on from p + 2 steps for 29 steps", False),
        ("a: on from p + 2 steps for 31 steps", False),
        ("a: on from p + 2 steps until 50 steps", True),
        ("a: on from p + 2 steps until p released + 22 steps", True),
        ("a: on from p + 2 steps for good", False),
        ("a: on from q - 8 steps for 30 steps", True),
    ],
)
def test_on_from_is_on_in_exactly_these_steps(claim, is_kept):
    assert kept(claim, run_of(p=[18], q=[28], a=[20, 50])) == is_kept


def test_on_for_good_never_ends():
    assert kept("a: on from p for good", run_of(p=[18], a=[18]))
    assert not kept("a: on from p for good", run_of(p=[18], a=[18, 99]))


def test_off_from_belongs_to_an_output_that_rests_on():
    line = run_of(rests_on="a", p=[10], a=[12, 40])
    assert kept("a: off from p + 2 steps for 28 steps", line)
    assert kept("a: off from p + 2 steps until p released + 1 s", line)
    assert kept("a: off from p + 2 steps for good", run_of(rests_on="a", p=[10], a=[12]))
    for claim in ("a: on from 40 steps for good", "a: 1 pulse of 3 steps from p"):
        assert told([claim], line)[0].detail.startswith("rests on: write off from")


@pytest.mark.parametrize(
    ("claim", "edges", "is_kept"),
    [
        ("a: 3 pulses of 4 steps every 20 steps from p", [10, 14, 30, 34, 50, 54], True),
        ("a: 3 pulses of 4 steps every 20 steps from p", [10, 14, 30, 34], False),
        ("a: 3 pulses of 4 steps every 20 steps from p", [10, 14, 30, 34, 50, 54, 70, 74], False),
        ("a: 1 pulse of 4 steps from p", [10, 14], True),
        # Until 50: one that would begin there does not come; one begun at 30 before 31 is finished.
        ("a: pulses of 4 steps every 20 steps from p until 50 steps", [10, 14, 30, 34], True),
        ("a: pulses of 4 steps every 20 steps from p until 31 steps", [10, 14, 30, 34], True),
        ("a: pulses of 4 steps every 20 steps from p until 30 steps", [10, 14], True),
        ("a: pulses of 4 steps every 20 steps from p until 31 steps", [10, 14, 30, 31], False),
    ],
)
def test_pulses_from_beginning_to_beginning(claim, edges, is_kept):
    assert kept(claim, run_of(p=[10], a=edges)) == is_kept


def test_each_pulse_is_counted_from_its_own_moment():
    # Each pulse a step later than the one before: the third is 3 late, though only one more than the second.
    late = run_of(p=[10], a=[11, 15, 32, 36, 53, 57])
    assert kept("a: 3 pulses of 4 steps every 20 steps from p, give or take 3 steps", late)
    assert not kept("a: 3 pulses of 4 steps every 20 steps from p, give or take 2 steps", late)


def test_never_and_levels_hold_in_every_step():
    line = run_of(a=[20, 50])
    line = Timeline(100, line.outputs, rests_on=line.rests_on, levels={"a": ((0, 0), (20, 9), (30, 6), (50, 0))})
    assert (kept("b: never on", line), kept("a: never on", line), kept("a: never off", line)) == (True, False, False)
    assert kept("a: never off", run_of(rests_on="a"))
    assert (kept("a: level at least 6", line), kept("a: level at least 7", line)) == (True, False)
    assert (kept("a: level at most 9", line), kept("a: level at most 8", line)) == (True, False)
    assert told(["a: level at least 6"], line)[0].wanted == ()  # alone it names no spans, and forbids none


def test_a_change_of_level_is_no_edge():
    line = run_of(a=[20, 50], b=[20, 50])
    line = Timeline(100, line.outputs, rests_on=line.rests_on, levels={"a": ((0, 0), (20, 9), (30, 6), (50, 0))})
    assert kept("b: on from a on for 30 steps", line)
    assert told(["b: on from 2nd a on for 30 steps"], line)[0].detail.startswith("not tried: a on came only once")


@pytest.mark.parametrize(
    ("claim", "is_kept"),
    [
        ("a: on while p on, late by 2 steps", True),
        ("a: on while p on", False),
        ("a: on while p on, give or take 2 steps", True),
        ("a: on while p on, late by 4 steps, give or take 1 step", False),
        ("b: on while not p off", False),
        ("b: on while p on and q off", True),
        ("b: on while (p on or q on) and not q on", True),
    ],
)
def test_on_while_is_on_exactly_when_it_held_so_long_before(claim, is_kept):
    line = run_of(p=[10, 60], q=[15], a=[12, 22, 62, 72], b=[10, 15, 60, 70])
    assert kept(claim, line) == is_kept


def test_before_time_0_all_is_at_rest():
    # p is worked at 0. With 5 late, a shows in steps 0 to 4 what "p off" is at rest, which it rests in.
    assert kept("a: on while p off, late by 5 steps", run_of(rests_on="a", p=[0], a=[5, 15]))
    assert kept("a: on while p off, give or take 5 steps", run_of(rests_on="a", p=[0], a=[5, 15]))
    assert not kept("a: on while p off, give or take 4 steps", run_of(rests_on="a", p=[0], a=[5, 15]))
    assert kept("a: on while b on", run_of(rests_on="ab", a=[3, 9], b=[3, 9]))


def test_give_or_take_moves_edges_not_steps():
    claim = "a: on from p for 20 steps, give or take 3 steps"
    assert kept(claim, run_of(p=[10], a=[13, 27]))
    assert not kept(claim, run_of(p=[10], a=[14, 27]))
    assert not kept(claim, run_of(p=[10], a=[13, 26]))
    assert not kept(claim, run_of(p=[10], a=[13, 20, 21, 27]))  # two spans where one is wanted
    assert not kept(claim, run_of(p=[10], a=[13, 27, 60, 61]))


def test_otherwise_free_judges_spans_and_gaps_only():
    claim = "a: on from p + 20 steps for 20 steps, otherwise free"
    assert kept(claim, run_of(p=[0], a=[3, 5, 18, 44, 60, 61]))
    assert not kept(claim, run_of(p=[0], a=[21, 44]))
    near = "a: on from p + 20 steps for 20 steps, give or take 4 steps, otherwise free"
    assert kept(near, run_of(p=[0], a=[24, 36]))
    assert not kept(near, run_of(p=[0], a=[25, 36]))
    assert not kept(near, run_of(p=[0], a=[24, 35]))
    gaps = "a: 2 pulses of 4 steps every 20 steps from p + 20 steps, otherwise free"
    assert kept(gaps, run_of(p=[0], a=[2, 5, 20, 24, 40, 90]))
    assert not kept(gaps, run_of(p=[0], a=[20, 24, 30, 31, 40, 44]))
    assert told(["a: on from 120 steps for good, otherwise free"], run_of(a=[10]))[0].detail.startswith("watch is too")


# --- spans together ---------------------------------------------------------------------------------------------------


def test_spans_that_touch_are_one_and_each_edge_keeps_its_own_give_or_take():
    claims = ["a: on from p for 20 steps, give or take 3 steps", "a: on from p + 20 steps for 10 steps"]
    assert [one.passed for one in told(claims, run_of(p=[10], a=[13, 40]))] == [True, True]
    assert [one.passed for one in told(claims, run_of(p=[10], a=[13, 41]))] == [True, False]
    assert [one.passed for one in told(claims, run_of(p=[10], a=[14, 40]))] == [False, True]
    assert told(claims, run_of(p=[10], a=[13, 40]))[0].wanted == ((10, 40),)


def test_a_span_must_end_before_the_run_does_unless_it_is_for_good():
    assert kept("a: on from 40 steps for 59 steps", run_of(a=[40, 99]))
    assert told(["a: on from 40 steps for 60 steps"], run_of(a=[40]))[0].detail.startswith("watch is too short")
    assert kept("a: on from 40 steps for good", run_of(a=[40]))


def test_an_extra_span_is_told_at_the_first_claim_only():
    claims = ["a: on from p for 5 steps", "a: on from q for 5 steps"]
    found = told(claims, run_of(p=[10], q=[30], a=[10, 15, 30, 35, 60, 61]))
    assert [one.passed for one in found] == [False, True]
    assert "which is not wanted" in found[0].detail


def test_a_failed_claim_follows_the_output_that_it_refers_to():
    found = told(["a: on from p for 5 steps", "b: on from a off for 5 steps"], run_of(p=[10], a=[10, 16], b=[15, 20]))
    assert [(one.passed, one.follows) for one in found] == [(False, None), (False, "a")]
    # Events are those that were seen: b follows the a that came late, and is kept.
    found = told(["a: on from p for 5 steps", "b: on from a off for 5 steps"], run_of(p=[10], a=[10, 16], b=[16, 21]))
    assert [one.passed for one in found] == [False, True]


# --- moments ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moment", "steps"),
    [
        ("0", [0]),
        ("25 steps", [25]),
        ("p", [5, 40, 75]),
        ("p released", [15, 50, 85]),
        ("p + 2 steps", [7, 42, 77]),
        ("p released - 8 steps", [7, 42, 77]),
        ("b on", [20, 60]),
        ("b off", [30, 70]),
        ("1st p", [5]),
        ("2nd p released", [50]),
        ("every 3rd p", [75]),
        ("every 2nd b on", [60]),
        ("p if b off", [5, 40, 75]),
        ("p if c on", [40]),
        ("p + 3 steps if not c on and b off", [8, 78]),
    ],
)
def test_a_moment_comes_each_time_its_event_happens(moment, steps):
    edges = [step for at in steps for step in (at, at + 1)]
    line = run_of(p=[5, 40, 75], a=edges, b=[20, 30, 60, 70], c=[38, 41])
    assert kept(f"a: on from {moment} for 1 step", line)
    assert told([f"a: on from {moment} for 1 step"], line)[0].wanted == tuple((at, at + 1) for at in steps)


@pytest.mark.parametrize(
    ("until", "end"),
    [
        ("p", 40),  # the press that begins it is not after it
        ("p + 3 steps", 43),
        ("2nd b on", 60),
        ("b off", 30),
        ("every 2nd b off", 70),
        ("b on if c on", 60),
        ("77 steps", 77),
    ],
)
def test_after_until_an_event_is_the_next_after_the_beginning(until, end):
    line = run_of(p=[5, 40], a=[5, end], b=[20, 30, 60, 70], c=[58, 61])
    assert kept(f"a: on from 1st p until {until}", line)


def test_an_event_at_the_beginning_itself_is_not_after_it():
    assert kept("a: on from b on until b on", run_of(a=[20, 60], b=[20, 30, 60, 70]))
    assert told(["a: on from p until b on"], run_of(p=[5], b=[5, 9]))[0].detail == (
        "not tried: its end never came after its beginning"
    )


def test_a_moment_that_never_comes_names_no_span():
    found = told(["a: on from b on for 5 steps"], run_of())[0]
    assert (found.passed, found.detail) == (False, "not tried: b never came on")
    assert told(["a: on from p if c on for 5 steps"], run_of(p=[5]))[0].detail == (
        "not tried: the condition never held at p"
    )


def test_a_claim_may_use_earlier_events_of_its_own_output():
    claim = "a: on from p for 10 steps; on from 1st a off + 20 steps for 5 steps"
    assert kept(claim, run_of(p=[5], a=[5, 15, 35, 40]))
    with pytest.raises(PlanError, match="defines itself"):
        checked(TWO + chart(["left: on from right on for 1 s", "right: on from left on for 1 s"], hand=["0: north"]))


@pytest.mark.parametrize(
    ("part", "worked", "let_go", "events"),
    [
        ("lever", "press:on", "press:off", ((0,), (20,))),
        ("tread-plate", "press:tread", "press:leave", ((0,), (20,))),
        ("item-plate", "press:drop", "press:take", ((0,), (20,))),
        ("crate items=0", "press:put", "press:take", ((0,), (20,))),
        ("short-button", "press", "press", ((0, 20), (20, 40))),
    ],
)
def test_what_works_a_trigger_and_what_lets_it_go(part, worked, let_go, events):
    text = LAMP.replace('"short-button"', f'"{part}"')
    line = checked(text + chart(["lamp: never off"], hand=[f"0: {worked}", f"20: {let_go}"], watch="9 s"))
    assert (line.played.timeline.worked["press"], line.played.timeline.released["press"]) == events


def test_acts_that_do_nothing_are_no_events():
    text = LAMP.replace('"short-button"', '"lever"')
    hand = ["0: press:off", "5: press:on", "9: press:on", "20: press:off", "30: press:off"]
    line = checked(text + chart(["lamp: never off"], hand=hand)).played.timeline
    assert (line.worked["press"], line.released["press"]) == ((5,), (20,))


# --- the hand and time ------------------------------------------------------------------------------------------------


def test_a_line_may_come_before_what_a_trigger_does():
    hand = ["10: north", "north - 4 steps: south", "north released + 6 steps: south"]
    played = checked(TWO + chart(["left: on from north for 24 steps"], hand=hand)).played
    assert played.script == ("6:south", "10:north", "36:south")
    hand = ["10: north", "north released - 5 steps: south"]
    assert checked(TWO + chart(["left: never off"], hand=hand)).played.script == ("10:north", "25:south")


@pytest.mark.parametrize(
    ("hand", "message"),
    [
        (["3: north", "north - 4 steps: south"], 'line 27, column 21: In chart "it": In the hand, "north - 4 steps'),
        (["3: north", "north - 4 steps: south"], "it would act 1 step before time 0"),
        (["30: north", "north - 4 steps: north"], "its act itself changes when its event comes"),
    ],
)
def test_a_line_that_cannot_come_before_its_event_is_told_at_its_place(hand, message):
    with pytest.raises(PlanError) as caught:
        checked(TWO + chart(["left: never off"], hand=hand))
    assert message in str(caught.value)


def test_a_line_whose_moment_never_comes_is_told(call, tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(
        LAMP + chart(["lamp: on from press + 8 steps for 24 steps"], hand=["0: press", "3rd lamp on: press"])
    )
    code, out, _ = call("check", str(path))
    assert (code, 'not done: "3rd lamp on: press": its moment never came' in out) == (0, True)


def test_an_act_at_an_event_of_an_output_comes_a_step_after_it():
    played = checked(LAMP + chart(["lamp: never off"], hand=["0: press", "lamp off: press"])).played
    assert played.script == ("0:press", "33:press")  # dark from 32 on


def test_rest_is_what_shows_just_before_the_first_act():
    # From step 0 on the lamp rests on; thrown at the start the torch is out from 2 and the lamp dark from 6. The first
    # act comes at 20: rest is dark.
    text = TORCH.replace('"lever on=down"', '"lever on=down thrown=yes"')
    claims = ["lamp: on from throw released + 2 steps for good"]
    assert not checked(text + chart(claims, hand=["20: throw"], starts="at step 0")).passed  # lit before, too
    free = ["lamp: on from throw released + 2 steps for good, otherwise free"]
    assert checked(text + chart(free, hand=["20: throw"], starts="at step 0")).passed
    wrong = checked(text + chart(["lamp: off from 6 steps until 22 steps"], hand=["20: throw"], starts="at step 0"))
    assert wrong.claims[0].detail.startswith("rests off: write on from")


def test_watch_by_itself_lasts_until_nothing_is_due_and_a_second_more():
    lamp = checked(LAMP + chart(["lamp: on from press + 8 steps for 24 steps"]))
    assert lamp.played.timeline.steps == 33 + 20
    # The condition ends with the press at 20; what it says of the lamp is due 10 s later.
    late = checked(LAMP + chart(["lamp: on while press on, late by 10 s"]))
    assert (late.passed, late.claims[0].wanted) == (False, ((200, 220),))
    waits = machine("turn", ["idle", "open"], ["idle: press -> open", "open: after 5 s -> idle"])
    assert checked(LAMP + waits + chart(["lamp: never off", "lamp: on while turn is open"], hand=["0: press"])).claims[
        1
    ].wanted == ((0, 100),)


# --- policies ---------------------------------------------------------------------------------------------------------


def test_later_acts_of_the_trigger_are_left_out_and_others_keep_their_steps():
    # South lights its lamp from 30 on with its own press, in the run without north's second one and with it.
    hand = ["0: north", "30: south", "60: north"]
    policy = "north: ignored until right on - 6 steps; extends until right on - 6 steps + 0 s"
    assert policy
    claims = checked(
        TWO + chart(["north: extends until 24 steps", "right: on from south for 24 steps"], hand=hand)
    ).claims
    assert [one.passed for one in claims] == [True, True]
    assert claims[0].detail == "2 tried, at 1.1 s to 1.15 s"


def test_a_lever_is_let_go_and_worked_again_a_tick_later():
    # Thrown at 0 the lamp beside it is on; let go at 2 and thrown at 4 it is still lit then, 4 steps after its power.
    text = LAMP.replace('"short-button"', '"lever"').replace("brrL", "bwwL").replace("press =", "throw =")
    text = text.replace('"L" = "lamp"', '"L" = "lamp"\n"w" = "wire"')
    claim = checked(text + chart(["throw: ignored until 1 s"])).claims[0]
    assert (claim.passed, claim.detail) == (True, "16 tried, at 0.2 s to 0.95 s")


def test_an_output_with_several_spans_finishes_the_pulse_it_is_in_and_begins_anew():
    # By the page: pulses at 0 and 40 of a press; pressed again at 44 the one at 40 is finished, and both come again.
    from charts.plain_policies import _extends

    first = [0 <= t < 10 or 40 <= t < 50 for t in range(140)]
    again = [0 <= t < 10 or 40 <= t < 54 or 84 <= t < 94 for t in range(140)]
    assert _extends(again, first, 44, 44)
    assert not _extends(first, first, 44, 44)


def test_a_policy_ignored_while_tries_the_steps_in_which_it_holds():
    # Lit from 40 to 63; from 22 on a press lights it anew 40 later, at a time at which the first run is dark.
    claim = checked(SLOW + chart(["press: ignored while lamp on"])).claims[0]
    assert not claim.passed
    assert claim.detail.endswith("(24 of 24 offsets)")


def test_no_moment_of_a_policy_is_not_kept():
    claims = checked(LAMP + chart(["press: ignored until 2nd lamp off", "press: ready from 2nd lamp on"])).claims
    assert [one.detail for one in claims] == ["not tried: lamp off never comes", "not tried: lamp on never comes"]


# --- names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["start", "any", "if", "and", "or", "not"])
def test_words_of_the_notation_name_nothing(word):
    for text in (LAMP.replace("press =", f"{word} ="), LAMP.replace("lamp =", f"{word} =")):
        with pytest.raises(PlanError, match="a word of the notation"):
            checked(text + chart(["lamp: never on"], hand=[]))
    with pytest.raises(PlanError, match="a word of the notation"):
        checked(LAMP + machine(word, ["a"], []) + chart(["lamp: never on"], hand=[]))


# --- machines ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("transitions", "entered"),
    [
        (["x: p -> y", "y: p -> z"], ((0, "x"), (10, "y"), (30, "z"))),
        (["x, y: p -> z"], ((0, "x"), (10, "z"))),
        (["any: p -> y"], ((0, "x"), (10, "y"), (30, "y"), (60, "y"))),  # to the same state: left and entered
        (["x: p released -> y"], ((0, "x"), (20, "y"))),
        (["x: a on -> y", "y: a off -> x"], ((0, "x"), (15, "y"), (45, "x"))),
        (["x: 2nd p -> y"], ((0, "x"), (30, "y"))),
        (["x: every 3rd p -> y"], ((0, "x"), (60, "y"))),
        (["x: after 25 steps -> y"], ((0, "x"), (25, "y"))),
        (
            ["x: p -> y", "y: after 5 steps -> x"],
            ((0, "x"), (10, "y"), (15, "x"), (30, "y"), (35, "x"), (60, "y"), (65, "x")),
        ),
        # Forgotten when it is left: entered anew at 30, y lasts 25 steps from there.
        (["x: p -> y", "y: after 25 steps -> z", "y: p -> y"], ((0, "x"), (10, "y"), (30, "y"), (55, "z"))),
        # With a condition it waits until that holds: a is on from 15, which counts from the step after.
        (["x: after 5 steps if a on -> y"], ((0, "x"), (16, "y"))),
        (["x: after 5 steps if q on -> y"], ((0, "x"), (35, "y"))),  # a trigger counts in its own step
        # The first listed is taken; one a step.
        (["x: p -> z", "x: p -> y", "z: p if a off -> y"], ((0, "x"), (10, "z"), (60, "y"))),
        (["x: p if a on -> y"], ((0, "x"), (30, "y"))),
        (["x: q if p on -> y"], ((0, "x"), (35, "y"))),
        (["x: p if m is y -> z", "x: p -> y"], ((0, "x"), (10, "y"))),
    ],
)
def test_a_machine_takes_the_first_transition_whose_event_falls_in_a_step(transitions, entered):
    assert moves(transitions, run_of(p=[10, 30, 60], q=[35], a=[15, 45])) == entered


def test_conditions_look_at_triggers_now_and_at_outputs_a_step_before():
    # In step 10 p is worked and a goes on: a counts from 11 on.
    assert moves(["x: p if a on -> y"], run_of(p=[10], a=[10])) == ((0, "x"),)
    assert moves(["x: p if a on -> y"], run_of(p=[11], a=[10])) == ((0, "x"), (11, "y"))
    assert moves(["x: q if p on -> y"], run_of(p=[10], q=[10])) == ((0, "x"), (10, "y"))


def test_events_of_other_machines_fall_in_the_step_in_which_they_move():
    line = run_of(p=[10, 30])
    assert moves(["x: n enters y -> y", "y: n leaves y -> z"], line, other=["x: p -> y", "y: p -> x"]) == (
        (0, "x"), (10, "y"), (30, "z"),
    )  # fmt: skip
    # What another machine is in is looked at as it was a step before.
    assert moves(["x: p if n is y -> y"], line, other=["x: p -> y"]) == ((0, "x"), (30, "y"))


def test_acts_in_the_deaf_time_are_lost():
    # Deaf for 20: those 1 to 19 steps after a transition are lost, the one 20 after is heard. The start is none.
    assert moves(["any: p -> y"], run_of(p=[3, 22, 42, 43]), deaf=20) == ((0, "x"), (3, "y"), (42, "y"))
    assert moves(["any: p -> y"], run_of(p=[3, 23, 42]), deaf=20) == ((0, "x"), (3, "y"), (23, "y"))


def test_a_chart_may_speak_of_what_a_machine_enters_and_leaves():
    line = run_of(p=[10, 30], a=[0, 1], b=[10, 15], c=[32, 33])
    texts = ["x: p -> y", "y: p -> z"]
    read = Automaton("m", STATES, tuple(parse_transition(text, NAMES, STATES) for text in texts), 0)
    line = with_machines(line, [read])
    claims = [
        "a: on from m enters x for 1 step",
        "b: on from m leaves x for 5 steps",
        "c: on from m enters z + 2 steps for 1 step",
    ]
    assert all(one.passed for one in told(claims, line))


def orders_of(line, held_on=()):
    """Every order of the acts, as the names of the triggers."""
    found = set()
    for order in orders(line, held_on):
        if order is not None:
            acts = [one for one in order if one.event.what == "worked" or one.event.name in held_on]
            found.add(" ".join(one.event.name for one in acts))
    return found


def test_acts_within_a_fifth_of_a_second_are_taken_in_any_order():
    line = Timeline(99, worked={"p": (10,), "q": (14,), "r": (12,)})
    assert orders_of(line) == {"p q r", "p r q", "q p r", "q r p", "r p q", "r q p"} - {"p r q"}  # as they come: p r q
    assert orders_of(Timeline(99, worked={"p": (10,), "q": (15,)})) == set()
    assert orders_of(Timeline(99, worked={"p": (10,), "q": (15,), "r": (12,)})) == {"r p q", "p q r"}
    assert orders_of(Timeline(99, worked={"p": (10, 12)})) == set()  # of one trigger they stay as they are


def test_letting_go_of_a_lever_is_an_act_and_of_a_button_none():
    line = Timeline(99, worked={"p": (0,), "q": (42,)}, released={"p": (40,)})
    assert orders_of(line, held_on=["p"]) == {"p q p"}
    assert orders_of(line) == set()


def test_in_another_order_a_lever_is_on_from_when_it_is_taken():
    lever = TWO.replace('"b" = "short-button"', '"b" = "short-button"\n"v" = "lever"').replace(
        "bL\n..\nbL", "vL\n..\nbL"
    )
    only = machine("g", ["x", "y"], ["x: south if north on -> y"])
    # The button 2 steps before the lever: taken after it, the machine goes on at step 2.
    claims = ["right: on from south for 24 steps", "left: on while g is y"]
    assert checked(lever + only + chart(claims, hand=["0: south", "2: north"])).passed
    assert not checked(lever + only + chart(claims, hand=["0: south", "5: north"])).passed
