"""One-shots on real plans, triggers and pulses as (start, duration), the times scaled.

Sources of the table: retriggerable as in TI SCLS420 (the '123 family), non-retriggerable as in Nexperia 74HCT221; both
for a duration T of 10. Pulses here come the circuit's own delay after the trigger, which is taken off before comparing.
"""

from __future__ import annotations

import pytest

from tickwright.engine import run
from tickwright.measurement import find_trigger, pulses, retrigger
from tickwright.plan import loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

TRIGGERS = [(5,), (5, 11), (5, 14, 23), (5, 16)]
RETRIGGERABLE = [[(5, 10)], [(5, 16)], [(5, 28)], [(5, 10), (16, 10)]]
NON_RETRIGGERABLE = [[(5, 10)], [(5, 10)], [(5, 10), (23, 10)], [(5, 10), (16, 10)]]

HEAD = """format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"w" = "wire"
"1" = "repeater east"
"3" = "repeater east delay=3"
"4" = "repeater east delay=4"
[triggers]
press = [0, 0, 1]
[outputs]
"""
# A bell at the landing: the press of 20 steps comes once after 2 steps and once more after 8 + 8 + 6, the second copy
# when the first has gone, so that each press counts for 40 steps: the table at 4 steps to one of its units.
TAPS = (
    HEAD
    + """bell = [5, 0, 1]
[[layer]]
rows = '''
########
.#...#
.#####
'''
[[layer]]
rows = '''
bw1wwwww
.w...w
.w443w
'''
"""
)
# The press itself is the time: a button ignores presses while it is down. 20 steps, 2 to a unit of the table.
BUTTON = (
    HEAD
    + """bell = [2, 0, 1]
[[layer]]
rows = '####'
[[layer]]
rows = 'b1ww'
"""
)


def answers(text: str, triggers: tuple[int, ...], scale: int, delay: int) -> list[tuple[float, float]]:
    trace = run(loads(text), [f"{time * scale}:press" for time in triggers], steps=60 * scale).trace
    found = pulses(trace.changes["bell"])
    return [((start - delay) / scale, (duration or 0) / scale) for start, duration in found]


@pytest.mark.parametrize(("triggers", "expected"), [*zip(TRIGGERS, RETRIGGERABLE, strict=True)])
def test_taps_behind_a_button_are_a_retriggerable_one_shot(triggers, expected):
    assert answers(TAPS, triggers, scale=4, delay=2) == expected


@pytest.mark.parametrize(("triggers", "expected"), [*zip(TRIGGERS, NON_RETRIGGERABLE, strict=True)])
def test_a_button_is_a_non_retriggerable_one_shot(triggers, expected):
    assert answers(BUTTON, triggers, scale=2, delay=2) == expected


@pytest.mark.parametrize(("text", "verdict"), [(TAPS, "extends"), (BUTTON, "ignored")])
def test_retrigger_says_so(text, verdict):
    plan, rules = loads(text), load_rules()
    setup = Setup(plan, rules)
    assert retrigger(setup, find_trigger(setup, "press"), ["bell"])["bell"].verdict == verdict
