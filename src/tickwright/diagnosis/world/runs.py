"""Measured circuits under many rule sets: each run once, by the fast engine if it can, and held to what was seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from tickwright.charts import EarlySpan, Stage, Timeline, judge, judge_run, play_chart
from tickwright.charts.judging import ClaimVerdict
from tickwright.charts.playing import NeverRests
from tickwright.charts.timeline import Wave, wave_of
from tickwright.diagnosis.world.measured import Measured
from tickwright.diagnosis.world.values import Value, with_values
from tickwright.durations import STEPS_PER_SECOND
from tickwright.engine.interface import Job
from tickwright.kinds import BUTTONS
from tickwright.plan.hand import Stimulus, default_act, parse_script
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet

LONGEST_STEPS = 200_000
MOST_EVENTS = 400_000
AT_ONCE = 200  # rule sets in one batch
Assigned = tuple[tuple[str, Value], ...]


class Judged(NamedTuple):
    """What was broken under some rules: units (claim, edge; -1 for its number of spans), and by how many steps in all.

    `trace` stands for the run: two runs with the same one showed the same.
    """

    broken: frozenset[tuple[int, int]]
    off_steps: int
    trace: object


class Runs:
    """Runs of measured circuits under changed rules, each done once.

    `alters` says of each circuit which values are known to alter its run: all others are left out of what a run is
    kept under.
    """

    def __init__(self, measured: Sequence[Measured], rules: RuleSet) -> None:
        self.measured = measured
        self.rules = rules
        self.alters: list[set[str] | None] = [None] * len(measured)
        self.done = 0
        self._kept: list[dict[Assigned, Judged]] = [{} for _ in measured]
        self._rules: dict[Assigned, RuleSet] = {}
        self._by_trace: list[dict[object, Judged]] = [{} for _ in measured]
        self._scripts = [_script(one) for one in measured]

    def judged(self, circuit: int, changes: Mapping[str, Value]) -> Judged:
        """What one circuit breaks under these changes."""
        return self.judged_each(circuit, [changes])[0]

    def judged_each(self, circuit: int, changes: Sequence[Mapping[str, Value]]) -> list[Judged]:
        """The same for many changes at once."""
        keys = [self._key(circuit, one) for one in changes]
        kept = self._kept[circuit]
        missing = list(dict.fromkeys(key for key in keys if key not in kept))
        for first in range(0, len(missing), AT_ONCE):
            some = missing[first : first + AT_ONCE]
            for key, judged in zip(some, self._run(circuit, some), strict=True):
                kept[key] = judged
        return [kept[key] for key in keys]

    def is_altered(self, circuit: int, changes: Mapping[str, Value]) -> bool:
        """Whether the values that are not known to alter the circuit alter it together with the others."""
        (whole,) = self._run(circuit, [tuple(sorted(changes.items()))])
        return whole.trace != self.judged(circuit, changes).trace

    def _key(self, circuit: int, changes: Mapping[str, Value]) -> Assigned:
        alters = self.alters[circuit]
        return tuple(sorted((name, value) for name, value in changes.items() if alters is None or name in alters))

    def rules_with(self, key: Assigned) -> RuleSet:
        """The rule set with these changes, made once."""
        if key not in self._rules:
            self._rules[key] = with_values(self.rules, dict(key), "changed") if key else self.rules
        return self._rules[key]

    def _run(self, circuit: int, keys: Sequence[Assigned]) -> list[Judged]:
        from tickwright.engine.native import is_installed

        self.done += len(keys)
        one = self.measured[circuit]
        script = self._scripts[circuit]
        stands = [not any(problems(one.plan, self.rules_with(key))) for key in keys]
        if script is None or not is_installed():
            return [self._plain(circuit, key) if fits else _NEVER for key, fits in zip(keys, stands, strict=True)]
        good = [key for key, fits in zip(keys, stands, strict=True) if fits]
        lines = iter(_timelines(one, script, [self.rules_with(key) for key in good]))
        return [self._judge(circuit, next(lines)) if fits else _NEVER for fits in stands]

    def _judge(self, circuit: int, timeline: Timeline | None) -> Judged:
        if timeline is None:
            return _NEVER
        trace = _trace_key(timeline)
        known = self._by_trace[circuit]
        if trace not in known:
            try:
                known[trace] = _judged(judge(self.measured[circuit].chart.claims, timeline), trace)
            except EarlySpan:
                known[trace] = _NEVER._replace(trace=trace)
        return known[trace]

    def _plain(self, circuit: int, key: Assigned) -> Judged:
        """On the reference engine, machines, policies and acts at events included."""
        one = self.measured[circuit]
        try:
            stage = Stage(Setup(one.plan, self.rules_with(key)), one.chart.at_rest)
            played = play_chart(stage, one.charts, one.chart)
            verdicts = judge_run(stage, one.charts, one.chart, played)
        except (NeverRests, EarlySpan):
            return _NEVER
        return _judged(verdicts, (_trace_key(played.timeline), tuple(verdict.passed for verdict in verdicts)))


_NEVER = Judged(frozenset({(-1, -1)}), 1_000_000, None)


def _trace_key(timeline: Timeline) -> object:
    return tuple(timeline.levels.items())


def _judged(verdicts: Iterable[ClaimVerdict], trace: object) -> Judged:
    broken: set[tuple[int, int]] = set()
    off = 0
    for number, verdict in enumerate(verdicts):
        wanted = [step for span in verdict.wanted for step in span]
        seen = [step for span in verdict.seen for step in span]
        if len(wanted) == len(seen):
            for edge, (a, b) in enumerate(zip(wanted, seen, strict=True)):
                if a is not None and b is not None:
                    off += abs(a - b)
                if not verdict.passed and a != b:
                    broken.add((number, edge))
        elif not verdict.passed:
            broken.add((number, -1))
            off += 1000
        if not verdict.passed and not any(claim == number for claim, _ in broken):
            broken.add((number, -1))
    return Judged(frozenset(broken), off, trace)


# --- on the fast engine ----------------------------------------------------------------------------------------------


class _Act(NamedTuple):
    step: int
    trigger: str | None
    stimulus: Stimulus


def _script(one: Measured) -> list[_Act] | None:
    """The acts of a hand that waits for nothing; None if it does, or if a claim takes more than one run."""
    chart = one.chart
    lines = chart.hand or ()
    if any(line.moment.event is not None or line.moment.condition is not None for line in lines):
        return None
    if any(claim.is_policy for claim in chart.claims) or one.charts.machines or one.plan.part_outputs:
        return None
    stimuli = parse_script(one.plan, [f"0:{line.words}" for line in lines])
    if len(stimuli) != len(lines):
        return None
    acts = []
    for line, stimulus in zip(lines, stimuli, strict=True):
        name = next((name for name, cell in one.plan.triggers.items() if cell == stimulus.cell), None)
        acts.append(_Act(line.moment.steps, name, stimulus))
    return sorted(acts, key=lambda act: act.step)


def _timelines(one: Measured, script: Sequence[_Act], rules: Sequence[RuleSet]) -> list[Timeline | None]:
    """The run under each rule set, None where it does not come to rest as it must."""
    from tickwright.engine.native import Batch

    chart, plan = one.chart, one.plan
    watched = [*plan.outputs.values(), *plan.triggers.values()]
    batch = Batch()
    layouts = [batch.add(plan.cells, watched, one_set) for one_set in rules]
    zeros = [0] * len(rules)
    if chart.at_rest:
        for place, log in enumerate(batch.changes([Job(n) for n in layouts], LONGEST_STEPS, MOST_EVENTS)):
            zeros[place] = log.last_step + 1 if log.rests else -1
    last = script[-1].step if script else 0
    settled = [place for place, zero in enumerate(zeros) if zero >= 0]
    jobs = [Job(layouts[n], tuple(act.stimulus._replace(step=zeros[n] + act.step) for act in script)) for n in settled]
    watch = LONGEST_STEPS + last if chart.watch_steps is None else chart.watch_steps
    found: list[Timeline | None] = [None] * len(rules)
    logs = batch.changes(jobs, [zeros[n] + watch for n in settled], MOST_EVENTS)
    for n, log in zip(settled, logs, strict=True):
        if chart.watch_steps is None and not log.rests:
            continue
        steps = chart.watch_steps
        if steps is None:
            steps = max(log.last_step - zeros[n], last) + 1 + STEPS_PER_SECOND
        rows: list[list[tuple[int, int]]] = [[] for _ in watched]
        for step, place, value in zip(log.steps, log.places, log.values, strict=True):
            rows[place].append((step - zeros[n], value))
        found[n] = _timeline(one, script, rows, steps)
    return found


def _timeline(one: Measured, script: Sequence[_Act], rows: list[list[tuple[int, int]]], steps: int) -> Timeline:
    """What was recorded from time 0 on: the rest before it is the value then."""
    plan = one.plan
    waves, levels = {}, {}
    names = [*plan.outputs, *plan.triggers]
    before: dict[int, int] = {}
    for place, row in enumerate(rows):
        earlier = [value for step, value in row if step < 0] or [value for step, value in row if step == 0][:1]
        before[place] = earlier[-1] if earlier else 0
        changes = tuple((step, value) for step, value in row if 0 <= step < steps)
        if not changes or changes[0][0] > 0:
            changes = ((0, before[place]), *changes)
        waves[place] = wave_of(changes, before[place] > 0)
        levels[place] = changes
    first = script[0].step if script else 0
    outputs = {name: waves[place] for place, name in enumerate(plan.outputs)}
    triggers = {name: waves[place] for place, name in enumerate(names) if place >= len(plan.outputs)}
    worked, released = _events(plan, script, triggers)
    return Timeline(
        steps,
        outputs,
        triggers,
        worked,
        released,
        {name: wave.at(first - 1) for name, wave in outputs.items()},
        {name: levels[place] for place, name in enumerate(plan.outputs)},
    )


def _events(
    plan: Plan, script: Sequence[_Act], triggers: Mapping[str, Wave]
) -> tuple[dict[str, tuple[int, ...]], dict[str, tuple[int, ...]]]:
    """When each trigger was worked and let go: acts that did nothing are none."""
    worked: dict[str, tuple[int, ...]] = {}
    released: dict[str, tuple[int, ...]] = {}
    for name, wave in triggers.items():
        part = plan.cells.get(plan.triggers[name])
        kind = part.kind if part else None
        on: list[int] = []
        off: list[int] = []
        for act in script:
            if act.trigger != name:
                continue
            verb = act.stimulus.verb if act.stimulus.verb != "usual" else default_act(kind)
            if verb in ("press", "flip", "on", "off"):
                rises = wave.at(act.step) and not wave.at(act.step - 1)
                falls = wave.at(act.step - 1) and not wave.at(act.step)
                on += [act.step] * bool(rises)
                off += [act.step] * bool(falls and verb != "press")
            elif verb in ("drop", "put", "tread"):
                on.append(act.step)
            elif verb in ("take", "leave"):
                off.append(act.step)
        if kind in BUTTONS:
            off = list(wave.edges(False))
        worked[name], released[name] = tuple(dict.fromkeys(on)), tuple(dict.fromkeys(off))
    return worked, released
