"""The native engine against the reference: worlds that were kept, examples, random worlds; its copies, its limits."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tickwright.engine import Run
from tickwright.engine.native import Simulation, is_installed, trace_of
from tickwright.engine.running import script
from tickwright.errors import UsageError
from tickwright.plan import load, parse_script
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from watching import world
from worlds.corpus import kept
from worlds.differ import compare, examples, reference
from worlds.generator import random_world

WORLDS = int(os.environ.get("TICKWRIGHT_WORLDS", "24"))
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"

if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("there is no C compiler, and so no native engine", allow_module_level=True)


def native(made, rules, order):
    """The native engine, every cell watched."""
    acts = [act for act in script(made.plan, made.acts) if act.step < made.steps]
    trace, notes = trace_of(Setup(made.plan, rules, order), made.watched(), acts, made.steps)
    late = [act for act in script(made.plan, made.acts) if act.step >= made.steps]
    for act in late:
        message = f'"{act}" comes after the end of the run, which has the steps 0 to {made.steps - 1}: it was not done.'
        notes.add("act-after-end", "warning", message, (act.cell,), act.step)
    return Run(made.plan, rules.name, "fast", trace, notes.findings())


@pytest.mark.parametrize("first", range(0, WORLDS, 8))
def test_it_gives_the_same_on_random_worlds(first):
    for seed in range(first, min(first + 8, WORLDS)):
        found = compare(random_world(seed), reference, native)
        assert found is None, str(found)


def test_it_gives_the_same_on_every_world_that_was_kept():
    for made in kept():
        found = compare(made, reference, native)
        assert found is None, str(found)


@pytest.mark.parametrize("made", examples()[1::3], ids=lambda made: made.name)
def test_it_gives_the_same_on_the_examples(made):
    assert compare(made, reference, native, ["standard", "odd"]) is None


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 9, 10, 13])
def test_a_copy_goes_on_as_the_original_and_leaves_it_alone(seed):
    made = random_world(seed)
    acts = [act for act in script(made.plan, made.acts) if act.step < made.steps]
    setup = Setup(made.plan, load_rules())
    whole = trace_of(setup, made.watched(), acts, made.steps)
    assert whole is not None
    for at in (1, 20, made.steps // 2):
        sim = Simulation(setup, watch=made.watched(), stimuli=acts)
        sim.advance(at)
        copy, third = sim.copy(), sim.copy()
        third.advance(made.steps + 100)
        for one in (copy, sim):
            one.advance(made.steps)
            assert one.trace(made.steps) == whole[0]
            assert one.notes.findings() == whole[1].findings()


def test_a_run_by_single_steps_is_the_same_run():
    plan = load(EXAMPLES / "torch-clock.toml")
    one, other = (Simulation(Setup(plan, load_rules()), watch=plan.outputs) for _ in range(2))
    one.advance(200)
    for step in range(200):
        other.step(step)
    assert other.trace(200) == one.trace(200)
    assert other.shown() == one.shown()


def test_a_run_gives_up_after_so_much_work():
    ring = {(x, y, 0): "block" for x in range(3) for y in range(2)} | {
        (0, 0, 1): "wire", (1, 0, 1): "repeater east", (2, 0, 1): "wire",
        (2, 1, 1): "wire", (1, 1, 1): "repeater west", (0, 1, 1): "wire",
    }  # fmt: skip
    plan = world(ring)
    pulse = parse_script(plan, ["0:0,1,1:place=power-block", "2:0,1,1:place=wire"])
    sim = Simulation(Setup(plan, load_rules()), stimuli=pulse)
    assert not sim.advance(10**9, most_work=1000)
    assert sim.now < 10_000


def test_what_the_hand_does_by_itself_is_what_a_script_does():
    plan = world({(0, 0, 0): "block", (0, 0, 1): "short-button", (1, 0, 1): "lamp"})
    acts = parse_script(plan, ["5:0,0,1:press", "9:1,0,1:place=block", "9:1,0,1:clear"])
    setup = Setup(plan, load_rules())
    by_script = Simulation(setup, watch={"lamp": (1, 0, 1)}, stimuli=acts)
    by_script.advance(60)
    by_hand = Simulation(setup, watch={"lamp": (1, 0, 1)}, stimuli=[acts[1]._replace(step=10**6)])
    by_hand.advance(6)
    by_hand.do(acts[0])
    assert by_hand.shown() == [15]
    with pytest.raises(UsageError, match="was not told of"):
        by_hand.do(acts[1]._replace(part=acts[1].part._replace(kind="insulator")))
    assert by_script.trace(60).changes["lamp"] == ((0, 0), (5, 15), (9, 0))


def test_a_seed_that_cannot_be_shuffled_is_said_once_the_call_is_over(monkeypatch):
    def broken(order):
        def key(cell):
            raise KeyboardInterrupt

        return key

    monkeypatch.setattr("tickwright.engine.native.simulation.notification_order", broken)
    with pytest.raises(KeyboardInterrupt):
        Simulation(Setup(world({(0, 0, 0): "block"}), load_rules(), "7"))
