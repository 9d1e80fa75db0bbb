"""Scripts of the hand run in lanes, 64 at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tickwright.engine.circuit import circuit_of
from tickwright.engine.lanes import columns
from tickwright.engine.lanes.kernel import run_lanes
from tickwright.engine.lanes.packing import pack, refusal
from tickwright.engine.trace import Trace
from tickwright.errors import UsageError
from tickwright.kinds import BUTTONS
from tickwright.plan.hand import USUAL, Stimulus, default_act
from tickwright.plan.model import Plan
from tickwright.rules.ruleset import RuleSet
from tickwright.space import Cell, cell_text

VERBS = {"press": columns.PRESS, "flip": columns.FLIP, "on": columns.ON, "off": columns.OFF}
FIRST_ROWS = 1 << 16
NOBODY = -1

Longs = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Presses:
    """What one press of each length did to each output: arrays [press, output], in steps from the press.

    `first_on` is -1 if the output never came on, `last_off` -1 if it never came on or did not go off again within the
    steps that were run; `pulses` is how often it came on. `rest` [press] is the last step in which anything was due, -1
    if it did not come to rest within them.
    """

    outputs: tuple[str, ...]
    first_on: Longs
    last_off: Longs
    pulses: Longs
    rest: Longs


class Lanes:
    """A plan made ready to be run under many scripts of the hand at once; raises UsageError if lanes cannot hold it.

    Each lane is a run like any other: the same changes in the same order as in the other engines. `order` is that of
    telling; `watch` maps names to cells.

    >>> from tickwright.plan import loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> lanes = Lanes(plan, load_rules(), plan.outputs)
    >>> found = lanes.press((0, 0, 1), [1, 5, 20, 5000], 6000)
    >>> found.last_off[:, 0].tolist()
    [5, 9, 24, 5004]
    """

    def __init__(
        self, plan: Plan, rules: RuleSet, watch: Mapping[str, Cell] | None = None, order: str = "canonical"
    ) -> None:
        why = refusal(plan, rules)
        if why is not None:
            raise UsageError(f"{why}: run it on another engine.")
        self.plan = plan
        circuit = circuit_of(plan, rules, order)
        self._index = circuit.index
        self._packed = pack(circuit, watch or {})

    def traces(self, scripts: Sequence[Iterable[Stimulus]], steps: int) -> list[Trace]:
        """The trace of each script over steps 0 to `steps` - 1; acts must be in order of their steps."""
        given = [self._acts(script) for script in scripts]
        stimuli = np.array([act for script in given for act in script], np.int64).reshape(-1, 3)
        ends = np.cumsum([0, *map(len, given)])
        rows = self._run(stimuli, ends[:-1], ends[1:], np.zeros(len(given), np.int64), steps, FIRST_ROWS)[1]
        return self._traces(rows, len(given), steps)

    def press(self, cell: Cell, lengths: Sequence[int], steps: int, at: int = 0) -> Presses:
        """Press a button of each length at `cell` in step `at`, and see what comes of it in a run of `steps` steps."""
        part = self.plan.cells.get(cell)
        if part is None or part.kind not in BUTTONS:
            what = part.kind if part is not None else "empty"
            raise UsageError(
                f"The cell {cell_text(cell)} is {what}: lanes press a button of any length, so put one there."
            )
        if min(lengths, default=1) < 1:
            raise UsageError(f"A trigger of {min(lengths)} steps cannot be pressed: use 1 step or more.")
        number = len(lengths)
        stimuli = np.array([(at, self._index[cell], columns.PRESS)], np.int64)
        none, one = np.zeros(number, np.int64), np.ones(number, np.int64)
        self._packed.numbers[columns.BUTTON_AT], self._packed.numbers[columns.SINCE] = self._index[cell], at
        found = self._run(stimuli, none, one, np.array(lengths, np.int64), steps, 0)[0]
        self._packed.numbers[columns.BUTTON_AT], self._packed.numbers[columns.SINCE] = NOBODY, 0
        answers = (found[:, columns.FIRST_ON :: 3], found[:, columns.LAST_OFF :: 3], found[:, columns.PULSES :: 3])
        return Presses(self._packed.probes, *answers, found[:, columns.REST])

    def _acts(self, script: Iterable[Stimulus]) -> list[tuple[int, int, int]]:
        """The acts as (step, actor, verb)."""
        stimuli = []
        for act in script:
            part = self.plan.cells.get(act.cell)
            verb = act.verb if act.verb != USUAL else default_act(part.kind if part else None)
            if part is None or verb not in VERBS:
                raise UsageError(f'Lanes cannot hold "{act}": they press buttons and throw levers. Use another engine.')
            stimuli.append((act.step, self._index[act.cell], VERBS[verb]))
        return stimuli

    def _run(
        self, stimuli: Longs, first: Longs, end: Longs, lengths: Longs, steps: int, rows: int
    ) -> tuple[Longs, list[list[int]]]:
        """Run what the arrays say; what was found, and the rows of the trace, of which there is none if `rows` is 0."""
        packed, number = self._packed, len(first)
        numbers = packed.numbers
        numbers[columns.UNTIL], numbers[columns.TRACING], numbers[columns.ROWS] = steps, rows > 0, 0
        found = np.empty((number, 1 + 3 * len(packed.probes)), np.int64)
        trace = np.empty((rows, 4), np.int64)
        numbers[columns.RUNS], numbers[columns.FOUND_COLUMNS] = number, found.shape[1]
        taken: list[list[int]] = []
        start = 0
        while start < number:
            numbers[columns.ROOM] = len(trace)
            start = run_lanes(
                packed.parts, packed.lists, packed.words, numbers, stimuli, first, end, lengths, found, trace, start
            )
            if numbers[columns.ROWS] == 0 and start < number:
                trace = np.empty((4 * len(trace), 4), np.int64)
            taken += trace[: numbers[columns.ROWS]].tolist()
            numbers[columns.ROWS] = 0
        return found, taken

    def _traces(self, rows: list[list[int]], number: int, steps: int) -> list[Trace]:
        names = self._packed.probes
        changes: list[dict[str, list[tuple[int, int]]]] = [{name: [(0, 0)] for name in names} for _ in range(number)]
        for run, probe, step, value in rows:
            pairs = changes[run][names[probe]]
            if step == 0:
                pairs.clear()
            pairs.append((step, value))
        constant = {name: ((0, value),) for name, value in self._packed.constant.items()}
        return [Trace(steps, {**{name: tuple(pairs) for name, pairs in one.items()}, **constant}) for one in changes]
