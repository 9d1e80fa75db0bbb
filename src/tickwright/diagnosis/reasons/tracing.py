"""One press run so that every change of a cell knows what brought it about.

The engine tells each change with the one in which its actor was notified. Two sorts of parts need a closer look. A
comparator shows what it computes when it is due, so its cause is the last change that moved its input the way it then
went. A hopper that is ready again after its pause acts because of what it did before, whatever woke it meanwhile.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from tickwright.engine.interface import Change
from tickwright.engine.reference import Simulation
from tickwright.engine.reference.signals import compared
from tickwright.kinds import PLATES, is_a
from tickwright.measurement.observe import settle
from tickwright.measurement.press import Trigger, press_stimuli
from tickwright.plan.setup import Setup
from tickwright.space import Cell

MOST_CHANGES = 400_000
MOST_STEPS = 20 * 3600 * 2
ENOUGH_CHANGES = 1_000
OFTEN = 12


class CellChange(NamedTuple):
    """What one cell shows anew: the level of a part or wire, the count of a container, or that something else stands.

    `cause` is the number of the change that brought it about, None for an act of the hand or the start. `what` is
    "level", "count" or "move".
    """

    number: int
    step: int
    cell: Cell
    kind: str
    before: int
    after: int
    cause: int | None
    what: str = "level"


class TracedRun:
    """A press of one trigger at rest, run until all rests, a clock has been seen often, or a bound; with all changes.

    `of[cell]` holds the numbers of a cell's changes in order, `first` the number of the first after the press in step
    `pressed_at`; `rested` is whether everything came to rest.
    """

    def __init__(self, setup: Setup, trigger: Trigger) -> None:
        self.plan, self.rules, self.trigger = setup.plan, setup.rules, trigger
        self.sim = Simulation(setup)
        writer = _Writer(self.sim)
        self.sim.hook = writer.write
        self.changes: list[CellChange] = writer.changes
        rest, self.settled = settle(self.sim)
        self.pressed_at = max(rest, 1)  # what a press in step 0 changes cannot be told from what was so from the start
        self.first = len(self.changes)
        self.sim.queue_stimuli(press_stimuli(trigger, self.pressed_at))
        self._run(self.pressed_at + MOST_STEPS)
        self.rested = self.sim.next_step() is None
        self.of: dict[Cell, list[int]] = {}
        for change in self.changes:
            self.of.setdefault(change.cell, []).append(change.number)

    def _run(self, end: int) -> None:
        sim, enough = self.sim, ENOUGH_CHANGES
        sim.advance(self.pressed_at + 1)
        while len(self.changes) - self.first < MOST_CHANGES:
            if len(self.changes) - self.first >= enough:
                if self._seen_often():
                    break
                enough *= 2
            step = sim.next_step()
            if step is None or step >= end:
                break
            sim.step(step)

    def _seen_often(self) -> bool:
        """Whether every output that still changes has done so many times: it is a clock, and more is the same."""
        since = self.changes[self.first :]
        lately = {change.cell for change in since[len(since) // 2 :]}
        numbers = Counter(change.cell for change in since)
        outputs = [numbers[cell] for cell in self.plan.outputs.values() if cell in lately]
        return bool(outputs) and min(outputs) >= OFTEN

    def edges(self, cell: Cell) -> list[CellChange]:
        """The changes after the press at which the cell goes on (from 0) or off (to 0)."""
        found = (self.changes[number] for number in self.of.get(cell, ()) if number >= self.first)
        return [change for change in found if (change.before > 0) != (change.after > 0)]

    def chain(self, change: CellChange) -> list[CellChange]:
        """The change and its causes back to the press, the first cause first."""
        found = [change]
        while found[-1].cause is not None and found[-1].cause >= self.first:
            found.append(self.changes[found[-1].cause])
        return found[::-1]


class _Writer:
    """Writes down the changes that an engine tells, cell by cell, each with its cause."""

    def __init__(self, sim: Simulation) -> None:
        self.sim = sim
        self.changes: list[CellChange] = []
        self._main: dict[int, int] = {}  # the engine's number of a change -> that of its actor's entry here
        self._latest: dict[Cell, int] = {}
        self._counts: dict[Cell, int] = {}
        self._filled: dict[Cell, int] = {}  # an empty hopper -> the entry with which an item was pushed into it
        self._inputs: dict[Cell, list[tuple[int, int | None]]] = {}  # what a comparator computes, and by which entry

    def write(self, change: Change) -> None:
        """Take a change from the engine."""
        main = len(self.changes)
        cause = self._main.get(change.cause) if change.cause is not None else None
        levels = sorted(change.levels, key=lambda entry: (is_a(self._kind(entry[0]), "wire"), entry[0] != change.actor))
        for cell, before, after in levels:
            kind = self._kind(cell)
            by = (
                main
                if is_a(kind, "wire") and len(self.changes) > main
                else self._closer(change, cell, before, after, cause)
            )
            self._add(change.step, cell, kind, before, after, by, "level")
        for cell in sorted(change.counts, key=lambda cell: (cell != change.actor, cell)):
            self._count(change, cell, cause)
        if len(self.changes) == main:
            stood = change.stands[0] if change.stands else change.actor
            self._add(change.step, stood, self._kind(stood), 0, 0, cause, "move")
        self._main[change.number] = main
        for cell in change.notified:
            if is_a(self._kind(cell), "comparator"):
                moved = self._inputs.setdefault(cell, [(0, None)])
                value = compared(self.sim, cell)
                if value != moved[-1][0]:
                    moved.append((value, main))

    def _kind(self, cell: Cell) -> str:
        return self.sim.kind_at(cell) or "wire"

    def _add(self, step: int, cell: Cell, kind: str, before: int, after: int, cause: int | None, what: str) -> None:
        self._latest[cell] = number = len(self.changes)
        self.changes.append(CellChange(number, step, cell, kind, before, after, cause, what))

    def _closer(self, change: Change, cell: Cell, before: int, after: int, cause: int | None) -> int | None:
        """The cause on a closer look at comparators, and at plates, which look again from when they went on."""
        kind = self._kind(cell)
        if kind in PLATES and after < before:
            return self._latest.get(cell, cause)
        if not is_a(kind, "comparator") or change.phase != "due":
            return cause
        moved = self._inputs.get(cell, [])
        for earlier, later in zip(moved[-2::-1], moved[:0:-1], strict=False):
            if (later[0] > earlier[0]) == (after > before):
                cause = later[1]
                break
        self._inputs[cell] = moved[-1:] or [(after, None)]
        return cause

    def _count(self, change: Change, cell: Cell, cause: int | None) -> None:
        before = self._counts.get(cell, self._at_start(cell))
        after = self._counts[cell] = self.sim.count.get(cell, 0)
        actor, hopper = change.actor, self.sim.rules.hopper
        if is_a(self._kind(actor), "hopper"):
            last, filled = self._latest.get(actor), self._filled.get(actor)
            if filled is not None and self.changes[filled].step + hopper.first_wait == change.step:
                cause = filled
            elif last is not None and self.changes[last].step + hopper.cooldown == change.step:
                cause = last
            if is_a(self._kind(cell), "hopper") and cell != actor and before == 0:
                self._filled[cell] = len(self.changes)
        self._add(change.step, cell, self._kind(cell), before, after, cause, "count")

    def _at_start(self, cell: Cell) -> int:
        part = self.sim.laid.get(cell)
        return part.part.items if part is not None else 0
