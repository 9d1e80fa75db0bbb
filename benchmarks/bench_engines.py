"""The engines against general-purpose simulators on the same circuits, turn by turn; processor seconds throughout.

Processor time is not wall time: other work on the machine lengthens it less. Every figure is a median of a few turns;
in a turn ours and each peer follow one another.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from peers import (
    HeapLoop,
    Icarus,
    IcarusCircuit,
    SimPyLoop,
    Verilator,
    bare_ring,
    clocked_ring,
    icarus_is_there,
    processor_seconds,
    timed,
    verilator_is_there,
)
from run import Result
from workloads import BUTTON, Workload, idle, mixed, ring, small_loops

from tickwright import Plan, load, load_rules
from tickwright.engine.circuit import Circuit, circuit_of
from tickwright.engine.native import Batch, Job, Simulation, press_lengths
from tickwright.plan import Stimulus, save
from tickwright.plan.setup import Setup

RULES = load_rules()
MOST_TURNS = 3
LOOP = Path(__file__).resolve().parents[1] / "examples" / "flat-loop-4.toml"
TEN = Path(__file__).with_name("ten-parts.toml")
LENGTHS = 4096
LOOPS = 10_000  # of the 57,800 there are
# Icarus Verilog compiles an export of 500 parts that act in 0.15 s, of 1,000 in 0.7 s, of 2,000 in 5 s.
MOST_EXPORTED = 3_000
MOST_PEERS = 20_000  # parts; beyond, what the others load takes longer than all the rest
PRESSES = 100
ICARUS, BARE, CLOCKED = "Icarus, exported", "Icarus, bare delays", "Icarus, clocked"
VERILATOR, SIMPY, HEAP = "Verilator, clocked", "SimPy", "Python heap"
# How many part-events of each are timed in a turn.
EVENTS_FAST, EVENTS_PYTHON, EVENTS_ICARUS, EVENTS_VERILOG = 2_000_000, 30_000, 150_000, 1_000_000


class Row(NamedTuple):
    """A row of the table: what was run, in which unit, our figures turn by turn, and those of each peer.

    `more` says that more is better, as of runs a second. `note` says what a reader should know of the row.
    """

    what: str
    unit: str
    ours: list[float]
    peers: dict[str, list[float]]
    more: bool = False
    note: str = ""

    def ratio(self, peer: str) -> float:
        """How many times better ours is: the median of the turns' own ratios."""
        pairs = zip(self.ours, self.peers[peer], strict=True)
        return statistics.median(ours / theirs if self.more else theirs / ours for ours, theirs in pairs)


def measure(repeats: int) -> list[Result]:
    """Every row as results: our figure, and the ratio to each peer."""
    results = []
    for row in rows(repeats):
        results.append(Result(row.what, statistics.median(row.ours), row.unit, min(row.ours), max(row.ours)))
        for peer in row.peers:
            ratio = row.ratio(peer)
            results.append(Result(f"  times better than {peer}", ratio, "times", ratio, ratio))
    return results


def rows(repeats: int) -> Iterator[Row]:
    """All rows of the table, one after the other."""
    turns = min(repeats, MOST_TURNS)
    for parts in (100, 1_000, 10_000, 100_000):
        yield events_row(ring(parts), turns, is_ring=True)
    yield events_row(mixed(4_000), turns)
    for parts in (2_000, 10_000, 1_000_000):
        yield idle_row(parts, turns)
    yield from loops_rows(turns)
    yield lengths_row(turns)
    for parts in (10, 10_000):
        yield cold_row(parts, turns)
    yield file_row(turns)


def say(text: str) -> None:
    """Tell on a terminal's stderr what is being measured."""
    if sys.stderr.isatty():
        print(f"\r{text}\033[K", end="", file=sys.stderr, flush=True)


def icarus_circuit(work: Workload, circuit: Circuit | None = None) -> IcarusCircuit | None:
    """The workload in Icarus Verilog, if the machine has it and the circuit is small enough for it."""
    circuit = circuit or circuit_of(Setup(work.plan, RULES))
    if not icarus_is_there() or circuit.n > MOST_EXPORTED:
        return None
    return IcarusCircuit(circuit, work.plan.outputs, work.stimuli, work.going_at)


# --- part-events ----------------------------------------------------------------------------------------------------


def going(work: Workload) -> Simulation:
    """The fast engine on a workload, up to where all of it is going."""
    simulation = Simulation(Setup(work.plan, RULES), watch=work.plan.outputs, stimuli=work.stimuli)
    simulation.advance(work.going_at)
    return simulation


def events_of(simulation: Simulation) -> int:
    """How many parts have acted."""
    return simulation.events


