"""What users wait for beside plain events: changed plans, pistons, hoppers, states, proofs, loading, cold starts.

Processor seconds throughout. Each figure has its peer in the same turn: the reference engine, the explorer of proofs in
plain Python, or an idle Python.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from bench_engines import PRESSED, REST, RULES, Row, loops_side_by_side, say
from bench_proof import loops
from peers import processor_seconds, timed
from run import Result
from workloads import idle, small_loops

from tickwright import Plan
from tickwright.engine.native import Batch, Job, Simulation, StateGraph
from tickwright.engine.reference import Simulation as ReferenceSimulation
from tickwright.kinds import parse_part
from tickwright.measurement import find_trigger
from tickwright.measurement.observe import settle
from tickwright.plan import Stimulus
from tickwright.plan.setup import Setup
from tickwright.verify.claims import Claim, Limits
from tickwright.verify.product_proof import ProductProver
from tickwright.verify.proving import Prover, Question
from tickwright.verify.ways import FastWays, ReferenceWays

MOST_TURNS = 3
REFERENCE, EXPLORER, IDLE = "the reference engine", "the explorer in Python", "`python -c pass`"
TEN = Path(__file__).with_name("ten-parts.toml")
FLIPS = 400  # moves of a piston in a turn, forth and back
HOPPERS = 200
CHANGES = 300  # changed plans in a turn
MILLION = 1_000_000


def measure(repeats: int) -> list[Result]:
    """Every row as results: our figure, and the ratio to its peer."""
    results = []
    for row in rows(repeats):
        results.append(Result(row.what, statistics.median(row.ours), row.unit, min(row.ours), max(row.ours)))
        results += [Result(f"  times better than {peer}", row.ratio(peer), "times", 0, 0) for peer in row.peers]
    return results


def rows(repeats: int) -> Iterator[Row]:
    """All rows, one after the other."""
    turns = min(repeats, MOST_TURNS)
    yield changed_row(turns)
    for parts in (500, 20_000):
        yield piston_row(parts, turns)
    yield hoppers_row(turns)
    yield states_row(turns)
    yield proof_row(turns)
    yield from million_rows(turns)
    yield from cold_rows(turns)


def alternately(turns: int, ours: Callable[[], float], peer: Callable[[], float]) -> tuple[list[float], list[float]]:
    """Both, turn by turn, after one that fills the caches."""
    ours()
    pairs = [(ours(), peer()) for _ in range(turns)]
    return [pair[0] for pair in pairs], [pair[1] for pair in pairs]


def changed_row(turns: int) -> Row:
    """Microseconds to change one cell of a plan, build it and run it to rest after a press."""
    say("changed plans")
    work = loops_side_by_side(list(small_loops(9)))
    plan, press = work.plan, PRESSED
    cells = [cell for cell in plan.cells if cell != PRESSED[0].cell][:CHANGES]

    def ours() -> float:
        batch = Batch()
        base = batch.add_plan(Setup(plan, RULES))
        return timed(lambda: _try_changes(batch, base, cells)) / len(cells) * 1e6

    def peer() -> float:
        few = cells[:: len(cells) // 5]
        return timed(lambda: [_run_changed(plan, cell, press) for cell in few]) / len(few) * 1e6

    found, others = alternately(turns, ours, peer)
    note = "one cell cleared, built, pressed and run to rest"
    return Row(f"a changed plan of {len(plan.cells)} parts", "µs a plan", found, {REFERENCE: others}, note=note)


def _try_changes(batch: Batch, base: int, cells: list[tuple[int, int, int]]) -> None:
    batch.run([Job(batch.change(base, {cell: None}), PRESSED) for cell in cells], REST)


def _run_changed(plan: Plan, cell: tuple[int, int, int], press: tuple[Stimulus, ...]) -> None:
    changed = Plan({one: part for one, part in plan.cells.items() if one != cell}, outputs=plan.outputs)
    simulation = ReferenceSimulation(Setup(changed, RULES), watch=changed.outputs)
    simulation.queue_stimuli(press)
    simulation.advance(REST)


def piston_row(parts: int, turns: int) -> Row:
    """Microseconds for a piston to push a block out, or to go back, in a plan of so many parts."""
    say(f"a piston among {parts:,} parts")
    cells = dict(idle(parts - 4).plan.cells)
    x = 1010
    cells[x, 0, 0] = parse_part("block")
    cells[x, 0, 1] = parse_part("lever")
    cells[x + 1, 0, 1] = parse_part("pull-piston east")
    cells[x + 2, 0, 1] = parse_part("block")
    plan = Plan(cells, outputs={"piston": (x + 1, 0, 1)})

    def moved(simulation: Simulation | ReferenceSimulation, flips: int, after: int) -> float:
        def flip() -> None:
            for number in range(flips):
                step = after + 10 * (number + 1)
                simulation.advance(step)
                simulation.step(step) if simulation.now < step else None
                simulation.do(Stimulus(step, (x, 0, 1), "flip"))
            simulation.advance(after + 10 * (flips + 2))

        return timed(flip) / flips * 1e6

    setup = Setup(plan, RULES)
    native = Simulation(setup, watch=plan.outputs)
    native.advance(5)
    slow = ReferenceSimulation(setup, watch=plan.outputs)
    slow.advance(5)
    found, others = [], []
    moved(native, 20, native.now)
    for _ in range(turns):
        found.append(moved(native, FLIPS, native.now + 20))
        others.append(moved(slow, 10, slow.now + 20))
    return Row(
        f"a piston's move, {len(cells):,} parts", "µs a move", found, {REFERENCE: others}, note="with its landing"
    )


def hoppers_row(turns: int) -> Row:
    """Microseconds a step in which all of 200 hoppers hand items to and fro."""
    say("hoppers")
    cells = {}
    for pair in range(HOPPERS // 2):
        x, y = 3 * (pair % 10), 2 * (pair // 10)
        cells[x, y, 0] = parse_part("hopper into=east items=5")
        cells[x + 1, y, 0] = parse_part("hopper into=west items=5")
    plan = Plan(cells, outputs={"first": (0, 0, 0)})
    setup = Setup(plan, RULES)
    native, slow = (
        Simulation(setup, watch=plan.outputs),
        ReferenceSimulation(setup, watch=plan.outputs),
    )

    def stepped(simulation: Simulation | ReferenceSimulation, steps: int) -> float:
        until = simulation.now + 1 + steps
        return timed(lambda: simulation.advance(until)) / steps * 1e6

    found, others = alternately(turns, lambda: stepped(native, 40_000), lambda: stepped(slow, 200))
    return Row(f"{HOPPERS} hoppers", "µs a step", found, {REFERENCE: others}, note="25 items handed on in each step")


# --- states and proofs ----------------------------------------------------------------------------------------------


def states_row(turns: int) -> Row:
    """States a second: every state of two loops that can be pressed in any step."""
    say("states")
    plan = loops(2, 4)
    buttons = list(plan.triggers.values())
    setup = Setup(plan, RULES)
    triggers = [find_trigger(setup, name) for name in plan.triggers]

    def ours() -> float:
        graph = StateGraph(setup, plan.outputs, buttons, [(0,), (1,), (0, 1), (1, 0)], 0)
        seconds = timed(lambda: _explore(graph))
        return len(graph) / seconds

    def peer() -> float:
        sim = ReferenceSimulation(setup, watch=plan.outputs)
        ways = ReferenceWays(sim, triggers)
        question = Question(Claim("settles", ""), tuple(plan.outputs), tuple(triggers), None, 1, "", "", 0, True)
        start = time.process_time()
        proof = Prover(question, ways, 300).prove(None)
        return proof.states / (time.process_time() - start)

    found, others = alternately(turns, ours, peer)
    return Row("states, the graph alone", "states a second", found, {REFERENCE: others}, more=True)


def _explore(graph: StateGraph) -> None:
    while graph.explore():
        pass


def proof_row(turns: int) -> Row:
    """Edges a second of a proof that remembers presses, the states of the circuit being known."""
    say("proofs")
    plan = loops(2, 4)
    setup = Setup(plan, RULES)
    triggers = [find_trigger(setup, name) for name in plan.triggers]
    first, settled = settle(ReferenceSimulation(setup, watch=plan.outputs))
    claim = Claim("holds", "", (Limits(0, at_most=200),))
    place = (tuple(plan.outputs), tuple(triggers), None, 1, RULES.name, "canonical", first, settled)
    ways = FastWays(setup, triggers, None, first)
    _explore(ways.graph)

    def rate(prover: type[ProductProver | Prover], limit: int) -> float:
        start = time.process_time()
        proof = prover(Question(claim, *place), ways, limit).prove(None)
        return proof.edges / (time.process_time() - start)

    found, others = alternately(turns, lambda: rate(ProductProver, 10**7), lambda: rate(Prover, 5_000))
    return Row(
        "a proof that remembers presses", "edges a second", found, {EXPLORER: others}, more=True,
        note="states of the circuit known before, for both",
    )  # fmt: skip


# --- loading and cold starts ----------------------------------------------------------------------------------------

LOADING = """
import time
from tickwright import load
import tickwright.plan.reading
def held(): return 4096 * int(open("/proc/self/statm").read().split()[1])
before, start = held(), time.process_time()
plan = load({path!r})
print(time.process_time() - start, (held() - before) / {parts}, len(plan.cells))
"""


def million_rows(turns: int) -> Iterator[Row]:
    """Seconds to load a million parts, and the memory they take (Linux tells of it), against a tenth as many."""
    say("a million parts")
    seconds: dict[int, list[float]] = {MILLION: [], MILLION // 10: []}
    memory: dict[int, list[float]] = {MILLION: [], MILLION // 10: []}
    with tempfile.TemporaryDirectory() as folder:
        for parts in seconds:
            (Path(folder) / f"{parts}.toml").write_text(_field(parts), encoding="utf-8")
        for _ in range(turns):
            for parts, times in seconds.items():
                script = LOADING.format(path=str(Path(folder) / f"{parts}.toml"), parts=parts)
                done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
                taken, held, found = done.stdout.split()
                if int(found) != parts:
                    raise RuntimeError(f"{found} of {parts} parts were loaded.")
                times.append(float(taken))
                memory[parts].append(float(held))
    tenth = MILLION // 10
    note = "kept as rows of codes; a cell is made when it is asked for"
    yield Row("a million parts loaded", "s", seconds[MILLION], {"a tenth of them": seconds[tenth]}, note=note)
    yield Row("... memory that it takes", "bytes a part", memory[MILLION], {"a tenth of them": memory[tenth]})


def _field(parts: int) -> str:
    width, rows = 1000, parts // 2000
    floor = "\n".join(["#" * width] * rows)
    above = "\n".join(["wr" * (width // 2)] * rows)
    legend = 'legend = {"#" = "block", w = "wire", r = "repeater east"}'
    layers = "".join(f'\n[[layer]]\nrows = """\n{text}\n"""' for text in (floor, above))
    return f'format = "tickwright plan 1"\n{legend}\n{layers}\n'


def cold_rows(turns: int) -> Iterator[Row]:
    """Seconds of whole commands from a cold start, against an idle Python."""
    tickwright = [sys.executable, "-m", "tickwright"]
    commands = {
        "`measure`, ten parts, cold": [*tickwright, "measure", str(TEN), "--json"],
        "`run --engine fast`, ten parts, cold": [*tickwright, "run", str(TEN), "--for", "20 s", "--engine", "fast"],
    }
    nothing = [sys.executable, "-c", "pass"]
    for what, command in commands.items():
        say(what)
        found, others = alternately(
            turns, partial(processor_seconds, command, TEN.parent), partial(processor_seconds, nothing, TEN.parent)
        )
        yield Row(what, "s", found, {IDLE: others})
