"""One run on the native engine."""

from __future__ import annotations

import ctypes
import weakref
from array import array
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import ActRecord, ChangeRecord, NoteRecord, check, library
from tickwright.engine.native.messages import add_notes
from tickwright.engine.native.packing import Palette, act_record, address, probe_rows
from tickwright.engine.notes import Notes
from tickwright.engine.order import notification_order
from tickwright.engine.trace import Trace
from tickwright.errors import UsageError
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import Cell

SLICE = 1_000_000  # events between two looks at what a user wants, about a twentieth of a second
FEW, AT_ONCE = 16, 4096  # changes read in one go, at first and once there are many


class World:
    """A world of the library, freed with this object."""

    def __init__(self) -> None:
        self.library = library()
        self.handle: int = self.library.tw_new()
        if not self.handle:
            raise MemoryError
        weakref.finalize(self, self.library.tw_free, self.handle)
        self.failures: list[BaseException] = []
        self.keep_alive: Any = None

    def build(self, plan: Plan, palette: Palette, order: str, watch: Mapping[str, Cell]) -> None:
        """Lay the plan and settle it."""
        cells = palette.cells(plan.cells)
        of_part = {place for place, name in enumerate(watch) if name in plan.part_outputs}
        probes = probe_rows(watch.values(), of_part)
        number = {"canonical": 0, "reversed": 1}.get(order, 2)
        shuffle = lib.shuffle_function(notification_order(order), self.failures) if number == 2 else None
        self.keep_alive = shuffle
        status = self.library.tw_build(
            self.handle,
            ctypes.byref(palette.packed.record),
            palette.records(),
            len(palette.codes),
            address(cells),
            len(cells) // 4,
            address(probes),
            len(probes) // 4,
            number,
            ctypes.cast(shuffle, ctypes.c_void_p) if shuffle else None,
        )
        self.checked(status)

    def checked(self, status: int) -> int:
        """The status of a call, once what went wrong in Python meanwhile is raised."""
        if self.failures:
            raise self.failures.pop()
        return check(status)

    def copy(self) -> World:
        """A world that goes on as this one would."""
        clone = World()
        clone.keep_alive, clone.failures = self.keep_alive, self.failures
        self.checked(self.library.tw_copy(clone.handle, self.handle))
        return clone


class Simulation:
    """One run: what the hand will do is known from the start, or done with `do` at the end of a step.

    `watch` maps names to the cells whose values `trace` gives. `button_steps` maps the cells of buttons to how long
    they stay pressed, in steps, where that is not their own length. Raises UsageError where the library is missing.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.plan.hand import parse_script
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> sim = Simulation(Setup(plan, load_rules()), watch=plan.outputs, stimuli=parse_script(plan, ["5:press"]))
    >>> sim.advance(60)
    True
    >>> sim.trace(60).changes["lamp"]
    ((0, 0), (5, 15), (29, 0))
    """

    def __init__(
        self,
        setup: Setup,
        watch: Mapping[str, Cell] | None = None,
        stimuli: Iterable[Stimulus] = (),
        button_steps: Mapping[Cell, int] | None = None,
    ) -> None:
        self.plan, self.rules = setup.plan, setup.rules
        self.watch = dict(watch or {})
        self.notes = Notes()
        self._palette = Palette(setup.rules)
        self._palette.take(setup.plan.cells)
        self.button_steps = dict(button_steps or {})
        records = [self.act_record(stimulus) for stimulus in stimuli]
        acts = (ActRecord * max(len(records), 1))(*records)
        self.world = World()
        self.world.build(setup.plan, self._palette, setup.order, self.watch)
        self._call("tw_script", acts, len(records))
        self._call("tw_log", 1)
        self._changes: list[array[int]] = []  # chunks of step, watched place, value

    def act_record(self, stimulus: Stimulus) -> Any:
        """The stimulus as the library takes it. A part to be placed must be known from the start."""
        code = self._palette.code(stimulus.part) if stimulus.part is not None else 0
        return act_record(stimulus, self.button_steps.get(stimulus.cell, 0), self.plan.cells, code)

    def _call(self, name: str, *arguments: Any) -> int:
        return self.world.checked(getattr(self.world.library, name)(self.world.handle, *arguments))

    @property
    def now(self) -> int:
        """The last step at which anything happened, -1 before the first."""
        return int(self.world.library.tw_now(self.world.handle))

    @property
    def events(self) -> int:
        """How many parts came due so far."""
        return int(self.world.library.tw_events(self.world.handle))

    def next_step(self) -> int | None:
        """The next step in which something is due, what the hand will do included; None if all is at rest."""
        step = int(self.world.library.tw_next(self.world.handle))
        return None if step < 0 else step

    def advance(self, until: int, most_work: int | None = None) -> bool:
        """Simulate every step before `until`; whether it came so far: it gives up after so many events or steps."""
        budget = SLICE if most_work is None else most_work
        while True:
            more = self._call("tw_advance", until, budget) == lib.MORE
            self._read()
            if not more:
                return True
            if most_work is not None:
                return False

    def step(self, step: int) -> None:
        """Simulate this step; nothing may be due between the last one and it."""
        self._call("tw_step", step)
        self._read()

    def do(self, stimulus: Stimulus) -> None:
        """Do it now, at the end of the last step. A part to be placed must be one that the run knows from the start."""
        if stimulus.part is not None and stimulus.part not in self._palette.codes:
            raise UsageError(f'"{stimulus}" places a part that this run was not told of when it began.')
        record = self.act_record(stimulus)
        self._call("tw_do", ctypes.byref(record))
        self._read()

    def shown(self) -> list[int]:
        """What the watched cells show, in their order."""
        values = (ctypes.c_int32 * max(len(self.watch), 1))()
        self._call("tw_values", values, len(self.watch))
        return list(values[: len(self.watch)])

    def copy(self) -> Simulation:
        """A run that goes on exactly as this one, its trace and notes included; neither disturbs the other."""
        clone = object.__new__(Simulation)
        clone.__dict__.update(self.__dict__)
        clone.__dict__.update(notes=self.notes.copy(), world=self.world.copy(), _changes=[*self._changes])
        return clone

    def trace(self, steps: int) -> Trace:
        """What the watched cells showed over steps 0 to `steps` - 1, all of which must have been simulated."""
        rows: list[list[tuple[int, int]]] = [[] for _ in self.watch]
        for step, place, value in self._triples():
            rows[place].append((step, value))
        return Trace(steps, dict(zip(self.watch, map(tuple, rows), strict=True)))

    def _triples(self) -> Iterator[tuple[int, int, int]]:
        values = chain.from_iterable(self._changes)
        return zip(values, values, values, strict=True)

    def _kept_notes(self) -> Iterator[Any]:
        room = FEW
        notes = (NoteRecord * room)()
        while number := self.world.library.tw_notes(self.world.handle, notes, room):
            yield from notes[:number]
            if number == FEW:
                room, notes = AT_ONCE, (NoteRecord * AT_ONCE)()

    def _read(self) -> None:
        """Take over the notes and changes that the library has kept so far."""
        handle, functions = self.world.handle, self.world.library
        add_notes(self.notes, self._kept_notes(), self.rules)
        room = FEW
        changes = (ChangeRecord * room)()
        while number := functions.tw_changes(handle, changes, room):
            if number == FEW:
                room = AT_ONCE
            rows = [axis for row in changes[:number] for axis in (row.step, row.probe, row.value)]
            self._changes.append(array("q", rows))
            if room > len(changes):
                changes = (ChangeRecord * room)()
