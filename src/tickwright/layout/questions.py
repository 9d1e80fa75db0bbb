"""Questions to SAT, asked side by side in processes of their own, and answered in the order in which they are put.

A question is one box, one network of torches, one seed, and so many conflicts of the solver: its answer hangs on
nothing else. `Answers` asks ahead of the one that is waited for, as far as there are processes; what an earlier answer
makes needless is thrown away. So the number of processes changes the time, never the answers.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from multiprocessing.connection import Connection, wait
from random import Random
from types import TracebackType
from typing import NamedTuple

from tickwright.layout.exact import Encoding, Found, Place, Through
from tickwright.layout.labels import Labels
from tickwright.processes import begin_worker, undisturbed
from tickwright.space import Cell

POLL_SECONDS = 0.2
LOST = "not decided"


class Try(NamedTuple):
    """One question to SAT: a box, the labels of one network of torches, and a seed."""

    labels: Labels
    inputs: tuple[str, ...]
    size: Cell
    places: Mapping[str, Place]
    straight: bool
    seed: int
    conflicts: int
    through: Through | None = None


class Answer(NamedTuple):
    """What came of a question: a layout, "none" or "not decided"; and the conflicts that it took."""

    found: Found | str
    conflicts: int


class Answers:
    """Processes that answer questions, at most `workers` at once."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._idle: list[_Worker] = []
        self._running: dict[int, _Worker] = {}  # by seed, which no two questions share
        self._known: dict[int, Answer] = {}

    def __enter__(self) -> Answers:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        for worker in (*self._idle, *self._running.values()):
            worker.end()
        self._idle, self._running = [], {}

    def first(self, ahead: Sequence[Try], going: Callable[[], bool]) -> Answer | None:
        """The answer to the first of these; the others are worked on meanwhile. None once `going` says no.

        What was asked before and is not among them any more is given up.
        """
        wanted = {one.seed for one in ahead}
        self._known = {seed: answer for seed, answer in self._known.items() if seed in wanted}
        for seed in [seed for seed in self._running if seed not in wanted]:
            self._running.pop(seed).end()
        while ahead[0].seed not in self._known:
            self._ask(ahead)
            for worker in wait([worker.line for worker in self._running.values()], POLL_SECONDS):
                seed = next(seed for seed, one in self._running.items() if one.line is worker)
                self._known[seed] = self._running[seed].answer()
                self._idle.append(self._running.pop(seed))
            if not going():
                return None
        return self._known.pop(ahead[0].seed)

    def known(self, ahead: Sequence[Try]) -> list[tuple[Try, Answer]]:
        """Those of these questions that are answered already."""
        return [(one, self._known[one.seed]) for one in ahead if one.seed in self._known]

    def _ask(self, ahead: Sequence[Try]) -> None:
        """Give questions to free processes, the first first; none after one that has a layout."""
        for one in ahead:
            if len(self._running) >= self.workers:
                return
            if one.seed in self._known:
                if not isinstance(self._known[one.seed].found, str):
                    return
            elif one.seed not in self._running:
                worker = self._idle.pop() if self._idle else _Worker()
                worker.line.send(one)
                self._running[one.seed] = worker


class _Worker:
    """A process that answers tries, one after another."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.line, there = context.Pipe()
        self.process = context.Process(target=_work, args=(there,), daemon=True)
        with undisturbed():
            self.process.start()
        there.close()

    def answer(self) -> Answer:
        """The answer that has come."""
        try:
            found: Answer = self.line.recv()
            return found
        except EOFError:
            return Answer(LOST, 0)

    def end(self) -> None:
        """End the process."""
        self.process.terminate()
        self.process.join()
        self.line.close()


def _work(line: Connection) -> None:
    begin_worker()
    while True:
        try:
            one = line.recv()
        except EOFError:
            return
        line.send(solved(one))


def solved(one: Try) -> Answer:
    """The layout that answers a try, "none", or "not decided" when its conflicts are used up; and the conflicts."""
    from pysat.solvers import Solver

    random = Random(one.seed)
    encoding = Encoding(one.labels, one.inputs, one.size, one.places, one.straight, one.through)
    clauses = [random.sample(clause, len(clause)) for clause in encoding.clauses]
    random.shuffle(clauses)
    with Solver("cadical195") as solver:
        solver.configure({"phase": 0})  # most cells hold none of what they may hold
        solver.append_formula(clauses)
        solver.conf_budget(one.conflicts)
        answer = solver.solve_limited()
        used = int(solver.accum_stats()["conflicts"])
        if answer is None:
            return Answer("not decided", used)
        return Answer(encoding.layout(solver.get_model()) if answer else "none", used)
