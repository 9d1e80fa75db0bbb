"""What a brief says of outputs that follow machines, as monitors beside the circuit; written from the transitions.

Of acts of several triggers in one step any may be the one that a machine takes, so a monitor keeps all ways in which
the machine may stand. Of an act and a wait that ends in its step the one listed first is taken, if the network says
that it orders the two; otherwise either may be. What follows an act is not judged if the act comes in the one step
before the machine listens again, or within 0.2 s after a level changed that its condition looks at: it may count a step
late.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

from tickwright.charts.notation import Automaton, Both, Condition, Either, Has, Not, Transition, condition_atoms
from tickwright.design.compose.dividing import Follows, heard_by
from tickwright.design.compose.lowering import Lowered
from tickwright.design.compose.monitors import DOOR_OFF, LAMP_OFF, Monitor
from tickwright.design.compose.network import Network

Kept = TypeVar("Kept", bound=Hashable)
RACE = 4  # steps in which acts of different triggers may be taken in either order


class Stands(NamedTuple):
    """How a machine may stand: its entries that matter yet as (steps ago, state), the last first."""

    entries: tuple[tuple[int, str], ...]
    moved: bool  # whether it ever took a transition


def agreeing(
    wanted: Mapping[Kept, tuple[bool | None, ...]], lit: tuple[bool, ...]
) -> tuple[frozenset[Kept], tuple[bool | None, ...]]:
    """The ways that want what the outputs show, and what they show; if there is none, all and what the first wants."""
    kept = frozenset(
        one for one, wants in wanted.items()
        if all(want is None or want == seen for want, seen in zip(wants, lit, strict=True))
    )  # fmt: skip
    return (kept, lit) if kept else (frozenset(wanted), next(iter(wanted.values())))


@dataclass
class MachineMonitor:
    """The outputs that follow one machine."""

    machine: Automaton
    follows: tuple[Follows, ...]
    doors: tuple[bool, ...]
    triggers: tuple[str, ...]
    deaf: int
    bound: str
    ordered: dict[str, bool]  # states in which an act is taken, and not a wait that ends in its step; or the reverse
    cannot: str | None = None
    start: Hashable = ()

    def __post_init__(self) -> None:
        self.outputs = tuple(one.output for one in self.follows)
        self.horizon = max((one.late_steps for one in self.follows), default=-4) + 4
        self.horizon += max((one.claim.give_or_take_steps for one in self.follows), default=0)
        waits = [one.after_steps or 0 for one in self.machine.transitions]
        self.cap = max(self.horizon, self.deaf, *waits) + 1
        looked = {atom.name for one in self.machine.transitions for atom in condition_atoms(one.condition)}
        self.looked = tuple(name in looked for name in self.triggers)
        first = Stands(((self.cap, self.machine.states[0]),), False)
        quiet = tuple((False, RACE + 1) for _ in self.triggers)
        self.start = (frozenset([first]), quiet)

    def step(
        self, state: Any, worked: tuple[str, ...], shown: Sequence[int]
    ) -> tuple[Hashable, tuple[bool | None, ...]]:
        """One step on; nothing is judged after an act in the one step before the machine listens again."""
        stands, levels = state
        if not stands:
            return state, tuple(None for _ in self.outputs)
        now, events = self.heard(levels, worked, shown[len(self.outputs) :])
        after: dict[Stands, tuple[bool | None, ...]] = {}
        for one in stands:
            for following in self.moves(one, events, now):
                if following is None:
                    return (frozenset(), now), tuple(None for _ in self.outputs)
                after[following] = self._wanted(following)
        lit = tuple(bool(shown[place]) for place in range(len(self.outputs)))
        kept, wanted = agreeing(after, lit)
        return (kept, now), wanted

    def is_over(self, state: Any) -> bool:
        """Whether nothing is judged in this state, nor ever after."""
        return not state[0]

    def heard(
        self, levels: Sequence[tuple[bool, int]], worked: tuple[str, ...], shown: Sequence[int]
    ) -> tuple[tuple[tuple[bool, int], ...], list[tuple[str, str]]]:
        """The triggers' levels with how long they have been so, and what was worked or let go in this step."""
        here = [bool(level) for level in shown[: len(self.triggers)]]
        now = tuple(
            (level, 0 if level != old else min(since + 1, RACE + 1))
            for level, (old, since) in zip(here, levels, strict=True)
        )
        fallen = [name for name, level, (old, _) in zip(self.triggers, here, levels, strict=True) if old and not level]
        return now, [*((name, "worked") for name in worked), *((name, "released") for name in fallen)]

    def moves(
        self, one: Stands, events: Sequence[tuple[str, str]], levels: Sequence[tuple[bool, int]]
    ) -> Iterator[Stands | None]:
        """How it may stand after this step; None where an act comes in the one step that is left open."""
        age, state = one.entries[0]
        age += 1
        aged = tuple((min(steps + 1, self.cap), name) for steps, name in one.entries)
        lost = one.moved and 0 < age < self.deaf
        found: list[Transition] = []
        for transition in self.machine.transitions:
            if transition.states and state not in transition.states:
                continue
            if transition.after_steps is not None:
                falls = age == transition.after_steps and one.moved
            else:
                event = transition.event
                assert event is not None
                falls = (event.name, event.what) in events
                if falls and lost:
                    if age == self.deaf - 1:
                        yield None
                        return
                    falls = False
            if not falls:
                continue
            if any(levels[self.triggers.index(atom.name)][1] <= RACE for atom in condition_atoms(transition.condition)):
                yield None
                return
            if self._holds(transition.condition, levels):
                found.append(transition)
        for transition in self._may(found, self.ordered.get(state)):
            entries = ((0, transition.to), *aged)
            yield Stands(self._kept(entries), True)
        if not found:
            yield Stands(self._kept(aged), one.moved)

    def _may(self, found: Sequence[Transition], acts_first: bool | None) -> list[Transition]:
        """Of each event that falls now, the first listed transition; of acts or waits alone where these go first."""
        first = [one for one in found if (one.after_steps is None) == acts_first]
        by_event = {(one.event, one.after_steps): one for one in reversed(first or found)}
        return list(by_event.values())

    def _kept(self, entries: tuple[tuple[int, str], ...]) -> tuple[tuple[int, str], ...]:
        for place, (steps, _) in enumerate(entries):
            if steps >= self.horizon:
                return entries[: place + 1]
        return entries

    def _holds(self, condition: Condition | None, levels: Sequence[tuple[bool, int]]) -> bool:
        """Whether a condition that looks at triggers holds."""
        if condition is None:
            return True
        if isinstance(condition, Has):
            return levels[self.triggers.index(condition.name)][0] == condition.on
        if isinstance(condition, Both):
            return all(self._holds(part, levels) for part in condition.parts)
        if isinstance(condition, Either):
            return any(self._holds(part, levels) for part in condition.parts)
        assert isinstance(condition, Not)
        return not self._holds(condition.inner, levels)

    def _wanted(self, one: Stands) -> tuple[bool | None, ...]:
        return tuple(self._shows(one, place) for place in range(len(self.outputs)))

    def _shows(self, one: Stands, place: int) -> bool | None:
        """Whether an output is on (a door: as a lamp in its piston's place shows it); None if not judged."""
        follows, door = self.follows[place], self.doors[place]
        late, give = follows.late_steps, follows.claim.give_or_take_steps

        def on(steps: int) -> bool:
            linger = LAMP_OFF - DOOR_OFF if door else 0
            return any(self._state(one, steps + more) in follows.states for more in range(linger + 1))

        value = on(late)
        if give and any(on(late + off) != value for off in range(-min(give, late), give + 1)):
            return None
        return value

    def _state(self, one: Stands, ago: int) -> str:
        for steps, state in one.entries:
            if steps >= ago:
                return state
        return one.entries[-1][1]


