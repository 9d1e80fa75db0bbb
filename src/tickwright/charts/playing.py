"""Plays the hand of a chart to a circuit: from lines of the hand to a run, with what it showed and when it was worked.

Lines that wait for events of the run are done when these have come; the script that came of it is kept.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tickwright.charts.machines import with_machines
from tickwright.charts.moments import first_time, while_wave
from tickwright.charts.notation import Automaton, Claim, HandLine, While
from tickwright.charts.timeline import Changes, Timeline, wave_of
from tickwright.engine.reference import Configurations, Simulation, state_key
from tickwright.errors import UsageError
from tickwright.findings import Finding
from tickwright.kinds import BUTTONS
from tickwright.plan.hand import USUAL, Stimulus, default_act, parse_script
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules.layout import Stand
from tickwright.space import Cell

SECOND_STEPS = 20
UNCHECKED_STEPS = 300
MOST_ACTIVE_STEPS = 400_000
LONGEST_WAIT_STEPS = 20 * 3600  # how long a machine alone may go on after the circuit rests


class NeverRests(Exception):
    """The circuit does not come to rest: `untouched`, before the hand does anything, or after it."""

    def __init__(self, untouched: bool) -> None:
        super().__init__("never rests")
        self.untouched = untouched


class LineError(UsageError):
    """A line of the hand, by its number, that cannot be done when it says."""

    def __init__(self, number: int, line: HandLine, why: str) -> None:
        super().__init__(f'In the hand, "{line.text}": {why}.')
        self.number = number


class Done(NamedTuple):
    """An act that was done: in which step of the run (from time 0), who and how, and whether it did something."""

    step: int
    words: str
    effect: bool


@dataclass(frozen=True, slots=True)
class Played:
    """What came of playing a hand: the run from time 0, which is `zero_step` of the world, and what was done.

    `waiting` are lines whose moment never came. `last_step` is when the last thing happened, from time 0, if `rests`.
    """

    timeline: Timeline
    zero_step: int
    done: tuple[Done, ...]
    waiting: tuple[str, ...]
    rests: bool
    last_step: int
    findings: tuple[Finding, ...]

    @property
    def script(self) -> tuple[str, ...]:
        """The acts in `--do` form, in steps of the world, so that `run --do` does the same."""
        return tuple(f"{self.zero_step + one.step}:{one.words}" for one in self.done)


class Stage:
    """A circuit come to time 0, from which any hand can be played.

    Raises NeverRests if time 0 is the first step at rest and there is none.
    """

    def __init__(self, setup: Setup, at_rest: bool = True, configurations: Configurations | None = None) -> None:
        self.setup = setup
        self.plan = plan = setup.plan
        self.triggers = dict(plan.triggers)
        self.names = tuple(plan.outputs)
        self.sim = Simulation(setup, plan.outputs, configurations=configurations)
        self.zero_step = 0
        if at_rest:
            rests = rest_step(self.sim)
            if rests is None:
                raise NeverRests(untouched=True)
            self.zero_step = rests
            self.before = self.sim.shown()
            self.triggers_before = _on_triggers(self.sim, self.triggers)
        else:
            untouched = self.sim.copy()
            untouched.step(0)
            self.before = untouched.shown()
            self.triggers_before = _on_triggers(untouched, self.triggers)

    def actor(self) -> Actor:
        """A circuit at time 0 to be played on."""
        return Actor(self)

    def is_button(self, trigger: str) -> bool:
        """Whether the trigger lets go by itself."""
        part = self.plan.cells.get(self.triggers[trigger])
        return part is not None and part.kind in BUTTONS


class Actor:
    """One run from a stage: done step by step, with a record of what showed. Steps count from time 0."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.sim = stage.sim.copy()
        self.samples: list[tuple[int, list[int]]] = [(0, list(stage.before))]
        self.worked: dict[str, list[int]] = {name: [] for name in stage.triggers}
        self.released: dict[str, list[int]] = {name: [] for name in stage.triggers}
        self.trigger_on: dict[str, list[tuple[int, int]]] = {name: [] for name in stage.triggers}
        self.on_now = dict(stage.triggers_before)
        self.done: list[Done] = []
        self.next = 0  # the first step not simulated yet

    def copy(self) -> Actor:
        """One that goes on as this would, and on its own."""
        clone = object.__new__(Actor)
        clone.__dict__.update(self.__dict__)
        clone.sim = self.sim.copy()
        clone.samples, clone.done = self.samples.copy(), self.done.copy()
        for name in ("worked", "released", "trigger_on"):
            setattr(clone, name, {key: value.copy() for key, value in getattr(self, name).items()})
        clone.on_now = dict(self.on_now)
        return clone

    def next_due(self) -> int | None:
        """The next step in which something is due without the hand."""
        step = self.sim.next_step()
        return None if step is None else max(step - self.stage.zero_step, self.next)

    def step(self, step: int) -> None:
        """Simulate the step, and all before it in which something is due."""
        zero = self.stage.zero_step
        while True:
            due = self.next_due()
            if due is None or due >= step:
                break
            self._one(due)
        self._one(step)
        assert self.sim.now == zero + step

    def advance(self, until: int) -> None:
        """Simulate every step before `until`."""
        while True:
            due = self.next_due()
            if due is None or due >= until:
                break
            self._one(due)
        self.next = max(self.next, until)

    def _one(self, step: int) -> None:
        self.sim.step(self.stage.zero_step + step)
        self.next = step + 1
        self._look(step)

    def do(self, acts: Iterable[tuple[str, Stimulus]], step: int) -> None:
        """Acts of the hand in the step that was simulated last, with their words."""
        for words, act in acts:
            effect = self._act(act._replace(step=self.sim.now), step)
            self.done.append(Done(step, words, effect))
        self._look(step)

    def _act(self, act: Stimulus, step: int) -> bool:
        """Do one act; whether it did something. What it is to triggers in that cell is noted."""
        sim, cell = self.sim, act.cell
        verb = act.verb
        if verb == USUAL:
            stand = sim.stands.get(cell) or sim.laid.get(cell)
            verb = default_act(stand.part.kind if stand else None) or "press"
        before = _measure(sim, cell)
        sim.do(act)
        after = _measure(sim, cell)
        if before == after:
            return False
        worked = verb in ("press", "drop", "tread", "put") or (verb in ("flip", "on") and after.level > before.level)
        let_go = verb in ("take", "leave") or (verb in ("flip", "off") and after.level < before.level)
        for name, at in self.stage.triggers.items():
            if at == cell and worked:
                self.worked[name].append(step)
            elif at == cell and let_go:
                self.released[name].append(step)
        return True

    def _look(self, step: int) -> None:
        """Note what shows at the end of the step."""
        values = self.sim.shown()
        if self.samples[-1][0] == step:
            self.samples[-1] = (step, values)
        elif values != self.samples[-1][1]:
            self.samples.append((step, values))
        for name, on in _on_triggers(self.sim, self.stage.triggers).items():
            if on == self.on_now[name]:
                continue
            changes = self.trigger_on[name]
            changes.append((step, int(on)))
            if not on and self.stage.is_button(name):
                self.released[name].append(step)
            self.on_now[name] = on

    def timeline(self, steps: int) -> Timeline:
        """What was recorded, over so many steps; each output's rest is what it shows just before the first act."""
        stage = self.stage
        changes: dict[str, Changes] = {}
        for index, name in enumerate(stage.names):
            pairs: list[tuple[int, int]] = []
            for step, values in self.samples:
                if not pairs or values[index] != pairs[-1][1]:
                    pairs.append((step, values[index]))
            changes[name] = tuple(pairs)
        first = self.done[0].step if self.done else 0
        outputs = {
            name: wave_of(changes[name], before > 0) for name, before in zip(stage.names, stage.before, strict=True)
        }
        return Timeline(
            steps,
            outputs,
            {name: wave_of(self.trigger_on[name], stage.triggers_before[name]) for name in stage.triggers},
            {name: tuple(times) for name, times in self.worked.items()},
            {name: tuple(times) for name, times in self.released.items()},
            {name: wave.at(first - 1) for name, wave in outputs.items()},
            changes,
        )


