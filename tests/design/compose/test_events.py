"""Spans that count from ordinals, conditions, releases and machines' moves; the steps by hand."""

from __future__ import annotations

import json

import pytest
from played import spans

from tickwright.charts.notation import Automaton, Event, Has, Ordinal, Transition
from tickwright.design.compose import compose, read_brief
from tickwright.design.compose.events import WatchedAct, again_steps, alternatives, watcher
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.moved_monitors import moved_monitors
from tickwright.design.compose.planning import network_of
from tickwright.design.compose.refusing import Refusal

HEAD = """format = "tickwright brief 1"
rules = ["standard", "older-wire"]
inputs = {press = {part = "short-button"}, sw = {part = "lever"}}
outputs = {lamp = {drives = "lamp"}, bell = {drives = "line"}}
"""
PRESS = Event("press", "trigger", "worked")
LOCK = """[[machine]]
name = "lock"
states = ["shut", "open"]
transitions = ["shut: press -> open", "open: after 5 s -> shut"]
"""
ZERO = 80


def brief(*shows, head=HEAD):
    return read_brief(f"{head}[[chart]]\nshows = {json.dumps(shows)}")


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_the_second_press_alone_lights_a_lamp(rules, second):
    acts = [(0, "press"), (50, "press"), (130, "press"), (200, "press")]
    assert spans(second, acts, ZERO, 400, rules, "fast")["lamp"] == [(70, 110)]


@pytest.fixture(scope="module")
def second():
    found = compose(brief("lamp: on from 2nd press + 1 s for 2 s"), seed=1, minutes=30, proof=False)
    assert found.composed
    return found.plan


@pytest.fixture(scope="module")
def tail():
    shows = ("lamp: on from sw released + 0.5 s for 2 s", "bell: on from sw released + 1 s for 1 s")
    found = compose(brief(*shows), seed=1, minutes=30, proof=False)
    assert found.composed
    return found.plan


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_a_span_may_last_so_long_after_a_release(rules, tail):
    acts = [(0, "sw:on"), (40, "sw:off"), (150, "sw:on"), (171, "sw:off")]
    assert spans(tail, acts, ZERO, 400, rules, "fast") == {
        "lamp": [(50, 90), (181, 221)],
        "bell": [(60, 80), (191, 211)],
    }


@pytest.fixture(scope="module")
def moved():
    shows = (
        "lamp: on while lock is open, late by 0.7 s",
        "bell: 2 pulses of 0.2 s every 1 s from lock enters open + 1 s",
    )
    return brief(*shows, head=HEAD + LOCK)


@pytest.fixture(scope="module")
def rung(moved):
    found = compose(moved, seed=1, minutes=30, proof=False)
    assert found.composed
    return found.plan


@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_pulses_may_count_from_a_machines_move(rules, rung):
    acts = [(0, "press"), (60, "press"), (200, "press")]
    bells = [(20, 24), (40, 44), (220, 224), (240, 244)]
    assert spans(rung, acts, ZERO, 500, rules, "fast") == {"lamp": [(14, 114), (214, 314)], "bell": bells}


def test_a_monitor_of_moves_follows_the_machine(moved):
    low, network = lowered(moved), network_of(moved)
    (monitor,) = moved_monitors(low, network)
    state, seen = monitor.start, []
    for step in range(60):
        worked = ("press",) if step in (0, 30) else ()  # the second finds the lock open
        lit = 20 <= step < 24 or 40 <= step < 44
        state, wanted = monitor.step(state, worked, (15 if lit else 0, 0))
        seen.append(wanted[0])
    assert [step for step, on in enumerate(seen) if on] == [*range(20, 24), *range(40, 44)]
    late = monitor.start
    for step in range(21):
        late, wanted = monitor.step(late, ("press",) if step == 0 else (), (0, 0))
    assert wanted == (True,)


