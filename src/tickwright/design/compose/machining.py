"""From state machines to a network: strikers, a group and a flag for each state, waits, and the outputs' memories.

Steps count from the event that moves a machine. Events come to a group `lag` steps later, and its output is on from
`lag` + 2 on. Flags change 10 steps after `lag`, and DEAF steps after the event the groups are open for the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tickwright.charts.notation import Automaton, Claim, Transition, names_in
from tickwright.design.compose.brief import Brief, End
from tickwright.design.compose.dividing import Follows, followers, literals, machine_triggers, reachable
from tickwright.design.compose.machine_tiles import (
    HELD,
    MOST_QUICK,
    STRUCK,
    drop,
    group,
    inverter,
    keeper,
    rings_for,
    rings_steps,
    striker,
)
from tickwright.design.compose.moments import steps_text
from tickwright.design.compose.network import Need, Network, Program, Tap
from tickwright.design.compose.refusing import refuse
from tickwright.design.compose.spanning import add_end, column_length, drives_of, tap_needs
from tickwright.design.compose.tiles import FALLEN, joint, pad
from tickwright.design.compose.waiting import ROUTE, SPARE, Way, add_rings
from tickwright.design.compose.wholes import shift_of

DEAF = HELD
LAGS = (6, 4)  # how late events may come to their groups
OUT = 2  # from a group's event to its output
FLAG = 10  # from `lag` on: when flags change
OPEN = DEAF  # from `lag` on: when groups are open again
MOST_HURRIED = 2  # ways from one group that may be without time to spare
JOINED = 4  # steps to where the flags of several states are made one
MOST_SETS = 4
MOST_JOINED = 6
SHORTEST_WAIT = 22
FILLED_IN = 20  # steps that the shortest absence from a state fills a ring
WAIT_LOST = FLAG + 2 + FALLEN + 2  # of a wait: to the flag's end, from the ring's end, through the group's column
LEAST_COLUMN = 2
GAP = 2  # cells between tiles: more nets than with spans
ONE_COLUMN = 8  # steps that one repeater can take

Event = tuple[str, str | int]  # ("rise", trigger), ("fall", trigger), ("after", steps)


@dataclass
class Slot:
    """One way out of a state: its events (any of them does), where to, and the levels that must not be on or off."""

    events: list[Event]
    to: str
    shut_by: tuple[tuple[str, bool], ...]  # (trigger, True): shut while it is on
    text: str
    net: str = ""
    needs: list[Need] = field(default_factory=list)
    waits_at: tuple[str, str] = ("", "")  # the instance and port at which its wait ends
    waits_lead: tuple[Way, ...] = ()  # the way from there on to the group
    yields: bool = False  # in one step with an act it is not taken


def machine_network(brief: Brief, network: Network) -> None:
    """Add all machines of a brief, and the outputs that follow them, to a network; raises Refusal."""
    if brief.automata:
        _Machining(brief, network).build()


class _Machining:
    def __init__(self, brief: Brief, network: Network) -> None:
        self.brief, self.network = brief, network
        self.follows = followers(brief)
        self.slots: dict[str, dict[str, list[Slot]]] = {}
        self.levels: dict[Event, str] = {}  # nets of levels
        self.programs: dict[str, Program] = {}

    def build(self) -> None:
        """All of it."""
        self.network.gap = GAP
        for machine in self.brief.automata:
            self._check(machine)
            self.slots[machine.name] = self._slots(machine)
        self.lag = self._lag()
        self._strikers()
        for machine in self.brief.automata:
            self._groups(machine)
        for machine in self.brief.automata:
            self._flags(machine)
            self.network.deaf[machine.name] = machine.deaf_steps or DEAF
        for one in self.follows:
            self._output(one)
        for slots in self.slots.values():
            for slot in (one for ways in slots.values() for one in ways):
                self._program(slot)
        self.network.programs += self.programs.values()

    # --- what is asked ----------------------------------------------------------------------------------------------

    def _claim(self, machine: str) -> Claim:
        return next((one for one in self.brief.claims if machine in names_in(one)), self.brief.claims[0])

    def _check(self, machine: Automaton) -> None:
        claim = self._claim(machine.name)
        if machine.deaf_steps is not None and machine.deaf_steps != DEAF:
            what = "more than" if machine.deaf_steps > DEAF else "less than"
            why = f"deaf {steps_text(machine.deaf_steps)} of {machine.name} is {what} what is built: {steps_text(DEAF)}"
            raise refuse(claim, why)
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
            if literals(one.condition) is None:
                raise refuse(claim, f"{told}: conditions are composed of triggers that are on or off, joined by and")

    def _slots(self, machine: Automaton) -> dict[str, list[Slot]]:
        found: dict[str, list[Slot]] = {}
        for state in reachable(machine):
            ways: list[Slot] = []
            done: dict[Event, tuple[tuple[str, bool], ...]] = {}
            for one in machine.transitions:
                if one.states and state not in one.states:
                    continue
                self._slot(machine, state, one, ways, done)
            if all(way.to == state for way in ways):
                ways = []
            waits = any(event[0] == "after" for way in ways for event in way.events)
            if waits and any(way.to == state for way in ways):
                raise refuse(self._claim(machine.name), f"{machine.name}: a wait in {state} begun anew is not composed")
            found[state] = self._joined(machine, state, ways)
        return found

    def _slot(
        self, machine: Automaton, state: str, one: Transition, ways: list[Slot],
        done: dict[Event, tuple[tuple[str, bool], ...]],
    ) -> None:  # fmt: skip
        wanted = literals(one.condition)
        assert wanted is not None
        event = _event(one)
        before = done.get(event)
        if before == ():
            return  # an earlier one is always taken
        shut = [(name, not on) for name, on in wanted]
        if before is not None:
            if len(before) > 1:
                why = f"{machine.name} is {state}: what comes after a condition of several parts is not composed"
                raise refuse(self._claim(machine.name), why)
            if (before[0][0], not before[0][1]) not in wanted:
                shut += before
        done[event] = wanted
        ways.append(Slot([event], one.to, tuple(dict.fromkeys(shut)), f"{machine.name} {state}"))

    def _joined(self, machine: Automaton, state: str, ways: list[Slot]) -> list[Slot]:
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
            why = f"{len(kept)} things may race in {machine.name} is {state}: at most two can be kept apart"
            raise refuse(self._claim(machine.name), why)
        return kept

    def _lag(self) -> int:
        """The latest lag that leaves outputs time; raises Refusal where none does."""
        every = [ways for slots in self.slots.values() for ways in slots.values()]
        joined = any(len(slot.events) > 1 for ways in every if len(ways) > 1 for slot in ways)
        for lag in LAGS:
            least = lag + OUT + LEAST_COLUMN
            if all(self._soonest(one) >= least for one in self.follows) and not self._hurried(lag, least):
                return lag
        last = LAGS[0] if joined else LAGS[-1]
        for one in self.follows:
            missing = last + OUT + LEAST_COLUMN - self._soonest(one)
            if missing > 0:
                late = one.late_steps + missing
                head = one.claim.text.partition(", late by ")[0]
                instead = f"{head}, late by {steps_text(late)}"
                if one.claim.give_or_take_steps:
                    instead += f", give or take {one.claim.give_or_take_steps} steps"
                why = f"{one.output} follows {one.machine} by {steps_text(late)} at the soonest"
                raise refuse(one.claim, why, instead, missing)
        return last

    def _hurried(self, lag: int, least: int) -> bool:
        """Whether with this lag too many ways to outputs would have no time to spare.

        That is, more from one slot than MOST_HURRIED; or some from a group of two, and in all more than the ways of
        events that the shorter lag would leave without.
        """
        if lag == LAGS[-1]:
            return False
        groups = [ways for slots in self.slots.values() for ways in slots.values()]
        hurried = [slot for one in self.follows for slot in self._ends(one)[2] if self._soonest(one) < least + 2]
        if any(hurried.count(slot) > MOST_HURRIED for ways in groups for slot in ways):
            return True
        events = sum(len(slot.events) for ways in groups if len(ways) > 1 for slot in ways)
        return len(hurried) > events and any(slot in hurried for ways in groups if len(ways) > 1 for slot in ways)

    def _soonest(self, one: Follows) -> int:
        """The first step in which a pulse must leave a column of an output's memory."""
        shift, sets, resets = self._ends(one)
        late = 2 if len(resets) <= MOST_QUICK else 4
        steps = one.late_steps + one.claim.give_or_take_steps // 2 * 2
        begins = [steps - shift[0] - 2] if sets else []
        return min([*begins, *([steps - shift[1] - late] if resets else [])], default=99)

    def _ends(self, one: Follows) -> tuple[tuple[int, int], list[Slot], list[Slot]]:
        """How much later than its memory it shows on and off, and the slots that set and reset that."""
        machine = next(m for m in self.brief.automata if m.name == one.machine)
        rests_on = machine.states[0] in one.states
        shift = shift_of(self.brief.outputs[one.output].part, rests_on)
        away = {state for state in machine.states if (state in one.states) != rests_on}
        ways = [(state, slot) for state, slots in self.slots[one.machine].items() for slot in slots]
        sets = [slot for state, slot in ways if state not in away and slot.to in away]
        resets = [slot for state, slot in ways if state in away and slot.to not in away]
        return (shift.begin, shift.end), sets, resets

    # --- tiles ------------------------------------------------------------------------------------------------------

    def _strikers(self) -> None:
        ways = [slot for slots in self.slots.values() for one in slots.values() for slot in one]
        events = {event for slot in ways for event in slot.events}
        looked = {name for slot in ways for name, _ in slot.shut_by}
        for trigger in machine_triggers(self.brief):
            end = self.brief.inputs[trigger]
            rises, falls = ("rise", trigger) in events, ("fall", trigger) in events
            name = f"{trigger}-striker"
            level = trigger in looked or not (rises or falls)
            add_end(self.network, name, striker(name, end.part, rises, falls, level), end, "trigger")
            self.network.triggers[trigger] = (name, "trigger")

    def _base(self, net: str, step: int) -> Program:
        """The program of a net whose pulses or changes come in `step`."""
        if net not in self.programs:
            self.programs[net] = Program(net, net, [Tap(net, step, None)], {net: []})
        return self.programs[net]

    def _need(self, net: str, step: int, need: Need) -> None:
        """Let a net that changes in `step` reach an input when it must."""
        column = len(self.network.made[need.instance].columns[need.port])
        most = need.leave - 4 * len(need.lead) - step - 2 * column
        self.network.connect(net, need.instance, need.port, max(0, most // 2 * 2))
        self._base(net, step).needs[net].append(need)

    def _level(self, trigger: str, on: bool) -> tuple[str, int]:
        """The net that is on while a trigger is on (or, not `on`, off) and how many steps later."""
        net = self.network.net(f"{trigger}-striker", "level")
        if on:
            return net, 0
        name = f"{trigger}-not"
        if name not in self.network.made:
            self.network.add(name, inverter(name, 1))
            self._need(net, 0, Need(name, "in", LEAST_COLUMN))
        return self.network.net(name, "out"), LEAST_COLUMN + 2

    def _groups(self, machine: Automaton) -> None:
        for state, ways in self.slots[machine.name].items():
            if not ways:
                continue
            name = f"{machine.name}-{state}"
            length = len(ways)
            others = len(self.slots[machine.name]) - 1
            changes = FLAG + 2 if state != machine.states[0] else FLAG if others != 2 else FLAG + JOINED
            room = OPEN - changes - _shutters(length)[0][1]
            gates = [bool(way.shut_by) for way in ways]
            events = len(ways[0].events) if length == 1 else 1
            yields = _yielding(machine, state, ways)
            if yields is not None:
                self.network.ordered.add((machine.name, state))
                ways[yields].yields = True
            self.network.add(name, group(name, gates, length, 1 if room <= ONE_COLUMN else 2, events, yields))
            for place, way in enumerate(ways):
                way.net = self.network.net(name, f"o{place}")
                self._events(name, place, way, length)
                self._gate(name, place, way, length)

    def _events(self, name: str, place: int, way: Slot, length: int) -> None:
        port = f"e{place}"
        if length == 1 or len(way.events) == 1:
            for number, (kind, what) in enumerate(way.events):
                here = port if len(way.events) == 1 else f"{port}-{number}"
                if kind == "after":
                    way.waits_at = (name, here)
                    continue
                net = self.network.net(f"{what}-striker", kind)
                self._need(net, STRUCK, Need(name, here, self.lag))
            return
        made = joint(f"{name}-any{place}", [1] * len(way.events))
        self.network.add(made.tile.name, made)
        lead = self.network.connect(self.network.net(made.tile.name, "out"), name, port, 0)
        for number, (kind, what) in enumerate(way.events):
            if kind == "after":
                way.waits_at, way.waits_lead = (made.tile.name, f"in{number}"), (lead,)
                continue
            net = self.network.net(f"{what}-striker", kind)
            self._need(net, STRUCK, Need(made.tile.name, f"in{number}", self.lag - LEAST_COLUMN, (lead,)))

    def _gate(self, name: str, place: int, way: Slot, length: int) -> None:
        """Levels that shut an event out must be there when the event is: up to 2 steps late, 0.2 s are allowed."""
        if not way.shut_by:
            return
        port, at = f"g{place}", self.lag + OUT + 2
        if len(way.shut_by) == 1:
            net, late = self._level(*way.shut_by[0])
            self._need(net, late, Need(name, port, at))
            return
        made = joint(f"{name}-gate{place}", [1] * len(way.shut_by))
        self.network.add(made.tile.name, made)
        lead = self.network.connect(self.network.net(made.tile.name, "out"), name, port, 2)
        for number, one in enumerate(way.shut_by):
            net, late = self._level(*one)
            self._need(net, late, Need(made.tile.name, f"in{number}", at - 2 * length, (lead,)))

    def _flags(self, machine: Automaton) -> None:
        network, slots = self.network, self.slots[machine.name]
        first, *others = slots
        outs = []
        for state in others:
            sets = [way for before, ways in slots.items() for way in ways if way.to == state and before != state]
            resets = [way for way in slots[state] if way.to != state]
            if len(sets) > MOST_SETS:
                why = f"{machine.name}: {len(sets)} transitions enter {state}, at most {MOST_SETS} can"
                raise refuse(self._claim(machine.name), why)
            name = f"{machine.name}-{state}-flag"
            network.add(name, keeper(name, [1] * len(sets), [1] * len(resets), "flag"))
            at = self.lag + FLAG - 2
            for number, way in enumerate(sets):
                way.needs.append(Need(name, f"set{number}", at))
            for number, way in enumerate(resets):
                way.needs.append(Need(name, f"reset{number}", at))
            outs.append(network.net(name, "out"))
            if slots[state]:
                self._shut(f"{machine.name}-{state}", len(slots[state]), network.net(name, "not"), self.lag + FLAG + 2)
                for place, way in enumerate(slots[state]):
                    for kind, steps in way.events:
                        if kind == "after":
                            assert isinstance(steps, int)
                            self._wait(machine, state, place, way, network.net(name, "not"), steps)
        self._first(machine, first, outs)

    def _left(self, machine: Automaton, first: str) -> str | None:
        """A flag that is on while the machine is not in the first state; None if its sets would be too many."""
        slots = self.slots[machine.name]
        sets = [way for way in slots[first] if way.to != first]
        resets = [way for state, ways in slots.items() if state != first for way in ways if way.to == first]
        if len(sets) > MOST_SETS or not resets:
            return None
        name = f"{machine.name}-{first}-left"
        self.network.add(name, keeper(name, [1] * len(sets), [1] * len(resets)))
        for number, way in enumerate(sets):
            way.needs.append(Need(name, f"set{number}", self.lag + FLAG - 2))
        late = 2 if len(resets) <= MOST_QUICK else 4
        for number, way in enumerate(resets):
            way.needs.append(Need(name, f"reset{number}", self.lag + FLAG - late))
        return self.network.net(name, "out")

    def _first(self, machine: Automaton, first: str, outs: Sequence[str]) -> None:
        """The first state's group is shut while the machine is in any other."""
        ways = len(self.slots[machine.name][first])
        name = f"{machine.name}-{first}"
        if not ways or not outs:
            return
        if len(outs) == 1:
            self._shut(name, ways, outs[0], self.lag + FLAG)
            return
        if len(outs) > 2 and (left := self._left(machine, first)):
            self._shut(name, ways, left, self.lag + FLAG)
            return
        if len(outs) > MOST_JOINED:
            why = f"{machine.name} has {len(outs) + 1} states: at most {MOST_JOINED + 1} are composed"
            raise refuse(self._claim(machine.name), why)
        made = joint(f"{name}-others", [1] * len(outs))
        self.network.add(made.tile.name, made)
        step = self.lag + FLAG + JOINED
        for number, out in enumerate(outs):
            self._need(out, self.lag + FLAG, Need(made.tile.name, f"in{number}", step))
        self._shut(name, ways, self.network.net(made.tile.name, "out"), step)

    def _shut(self, name: str, ways: int, net: str, step: int) -> None:
        for port, own in _shutters(ways):
            self._need(net, step, Need(name, port, self.lag + OPEN - own))

    def _wait(self, machine: Automaton, state: str, place: int, way: Slot, net: str, steps: int) -> None:
        """From when the flag's `not` goes off to the group's event: rings that fade, or a column if it is short."""
        network = self.network
        name = f"{machine.name}-{state}-wait{place}"
        end, port = way.waits_at
        lost = LEAST_COLUMN * (len(way.waits_lead) + way.yields)
        room = steps - WAIT_LOST - lost
        step = self.lag + FLAG + 2
        rings = rings_for(room, FILLED_IN, SPARE)
        if rings is None:
            if steps > 2 * DEAF:
                why = f"{machine.name}: no rings were found for a wait of {steps_text(steps)} in {state}"
                raise refuse(self._claim(machine.name), why)
            network.add(name, drop(name, max(1, (room + 2) // 8)))
            lead = network.connect(network.net(name, "out"), end, port, 2)
            self._need(net, step, Need(name, "in", steps + self.lag - FALLEN - 2 - lost, (lead, *way.waits_lead)))
            return
        fades, (_, best, _) = rings_steps(rings), SPARE
        names, ways = add_rings(network, name, rings, 3 if room - fades > best + 2 else 2)
        ways.append(network.connect(network.net(names[-1], "out"), end, port, ROUTE))
        self._need(
            net, step, Need(names[0], "in", steps + self.lag - FALLEN - 2 - lost - fades, (*ways, *way.waits_lead))
        )

    # --- outputs ----------------------------------------------------------------------------------------------------

    def _output(self, one: Follows) -> None:
        network, end = self.network, self.brief.outputs[one.output]
        machine = next(m for m in self.brief.automata if m.name == one.machine)
        rests_on = machine.states[0] in one.states
        (begin, finish), sets, resets = self._ends(one)
        name = f"{one.output}-memory"
        if len(sets) > MOST_SETS:
            raise refuse(one.claim, f"{len(sets)} transitions begin it: at most {MOST_SETS} are composed")
        apart = end.at is not None or not sets
        lead: tuple[Way, ...] = ()
        late = 2 if len(resets) <= MOST_QUICK else 4
        steps = one.late_steps
        on_leave, off_leave = steps - begin - 2, steps - finish - late
        give = one.claim.give_or_take_steps // 2 * 2
        least = self.lag + OUT + LEAST_COLUMN
        on_leave, off_leave = (at + give if at < least else at for at in (on_leave, off_leave))
        if apart:
            _shown(network, end, one.output, rests_on)
        if not sets:
            return
        lengths = [self._length(leave, apart) for leave in (on_leave, off_leave)]
        network.add(
            name,
            keeper(name, [lengths[0]] * len(sets), _lengths(lengths[1], len(resets)),
                   "port" if apart else drives_of(end), rests_on and not apart),
        )  # fmt: skip
        if apart:
            lead = (network.connect(network.net(name, "out"), f"{one.output}-shown", "in", 2),)
        else:
            network.outputs[one.output] = (name, "out")
        for number, way in enumerate(sets):
            way.needs.append(Need(name, f"set{number}", on_leave, lead))
        for number, way in enumerate(resets):
            way.needs.append(Need(name, f"reset{number}", off_leave, lead))

    def _length(self, leave: int, apart: bool) -> int:
        return column_length(leave - self.lag - OUT + 4 - (4 if apart else 0))

    def _program(self, slot: Slot) -> None:
        program = self._base(slot.net, self.lag + OUT)
        tap_needs(self.network, program, slot.needs, self.lag + OUT)


def _lengths(length: int, number: int) -> list[int]:
    """The first reset's column may be longer than those beside it."""
    return [length if place == 0 or number > MOST_QUICK else min(length, 2) for place in range(number)]


def _shutters(ways: int) -> list[tuple[str, int]]:
    """The ports that shut a group, and how many steps after their columns they do."""
    return [("na", 0)] if ways == 1 else [("na0", 2), ("na1", 2)]


def _shown(network: Network, end: End, output: str, rests_on: bool) -> None:
    name = f"{output}-shown"
    add_end(network, name, pad(name, drives_of(end), rests_on), end, "out")
    network.outputs[output] = (name, "out")


def _yielding(machine: Automaton, state: str, ways: Sequence[Slot]) -> int | None:
    """The place of a wait that has to give way to the acts of the other slot, all of which are listed before it."""
    waits = [place for place, way in enumerate(ways) if [kind for kind, _ in way.events] == ["after"]]
    if len(ways) != 2 or len(waits) != 1:
        return None
    listed = [one for one in machine.transitions if not one.states or state in one.states]
    return waits[0] if all(one.after_steps is None for one in listed[:-1]) else None


def _event(one: Transition) -> Event:
    if one.after_steps is not None:
        return ("after", one.after_steps)
    assert one.event is not None
    return ("fall" if one.event.what == "released" else "rise", one.event.name)
