"""Lanes against the reference engine: each lane is a run like any other, change for change; or it is refused."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright import load, load_rules, loads, measure
from tickwright.engine import first_difference, run
from tickwright.engine.lanes import Lanes, refusal
from tickwright.errors import UsageError
from tickwright.kinds import PLATES, parse_part
from tickwright.plan import Plan, parse_script
from worlds.differ import rule_set
from worlds.generator import random_world

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RULES = load_rules()
WORLDS = 60
LANES = 70  # one batch and a bit


def scripts_of(rng: random.Random, acts: list[str], steps: int, number: int) -> list[list[str]]:
    """The acts, each a bit earlier or later, some left out: in each lane otherwise."""
    scripts = []
    for _ in range(number):
        script = []
        for act in acts:
            step, _, what = act.partition(":")
            if rng.random() < 0.8:
                script.append(
                    (min(max(0, int(step) + rng.choice([0, 0, 1, 2, -3, rng.randrange(-40, 60)])), steps - 1), what)
                )
        scripts.append([f"{step}:{what}" for step, what in sorted(script, key=lambda pair: pair[0])])
    return scripts


def levers_for_plates(plan: Plan) -> Plan:
    """The plan with a lever for each plate, which lanes cannot hold."""
    lever = parse_part("lever")
    return replace(plan, cells={cell: lever if part.kind in PLATES else part for cell, part in plan.cells.items()})


@pytest.mark.parametrize("part", range(6))
def test_every_lane_is_the_run_of_its_script(part):
    held = changes = 0
    for seed in range(part * WORLDS // 6, (part + 1) * WORLDS // 6):
        rng = random.Random(seed)
        world = random_world(seed, static=True)
        plan = levers_for_plates(world.plan)
        acts = [act for act in world.acts if act.split(":")[-1] not in ("tread", "leave")]
        rules, order = (
            rule_set(rng.choice(["standard", "older-wire", "odd"])),
            rng.choice(["canonical", "reversed", "7"]),
        )
        if refusal(plan, rules):
            continue
        held += 1
        texts = scripts_of(rng, acts, world.steps, LANES)
        scripts = [parse_script(plan, script) for script in texts]
        lanes = Lanes(plan, rules, world.watched(), order)
        traces = lanes.traces(scripts, world.steps)
        assert lanes.traces(scripts, world.steps) == traces  # the second time from a used state
        assert len(traces) == LANES
        for lane in [0, LANES - 1, *rng.sample(range(LANES), 4)]:
            wanted = run(plan, texts[lane], world.steps, rules, order, watch=world.watched()).trace
            assert first_difference(wanted, traces[lane]) is None, f"{world.name}, lane {lane}: {texts[lane]}"
            changes += sum(map(len, wanted.changes.values())) - len(wanted.changes)
    assert held >= WORLDS // 12
    assert changes > 1000


@pytest.mark.parametrize("name", ["flat-loop-4", "stacked-loop-3", "taps-loop", "pulse-shortener", "difference-fader"])
def test_presses_of_every_length_are_what_measure_says(name):
    plan = load(EXAMPLES / f"{name}.toml")
    trigger = next(iter(plan.triggers))
    lengths = [*range(1, 40, 3), 150, 700]
    at = measure(plan, trigger)[0].pressed_at_step
    found = Lanes(plan, RULES, plan.outputs).press(plan.triggers[trigger], lengths, 5000, at)
    for number, length in enumerate(lengths):
        for measured in measure(plan, trigger, length_steps=length):
            output = found.outputs.index(measured.output)
            assert found.pulses[number, output] == len(measured.pulses)
            assert found.rest[number] == measured.rest_steps
            if measured.pulses:
                delay = int(found.first_on[number, output])
                hold = int(found.last_off[number, output]) - delay
                assert (delay, hold) == (measured.delay_steps, measured.hold_steps)


def test_what_does_not_end_is_said_to_be_on_or_not_at_rest():
    latch, clock = (load(EXAMPLES / f"{name}.toml") for name in ("latch", "torch-clock"))
    texts = [[], ["0:set"], ["10:set", "90:reset"]]
    lanes = Lanes(latch, RULES, latch.outputs).traces([parse_script(latch, script) for script in texts], 300)
    assert lanes == [run(latch, script, 300).trace for script in texts]
    traces = Lanes(clock, RULES, clock.outputs).traces([()], 3000)
    assert traces == [run(clock, (), 3000).trace]


def test_a_torch_burns_out_in_the_lanes_in_which_it_does():
    plan = loads("""format = "tickwright plan 1"
legend = {"#" = "block", l = "lever", w = "wire", t = "torch on=west"}
layer = [{rows = "####"}, {rows = "lw#t"}]
triggers = {flip = [0, 0, 1]}
outputs = {torch = [3, 0, 1]}""")
    texts = [[f"{k * gap}:flip" for k in range(24)] for gap in (2, 3, 4, 5, 6)]
    traces = Lanes(plan, RULES, plan.outputs).traces([parse_script(plan, script) for script in texts], 600)
    runs = [run(plan, script, 600) for script in texts]
    assert traces == [made.trace for made in runs]
    assert {len(made.findings) > 0 for made in runs} == {True, False}  # some of them do, some do not


def test_a_crate_that_nothing_fills_only_shows_its_level():
    plan = loads("""format = "tickwright plan 1"
legend = {"#" = "block", l = "lever", w = "wire", c = "comparator east mode=difference", C = "crate items=400"}
layer = [{rows = "###"}, {rows = "Ccw"}]
outputs = {out = [2, 0, 1], crate = [0, 0, 1]}""")
    cells = {**plan.cells, (1, 1, 0): parse_part("block"), (1, 1, 1): parse_part("lever")}
    plan = replace(plan, cells=cells, triggers={"flip": (1, 1, 1)})
    texts = [["5:flip"], [], ["7:flip", "9:flip"]]
    traces = Lanes(plan, RULES, plan.outputs).traces([parse_script(plan, script) for script in texts], 60)
    assert traces == [run(plan, script, 60).trace for script in texts]
    assert traces[1].changes["crate"] == ((0, 400),)


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("hopper-clock", "The hopper at"),
        ("shuttle", "The pull-piston at"),
        ("dropped-item", "The item-plate at"),
    ],
)
def test_what_lanes_cannot_hold_is_refused_with_its_cell(name, what):
    plan = load(EXAMPLES / f"{name}.toml")
    with pytest.raises(UsageError, match="run it on another engine"):
        Lanes(plan, RULES)
    assert str(refusal(plan, RULES)).startswith(what)


def test_rules_with_delays_beyond_the_wheel_are_refused(tmp_path):
    (tmp_path / "slow.toml").write_text('based_on = "standard"\n[lamp]\noff_delay = 300\n', "utf-8")
    assert "A delay of 300 steps" in str(refusal(load(EXAMPLES / "latch.toml"), load_rules("slow.toml", tmp_path)))


def test_acts_that_change_more_than_levels_are_refused():
    plan = load(EXAMPLES / "flat-loop-4.toml")
    lanes = Lanes(plan, RULES, plan.outputs)
    with pytest.raises(UsageError, match="press buttons and throw levers"):
        lanes.traces([parse_script(plan, ["5:3,0,1:clear"])], 60)
    with pytest.raises(UsageError, match=r"The cell \(1, 0, 1\) is repeater"):
        lanes.press((1, 0, 1), [5], 60)
    with pytest.raises(UsageError, match="use 1 step or more"):
        lanes.press((0, 0, 1), [0], 60)
