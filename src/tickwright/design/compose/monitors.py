"""What a brief says its outputs show, as small machines that are told each step which triggers were worked."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from tickwright.design.compose.lowering import Lowered
from tickwright.design.compose.moments import At, Away, edges_of, released_name, steps_text, worked_name
from tickwright.design.compose.network import Network

DOOR_OFF, LAMP_OFF = 2, 4
EXTENDED_LATE = 17  # steps before the end of a span from which on a further act may extend it or not
AT_REST = 10  # steps after an act that restarts, in which outputs come to rest; a door as a lamp shows it later
CLOSE = 12  # steps within which a beginning by one trigger and an end by another may come in either order


class Monitor(Protocol):
    """Outputs, the triggers that they follow, and how: `step` gives the next state and what each output must show."""

    outputs: tuple[str, ...]
    triggers: tuple[str, ...]
    start: Hashable
    bound: str
    cannot: str | None

    def step(
        self, state: Any, worked: tuple[str, ...], shown: Sequence[int]
    ) -> tuple[Hashable, tuple[bool | None, ...]]:
        """One step on, in which these triggers were worked: the new state, and what is wanted (None: not judged)."""

    def is_over(self, state: Any) -> bool:
        """Whether nothing is judged in this state, nor ever after."""


@dataclass
class SpanMonitor:
    """Spans after events: acts and releases; an act does not count until `ready` steps after the last one that did.

    The state: of each event the ages of those that count and matter yet, which outputs are latched, and which levers
    were on.
    """

    outputs: tuple[str, ...]
    triggers: tuple[str, ...]
    events: tuple[str, ...]
    spans: tuple[tuple[Away, ...], ...]  # of each output
    ready: dict[str, int]
    rests_on: tuple[bool, ...]
    tolerance: tuple[int, ...]
    bound: str = ""
    cannot: str | None = None
    start: Hashable = ()
    horizon: dict[str, int] = field(default_factory=dict)
    extending: dict[str, int] = field(default_factory=dict)  # how soon an act that extends may come after another
    at_rest: int = 0  # steps after an act that restarts, from which on outputs show only what comes of it
    restarting: frozenset[str] = frozenset()  # acts of these restart what runs; the last two are kept at first

    def __post_init__(self) -> None:
        for name in self.events:
            steps = [self.ready.get(name, 0)]
            for spans in self.spans:
                for one in spans:
                    steps += [at.steps for at in (one.begin, one.end) if at is not None and at.trigger == name]
            self.horizon[name] = max(steps) + CLOSE
        ends = {name: self._ends(name, again) for name, again in self.extending.items()}
        self.extended = {name: own for name, own in ends.items() if own}
        self.recalled = {name: self._recalled_for(name) for name in self.extended}
        for spans in self.spans:  # an act is remembered until an end before its beginning is over
            for begin, end in ((one.begin, one.end) for one in spans):
                if end is not None and end.trigger != begin.trigger:
                    self.horizon[begin.trigger] = max(self.horizon[begin.trigger], begin.steps + end.steps + CLOSE)
        self.start = (
            tuple(() for _ in self.events), tuple(False for _ in self.outputs), tuple(False for _ in self.triggers),
        )  # fmt: skip

    def _ends(self, trigger: str, again: int) -> tuple[int, ...]:
        """When what further acts of a trigger extend ends, after the last of them."""
        own = [one.end.steps for spans in self.spans for one in spans if one.end and one.end.trigger == trigger]
        return tuple(end for end in own if end > again)

    def step(
        self, state: Any, worked: tuple[str, ...], shown: Sequence[int]
    ) -> tuple[Hashable, tuple[bool | None, ...]]:
        """One step on; what comes after an act too late to extend, and too soon to begin anew, is not judged."""
        if state is None:
            return None, tuple(None for _ in self.outputs)
        ages, latched, levels = state
        here = tuple(
            bool(level) and released_name(name) in self.events
            for name, level in zip(self.triggers, shown[len(self.outputs) :], strict=False)
        )
        fallen = [
            released_name(name)
            for name, old, level in zip(self.triggers, levels, here, strict=True)
            if old and not level
        ]
        now = []
        for name, old in zip(self.events, ages, strict=True):
            mine = [age + 1 for age in old if age + 1 <= self.horizon[name]]
            if name in self.extended:
                if name in worked and mine and self._too_late(name, mine[-1]):
                    return None, tuple(None for _ in self.outputs)
                mine = [age for age in mine[:-1] if age <= self.recalled[name]] + mine[-1:]
            if name in self.restarting:
                mine = mine[-1:] if mine and mine[-1] >= self.at_rest else mine[-2:]
                mine = mine[-1:] if name in worked else mine
            if (name in worked or name in fallen) and all(age >= self.ready.get(name, 0) for age in mine):
                mine.append(0)
            now.append(tuple(mine))
        by_name = {
            name: mine[-1:] if name in self.restarting else mine for name, mine in zip(self.events, now, strict=True)
        }
        clearing = any(name in self.restarting and len(mine) > 1 for name, mine in zip(self.events, now, strict=True))
        wanted, kept = [], []
        for place in range(len(self.outputs)):
            away = bool(shown[place]) != self.rests_on[place]
            on, unsure, latch = self.wants(place, by_name, latched[place], away)
            kept.append(latch)
            wanted.append(None if unsure or clearing else on != self.rests_on[place])
        return (tuple(now), tuple(kept), here), tuple(wanted)

    def is_over(self, state: Any) -> bool:
        """Whether nothing is judged in this state, nor ever after."""
        return state is None

    def _too_late(self, trigger: str, age: int) -> bool:
        """Whether an act comes so long after the last that it neither extends all nor finds it over."""
        ends = self.extended[trigger]
        return min(ends) - EXTENDED_LATE < age < max(ends) + CLOSE

    def _recalled_for(self, trigger: str) -> int:
        """How long an act matters that is not the last: until its spans have begun, and those not extended are over."""
        begins = [one.begin.steps for spans in self.spans for one in spans if one.begin.trigger == trigger]
        ends = [one.end.steps for spans in self.spans for one in spans if one.end and one.end.trigger == trigger]
        short = [end for end in ends if end not in self.extended[trigger]]
        return max([*begins, *short], default=0)

    def wants(self, place: int, ages: dict[str, tuple[int, ...]], latch: bool, away: bool) -> tuple[bool, bool, bool]:
        """Whether it is away from rest, whether that is not judged, and whether it is latched."""
        give = self.tolerance[place]
        on = unsure = False
        for one in self.spans[place]:
            begin, end = one.begin, one.end
            if end is not None and end.steps in self.extended.get(end.trigger, ()):
                mine = ages[end.trigger]
                latch = (latch or begin.steps in mine) and not (mine and mine[-1] == end.steps)
                give_near = mine and (
                    abs(mine[-1] - end.steps) <= give or any(abs(a - begin.steps) <= give for a in mine)
                )
                unsure = unsure or bool(give and give_near)
                continue
            if end is not None and end.trigger == begin.trigger:
                for age in ages[begin.trigger]:
                    on = on or begin.steps <= age < end.steps
                    near = min(abs(age - begin.steps), abs(age - end.steps))
                    unsure = unsure or (give > 0 and near <= give)
                continue
            if end is not None and _crossed(begin, end, ages):
                latch, unsure = away, True
                continue
            begun = any(abs(age - begin.steps) < CLOSE for age in ages[begin.trigger])
            if begun and end is not None and any(abs(age - end.steps) < CLOSE for age in ages[end.trigger]):
                latch, unsure = away, True
                continue
            begins = begin.steps in ages[begin.trigger]
            ends = end is not None and end.steps in ages[end.trigger]
            if begins or ends:
                latch = begins
        return on or latch, unsure, latch


def _crossed(begin: At, end: At, ages: dict[str, tuple[int, ...]]) -> bool:
    """Whether an event that ends came between an act and the beginning that this act brings: either may win."""
    return any(
        0 < act - over <= begin.steps and (act < begin.steps + CLOSE or over < end.steps + CLOSE)
        for act in ages[begin.trigger]
        for over in ages[end.trigger]
    )


def monitors_for(low: Lowered, network: Network) -> list[Monitor]:
    """The monitors of the spans of a brief: one for all outputs that follow the same acts."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for name, spans in low.wanted.spans.items():
        reached = {at.trigger for at in edges_of(spans)}
        if reached & set(low.keys.moves):
            continue
        events = (event for one in low.brief.inputs for event in (one, released_name(one)))
        groups.setdefault(tuple(event for event in events if event in reached), []).append(name)
    return [_span_monitor(low, network, followed, outputs) for followed, outputs in groups.items()]


