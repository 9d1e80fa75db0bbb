"""One press run so that every change knows what brought it about.

A change's cause is the change that had the part notified when it made the entry that has now come due. A comparator
shows what it computes when it is due, so its cause is the last change that moved its input the way it then went.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from tickwright.engine.reference import Simulation
from tickwright.engine.reference.signals import compared
from tickwright.kinds import PISTONS, PLATES
from tickwright.measurement.observe import settle
from tickwright.measurement.press import Trigger, press_stimuli
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_CHANGES = 400_000
MOST_STEPS = 20 * 3600 * 2
ENOUGH_CHANGES = 1_000
OFTEN = 12


class Change(NamedTuple):
    """One change of what a cell shows: the level of a part or wire, the count of a container, or a move of cells.

    `cause` is the number of the change that brought it about, None for an act of the hand or the start; `wait_steps` is
    how long after that it came. `what` is "level", "count" or "move".
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
    """A press of one trigger at rest, run until all rests, a state comes back, or a bound; its changes, with causes.

    `of[cell]` holds the numbers of a cell's changes in order; `pressed_at` is the step of the press; `rested` whether
    everything came to rest.
    """

    def __init__(self, plan: Plan, rules: RuleSet, trigger: Trigger, until: int | None = None) -> None:
        self.plan, self.rules, self.trigger = plan, rules, trigger
        self.sim = _Traced(plan, rules)
        rest, self.settled = settle(self.sim)
        self.pressed_at = max(rest, 1)  # what a press in step 0 changes cannot be told from what was so from the start
        self.first = len(self.sim.changes)
        self.sim.queue_stimuli(press_stimuli(trigger, self.pressed_at))
        end = self.pressed_at + (MOST_STEPS if until is None else until)
        enough = ENOUGH_CHANGES
        while len(self.sim.changes) - self.first < MOST_CHANGES:
            if len(self.sim.changes) - self.first >= enough:
                if self._seen_often():
                    break
                enough *= 2
            step = self.sim.next_step()
            if self.sim.stimuli and (step is None or self.sim.stimuli[0].step < step):
                step = self.sim.stimuli[0].step
            if step is None or step >= end:
                break
            self.sim.step(step)
        self.rested = self.sim.next_step() is None
        self.changes: list[Change] = self.sim.changes
        self.of: dict[Cell, list[int]] = {}
        for change in self.changes:
            self.of.setdefault(change.cell, []).append(change.number)

    def _seen_often(self) -> bool:
        """Whether every output that still changes has done so many times: it is a clock, and more is the same."""
        since = self.sim.changes[self.first :]
        lately = {change.cell for change in since[len(since) // 2 :]}
        numbers = Counter(change.cell for change in since)
        outputs = [numbers[cell] for cell in self.plan.outputs.values() if cell in lately]
        return bool(outputs) and min(outputs) >= OFTEN

    def edges(self, cell: Cell) -> list[Change]:
        """The changes after the press at which the cell goes on (from 0) or off (to 0)."""
        found = (self.changes[number] for number in self.of.get(cell, ()) if number >= self.first)
        return [change for change in found if (change.before > 0) != (change.after > 0)]

    def chain(self, change: Change) -> list[Change]:
        """The change and its causes back to the press, the first cause first."""
        found = [change]
        while found[-1].cause is not None and found[-1].cause >= self.first:
            found.append(self.changes[found[-1].cause])
        return found[::-1]


class _Traced(Simulation):
    """The reference engine, writing down each change and what had the changed part notified."""

    def __init__(self, plan: Plan, rules: RuleSet) -> None:
        self.changes: list[Change] = []
        self._group: int | None = None  # the change of which parts are being notified
        self._scheduled_by: dict[Cell, int | None] = {}
        self._pending: set[Cell] = set()
        self._moved_input: dict[Cell, list[tuple[int, int | None]]] = {}
        self._woken_by: dict[Cell, int | None] = {}
        self._ready_by: dict[Cell, int] = {}
        self._moved_by: dict[Cell, int] = {}
        self._latest: dict[Cell, int] = {}
        self._before: dict[Cell, int] = {}
        super().__init__(plan, rules)

    def _note(self, cell: Cell, kind: str, before: int, after: int, cause: int | None, what: str = "level") -> int:
        number = len(self.changes)
        self.changes.append(Change(number, self.now, cell, kind, before, after, cause, what))
        self._latest[cell] = number
        return number

    def schedule(self, cell: Cell, delay: int, priority: int = 0) -> None:
        if cell not in self.outstanding:
            if self._group is not None:
                self._scheduled_by[cell] = self._group
            elif cell not in self._changed and self._changed_now(cell):
                self._scheduled_by[cell] = self._latest[cell]
            else:  # it is about to change, and that change is what it will come of
                self._pending.add(cell)
        super().schedule(cell, delay, priority)

    def _changed_now(self, cell: Cell) -> bool:
        """Whether the cell's latest change was in this step."""
        number = self._latest.get(cell)
        return number is not None and self.changes[number].step == self.now

    def set_level(self, cell: Cell, level: int) -> None:
        before = self.level.get(cell, 0)
        super().set_level(cell, level)
        if self._group is not None and self.geometry.kind(cell) == "wire":
            self._note(cell, "wire", before, level, self._group)

    def set_count(self, cell: Cell, count: int) -> None:
        self._before.setdefault(cell, self.count.get(cell, 0))
        super().set_count(cell, count)

    def notify(self, cell: Cell) -> None:
        kind = self.geometry.kind(cell)
        if kind == "comparator":
            self._input_moved(cell)
        elif kind == "hopper":
            self._woken_by[cell] = self._group
        elif kind in PISTONS:
            self._scheduled_by.setdefault(cell, self._group)
            if cell not in self.moves.queue:
                self._scheduled_by[cell] = self._group
        super().notify(cell)

    def _input_moved(self, cell: Cell) -> None:
        value = compared(self, cell)
        moved = self._moved_input.setdefault(cell, [(self.level.get(cell, 0), None)])
        if moved[-1][0] != value:
            moved.append((value, self._group))

    def notify_of_lamp(self, cell: Cell) -> None:
        before = self._group
        self._group = self._note(cell, "lamp", 0, self.level[cell], before)
        super().notify_of_lamp(cell)
        self._group = before

    def change(self) -> None:
        group = self._begin()
        outer, self._group = self._group, group
        super().change()
        self._group = outer

    def _begin(self) -> int | None:
        """Write down the change that is about to end; the number by which what follows from it is told."""
        group: int | None = None
        for cell, before in list(self._changed.items()):
            kind = self.kind_at(cell) or "wire"
            level = self.level.get(cell, 0)
            if kind == "wire" or level == before:
                continue
            what = "move" if kind in PISTONS else "level"
            group = self._note(cell, kind, before, level, self._cause_of(cell, kind, before, level), what)
            if cell in self._pending:
                self._pending.discard(cell)
                self._scheduled_by[cell] = group
        group = self._counts(group)
        if group is None and self._restood:
            by = next((self._moved_by[cell] for cell in self._restood if cell in self._moved_by), None)
            cell = next(iter(self._restood))
            group = self._note(cell, self.kind_at(cell) or "empty", 0, 0, by, "move")
        for cell in self._restood:
            stand = self.stands.get(cell)
            if stand is not None and stand.posture == "moving" and group is not None:
                self._moved_by[cell] = group
        return group

    def _cause_of(self, cell: Cell, kind: str, before: int, level: int) -> int | None:
        cause = self._scheduled_by.pop(cell, None)
        if kind in PLATES and level < before:
            cause = self._latest.get(cell)  # it looks again from when it went on
        if kind != "comparator":
            return cause
        moved = self._moved_input.get(cell, [])
        up = level > before
        for index in range(len(moved) - 1, 0, -1):
            if (moved[index][0] > moved[index - 1][0]) == up:
                cause = moved[index][1]
                break
        self._moved_input[cell] = [(level, None)] if not moved else [(moved[-1][0], moved[-1][1])]
        return cause

    def _counts(self, group: int | None) -> int | None:
        if not self._recounted:
            return group
        actor = self._acting_hopper()
        cause = None
        if actor is not None:
            ready = self.matter.ready.get(actor, 0)
            cause = self._ready_by.get(actor) if ready == self.now and ready else self._woken_by.get(actor)
            if cause is None:
                cause = self._ready_by.get(actor)
        elif group is None:
            cause = next((self._scheduled_by.pop(cell) for cell in self._recounted if cell in self._scheduled_by), None)
        first: int | None = None
        for cell in sorted(self._recounted):
            kind = self.kind_at(cell) or "hopper"
            number = self._note(cell, kind, self._before.get(cell, 0), self.count.get(cell, 0), cause, "count")
            first = number if first is None else first
            filled = self._before.get(cell, 0) == 0 and self.count.get(cell, 0) > 0
            if filled and cell != actor and self.matter.ready.get(cell, 0) == self.now + self.rules.hopper.first_wait:
                self._ready_by[cell] = number
            for there in self.geometry.hoppers_near(cell):
                self._woken_by[there] = number
        if actor is not None and first is not None:
            self._ready_by[actor] = first
        self._before.clear()
        return group if group is not None else first

    def _acting_hopper(self) -> Cell | None:
        """The hopper that has its turn now."""
        turn = self.matter.turn
        if turn is None:
            return None
        return next((cell for cell in self._recounted if self.key(cell) == turn), None)
