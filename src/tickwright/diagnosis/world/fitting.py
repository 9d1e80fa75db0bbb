"""The search: all rule sets with the fewest changes that give what was measured, depth first over what can mend least.

First every value is changed alone, to a few others, to learn which values alter which circuit. Then, with one change
more each time: of what is still broken that is taken which the fewest single changes mend, and each of them is tried.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.diagnosis.asking.questions import bits
from tickwright.diagnosis.diagnosing import Progress
from tickwright.diagnosis.world.bench import bench_measured
from tickwright.diagnosis.world.circuits import bench_names
from tickwright.diagnosis.world.measured import Measured
from tickwright.diagnosis.world.runs import Judged, Runs
from tickwright.diagnosis.world.values import Value, all_values, extremes, others
from tickwright.errors import UsageError
from tickwright.rules import RuleSet, load_rules

MOST_CHANGES = 4
MOST_NODES = 300  # rule sets looked at for each number of changes
MOST_EXPLAINED = 40
MOST_PAIRED = 12
MOST_NEAR = 12  # changes that may mend something only together with another
MOST_AGAIN = 8  # circuits that are run again with all changes, those that alone alter nothing there included
Unit = tuple[int, int, int]  # circuit, claim, edge


class Explained(NamedTuple):
    """One explanation: each value that is otherwise, `off_steps` in all, and what else each value may be as well."""

    changes: dict[str, Value]
    off_steps: int
    as_well: dict[str, list[Value]]

    def as_data(self, base: Mapping[str, Value]) -> dict[str, Any]:
        """As JSON shows it."""
        rows = [
            {"value": name, "was": base[name], "is": value, "or": self.as_well.get(name, [])}
            for name, value in self.changes.items()
        ]
        return {"changes": rows, "off_steps": self.off_steps}


@dataclass(frozen=True, slots=True)
class Fitted:
    """All explanations with the fewest changes, the closest first; values that nothing measured depends on; what next.

    `complete` says that the search did not end at its bound of rule sets.

    `undecided` are places of values on which no measured circuit depends. `next_circuit` names the one of our bench
    that tells the explanations best apart, with the bits that it tells; None if none does, or there is one explanation.
    """

    based_on: str
    measured: int
    explained: tuple[Explained, ...]
    undecided: tuple[str, ...]
    next_circuit: tuple[str, float] | None
    runs: int
    complete: bool
    stopped: bool = False

    def as_data(self, base: Mapping[str, Value]) -> dict[str, Any]:
        """As JSON shows it."""
        following = {"circuit": self.next_circuit[0], "bits": self.next_circuit[1]} if self.next_circuit else None
        return {
            "based_on": self.based_on,
            "measured": self.measured,
            "explanations": [one.as_data(base) for one in self.explained],
            "undecided": list(self.undecided),
            "next": following,
            "runs": self.runs,
            "complete": self.complete,
            "stopped": self.stopped,
        }


@checked
def fit_rules(measured: Sequence[Measured], based_on: str = "standard", progress: Progress | None = None) -> Fitted:
    """The rule sets with the fewest changes of `based_on` that give all that was measured.

    `progress` is told how far it is, and stops it by returning True; what was found is kept. Raises UsageError if
    nothing was measured.
    """
    if not measured:
        raise UsageError("Nothing was measured: write [[measured]] with plan and observed.")
    return _Search(measured, load_rules(based_on), based_on, progress).result()


class _Stopped(Exception):
    pass


class _Search:
    def __init__(self, measured: Sequence[Measured], rules: RuleSet, based_on: str, progress: Progress | None) -> None:
        self.measured, self.based_on, self.progress = measured, based_on, progress
        self.base = all_values(rules)
        self.runs = Runs(measured, rules)
        self.found: dict[tuple[tuple[str, Value], ...], Explained] = {}
        self.nodes = 0
        self.complete = True
        self.seen: set[tuple[tuple[str, Value], ...]] = set()
        self.one_of_a_kind = False  # of the values of a name that leave the same broken, only the closest is taken
        self.alters: list[set[str]] = [set() for _ in measured]

    def result(self) -> Fitted:
        stopped = False
        try:
            self._learn()
            for depth in range(MOST_CHANGES + 1):
                for self.one_of_a_kind in (True, False):
                    self.nodes, self.seen = 0, set()
                    self._deeper({}, depth)
                self.complete = self.complete and self.nodes < MOST_NODES
                if self.found:
                    break
        except (_Stopped, KeyboardInterrupt):
            stopped = True
        complete = self.complete
        explained = self._closest()
        undecided = tuple(sorted(set(self.base) - set().union(*self.alters)))
        following = None if stopped else self._next(explained)
        return Fitted(
            self.based_on, len(self.measured), tuple(explained), undecided, following, self.runs.done, complete, stopped
        )

    def _learn(self) -> None:
        """Which values alter the run of which circuit, changed alone."""
        for circuit, one in enumerate(self.measured):
            self._tell(f"trying single changes on {one.name}")
            trials = [{name: value} for name, own in self.base.items() for value in extremes(name, own)]
            trials = [one for one in trials if _may_be(self.runs, one)]
            own = self.runs.judged(circuit, {})
            for trial, judged in zip(trials, self.runs.judged_each(circuit, trials), strict=True):
                if judged.trace != own.trace:
                    self.alters[circuit] |= set(trial)
            self.runs.alters[circuit] = self.alters[circuit]

    def _deeper(self, changes: dict[str, Value], depth: int) -> None:
        key = tuple(sorted(changes.items()))
        if key in self.seen or self.nodes >= MOST_NODES or len(self.found) >= 10 * MOST_EXPLAINED:
            return
        self.seen.add(key)
        self.nodes += 1
        self._tell(
            f"{self.nodes:,} rule sets with up to {len(changes) + depth} changes looked at, {len(self.found)} fit"
        )
        judged = self._together(changes)
        if not any(one.broken for one in judged):
            if self._holds_whole(changes):
                self.found[key] = Explained(dict(key), sum(one.off_steps for one in judged), {})
            return
        if depth:
            for step in self._mending(changes, judged, depth):
                self._deeper({**changes, **step}, depth - len(step))

    def _together(self, changes: Mapping[str, Value]) -> list[Judged]:
        """What each circuit breaks; where few do, these are run with all changes, to learn which alter them together.

        A value that alone alters nothing there, such as a lamp's off delay where too short a pulse comes to the lamp,
        may alter the run once another value has changed.
        """
        judged = [self.runs.judged(circuit, changes) for circuit in range(len(self.measured))]
        broken = [circuit for circuit, one in enumerate(judged) if one.broken]
        for circuit in broken if len(changes) > 1 and len(broken) <= MOST_AGAIN else ():
            if not changes.keys() <= self.alters[circuit] and self.runs.is_altered(circuit, changes):
                self.alters[circuit] |= set(changes)
                judged[circuit] = self.runs.judged(circuit, changes)
        return judged

    def _holds_whole(self, changes: dict[str, Value]) -> bool:
        """Whether all circuits give what was seen, values that alone alter nothing counted in."""
        right = True
        for circuit in range(len(self.measured)):
            fresh = Runs([self.measured[circuit]], self.runs.rules)
            if fresh.judged(0, changes).broken:
                right = False
                self.alters[circuit] |= set(changes)
        return right

    def _mending(self, changes: dict[str, Value], judged: Sequence[Judged], depth: int) -> list[dict[str, Value]]:
        """The changes that mend what the fewest do; those first that mend most of all.

        What is broken there may also need two changes, of which none mends it alone: with changes left, those that
        alter that circuit and mend most elsewhere are tried as well. Where no single one mends anything, two at once.
        """
        of_unit: dict[Unit, list[tuple[str, Value]]] = {}
        mends: dict[tuple[str, Value], int] = {}
        leaves: dict[tuple[str, Value], list[tuple[int, frozenset[Any]]]] = {}
        off_steps: dict[tuple[str, Value], int] = {}
        for circuit, one in enumerate(judged):
            if not one.broken:
                continue
            trials = list(self._trials(circuit, changes))
            results = self.runs.judged_each(circuit, [{**changes, **trial} for trial in trials])
            for trial, after in zip(trials, results, strict=True):
                (change,) = trial.items()
                leaves.setdefault(change, []).append((circuit, frozenset(after.broken)))
                off_steps[change] = off_steps.get(change, 0) + after.off_steps
                for claim, edge in one.broken - after.broken if (-1, -1) not in after.broken else ():
                    of_unit.setdefault((circuit, claim, edge), []).append(change)
                    mends[change] = mends.get(change, 0) + 1
        if not of_unit:
            return list(self._pairs(changes, judged)) if depth > 1 else []
        unit = min(of_unit, key=lambda one: (len(of_unit[one]), one))
        order = sorted(of_unit[unit], key=lambda change: -mends[change])
        near = [change for change in mends if change[0] in self.alters[unit[0]] and change not in order]
        near.sort(key=lambda change: -mends[change])
        if self.one_of_a_kind:
            closest: dict[object, tuple[str, Value]] = {}
            for change in sorted(mends, key=lambda change: off_steps[change]):
                closest.setdefault((change[0], tuple(leaves[change])), change)
            kept = set(closest.values())
            order, near = [one for one in order if one in kept], [one for one in near if one in kept]
        if depth > 1:
            order += near[:MOST_NEAR]
        return [dict([change]) for change in order]

    def _trials(self, circuit: int, changes: Mapping[str, Value]) -> Iterator[dict[str, Value]]:
        for name in sorted(self.alters[circuit] - set(changes)):
            for value in others(name, self.base[name]):
                if _may_be(self.runs, {**changes, name: value}):
                    yield {name: value}

    def _pairs(self, changes: dict[str, Value], judged: Sequence[Judged]) -> Iterator[dict[str, Value]]:
        """Two changes at once that together mend something on the circuit with the fewest values that alter it."""
        broken = [circuit for circuit, one in enumerate(judged) if one.broken]
        circuit = min(broken, key=lambda number: len(self.alters[number]))
        names = sorted(self.alters[circuit] - set(changes))
        for first in names:
            for second in names:
                if first >= second:
                    continue
                trials = [
                    {first: a, second: b}
                    for a in others(first, self.base[first])[:MOST_PAIRED]
                    for b in others(second, self.base[second])[:MOST_PAIRED]
                ]
                trials = [one for one in trials if _may_be(self.runs, {**changes, **one})]
                results = self.runs.judged_each(circuit, [{**changes, **one} for one in trials])
                for trial, after in zip(trials, results, strict=True):
                    if len(after.broken) < len(judged[circuit].broken) and (-1, -1) not in after.broken:
                        yield trial

    def _closest(self) -> list[Explained]:
        """One explanation for each set of values, that which is closest to what was seen, with what else will do."""
        by_names: dict[tuple[str, ...], list[Explained]] = {}
        for one in self.found.values():
            by_names.setdefault(tuple(one.changes), []).append(one)
        kept = []
        for some in by_names.values():
            best = min(some, key=lambda one: (one.off_steps, tuple(map(str, one.changes.values()))))
            kept.append(best._replace(as_well={name: self._as_well(best, name) for name in best.changes}))
        kept.sort(key=lambda one: (one.off_steps, tuple(one.changes)))
        return kept[:MOST_EXPLAINED]

    def _as_well(self, best: Explained, name: str) -> list[Value]:
        """The other values that will do as well, all else being as it is."""
        found = []
        for value in others(name, self.base[name]):
            changes = {**best.changes, name: value}
            if value != best.changes[name] and _may_be(self.runs, changes):
                circuits = range(len(self.measured))
                if not any(self.runs.judged(circuit, changes).broken for circuit in circuits):
                    found.append(value)
        return sorted(found, key=lambda value: (str(type(value)), value))

    def _next(self, explained: Sequence[Explained]) -> tuple[str, float] | None:
        """The circuit of the bench that tells the explanations best apart."""
        sets = [dict(one.changes) for one in explained]
        for one in explained:
            sets += [{**one.changes, name: value} for name, some in one.as_well.items() for value in some[:6]]
        if len(sets) < 2:
            return None
        told: dict[str, float] = {}
        for name in bench_names():
            self._tell(f"looking which circuit tells them apart: {name}")
            runs = Runs([bench_measured(name)], self.runs.rules)
            groups: dict[object, int] = {}
            for judged in runs.judged_each(0, sets):
                groups[judged.trace] = groups.get(judged.trace, 0) + 1
            told[name] = round(bits(list(groups.values())), 3)
        best = max(told, key=lambda name: told[name], default=None)
        return (best, told[best]) if best is not None and told[best] > 0 else None

    def _tell(self, what: str) -> None:
        if self.progress is not None and self.progress(what):
            raise _Stopped


def _may_be(runs: Runs, changes: Mapping[str, Value]) -> bool:
    """Whether there can be such a rule set: a stack must rest before it vanishes."""
    rest = changes.get("item.rest", runs.rules.item.rest)
    vanish = changes.get("item.vanish", runs.rules.item.vanish)
    return int(vanish) > int(rest)
