"""One traced press as explanations need it: edges, numbers of changes, sources and their times, rings that support."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

from tickwright.diagnosis.reasons.naming import Names
from tickwright.diagnosis.reasons.sentences import Named, Piece
from tickwright.diagnosis.reasons.tracing import CellChange, TracedRun
from tickwright.kinds import HEARING, PASSING, is_a
from tickwright.measurement.press import Trigger, press_stimuli
from tickwright.plan.setup import Setup
from tickwright.space import Cell

MOST_UPSTREAM = 12
CLOCK_EDGES = 6
_PRESSES = {"flip": "flip", "on": "flip", "off": "flip", "drop": "dropped item", "tread": "step", "put": "item put"}


class Interval(NamedTuple):
    """When a source was on: the changes at which it came on and went off."""

    cell: Cell
    start: CellChange
    end: CellChange


class Pressed:
    """A press of one trigger of a plan, traced; steps count from the press, at step `at` of the run."""

    def __init__(self, setup: Setup, trigger: Trigger) -> None:
        self.plan, self.rules, self.trigger = setup.plan, setup.rules, trigger
        self.run = TracedRun(setup, trigger)
        self.at = self.run.pressed_at
        self.names = Names(setup.plan)
        self._final: dict[Cell, list[tuple[int, int]]] = {}

    # --- what cells show ---------------------------------------------------------------------------------------------

    def kind(self, cell: Cell) -> str:
        """The kind of part in the cell at the start; "cell" where it was empty."""
        part = self.plan.cells.get(cell)
        return part.kind if part is not None else "cell"

    def is_lamp(self, cell: Cell) -> bool:
        """Whether a lamp stands there."""
        return is_a(self.kind(cell), "lamp")

    def subtracts(self, cell: Cell) -> bool:
        """Whether a comparator in difference mode stands there."""
        part = self.plan.cells.get(cell)
        return part is not None and part.behaviour == "comparator" and part.mode == "difference"

    def press_words(self) -> Piece:
        """The press as people call it; with the trigger's name where the plan has several."""
        verb = press_stimuli(self.trigger, 0)[0].verb
        what = _PRESSES.get(verb, "press")
        name = f" of {self.trigger.name}" if len(self.plan.triggers) > 1 else ""
        return Named(f"one {what}{name}", (self.trigger.cell,))

    def shown(self, cell: Cell) -> list[tuple[int, int]]:
        """What the cell shows at the end of each step in which that changed, from the press on, in steps from it."""
        if cell not in self._final:
            value = self._before(cell)
            found: list[tuple[int, int]] = []
            last: dict[int, int] = {}
            for number in self.run.of.get(cell, ()):
                change = self.run.changes[number]
                if number >= self.run.first and change.what != "land":
                    last[change.step - self.at] = change.after
            for step, after in last.items():
                if after != value:
                    found.append((step, after))
                    value = after
            self._final[cell] = found
        return self._final[cell]

    def value(self, cell: Cell, step: int) -> int:
        """What the cell shows at the end of a step, counted from the press."""
        past = [value for at, value in self.shown(cell) if at <= step]
        return past[-1] if past else self._before(cell)

    def _before(self, cell: Cell) -> int:
        earlier = [number for number in self.run.of.get(cell, ()) if number < self.run.first]
        if earlier:
            return self.run.changes[earlier[-1]].after
        later = [number for number in self.run.of.get(cell, ()) if number >= self.run.first]
        return self.run.changes[later[0]].before if later else 0

    def number(self, change: CellChange) -> int | None:
        """Which change of its cell this is, from the press on, as seen at the ends of steps; None if it is not seen."""
        for number, (step, value) in enumerate(self.shown(change.cell)):
            if step == change.step - self.at:
                return number if value == change.after else None
        return None

    # --- edges and chains --------------------------------------------------------------------------------------------

    def rest_on(self, cell: Cell) -> bool:
        """Whether the output is on before the press."""
        edges = self._edges(cell)
        if edges:
            return edges[0].before > 0
        return self.run.sim.value(cell) > 0

    def _edges(self, cell: Cell) -> list[CellChange]:
        """The edges as they are seen at the ends of steps: two that undo each other within one step are none."""
        seen: list[CellChange] = []
        for change in self.run.edges(cell):
            if seen and seen[-1].step == change.step:
                seen.pop()
            else:
                seen.append(change)
        return seen

    def flickers(self, cell: Cell) -> bool:
        """Whether the output changes within a step only."""
        return bool(self.run.edges(cell)) and not self._edges(cell)

    def leaves_and_returns(self, cell: Cell) -> tuple[list[CellChange], list[CellChange]]:
        """The changes at which the output leaves its rest, and those at which it comes back to it."""
        edges = self._edges(cell)
        return edges[::2], edges[1::2]

    def is_clock(self, cell: Cell) -> bool:
        """Whether the run was cut short while the output still went on and off."""
        return not self.run.rested and len(self._edges(cell)) >= CLOCK_EDGES

    def chain(self, change: CellChange) -> list[CellChange]:
        """The change and its causes back to the press."""
        return self.run.chain(change)

    def clock_round(self, cell: Cell) -> tuple[CellChange, CellChange, list[CellChange]] | None:
        """Two edges of one sort, and the chain of one round from a cause of the one to the same cause of the other."""
        starts, _ = self.leaves_and_returns(cell)
        if len(starts) < 3:
            return None
        first, second = starts[-2], starts[-1]
        one, other = self.chain(first), self.chain(second)
        shared = {change.number for change in one}
        for at in range(len(other) - 1, -1, -1):
            if other[at].number in shared:
                common = other[at]
                break
        else:
            return None
        for later in range(len(other) - 1, at, -1):
            same = other[later].cell == common.cell and other[later].after == common.after
            if same and other[later].step - common.step == second.step - first.step:
                return first, second, other[at : later + 1]
        return None

    # --- sources -----------------------------------------------------------------------------------------------------

    def sources(self, cell: Cell) -> tuple[Cell, ...]:
        """The parts, wires left out, that can give to the cell as all stands at the end of the run."""
        geometry = self.run.sim.geometry
        kind = geometry.kind(cell)
        if geometry.is_wire(cell):
            near = {source for wire in geometry.network(cell) for source in geometry.wire_sources(wire)}
        elif kind in HEARING:
            near = set(geometry.fan_in(cell).power)
        elif kind in PASSING:
            near = set(geometry.block_sources(cell))
        else:
            return ()
        found: dict[Cell, None] = {}
        for source in sorted(near):
            if geometry.is_wire(source):
                for wire in geometry.network(source):
                    found.update(
                        dict.fromkeys(sorted(s for s in geometry.wire_sources(wire) if not geometry.is_wire(s)))
                    )
            else:
                found[source] = None
        return tuple(found)

    def intervals(self, cell: Cell) -> list[Interval]:
        """When the part was on after the press, each time from on to off."""
        edges = self._edges(cell)
        pairs = itertools.pairwise(edges)
        return [Interval(cell, on, off) for on, off in pairs if on.after > 0 and off.after == 0]

    def handovers(self, cell: Cell) -> Iterator[tuple[Interval, Interval]]:
        """Where one source of the output, or of the single part that gives to it, lets go while another carries on."""
        here = cell
        for _ in range(MOST_UPSTREAM):
            active = [source for source in self.sources(here) if self._edges(source)]
            if len(active) != 1 or active[0] == self.trigger.cell:
                break
            here = active[0]
        spans = sorted((span for source in active for span in self.intervals(source)), key=lambda span: span.start.step)
        if not spans:
            return
        current = spans[0]
        for _ in range(len(spans)):
            over = [s for s in spans if s.start.step <= current.end.step < s.end.step and s.cell != current.cell]
            if not over:
                return
            best = max(over, key=lambda span: span.end.step)
            yield current, best
            current = best

    # --- what is for ever --------------------------------------------------------------------------------------------

    def supporting_ring(self, cell: Cell) -> tuple[Cell, ...]:
        """Parts that are on at the end and give to one another in a ring, from which the output has its level.

        Of an output that is off at the end: those that keep dark a torch which gives to it.
        """
        level = self.run.sim.level
        path: list[Cell] = []
        here = cell
        if self.run.sim.value(cell) == 0:
            dark = [source for source in (cell, *self.sources(cell)) if is_a(self.kind(source), "torch")]
            if not dark:
                return ()
            here = dark[0]
        while here not in path:
            path.append(here)
            given = [
                source for source in self.sources(here) if level.get(source, 0) > 0 and source != self.trigger.cell
            ]
            given = [source for source in given if is_a(self.kind(source), "repeater", "comparator", "torch")]
            if not given:
                return ()
            here = max(given, key=lambda source: (source in path, level.get(source, 0)))
        return tuple(path[path.index(here) :][::-1])

    def locked_support(self, cell: Cell) -> Cell | None:
        """A locked repeater that is on at the end and gives to the output, directly or by others."""
        sim = self.run.sim
        waiting, seen = [cell], {cell}
        for here in waiting:
            for source in self.sources(here):
                if source in seen or sim.level.get(source, 0) == 0:
                    continue
                if is_a(self.kind(source), "repeater") and sim.heard(sim.geometry.fan_in(source).lock) > 0:
                    return source
                seen.add(source)
                waiting.append(source)
        return None