def _span_monitor(low: Lowered, network: Network, followed: tuple[str, ...], outputs: Sequence[str]) -> Monitor:
    """The monitor of outputs that follow the same acts, with what it says of them."""
    triggers = tuple(dict.fromkeys(map(worked_name, followed)))
    ready = {
        name: steps for name in triggers if name not in low.struck and (steps := network.ready.get(name)) is not None
    }  # fmt: skip
    spans = [one for name in outputs for one in low.wanted.spans[name]]
    told = f"any number of acts, at any steps of {' and '.join(triggers)}" if triggers else "untouched"
    told += "".join(f"; {name} counts again {steps} steps after" for name, steps in ready.items())
    if any(one.end and one.end.trigger != one.begin.trigger for one in spans):
        told += f"; where one begins a span and another ends it within {CLOSE} steps, or before it has begun,"
        told += " either may win"
    monitor = SpanMonitor(
        tuple(outputs), triggers, followed, tuple(shown_spans(low, name) for name in outputs), ready,
        tuple(name in low.wanted.rests_on for name in outputs), tuple(tolerance_of(low, name) for name in outputs),
        told, extending={name: network.extending[name] for name in triggers if name in network.extending},
        restarting=frozenset(network.restarting & set(triggers)),
        at_rest=AT_REST + (LAMP_OFF - DOOR_OFF if any(map(low.is_door, outputs)) else 0),
    )  # fmt: skip
    early, late = steps_text(EXTENDED_LATE - 1), steps_text(CLOSE)
    for name in monitor.extended:
        monitor.bound += f"; a further act of {name} extends; what follows an act is not judged if it comes from"
        monitor.bound += f" {early} before what it would extend ends until {late} after that"
    for name in sorted(monitor.restarting):
        at_rest = steps_text(monitor.at_rest)
        monitor.bound += f"; a further act of {name} restarts: from {at_rest} after it on all is judged"
    return monitor


def tolerance_of(low: Lowered, output: str) -> int:
    """How far the edges of an output may be off, at the most."""
    return max((claim.give_or_take_steps for claim in low.brief.claims if claim.name == output), default=0)


def shown_spans(low: Lowered, output: str) -> tuple[Away, ...]:
    """The spans of an output as the proof sees them: a door's as a lamp in its piston's place shows them."""
    on = output in low.wanted.rests_on
    spans = low.wanted.spans[output]
    return tuple(_at_the_piston(one, on) for one in spans) if low.is_door(output) else spans


def _at_the_piston(one: Away, rests_on: bool) -> Away:
    """The span of a door as a lamp in its piston's place shows it, which goes dark later than a door shuts."""
    later = LAMP_OFF - DOOR_OFF
    if rests_on:
        return one._replace(begin=At(one.begin.trigger, one.begin.steps + later))
    return one._replace(end=one.end and At(one.end.trigger, one.end.steps + later))
