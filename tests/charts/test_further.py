"""Further presses in batches of the fast engine: each must be the run that the reference engine makes of it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tickwright.charts import check_charts
from tickwright.charts.further import Copies
from tickwright.charts.playing import Stage, play
from tickwright.charts.policies import _Base
from tickwright.charts.reading import charts_of
from tickwright.engine.native import is_installed
from tickwright.plan import load, loads
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("the fast engine is not built here", allow_module_level=True)

# Every trigger that has to be let go in another way, a button that comes up as it is pressed again, and a clock.
MANY = """format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"B" = "long-button"
"v" = "lever"
"t" = "tread-plate"
"i" = "item-plate"
"c" = "counting-plate"
"L" = "lamp"
"w" = "wire"
"r" = "repeater east delay=2"
"h" = "hopper into=east items=0"
"k" = "crate items=0"
"o" = "torch on=west"
[[layer]]
rows = '''
######
######
######
######
######
######
######
'''
[[layer]]
rows = '''
bwrwL
BwrwL
vrrL
trL
irL
crL
hkcL
'''
[triggers]
short = [0, 0, 1]
long = [0, 1, 1]
lever = [0, 2, 1]
tread = [0, 3, 1]
item = [0, 4, 1]
count = [0, 5, 1]
into = [0, 6, 1]
[outputs]
"""
LAMPS = {"a": (4, 0), "b": (4, 1), "c": (3, 2), "d": (2, 3), "e": (2, 4), "f": (2, 5), "g": (3, 6), "crate": (1, 6)}
MANY += "\n".join(f"{name} = [{x}, {y}, 1]" for name, (x, y) in LAMPS.items())


def chart(hand, watch=None, start="at rest"):
    lines = ", ".join(f'"{line}"' for line in hand)
    more = f'watch = "{watch}"\n' if watch else ""
    return f'\n[[chart]]\nname = "it"\nstarts = "{start}"\n{more}hand = [{lines}]\nshows = ["a: never off"]\n'


def both(plan, trigger, steps, order="canonical", rules=None):
    """The tries of the fast engine and those of the reference engine, at the same steps from the press."""
    read = charts_of(plan)
    stage = Stage(Setup(plan, rules or load_rules(), order), read.charts[0].at_rest)
    played = play(stage, read.charts[0].hand or (), read.charts[0].watch_steps)
    made = []
    for fast in (True, False):
        base = _Base(stage, read.charts[0], played, (), trigger, played.timeline.worked[trigger][0])
        assert base._copies is not None
        if not fast:
            base._copies = None
        made.append(list(base.furthers(range(base.first_step, base.first_step + steps))))
    shortest = [min(one.timeline.steps, other.timeline.steps) for one, other in zip(*made, strict=True)]
    assert min(shortest) > 20
    return [[_seen(one, most) for one, most in zip(tries, shortest, strict=True)] for tries in made]


def _seen(tried, steps):
    """All but how long a run is looked at after its last change, in which nothing new happens."""
    line = tried.timeline.since(0, steps)
    until = {name: wave._replace(toggles=_before(wave.toggles, steps)) for name, wave in line.outputs.items()}
    levels = {name: tuple(pair for pair in pairs if pair[0] < steps) for name, pairs in line.levels.items()}
    triggers = {name: _before(wave.toggles, steps) for name, wave in line.triggers.items()}
    acts = [(act.step, act.words) for act in tried.acts]
    return until, levels, triggers, line.worked, line.released, line.rests_on, tried.step, acts


def _before(toggles, steps):
    return tuple(step for step in toggles if step < steps)


@pytest.mark.parametrize("trigger", ["short", "long", "lever", "tread", "item", "count", "into"])
@pytest.mark.parametrize("order", ["canonical", "reversed", "7"])
def test_a_further_press_of_every_trigger_is_the_run_of_the_reference_engine(trigger, order):
    plan = loads(MANY + chart([f"0: {trigger}"]))
    fast, reference = both(plan, trigger, 70, order)
    assert fast == reference
    assert any(worked[trigger] for _, _, _, worked, *_ in fast)


def test_other_acts_of_the_hand_come_too_those_in_the_step_of_a_press_before_it():
    hand = ["0: short", "20 steps: long", "24 steps: lever", "30 steps: lever:off", "30 steps: lever", "31 steps: item"]
    plan = loads(MANY + chart([*hand, "40 steps: item:take", "40 steps: into:put=3", "50 steps: long"], "2 min"))
    fast, reference = both(plan, "short", 60)
    assert fast == reference


def test_a_button_that_is_pressed_in_the_step_in_which_it_comes_up_has_been_let_go():
    plan = loads(MANY + chart(["0: long", "5 steps: short", "25 steps: short"], "20 s"))
    fast, reference = both(plan, "long", 8)
    assert fast == reference
    assert fast[0][3]["short"] == (5, 25)
    assert fast[0][4]["short"] == (25, 45)


@pytest.mark.parametrize("name", ["edge-detector", "shuttle-clock", "dropped-item", "piston-gate", "latch", "toggle"])
def test_examples_are_pressed_again_alike(name):
    plan = load(EXAMPLES / f"{name}.toml")
    trigger = next(iter(plan.triggers))
    line = f"0: {trigger}"
    made = loads((EXAMPLES / f"{name}.toml").read_text("utf-8").split("[[chart]]")[0] + _for(plan, line))
    fast, reference = both(made, trigger, 40)
    assert fast == reference


def _for(plan, line):
    output = next(iter(plan.outputs))
    return chart([line], "10 s", "at step 0").replace("a: never off", f"{output}: never off")


def test_one_call_reads_all_however_much_there_is(monkeypatch):
    import tickwright.engine.native.copies as native

    plan = loads(MANY + chart(["0: short"], "20 s"))
    whole, reference = both(plan, "short", 40)
    monkeypatch.setattr(native, "AT_ONCE", 3)
    small, _ = both(plan, "short", 40)
    assert small == whole == reference


def test_verdicts_are_the_same_without_the_fast_engine(monkeypatch):
    plan = load(EXAMPLES / "gate-and-bell.toml")
    verdicts = [verdict.as_data() for verdict in check_charts(plan)]
    monkeypatch.setattr(Copies, "are_possible", staticmethod(lambda _: False))
    assert [verdict.as_data() for verdict in check_charts(plan)] == verdicts
