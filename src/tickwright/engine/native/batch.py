"""Many runs in one call: layouts under scripts of the hand, and one press in many lengths."""

from __future__ import annotations

import ctypes
import os
from array import array
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Any, NamedTuple

from tickwright.engine.interface import Job
from tickwright.engine.native import library as lib
from tickwright.engine.native.library import (
    ActRecord,
    BatchRecord,
    ChangeRecord,
    EndingRecord,
    JobRecord,
    LayoutRecord,
    NoteRecord,
    SummaryRecord,
)
from tickwright.engine.native.packing import Palette, act_record, address, probe_rows
from tickwright.engine.native.simulation import AT_ONCE, Simulation, World
from tickwright.engine.order import notification_order
from tickwright.errors import UsageError
from tickwright.kinds import Part
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.space import Cell

SHARE = 2_000  # jobs between two looks at what a user wants
_ORDERS = {"canonical": 0, "reversed": 1}


class Outcomes:
    """What came of each job.

    The first six columns have a row for each watched cell of each job, those of job j being `start[j]` to
    `start[j + 1]` (left out). Steps are -1 where there is none. `last_off` is the last step at whose end the cell had
    gone off, on again since or not.
    """

    def __init__(self, start: Sequence[int], summaries: Any, endings: Any) -> None:
        longs = memoryview(summaries).cast("B").cast("q")
        shorts = memoryview(summaries).cast("B").cast("i")
        ends = memoryview(endings).cast("B")
        self.start = start  # start[job], one more at the end
        self.first_on = longs[0::5]  # first_on[row]: the first step at whose end the cell was on
        self.last_off = longs[1::5]  # last_off[row]: the last step at whose end it had gone off
        self.pulses = longs[2::5]  # pulses[row]: how often it went on
        self.changes = longs[3::5]  # changes[row]: how often the value changed from one step to the next
        self.highest = shorts[8::10]  # highest[row]: the highest value
        self.last = shorts[9::10]  # last[row]: the value at the end
        self.last_step = ends.cast("q")[0::3]  # last_step[job]: the last step in which anything happened
        self.acted = ends.cast("q")[1::3]  # acted[job]: how many events came due
        self.at_rest = ends.cast("i")[4::6]  # at_rest[job]: 1 if nothing is left to happen after it


class Changes(NamedTuple):
    """The changes of one job's watched cells, in their order; those of step 0 say what they show at its end.

    `places` are those in what its layout watches; `ended` says whether the job came to its last step, `rests` whether
    nothing is left to happen after `last_step`, the last in which anything did.
    """

    steps: list[int]
    places: list[int]
    values: list[int]
    ended: bool
    rests: bool = False
    last_step: int = -1


class Layout(NamedTuple):
    """One layout of a batch as the library takes it."""

    cells: array[int]  # x, y, z and code of each part
    places: Mapping[Cell, int]  # which of these a cell is
    parts: Mapping[Cell, Part]
    watched: array[int]
    rules: int
    order: str


class Jobs(NamedTuple):
    """Jobs as the library takes them; packed once, they can be run again and again."""

    records: Any
    acts: Any
    acts_number: int
    start: array[int]


