"""A run recorded whole: what stood in every cell and what it showed, step by step, for pictures of any moment."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from tickwright.arguments import checked
from tickwright.charts import ChartVerdict, check_charts, run_chart
from tickwright.durations import STEPS_PER_TICK
from tickwright.engine.order import check_order
from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for, script
from tickwright.engine.trace import Changes, Trace
from tickwright.errors import UsageError
from tickwright.findings import Finding
from tickwright.kinds import PASSING
from tickwright.measurement import Measurement, find_trigger
from tickwright.measurement.observe import settle
from tickwright.measurement.press import press_stimuli, takes_length, with_button
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.rules.layout import Stand
from tickwright.space import Cell

__all__ = [
    "MOST_RECORDED_STEPS", "ChartRun", "Moment", "Press", "Recording", "record", "record_chart", "record_charts",
    "record_presses",
]  # fmt: skip

MOST_RECORDED_STEPS = 20_000
UNASKED_STEPS = 2_400
MOST_LATE = 6_000  # steps after those in which anything happens: a run with more is cut back to them
UNENDING_STEPS = 600
LEAD_STEPS = 10
AFTER_REST_STEPS = 20
MOST_LENGTHS = 12
MOST_CHANGES = 200_000


class Moment(NamedTuple):
    """The end of one step: what stands where, and what each cell shows that is not 0."""

    step: int
    stands: Mapping[Cell, Stand]
    values: Mapping[Cell, int]


@dataclass(frozen=True, slots=True)
class Recording:
    """A run of `trace.steps` steps of `plan` under `rules`, with what the hand did.

    `trace` holds the triggers and the outputs by name (a name that is both is an output). `shown` maps each cell that
    was ever filled to its change list; `scenes` holds, for each step at which it changed, what stood where from its end
    on, the first at step 0. `rested` says whether nothing more was due at the end; `pressed_at_step` is the step of
    the hand's first act, None if it did nothing.
    """

    plan: Plan
    rules: RuleSet
    stimuli: tuple[Stimulus, ...]
    trace: Trace
    shown: Mapping[Cell, Changes]
    scenes: tuple[tuple[int, Mapping[Cell, Stand]], ...]
    findings: tuple[Finding, ...]
    rested: bool

    @property
    def pressed_at_step(self) -> int | None:
        """The step of the first act."""
        return self.stimuli[0].step if self.stimuli else None

    def moment(self, step: int) -> Moment:
        """The end of a step of the run."""
        if not 0 <= step < self.trace.steps:
            raise UsageError(f"Step {step} lies outside the run: it has the steps 0 to {self.trace.steps - 1}.")
        stands = self.scenes[bisect_right(self.scenes, step, key=lambda scene: scene[0]) - 1][1]
        values = {}
        for cell, changes in self.shown.items():
            value = changes[bisect_right(changes, step, key=lambda change: change[0]) - 1][1]
            if value:
                values[cell] = value
        return Moment(step, stands, values)

    def until(self, steps: int) -> Recording:
        """The same run, ended after so many steps, if it has more."""
        if steps >= self.trace.steps:
            return self

        def cut(changes: Changes) -> Changes:
            return tuple(change for change in changes if change[0] < steps)

        return replace(
            self,
            trace=Trace(steps, {name: cut(changes) for name, changes in self.trace.changes.items()}),
            shown={cell: cut(changes) for cell, changes in self.shown.items()},
            scenes=tuple(scene for scene in self.scenes if scene[0] < steps),
            rested=False,
        )


@checked
def record(
    plan: Plan,
    hand: Iterable[str | Stimulus] | None = None,
    steps: int | None = None,
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    trigger: str | None = None,
    length_steps: int | None = None,
    before_steps: int = LEAD_STEPS,
) -> Recording:
    """Run a plan and keep everything that a picture may show.

    Without `hand` the trigger (the first if none is named) is pressed once, `before_steps` after all has come to rest,
    or at once if it never does; with `length_steps` a button of that length takes its place. Without `steps` the run
    ends a second after all has come to rest, however long that takes, or after two minutes if much happens for longer.
    Raises UsageError for acts, triggers and steps that
    cannot be meant, PlanError for a plan that the rules refuse.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> recording = record(plan)
    >>> recording.trace.steps, recording.shown[1, 0, 1], recording.moment(13).values
    (55, ((0, 0), (10, 15), (34, 0)), {(0, 0, 0): 15, (0, 0, 1): 15, (1, 0, 1): 15})
    """
    if steps is not None and not 1 <= steps <= MOST_RECORDED_STEPS:
        raise UsageError(
            f"A run of {steps} steps cannot be recorded whole: use 1 to {MOST_RECORDED_STEPS:,} steps (--for)."
        )
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    check_order(order)
    laid, button_steps = plan, None
    name = trigger if trigger is not None else next(iter(plan.triggers), None)
    if length_steps is not None:
        if name is None:
            raise UsageError("The plan names no trigger to give a length: add one under [triggers].")
        place = find_trigger(Setup(plan, ruleset), name)
        laid, button_steps = with_button(plan, place), {place.cell: length_steps}
    watch = {**plan.triggers, **plan.outputs}
    keeper = _Keeper()
    sim = Simulation(Setup(laid, ruleset, order), watch, lambda step, _: keeper.keep(sim, step), button_steps)
    if hand is None:
        stimuli: tuple[Stimulus, ...] = ()
        if name is not None:
            place = find_trigger(Setup(laid, ruleset), name)
            at, settled = settle(sim)
            stimuli = press_stimuli(place, at + before_steps * settled)
    else:
        stimuli = script(laid, hand)
    last_act = max((stimulus.step for stimulus in stimuli), default=0)
    sim.queue_stimuli(stimulus for stimulus in stimuli if steps is None or stimulus.step < steps)
    _advance(sim, last_act, steps)
    rested = sim.next_step() is None
    asked = steps if steps is not None else max(UNASKED_STEPS, last_act + 1)
    steps = steps if steps is not None else max(sim.now, last_act) + 1 + AFTER_REST_STEPS
    shown = {cell: tuple(changes) for cell, changes in keeper.changes.items()}
    lanes = {name: shown[cell] for name, cell in watch.items()}
    lanes |= {name: _standing(keeper.scenes, plan.outputs[name]) for name in plan.part_outputs}
    trace = Trace(steps, lanes)
    made = Recording(laid, ruleset, stimuli, trace, shown, tuple(keeper.scenes), sim.notes.findings(), rested)
    return made if rested else made.until(asked)


def _standing(scenes: Iterable[tuple[int, Mapping[Cell, Stand]]], cell: Cell) -> tuple[tuple[int, int], ...]:
    """When something stands in the cell that is not on the move, as changes between 0 and 15."""
    changes: list[tuple[int, int]] = []
    for step, stands in scenes:
        stand = stands.get(cell)
        value = 15 if stand is not None and not stand.inert else 0
        if not changes or changes[-1][1] != value:
            changes.append((step, value))
    return tuple(changes)


class _Keeper:
    """Keeps, at the end of each step in which something happened, what stands anew and what shows another value."""

    def __init__(self) -> None:
        self.changes: dict[Cell, list[tuple[int, int]]] = {}
        self.scenes: list[tuple[int, Mapping[Cell, Stand]]] = []
        self._configuration: object = None
        self._level: dict[Cell, int] = {}
        self._count: dict[Cell, int] = {}
        self._passers: dict[Cell, list[Cell]] = {}  # the blocks that pass on what a cell gives

    def keep(self, sim: Simulation, step: int) -> None:
        for cell in self._looked_at(sim, step):
            changes, value = self.changes[cell], sim.value(cell)
            if value != changes[-1][1]:
                changes.append((step, value))

    def _looked_at(self, sim: Simulation, step: int) -> Iterable[Cell]:
        """The cells that may show another value than when last kept: where something else stands, all."""
        differing = (sim.level.items() ^ self._level.items()) | (sim.count.items() ^ self._count.items())
        self._level, self._count = sim.level.copy(), sim.count.copy()
        configuration = sim.configuration()
        if configuration == self._configuration:
            cells = {cell for cell, _ in differing}
            passing = {block for cell in cells for block in self._passers.get(cell, ())}
            return [cell for cell in cells | passing if cell in self.changes]
        self._configuration = configuration
        self.scenes.append((step, dict(sim.stands)))
        self._passers = {}
        for cell in sim.stands:
            if sim.geometry.kind(cell) in PASSING:
                for source in sim.geometry.block_sources(cell):
                    self._passers.setdefault(source, []).append(cell)
        for cell in (*sim.stands, *(cell for cell, _ in sim.watched)):
            self.changes.setdefault(cell, [(0, sim.value(cell) if step == 0 else 0)])
        return self.changes


def _advance(sim: Simulation, last_act: int, steps: int | None) -> None:
    """Run to the end that is asked for, or else until all is at rest after the last act, or to the bound."""
    sim.advance(last_act + 1 if steps is None else steps)
    late = 0
    while steps is None and late < MOST_LATE:
        due = sim.next_step()
        if due is None:
            return
        late += due >= max(UNASKED_STEPS, last_act + 1)
        sim.step(due)


class ChartRun(NamedTuple):
    """The run of a plan's chart: what its claims about outputs say of it, and the same run recorded whole.

    `later_steps` is how much later than the first act time 0 of the chart is. A verdict of `record_chart` has no claims
    about further presses, one of `record_charts` has all claims.
    """

    verdict: ChartVerdict
    recording: Recording

    @property
    def later_steps(self) -> int:
        """How many steps after the first act of the run time 0 of the chart lies."""
        return self.verdict.played.zero_step - (self.recording.pressed_at_step or 0)


@checked
def record_chart(
    plan: Plan,
    name: str | None = None,
    rules: RuleSet | str | None = None,
    order: str = "canonical",
) -> ChartRun:
    """Play a chart (the first if none is named) and record its run, of a long one the first 20,000 steps.

    Raises what `run_chart` raises.
    """
    return _recorded(plan, run_chart(plan, name, rules, order), rules, order)


@checked
def record_charts(plan: Plan, rules: RuleSet | str | None = None, order: str = "canonical") -> list[ChartRun]:
    """The runs of all charts of a plan, recorded, and what becomes of every claim. Raises what `check_charts` does."""
    return [_recorded(plan, verdict, rules, order) for verdict in check_charts(plan, rules, order=order)]


def _recorded(plan: Plan, verdict: ChartVerdict, rules: RuleSet | str | None, order: str) -> ChartRun:
    """What a chart plays, recorded beside the verdict on it."""
    played = verdict.played
    steps = min(played.zero_step + played.timeline.steps, MOST_RECORDED_STEPS)
    return ChartRun(verdict, record(plan, played.script, steps, rules, order))


class Press(NamedTuple):
    """One press of a trigger, recorded whole; `length_steps` is None for one that stays on, or has no length.

    `own`: as the trigger is in the plan; else a button of that length stands in its place. A run in which nothing is
    pressed, since the plan has no trigger, has the trigger "".
    """

    trigger: str
    length_steps: int | None
    own: bool
    recording: Recording


def record_presses(
    plan: Plan, measured: Iterable[Measurement], rules: RuleSet | str | None = None
) -> tuple[list[Press], list[tuple[str, int]]]:
    """Record one press of each measured trigger as it is, and of up to 12 lengths that are worth seeing.

    Those are the minimum trigger, a tick less, a single tick, and whole ticks up to a little more than the trigger's
    own length. Recordings stop where they would hold more than 200,000 changes together; the (trigger, length) pairs
    that are left out for that come second. A run in which much happens is cut after 20,000 steps; what
    never rests is watched for half a minute, with the trigger as it is for two. Of a plan without outputs every
    trigger is pressed as it is; one without triggers is run by itself.
    """
    ruleset = rules_for(plan, rules)
    if not plan.triggers:
        return [Press("", None, True, record(plan, None, rules=ruleset))], []
    presses: list[Press] = []
    wanted: list[tuple[str, int, int | None]] = []
    by_trigger: dict[str, list[Measurement]] = {}
    if not plan.outputs:
        by_trigger = {name: [] for name in plan.triggers}
    for one in measured:
        by_trigger.setdefault(one.trigger, []).append(one)
    for name, results in by_trigger.items():
        place = find_trigger(Setup(plan, ruleset), name)
        ends = [one.pressed_at_step + one.rest_steps for one in results if one.rest_steps is not None]
        steps = max(ends) + LEAD_STEPS + 1 + AFTER_REST_STEPS if ends else 0
        own = record(plan, None, steps if 0 < steps <= MOST_RECORDED_STEPS else None, ruleset, trigger=name)
        if ends and not own.rested:
            own = record(plan, None, MOST_RECORDED_STEPS, ruleset, trigger=name)
        presses.append(Press(name, place.length_steps, True, own))
        if results and takes_length(place):
            least = [one.minimum_trigger_steps for one in results if one.minimum_trigger_steps is not None]
            bound = None if ends else results[0].pressed_at_step + UNENDING_STEPS
            lengths = _lengths_to_see(place.length_steps, max(least, default=None))
            wanted += [(name, length, bound) for length in lengths]
    left_out: list[tuple[str, int]] = []
    changes = sum(_changes(press.recording) for press in presses)
    for name, length, bound in wanted:
        if changes > MOST_CHANGES:
            left_out.append((name, length))
            continue
        run = record(plan, None, bound, ruleset, trigger=name, length_steps=length)
        presses.append(Press(name, length, False, run))
        changes += _changes(run)
    order = list(by_trigger)
    presses.sort(key=lambda press: (order.index(press.trigger), not press.own, press.length_steps or 0))
    return presses, left_out


def _lengths_to_see(own: int | None, least: int | None) -> list[int]:
    """At most 12 trigger lengths in steps besides the trigger's own, the telling ones first of all."""
    tick = STEPS_PER_TICK
    telling = {tick, *((least, least - tick) if least is not None else ())}
    top = max(own or 0, least or 0, 5 * tick) + 2 * tick
    ticks = [length for length in range(tick, top + 1, tick) if length not in telling]
    room = max(MOST_LENGTHS - len(telling), 1)
    every = -(-len(ticks) // room)
    return sorted(length for length in {*telling, *ticks[::every]} if length >= 1 and length != own)


def _changes(recording: Recording) -> int:
    return sum(map(len, recording.shown.values()))
