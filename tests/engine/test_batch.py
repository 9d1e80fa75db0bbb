"""Batches: what they sum up must be what single runs of the reference engine show."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.engine.circuit import circuit_of
from tickwright.engine.fast import Batch, Job
from tickwright.engine.reference import Simulation
from tickwright.engine.trace import Recorder
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS, PISTONS
from tickwright.plan import load, parse_script
from tickwright.plan.hand import USUAL, Stimulus
from tickwright.rules import load_rules
from watching import world
from worlds.differ import ORDERS, RULE_SETS, rule_set
from worlds.generator import random_world

EXAMPLES = [
    path
    for path in sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
    if not any(part.kind in PISTONS for part in load(path).cells.values())
]
RULES = load_rules()
STEPS = 300


def summed(plan, acts, presses):
    """What `rows_of` makes of a run of the reference engine."""
    recorder = Recorder(plan.outputs)
    sim = Simulation(plan, RULES, watch=plan.outputs, sample=recorder.sample, button_steps=presses)
    sim.queue_stimuli(acts)
    sim.advance(STEPS)
    return rows_of(recorder.finish(STEPS))


def rows_of(trace):
    """Per watched cell: first on, last off, pulses, highest, last, changes."""
    rows = []
    for changes in trace.changes.values():
        pairs = [(-1, 0), *changes]
        on = [step for (_, before), (step, value) in zip(pairs, changes, strict=False) if value > 0 and before == 0]
        off = [step for (_, before), (step, value) in zip(pairs, changes, strict=False) if value == 0 and before > 0]
        number = sum(1 for (_, before), (_, value) in zip(pairs, changes, strict=False) if value != before)
        values = [value for _, value in changes]
        rows.append([(on or [-1])[0], (off or [-1])[-1], len(on), max(values), values[-1], number])
    return rows


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_batch_sums_up_what_single_runs_show(path):
    """Every trigger used once and twice; buttons pressed for their own time and for other times."""
    plan = load(path)
    batch = Batch([circuit_of(plan, RULES, also=plan.triggers.values())], [tuple(plan.outputs.values())])
    jobs, expected = [Job(0)], [summed(plan, [], {})]
    for cell in plan.triggers.values():
        button = cell in plan.cells and plan.cells[cell].kind in BUTTONS
        for length in (0, 1, 7, 70) if button else (0,):
            acts = (Stimulus(3, cell, USUAL), Stimulus(110, cell, USUAL))
            jobs.append(Job(0, acts, (length, length)))
            expected.append(summed(plan, acts, {cell: length} if length else {}))
    made = batch.jobs(jobs)
    for workers in (1, 2):
        assert found(batch.run(made, STEPS, workers)) == expected


def found(done):
    """For each job the rows that a batch gives."""
    columns = zip(done.first_on, done.last_off, done.pulses, done.highest, done.last, done.changes, strict=True)
    rows = [[int(value) for value in row] for row in columns]
    return [rows[a:b] for a, b in zip(done.start, done.start[1:], strict=False)]


def worlds_without_moves(seeds):
    """Random worlds in which no cell moves and none is built, items among them."""
    for seed in seeds:
        world = random_world(seed)
        pistons = any(part.kind in PISTONS for part in world.plan.cells.values())
        if not pistons and not any(word in act for act in world.acts for word in ("place", "clear")):
            yield seed, world


@pytest.mark.parametrize("first", range(0, 120, 30))
def test_a_batch_of_random_worlds_sums_up_what_their_runs_show(first):
    """All in one batch, under three rule sets and orders; every cell is watched."""
    circuits, watched, jobs, expected = [], [], [], []
    for seed, made in worlds_without_moves(range(first, first + 30)):
        rules, order = rule_set(RULE_SETS[seed % 3]), ORDERS[seed // 3 % 3]
        acts = parse_script(made.plan, made.acts)
        circuits.append(circuit_of(made.plan, rules, order, also=[act.cell for act in acts]))
        watched.append(tuple(made.watched().values()))
        jobs.append(Job(len(jobs), tuple(act for act in acts if act.step < STEPS)))
        alone = run(made.plan, made.acts, STEPS, rules, order, "reference", made.watched())
        expected.append(rows_of(alone.trace))
    assert len(jobs) >= 5
    batch = Batch(circuits, watched)
    assert found(batch.run(batch.jobs(jobs), STEPS)) == expected


def test_circuits_of_all_sizes_do_not_disturb_each_other():
    """Forty lines of 1 to 13 wires, some in which a torch clock goes on for ever, in mixed order, twice each."""
    circuits, watched, ends = [], [], []
    for number in range(40):
        length = 1 + number % 13
        parts = {(x, 0, 0): "block" for x in range(length + 2)} | {(x, 0, 1): "wire" for x in range(1, length + 1)}
        parts |= {(0, 0, 1): "short-button", (length + 1, 0, 1): "lamp"}
        if number % 3 == 0:  # a torch that hears itself
            parts |= {(0, 3, 0): "block", (0, 3, 1): "block", (1, 3, 1): "torch on=west", (1, 3, 2): "block"}
            parts |= {(0, 3, 2): "wire", (1, 3, 0): "block"}
        circuits.append(circuit_of(world(parts), RULES))
        watched.append([(length + 1, 0, 1)])
        ends.append(number % 3 != 0)
    batch = Batch(circuits, watched)
    jobs = batch.jobs(Job(n, (Stimulus(5, (0, 0, 1), "press"),)) for n in [*range(40), *reversed(range(40))])
    done = batch.run(jobs, 100)
    assert set(done.first_on.tolist()) == {5}
    assert set(done.last_off.tolist()) == {29}  # 20 steps of the button, 4 of the lamp
    assert [bool(rest) for rest in done.at_rest] == [*ends, *reversed(ends)]


def test_what_a_batch_cannot_do_is_refused():
    with pytest.raises(UsageError, match="there is a piston at"):
        Batch([circuit_of(world({(0, 0, 0): "piston up"}), RULES)], [[]])
    batch = Batch([circuit_of(world({(0, 0, 0): "block"}), RULES)], [[]])
    with pytest.raises(UsageError, match="cannot be done"):
        batch.jobs([Job(0, (Stimulus(0, (0, 0, 0), "clear"),))])
    with pytest.raises(UsageError, match="no actor for"):
        batch.jobs([Job(0, (Stimulus(0, (0, 0, 9), "drop"),))])