def events_row(work: Workload, turns: int, is_ring: bool = False) -> Row:
    """Nanoseconds for each part that acts."""
    say(work.name)
    circuit = circuit_of(Setup(work.plan, RULES))
    simulation = going(work)
    before = events_of(simulation)
    simulation.advance(work.going_at + 120)
    a_step = (events_of(simulation) - before) / 120
    exported = icarus_circuit(work, circuit)
    rings = _verilog_rings(work) if is_ring and len(work.plan.cells) <= MOST_PEERS else {}
    repeaters = sum(part.kind == "repeater" for part in work.plan.cells.values())
    ours: list[float] = []
    peers: dict[str, list[float]] = {}
    python = (HEAP, HeapLoop), (SIMPY, SimPyLoop)
    for _ in range(turns):
        ours.append(_fast_event(work, steps=round(EVENTS_FAST / a_step)))
        figures = {}
        if len(work.plan.cells) <= MOST_PEERS:
            steps = round(EVENTS_PYTHON / a_step) + 4
            figures = {peer: _python_event(loop, work, circuit, steps) for peer, loop in python}
        if exported is not None:
            steps = round(EVENTS_ICARUS / a_step)
            figures[ICARUS] = exported.steady_seconds(steps) / (steps * a_step)
        for peer, (bench, events) in rings.items():
            ticks = max(2, round(events / repeaters))
            figures[peer] = (bench.seconds(ticks + 1) - bench.seconds(1)) / (ticks * repeaters / 2)
        for peer, figure in figures.items():
            peers.setdefault(peer, []).append(figure * 1e9)
    return Row(work.name, "ns an event", ours, peers, note=f"{a_step:,.0f} events a step")


def _verilog_rings(work: Workload) -> dict[str, tuple[Icarus | Verilator, int]]:
    """Rings of as many repeaters that know nothing but delays, or a clock, and how many parts to visit in each."""
    repeaters = sum(part.kind == "repeater" for part in work.plan.cells.values())
    rings: dict[str, tuple[Icarus | Verilator, int]] = {}
    if icarus_is_there():
        rings[BARE] = Icarus(bare_ring(repeaters)), EVENTS_VERILOG
        rings[CLOCKED] = Icarus(clocked_ring(repeaters)), EVENTS_VERILOG
    if verilator_is_there():
        rings[VERILATOR] = Verilator(clocked_ring(repeaters)), 20 * EVENTS_VERILOG
    return rings


def _fast_event(work: Workload, steps: int) -> float:
    simulation = going(work)
    before = events_of(simulation)
    seconds = timed(lambda: simulation.advance(work.going_at + steps))
    return seconds / (events_of(simulation) - before) * 1e9


def _python_event(loop: type[HeapLoop | SimPyLoop], work: Workload, circuit: Circuit, steps: int) -> float:
    peer = loop(circuit)
    peer.run(work.stimuli, work.going_at)
    before = peer.parts.events
    seconds = timed(lambda: peer.run((), work.going_at + steps))
    return seconds / (peer.parts.events - before)


# --- idle parts -----------------------------------------------------------------------------------------------------


def idle_row(parts: int, turns: int) -> Row:
    """Microseconds for each tick of a large plan in which one loop of 20 parts is all that happens."""
    work = idle(parts)
    say(work.name)
    circuit = circuit_of(Setup(work.plan, RULES)) if parts <= 10_000 else None
    exported = icarus_circuit(work, circuit) if circuit is not None else None
    ours: list[float] = []
    peers: dict[str, list[float]] = {}
    simulation = going(work)
    at = work.going_at
    for _ in range(turns):
        steps = 2_000_000
        seconds = timed(lambda until=at + steps: simulation.advance(until))
        at += steps
        ours.append(seconds / steps * 2e6)
        if circuit is not None:
            if exported is not None:
                peers.setdefault(ICARUS, []).append(exported.steady_seconds(40_000) / 40_000 * 2e6)
            heap = HeapLoop(circuit)
            heap.run(work.stimuli, work.going_at)
            seconds = timed(lambda peer=heap: peer.run((), work.going_at + 20_000))
            peers.setdefault(HEAP, []).append(seconds / 20_000 * 2e6)
    return Row(work.name, "µs a tick", ours, peers)


# --- many small circuits --------------------------------------------------------------------------------------------

PRESSED = (Stimulus(0, BUTTON, "press"),)
REST = 2_000  # every small loop is at rest long before


def loops_rows(turns: int) -> Iterator[Row]:
    """Different small loops, each pressed once and run to rest, a second; and what a second core adds."""
    say("small loops")
    plans = list(small_loops(LOOPS))
    batch = Batch()
    making = timed(lambda: [batch.add_plan(Setup(plan, RULES)) for plan in plans])
    jobs = batch.jobs([Job(number, PRESSED) for number in range(LOOPS)])
    circuits = [circuit_of(Setup(plan, RULES)) for plan in plans[:200]]
    exported = icarus_circuit(loops_side_by_side(plans[:200]))
    ours, gain = [], []
    peers: dict[str, list[float]] = {}
    for _ in range(turns):
        ours.append(LOOPS / timed(lambda: batch.run(jobs, REST, workers=1)))
        walls = []
        for workers in (1, 2):
            start = time.perf_counter()
            batch.run(jobs, REST, workers)
            walls.append(time.perf_counter() - start)
        gain.append(walls[0] / walls[1])
        heaps = [HeapLoop(circuit) for circuit in circuits]
        seconds = timed(lambda many=heaps: [one.run(PRESSED, REST) for one in many])
        peers.setdefault(HEAP, []).append(len(heaps) / seconds)
        if exported is not None:
            peers.setdefault(ICARUS, []).append(200 / exported.steady_seconds(REST))
    note = f"built and run; packed before, {LOOPS / making:,.0f} a second"
    yield Row(f"{LOOPS:,} different small loops to rest", "circuits a second", ours, peers, more=True, note=note)
    yield Row("the same on two cores", "times faster, wall time", gain, {}, more=True)


