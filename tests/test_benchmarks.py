"""The benchmarks' circuits are what they are said to be, and what the engines are measured against runs the same."""

from __future__ import annotations

import sys
from itertools import islice
from pathlib import Path

import pytest

from tickwright import load_rules, run
from tickwright.engine.circuit import circuit_of
from tickwright.plan import validate
from tickwright.plan.setup import Setup

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
RULES = load_rules()
WATCHED = ("repeater", "comparator", "torch", "lamp", "change-sensor")
STEPS = 90


@pytest.fixture(name="bench")
def bench_modules(monkeypatch):
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    import peers
    import workloads

    yield workloads, peers
    for name in ("peers", "workloads"):
        sys.modules.pop(name, None)


@pytest.mark.parametrize(("kind", "parts"), [("ring", 400), ("idle", 300), ("mixed", 400)])
def test_peers_run_the_same_circuit(bench, kind, parts):
    workloads, peers = bench
    work = getattr(workloads, kind)(parts)
    validate(work.plan, RULES)
    assert 0.7 * parts <= len(work.plan.cells) <= 1.4 * parts
    watch = {str(cell): cell for cell, part in work.plan.cells.items() if part.kind in WATCHED}
    trace = run(work.plan, work.stimuli, work.going_at + STEPS, watch=watch).trace
    circuit = circuit_of(Setup(work.plan, RULES))
    for loop in (peers.HeapLoop(circuit), peers.SimPyLoop(circuit)):
        loop.run(work.stimuli, work.going_at + STEPS)
        levels = {name: loop.parts.level[circuit.index[cell]] for name, cell in watch.items()}
        assert levels == {name: trace.value_at(name, trace.steps - 1) for name in watch}


def test_what_should_be_active_is(bench):
    workloads, _ = bench
    for kind, share in (("ring", 0.5), ("mixed", 0.8)):
        work = getattr(workloads, kind)(400)
        watch = {str(cell): cell for cell, part in work.plan.cells.items() if part.kind in WATCHED}
        trace = run(work.plan, work.stimuli, work.going_at + STEPS, watch=watch).trace
        active = [name for name in watch if trace.changes[name][-1][0] >= work.going_at]
        assert len(active) > share * len(watch)


def test_small_loops_differ_and_come_to_rest(bench):
    workloads, _ = bench
    plans = list(islice(workloads.small_loops(50_000), 300))
    assert len({tuple(sorted(plan.cells.items())) for plan in plans}) == 300
    for plan in plans[:20]:
        validate(plan, RULES)
        changes = run(plan, ["0:press"], 2_000).trace.changes["lamp"]
        assert [value for _, value in changes] == [0, 15, 0]
        assert changes[-1][0] < 500


def test_the_bare_rings_turn_in_icarus(bench, need_tool):
    need_tool("iverilog")
    _, peers = bench
    for text in (peers.bare_ring(8), peers.clocked_ring(8)):
        bench_ = peers.Icarus(text)
        assert bench_.seconds(100) >= 0


def test_the_exported_bench_can_be_told_how_long_to_run(bench, need_tool):
    need_tool("iverilog")
    workloads, peers = bench
    work = workloads.mixed(100)
    exported = peers.IcarusCircuit(circuit_of(Setup(work.plan, RULES)), work.plan.outputs, work.stimuli, work.going_at)
    assert exported.seconds(10) >= 0
