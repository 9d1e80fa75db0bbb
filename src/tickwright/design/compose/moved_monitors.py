"""What a brief says of spans that count from the moves of machines, as monitors beside the circuit.

Each keeps all ways in which the machines may stand, with how long ago the events were that its spans count from.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from itertools import product
from typing import Any, NamedTuple

from tickwright.design.compose.dividing import heard_by
from tickwright.design.compose.lowering import Lowered
from tickwright.design.compose.machine_monitors import RACE, Stands, agreeing, machine_monitor
from tickwright.design.compose.moments import edges_of, released_name, worked_name
from tickwright.design.compose.monitors import Monitor, SpanMonitor, shown_spans, tolerance_of
from tickwright.design.compose.network import Network


class Way(NamedTuple):
    """One way in which all may stand: the machines, how long ago each event was, and which outputs are latched."""

    machines: tuple[Stands, ...]
    ages: tuple[tuple[int, ...], ...]
    latched: tuple[bool, ...]


class MovedMonitor:
    """Outputs whose spans count from moves of machines, and from acts of triggers."""

    cannot: str | None = None

    def __init__(self, low: Lowered, network: Network, outputs: Sequence[str]) -> None:
        self.low = low
        spans = tuple(shown_spans(low, name) for name in outputs)
        events = sorted({at.trigger for mine in spans for at in edges_of(mine)})
        self.keys = low.keys.moves
        used = {self.keys[event].machine for event in events if event in self.keys}
        machines = [one for one in low.brief.automata if one.name in used]
        acts = {worked_name(event) for event in events if event not in self.keys}
        heard = {*heard_by(machines, low.struck), *acts}
        self.triggers = tuple(name for name in low.brief.inputs if name in heard)
        self.machines = [machine_monitor(low, network, one, (), self.triggers) for one in machines]
        self.outputs = tuple(outputs)
        rests_on = tuple(name in low.wanted.rests_on for name in outputs)
        tolerance = tuple(tolerance_of(low, name) for name in outputs)
        self.shows = SpanMonitor(self.outputs, self.triggers, tuple(events), spans, {}, rests_on, tolerance)
        self.bound = "; ".join(dict.fromkeys(one.bound for one in self.machines))
        stands = tuple(Stands(((one.cap, one.machine.states[0]),), False) for one in self.machines)
        first = Way(stands, tuple(() for _ in events), tuple(False for _ in outputs))
        self.start: Hashable = (frozenset([first]), tuple((False, RACE + 1) for _ in self.triggers))

    def step(self, state: Any, worked: tuple[str, ...], shown: Sequence[int]) -> tuple[Any, tuple[bool | None, ...]]:
        """One step on; nothing is judged once an act came in a step that a machine leaves open."""
        ways, levels = state
        count = len(self.outputs)
        if not ways:
            return state, tuple(None for _ in self.outputs)
        now, events = self.machines[0].heard(levels, worked, shown[count:])
        names = {name if what == "worked" else released_name(name) for name, what in events}
        after: dict[Way, tuple[bool | None, ...]] = {}
        for way in ways:
            for stands in self._moves(way, events, now):
                if stands is None:
                    return (frozenset(), now), tuple(None for _ in self.outputs)
                one, wanted = self._shown(way, stands, names, shown)
                after[one] = wanted
        lit = tuple(bool(level) for level in shown[:count])
        kept, judged = agreeing(after, lit)
        return (kept, now), judged

    def is_over(self, state: Any) -> bool:
        """Whether nothing is judged in this state, nor ever after."""
        return not state[0]

    def _moves(
        self, way: Way, events: Sequence[tuple[str, str]], now: Sequence[tuple[bool, int]]
    ) -> Iterator[tuple[Stands, ...] | None]:
        each = [list(one.moves(stands, events, now)) for one, stands in zip(self.machines, way.machines, strict=True)]
        for stands in product(*each):
            known = [one for one in stands if one is not None]
            yield tuple(known) if len(known) == len(stands) else None

    def _shown(
        self, way: Way, stands: tuple[Stands, ...], acts: set[str], shown: Sequence[int]
    ) -> tuple[Way, tuple[bool | None, ...]]:
        moved = {
            one.machine.name: (before.entries[0][1], after.entries[0][1])
            for one, before, after in zip(self.machines, way.machines, stands, strict=True)
            if after.entries[0][0] == 0
        }
        ages: list[tuple[int, ...]] = []
        for name, old in zip(self.shows.events, way.ages, strict=True):
            mine = tuple(age + 1 for age in old if age + 1 <= self.shows.horizon[name])
            meant = self.keys.get(name)
            comes = name in acts if meant is None else moved.get(meant.machine) in meant.pairs
            ages.append((*mine, 0) if comes else mine)
        by_name = dict(zip(self.shows.events, ages, strict=True))
        wanted: list[bool | None] = []
        latched: list[bool] = []
        for place, rests_on in enumerate(self.shows.rests_on):
            away = bool(shown[place]) != rests_on
            on, unsure, latch = self.shows.wants(place, by_name, way.latched[place], away)
            latched.append(latch)
            wanted.append(None if unsure else on != rests_on)
        return Way(stands, tuple(ages), tuple(latched)), tuple(wanted)


def moved_monitors(low: Lowered, network: Network) -> list[Monitor]:
    """The monitors of outputs whose spans count from moves: one for all that count from the same machines."""
    groups: dict[frozenset[str], list[str]] = {}
    for name, spans in low.wanted.spans.items():
        events = {at.trigger for at in edges_of(spans)}
        if events & set(low.keys.moves):
            used = frozenset(low.keys.moves[one].machine if one in low.keys.moves else one for one in events)
            groups.setdefault(used, []).append(name)
    return [MovedMonitor(low, network, outputs) for outputs in groups.values()]
