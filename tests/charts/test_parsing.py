"""The notation of charts, clause by clause: what each text means, and what each mistake is told."""

from __future__ import annotations

import pytest

from tickwright.charts.notation import (
    Both,
    Either,
    Event,
    Has,
    Level,
    Moment,
    Names,
    Never,
    Not,
    Ordinal,
    Policy,
    Span,
    Train,
    While,
)
from tickwright.charts.parsing import (
    NotationError,
    parse_claim,
    parse_condition,
    parse_hand_line,
    parse_transition,
)

NAMES = Names(("button", "safe"), ("gate", "bell", "lamp", "busy.out"), {"lock": ("shut", "one", "open")})
BUTTON = Event("button", "trigger", "worked")
GATE_ON, GATE_OFF = Event("gate", "output", "on"), Event("gate", "output", "off")
LAMP_OFF = Event("lamp", "output", "off")


def clauses(text):
    return parse_claim(text, NAMES).clauses


@pytest.mark.parametrize(
    ("text", "clause"),
    [
        ("gate: on from button + 2 s for 12 s", Span("on", Moment(40, BUTTON), 240)),
        ("gate: on from 2 s for 20 steps", Span("on", Moment(40), 20)),
        ("gate: on from 0 for 1 tick", Span("on", Moment(0), 2)),
        ("gate: on from 0 s for 1 tick", Span("on", Moment(0), 2)),
        (
            "lamp: on from button + 0.3 s until gate off + 1 s",
            Span("on", Moment(6, BUTTON), None, Moment(20, GATE_OFF)),
        ),
        ("lamp: on from button for good", Span("on", Moment(0, BUTTON))),
        ("lamp: off from gate on - 1 s for 1 s", Span("off", Moment(-20, GATE_ON), 20)),
        ("bell: 3 pulses of 0.2 s every 1 s from gate on", Train(3, 4, 20, Moment(0, GATE_ON))),
        ("bell: 1 pulse of 0.2 s from button", Train(1, 4, 0, Moment(0, BUTTON))),
        (
            "bell: pulses of 1 tick every 1 s from gate on until gate off",
            Train(None, 2, 20, Moment(0, GATE_ON), Moment(0, GATE_OFF)),
        ),
        ("lamp: never on", Never("on")),
        ("lamp: never off", Never("off")),
        ("lamp: level at least 7", Level(True, 7)),
        ("lamp: level at most 15", Level(False, 15)),
        ("lamp: on while lock is open", While(Has("lock", "machine", state="open"))),
        ("lamp: on while gate on, late by 0.7 s", While(Has("gate", "output"), 14)),
        ("button: ignored until lamp off", Policy("ignored", Moment(0, LAMP_OFF))),
        ("button: ignored while not safe on", Policy("ignored", None, Not(Has("safe", "trigger")))),
        ("button: extends until lamp off - 0.8 s", Policy("extends", Moment(-16, LAMP_OFF))),
        ("button: restarts until lamp off", Policy("restarts", Moment(0, LAMP_OFF))),
        ("button: ready from lamp off + 1 s", Policy("ready", Moment(20, LAMP_OFF))),
    ],
)
def test_each_clause_alone(text, clause):
    assert clauses(text) == (clause,)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("button", Moment(0, BUTTON)),
        ("button released + 1 tick", Moment(2, Event("button", "trigger", "released"))),
        ("1st button", Moment(0, BUTTON, Ordinal(1))),
        ("every 3rd button + 1 s", Moment(20, BUTTON, Ordinal(3, True))),
        ("2nd gate off - 1 step", Moment(-1, GATE_OFF, Ordinal(2))),
        ("lock enters open", Moment(0, Event("lock", "machine", "enters", "open"))),
        ("lock leaves open + 4 steps", Moment(4, Event("lock", "machine", "leaves", "open"))),
        ("button if safe on", Moment(0, BUTTON, None, Has("safe", "trigger"))),
        ("button + 1 s if lock is shut", Moment(20, BUTTON, None, Has("lock", "machine", state="shut"))),
        ("busy.out on", Moment(0, Event("busy.out", "output", "on"))),
    ],
)
def test_each_moment(text, moment):
    assert clauses(f"lamp: on from {text} for 1 s") == (Span("on", moment, 20),)


def test_conditions_bind_not_before_and_before_or():
    a, b, c = Has("gate", "output"), Has("lamp", "output", False), Has("safe", "trigger")
    assert parse_condition("gate on and lamp off or safe on", NAMES) == Either((Both((a, b)), c))
    assert parse_condition("gate on and (lamp off or safe on)", NAMES) == Both((a, Either((b, c))))
    assert parse_condition("not gate on and safe on", NAMES) == Both((Not(a), c))
    assert parse_condition("not (gate on and safe on)", NAMES) == Not(Both((a, c)))


def test_clauses_stand_one_after_another_and_their_ends_hold_for_all():
    claim = parse_claim("lamp: on from button for 1 s; on from gate on for 2 s, level at least 7", NAMES)
    assert [type(clause).__name__ for clause in claim.clauses] == ["Span", "Span", "Level"]
    claim = parse_claim("lamp: on from button for 1 s, give or take 1 tick, otherwise free", NAMES)
    assert (claim.give_or_take_steps, claim.otherwise_free) == (2, True)
    claim = parse_claim("lamp: on while gate on, late by 4 steps, give or take 1 step", NAMES)
    assert (claim.clauses[0].late_steps, claim.give_or_take_steps) == (4, 1)


def test_names_that_are_words_of_the_notation_are_read_by_their_place():
    names = Names(("until",), ("on", "for"), {})
    claim = parse_claim("on: on from until until for off", names)
    assert claim.clauses[0].begins.event == Event("until", "trigger", "worked")
    assert claim.clauses[0].until.event == Event("for", "output", "off")


