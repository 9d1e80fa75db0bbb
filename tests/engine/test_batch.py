"""Batches: what they sum up must be what single runs of the reference engine show."""

from __future__ import annotations

from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.engine.native import Batch, Job, press_lengths
from tickwright.engine.native import Simulation as NativeSimulation
from tickwright.engine.reference import Simulation
from tickwright.engine.trace import Recorder
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS, parse_part
from tickwright.plan import load, parse_script
from tickwright.plan.hand import USUAL, Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules
from watching import world
from worlds.differ import ORDERS, RULE_SETS, rule_set
from worlds.generator import random_world

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
RULES = load_rules()
STEPS = 300


def summed(plan, acts, presses):
    """What `rows_of` makes of a run of the reference engine."""
    recorder = Recorder(plan.outputs)
    sim = Simulation(Setup(plan, RULES), watch=plan.outputs, sample=recorder.sample, button_steps=presses)
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
    batch = Batch()
    batch.add_plan(Setup(plan, RULES))
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


@pytest.mark.parametrize("first", range(0, 60, 20))
def test_a_batch_of_random_worlds_sums_up_what_their_runs_show(first):
    """All in one batch, under three rule sets and orders, pistons and building among them; every cell is watched."""
    batch, jobs, expected = Batch(), [], []
    for seed in range(first, first + 20):
        made = random_world(seed)
        rules, order = rule_set(RULE_SETS[seed % 3]), ORDERS[seed // 3 % 3]
        acts = parse_script(made.plan, made.acts)
        layout = batch.add(made.plan.cells, made.watched().values(), rules, order)
        jobs.append(Job(layout, tuple(act for act in acts if act.step < STEPS)))
        alone = run(made.plan, made.acts, STEPS, rules, order, "reference", made.watched())
        expected.append(rows_of(alone.trace))
    assert found(batch.run(jobs, STEPS)) == expected
    assert found(batch.run(jobs[::-1], STEPS, workers=2)) == expected[::-1]


def test_circuits_of_all_sizes_do_not_disturb_each_other():
    """Forty lines of 1 to 13 wires, some in which a torch clock goes on for ever, in mixed order, twice each."""
    batch, ends = Batch(), []
    for number in range(40):
        length = 1 + number % 13
        parts = {(x, 0, 0): "block" for x in range(length + 2)} | {(x, 0, 1): "wire" for x in range(1, length + 1)}
        parts |= {(0, 0, 1): "short-button", (length + 1, 0, 1): "lamp"}
        if number % 3 == 0:  # a torch that hears itself
            parts |= {(0, 3, 0): "block", (0, 3, 1): "block", (1, 3, 1): "torch on=west", (1, 3, 2): "block"}
            parts |= {(0, 3, 2): "wire", (1, 3, 0): "block"}
        batch.add(world(parts).cells, [(length + 1, 0, 1)], RULES)
        ends.append(number % 3 != 0)
    jobs = batch.jobs(Job(n, (Stimulus(5, (0, 0, 1), "press"),)) for n in [*range(40), *reversed(range(40))])
    done = batch.run(jobs, 100)
    assert set(done.first_on.tolist()) == {5}
    assert set(done.last_off.tolist()) == {29}  # 20 steps of the button, 4 of the lamp
    assert [bool(rest) for rest in done.at_rest] == [*ends, *reversed(ends)]


def test_a_layout_changed_in_some_cells_is_that_layout():
    parts = {(x, 0, 0): parse_part("block") for x in range(4)}
    parts |= {(0, 0, 1): parse_part("short-button"), (1, 0, 1): parse_part("wire"), (2, 0, 1): parse_part("lamp")}
    changes = [
        {},
        {(1, 0, 1): None},
        {(1, 0, 1): parse_part("repeater east delay=3")},
        {(2, 0, 1): None, (3, 0, 1): parse_part("lamp"), (0, 0, 1): parse_part("long-button")},
        {(3, 0, 1): None, (2, 1, 1): parse_part("block")},
    ]
    batch, watched = Batch(), [(2, 0, 1), (3, 0, 1)]
    first = batch.add(parts, watched, RULES)
    changed = [batch.change(first, one) for one in changes]
    changed.append(batch.change(changed[-1], {(2, 1, 1): None, (1, 0, 1): parse_part("torch on=down")}))
    plain, wholes = Batch(), [{**parts, **one} for one in changes]
    wholes.append({**parts, (1, 0, 1): parse_part("torch on=down")})
    alone = [plain.add({cell: part for cell, part in one.items() if part}, watched, RULES) for one in wholes]
    press = (Stimulus(3, (0, 0, 1), "press"),)
    expected = found(plain.run([Job(one, press) for one in alone], 100))
    assert found(batch.run([Job(one, press) for one in changed], 100)) == expected
    assert len({str(rows) for rows in expected}) >= 4


def button_of(plan):
    buttons = [cell for cell, part in plan.cells.items() if part.kind in BUTTONS]
    return next((cell for cell in plan.triggers.values() if cell in buttons), None)


@pytest.mark.parametrize("path", [path for path in EXAMPLES if button_of(load(path))][::3], ids=lambda path: path.stem)
def test_presses_of_many_lengths_are_what_single_runs_show(path):
    plan = load(path)
    cell = button_of(plan)
    assert cell is not None
    lengths = [*range(1, 40), 77, 150, 170, 250]
    sim = NativeSimulation(Setup(plan, RULES), watch=plan.outputs)
    sim.advance(20)
    rows = found(press_lengths(sim, cell, 30, lengths, STEPS))
    assert rows == [summed(plan, (Stimulus(30, cell, "press"),), {cell: length}) for length in lengths]
    assert sim.now < 20, "the simulation itself goes on as it was"


def test_a_press_where_there_is_no_button_is_said():
    sim = NativeSimulation(Setup(world({(0, 0, 0): "block"}), RULES))
    with pytest.raises(UsageError, match="no button at"):
        press_lengths(sim, (0, 0, 0), 5, [1], 9)
    with pytest.raises(ValueError, match="refuses"):
        press_lengths(sim, (0, 0, 0), 5, [3, 2], 9)
