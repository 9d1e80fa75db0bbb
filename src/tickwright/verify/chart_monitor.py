"""A chart as an observer: it walks along with a circuit, step by step, and says when a claim is broken.

Its memory is a small value that is part of the state of a proof: what is wanted of each output from now on, in steps
relative to now, the states of machines, and in which policy each trigger is. It knows nothing of the past else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from tickwright.charts.moments import Circular, solved
from tickwright.charts.notation import (
    Automaton,
    Event,
    Level,
    Moment,
    Never,
    Policy,
    ReadChart,
    Span,
    Train,
    While,
    clause_moments,
    names_in,
)
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.verify.chart_spans import Raw, Running, Shown, in_order, merged_first
from tickwright.verify.machine_monitor import MachineMonitor, Machines, Owed

TICK_STEPS = 2
NOTICE_STEPS = 10
HORIZON_STEPS = 200_000


class State(NamedTuple):
    """One way in which the chart may stand. Times count from now."""

    machines: Machines
    outputs: tuple[Shown, ...]
    trains: tuple[Running, ...]
    counts: tuple[int, ...]
    policies: tuple[tuple[int, int, int | None, bool], ...]  # policy, steps since the press, its end, press ignored
    owed: Owed | None
    holding: tuple[bool, ...]  # the condition of each `on while` at the end of the step before
    clock: int = 0  # steps since time 0, as far as a moment of the clock is still to come


class Memory(NamedTuple):
    """All ways in which the chart may stand, and what the triggers and outputs showed."""

    states: frozenset[State]
    on: tuple[bool, ...]
    let_go: tuple[int, ...]  # steps since each trigger was let go, up to a tick
    started: bool


class Seen(NamedTuple):
    """One step of a circuit: what the hand worked and let go, and the levels of outputs, then triggers."""

    worked: tuple[str, ...]
    released: tuple[str, ...]
    levels: tuple[int, ...]


class _Broken(Exception):
    """A claim is broken in this way of standing."""


class ChartMonitor(MachineMonitor):
    """The observer of one chart; `outputs` and `triggers` name what a step shows, in this order.

    Raises UsageError for a chart that says something of times before their event: such claims cannot be held step by
    step.
    """

    def __init__(
        self,
        chart: ReadChart,
        machines: Sequence[Automaton],
        outputs: Sequence[str],
        triggers: Sequence[str],
        rests_on: Mapping[str, bool],
        held_steps: Mapping[str, int],
    ) -> None:
        super().__init__(chart.claims, machines, outputs, triggers, frozenset(held_steps))
        self.rests_on = rests_on
        self.whiles = [(n, c.clauses[0]) for n, c in enumerate(self.claims) if isinstance(c.clauses[0], While)]
        self.spanned = {c.name for c in self.claims if isinstance(c.clauses[0], Span | Train | While)}
        self.spanned |= {c.name for c in self.claims if any(isinstance(one, Span | Train) for one in c.clauses)}
        self.free = {claim.name for claim in self.claims if claim.otherwise_free}
        self.widest = {
            name: max([c.give_or_take_steps for c in self.claims if c.name == name], default=0) for name in outputs
        }
        self.on_while = {self.claims[number].name for number, _ in self.whiles}
        self.policies: dict[str, list[Policy]] = {}
        for claim in self.claims:
            if claim.is_policy:
                self.policies.setdefault(claim.name, []).extend(c for c in claim.clauses if isinstance(c, Policy))
        self.last_clock = max(
            [moment.steps for claim in self.claims for clause in claim.clauses for moment in clause_moments(clause)[-1:]
             if moment.event is None and (isinstance(clause, Policy) or len(clause_moments(clause)) > 1)],
            default=0,
        )  # fmt: skip
        self._refuse_what_looks_ahead()
        self.named: set[int] = set()  # claims that named a span, in some way of standing that was walked through
        self.happened: set[Event] = set()  # events that came in some state
        self.met: set[tuple[str, int]] = set()  # policies of a trigger that a press met, or (ready) whose moment came
        self.pattern = self._patterns(held_steps)
        self.left_out = tuple(
            f"{claim.text}: the gaps between pulses" for claim in self.claims
            if claim.otherwise_free and any(isinstance(one, Train) for one in claim.clauses)
        )  # fmt: skip

    def _refuse_what_looks_ahead(self) -> None:
        for claim in self.claims:
            for clause in claim.clauses:
                for moment in clause_moments(clause):
                    if moment.event is None or isinstance(clause, Policy):
                        continue
                    early = moment.event.kind != "trigger" or moment is not clause_moments(clause)[0]
                    if early and claim.give_or_take_steps > moment.steps >= 0:
                        what = "gives more than passes between an event and its edge, so that no step can tell"
                        raise UsageError(f'"{claim.text}" {what}: make the give or take smaller.')
                    if moment.steps < 0:
                        what = "says something of the time before its event, which no step can tell: let it come after"
                        raise UsageError(f'"{claim.text}" {what}.')

    def wrong_way(self) -> str | None:
        """What is wrong with a claim that wants an output on that rests on, or off that rests off; None if nothing."""
        for claim in self.claims:
            rests_on = not claim.is_policy and self.rests_on[claim.name]
            for clause in claim.clauses:
                if isinstance(clause, Span | Train) and (getattr(clause, "away", "on") == "on") == rests_on:
                    rest, other = ("on", "off") if rests_on else ("off", "on")
                    return f"{claim.name} rests {rest}: write {other} from"
        return None

    def _patterns(self, held_steps: Mapping[str, int]) -> dict[str, tuple[dict[str, list[Raw]], dict[int, int]]]:
        """For a trigger that extends, or whose policy ends before its event: what one press of it wants."""
        found = {}
        for trigger, policies in self.policies.items():
            early = [p for p in policies if p.moment is not None and p.moment.steps < 0]
            if not early and not any(policy.word == "extends" for policy in policies):
                continue
            others = {n for c in self.claims for n, kind in names_in(c).items() if kind == "trigger" and n != trigger}
            if self.machines or others:
                raise UsageError(
                    f"What extends {trigger}, or ends before its event, can be proved only where no machine and no "
                    "other trigger has a part in the chart."
                )
            try:
                line = solved(self.claims, {trigger: [0]}, HORIZON_STEPS, (), held_steps.get(trigger, 20), self.outputs)
            except Circular:
                raise UsageError("The claims wait for each other without end: they cannot be proved.") from None
            spans = {
                name: [Raw(begin, end, self.widest[name], self.widest[name]) for begin, end in line.away(name)]
                for name in self.outputs
            }
            ends: dict[int, int] = {}
            for number, policy in enumerate(policies):
                if policy.moment is not None and policy.moment.event is not None:
                    times = [at for at in line.times(policy.moment.event) if at > 0]
                    if times:
                        ends[number] = times[0] + policy.moment.steps
            found[trigger] = (spans, ends)
        return found

    # --- memory ----------------------------------------------------------------------------------------------------

    def start(self, levels: Sequence[int]) -> Memory:
        """The memory at rest, before time 0."""
        on = tuple(level > 0 for level in levels)
        machines = tuple((machine.states[0], -1, self.cap(machine)) for machine in self.machines)
        holding = tuple(self.holds(clause.condition, on, machines) for _, clause in self.whiles)
        outputs = []
        for name in self.outputs:
            shown = Shown()
            for (number, _), holds in zip(self.whiles, holding, strict=True):
                if self.claims[number].name == name and holds:
                    shown = Shown((Raw(0, None, 0, self.claims[number].give_or_take_steps, (number, 0)),), True)
            outputs.append(shown)
        policies = tuple((-1, 0, None, False) for _ in self.triggers)
        state = State(machines, tuple(outputs), (), (0,) * len(self.ordinals), policies, None, holding)
        return Memory(frozenset([state]), on, (TICK_STEPS,) * len(self.triggers), False)

    def allowed(self, memory: Memory, worked: Iterable[str]) -> bool:
        """Whether these triggers may be worked now: a tick after they were let go, which is not in this very step."""
        return all(
            memory.let_go[self.triggers.index(name)] >= TICK_STEPS - 1
            and not (name in self.buttons and memory.on[self.place[name]])
            for name in worked
        )

    def step(self, memory: Memory, seen: Seen) -> Memory | str:
        """The memory at the end of a step, or what is wrong if no way in which the chart may stand keeps all claims."""
        on = tuple(level > 0 for level in seen.levels)
        fallen = {name for name in self.triggers if memory.on[self.place[name]] and not on[self.place[name]]}
        let_go_now = {*seen.released, *(fallen - set(seen.worked))}
        released = tuple(name for name in self.triggers if name in let_go_now)
        held_on = [name for name in released if name not in self.buttons]
        acts = (
            *(Event(name, "trigger", "worked") for name in seen.worked),
            *(Event(name, "trigger", "released") for name in held_on),
        )
        kept: set[State] = set()
        why = ""
        for state in memory.states:
            for order, owed in self.orders(state.owed, acts):
                try:
                    kept.add(self._onward(state, memory, seen, released, on, order, owed))
                except _Broken as broken:
                    why = why or str(broken)
        if not kept:
            return why or "no order in which machines may take the acts keeps all claims"
        let_go = tuple(
            0 if name in released else min(since + 1, TICK_STEPS)
            for name, since in zip(self.triggers, memory.let_go, strict=True)
        )
        return Memory(frozenset(kept), on, let_go, True)

    # --- one step --------------------------------------------------------------------------------------------------

    def _onward(
        self, state: State, memory: Memory, seen: Seen, released: tuple[str, ...], on: tuple[bool, ...],
        order: tuple[Event, ...], owed: Owed | None,
    ) -> State:  # fmt: skip
        edges = [
            Event(name, "output", "on" if on[place] else "off")
            for place, name in enumerate(self.outputs)
            if on[place] != memory.on[place]
        ]
        let_go = [Event(name, "trigger", "released") for name in released]
        worked_now = [Event(name, "trigger", "worked") for name in seen.worked]
        sprung = [event for event in let_go if event.name in self.buttons]
        counts = self.count(state.counts, [*edges, *let_go, *worked_now])
        on_as_taken = self.on_as_taken(on, owed)
        machines, moves = self.move(
            state.machines, [*edges, *sprung, *order], memory.on, on_as_taken, counts, memory.started
        )
        counts = self.count(counts, moves)
        clock = min(state.clock + memory.started, self.last_clock)
        restarting = {name for name, shown in zip(self.outputs, state.outputs, strict=True) if shown.grace}
        happened = [*(edge for edge in edges if edge.name not in restarting), *moves]
        taken_now = [*happened, *let_go, *worked_now]
        self.happened.update(taken_now)
        self.met.update(
            (trigger, index)
            for trigger, mine in self.policies.items() for index, one in enumerate(mine)
            if one.word == "ready" and (one.moment is None or one.moment.event is None
                                        or self._comes(one.moment, taken_now, counts, (on, machines)))
        )  # fmt: skip
        outputs = [self._shift(shown) for shown in state.outputs]
        trains = [
            one._replace(next=one.next - 1, until=None if one.until is None else one.until - 1) for one in state.trains
        ]
        policies = [
            self._aged(trigger, policy, taken_now, clock, counts, (on, machines))
            for trigger, policy in zip(self.triggers, state.policies, strict=True)
        ]
        accepted: list[Event] = []
        for name in seen.worked:
            self._press(name, policies, outputs, memory.on, on, accepted, machines)
        heard = [name for name in released if not policies[self.triggers.index(name)][3]]
        accepted += [Event(name, "trigger", "released") for name in heard]
        events = [*happened, *accepted]
        look = (on, machines)
        self._end_spans(outputs, trains, events, counts, look)
        self._begin_spans(outputs, trains, events, counts, look, clock, memory.started)
        self._run_trains(outputs, trains)
        holding = self._while(state.holding, outputs, on, machines)
        judged = tuple(
            self._judged(name, shown, seen.levels) for name, shown in zip(self.outputs, outputs, strict=True)
        )
        return State(machines, judged, tuple(trains), counts, tuple(policies), owed, holding, clock)

    # --- policies --------------------------------------------------------------------------------------------------

    def _aged(
        self, trigger: str, policy: tuple[int, int, int | None, bool], events: list[Event], clock: int,
        counts: tuple[int, ...], look: tuple[tuple[bool, ...], Machines],
    ) -> tuple[int, int, int | None, bool]:  # fmt: skip
        """A trigger's policy one step on: the next one when the moment that ends it has come."""
        index, since, left, ignored = policy
        policies = self.policies.get(trigger, [])
        if index < 0 or index >= len(policies):
            return (-1, 0, None, ignored)
        since, left = since + 1, None if left is None else left - 1
        while index < len(policies) and policies[index].word != "ready":
            one = policies[index]
            pattern = self.pattern.get(trigger)
            if one.moment is not None and one.moment.event is None:
                over = clock >= one.moment.steps
            elif one.moment is not None and one.moment.steps < 0 and pattern is not None:
                over = since >= pattern[1].get(index, 0)
            elif one.moment is not None:
                if left is None and self._comes(one.moment, events, counts, look):
                    left = one.moment.steps
                over = left is not None and left <= 0
            else:
                over = False
            if not over:
                early = pattern is not None and one.moment is not None and one.moment.steps < 0
                return (index, since if early else 0, left, ignored)
            index, left = index + 1, None
        return (-1, 0, None, ignored)

    def _press(
        self, name: str, policies: list[tuple[int, int, int | None, bool]], outputs: list[Shown],
        before: tuple[bool, ...], on: tuple[bool, ...], accepted: list[Event], machines: Machines,
    ) -> None:  # fmt: skip
        """What a press is to the chart: a new beginning, nothing, or a change of what is wanted."""
        number = self.triggers.index(name)
        mine = self.policies.get(name, [])
        index = policies[number][0]
        one = mine[index] if 0 <= index < len(mine) else None
        word = one.word if one is not None else "ready"
        if one is not None and one.condition is not None and not self.holds(one.condition, on, machines):
            word = "ready"
        if word != "ready":
            self.met.add((name, index))
        if word == "ignored":
            policies[number] = (*policies[number][:3], True)
            return
        first = 0 if mine and mine[0].word != "ready" else -1
        if word == "extends":
            self._extend(name, outputs)
            policies[number] = (index, 0, None, False)
            return
        if word == "restarts":
            for place, output in enumerate(self.outputs):
                away = before[place] != self.rests_on[output]
                if output in self.spanned and output not in self.on_while:
                    outputs[place] = Shown((), False, NOTICE_STEPS + 1 if away else 0, slack=NOTICE_STEPS + 1)
        accepted.append(Event(name, "trigger", "worked"))
        policies[number] = (first, 0, None, False)

    def _extend(self, trigger: str, outputs: list[Shown]) -> None:
        spans = self.pattern[trigger][0]
        for place, name in enumerate(self.outputs):
            wanted = spans[name]
            shown = outputs[place]
            if not wanted or name not in self.spanned:
                continue
            if len(wanted) == 1 and shown.raw:
                first = shown.raw[0]
                outputs[place] = shown._replace(raw=(first._replace(end=wanted[0].end, waits=None),))
            elif len(wanted) == 1:
                outputs[place] = shown._replace(raw=tuple(wanted))
            else:
                begun = tuple(raw for raw in shown.raw if raw.begin <= 0)
                outputs[place] = shown._replace(raw=(*begun, *wanted))

    # --- spans -----------------------------------------------------------------------------------------------------

    def _shift(self, shown: Shown) -> Shown:
        raw = tuple(
            one._replace(begin=max(one.begin - 1, -self.horizon), end=None if one.end is None else one.end - 1)
            for one in shown.raw
        )
        return shown._replace(raw=raw, grace=max(shown.grace - 1, 0), slack=max(shown.slack - 1, 0))

    @property
    def horizon(self) -> int:
        """How far back a beginning is remembered: as far as its give or take, and a step more."""
        return max(self.widest.values(), default=0) + 1

    def _comes(
        self, moment: Moment, events: list[Event], counts: tuple[int, ...],
        look: tuple[tuple[bool, ...], Machines],
    ) -> bool:  # fmt: skip
        """Whether the moment's event falls in this step, and counts."""
        event = moment.event
        if event is None or event not in events or not self.counts_now(event, moment.ordinal, counts):
            return False
        return moment.condition is None or self.holds(moment.condition, *look)

    def _end_spans(
        self, outputs: list[Shown], trains: list[Running], events: list[Event], counts: tuple[int, ...],
        look: tuple[tuple[bool, ...], Machines],
    ) -> None:  # fmt: skip
        """Give an end to the spans and trains that wait for a moment which comes now."""
        for place, shown in enumerate(outputs):
            for number, index in shown.missed:
                until = clause_moments(self.claims[number].clauses[index])[1]
                if self._comes(until, events, counts, look):
                    raise _Broken(f"{self.outputs[place]} was not away from rest within a span that is wanted")
            if not any(raw.waits is not None for raw in shown.raw):
                continue
            raws = []
            for raw in shown.raw:
                clause = self.claims[raw.waits[0]].clauses[raw.waits[1]] if raw.waits is not None else None
                if (
                    raw.waits is not None
                    and isinstance(clause, Span)
                    and clause.until is not None
                    and raw.begin < 0
                    and self._comes(clause.until, events, counts, look)
                ):
                    raws.append(raw._replace(end=clause.until.steps, waits=None))
                    self.named.add(raw.waits[0])
                else:
                    raws.append(raw)
            outputs[place] = shown._replace(raw=tuple(raws))
        for number, train in enumerate(trains):
            clause = self.claims[train.claim].clauses[train.clause]
            if (
                train.until is None
                and isinstance(clause, Train)
                and clause.until is not None
                and self._comes(clause.until, events, counts, look)
            ):
                trains[number] = train._replace(until=clause.until.steps)
                self.named.add(train.claim)
                place, known = self.place[self.claims[train.claim].name], (train.claim, train.clause)
                sure = tuple(one._replace(waits=None) if one.waits == known else one for one in outputs[place].raw)
                outputs[place] = outputs[place]._replace(raw=sure)

    def _begin_spans(
        self, outputs: list[Shown], trains: list[Running], events: list[Event], counts: tuple[int, ...],
        look: tuple[tuple[bool, ...], Machines], clock: int, started: bool,
    ) -> None:  # fmt: skip
        for number, claim in enumerate(self.claims):
            for index, clause in enumerate(claim.clauses):
                if not isinstance(clause, Span | Train):
                    continue
                if clause.begins.event is None:
                    if started:
                        continue
                elif not self._comes(clause.begins, events, counts, look):
                    continue
                place, within, begin = self.place[claim.name], claim.give_or_take_steps, clause.begins.steps
                by_clock = clause.until is not None and clause.until.event is None
                until = clause.until.steps - clock if clause.until is not None and by_clock else None
                if until is not None and until <= begin:
                    continue
                if clause.until is None or by_clock:
                    self.named.add(number)
                new: list[Raw] = []
                if isinstance(clause, Span):
                    end = until if clause.lasts_steps is None else begin + clause.lasts_steps
                    waits = (number, index) if clause.until is not None and not by_clock else None
                    new = [Raw(begin, end, within, within, waits)]
                elif clause.number is not None:
                    starts = [begin + n * clause.every_steps for n in range(clause.number)]
                    new = [Raw(at, at + clause.length_steps, within, within) for at in starts]
                else:
                    trains.append(Running(number, index, begin, until))
                outputs[place] = outputs[place]._replace(raw=in_order((*outputs[place].raw, *new)))

    def _run_trains(self, outputs: list[Shown], trains: list[Running]) -> None:
        """Let the pulses begin that are due, and drop the trains that are over."""
        for number, train in enumerate(trains):
            claim = self.claims[train.claim]
            clause = claim.clauses[train.clause]
            assert isinstance(clause, Train)
            over = train.until is not None and train.next >= train.until
            if not over and train.next <= 0:
                place, within = self.place[claim.name], claim.give_or_take_steps
                waits = (train.claim, train.clause) if train.until is None else None
                pulse = Raw(train.next, train.next + clause.length_steps, within, within, waits)
                outputs[place] = outputs[place]._replace(raw=in_order((*outputs[place].raw, pulse)))
                trains[number] = train._replace(next=train.next + clause.every_steps)
        trains[:] = [one for one in trains if one.until is None or one.next < one.until]

    def _while(
        self,
        before: tuple[bool, ...],
        outputs: list[Shown],
        on: tuple[bool, ...],
        machines: Machines,
    ) -> tuple[bool, ...]:
        """Begin and end the spans of `on while`, as much later as the claim says."""
        now = tuple(self.holds(clause.condition, on, machines) for _, clause in self.whiles)
        for (number, clause), was, holds in zip(self.whiles, before, now, strict=True):
            if was == holds:
                continue
            claim = self.claims[number]
            place, within = self.place[claim.name], claim.give_or_take_steps
            shown = outputs[place]
            if holds:
                new = Raw(clause.late_steps, None, within, within, (number, 0))
                outputs[place] = shown._replace(raw=in_order((*shown.raw, new)))
            else:
                raws = [raw._replace(end=clause.late_steps, waits=None) if raw.waits else raw for raw in shown.raw]
                outputs[place] = shown._replace(
                    raw=tuple(raw for raw in raws if raw.end is None or raw.end > raw.begin)
                )
        return now

    # --- the verdict of a step -------------------------------------------------------------------------------------

    def _judged(self, name: str, shown: Shown, levels: tuple[int, ...]) -> Shown:
        level = levels[self.place[name]]
        self._judge_levels(name, level)
        if name not in self.spanned:
            return Shown()
        away = (level > 0) != (self.rests_on[name] and name not in self.on_while)
        if shown.grace:
            if away and shown.grace == 1:
                raise _Broken(f"{name} does not come to rest within {duration_text(NOTICE_STEPS)} of a press")
            if away:
                return shown
            shown = shown._replace(grace=0)
        if away and shown.slack > 1 and not shown.begun and all(raw.begin > 0 for raw in shown.raw):
            return shown._replace(grace=shown.slack)  # what an earlier press began in the steps since the last
        if name in self.free:
            inside = [
                raw for raw in shown.raw
                if raw.begin + raw.begin_within <= 0 and (raw.end is None or raw.end - raw.end_within > 0)
            ]  # fmt: skip
            if inside and not away:
                if not all(map(self._may_not_be, inside)):
                    raise _Broken(f"{name} is not away from rest within a span that is wanted")
                shown = _missing(shown, inside)
            return shown._replace(raw=tuple(raw for raw in shown.raw if raw.end is None or raw.end > 0))
        try:
            return self._followed(name, shown, away)
        except _Broken:
            open_ = [raw for raw in shown.raw if raw.begin <= 0 and self._may_not_be(raw)]
            left = _missing(shown, open_)
            if away or not open_ or (shown.begun and not left.raw):
                raise
            return self._followed(name, left, away)

    def _may_not_be(self, raw: Raw) -> bool:
        """Whether a span is not wanted if a moment that has not come yet never comes."""
        return raw.waits is not None and not isinstance(self.claims[raw.waits[0]].clauses[raw.waits[1]], While)

    def _followed(self, name: str, shown: Shown, away: bool) -> Shown:
        """The output against the first wanted span: it begins and ends when that does."""
        first = merged_first(shown.raw)
        if shown.begun and first is not None:
            if away:
                if first.end is not None and first.end + first.end_within <= 0:
                    raise _Broken(f"{name} does not end when it should")
                return shown._replace(raw=in_order(shown.raw))
            if first.end is None or first.end - first.end_within > 0:
                raise _Broken(f"{name} ends too soon")
            left = tuple(raw for raw in shown.raw if raw.begin > (first.end or 0))
            return self._followed(name, shown._replace(raw=left, begun=False), away)
        if away:
            if first is None or first.begin - first.begin_within > 0:
                raise _Broken(f"{name} leaves rest when nothing wants it to")
            return self._followed(name, shown._replace(begun=True), away)
        if first is not None and first.begin + first.begin_within <= 0:
            raise _Broken(f"{name} does not leave rest when it should")
        return shown

    def _judge_levels(self, name: str, level: int) -> None:
        for claim in self.claims:
            if claim.name != name:
                continue
            for clause in claim.clauses:
                if isinstance(clause, Never) and (level > 0) == (clause.state == "on"):
                    raise _Broken(f"{name} is {clause.state}, which it never should be")
                if isinstance(clause, Level) and level:
                    wrong = level < clause.level if clause.at_least else level > clause.level
                    if wrong:
                        raise _Broken(f"{name} shows level {level}")


def _missing(shown: Shown, missed: Iterable[Raw]) -> Shown:
    """What is wanted without these spans, kept in mind until it is known whether they were."""
    raws = tuple(raw for raw in shown.raw if raw not in missed)
    return shown._replace(raw=raws, missed=shown.missed | {raw.waits for raw in missed if raw.waits is not None})
