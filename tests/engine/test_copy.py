"""A copy of a simulation goes on exactly as the original, and neither disturbs the other."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.engine.reference import Simulation, state_key
from tickwright.engine.running import rules_for, script
from tickwright.plan import load, loads
from tickwright.plan.setup import Setup

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
# A pull-piston shuttles a lamp, items fall on a plate and run through hoppers, a torch ring burns out.
WORKS = """
format = "tickwright plan 1"
[legend]
"#" = "block"
"b" = "short-button"
"w" = "wire"
"P" = "pull-piston east"
"L" = "lamp"
"h" = "hopper into=east items=3"
"H" = "hopper into=east items=1"
"k" = "crate items=0"
"e" = "ejector east items=5"
"p" = "item-plate"
"t" = "torch on=west"
[[layer]]
rows = '''
#####
#####
#####
#####
#####
#####
#####
'''
[[layer]]
rows = '''
#ep
.
hHk
.
.#tw
.w.w
.www
'''
[[layer]]
rows = '''
bwPL
'''
[triggers]
press = [0, 0, 2]
[outputs]
plate = [2, 0, 1]
crate = [2, 2, 1]
piston = [2, 0, 2]
"""


def futures(sim: Simulation, steps: int) -> list[object]:
    seen = []
    for step in range(sim.now + 1, sim.now + 1 + steps):
        sim.step(step)
        seen.append((state_key(sim), tuple(sim.shown())))
    return [*seen, sim.notes.findings()]


PLANS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(EXAMPLES.glob("*.toml"))}


@pytest.mark.parametrize("name", ["works", "latch", "torch-clock", "flat-loop-6", "edge-detector", "taps"])
def test_a_copy_goes_on_as_the_original_and_leaves_it_alone(name):
    plan = loads(WORKS) if name == "works" else load(EXAMPLES / f"{name}.toml")
    rules = rules_for(plan)
    who = next(iter(plan.triggers))
    acts = script(plan, [f"{step}:{who}" for step in (3, 30, 60, 61)])
    extra = script(plan, ["7:4,0,9:drop=3"])
    setup = Setup(plan, rules)
    plain = Simulation(setup, watch=plan.outputs)
    plain.queue_stimuli(acts)
    plain.step(0)
    expected = futures(plain, 120)
    if name == "works":
        codes = {finding.code for finding in expected[-1]}
        assert "torch-burns-out" in codes
        levels = list(zip(*(shown for _, shown in expected[:-1]), strict=True))
        assert all(len(set(shown)) > 1 for shown in levels), levels  # plate, crate and piston all change
    for at in (1, 4, 9, 33, 36, 50):
        sim = Simulation(setup, watch=plan.outputs)
        sim.queue_stimuli(acts)
        for step in range(at):
            sim.step(step)
        copy = sim.copy()
        assert state_key(copy) == state_key(sim)
        other = sim.copy()
        other.do(extra[0])
        futures(other, 60)  # what a third one does changes neither
        assert futures(copy, 121 - at)[:-1] == expected[at - 1 : -1]
        assert futures(sim, 121 - at) == expected[at - 1 :]
        assert copy.notes.findings() == sim.notes.findings()
