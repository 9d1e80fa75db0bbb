"""The fast engine: the same as the reference on every example, chosen by itself when it pays, and its own machinery."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tickwright.engine import run
from tickwright.plan import load
from watching import name, watch, world

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("rules", ["standard", "older-wire"])
def test_every_example_runs_the_same_on_both_engines(path, rules):
    """Every cell watched; each trigger used at 3, 40 and 41."""
    plan = load(path)
    cells = {name(cell): cell for cell in plan.cells}
    acts = [f"{step}:{trigger}" for step in (3, 40, 41) for trigger in plan.triggers]
    for order in ("canonical", "reversed", "7"):
        by_reference = run(plan, acts, 400, rules, order, "reference", cells)
        by_fast = run(plan, acts, 400, rules, order, "fast", cells)
        assert by_fast.trace == by_reference.trace
        assert by_fast.findings == by_reference.findings


CLOCK = {(x, y, 0): "block" for x in range(3) for y in range(2)} | {
    (0, 0, 1): "wire", (1, 0, 1): "repeater east", (2, 0, 1): "wire",
    (2, 1, 1): "wire", (1, 1, 1): "repeater west", (0, 1, 1): "wire",
}  # fmt: skip


def test_small_jobs_stay_on_the_reference_and_large_ones_do_not():
    """A ring of two repeaters in which a pulse runs for ever: one event and one step in every two."""
    plan = world(CLOCK)
    pulse = ["0:0,1,1:place=power-block", "2:0,1,1:place=wire"]
    cells = {"a": (0, 0, 1)}
    assert run(plan, pulse, 1_000, watch=cells).engine == "reference"
    long = run(plan, pulse, 60_000, watch=cells)
    assert long.engine == "fast"
    assert long.trace == run(plan, pulse, 60_000, watch=cells, engine="reference").trace


def test_a_small_run_does_not_load_the_library():
    code = (
        "import sys; from tickwright.plan import load; from tickwright.engine import run;"
        f"run(load({str(EXAMPLES[0])!r}), [], 100);"
        "print('tickwright.engine.native' in sys.modules, 'numpy' in sys.modules)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.split() == ["False", "False"]


def test_delays_longer_than_the_wheel_keep_their_order():
    """Two torch clocks that burn out in the same step, rest 160 steps and light again in the order of their cells."""
    burner = {
        (0, 0, 0): "block",
        (0, 0, 1): "block",
        (1, 0, 0): "block",
        (1, 0, 1): "torch on=west",
        (1, 0, 2): "block",
    }
    burner |= {(0, 0, 2): "wire", (0, 1, 0): "block"}
    parts = burner | {(x, y + 4, z): part for (x, y, z), part in burner.items()}
    done = watch(parts, [], 2_000, [(1, 0, 1), (1, 4, 1)])
    assert [finding.cells for finding in done.findings if finding.code == "torch-burns-out"] == [
        ((1, 0, 1),),
        ((1, 4, 1),),
    ]


def test_stacks_may_grow_without_end():
    """An ejector that a clock empties, one item in eight steps, lays more stacks than there first is room for.

    It fires at 6, 14, ..., 2998: 375 times. An edge that comes in the step in which it acts is lost.
    """
    parts = {(x, y, z + 1): part for (x, y, z), part in CLOCK.items()}
    parts |= {(4, 0, 0): "block", (3, 0, 1): "ejector east items=500"}
    acts = ["0:0,1,2:place=power-block", "2:0,1,2:place=wire", "2999:4,0,1:take"]
    done = watch(parts, acts, 3_000, [(3, 0, 1)])
    assert done.trace.value_at(name((3, 0, 1)), 2_999) == 125
    assert done.findings == ()
