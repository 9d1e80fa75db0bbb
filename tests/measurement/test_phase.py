"""Phase: a press at every moment of a running clock."""

from __future__ import annotations

import sys

from tickwright.engine.running import rules_for
from tickwright.measurement import find_trigger, observe, phases
from tickwright.plan import loads
from tickwright.plan.setup import Setup

# Three torches in a ring beat 6 steps on, 6 off. The beat keeps the comparator shut, which passes the button's press to
# the lamp only in between.
GATED = """
format = "tickwright plan 1"
[legend]
"#" = "block"
t = "torch on=west"
w = "wire"
b = "short-button"
r = "repeater east"
c = "comparator south mode=difference"
L = "lamp"
[[layer]]
rows = '''
...........#
.###########
.#.......#
.#########
'''
[[layer]]
rows = '''
...........b
.#tw#tw#twrc
.w.......w.L
.wwwwwwwww
'''
[triggers]
press = [11, 0, 1]
[outputs]
lamp = [11, 2, 1]
"""
BELL = """
format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", L = "lamp"}
layer = [{rows = "#"}, {rows = "bL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [1, 0, 1]}
"""

# Say the beat is on in steps 0 to 5 of 12, and the press of 20 steps comes in step p. The gate is open in 6 to 11, 18
# to 23 and 30 to 35 as far as the button is down; the comparator follows 2 later, if the gate still stands so then, and
# the lamp goes dark another 4 later. Pressed in step 10 or 11 the gate is shut again too soon, and likewise if the
# button is released in step 30, 31 or 32: then only the middle opening counts, on from 20, dark at 30.
EXPECTED = [
    (8, 10), (7, 19), (6, 20), (5, 21), (4, 22), (3, 22), (2, 22), (2, 21), (2, 20), (2, 19), (10, 10), (9, 10),
]  # fmt: skip


def found(text):
    plan = loads(text)
    rules = rules_for(plan)
    setup = Setup(plan, rules)
    place = find_trigger(setup, "press")
    return phases(setup, place, list(plan.outputs), observe(setup, place))["lamp"]


def test_every_phase_of_a_gated_clock_is_as_worked_out_by_hand():
    known = found(GATED)
    assert (known.period_steps, known.every_steps, known.reason) == (12, 1, None)
    assert [row.phase_steps for row in known.rows] == list(range(12))
    answers = [(row.delay_steps, row.hold_steps) for row in known.rows]
    assert answers in [EXPECTED[turn:] + EXPECTED[:turn] for turn in range(12)]  # the period begins where it begins
    assert (known.delays, known.holds) == ((2, 10), (10, 22))
    data = known.as_data()
    assert (data["hold_min_steps"], data["hold_max_steps"], data["delay_max_steps"]) == (10, 22, 10)


def test_at_rest_before_the_press_there_is_one_phase():
    known = found(BELL)
    assert known.reason == "at rest before the press: one phase only"
    assert (known.period_steps, known.delays, known.holds, len(known.rows)) == (None, (0, 0), (24, 24), 1)


def test_a_long_period_is_tried_at_most_200_times(monkeypatch):
    monkeypatch.setattr(sys.modules["tickwright.measurement.phase"], "MOST_PHASES", 5)
    known = found(GATED)
    assert (known.every_steps, [row.phase_steps for row in known.rows]) == (3, [0, 3, 6, 9])
