"""What a module with ports does in time, measured: delays, least pulses, set-up and hold times, levels at its ports.

The module lies alone, a lever at each input, and is worked from every state that its levers can bring it to, under each
rule set and in each of ten orders of telling. What is told is the worst of all of these.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import permutations
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.engine import circuit_of
from tickwright.engine.interface import is_installed
from tickwright.errors import UsageError
from tickwright.kinds import HEARING, is_a
from tickwright.layout.hearing import Bench, on_bench
from tickwright.layout.judging import ORDERS
from tickwright.layout.model import Tile
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from tickwright.space import Cell

LONGEST = 40  # steps of a pulse, or between two acts, that count as long
REST_WITHIN = 2_000  # steps after the last act in which a module must come to rest
MOST_INPUTS = 6
MOST_STATES = 256
EVERY_ORDER = ("canonical", *ORDERS)
EDGE = {True: "on", False: "off"}

Acts = Sequence[tuple[int, str, bool]]  # (steps from the first on, input, thrown)


class Input(NamedTuple):
    """What an input needs: the least level of the wire at it, and how long it must stay on, or off, to be heard.

    The steps are None where no pulse, or gap, of this input alone shows at an output; the level where nothing hears it.
    """

    name: str
    needs_level: int | None
    says_level: int
    least_pulse_steps: int | None
    least_gap_steps: int | None


class Output(NamedTuple):
    """The least level that the wire at an output has while it is on; None if it never is."""

    name: str
    gives_level: int | None
    says_level: int


class Arc(NamedTuple):
    """How long after an `edge` of an input the output has gone to `to`: at least, and at most."""

    input: str
    edge: str
    output: str
    to: str
    least_steps: int
    most_steps: int


class Sample(NamedTuple):
    """An input that is taken at an `edge` of another: how long before it must have changed, and after it may change."""

    data: str
    clock: str
    edge: str
    setup_steps: int
    hold_steps: int


class Levels(NamedTuple):
    """The highest levels that came to the rear and to a flank of a comparator."""

    cell: Cell
    rear_level: int
    flank_level: int


class Characteristics(NamedTuple):
    """All that was measured of a module; `hazards` are the (input, output) where an output flickers for nothing."""

    name: str
    rules: tuple[str, ...]
    states: int
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    arcs: tuple[Arc, ...]
    hazards: tuple[tuple[str, str], ...]
    samples: tuple[Sample, ...]
    comparators: tuple[Levels, ...]

    def as_data(self) -> dict[str, Any]:
        """The result as JSON shows it, but for the name of the file."""
        return {
            "rules": list(self.rules),
            "orders": len(EVERY_ORDER),
            "states": self.states,
            "inputs": [one._asdict() for one in self.inputs],
            "outputs": [one._asdict() for one in self.outputs],
            "arcs": [one._asdict() for one in self.arcs],
            "hazards": [{"input": name, "output": out} for name, out in self.hazards],
            "samples": [one._asdict() for one in self.samples],
            "comparators": [{**one._asdict(), "cell": list(one.cell)} for one in self.comparators],
        }


@checked
def characterise(
    tile: Tile, rules: Sequence[RuleSet] | None = None, told: Callable[[str], object] | None = None
) -> Characteristics:
    """Measure a module with ports, under each of the rule sets (those built in if none is given) and in ten orders.

    Raises UsageError for a module without an input, with more than six, with ports that touch one another, with over
    256 states, or one that does not come to rest, and PlanError where a rule set refuses its plan.

    >>> from tickwright.layout.tiles import gate_tile
    >>> for arc in characterise(gate_tile("not")).arcs:
    ...     print(arc.edge, arc.to, arc.least_steps, arc.most_steps)
    on off 2 2
    off on 2 2
    """
    rulesets = tuple(rules or map(load_rules, BUILT_IN))
    bench = on_bench(tile)
    _check(tile, bench, rulesets)
    found = _Found()
    for one in rulesets:
        for order in EVERY_ORDER:
            if told is not None:
                told(f"{tile.name} under the rules {one.name}, order {order}")
            _Measuring(bench, Setup(bench.plan, one, order), found).run()
    needs = {name: max((_needed(bench, name, one) for one in rulesets), default=0) for name in bench.levers}
    inputs = [
        Input(
            name,
            needs[name] or None,
            tile.ports[name].need,
            found.pulses.get((name, True)),
            found.pulses.get((name, False)),
        )
        for name in bench.levers
    ]
    return Characteristics(
        tile.name,
        tuple(one.name for one in rulesets),
        found.states,
        tuple(inputs),
        tuple(Output(name, found.gives.get(name), tile.ports[name].gives) for name in bench.probes),
        tuple(Arc(*key, *times) for key, times in found.arcs.items()),
        tuple(sorted(found.hazards)),
        tuple(found.samples()),
        tuple(Levels(bench.back[cell], *levels) for cell, levels in sorted(found.comparators.items())),
    )


def _check(tile: Tile, bench: Bench, rules: Sequence[RuleSet]) -> None:
    inputs = len(bench.levers)
    if not 1 <= inputs <= MOST_INPUTS:
        what = "no port of role in" if not inputs else f"{inputs} inputs"
        raise UsageError(f'"{tile.name}" has {what}: 1 to {MOST_INPUTS} can be worked through. Mark them in [ports].')
    ends = {*bench.levers.values(), *bench.probes.values()}
    if len(ends) < len(tile.ports) or ends & bench.back.keys():
        raise UsageError(f'The ports of "{tile.name}" have no room before them for a lever and a wire each: free it.')
    for one in rules:
        validate(bench.plan, one)
        circuit = circuit_of(Setup(bench.plan, one))
        levers = set(bench.levers.values())
        for name, port in tile.ports.items():
            if port.role != "in":
                continue
            heard = {circuit.cells[source] for source, _, _ in circuit.hears(bench.wires[name])}
            if heard & levers != {bench.levers[name]}:
                raise UsageError(f'The wire before the input {name} of "{tile.name}" touches another one: part them.')


def _needed(bench: Bench, name: str, rules: RuleSet) -> int:
    """The least level of the wire at an input at which all that hears it does; 0 if nothing hears it."""
    circuit = circuit_of(Setup(bench.plan, rules))
    lever = circuit.index[bench.levers[name]]
    losses = [
        loss
        for actor, cell in enumerate(circuit.cells)
        if cell in bench.plan.cells and bench.plan.cells[cell].kind in HEARING
        for port in (circuit.power, circuit.flank)
        for source, loss in port.of(actor)
        if source == lever
    ]
    return max(losses) + 1 if losses else 0


class _Found:
    """What was found so far, the worst of all rule sets, orders and states."""

    def __init__(self) -> None:
        self.states = 0
        self.arcs: dict[tuple[str, str, str, str], tuple[int, int]] = {}
        self.hazards: set[tuple[str, str]] = set()
        self.pulses: dict[tuple[str, bool], int] = {}
        self.sampled: dict[tuple[str, str, str], dict[str, tuple[int, int]]] = {}  # by the edge of what is taken
        self.gives: dict[str, int] = {}
        self.comparators: dict[Cell, tuple[int, int]] = {}

    def arc(self, key: tuple[str, str, str, str], steps: int) -> None:
        """One more delay."""
        least, most = self.arcs.get(key, (steps, steps))
        self.arcs[key] = (min(least, steps), max(most, steps))

    def sample(self, key: tuple[str, str, str], edge: str, setup: int, hold: int) -> None:
        """One more set-up and hold time."""
        edges = self.sampled.setdefault(key, {})
        old = edges.get(edge, (setup, hold))
        edges[edge] = (max(old[0], setup), max(old[1], hold))

    def samples(self) -> Iterator[Sample]:
        """The set-up and hold times of inputs that are taken on as well as off."""
        for key, edges in self.sampled.items():
            if len(edges) == 2:
                setups, holds = zip(*edges.values(), strict=True)
                yield Sample(*key, max(setups), max(holds))


class _State(NamedTuple):
    """A state at rest: which inputs are on, what the outputs show, and the run that came there."""

    on: frozenset[str]
    outs: tuple[bool, ...]
    sim: Any


class _Measuring:
    """One rule set and one order: every state, and from each what its inputs do."""

    def __init__(self, bench: Bench, setup: Setup, found: _Found) -> None:
        if is_installed("fast"):
            from tickwright.engine.native import Simulation
        else:
            from tickwright.engine.reference import Simulation  # type: ignore[assignment]
        self.bench, self.found = bench, found
        self.outputs = tuple(bench.probes)
        self.comparators = list(_comparators(setup))
        parts = {f"{cell}": cell for cell in setup.plan.cells}
        self.places = {cell: len(self.outputs) + place for place, cell in enumerate(parts.values())}
        self.start = Simulation(setup, {**bench.probes, **parts})
        self.start.advance(1)

    def run(self) -> None:
        """Measure from every state."""
        states = self._states()
        self.found.states = max(self.found.states, len(states))
        for state in states:
            for name in self.bench.levers:
                self._pulses(state, name)
            for data, clock in permutations(self.bench.levers, 2):
                self._sampling(state, data, clock)

    def _states(self) -> list[_State]:
        """The states at rest, told apart by the levels of all parts."""
        start, _ = self._played(_State(frozenset(), self._outs(self.start.shown()), self.start), ())
        known = {tuple(start.sim.shown())}
        waiting = [start]
        for state in waiting:
            for name in self.bench.levers:
                after = self._arcs(state, name)
                levels = tuple(after.sim.shown())
                if levels not in known:
                    known.add(levels)
                    waiting.append(after)
                if len(known) > MOST_STATES:
                    raise UsageError(f"The module has over {MOST_STATES} states, the most that are tried: split it.")
        return waiting

    def _arcs(self, state: _State, name: str) -> _State:
        """Flip one input; note when each output has followed."""
        thrown = name not in state.on
        after, history = self._played(state, [(0, name, thrown)])
        for place, output in enumerate(self.outputs):
            rows = [(step, outs[place]) for step, outs in history]
            moved = [step for (step, now), (_, was) in zip(rows[1:], rows, strict=False) if now != was]
            if after.outs[place] != state.outs[place]:
                self.found.arc((name, EDGE[thrown], output, EDGE[after.outs[place]]), moved[-1])
            elif moved:
                self.found.hazards.add((name, output))
        return after

    def _pulses(self, state: _State, name: str) -> None:
        """The least pulse (or gap) such that it and every longer one is answered as a long one is."""
        on = name not in state.on
        answers = [
            self._answer(state, [(0, name, on), (width, name, not on)]) for width in range(1, LONGEST + 1)
        ]  # one for each width
        if len(answers[-1]) == 1:
            return
        other = [width for width, answer in enumerate(answers, 1) if answer != answers[-1]]
        least = max(other, default=0) + 1
        self.found.pulses[name, on] = max(self.found.pulses.get((name, on), 1), least)

    def _answer(self, state: _State, acts: Acts) -> list[tuple[bool, ...]]:
        """What the outputs show one after another."""
        return [outs for _, outs in self._played(state, acts)[1]]

    def _sampling(self, state: _State, data: str, clock: str) -> None:
        """Is the first input taken at an edge of the second: does a change before it count, and none after it?"""

        def ends(ahead: int) -> tuple[bool, ...]:
            early, late = (0, ahead) if ahead >= 0 else (-ahead, 0)
            acts = [(early, data, data not in state.on), (late, clock, clock not in state.on)]
            return self._played(state, sorted(acts, key=lambda act: act[0]))[0].outs

        taken, missed = ends(LONGEST), ends(-LONGEST)
        clocked = self._played(state, [(0, clock, clock not in state.on)])[0].outs
        if taken == missed or clocked != missed:
            return
        every = {ahead: ends(ahead) for ahead in range(-LONGEST, LONGEST + 1)}
        setup = max((ahead for ahead, outs in every.items() if outs != taken), default=-LONGEST) + 1
        hold = max((-ahead for ahead, outs in every.items() if outs != missed), default=-LONGEST) + 1
        key = (data, clock, EDGE[clock not in state.on])
        self.found.sample(key, EDGE[data not in state.on], setup, hold)

    def _played(self, state: _State, acts: Acts) -> tuple[_State, list[tuple[int, tuple[bool, ...]]]]:
        """The state after acts, and (steps since the first, outputs) at the beginning and after each change."""
        sim = state.sim.copy()
        first = max(sim.now, 0) + 2
        history = [(0, state.outs)]
        on, left = set(state.on), list(acts)
        while True:
            due = sim.next_step()
            if left and (due is None or first + left[0][0] <= due):
                due = first + left[0][0]
            if due is None:
                break
            if due > first + REST_WITHIN:
                raise UsageError("The module does not come to rest: a clock in it cannot be characterised.")
            sim.step(due)
            while left and first + left[0][0] == due:
                _, name, thrown = left.pop(0)
                sim.do(Stimulus(due, self.bench.levers[name], EDGE[thrown]))
                on ^= {name}
            values = sim.shown()
            self._note(values)
            outs = self._outs(values)
            if outs != history[-1][1]:
                history.append((due - first, outs))
        for name, value in zip(self.outputs, sim.shown(), strict=False):
            if value:
                self.found.gives[name] = min(self.found.gives.get(name, value), value)
        return _State(frozenset(on), history[-1][1], sim), history

    def _outs(self, values: Sequence[int]) -> tuple[bool, ...]:
        return tuple(value > 0 for value in values[: len(self.outputs)])

    def _note(self, values: Sequence[int]) -> None:
        """The levels at comparators."""
        for cell, ports in self.comparators:
            now = [
                max([min(values[self.places[source]], most) - loss for source, loss, most in entries], default=0)
                for entries in ports
            ]
            old = self.found.comparators.get(cell, (0, 0))
            self.found.comparators[cell] = (max(old[0], now[0]), max(old[1], now[1]))


Entries = list[tuple[Cell, int, int]]  # (source, loss, most)


def _comparators(setup: Setup) -> Iterator[tuple[Cell, tuple[Entries, Entries]]]:
    """Each comparator, and what its rear and its flanks hear."""
    circuit = circuit_of(setup)
    for actor, cell in enumerate(circuit.cells):
        part = setup.plan.cells.get(cell)
        if part is not None and is_a(part.kind, "comparator"):
            rear, flank = (
                [
                    (circuit.cells[int(port.source[n])], int(port.loss[n]), int(port.most[n]))
                    for n in range(int(port.start[actor]), int(port.start[actor + 1]))
                ]
                for port in (circuit.power, circuit.flank)
            )
            yield cell, (rear, flank)