def machine_monitors(low: Lowered, network: Network) -> list[Monitor]:
    """A monitor for each machine that an output follows."""
    found: list[Monitor] = []
    for machine in low.brief.automata:
        mine = tuple(one for one in low.follows if one.machine == machine.name)
        if mine:
            found.append(machine_monitor(low, network, machine, mine, heard_by([machine], low.struck)))
    return found


def machine_monitor(
    low: Lowered, network: Network, machine: Automaton, mine: tuple[Follows, ...], triggers: tuple[str, ...]
) -> MachineMonitor:
    """The monitor of a machine and of outputs that follow it, if any."""
    deaf = network.deaf[machine.name]
    looks = any(one.condition is not None for one in machine.transitions)
    open_to = ", or within 0.2 s after its condition changed" if looks else ""
    ordered = {state: acts for (name, state), acts in network.ordered.items() if name == machine.name}
    told = (
        f"any number of acts of {' and '.join(triggers)}, but for one exactly {deaf - 1} steps after a transition"
        f"{open_to}{_ties(machine, ordered, len(triggers) > 1)}"
    )
    doors = tuple(low.is_door(one.output) for one in mine)
    return MachineMonitor(machine, mine, doors, triggers, deaf, told, ordered)


def _ties(machine: Automaton, ordered: dict[str, bool], several: bool) -> str:
    """What the proof says of things that come in one step."""
    told = "; of acts in one step any may be taken" if several else ""
    if True in ordered.values():
        told += "; an act in the step in which a wait ends is taken, not the wait"
    if waits := sorted(state for state, acts in ordered.items() if not acts):
        told += f"; in {' and '.join(waits)} the wait is taken, not an act in the step in which it ends"
    if left := sorted(state for state in machine.states if state not in ordered and _may_tie(machine, state)):
        told += f"; in {' and '.join(left)} either may be, the act or the wait, if the act comes in the step of its end"
    return told


def _may_tie(machine: Automaton, state: str) -> bool:
    """Whether an act and the end of a wait lead to different states from here."""
    ways = [one for one in machine.transitions if not one.states or state in one.states]
    waits = {one.to for one in ways if one.after_steps is not None}
    return any(one.after_steps is None and waits - {one.to} for one in ways)
