"""The ways out of the states of a machine: what may race, what leads to one state, and what cannot be built."""

from __future__ import annotations

from dataclasses import dataclass, field

from tickwright.charts.notation import Automaton, Claim, Transition
from tickwright.design.compose.dividing import reachable
from tickwright.design.compose.events import DEAF_STEPS, Literals, alternatives
from tickwright.design.compose.moments import steps_text
from tickwright.design.compose.network import Need
from tickwright.design.compose.refusing import refuse
from tickwright.design.compose.waiting import Way

SHORTEST_WAIT = 22
Event = tuple[str, str | int]  # ("rise", trigger), ("fall", trigger), ("after", steps)


@dataclass
class Slot:
    """One way out of a state: its events (any of them does), where to, and the levels that must not be on or off."""

    events: list[Event]
    to: str
    shut_by: Literals  # (trigger, True): shut while it is on
    text: str
    net: str = ""
    needs: list[Need] = field(default_factory=list)
    waits_at: tuple[str, str] = ("", "")  # the instance and port at which its wait ends
    waits_lead: tuple[Way, ...] = ()  # the way from there on to the group
    yields: bool = False  # in one step with the other it is not taken
    paired: bool = False  # beside another way, two events take it
    shut_lead: Way = ("", "", "")  # the way of what shuts both

    @property
    def waits(self) -> bool:
        """Whether nothing but the end of a wait takes this way."""
        return [kind for kind, _ in self.events] == ["after"]


@dataclass(frozen=True)
class Asking:
    """What a machine asks; `claim` is named where it cannot be built, `moving` says whether spans count its moves.

    `watched` is the act that it watches for, if the brief does not name the machine itself.
    """

    machine: Automaton
    claim: Claim
    moving: bool
    watched: str | None = None

    def check(self) -> None:
        """Refuse what cannot be built."""
        machine = self.machine
        claim = self.claim
        if machine.deaf_steps is not None and machine.deaf_steps != DEAF_STEPS:
            what = "more than" if machine.deaf_steps > DEAF_STEPS else "less than"
            asked, built = steps_text(machine.deaf_steps), steps_text(DEAF_STEPS)
            raise refuse(claim, f"deaf {asked} of {machine.name} is {what} what is built: {built}")
        first = machine.states[0]
        for one in machine.transitions:
            told = f'{machine.name}: "{one.text or one.to}"'
            if one.after_steps is not None and (not one.states or first in one.states):
                raise refuse(claim, f"{told}: a wait in the first state would run before anybody has acted")
            if one.after_steps is not None and one.condition is not None:
                raise refuse(claim, f"{told}: a wait that goes on until a condition holds is not composed")
            if one.after_steps is not None and (one.after_steps < SHORTEST_WAIT or one.after_steps % 2):
                least = f"whole ticks from {steps_text(SHORTEST_WAIT)} on"
                raise refuse(claim, f"{told}: a wait takes {least}, not {steps_text(one.after_steps)}")
            if one.ordinal is not None:
                raise refuse(claim, f"{told}: ordinals are not composed: let the machine count in its states")
            if one.event is not None and one.event.kind != "trigger":
                raise refuse(claim, f"{told}: {one.event} as an event is not composed: name a trigger or after")
            if alternatives(one.condition) is None:
                raise refuse(claim, f"{told}: conditions are composed of triggers that are on or off")

    def slots(self) -> dict[str, list[Slot]]:
        """Of each state that can be reached the ways out of it."""
        machine = self.machine
        found: dict[str, list[Slot]] = {}
        for state in reachable(machine):
            ways: list[Slot] = []
            done: dict[Event, list[Literals]] = {}
            for one in machine.transitions:
                if one.states and state not in one.states:
                    continue
                self._slot(state, one, ways, done)
            if all(way.to == state for way in ways) and not self.moving:
                ways = []
            waits = any(event[0] == "after" for way in ways for event in way.events)
            if waits and any(way.to == state for way in ways):
                raise refuse(self.claim, f"{machine.name}: a wait in {state} begun anew is not composed")
            found[state] = self._joined(state, ways)
            for way in found[state]:
                way.paired = len(found[state]) == 2 and len(way.events) == 2
        return found

    def _slot(self, state: str, one: Transition, ways: list[Slot], done: dict[Event, list[Literals]]) -> None:
        event = _event(one)
        before = done.setdefault(event, [])
        if () in before:
            return  # an earlier one is always taken
        if any(len(part) > 1 for part in before):
            why = f"{self._where(state)}: what comes after a condition of several parts is not composed"
            raise refuse(self.claim, why)
        wanted = alternatives(one.condition)
        assert wanted is not None
        for part in wanted:
            shut = [(name, not on) for name, on in part]
            shut += [before_it for (before_it,) in before if (before_it[0], not before_it[1]) not in part]
            ways.append(Slot([event], one.to, tuple(dict.fromkeys(shut)), f"{self.machine.name} {state}"))
        before += wanted

    def _where(self, state: str) -> str:
        return f'"{self.watched}" is waited for' if self.watched else f"{self.machine.name} is {state}"

    def _joined(self, state: str, ways: list[Slot]) -> list[Slot]:
        """At most two slots: events that lead to one state are joined if there are more, or if all lead there."""
        kept: list[Slot] = []
        for way in ways:
            same = [
                one for one in kept
                if one.to == way.to and not one.shut_by and not way.shut_by
                and sum(event[0] == "after" for event in (*one.events, *way.events)) <= 1
            ]  # fmt: skip
            if same:
                same[0].events += way.events
            else:
                kept.append(way)
        if len(kept) > 1 and len(ways) <= 2:
            return ways
        if len(kept) > 2:
            why = f"{len(kept)} things may race where {self._where(state)}: at most two can be kept apart"
            raise refuse(self.claim, why)
        return kept


def _event(one: Transition) -> Event:
    if one.after_steps is not None:
        return ("after", one.after_steps)
    assert one.event is not None
    return ("fall" if one.event.what == "released" else "rise", one.event.name)