class Batch:
    """Layouts prepared for many runs. They may be of different rule sets and orders, and pistons may move in them.

    >>> from tickwright.plan import loads
    >>> from tickwright.plan.hand import Stimulus
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> batch = Batch()
    >>> lit = batch.add(plan.cells, [(1, 0, 1)], load_rules())
    >>> cut = batch.change(lit, {(0, 0, 1): None})
    >>> press = (Stimulus(5, (0, 0, 1), "press"),)
    >>> done = batch.run([Job(lit), Job(lit, press), Job(lit, press, (3,)), Job(cut, press)], steps=100)
    >>> done.pulses.tolist(), done.first_on.tolist(), done.last_off.tolist()
    ([0, 1, 1, 0], [-1, 5, 5, -1], [-1, 29, 12, -1])
    """

    def __init__(self) -> None:
        lib.library()
        self.layouts: list[Layout] = []
        self._palettes: list[Palette] = []
        self._which: dict[int, int] = {}
        self._codes: dict[tuple[int, Part], int] = {}  # (which rules, part) -> place in the palette of all
        self._rows: list[bytes] = []
        self._shuffles: dict[str, Any] = {}
        self._failures: list[BaseException] = []

    def add(
        self,
        parts: Mapping[Cell, Part],
        watched: Iterable[Cell],
        rules: RuleSet,
        order: str = "canonical",
        of_part: Container[int] = (),
    ) -> int:
        """Take a layout, of which these cells are watched; the number by which jobs name it.

        `of_part` holds the places in `watched` of those that show 15 while a part stands there, not what it shows.
        """
        which = self._rules(rules)
        flat: list[int] = []
        places = {}
        for place, (cell, part) in enumerate(parts.items()):
            flat += (*cell, self._code(which, part))
            places[cell] = place
        self.layouts.append(Layout(array("i", flat), places, parts, probe_rows(watched, of_part), which, order))
        return len(self.layouts) - 1

    def add_plan(self, setup: Setup) -> int:
        """Take a plan, of which the outputs are watched; its number."""
        plan = setup.plan
        of_part = {place for place, name in enumerate(plan.outputs) if name in plan.part_outputs}
        return self.add(plan.cells, plan.outputs.values(), setup.rules, setup.order, of_part)

    def change(self, layout: int, changes: Mapping[Cell, Part | None]) -> int:
        """Take a layout that differs from another in these cells only (None: empty); its number."""
        old = self.layouts[layout]
        cells, parts = old.cells[:], {**old.parts}
        gone = []
        for cell, part in changes.items():
            place = old.places.get(cell)
            if part is None:
                if place is not None:
                    gone.append(place)
                    del parts[cell]
                continue
            code = self._code(old.rules, part)
            parts[cell] = part
            if place is None:
                cells.extend((*cell, code))
            else:
                cells[4 * place + 3] = code
        for place in sorted(gone, reverse=True):
            del cells[4 * place : 4 * place + 4]
        fits = not gone and len(parts) == len(old.parts)
        places = old.places if fits else {cell: place for place, cell in enumerate(parts)}
        self.layouts.append(old._replace(cells=cells, places=places, parts=parts))
        return len(self.layouts) - 1

    def jobs(self, jobs: Iterable[Job]) -> Jobs:
        """Jobs packed."""
        given = list(jobs)
        acts: list[Any] = []
        records = (JobRecord * max(len(given), 1))()
        start = array("q", [0])
        for record, job in zip(records, given, strict=False):
            layout = self.layouts[job.circuit]
            record.layout, record.acts, record.acts_n = job.circuit, len(acts), len(job.stimuli)
            record.summaries = start[-1]
            presses = (*job.presses, *([0] * (len(job.stimuli) - len(job.presses))))
            acts += [self._act(layout, act, press) for act, press in zip(job.stimuli, presses, strict=True)]
            start.append(start[-1] + len(layout.watched) // 4)
        return Jobs(records, (ActRecord * max(len(acts), 1))(*acts), len(acts), start)

    def run(self, jobs: Iterable[Job] | Jobs, steps: int, workers: int | None = 1) -> Outcomes:
        """Run every job over steps 0 to `steps` - 1, shared out among so many threads (None: one for each core).

        A circuit that comes to rest costs nothing from then on; jobs of one layout in a row are built once.
        """
        packed = jobs if isinstance(jobs, Jobs) else self.jobs(jobs)
        number = len(packed.start) - 1
        rows = packed.start[-1]
        summaries, endings = (SummaryRecord * max(rows, 1))(), (EndingRecord * max(number, 1))()
        data, kept = self._data(packed, summaries, endings)
        workers = max(1, min(workers or os.cpu_count() or 1, -(-number // SHARE)))

        def work(turn: int) -> None:
            base, running = World(), World()
            for first in range(turn * SHARE, number, workers * SHARE):
                end = min(first + SHARE, number)
                status = base.library.tw_batch(base.handle, running.handle, ctypes.byref(data), first, end, steps)
                if self._failures:
                    raise self._failures[0]
                lib.check(status)

        if workers == 1:
            work(0)
        else:
            with ThreadPoolExecutor(workers) as pool:
                list(pool.map(work, range(workers)))
        del kept
        return Outcomes(packed.start, summaries, endings)

    def changes(self, jobs: Iterable[Job], steps: int | Sequence[int], most_events: int) -> Iterator[Changes]:
        """What the watched cells of each job do over steps 0 to `steps` - 1, run one after another.

        `steps` may be a number for each job. A job is given up after about so many events, with what it did until then.
        """
        given = list(jobs)
        until = [steps] * len(given) if isinstance(steps, int) else steps
        packed = self.jobs(given)
        palette = ctypes.create_string_buffer(b"".join(self._rows))
        world = World()
        call, handle = world.library, world.handle
        notes, buffer = (NoteRecord * AT_ONCE)(), (ChangeRecord * AT_ONCE)()
        longs, shorts = memoryview(buffer).cast("B").cast("q"), memoryview(buffer).cast("B").cast("i")
        for number, (job, end) in enumerate(zip(given, until, strict=True)):
            layout = self.layouts[job.circuit]
            record = packed.records[number]
            order = _ORDERS.get(layout.order, 2)
            shuffle = ctypes.cast(self._shuffle(layout.order), ctypes.c_void_p) if order == 2 else None
            rules = ctypes.byref(self._palettes[layout.rules].packed.record)
            laid, seen = layout.cells, layout.watched
            cells_n, seen_n = len(laid) // 4, len(seen) // 4
            lib.check(
                call.tw_build(
                    handle,
                    rules,
                    palette,
                    len(self._rows),
                    address(laid),
                    cells_n,
                    address(seen),
                    seen_n,
                    order,
                    shuffle,
                )
            )
            acts = ctypes.byref(packed.acts, record.acts * ctypes.sizeof(ActRecord))
            lib.check(call.tw_script(handle, acts, record.acts_n))
            lib.check(call.tw_log(handle, 1))
            log = Changes([], [], [], False)
            ended = False
            while not ended and call.tw_events(handle) < most_events:
                ended = lib.check(call.tw_advance(handle, end, most_events)) != lib.MORE
                while call.tw_notes(handle, notes, AT_ONCE):
                    pass
                while count := call.tw_changes(handle, buffer, AT_ONCE):
                    log.steps.extend(longs[0 : 2 * count : 2].tolist())
                    log.places.extend(shorts[2 : 4 * count : 4].tolist())
                    log.values.extend(shorts[3 : 4 * count : 4].tolist())
            if self._failures:
                raise self._failures[0]
            rests, last = call.tw_next(handle) < 0, int(call.tw_now(handle))
            yield log._replace(ended=ended, rests=rests, last_step=last)

    def _rules(self, rules: RuleSet) -> int:
        which = self._which.get(id(rules))
        if which is None:
            which = self._which[id(rules)] = len(self._palettes)
            self._palettes.append(Palette(rules))  # which keeps the rule set, and so its id
        return which

    def _code(self, which: int, part: Part) -> int:
        code = self._codes.get((which, part))
        if code is None:
            code = self._codes[which, part] = len(self._rows)
            self._rows.append(self._palettes[which].packed.row(part))
        return code

    def _act(self, layout: Layout, act: Stimulus, press: int) -> Any:
        code = self._code(layout.rules, act.part) if act.part is not None else 0
        return act_record(act, press, layout.parts, code)

    def _data(self, jobs: Jobs, summaries: Any, endings: Any) -> tuple[Any, Any]:
        """All that a call takes, and what must be kept alive meanwhile."""
        cells, probes = array("i"), array("i")
        layouts = (LayoutRecord * max(len(self.layouts), 1))()
        for record, layout in zip(layouts, self.layouts, strict=False):
            record.cells, record.cells_n = len(cells) // 4, len(layout.cells) // 4
            record.probes, record.probes_n = len(probes) // 4, len(layout.watched) // 4
            record.rules, record.order = layout.rules, _ORDERS.get(layout.order, 2)
            if record.order == 2:
                record.shuffle = ctypes.cast(self._shuffle(layout.order), ctypes.c_void_p).value
            cells += layout.cells
            probes += layout.watched
        rules = (lib.RulesRecord * len(self._palettes))(*[palette.packed.record for palette in self._palettes])
        palette = ctypes.create_string_buffer(b"".join(self._rows))
        data = BatchRecord(
            rules=ctypes.addressof(rules),
            palette=ctypes.addressof(palette),
            cells=address(cells),
            probes=address(probes),
            layouts=ctypes.addressof(layouts),
            acts=ctypes.addressof(jobs.acts),
            jobs=ctypes.addressof(jobs.records),
            summaries=ctypes.addressof(summaries),
            endings=ctypes.addressof(endings),
            rules_n=len(self._palettes),
            palette_n=len(self._rows),
            cells_n=len(cells) // 4,
            probes_n=len(probes) // 4,
            layouts_n=len(self.layouts),
            acts_n=jobs.acts_number,
            jobs_n=len(jobs.start) - 1,
            summaries_n=jobs.start[-1],
        )
        return data, (rules, palette, cells, probes, layouts)

    def _shuffle(self, order: str) -> Any:
        if order not in self._shuffles:
            self._shuffles[order] = lib.shuffle_function(notification_order(order), self._failures)
        return self._shuffles[order]


def press_lengths(sim: Simulation, button: Cell, step: int, lengths: Sequence[int], until: int) -> Outcomes:
    """Press the button at `step`, for each of these lengths in steps (ascending), and run on to `until`.

    `sim` has been run to a step before, and goes on untouched. The outcomes have a job for each length. A length beyond
    the step at which everything rests while the button is held costs next to nothing.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> sim = Simulation(Setup(plan, load_rules()), watch={"lamp": (1, 0, 1)})
    >>> press_lengths(sim, (0, 0, 1), 5, [1, 2, 90], 200).last_off.tolist()
    [10, 11, 99]
    """
    number, watched = len(lengths), len(sim.watch)
    start = range(0, (number + 1) * watched, watched) if watched else [0] * (number + 1)
    summaries, endings = (SummaryRecord * max(number * watched, 1))(), (EndingRecord * max(number, 1))()
    world = sim.world
    steps = _counted(number) if lengths == range(1, number + 1) else array("q", lengths or [0])
    held, running = World(), World()
    status = world.library.tw_lengths(
        held.handle,
        running.handle,
        world.handle,
        (ctypes.c_int32 * 3)(*button),
        step,
        until,
        address(steps),
        number,
        summaries,
        number * watched,
        endings,
    )
    if status == lib.BAD_CELL:
        raise UsageError(f"There is no button at {button} that could be pressed in step {step}.")
    world.checked(status)
    return Outcomes(start, summaries, endings)


@lru_cache(maxsize=4)
def _counted(number: int) -> array[int]:
    """1 to `number`, the lengths that are asked for most."""
    return array("q", range(1, number + 2))
