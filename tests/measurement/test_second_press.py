"""Second presses: circuits whose answer can be said beforehand."""

from __future__ import annotations

import pytest

from tickwright.measurement import find_trigger, retrigger
from tickwright.plan import Plan, loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

HEAD = """format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"l" = "lever"
"w" = "wire"
"L" = "lamp"
"4" = "repeater east delay=4"
"d" = "comparator east mode=difference"
"n" = "repeater north delay=2"
"s" = "change-sensor east"
[triggers]
press = [0, 0, 1]
[outputs]
"""
TAPS = (
    HEAD
    + """joined = [5, 0, 1]
[[layer]]
rows = '''
########
.#...#
.#####
'''
[[layer]]
rows = '''
bw4wwwww
.w...w
.w444w
'''
"""
)
STRIKE = (
    HEAD
    + """edge = [2, 0, 1]
[[layer]]
rows = '####'
[[layer]]
rows = 'bwsw'
"""
)
SHORT = (
    HEAD
    + """short = [3, 0, 1]
[[layer]]
rows = '''
#####
.##
.##
'''
[[layer]]
rows = '''
bwdww
.wn
.ww
'''
"""
)


def plan_of(text: str) -> Plan:
    return loads(text)


def verdicts(text: str) -> dict:
    plan = plan_of(text)
    rules = load_rules()
    setup = Setup(plan, rules)
    return retrigger(setup, find_trigger(setup, "press"), list(plan.outputs))


def test_taps_stretch_each_press_so_that_a_second_one_extends():
    # The joined wire is on from step 8 to 43: 20 steps of the press at delays of 8 and 24.
    seen = verdicts(TAPS)["joined"]
    assert (seen.verdict, seen.busy_steps, seen.every_steps) == ("extends", 20, 1)
    # A hold of 36; the second press ends a hold of 36 after itself.
    assert [(press.offset, press.pulses) for press in seen.presses] == [
        (offset, ((8, offset + 36),)) for offset in range(20, 36)
    ]


def test_what_strikes_at_edges_restarts():
    # One tick at each edge: at 2 and 22 after a press, so the hold is 22 and a second press brings two more.
    seen = verdicts(STRIKE)["edge"]
    assert seen.verdict == "restarts"
    assert [press.offset for press in seen.presses] == [20, 21]
    assert seen.presses[1].pulses[:2] == ((2, 2), (22, 2))
    assert seen.presses[1].pulses[-1] == (21 + 22, 2)


def test_a_hold_within_the_press_is_ignored_by_the_button_itself():
    seen = verdicts(SHORT)["short"]
    assert (seen.verdict, seen.presses, seen.busy_steps) == ("ignored", (), 20)


def test_a_lever_has_no_second_press():
    seen = verdicts(SHORT.replace('"short-button"', '"lever"'))["short"]
    assert seen.verdict is None
    assert seen.reason == "The trigger is a lever, which does not let go by itself."


@pytest.mark.parametrize("name", ["verdict", "reason", "busy_steps", "every_steps", "map"])
def test_the_data_has_every_key(name):
    assert name in verdicts(TAPS)["joined"].as_data()
