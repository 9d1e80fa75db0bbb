"""What happened in one run, in steps from time 0: when outputs were on, when triggers were worked, what machines did.

All that claims ask of a run is answered here; where it came from (an engine, a wish, a test) does not matter.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import NamedTuple

from tickwright.charts.notation import Both, Condition, Either, Event, Has
from tickwright.engine.trace import Trace

Changes = tuple[tuple[int, int], ...]
SpanSteps = tuple[int, int | None]  # first step in it, first step after it; None if it does not end


class Wave(NamedTuple):
    """A name that is on or off: as it was before step 0, and the steps in which that changes, in order.

    >>> Wave(False, (4, 9)).spans(True, 20), Wave(True, (4, 9)).spans(True, 20)
    ([(4, 9)], [(0, 4), (9, None)])
    """

    before: bool
    toggles: tuple[int, ...] = ()

    def at(self, step: int) -> bool:
        """Whether it is on at the end of the step; before step 0 it is as before."""
        return self.before ^ bool(bisect_right(self.toggles, step) & 1) if step >= 0 else self.before

    def edges(self, on: bool) -> tuple[int, ...]:
        """The steps in which it goes on (or off)."""
        return self.toggles[int(self.before == on) :: 2]

    def spans(self, on: bool, steps: int) -> list[SpanSteps]:
        """The spans of being on (or off) within steps 0 to `steps` - 1; what began before step 0 begins at 0."""
        bounds = [0, *self.toggles] if self.before == on else list(self.toggles)
        found: list[SpanSteps] = []
        for number in range(0, len(bounds), 2):
            start, end = bounds[number], bounds[number + 1] if number + 1 < len(bounds) else None
            if start < steps and start != end:
                found.append((start, end if end is not None and end < steps else None))
        return found


def wave_of(changes: Iterable[tuple[int, int]], before: bool) -> Wave:
    """The wave of a change list whose first pair is the value at step 0, for a name that was so before.

    >>> wave_of(((0, 0), (4, 15), (6, 7), (9, 0)), False)
    Wave(before=False, toggles=(4, 9))
    """
    toggles, last = [], before
    for step, value in changes:
        if (value > 0) != last:
            toggles.append(step)
            last = not last
    return Wave(before, tuple(toggles))


def wave_of_spans(spans: Iterable[SpanSteps], rests_on: bool = False) -> Wave:
    """The wave that is away from rest in these spans, which neither overlap nor touch."""
    return Wave(rests_on, tuple(step for span in spans for step in span if step is not None))


@dataclass(frozen=True, slots=True)
class Timeline:
    """One run of `steps` steps from time 0.

    `outputs` and `triggers` say when each is on, `worked` and `released` in which steps a trigger was. `rests_on` says
    of each output what it shows at rest; `levels` its change list, empty where only on and off are known. `machines`
    holds of each machine (step, state entered), the first state at step 0 first.
    """

    steps: int
    outputs: Mapping[str, Wave] = field(default_factory=dict)
    triggers: Mapping[str, Wave] = field(default_factory=dict)
    worked: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    released: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    rests_on: Mapping[str, bool] = field(default_factory=dict)
    levels: Mapping[str, Changes] = field(default_factory=dict)
    machines: Mapping[str, tuple[tuple[int, str], ...]] = field(default_factory=dict)

    def times(self, event: Event) -> tuple[int, ...]:
        """The steps in which the event happened, in order."""
        if event.kind == "trigger":
            return (self.worked if event.what == "worked" else self.released).get(event.name, ())
        if event.kind == "output":
            edges = self.outputs[event.name].edges(event.what == "on")
            return tuple(step for step in edges if step < self.steps)
        entries = self.machines.get(event.name, ())
        if event.what == "enters":
            return tuple(dict.fromkeys(step for step, state in entries if state == event.state))
        return tuple(after for (_, state), (after, _) in pairwise(entries) if state == event.state)

    def state(self, machine: str, step: int) -> str:
        """The state of a machine at the end of the step; the first state before step 0."""
        entries = self.machines[machine]
        index = bisect_right(entries, step, key=lambda entry: entry[0])
        return entries[max(index - 1, 0)][1] if step >= 0 else entries[0][1]

    def holds(self, condition: Condition, step: int) -> bool:
        """Whether a condition holds at the end of the step; before step 0 all is at rest."""
        if isinstance(condition, Has):
            if condition.kind == "machine":
                return self.state(condition.name, step) == condition.state
            if condition.kind == "output" and step < 0:
                return self.rests_on.get(condition.name, False) == condition.on
            waves = self.triggers if condition.kind == "trigger" else self.outputs
            return waves[condition.name].at(step) == condition.on
        if isinstance(condition, Both):
            return all(self.holds(part, step) for part in condition.parts)
        if isinstance(condition, Either):
            return any(self.holds(part, step) for part in condition.parts)
        return not self.holds(condition.inner, step)

    def away(self, output: str) -> list[SpanSteps]:
        """The spans in which an output is away from rest."""
        return self.outputs[output].spans(not self.rests_on.get(output, False), self.steps)

    def trace(self) -> Trace:
        """What the outputs showed, as a trace."""
        levels = {name: tuple(pair for pair in pairs if pair[0] < self.steps) for name, pairs in self.levels.items()}
        return Trace(self.steps, levels)

    def since(self, start: int, steps: int) -> Timeline:
        """The same run as seen from step `start` on, which is time 0 there, for at most `steps` steps.

        What lies before is forgotten: events do not count, and outputs that are away from rest began at time 0.
        """

        def wave(wave: Wave) -> Wave:
            return Wave(wave.at(start - 1), tuple(step - start for step in wave.toggles if step >= start))

        def after(times: tuple[int, ...]) -> tuple[int, ...]:
            return tuple(step - start for step in times if step >= start)

        machines = {}
        for name, entries in self.machines.items():
            later = tuple((step - start, state) for step, state in entries if step >= start)
            machines[name] = ((-1, self.state(name, start - 1)), *later) if start else entries
        return replace(
            self,
            steps=max(1, min(steps, self.steps - start)),
            outputs={name: wave(one) for name, one in self.outputs.items()},
            triggers={name: wave(one) for name, one in self.triggers.items()},
            worked={name: after(times) for name, times in self.worked.items()},
            released={name: after(times) for name, times in self.released.items()},
            levels={name: _changes_since(pairs, start) for name, pairs in self.levels.items()},
            machines=machines,
        )


def _changes_since(changes: Changes, start: int) -> Changes:
    index = bisect_right(changes, start, key=lambda pair: pair[0])
    here = changes[max(index - 1, 0)][1] if changes else 0
    return ((0, here), *((step - start, value) for step, value in changes[index:]))