@pytest.mark.parametrize(
    "shows",
    [
        ["lamp: on from press + 1 s if sw on for 3 s"],
        ["lamp: on from every 3rd press + 1 s for 1 s"],
        ["lamp: on from every 2nd press + 1 s for 9 s"],
        ["lamp: on from 2nd press + 1 s for 1 s", "press: ignored until lamp off + 3 s"],
        ["lamp: on from 2nd press + 1 s if not sw on for 1 s"],
        ["lamp: on from sw + 0.7 s until sw released + 5 s"],
        ["lamp: on from lock enters open + 0.7 s until lock leaves open + 0.7 s"],
        ["lamp: on while lock is open, late by 0.7 s", "bell: on from lamp on + 0.5 s for 1 s"],
        ["lamp: on while lock is open, late by 0.7 s", "bell: on from press + 0.7 s for 1 s"],
        ["lamp: on from press + 1 s if sw on for 3 s", "press: ignored until lamp off; ready from lamp off + 1 s"],
    ],
)
def test_what_counts_from_further_events_becomes_a_network(shows):
    head = HEAD + LOCK if any("lock" in one for one in shows) else HEAD
    network = network_of(brief(*shows, head=head))
    assert set(network.triggers) == {"press", "sw"}
    assert set(network.outputs) == {"lamp", "bell"}


@pytest.mark.parametrize(
    ("shows", "why"),
    [
        (["lamp: on from press + 1 s if bell off for 3 s"], "an output is known too late"),
        (
            ["bell: on from press + 1 s for 2 s", "lamp: on from bell on + 3 s until bell off + 5 s"],
            "that of another act",
        ),
        (["lamp: on from sw + 0.5 s until sw released + 5 s"], "it can begin 0.7 s after sw at the soonest"),
        (["lamp: on from lock enters shut + 1 s for 2 s"], "at time 0"),
    ],
)
def test_what_cannot_count_so_is_refused(shows, why):
    with pytest.raises(Refusal, match=why):
        network_of(brief(*shows, head=HEAD + LOCK))


def test_a_span_from_a_state_that_no_act_leads_to_is_refused():
    ajar = LOCK.replace('"open"]', '"open", "ajar"]').replace('"open: after', '"ajar: sw -> open", "open: after')
    for event in ("lock leaves ajar", "lamp on"):
        shows = ["lamp: on while lock is ajar, late by 0.7 s", f"bell: on from {event} + 1 s for 1 s"]
        with pytest.raises(Refusal, match=f"{event} never comes") as refused:
            network_of(brief(*shows, head=HEAD + ajar))
        assert refused.value.claim == shows[1]


def test_a_later_beginning_is_told_where_a_tail_begins_too_soon():
    found = compose(brief("lamp: on from sw + 0.5 s until sw released + 5 s"))
    assert [one.instead for one in found.relax] == ["lamp: on from sw + 0.7 s until sw released + 5 s"]


@pytest.mark.parametrize(
    ("claim", "instead"),
    [
        ("lamp: on from press + 0.3 s for 4 s", "lamp: on from press + 0.5 s for 4 s"),
        ("lamp: on from press + 0.3 s if sw on for 1 s", "lamp: on from press + 0.5 s if sw on for 1 s"),
        ("lamp: on from 2nd sw released + 0.3 s for 1 s", "lamp: on from 2nd sw released + 0.5 s for 1 s"),
        ("lamp: on from sw released + 0.3 s for 3 s", "lamp: on from sw released + 0.5 s for 3 s"),
    ],
)
def test_a_later_beginning_is_told_where_the_event_of_a_machine_is_too_soon(claim, instead):
    with pytest.raises(Refusal) as refused:
        network_of(brief("bell: on while lock is open, late by 0.7 s", claim, head=HEAD + LOCK))
    assert [one.instead for one in refused.value.relax] == [instead]
    assert "heard" not in refused.value.why


