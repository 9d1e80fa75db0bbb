"""What each build shows: every thought-of build is run under scripts of the hand, and which cells are lit is kept."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import NamedTuple

from tickwright.diagnosis.asking.universe import Suspect
from tickwright.durations import STEPS_PER_SECOND, seconds_number
from tickwright.engine.interface import Job
from tickwright.engine.running import run
from tickwright.kinds import PARTS, Part
from tickwright.measurement.observe import SETTLE_STEPS
from tickwright.plan.cells import with_changes
from tickwright.plan.hand import Stimulus, default_act
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell, zyx

PRESS_STEP = SETTLE_STEPS  # the first act of a script; until then the build is left alone
AT_ONCE = 500  # builds laid before they are run
MOST_CHANGES = 6_000_000  # of all builds under one script; longer runs are watched for less long
LEAST_CHANGES = 400
SPARE_STEPS = 120
LONGEST_STEPS = STEPS_PER_SECOND * 3600
RESTLESS_STEPS = 800  # how long what never rests is watched
LAMPS_OWN = ("repeater", "comparator", "torch", "lamp", "wire", "lever", "button", "plate", "sensor", "piston")


class Script(NamedTuple):
    """What the hand does: for each act the step after the first, the trigger, the act (None: its usual one)."""

    acts: tuple[tuple[int, str, str | None], ...]

    @property
    def last_step(self) -> int:
        """The step of the last act, counted from the first."""
        return self.acts[-1][0]

    def text(self, plan: Plan) -> str:
        """In words, as one is asked to do it."""
        said: list[str] = []
        for number, (step, name, act) in enumerate(self.acts):
            told = _act_text(plan, name, act)
            if number:
                told = f"{seconds_number(step - self.acts[number - 1][0])} s later {told[0].lower()}{told[1:]}"
            said.append(told)
        return ", ".join(said)

    def stimuli(self, plan: Plan, suspect: Suspect) -> tuple[Stimulus, ...]:
        """The acts as done to that build."""
        done: list[Stimulus] = []
        for step, name, act in self.acts:
            cell = plan.triggers[name]
            cell = suspect.moved.get(cell, cell)
            part = suspect.stands(plan, cell)
            verb = act or default_act(part.kind if part else None) or "usual"
            done.append(Stimulus(PRESS_STEP + step, cell, verb))
            if verb == "tread":
                done.append(Stimulus(PRESS_STEP + step, cell, "leave"))
        return tuple(done)


def _act_text(plan: Plan, name: str, act: str | None) -> str:
    part = plan.cells.get(plan.triggers[name])
    verb = act or default_act(part.kind if part else None)
    words = {
        "press": "Press",
        "flip": "Flip",
        "on": "Switch on",
        "off": "Switch off",
        "drop": "Drop one item on",
        "put": "Put one item into",
        "tread": "Step on and off",
    }
    return f'{words.get(str(verb), "Work")} "{name}"'


def first_scripts(plan: Plan) -> list[Script]:
    """Each trigger worked once; none at all for a plan without triggers."""
    return [Script(((0, name, None),)) for name in plan.triggers] or [Script(((0, "", None),))]


@dataclass(slots=True)
class Shown:
    """What one build showed in one run: from step `steps[i]` on bit p of `masks[i]` says whether place p was lit.

    `levels` holds (step, place, value) of all changes, where they were few enough to keep.
    """

    steps: list[int]
    masks: list[int]
    levels: tuple[Sequence[int], Sequence[int], Sequence[int]] | None = None

    def at(self, step: int) -> int:
        """Which places are lit at the end of a step."""
        place = bisect_right(self.steps, step) - 1
        return self.masks[place] if place >= 0 else 0

    def level_at(self, place: int, step: int) -> int:
        """The value that a place shows at the end of a step, -1 where it was not kept."""
        if self.levels is None:
            return -1
        value = 0
        for when, where, shown in zip(*self.levels, strict=True):
            if when > step:
                break
            if where == place:
                value = shown
        return value

    def edges(self, place: int, first: int) -> tuple[bool, list[int]]:
        """Whether the place was lit just before a step, and the steps from then on in which it went on or off."""
        bit = 1 << place
        now = self.at(first - 1) & bit
        before, found = bool(now), []
        for step, mask in zip(self.steps, self.masks, strict=True):
            if step >= first and mask & bit != now:
                now = mask & bit
                found.append(step)
        return before, found


@dataclass(slots=True)
class Stage:
    """A plan on which builds are tried: what is watched, how long under each script, and what each build showed.

    `cells` are those of the plan whose parts show whether they are on, in (z, y, x) order; after them stand the
    outputs. `shown[script]` has what each suspect, by its number, showed.
    """

    plan: Plan
    rules: RuleSet
    cells: list[Cell] = field(init=False)
    outputs: list[str] = field(init=False)
    scripts: list[Script] = field(default_factory=list)
    horizons: list[int] = field(default_factory=list)
    shown: list[list[Shown | None]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.cells = sorted((c for c, part in self.plan.cells.items() if is_visible(part)), key=zyx)
        self.outputs = list(self.plan.outputs)

    def output_place(self, name: str) -> int:
        """The place of an output among what is watched."""
        return len(self.cells) + self.outputs.index(name)

    def add_script(self, script: Script, suspects: Sequence[Suspect], which: Iterable[int]) -> int:
        """Run these suspects under a further script; its number."""
        own = suspects[0]
        probe = next(self._logs([own], script, PRESS_STEP + script.last_step + LONGEST_STEPS, 2_000_000))
        horizon = _horizon(probe, script, len(suspects), LONGEST_STEPS)
        self.scripts.append(script)
        self.horizons.append(horizon)
        self.shown.append([None] * len(suspects))
        self.run(len(self.scripts) - 1, suspects, which)
        return len(self.scripts) - 1

    def run(self, number: int, suspects: Sequence[Suspect], which: Iterable[int]) -> None:
        """Run these suspects under a script that is known, those that were not yet."""
        kept = self.shown[number]
        kept += [None] * (len(suspects) - len(kept))
        missing = [one for one in which if kept[one] is None]
        until = PRESS_STEP + self.horizons[number] + 1
        logs = self._logs([suspects[one] for one in missing], self.scripts[number], until, 200_000)
        keep_levels = len(suspects) * 300 < MOST_CHANGES
        for one, log in zip(missing, logs, strict=True):
            kept[one] = self._read(suspects[one], log, keep_levels)

    def _watched(self, suspect: Suspect) -> list[Cell]:
        outputs = self.plan.outputs.values()
        return [*self.cells, *(suspect.moved.get(cell, cell) for cell in outputs)]

    def _logs(self, suspects: Iterable[Suspect], script: Script, until: int, most: int) -> Iterator[Log]:
        """The changes of each suspect's run, on the fast engine where it is installed."""
        from tickwright.engine.native import is_installed

        rest = iter(suspects)
        while some := list(islice(rest, AT_ONCE)):
            if is_installed():
                yield from self._fast(some, script, until, most)
            else:
                yield from (self._plain(one, script, min(until, PRESS_STEP + RESTLESS_STEPS)) for one in some)

    def _fast(self, suspects: Sequence[Suspect], script: Script, until: int, most: int) -> Iterator[Log]:
        from tickwright.engine.native import Batch

        batch = Batch()
        of_part = {self.output_place(name) for name in self.plan.part_outputs}
        bases: dict[str | None, int] = {}
        jobs = []
        for one in suspects:
            if one.rules not in bases:
                rules = self.rules if one.rules is None else load_rules(one.rules)
                bases[one.rules] = batch.add(
                    self.plan.cells, self._watched(Suspect((), 1, {}, {})), rules, "canonical", of_part
                )
            base = bases[one.rules]
            if one.moved:
                built = with_changes(self.plan.cells, one.changes)
                layout = batch.add(built, self._watched(one), self.rules, "canonical", of_part)
            else:
                layout = batch.change(base, one.changes) if one.changes else base
            stimuli = script.stimuli(self.plan, one) if script.acts[0][1] else ()
            jobs.append(Job(layout, stimuli))
        for log in batch.changes(jobs, until, most):
            yield Log(log.steps, log.places, log.values, log.ended)

    def _plain(self, suspect: Suspect, script: Script, until: int) -> Log:
        """The same on the reference engine."""
        laid = with_changes(self.plan.cells, suspect.changes)
        built = replace(self.plan, cells=laid, outputs={}, part_outputs=frozenset(), charts=(), expectations=())
        rules = self.rules if suspect.rules is None else load_rules(suspect.rules)
        watched = self._watched(suspect)
        watch = {str(place): cell for place, cell in enumerate(watched)}
        stimuli = script.stimuli(self.plan, suspect) if script.acts[0][1] else ()
        trace = run(built, stimuli, until, rules, engine="reference", watch=watch).trace
        rows = sorted((step, int(name), value) for name in watch for step, value in trace.changes_of(name))
        steps, places, values = (list(axis) for axis in zip(*rows, strict=True)) if rows else ([], [], [])
        return Log(steps, places, values, True)

    def _read(self, suspect: Suspect, log: Log, keep_levels: bool) -> Shown:
        hidden = 0
        if suspect.changes:
            for place, cell in enumerate(self.cells):
                if cell in suspect.changes:
                    part = suspect.changes[cell]
                    if part is None or not is_visible(part):
                        hidden |= 1 << place
        steps: list[int] = []
        masks: list[int] = []
        mask = 0
        for step, place, value in zip(log.steps, log.places, log.values, strict=True):
            bit = 1 << place
            if bit & hidden or bool(value) == bool(mask & bit):
                continue
            mask ^= bit
            if steps and steps[-1] == step:
                masks[-1] = mask
            else:
                steps.append(step)
                masks.append(mask)
        levels = (log.steps, log.places, log.values) if keep_levels else None
        return Shown(steps, masks, levels)


class Log(NamedTuple):
    """The changes of one run: step, watched place, value; whether it came to its end."""

    steps: list[int]
    places: list[int]
    values: list[int]
    ended: bool


def is_visible(part: Part) -> bool:
    """Whether one sees on the part whether it is on."""
    return PARTS[part.kind].behaviour in LAMPS_OWN


def _horizon(own: Log, script: Script, suspects: int, longest: int) -> int:
    """How many steps from the first act on are watched: half as long again as the plan's own run, and some."""
    acted = [step - PRESS_STEP for step in own.steps if step >= PRESS_STEP]
    most = max(MOST_CHANGES // suspects, LEAST_CHANGES)
    if not own.ended or (acted and acted[-1] > longest - SPARE_STEPS + script.last_step):
        return min(script.last_step + RESTLESS_STEPS, acted[min(most, len(acted) - 1)] if acted else RESTLESS_STEPS)
    if len(acted) > most:
        return max(acted[most], script.last_step + SPARE_STEPS)
    last = max(acted[-1] if acted else 0, script.last_step)
    return last + max(last // 2, 60) + SPARE_STEPS
