"""Both engines' ways through the states of a circuit: the same states, reached by the same acts, showing the same."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from tickwright.engine.native import StateGraph
from tickwright.engine.reference import Simulation
from tickwright.errors import UsageError
from tickwright.measurement import find_trigger
from tickwright.measurement.observe import settle
from tickwright.plan import Plan, load
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet, load_rules
from tickwright.verify import proof, prove
from tickwright.verify.ways import FastWays, ReferenceWays, needs_reference
from worlds.generator import SWITCHES, random_world

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
WORLDS = Path(__file__).resolve().parents[1] / "worlds"
SOME_STATES = 150


def parting(
    plan: Plan,
    rules: RuleSet,
    order: str = "canonical",
    most_states: int = SOME_STATES,
    other_rules: RuleSet | None = None,
) -> str | None:
    """Walk both ways from the start, first found first expanded; where they part, or None.

    With `other_rules` the fast engine has those, and is another engine.
    """
    triggers = [find_trigger(Setup(plan, rules), name) for name in plan.triggers]
    assert not needs_reference(plan, triggers)
    sim = Simulation(Setup(plan, rules, order), plan.outputs)
    first, _ = settle(sim)
    sim.now = first - 1
    slow, fast = ReferenceWays(sim, triggers), FastWays(Setup(plan, other_rules or rules, order), triggers, None, first)
    number = {slow.start.state: fast.start.state}
    waiting = deque([(slow.start.payload, fast.start.payload)])
    for state in range(most_states):
        if not waiting:
            break
        one, other = waiting.popleft()
        if slow.look(one) != fast.look(other):
            return f"state {state}: {slow.look(one)} against {fast.look(other)}"
        steps, others = list(slow.onward(one, 4)), list(fast.onward(other, 4))
        stimuli = [[(stimulus.cell, stimulus.verb) for stimulus in step.stimuli] for step in steps]
        if stimuli != [[(stimulus.cell, stimulus.verb) for stimulus in step.stimuli] for step in others]:
            return f"state {state}: {len(steps)} ways against {len(others)}"
        for mine, yours in zip(steps, others, strict=True):
            if mine.state not in number:
                number[mine.state] = yours.state
                waiting.append((mine.payload, yours.payload))
            if number[mine.state] != yours.state or mine.levels != yours.levels:
                return f"state {state}, acts {mine.stimuli}: {mine.levels} against {yours.levels}"
    return None if len(set(number.values())) == len(number) else "two states of the reference have one number"


def pressable(seed: int) -> Plan:
    """A random world in which nothing moves: up to three of its switches are the triggers, some cells the outputs."""
    plan = random_world(seed, static=True).plan
    plates = {cell for cell, part in plan.cells.items() if part.kind.endswith("-plate")}
    cells = {cell: part for cell, part in plan.cells.items() if cell not in plates}
    switches = [cell for cell, part in cells.items() if part.kind in SWITCHES]
    return replace(
        plan,
        cells=cells,
        triggers={f"t{number}": cell for number, cell in enumerate(switches[:3])},
        outputs={f"o{number}": cell for number, cell in enumerate(list(cells)[::3])},
    )


@pytest.mark.parametrize("seed", range(24))
def test_random_circuits_have_the_same_states_in_both_engines(seed):
    rules = ("standard", "older-wire", "odd-rules.toml")[seed % 3]
    order = ("canonical", "reversed", "7")[seed // 3 % 3]
    assert parting(pressable(seed), load_rules(rules, WORLDS), order) is None


@pytest.mark.parametrize("name", ["flat-loop-4", "latch", "difference-fader", "torch-clock", "edge-detector"])
def test_examples_have_the_same_states_in_both_engines(name):
    assert parting(load(EXAMPLES / f"{name}.toml"), load_rules(), most_states=1000) is None


def test_another_engine_is_found_out():
    plan = load(EXAMPLES / "flat-loop-4.toml")
    rules = load_rules()
    slow = msgspec.structs.replace(rules, comparator=msgspec.structs.replace(rules.comparator, delay=3))
    assert "against" in (parting(plan, rules, other_rules=slow) or "")


@pytest.mark.parametrize(
    ("name", "claim", "options"),
    [
        ("flat-loop-4", "settles", {}),
        ("flat-loop-4", "settles", {"within_steps": 60}),
        ("flat-loop-4", "settles", {"hands": 2, "grid_steps": 3}),
        ("flat-loop-4", "expectations", {}),
        ("flat-loop-4", "never-sticks", {"order": "reversed"}),
        ("latch", "never-sticks", {}),
        ("latch", "settles", {}),
        ("pulse-shortener", "expectations", {}),
        ("pulse-shortener", "never-sticks", {"states": 20}),
        ("torch-clock", "settles", {}),
        ("edge-detector", "never-sticks", {"rules": "older-wire"}),
    ],
)
def test_a_proof_is_the_same_by_either_way(name, claim, options, monkeypatch):
    plan = load(EXAMPLES / f"{name}.toml")
    slow = prove(plan, claim, **options).as_data()
    monkeypatch.setattr("tickwright.verify.proof.MOST_WORK", 1)
    fast = prove(plan, claim, **options).as_data()
    assert slow.pop("seconds") > 0
    assert fast.pop("seconds") > 0
    assert slow == fast


def test_long_proofs_go_over_to_the_fast_engine(monkeypatch):
    asked = []

    def seen(question, ways, limit, progress):
        asked.append(limit)
        return whole(question, ways, limit, progress)

    whole = proof.prove_whole
    monkeypatch.setattr("tickwright.verify.proof.prove_whole", seen)
    taps = load(EXAMPLES / "taps-loop.toml")
    long = prove(taps, "settles")
    assert (long.verdict, asked) == ("proved", [100_000])
    assert long.states > proof.MOST_WORK / len(taps.cells)


def test_a_graph_of_states_takes_no_items_and_no_moving_cells():
    plan = load(EXAMPLES / "hopper-clock.toml")
    with pytest.raises(UsageError, match="in which items or cells may move"):
        StateGraph(Setup(plan, load_rules()), plan.outputs, list(plan.triggers.values()), [(0,)], 1)