def test_what_cannot_be_watched_for_is_told_with_its_own_claim():
    claim = "bell: on from 2nd press + 1 s if sw on or other on for 1 s"
    head = HEAD.replace("inputs = {", 'inputs = {other = {part = "lever"}, ')
    with pytest.raises(Refusal, match='where "2nd press if \\(sw on or other on\\)" is waited for') as refused:
        network_of(brief("lamp: on from 2nd other + 1 s for 1 s", claim, head=head))
    assert refused.value.claim == claim


def test_a_short_span_may_begin_with_a_release_as_a_long_one_may():
    assert network_of(brief("bell: on from sw released + 0.7 s for 0.2 s")).deaf == {"watch0": 22}


def test_watchers_keep_off_the_names_of_the_brief_and_come_in_the_order_of_its_claims():
    inputs = ", ".join(f'{name} = {{part = "short-button"}}' for name in ("watch0", "watch2", "a", "b", "c", "press"))
    outputs = ", ".join(f'{name} = {{drives = "line"}}' for name in ("one", "two", "three"))
    head = f'format = "tickwright brief 1"\ninputs = {{{inputs}}}\noutputs = {{{outputs}}}\n'
    claims = [
        f"{output}: on from {name} + 1 s if press on or watch0 on for 1 s"
        for output, name in (("one", "c"), ("two", "a"), ("three", "b"))
    ]
    network = network_of(brief(*claims, head=head))
    assert list(network.deaf) == ["watch1", "watch3", "watch4"]
    assert [name[0] for name in network.made if name.endswith("-any")] == ["c", "a", "b"]


def test_a_state_that_begins_anew_becomes_two_that_take_turns():
    again = LOCK.replace('"open: after', '"open: press -> open", "open: after')
    (machine,) = lowered(brief("lamp: on while lock is open, late by 0.7 s", head=HEAD + again)).brief.automata
    assert machine.states == ("shut", "open", "open'")
    moves = {(state, one.to) for one in machine.transitions for state in one.states}
    assert moves == {("shut", "open"), ("open", "open'"), ("open'", "open"), ("open", "shut"), ("open'", "shut")}


def test_a_watcher_counts_to_every_third():
    made, pairs = watcher("w", WatchedAct(PRESS, Ordinal(3, True)), 0)
    state, counted = made.states[0], 0
    for _ in range(9):
        to = next(one.to for one in made.transitions if state in one.states)
        counted += (state, to) in pairs
        state = to
    assert counted == 3
    assert again_steps(made, frozenset(pairs)) == 3 * 22


def test_alternatives_of_conditions():
    a, b = Has("a", "trigger"), Has("b", "trigger")
    either = Automaton("m", ("s",), (Transition(("s",), "s", event=PRESS),))
    assert again_steps(either, frozenset([("s", "s")])) == 22
    assert alternatives(None) == ((),)
    assert alternatives(Has("m", "machine", state="s")) is None
    assert alternatives(a) == ((("a", True),),)
    assert alternatives(b) != alternatives(a)


@pytest.mark.parametrize("begun", ["sw", "sw released"])
def test_what_follows_a_lever_hears_every_flip_beside_what_runs_on(begun):
    """What a flip begins is deaf until it is over; an output that is on while the lever is must not be."""
    shows = ("lamp: on while sw on, late by 1 s", f"bell: 2 pulses of 0.4 s every 1 s from {begun} + 1 s")
    found = compose(brief(*shows), seed=0, minutes=30, proof=False)
    assert found.composed
    acts = [(0, "sw:on"), (30, "sw:off"), (44, "sw:on"), (58, "sw:off"), (200, "sw:on"), (300, "sw:off")]
    counting = (0, 44, 200) if begun == "sw" else (30, 300)  # not 58, so soon after 30
    assert spans(found.plan, acts, ZERO, 420, "standard", "fast") == {
        "lamp": [(20, 50), (64, 78), (220, 320)],
        "bell": [(at + more, at + more + 8) for at in counting for more in (20, 40)],
    }
