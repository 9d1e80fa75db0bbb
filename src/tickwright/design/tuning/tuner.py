"""Tune a plan: search its changes, each of them run, for the hold that is wanted."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.design.tuning.changes import (
    FRONT,
    Change,
    Knob,
    knobs,
    longer,
    other_triggers,
    presses,
    slice_places,
    slices,
    swaps,
    turns,
)
from tickwright.design.tuning.costs import cost_text, delay_text, parts_more, press_text
from tickwright.design.tuning.knob_row import KnobRow
from tickwright.engine.running import rules_for
from tickwright.errors import PlanError, UsageError
from tickwright.findings import Edit
from tickwright.kinds import CONTAINERS, part_text
from tickwright.measurement import Measurement, Trigger, find_trigger, length_map, measure_with_findings, observe
from tickwright.measurement.measuring import hold_of, kind_of, scan_lengths
from tickwright.measurement.press import takes_length
from tickwright.plan.hand import default_act
from tickwright.plan.model import Expectation, Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell, zyx

MOST_RUNS = 3_000
MOST_CHANGES = 4  # to one plan, one after another
KEPT = 8  # plans nearest to the goal that are changed further in each round
WANTED = 5
MOST_SLICES = 40  # copies of one slice that are laid at once
LONGEST_STEPS = 20 * 3600 * 24

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Tuned:
    """A changed plan and what a run of it gave. `edits` lay its parts, given the plan as it was; `cells_touched`
    counts those laid or taken away. Where a slice or a front moved the trigger, its place is that in `plan`.

    `parts_more` counts the parts it has more than the plan as it was; `cost` tells in words what it needs or saves.

    `sure` tells whether one press is sure to give one pulse: so does every longer trigger, up to where all is at rest
    while it is held, or to 200 steps; None if the trigger has no length of its own.
    """

    plan: Plan
    changes: tuple[str, ...]
    edits: tuple[Edit, ...]
    cells_touched: int
    hold_steps: int
    error_steps: int
    delay_steps: int
    minimum_trigger_steps: int | None
    sure: bool | None
    parts_more: int = 0
    cost: str = ""

    def as_data(self) -> dict[str, Any]:
        """The changed plan as JSON shows it; the plan itself is left out."""
        return {
            "changes": list(self.changes),
            "edits": [edit.as_data() for edit in self.edits],
            "cells_touched": self.cells_touched,
            "hold_steps": self.hold_steps,
            "error_steps": self.error_steps,
            "delay_steps": self.delay_steps,
            "minimum_trigger_steps": self.minimum_trigger_steps,
            "sure": self.sure,
            "parts_more": self.parts_more,
            "cost": self.cost,
        }


@dataclass(frozen=True, slots=True)
class Tuning:
    """What tuning found: the plan as measured, the changed plans, fewest cells first, and the knob table.

    If none of `found` is within what was asked, they are the nearest there were. `runs` plans were run; `finished` is
    false if the search was stopped, or ended at its bound of runs, before all was tried that it would try.
    """

    before: Measurement
    wanted_steps: int
    within_steps: int
    found: tuple[Tuned, ...]
    knob_table: tuple[KnobRow, ...]
    runs: int
    finished: bool

    def as_data(self) -> dict[str, Any]:
        """All of it as JSON shows it."""
        return {
            "before": self.before.as_data(),
            "wanted_steps": self.wanted_steps,
            "within_steps": self.within_steps,
            "tuned": [one.as_data() for one in self.found],
            "knobs": [row.as_data() for row in self.knob_table],
            "runs": self.runs,
            "finished": self.finished,
        }


class _State(NamedTuple):
    """A plan that was run: how it came about, and its hold if it answers with one pulse that ends."""

    plan: Plan
    changes: tuple[str, ...]
    shift: Cell
    hold: int | None
    kind: str
    delay: int | None


class _Stopped(Exception):
    """The bound of runs is reached."""


@checked
def tune(
    plan: Plan,
    hold_steps: int,
    trigger: str | None = None,
    output: str | None = None,
    within_steps: int = 0,
    rules: RuleSet | str | None = None,
    most_runs: int = MOST_RUNS,
    progress: Progress | None = None,
) -> Tuning:
    r"""Find the smallest changes to the plan that give its output that hold, by one pulse, from one press.

    Tried are: delays and items, parts swapped for others, another kind of trigger, slices of the plan doubled, repeated
    as often as the goal asks or taken out, and a front that makes another pulse of the press; up to four changes
    together, the most promising further ones of the plans nearest to the goal. Each is run. `progress(runs, most)` is
    told how far it is; Ctrl-C ends the search with what was found.

    Raises UsageError if the plan has no such trigger or output or the hold cannot be meant, PlanError for a plan that
    the rules refuse.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", w = "wire", "4" = "repeater east delay=4"}
    ... layer = [{rows = "####\\n####\\n####"}, {rows = "bwrw\\n.w.w\\n.w4w"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {line = [3, 0, 1]}''')
    >>> found = tune(plan, 24).found[0]
    >>> found.changes, found.hold_steps
    (('set the repeater at (2, 0, 1) to 2 ticks instead of 1',), 24)
    """
    if not 1 <= hold_steps <= LONGEST_STEPS:
        raise UsageError(f"A hold of {hold_steps:,} steps cannot be tuned to: use 1 to {LONGEST_STEPS:,} steps.")
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    names = [name for name, cell in plan.triggers.items() if _pressed(plan, cell)]
    if trigger is None and names:
        trigger = names[0]
    measured, _ = measure_with_findings(plan, trigger, output, rules=ruleset)
    before = measured[0]
    search = _Search(plan, ruleset, before, hold_steps, within_steps, most_runs, progress)
    finished = search.run()
    table = tuple(search.knob_row(knob) for knob in knobs(plan, ruleset))
    return Tuning(before, hold_steps, within_steps, search.best(), table, search.runs, finished)


@checked
def knob_table(
    plan: Plan, rules: RuleSet | str | None = None, trigger: str | None = None, output: str | None = None
) -> tuple[KnobRow, ...]:
    r"""What each knob of a plan does to the hold of an output, by a run for each of its values; nothing is searched.

    Raises UsageError and PlanError as `tune` does.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", w = "wire", "4" = "repeater east delay=4"}
    ... layer = [{rows = "####\\n####\\n####"}, {rows = "bwrw\\n.w.w\\n.w4w"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {line = [3, 0, 1]}''')
    >>> [(row.knob.value, [hold for _, hold, *_ in row.holds]) for row in knob_table(plan)]
    [(1, [26, 24, 22, 20]), (4, [20, 22, 24, 26])]
    """
    ruleset = rules_for(plan, rules)
    measured, _ = measure_with_findings(plan, trigger, output, rules=ruleset)
    search = _Search(plan, ruleset, measured[0], 1, 0, 0, None)
    return tuple(search.knob_row(knob) for knob in knobs(plan, ruleset))


def _pressed(plan: Plan, cell: Cell) -> bool:
    part = plan.cells.get(cell)
    return default_act(part.kind if part else None) is not None


class _Search:
    """The search: plans that were run, by their cells, so that none is run twice."""

    def __init__(
        self,
        plan: Plan,
        rules: RuleSet,
        before: Measurement,
        goal: int,
        within: int,
        most_runs: int,
        progress: Progress | None,
    ) -> None:
        self.first, self.rules, self.before = replace(plan, expectations=()), rules, before
        self.goal, self.within, self.most_runs, self.progress = goal, within, most_runs, progress
        self.runs = 0
        self.seen: dict[object, _State] = {}
        self.good: list[_State] = []

    def run(self) -> bool:
        """Search until enough was found, all was tried, the bound was met, or Ctrl-C; whether it was not cut short."""
        try:
            start = self.tried(Change(self.first, ""), None)
            layer = [start] if start is not None else []
            for _ in range(MOST_CHANGES):
                found: list[_State] = []
                for state in layer:
                    found += self.changed(state)
                if len(self.good) >= WANTED or not found:
                    break
                layer = sorted(found, key=self.promise)[:KEPT]
        except (_Stopped, KeyboardInterrupt):
            return False
        return True

    def changed(self, state: _State) -> Iterator[_State]:
        """Every state that is one more change away and answers with one pulse."""
        for change in self.options(state):
            after = self.tried(change, state)
            if after is not None and after.hold is not None:
                yield after
        if len(state.changes) <= 1 and not self.good:
            yield from self.repeated(state)

    def options(self, state: _State) -> Iterator[Change]:
        """The changes worth trying: first those that were worked out to hit the goal, then all others."""
        if state.hold is not None:
            yield from self.fronts(state, self.pulse_steps(state))
            yield from self.counted(state)
        yield from other_triggers(state.plan, self.rules, self.before.trigger)
        yield from turns(state.plan, self.rules)
        yield from swaps(state.plan)
        yield from slices(state.plan)

    def pulse_steps(self, state: _State) -> int:
        """How long a pulse would give the goal, if the hold grows by what the pulse grows."""
        return (self.place(state.plan).length_steps or 0) + self.goal - (state.hold or 0)

    def fronts(self, state: _State, pulse_steps: int) -> Iterator[Change]:
        """Fronts that make a pulse of that length of the state's own press; one is enough."""
        if any(text.startswith(FRONT) for text in state.changes):
            return
        yield from presses(state.plan, self.before.trigger, self.place(state.plan).length_steps, pulse_steps)

    def repeated(self, state: _State) -> Iterator[_State]:
        """Slices repeated as often as should give the goal; where the press is then too short, with longer ones."""
        if state.hold is None:
            return
        for axis, place in slice_places(state.plan):
            one = self.known(longer(state.plan, axis, place), state)
            if one is None or one.hold in (None, state.hold):
                continue
            guess = (self.goal - state.hold) / ((one.hold or 0) - state.hold)
            for times in sorted({math.floor(guess) - 1, math.floor(guess), math.ceil(guess)}):
                if not 2 <= times <= MOST_SLICES:
                    continue
                after = self.tried(longer(state.plan, axis, place, times), state)
                if after is not None:
                    yield from [after] if after.hold is not None else []
                    yield from self.pressed_longer(after)

    def pressed_longer(self, state: _State) -> Iterator[_State]:
        """The state with other triggers, and with fronts that make pulses as long as they can, or as the goal asks."""
        others = [self.tried(change, state) for change in other_triggers(state.plan, self.rules, self.before.trigger)]
        for one in [state, *(other for other in others if other is not None)]:
            length = self.place(one.plan).length_steps
            if length is None:
                continue
            trials = [(one, self.pulse_steps(one))] if one.hold is not None else []
            if one.hold is None:
                longest = 2 * length - 2
                made = [self.tried(change, one) for change in self.fronts(one, longest)]
                best = next((after for after in made if after is not None and after.hold is not None), None)
                if best is not None:
                    yield best
                    trials = [(one, longest + self.goal - (best.hold or 0))]
            for base, pulse in trials:
                if base.hold is not None:
                    yield base
                found = [self.tried(change, base) for change in self.fronts(base, pulse)]
                yield from (after for after in found if after is not None and after.hold is not None)

    def counted(self, state: _State) -> Iterator[Change]:
        """Counts of items that would give the goal, if the hold grows evenly from the present number to one more."""
        for knob in knobs(state.plan, self.rules):
            if knob.part.kind not in CONTAINERS or state.hold is None:
                continue
            one_more = Change(knob.turned_to(state.plan, knob.value + 1), knob.text(knob.value + 1))
            if knob.value + 1 > self.rules.capacity(knob.part.kind):
                continue
            after = self.tried(one_more, state)
            if after is None or after.hold in (None, state.hold):
                continue
            guess = knob.value + round((self.goal - state.hold) / ((after.hold or 0) - state.hold))
            for value in (guess, guess - 1, guess + 1):
                if 0 <= value <= self.rules.capacity(knob.part.kind) and value != knob.value:
                    yield Change(knob.turned_to(state.plan, value), knob.text(value))

    def known(self, change: Change, after: _State) -> _State | None:
        """The state of a changed plan, whether it was run before or not."""
        return self.seen.get(_key(change.plan)) or self.tried(change, after)

    def tried(self, change: Change, after: _State | None) -> _State | None:
        """The state of a changed plan, run; None if it was run before or the rules refuse it."""
        key = _key(change.plan)
        if key in self.seen:
            return None
        if self.runs >= self.most_runs:
            raise _Stopped
        changes = (*after.changes, change.text) if after is not None else ()
        shift = _plus(after.shift, change.shift) if after is not None else (0, 0, 0)
        try:
            validate(change.plan, self.rules)
            kind, hold, delay = self.observed(change.plan)
        except (PlanError, UsageError):
            self.seen[key] = state = _State(change.plan, changes, shift, None, "refused", None)
            return None
        self.runs += 1
        if self.progress is not None:
            self.progress(self.runs, self.most_runs)
        self.seen[key] = state = _State(change.plan, changes, shift, hold, kind, delay)
        if hold is not None and abs(hold - self.goal) <= self.within and after is not None:
            self.good.append(state)
        return state

    def observed(self, plan: Plan) -> tuple[str, int | None, int | None]:
        """Kind, hold if it is one pulse that ends, and delay."""
        seen = observe(Setup(plan, self.rules), self.place(plan), most_steps=max(40 * self.goal, 4_000))
        kind = kind_of(seen, self.before.output)
        found = seen.pulses(self.before.output)
        return kind, hold_of(found) if kind == "one-shot" else None, found[0].start if found else None

    def place(self, plan: Plan) -> Trigger:
        """The trigger in a changed plan."""
        return find_trigger(Setup(plan, self.rules), self.before.trigger)

    def promise(self, state: _State) -> tuple[int, int, int]:
        """Nearest to the goal first; then fewer changes; then fewer parts."""
        return abs((state.hold or 0) - self.goal), len(state.changes), len(state.plan.cells)

    def knob_row(self, knob: Knob) -> KnobRow:
        """What a knob of the first plan does."""
        rows = []
        for value in knob.values:
            try:
                kind, hold, delay = self.observed(knob.turned_to(self.first, value))
            except PlanError:
                continue
            rows.append((value, hold, kind, delay))
        return KnobRow(knob, tuple(rows))

    def best(self) -> tuple[Tuned, ...]:
        """The good ones that touch the fewest cells, sure ones first; the nearest that was met if there is none.

        Of those that are alike but for the cells they change, or that do more than another needs, one is shown.
        """
        others = [state for state in self.seen.values() if state.hold is not None and state.changes]
        states = self.good or sorted(others, key=self.promise)[:1]
        rows = [(edits_between(self.first, state.plan, state.shift), state) for state in states]
        rows.sort(key=lambda row: (abs((row[1].hold or 0) - self.goal), len(row[0]), self.promise(row[1])))
        made: list[Tuned] = []
        shown: set[tuple[str, ...]] = set()
        for edits, state in rows:
            kind = tuple(sorted(re.sub(r"\([0-9, ]*\)|=? *[0-9.]+", "", text) for text in state.changes))
            needless = any(set(one.changes) < set(state.changes) for one in made)
            if kind not in shown and not needless and len(made) < 2 * WANTED:
                shown.add(kind)
                made.append(self.tuned(edits, state))
        made.sort(key=lambda one: one.sure is False)
        return tuple(made[:WANTED])

    def tuned(self, edits: tuple[Edit, ...], state: _State) -> Tuned:
        """A state as it is shown, its shortest trigger looked for."""
        place, output = self.place(state.plan), self.before.output
        least = None
        if takes_length(place):
            least = scan_lengths(Setup(state.plan, self.rules), place, [output])[output][0]
        length = place.length_steps
        delay = state.delay or 0
        costs = [
            cost_text(self.first, state.plan),
            delay_text(self.before.delay_steps, delay),
            press_text(self.before.minimum_trigger_steps, least),
        ]
        expected = Expectation(self.before.trigger, output, hold_steps=state.hold, pulses=1)
        return Tuned(
            plan=replace(state.plan, expectations=(expected,), charts=(), machines=()),
            changes=state.changes,
            edits=edits,
            cells_touched=sum(edit.verb != "move" for edit in edits),
            hold_steps=state.hold or 0,
            error_steps=(state.hold or 0) - self.goal,
            delay_steps=delay,
            minimum_trigger_steps=least,
            sure=None if length is None else (least is not None and least <= length) or self.steady(state.plan, place),
            parts_more=parts_more(self.first, state.plan),
            cost="; ".join(text for text in costs if text),
        )

    def steady(self, plan: Plan, place: Trigger) -> bool:
        """Whether the press and every longer trigger give one pulse, though the hold may not grow with them."""
        rows = length_map(Setup(plan, self.rules), place, [self.before.output])[self.before.output]
        longer = [row.kind for row in rows if row.length_steps >= (place.length_steps or 0)]
        return all(kind == "one-shot" for kind in longer)


def _key(plan: Plan) -> object:
    return tuple(sorted(plan.cells.items())), tuple(plan.triggers.items()), tuple(plan.outputs.items())


def edits_between(before: Plan, after: Plan, shift: Cell) -> tuple[Edit, ...]:
    """What makes the plan `after` of `before`, once that is shifted; in (z, y, x) order of the cells of `after`."""
    old = {_plus(cell, shift): part for cell, part in before.cells.items()}
    cells: Iterable[Cell] = sorted({*old, *after.cells}, key=zyx)
    edits = []
    if shift != (0, 0, 0):
        x, y, z = before.size
        edits.append(Edit("move", (0, 0, 0), last=(x - 1, y - 1, z - 1), offset=shift))
    for cell in cells:
        if old.get(cell) == after.cells.get(cell):
            continue
        part = after.cells.get(cell)
        edits.append(Edit("remove", cell) if part is None else Edit("place", cell, part_text(part)))
    return tuple(edits)


def _plus(cell: Cell, offset: Cell) -> Cell:
    return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])
