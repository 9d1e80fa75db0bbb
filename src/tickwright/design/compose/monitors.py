"""What a brief says its outputs show, as small machines that are told each step which triggers were worked."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.dividing import span_part
from tickwright.design.compose.moments import At, Away, Solver
from tickwright.design.compose.network import Network

DOOR_OFF, LAMP_OFF = 2, 4
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


@dataclass
class SpanMonitor:
    """Spans after acts; an act does not count until `ready` steps after the last one that did.

    The state: for each trigger the ages of the acts that count and matter yet, and which outputs are latched.
    """

    outputs: tuple[str, ...]
    triggers: tuple[str, ...]
    spans: tuple[tuple[Away, ...], ...]  # of each output
    ready: dict[str, int]
    rests_on: tuple[bool, ...]
    tolerance: tuple[int, ...]
    bound: str = ""
    cannot: str | None = None
    start: Hashable = ()
    horizon: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in self.triggers:
            steps = [self.ready.get(name, 0)]
            for spans in self.spans:
                for one in spans:
                    steps += [at.steps for at in (one.begin, one.end) if at is not None and at.trigger == name]
            self.horizon[name] = max(steps) + CLOSE
        self.start = (tuple(() for _ in self.triggers), tuple(False for _ in self.outputs))

    def step(
        self, state: Any, worked: tuple[str, ...], shown: Sequence[int]
    ) -> tuple[Hashable, tuple[bool | None, ...]]:
        """One step on."""
        ages, latched = state
        now = []
        for name, old in zip(self.triggers, ages, strict=True):
            mine = [age + 1 for age in old if age + 1 <= self.horizon[name]]
            if name in worked and all(age >= self.ready.get(name, 0) for age in mine):
                mine.append(0)
            now.append(tuple(mine))
        by_name = dict(zip(self.triggers, now, strict=True))
        wanted, kept = [], []
        for place in range(len(self.outputs)):
            away = bool(shown[place]) != self.rests_on[place]
            on, unsure, latch = self._output(place, by_name, latched[place], away)
            kept.append(latch)
            wanted.append(None if unsure else on != self.rests_on[place])
        return (tuple(now), tuple(kept)), tuple(wanted)

    def _output(self, place: int, ages: dict[str, tuple[int, ...]], latch: bool, away: bool) -> tuple[bool, bool, bool]:
        """Whether it is away from rest, whether that is not judged, and whether it is latched."""
        give = self.tolerance[place]
        on = unsure = False
        for one in self.spans[place]:
            begin, end = one.begin, one.end
            if end is not None and end.trigger == begin.trigger:
                for age in ages[begin.trigger]:
                    on = on or begin.steps <= age < end.steps
                    near = min(abs(age - begin.steps), abs(age - end.steps))
                    unsure = unsure or (give > 0 and near <= give)
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


def monitors_for(brief: Brief, network: Network) -> list[Monitor]:
    """The monitors of the spans of a brief: one for all outputs that follow the same triggers."""
    brief = span_part(brief)
    wanted = Solver(brief).wanted()
    groups: dict[tuple[str, ...], list[str]] = {}
    for name, spans in wanted.spans.items():
        reached = {at.trigger for one in spans for at in (one.begin, one.end) if at is not None}
        groups.setdefault(tuple(one for one in brief.inputs if one in reached), []).append(name)
    found: list[Monitor] = []
    for triggers, outputs in groups.items():
        ready = {name: steps for name in triggers if (steps := network.ready.get(name)) is not None}
        tolerance = [max((c.give_or_take_steps for c in brief.claims if c.name == name), default=0) for name in outputs]
        doors = [brief.outputs[name].part == "piston-door" for name in outputs]
        rests_on = tuple(name in wanted.rests_on for name in outputs)
        shown: tuple[tuple[Away, ...], ...] = tuple(
            tuple(_at_the_piston(one, on) if door else one for one in wanted.spans[name])
            for name, door, on in zip(outputs, doors, rests_on, strict=True)
        )
        every = "any number of acts, at any steps" if triggers else "untouched"
        counts = "".join(f"; {name} counts again {steps} steps after" for name, steps in ready.items())
        if any(one.end and one.end.trigger != one.begin.trigger for name in outputs for one in wanted.spans[name]):
            counts += f"; where one begins a span and another ends it within {CLOSE} steps, either may win"
        told = f"{every} of {' and '.join(triggers)}{counts}" if triggers else every
        found.append(SpanMonitor(tuple(outputs), triggers, shown, ready, rests_on, tuple(tolerance), told))
    return found


def _at_the_piston(one: Away, rests_on: bool) -> Away:
    """The span of a door as a lamp in its piston's place shows it, which goes dark later than a door shuts."""
    later = LAMP_OFF - DOOR_OFF
    if rests_on:
        return one._replace(begin=At(one.begin.trigger, one.begin.steps + later))
    return one._replace(end=one.end and At(one.end.trigger, one.end.steps + later))
