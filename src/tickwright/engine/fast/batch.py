"""Many runs in one call: many circuits, or one under many scripts of the hand, on all cores."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from tickwright.engine.circuit import Circuit
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast import many
from tickwright.engine.fast.entries import run_jobs
from tickwright.engine.fast.packing import pack
from tickwright.engine.interface import Job
from tickwright.errors import UsageError
from tickwright.plan.hand import Stimulus, default_act
from tickwright.space import Cell, cell_text

STACK_ROOM = 4096  # stacks that may lie about in one run
_NO_BATCH = ("place", "clear")
_VERB = {name: number for number, name in enumerate(a.VERBS)}


class Jobs(NamedTuple):
    """Jobs as arrays; made once, they can be run again and again."""

    job: a.Ints  # job[j, 4]: circuit, first act, how many, first row of its summary
    stimulus: a.Ints  # act[i, 6]: see arrays.ACT_STEP and the following


class Outcomes(NamedTuple):
    """What came of each job.

    `first_on` and the other arrays but the last three have a row for each watched cell of each job; those of job j are
    `start[j]` to `start[j + 1]` (left out). Steps are -1 where there is none; `last_off` is that of a cell that went
    off again, be it on at the end or not.
    """

    start: a.Ints  # start[job], one more at the end
    first_on: a.Ints  # first_on[row]: the first step at whose end the cell was on
    last_off: a.Ints  # last_off[row]: the last step at whose end it had gone off
    pulses: a.Ints  # pulses[row]: how often it went on
    highest: a.Ints  # highest[row]: the highest value
    last: a.Ints  # last[row]: the value at the end
    changes: a.Ints  # changes[row]: how often the value changed from one step to the next
    last_step: a.Ints  # last_step[job]: the last step in which anything happened
    at_rest: a.Ints  # at_rest[job]: 1 if nothing is left to happen after it
    acted: a.Ints  # acted[job]: how many events came due


class Batch:
    """Circuits prepared for many runs; `watched` names for each circuit the cells to be summed up.

    A batch moves no cells: a circuit with a piston raises a UsageError, as does an act that places or clears.

    >>> from tickwright.engine.circuit import circuit_of
    >>> from tickwright.engine.interface import Job
    >>> from tickwright.plan import loads
    >>> from tickwright.plan.hand import Stimulus
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> batch = Batch([circuit_of(plan, load_rules())], [[(1, 0, 1)]])
    >>> press = (Stimulus(5, (0, 0, 1), "press"),)
    >>> done = batch.run(batch.jobs([Job(0), Job(0, press), Job(0, press, (3,))]), steps=100)
    >>> done.pulses.tolist(), done.first_on.tolist(), done.last_off.tolist()
    ([0, 1, 1], [-1, 5, 5], [-1, 29, 12])
    """

    def __init__(self, circuits: Sequence[Circuit], watched: Sequence[Sequence[Cell]]) -> None:
        self.circuits = tuple(circuits)
        self.watched = tuple(tuple(cells) for cells in watched)
        for circuit in self.circuits:
            for cell in circuit.geometry.pistons:
                raise UsageError(
                    f"A batch of runs moves no cells: there is a piston at {cell_text(cell)}; run it alone."
                )
        packed = [pack(circuit, cells) for circuit, cells in zip(self.circuits, self.watched, strict=True)]
        self._m = np.concatenate([one.m for one in packed])
        self._e = np.concatenate([one.e for one in packed])
        lengths = np.array([(len(one.m), len(one.e)) for one in packed], np.int64)
        self._place = np.ascontiguousarray(np.vstack([np.zeros((1, 2), np.int64), np.cumsum(lengths, axis=0)[:-1]]))
        self._probes = np.array([len(cells) for cells in self.watched], np.int32)
        self._headers = np.array([one.e[: a.HEADER] for one in packed])

    def jobs(self, jobs: Iterable[Job]) -> Jobs:
        """The jobs as arrays."""
        rows: list[tuple[int, int, int]] = []
        stimuli: list[tuple[int, ...]] = []
        for job in jobs:
            circuit = self.circuits[job.circuit]
            rows.append((job.circuit, len(stimuli), len(job.stimuli)))
            presses = (*job.presses, *([0] * (len(job.stimuli) - len(job.presses))))
            stimuli += [_act(circuit, stimulus, press) for stimulus, press in zip(job.stimuli, presses, strict=True)]
        return self._numbered(np.array(rows, np.int32).reshape(-1, 3), np.array(stimuli, np.int32).reshape(-1, a.ACT))

    def presses(self, circuit: int, button: Cell, lengths: Sequence[int], step: int = 0) -> Jobs:
        """One job for each length (in steps): the button is pressed so long at `step`."""
        n = len(lengths)
        stimulus = np.tile(np.array(_act(self.circuits[circuit], Stimulus(step, button, "press"), 0), np.int32), (n, 1))
        stimulus[:, a.ACT_PRESS] = lengths
        rows = np.stack([np.full(n, circuit), np.arange(n), np.ones(n, np.int64)], axis=1).astype(np.int32)
        return self._numbered(rows, stimulus)

    def _numbered(self, rows: a.Ints, stimulus: a.Ints) -> Jobs:
        job = np.zeros((len(rows), 4), np.int32)
        job[:, :3] = rows
        job[1:, 3] = np.cumsum(self._probes[rows[:-1, 0]])
        return Jobs(job, stimulus)

    def run(self, jobs: Jobs, steps: int, workers: int | None = None) -> Outcomes:
        """Run every job over steps 0 to `steps` - 1, shared out among so many threads (by default one for each core).

        A circuit that comes to rest costs nothing from then on.
        """
        n = len(jobs.job)
        probes = self._probes[jobs.job[:, 0]]
        start = np.zeros(n + 1, np.int32)
        start[1:] = np.cumsum(probes)
        summary = np.zeros((int(start[-1]), many.SUMMARY), np.int32)
        ending = np.zeros((n, many.ENDING), np.int32)
        stimulus = jobs.stimulus if len(jobs.stimulus) else np.zeros((1, a.ACT), np.int32)
        longest = int(jobs.job[:, 2].max(initial=0))
        workers = max(1, min(workers or os.cpu_count() or 1, n))
        share = -(-n // (4 * workers)) if workers > 1 else max(n, 1)

        def work(first: int) -> None:
            world = self._world(longest)
            end = min(first + share, n)
            fixed = (self._place.ravel(), jobs.job.ravel(), stimulus.ravel(), steps)
            run_jobs(self._m, self._e, *world.arrays[2:], *fixed, summary.ravel(), ending.ravel(), first, end)

        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, range(0, n, share)))
        if ending[:, many.TROUBLE].any():
            bad = int(np.flatnonzero(ending[:, many.TROUBLE])[0])
            raise UsageError(f"In job {bad} of the batch more than {STACK_ROOM:,} stacks lie about: run it alone.")
        columns = np.ascontiguousarray(summary.T)
        endings = np.ascontiguousarray(ending.T)
        return Outcomes(start, *columns, *endings[:3])

    def _world(self, stimuli: int) -> a.World:
        """State arrays that hold the largest circuit of the batch."""
        most = self._headers.max(axis=0)
        rows, probes, torches = int(most[a.ACTORS]), int(most[a.PROBE_TOTAL]), int(most[a.TORCH_TOTAL])
        hoppers = int((self._headers[:, a.HOPPERS_END] - self._headers[:, a.HOPPERS]).max())
        spare_stacks = int(most[a.EJECTOR_TOTAL]) + stimuli
        spare_log = spare_stacks + torches + 1
        sizes = dict.fromkeys(("matter", "queue", "stamp", "buffer", "over"), rows)
        sizes |= {"torch": torches, "shown": probes, "dirty": 2 * probes, "act": stimuli}
        sizes |= {"stack": STACK_ROOM + spare_stacks if spare_stacks and most[a.HAS_MATTER] else 0}
        sizes |= {"turns": 4 * hoppers + 16 if hoppers else 0, "trace": 1024 + 2 * probes, "log": spare_log + 64}
        largest = int(np.argmax(self._headers[:, a.BURN_COUNT]))
        world = a.World(self._m, self._e[self._place[largest, 1] :], sizes)
        world.c[a.SPARE_LOG] = spare_log
        world.c[a.SPARE_STACKS] = spare_stacks if most[a.HAS_MATTER] else 0
        return world


def _act(circuit: Circuit, stimulus: Stimulus, press: int) -> tuple[int, ...]:
    if stimulus.verb in _NO_BATCH:
        raise UsageError(f'A batch of runs moves no cells: "{stimulus}" cannot be done in it; run it alone.')
    actor = circuit.index.get(stimulus.cell)
    if actor is None:
        raise UsageError(f'The circuit has no actor for "{stimulus}": name the cell when the circuit is made.')
    part = circuit.geometry.parts.get(stimulus.cell)
    spare = default_act(part.kind if part else None) or "press"
    return stimulus.step, actor, _VERB[stimulus.verb], stimulus.number, _VERB[spare], press