def play(
    stage: Stage,
    hand: Sequence[HandLine],
    watch_steps: int | None = None,
    machines: Sequence[Automaton] = (),
    claims: Sequence[Claim] = (),
) -> Played:
    """Play the lines of a hand from time 0, without `watch_steps` until all rests, nothing is due, and a second more.

    What `claims` say an output does some time after a condition is due, too. A line that acts before the event of a
    trigger is played once that event is known. Raises NeverRests if it does not come to rest and no `watch_steps` is
    given, LineError for a line whose moment cannot be met.
    """
    known: dict[int, int] = {}
    while True:
        try:
            return _Play(stage, hand, watch_steps, machines, claims, known).run()
        except _Earlier as earlier:
            known[earlier.number] = earlier.step


class _Earlier(Exception):
    """A line whose event has come, and whose act belongs to an earlier step of the run."""

    def __init__(self, number: int, step: int) -> None:
        super().__init__("acts before its event")
        self.number, self.step = number, step


class _Play:
    """One hand being played; `known` are the steps of lines that act before their events, by number."""

    def __init__(
        self,
        stage: Stage,
        hand: Sequence[HandLine],
        watch_steps: int | None,
        machines: Sequence[Automaton],
        claims: Sequence[Claim],
        known: Mapping[int, int],
    ) -> None:
        self.actor = stage.actor()
        self.whiles = [clause for claim in claims for clause in claim.clauses if isinstance(clause, While)]
        self.known = known
        self.machines = machines
        self.watch_steps = watch_steps
        acts = [_parsed(stage.plan, line.words) for line in hand]
        script = parse_script(stage.plan, [f"0:{line.words}" for line in hand])  # all together: what one places counts
        self.acts = {
            id(line): act for line, act in zip(hand, script if len(script) == len(hand) else acts, strict=True)
        }
        self.lines = list(hand)
        self.at: dict[int, int] = dict(known)  # line number -> step
        for number, line in enumerate(self.lines):
            if line.moment.event is None:
                self.at[number] = line.moment.steps
        self.over: set[int] = set()

    def run(self) -> Played:
        actor = self.actor
        loop = _Loop(actor.sim)
        rests = False
        last = -1
        while True:
            due, acting = actor.next_due(), self._next_act()
            steps = [step for step in (due, acting) if step is not None]
            step = min(steps, default=None)
            if self.watch_steps is not None and (step is None or step >= self.watch_steps):
                rests = due is None
                break
            if step is None:
                if self._wait_for_machines(last):
                    continue
                rests = True
                break
            actor.step(step)
            last = max(last, step)
            self._act_in(step)
            if self.watch_steps is None and acting is None and loop.comes_back():
                raise NeverRests(untouched=False)
        return self._played(rests, last)

    def _played(self, rests: bool, last: int) -> Played:
        actor = self.actor
        steps = self.watch_steps
        if steps is None:
            timeline = self._watched(last + 1 + LONGEST_WAIT_STEPS)
            moves = [entry[0] for entries in timeline.machines.values() for entry in entries]
            late = [step for clause in self.whiles for step in while_wave(clause, timeline).toggles]
            steps = max([last, *moves, *late]) + 1 + SECOND_STEPS
        actor.advance(steps)
        waiting = [line.text for number, line in enumerate(self.lines) if number not in self.over]
        timeline = self._watched(steps)
        for number, step in self.known.items():
            begun = first_time(self.lines[number].moment, timeline)
            if begun is None or begun.step != step:
                raise LineError(
                    number, self.lines[number], "its act itself changes when its event comes: write a step for it"
                )
        return Played(
            timeline, actor.stage.zero_step, tuple(actor.done), tuple(waiting), rests, last,
            actor.sim.notes.findings(),
        )  # fmt: skip

    def _watched(self, steps: int) -> Timeline:
        return with_machines(self.actor.timeline(steps), self.machines)

    def _next_act(self) -> int | None:
        return min((step for number, step in self.at.items() if number not in self.over), default=None)

    def _act_in(self, step: int) -> None:
        """Do all acts of this step, those too whose moment comes by another act of it."""
        self._resolve(step)
        while True:
            due = [number for number, at in sorted(self.at.items()) if at == step and number not in self.over]
            if not due:
                return
            for number in due:
                self.over.add(number)
                line = self.lines[number]
                self.actor.do([(line.words, self.acts[id(line)])], step)
            self._resolve(step)

    def _resolve(self, step: int) -> None:
        """Find the steps of lines that wait for what has happened by now."""
        open_lines = [(number, line) for number, line in enumerate(self.lines) if number not in self.at]
        if not open_lines:
            return
        timeline = self._watched(step + 1)
        for number, line in open_lines:
            self._settle(number, line, timeline, step)

    def _settle(self, number: int, line: HandLine, timeline: Timeline, step: int) -> None:
        begun = first_time(line.moment, timeline)
        event = line.moment.event
        if begun is None or event is None:
            return
        at = begun.step if event.kind == "trigger" else max(begun.step, begun.event_step + 1)
        if at < 0:
            early = f"{-at} step{'s' if at < -1 else ''}"
            raise LineError(number, line, f"it would act {early} before time 0: let it come later")
        if at < step:
            raise _Earlier(number, at)
        self.at[number] = at

    def _wait_for_machines(self, last: int) -> bool:
        """Whether a line waits for what a machine will do by itself; its step is then known."""
        open_lines = [(number, line) for number, line in enumerate(self.lines) if number not in self.at]
        if not self.machines or not open_lines:
            return False
        timeline = self._watched(last + 1 + LONGEST_WAIT_STEPS)
        for number, line in open_lines:
            self._settle(number, line, timeline, 0)
        return self._next_act() is not None


