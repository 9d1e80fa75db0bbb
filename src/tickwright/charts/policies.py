"""What a further press does, tried at every offset: ignored, extends, restarts, ready.

The hand is played to the trigger's first press; its later acts are left out, others keep their steps. A further press
is then tried at every step that the policy names, each in a copy of that run.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

from tickwright.charts.further import Copies, Timed
from tickwright.charts.judging import ClaimVerdict, judge
from tickwright.charts.machines import with_machines
from tickwright.charts.moments import EarlySpan, first_time, next_time
from tickwright.charts.notation import Automaton, Claim, Policy, ReadChart, names_in
from tickwright.charts.playing import SECOND_STEPS, Actor, Played, Stage
from tickwright.charts.timeline import SpanSteps, Timeline, Wave
from tickwright.durations import duration_text
from tickwright.engine.reference import state_key
from tickwright.kinds import BUTTONS, PARTS, is_a
from tickwright.plan.cells import different_parts
from tickwright.plan.hand import parse_script

TICK_STEPS = 2
READY_STEPS = 40 * SECOND_STEPS
NOTICE_STEPS = 10
AFTER_WATCH_STEPS = 40 * SECOND_STEPS
MOST_STEPS = 20 * 3600


class Tried(NamedTuple):
    """The outputs after a further press at `step`, and the acts that led there."""

    step: int
    timeline: Timeline
    acts: tuple[Timed, ...]


def judge_policies(
    stage: Stage, chart: ReadChart, played: Played, machines: Sequence[Automaton]
) -> dict[int, ClaimVerdict]:
    """The verdict of each policy claim of the chart, by the number of the claim."""
    verdicts: dict[int, ClaimVerdict] = {}
    triggers = dict.fromkeys(claim.name for claim in chart.claims if claim.is_policy)
    for trigger in triggers:
        of = [(number, claim) for number, claim in enumerate(chart.claims) if claim.name == trigger and claim.is_policy]
        verdicts.update(_judge_trigger(stage, chart, played, machines, trigger, of))
    return verdicts


def _judge_trigger(
    stage: Stage,
    chart: ReadChart,
    played: Played,
    machines: Sequence[Automaton],
    trigger: str,
    of: Sequence[tuple[int, Claim]],
) -> dict[int, ClaimVerdict]:
    presses = played.timeline.worked.get(trigger, ())
    if not presses:
        detail = f"not tried: {trigger} was never worked"
        return {number: ClaimVerdict(trigger, claim.text, False, detail=detail) for number, claim in of}
    base = _Base(stage, chart, played, machines, trigger, presses[0])
    faults: dict[int, list[str]] = {number: [] for number, _ in of}
    tried: dict[int, list[str]] = {number: [] for number, _ in of}
    begin, event_after = base.first_step, base.press
    for number, claim in of:
        for clause in claim.clauses:
            assert isinstance(clause, Policy)
            steps, ends, why = base.steps(clause, begin, event_after)
            if not steps:
                faults[number].append(f"not tried: {why}")
            else:
                tried[number].append(f"{len(steps)} tried, at {duration_text(steps[0])} to {duration_text(steps[-1])}")
                wrong = base.first_wrong(clause.word, steps)
                if wrong is not None:
                    faults[number].append(wrong)
            if ends is not None:
                begin = max(begin, ends)
                event_after = max(event_after, ends - 1)
    return {
        number: ClaimVerdict(
            trigger, claim.text, not faults[number], (), (), None, "; ".join(faults[number] or tried[number])
        )
        for number, claim in of
    }


class _Base:
    """The run with one press of the trigger, and further presses tried in copies of it."""

    def __init__(
        self, stage: Stage, chart: ReadChart, played: Played, machines: Sequence[Automaton], trigger: str, press: int
    ) -> None:
        self.stage, self.chart, self.machines, self.trigger, self.press = stage, chart, machines, trigger, press
        cell = stage.plan.triggers[trigger]
        words = [done.words for done in played.done]
        script = parse_script(stage.plan, [f"0:{one}" for one in words])
        acts = [Timed(done.step, done.words, act) for done, act in zip(played.done, script, strict=True)]
        own = [act for act in acts if act.act.cell == cell]
        first = next(act for act in own if act.step == press)
        self.words = first.words
        self.act = first.act
        self.acts = [act for act in acts if act.act.cell != cell or act.step <= press]
        part = stage.plan.cells.get(cell)
        self.kind = part.kind if part is not None else None
        self.let_go_words = self._let_go_words()
        self.watch_steps = chart.watch_steps
        self.actor = _Player(stage.actor(), self.acts)
        run = _Player(stage.actor(), self.acts)
        run.finish(self.watch_steps, press)
        self.run = run
        self.timeline = with_machines(run.actor.timeline(run.steps), machines)
        release = next((step for step in self.timeline.released.get(trigger, ()) if step > press), None)
        own_release = release if self.kind in BUTTONS and release is not None else press + TICK_STEPS
        self.first_step = own_release + TICK_STEPS
        self._known: dict[Hashable, tuple[int, Tried]] = {}
        self._copies = Copies(stage, self.acts) if Copies.are_possible(self.acts) else None
        self.untouched = self._outputs_untouched()

    def _let_go_words(self) -> str | None:
        """How the trigger is let go before it is worked again; None for one that lets go by itself or holds on."""
        if is_a(self.kind, "lever"):
            return f"{self.trigger}:off"
        if self.act.verb == "tread" or (self.kind is not None and PARTS[self.kind].feels == "creatures"):
            return f"{self.trigger}:leave"
        if self.kind is None or is_a(self.kind, "plate"):
            return f"{self.trigger}:take"
        return None

    def _outputs_untouched(self) -> frozenset[str]:
        """The outputs that this trigger does not change."""
        without = _Player(self.stage.actor(), [act for act in self.acts if act.act.cell != self.act.cell])
        without.finish(self.watch_steps, self.press)
        steps = max(without.steps, self.run.steps)
        timeline = without.actor.timeline(steps)
        ours = self.run.actor.timeline(steps)
        return frozenset(name for name in timeline.outputs if timeline.outputs[name] == ours.outputs[name])

    # --- which steps ---------------------------------------------------------------------------------------------

    def steps(self, clause: Policy, begin: int, after: int) -> tuple[Sequence[int], int | None, str]:
        """The steps to try, where the policy ends, and why there is none; read from the run without a further press."""
        line = self.timeline
        if clause.condition is not None:
            watched = self.watch_steps or self.run.steps
            steps = [step for step in range(begin, watched) if line.holds(clause.condition, step)]
            return steps, (steps[-1] + 1 if steps else None), "the condition never holds after the press"
        moment = clause.moment
        assert moment is not None
        if clause.word == "ready":
            first = next_time(moment, after, line) if moment.event else moment.steps
            if first is None and moment.event is not None:
                begun = first_time(moment, line)
                first = begun.step if begun is not None else None
            if first is None:
                return (), None, f"{moment.event} never comes"
            start = max(first, begin)
            return range(start, first + READY_STEPS + 1), None, "there is no step to try"
        until = next_time(moment, after, line)
        if until is None:
            return (), None, f"{moment.event} never comes"
        why = f"there is no step to try between {duration_text(begin)} and {duration_text(max(until, 0))}"
        return range(begin, until), until, why

    # --- trying --------------------------------------------------------------------------------------------------

    def first_wrong(self, word: str, steps: Sequence[int]) -> str | None:
        """The first step at which a further press breaks the policy, in words, with the acts that show it."""
        wrong: list[int] = []
        said = ""
        for tried in self.furthers(steps):
            problem = {
                "ignored": self._ignored,
                "extends": self._extends,
                "restarts": self._restarts,
                "ready": self._ready,
            }[word](tried)
            if problem is not None:
                said = said or f"a press at {duration_text(tried.step)} {problem}: " + self._script(tried)
                wrong.append(tried.step)
        if not wrong:
            return None
        more = f" ({len(wrong)} of {len(steps)} offsets)" if len(steps) > 1 else ""
        return said + more

    def _script(self, tried: Tried) -> str:
        zero = self.stage.zero_step
        return "--do " + " --do ".join(f"{zero + act.step}:{act.words}" for act in tried.acts)

    def furthers(self, steps: Sequence[int]) -> Iterator[Tried]:
        """The runs with a further press at each of the steps, which ascend."""
        if self._copies is None:
            yield from map(self.further, steps)
            return
        alike = [step for step in steps if self._is_at_rest(step)]
        again = set(alike[1:])
        fresh = [step for step in steps if step not in again]
        limits = [self._limit(step) for step in fresh]
        extra = [self._extra(step) for step in fresh]
        ended = self._copies.run(extra, limits)
        tried = {}
        for step, more, limit, one in zip(fresh, extra, limits, ended, strict=True):
            acts = tuple(sorted([*self.acts, *more], key=lambda act: act.step))
            length = max(one.last_step, acts[-1].step) + 1 + SECOND_STEPS if one.rests else limit
            timeline = replace(one.timeline, steps=max(length, self.watch_steps or 0))
            tried[step] = Tried(step, with_machines(timeline, self.machines), acts)
        for step in steps:
            yield tried[step] if step in tried else self._moved((alike[0], tried[alike[0]]), step)

    def _is_at_rest(self, step: int) -> bool:
        """Whether a further press at the step finds the circuit as any later one does; nothing counts steps then."""
        return self._rests_from is not None and step - TICK_STEPS > self._rests_from

    @cached_property
    def _rests_from(self) -> int | None:
        """The step after which the run remembers nothing; None if it never rests, or something counts steps."""
        rules = self.stage.setup.rules
        counting = any(part.behaviour == "plate" for part in different_parts(self.stage.plan.cells))
        if not self.run.rests or counting or self.machines:
            return None
        return self.run.last_step + max(rules.torch.burnout_window, rules.hopper.cooldown)

    def _limit(self, step: int) -> int:
        return MOST_STEPS if self.watch_steps is None else max(self.watch_steps, step) + AFTER_WATCH_STEPS

    def _extra(self, step: int) -> list[Timed]:
        """The further press at the step, and the letting go before it."""
        extra = [Timed(step, self.words, self.act._replace(step=step))]
        if self.let_go_words is not None:
            at = max(self.press + 1, step - TICK_STEPS)
            let_go = parse_script(self.stage.plan, [f"{at}:{self.let_go_words}"])[0]
            extra.insert(0, Timed(at, self.let_go_words, let_go))
        return extra

    def further(self, step: int) -> Tried:
        """The run with a further press at the step, on the reference engine; steps ascend within a policy."""
        extra = self._extra(step)
        first = extra[0].step
        if first < self.actor.actor.next:
            self.actor = _Player(self.stage.actor(), self.acts)
        self.actor.advance(first)
        left = tuple((act.step - first, act.words) for act in self.acts if act.step >= first)
        key = (state_key_at(self.actor.actor, first), left, len(extra) and step - first)
        known = self._known.get(key)
        if known is not None:
            return self._moved(known, step)
        player = self.actor.copy()
        player.add(extra)
        player.finish(self.watch_steps, step)
        timeline = player.actor.timeline(player.steps)
        acts = tuple(sorted([*self.acts, *extra], key=lambda act: act.step))
        tried = Tried(step, with_machines(timeline, self.machines), acts)
        if not self.machines:
            self._known[key] = (step, tried)
        return tried

    def _moved(self, known: tuple[int, Tried], step: int) -> Tried:
        """A run that is known from its last press on, after the present run up to it."""
        at, tried = known
        by, join = step - at, (step if self.let_go_words is None else max(self.press + 1, step - TICK_STEPS))
        now = self.timeline
        outputs = {
            name: Wave(
                wave.before,
                (
                    *(t for t in now.outputs[name].toggles if t < join),
                    *(t + by for t in wave.toggles if t + by >= join),
                ),
            )
            for name, wave in tried.timeline.outputs.items()
        }

        def times(ours: dict[str, tuple[int, ...]], other: dict[str, tuple[int, ...]]) -> dict[str, tuple[int, ...]]:
            return {
                name: (*(t for t in ours.get(name, ()) if t < join), *(t + by for t in found if t + by >= join))
                for name, found in other.items()
            }

        there = tried.timeline
        triggers = {
            name: Wave(
                wave.before,
                (
                    *(t for t in now.triggers[name].toggles if t < join),
                    *(t + by for t in wave.toggles if t + by >= join),
                ),
            )
            for name, wave in there.triggers.items()
        }
        levels = {
            name: (
                *(pair for pair in now.levels[name] if pair[0] < join),
                *((t + by, value) for t, value in pairs if t + by >= join),
            )
            for name, pairs in there.levels.items()
        }
        timeline = Timeline(
            there.steps + by, outputs, triggers, times(dict(now.worked), dict(there.worked)),
            times(dict(now.released), dict(there.released)), there.rests_on, levels,
        )  # fmt: skip
        extra = [act._replace(step=act.step + by) for act in tried.acts if act not in self.acts]
        return Tried(step, timeline, tuple(sorted([*self.acts, *extra], key=lambda act: act.step)))

    # --- what is wanted ------------------------------------------------------------------------------------------

    def _differ(self, name: str, tried: Tried, spans: Sequence[SpanSteps], start: int = 0) -> int | None:
        """The first step from `start` on in which an output is not away from rest in just these spans."""
        rests_on = self.timeline.rests_on[name]
        steps = max(tried.timeline.steps, self.run.steps)
        seen = tried.timeline.outputs[name].spans(not rests_on, steps)
        return _first_difference(_clipped(spans, start, steps), _clipped(seen, start, steps))

    def _ignored(self, tried: Tried) -> str | None:
        for name in self.timeline.outputs:
            differs = self._differ(name, tried, self._first_spans(name))
            if differs is not None:
                return f"changes {name} at {duration_text(differs)}"
        return None

    def _first_spans(self, name: str) -> list[SpanSteps]:
        return self.timeline.outputs[name].spans(not self.timeline.rests_on[name], self.run.steps)

    def _extends(self, tried: Tried) -> str | None:
        step, by = tried.step, tried.step - self.press
        for name in self.timeline.outputs:
            spans = self._first_spans(name)
            wanted: list[SpanSteps]
            if name in self.untouched:
                wanted = spans
            elif len(spans) == 1:
                begin, end = spans[0]
                over = end is not None and end <= step
                later = None if end is None else end + by
                wanted = [spans[0], (begin + by, later)] if over else [(begin, later)]
            else:
                begun = [span for span in spans if span[0] <= step]
                anew = [(begin + by, None if end is None else end + by) for begin, end in spans]
                wanted = [*begun, *anew]
            differs = self._differ(name, tried, _union(wanted))
            if differs is not None:
                return f"does not extend {name}, which differs at {duration_text(differs)}"
        return None

    def _restarts(self, tried: Tried) -> str | None:
        step, by = tried.step, tried.step - self.press
        for name in self.timeline.outputs:
            spans = self._first_spans(name)
            if name in self.untouched:
                differs = self._differ(name, tried, spans)
                if differs is not None:
                    return f"changes {name} at {duration_text(differs)}"
                continue
            moved = [(begin + by, None if end is None else end + by) for begin, end in spans]
            rests_on = self.timeline.rests_on[name]
            wave = tried.timeline.outputs[name]
            rest = [at for at in range(step - 1, step + NOTICE_STEPS + 1) if wave.at(at) == rests_on]
            if not rest:
                return f"does not bring {name} to rest within {duration_text(NOTICE_STEPS)}"
            differs = self._differ(name, tried, moved, rest[-1] + 1)
            after = [self._differ(name, tried, moved, at + 1) for at in rest]
            if None not in after:
                return f"does not restart {name}, which differs at {duration_text(differs or after[-1] or step)}"
        return None

    def _ready(self, tried: Tried) -> str | None:
        start = tried.step - self.press
        steps = self.watch_steps or max(tried.timeline.steps - start, 1)
        line = tried.timeline.since(tried.step, MOST_STEPS) if not self.press else self._since(tried, start)
        line = Timeline(
            min(steps, line.steps), line.outputs, line.triggers, line.worked, line.released,
            self.timeline.rests_on, line.levels, line.machines,
        )  # fmt: skip
        claims = [claim for claim in self.chart.claims if not claim.is_policy and self._about_this(claim, line)]
        try:
            verdicts = judge(claims, line)
        except EarlySpan as error:
            return f"wants a span of {error.claim.name} before the press"
        failed = next((verdict for verdict in verdicts if not verdict.passed), None)
        if failed is None:
            return None
        return f"does not keep {failed.name} anew ({failed.detail}; times from the press)"

    def _since(self, tried: Tried, start: int) -> Timeline:
        """From `start` on, acts before the further press forgotten."""
        line = tried.timeline.since(start, MOST_STEPS)

        def late(times: tuple[int, ...]) -> tuple[int, ...]:
            return tuple(step for step in times if step >= self.press)

        return Timeline(
            line.steps, line.outputs, line.triggers, {name: late(times) for name, times in line.worked.items()},
            {name: late(times) for name, times in line.released.items()}, line.rests_on, line.levels, line.machines,
        )  # fmt: skip

    def _about_this(self, claim: Claim, line: Timeline) -> bool:
        """Whether a claim does not hang on acts of other triggers that a further press of this one does not bring."""
        others = [name for name, kind in names_in(claim).items() if kind == "trigger" and name != self.trigger]
        return all(line.worked.get(name) for name in others)


class _Player:
    """A run with acts at set steps."""

    def __init__(self, actor: Actor, acts: Sequence[Timed]) -> None:
        self.actor = actor
        self.acts = sorted(acts, key=lambda act: act.step)
        self.done = 0
        self.steps = 0
        self.rests, self.last_step = False, 0

    def copy(self) -> _Player:
        clone = _Player(self.actor.copy(), ())
        clone.acts, clone.done = self.acts, self.done
        return clone

    def add(self, extra: Sequence[Timed]) -> None:
        """Let acts come, too, none before the present; after those of the same step."""
        left = sorted([*self.acts[self.done :], *extra], key=lambda act: act.step)
        self.acts = [*self.acts[: self.done], *left]

    def advance(self, until: int) -> None:
        """Simulate every step before `until`, with its acts."""
        while self.done < len(self.acts) and self.acts[self.done].step < until:
            self._act_next()
        self.actor.advance(until)

    def _act_next(self) -> None:
        step = self.acts[self.done].step
        self.actor.step(step)
        while self.done < len(self.acts) and self.acts[self.done].step == step:
            act = self.acts[self.done]
            self.actor.do([(act.words, act.act)], step)
            self.done += 1

    def finish(self, watch_steps: int | None, press: int) -> None:
        """Run on to rest, or, if it is watched for a set time, at most so long after that and after the press."""
        while self.done < len(self.acts):
            self._act_next()
        most = MOST_STEPS if watch_steps is None else max(watch_steps, press) + AFTER_WATCH_STEPS
        self.actor.advance(most)
        last = self.actor.samples[-1][0]
        rests = self.rests = self.actor.next_due() is None
        now = self.actor.sim.now - self.actor.stage.zero_step
        self.last_step = max(now, last, self.acts[-1].step if self.acts else 0)
        self.steps = self.last_step + 1 + SECOND_STEPS if rests else most
        if watch_steps is not None:
            self.steps = max(self.steps, watch_steps)


def state_key_at(actor: Actor, step: int) -> Hashable:
    """The state before the step, as a value that does not depend on when it is: the clock is set to the step before."""
    sim = actor.sim
    now = sim.now
    sim.now = actor.stage.zero_step + step - 1
    key = state_key(sim)
    sim.now = now
    return key


def _union(spans: Sequence[SpanSteps]) -> list[SpanSteps]:
    """Spans in order, those that overlap or touch as one."""
    found: list[SpanSteps] = []
    for begin, end in sorted(spans, key=lambda span: span[0]):
        last = found[-1][1] if found else None
        if found and (last is None or begin <= last):
            found[-1] = (found[-1][0], None if last is None or end is None else max(last, end))
        else:
            found.append((begin, end))
    return found


def _clipped(spans: Sequence[SpanSteps], start: int, steps: int) -> list[SpanSteps]:
    """What of the spans lies within steps `start` to `steps` - 1; None for an end beyond."""
    return [
        (max(begin, start), None if end is None or end >= steps else end)
        for begin, end in _union(spans)
        if begin < steps and (end is None or end > start)
    ]


def _first_difference(a: Sequence[SpanSteps], b: Sequence[SpanSteps]) -> int | None:
    """The first step that only one of two lists of spans holds."""
    for one, other in zip(a, b, strict=False):
        if one[0] != other[0]:
            return min(one[0], other[0])
        if one[1] != other[1]:
            return min(end for end in (one[1], other[1]) if end is not None)
    if len(a) != len(b):
        longer = max(a, b, key=len)
        return longer[min(len(a), len(b))][0]
    return None
