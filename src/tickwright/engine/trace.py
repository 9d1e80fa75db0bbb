"""Traces: what each watched name showed at the end of each step of a run, kept as lists of changes.

A change list holds (step, value) pairs: the value at the end of step 0 first, then each change, where "change" means
that the value at the end of a step differs from the one at the end of the step before. Values are levels 0..15, or
counts of a container, which may be larger.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from tickwright.arguments import checked
from tickwright.errors import UsageError, near
from tickwright.looks import look_of

Changes = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """What a run recorded: `changes` maps each watched name to its change list over steps 0 to `steps` - 1.

    A run has at least one step. The order of names is the order they were watched in; equality ignores it.

    >>> trace = Trace(10, {"lamp": ((0, 0), (4, 15), (7, 0))})
    >>> trace.value_at("lamp", 6), trace.value_at("lamp", 7)
    (15, 0)
    """

    steps: int
    changes: Mapping[str, Changes]

    def _repr_html_(self) -> str | None:
        """What a notebook shows."""
        return look_of(self)

    @property
    def names(self) -> tuple[str, ...]:
        """The watched names, in the order they were watched in."""
        return tuple(self.changes)

    @checked
    def changes_of(self, name: str) -> Changes:
        """The change list of a name; a UsageError names the near ones if it was not watched."""
        if name not in self.changes:
            raise UsageError(f'The run watched nothing called "{name}".{near(name, self.changes)}')
        return self.changes[name]

    @checked
    def value_at(self, name: str, step: int) -> int:
        """The value of `name` at the end of `step`, which lies in 0 .. steps - 1."""
        if not 0 <= step < self.steps:
            raise UsageError(f"Step {step} lies outside the run: it has the steps 0 to {self.steps - 1}.")
        changes = self.changes_of(name)
        return changes[bisect_right(changes, step, key=lambda change: change[0]) - 1][1]


class Difference(NamedTuple):
    """The first place where two traces differ; a value is None where that trace has no such step or name."""

    step: int
    name: str
    value_a: int | None
    value_b: int | None


@checked
def first_difference(a: Trace, b: Trace) -> Difference | None:
    """Where two traces first differ, or None if they agree at every step of every name.

    The earliest step wins, then the order of names in `a` (names of `b` alone come last). If one run ends before the
    other, they differ at its end; a name that only one trace has differs at step 0.

    >>> a = Trace(9, {"lamp": ((0, 0), (4, 15))})
    >>> b = Trace(9, {"lamp": ((0, 0), (5, 15))})
    >>> tuple(first_difference(a, b))
    (4, 'lamp', 15, 0)
    """
    names = dict.fromkeys((*a.names, *b.names))
    found = [difference for name in names if (difference := _difference(a, b, name)) is not None]
    return min(found, key=lambda difference: difference.step, default=None)


def _difference(a: Trace, b: Trace, name: str) -> Difference | None:
    changes_a, changes_b = a.changes.get(name, ()), b.changes.get(name, ())
    for pair_a, pair_b in zip(changes_a, changes_b, strict=False):
        if pair_a != pair_b:
            step = min(pair_a[0], pair_b[0])
            break
    else:
        if len(changes_a) != len(changes_b):
            step = max(changes_a, changes_b, key=len)[min(len(changes_a), len(changes_b))][0]
        elif a.steps != b.steps:
            step = min(a.steps, b.steps)
        else:
            return None
    step = min(step, a.steps, b.steps)
    return Difference(step, name, _value_or_none(a, name, step), _value_or_none(b, name, step))


def _value_or_none(trace: Trace, name: str, step: int) -> int | None:
    return trace.value_at(name, step) if name in trace.changes and step < trace.steps else None


class Recorder:
    """Gathers a trace while an engine runs: sample the watched values, and only their changes are kept.

    >>> recorder = Recorder(["lamp", "bell"])
    >>> for step, values in enumerate([(0, 0), (15, 0), (15, 7)]):
    ...     recorder.sample(step, values)
    >>> dict(recorder.finish(3).changes)
    {'lamp': ((0, 0), (1, 15)), 'bell': ((0, 0), (2, 7))}
    """

    def __init__(self, names: Iterable[str]) -> None:
        self._names = tuple(names)
        if len(set(self._names)) != len(self._names):
            raise ValueError(f"a name is watched twice: {self._names}")
        self._last: list[int | None] = [None] * len(self._names)  # last[name index] = value of the latest sample
        self._changes: list[list[tuple[int, int]]] = [[] for _ in self._names]
        self._step = -1

    def sample(self, step: int, values: Iterable[int]) -> None:
        """Take the values at the end of `step`, in the order of the names.

        Step 0 comes first and steps increase. A step may be left out if nothing has changed in it.
        """
        if step <= self._step or (self._step < 0 and step != 0):
            raise ValueError(f"step {step} is sampled after step {self._step}")
        self._step = step
        now: list[int | None] = list(values)
        last = self._last
        if now == last:
            return
        for value, before, changes in zip(now, last, self._changes, strict=True):
            if value != before:
                changes.append((step, value))  # type: ignore[arg-type]
        self._last = now

    def finish(self, steps: int) -> Trace:
        """The trace of a run of `steps` steps, after its last sample."""
        if not 0 <= self._step < steps:
            raise ValueError(f"a run of {steps} steps ends with a sample of step {self._step}")
        return Trace(steps, dict(zip(self._names, map(tuple, self._changes), strict=True)))