def loops_side_by_side(plans: list[Plan]) -> Workload:
    """Small loops in one plan, far enough apart, all pressed in step 0: a file for each would be all loading."""
    cells, stimuli = {}, []
    for number, plan in enumerate(plans):
        left, top = 12 * (number % 80), 12 * (number // 80)
        cells |= {(x + left, y + top, z): part for (x, y, z), part in plan.cells.items()}
        stimuli.append(Stimulus(0, (BUTTON[0] + left, BUTTON[1] + top, BUTTON[2]), "press"))
    watched = next(iter(plans[0].outputs.values()))
    return Workload(f"{len(plans)} loops", Plan(cells, outputs={"out": watched}), tuple(stimuli), 1)


def lengths_row(turns: int) -> Row:
    """One loop pressed for every length from 1 step on and run to rest, a second."""
    say("trigger lengths")
    plan = load(LOOP)
    button = plan.triggers["press"]
    press = [Stimulus(0, button, "press")]
    setup = Setup(plan, RULES)
    circuit = circuit_of(setup)
    simulation = Simulation(setup, watch=plan.outputs)
    lengths = range(1, LENGTHS + 1)
    stimuli = tuple(Stimulus(400 * number, button, "press") for number in range(PRESSES))
    exported = icarus_circuit(Workload("", plan, stimuli, 400 * PRESSES))
    loading = icarus_circuit(Workload("", plan, stimuli[:1], 1))
    ours: list[float] = []
    peers: dict[str, list[float]] = {}
    for _ in range(turns):
        seconds = timed(lambda: [press_lengths(simulation, button, 0, lengths, 2 * LENGTHS) for _ in range(10)])
        ours.append(10 * LENGTHS / seconds)
        heaps = [HeapLoop(circuit) for _ in range(100)]
        seconds = timed(lambda many=heaps: [one.run(press, REST) for one in many])
        peers.setdefault(HEAP, []).append(len(heaps) / seconds)
        if exported is not None:
            peers.setdefault(ICARUS, []).append(PRESSES / (exported.seconds(0) - loading.seconds(0)))
    note = "lengths beyond rest while held are shifted; the others press 20 steps each time"
    return Row(f"one loop under {LENGTHS:,} trigger lengths", "runs a second", ours, peers, more=True, note=note)


# --- from a cold start ----------------------------------------------------------------------------------------------


def cold_row(parts: int, turns: int) -> Row:
    """Seconds of a command from a cold start to its first result; Icarus: compiling and running what was exported."""
    say(f"cold start, {parts:,} parts")
    work = mixed(parts) if parts > 10 else None
    plan = load(TEN) if work is None else work.plan
    stimuli = (
        [Stimulus(5, cell, "press") for cell in plan.triggers.values()] if work is None else list(work.stimuli[:2])
    )
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "plan.toml"
        save(plan, file)
        command = [sys.executable, "-m", "tickwright", "run", str(file), "--for", "200 steps"]
        command += [word for stimulus in stimuli for word in ("--do", str(stimulus))]
        ours, peers = _against_icarus(command, file.parent, plan, stimuli, turns)
    return Row(f"cold start to first result, {len(plan.cells):,} parts", "s", ours, peers)


def file_row(turns: int) -> Row:
    """Seconds from a file of 100,000 parts to its first step, the start of Python and its libraries included.

    `tickwright run` looks for mistakes in the plan as well, which is not timed here.
    """
    say("file to first step")
    work = ring(100_000)
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "plan.toml"
        save(work.plan, file)
        first_step = f"from tickwright import load, run; run(load({str(file)!r}), steps=1)"
        command = [sys.executable, "-c", first_step]
        ours = [processor_seconds(command, file.parent) for _ in range(turns)]
    return Row(f"file to first step, {len(work.plan.cells):,} parts", "s", ours, {})


def _against_icarus(
    command: list[str], folder: Path, plan: Plan, stimuli: list[Stimulus], turns: int
) -> tuple[list[float], dict[str, list[float]]]:
    ours: list[float] = []
    peers: dict[str, list[float]] = {}
    processor_seconds(command, folder)
    for _ in range(turns):
        ours.append(processor_seconds(command, folder))
        exported = icarus_circuit(Workload("", plan, tuple(stimuli), 200))
        if exported is not None:
            peers.setdefault(ICARUS, []).append(exported.bench.compiling + exported.seconds(0))
    return ours, peers