@pytest.mark.parametrize(
    ("text", "at", "message"),
    [
        ("gete: on from button for 1 s", 0, 'Did you mean "gate"?'),
        ("lock: on from button for 1 s", 0, "the name of an output, or of a trigger"),
        ("gate on from button for 1 s", 5, '":"'),
        ("gate: on form button for 1 s", 9, '"from" or "while"'),
        ("gate: on from button 1 s", 21, '"for D", "until M" or "for good", or before it "+ D", "- D" or "if COND"'),
        ("gate: on from button + 1 s", 26, 'the text ends here; what may stand here is "for D"'),
        ("gate: on from button for", 24, 'a duration such as "2 s" or "good"'),
        ("gate: on from button for 12", 27, "a unit, such as s, ticks or steps"),
        ("gate: on from button for 12 m", 25, 'has the unknown unit "m"'),
        ("gate: on from button for 0.03 s", 25, "not a whole number of steps"),
        ("gate: on from button for 0 s", 25, "a span lasts at least one step"),
        ("gate: on from 12 for 1 s", 14, 'has the unknown unit "for"'),
        ("gate: on from lamp for 1 s", 19, '"on" or "off" (lamp is an output)'),
        ("gate: on from lock for 1 s", 19, '"enters" or "leaves" (lock is a machine)'),
        ("gate: on from lock enters ajar for 1 s", 26, "a state: shut, one, open"),
        ("gate: on while lock on", 20, '"is" and a state'),
        ("gate: on while (lamp on", 23, '")", "and" or "or"'),
        ("gate: on while button", 21, '"on" or "off"'),
        ("gate: on while lamp on; never off", 6, '"on while" stands alone'),
        ("gate: 3 pulses of 1 s from button", 22, '"every D", the time from beginning to beginning'),
        ("gate: 3 pulses of 1 s every 1 s from button", 6, "pulses that touch are one span"),
        ("gate: pulses of 1 s every 2 s from button", 41, '"until M", or write how many pulses'),
        ("gate: 0 pulses of 1 s every 2 s from button", 6, "a whole number of pulses, from 1"),
        ("gate: level at least 16", 21, "a level, a whole number from 1 to 15"),
        ("gate: level above 3", 12, '"at"'),
        ("gate: never", 11, '"on" or "off"'),
        ("gate: ignored until lamp off", 6, "are said of a trigger"),
        ("button: on from 1 s for 1 s", 8, '"ignored until", "ignored while", "extends until"'),
        ("button: extends while lamp on", 16, '"until M"'),
        ("button: ignored until lamp off, give or take 1 s", 8, "belong to the spans of an output"),
        ("gate: never on, otherwise free", 0, '"otherwise free" needs a span'),
        ("gate: give or take 1 s", 0, "the claim has no clause"),
        ("gate: on from button for 1 s, give or take 1 s, never off", 48, "clauses come before these"),
        ("gate: on from button for 1 s never off", 29, '";" or "," and another clause'),
        ("gate: on from every button for 1 s", 14, "a duration"),
        ("gate: on from button for 1 s §", 29, '";" or ","'),
        ("", 0, "the text ends here"),
    ],
)
def test_each_mistake_is_told_at_its_place(text, at, message):
    with pytest.raises(NotationError) as caught:
        parse_claim(text, NAMES)
    assert message in caught.value.message
    assert caught.value.at == at


def test_lines_of_the_hand():
    line = parse_hand_line("lamp off + 2 s: button", NAMES)
    assert (line.moment, line.who, line.act) == (Moment(40, LAMP_OFF), "button", None)
    assert parse_hand_line("40: safe:on", NAMES).moment == Moment(40)
    assert parse_hand_line("2 s: 4,0,2:place=repeater east delay=2", NAMES).words == "4,0,2:place=repeater east delay=2"
    assert parse_hand_line("button - 1 s: safe", NAMES).moment.steps == -20


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("button", '":" is missing'),
        ("lamp off - 1 s: button", '"- D" cannot stand after "lamp off"'),
        ("every 2nd button: safe", "an act comes once"),
        ("0:", "the name of a trigger or a cell"),
        ("0: button:", "an act is missing"),
        ("soon: button", "an event of button, safe"),
        ("1.5: button", "a whole number of steps"),
    ],
)
def test_mistakes_in_the_hand(text, message):
    with pytest.raises(NotationError) as caught:
        parse_hand_line(text, NAMES)
    assert message in caught.value.message


def test_transitions():
    states = NAMES.machines["lock"]
    one = parse_transition("shut, one: button if gate off -> open", NAMES, states)
    assert (one.states, one.to, one.event) == (("shut", "one"), "open", BUTTON)
    assert one.condition == Has("gate", "output", False)
    assert parse_transition("any: button->shut", NAMES, states).states == ()
    assert parse_transition("one: after 4 s -> shut", NAMES, states).after_steps == 80
    waits = parse_transition("open: after 10 s if not gate on -> shut", NAMES, states)
    assert (waits.after_steps, waits.condition) == (200, Not(Has("gate", "output")))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("ajar: button -> shut", '"any" or a state: shut, one, open'),
        ("shut: button -> ajar", "a state: shut, one, open"),
        ("shut: button", '"if COND", or "->"'),
        ("shut: button if gate on", '"->" and the state'),
        ("shut: 4 s -> one", 'an event, or "after D"'),
        ("shut: after 0 s -> one", "a state lasts at least one step"),
        ("shut: button -> one now", "nothing more, or the end"),
    ],
)
def test_mistakes_in_transitions(text, message):
    with pytest.raises(NotationError) as caught:
        parse_transition(text, NAMES, NAMES.machines["lock"])
    assert message in caught.value.message