class _Loop:
    """Notices a state of a circuit that comes back, by Brent's way of doubling the distance between kept states."""

    def __init__(self, sim: Simulation) -> None:
        self.sim = sim
        self.kept: Hashable = None
        self.counts: list[int] | None = None
        self.power, self.seen, self.active = 1, 0, 0

    def comes_back(self) -> bool:
        """Whether the state is the one that was kept, or so much has happened that it counts as never resting."""
        self.active += 1
        if self.active < UNCHECKED_STEPS:
            return False
        counts = list(self.sim.count.values())
        if counts == self.counts and state_key(self.sim) == self.kept:
            return True
        self.seen += 1
        if self.seen == self.power:
            self.kept, self.counts, self.power, self.seen = state_key(self.sim), counts, self.power * 2, 0
        return self.active > MOST_ACTIVE_STEPS


def rest_step(sim: Simulation) -> int | None:
    """Let a circuit come to rest; the first step in which it does, None if it never does."""
    loop = _Loop(sim)
    rests = 0
    while True:
        step = sim.next_step()
        if step is None:
            return rests
        sim.step(step)
        rests = step + 1
        if loop.comes_back():
            return None


def _parsed(plan: Plan, words: str) -> Stimulus:
    try:
        return parse_script(plan, [f"0:{words}"])[0]
    except UsageError:
        return Stimulus(0, (0, 0, 0), USUAL)  # what another act places may take it: all are read together


def _on_triggers(sim: Simulation, triggers: Mapping[str, Cell]) -> dict[str, bool]:
    return {name: sim.value(cell) > 0 for name, cell in triggers.items()}


class _Measure(NamedTuple):
    """What an act of the hand can change in a cell."""

    level: int
    items: int
    creatures: int
    stacks: int
    lost: int
    stand: Stand | None


def _measure(sim: Simulation, cell: Cell) -> _Measure:
    matter = sim.matter
    return _Measure(
        sim.level.get(cell, 0),
        sim.count.get(cell, 0),
        matter.creatures.get(cell, 0),
        len(matter.resting.get(cell, ())) + len(matter.flights),
        matter.lost,
        sim.stands.get(cell),
    )
