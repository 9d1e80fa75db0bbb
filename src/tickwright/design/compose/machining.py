"""From state machines to a network: strikers, a group and a flag for each state, waits, and the outputs' memories.

Steps count from the event that moves a machine. Events come to a group `lag` steps later, and its output is on from
`lag` + 2 on. Flags change 10 steps after `lag`, and DEAF steps after the event the groups are open for the next.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from tickwright.charts.notation import Automaton, Claim, While, names_in
from tickwright.design.compose.brief import End
from tickwright.design.compose.dividing import Follows
from tickwright.design.compose.events import DEAF_STEPS
from tickwright.design.compose.lowering import Lowered
from tickwright.design.compose.machine_tiles import (
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
from tickwright.design.compose.moments import RELEASED, edges_of, steps_text, worked_name
from tickwright.design.compose.network import Need, Network, Program, Tap
from tickwright.design.compose.refusing import Refusal, refuse
from tickwright.design.compose.restarting import shutter
from tickwright.design.compose.slots import Asking, Event, Slot
from tickwright.design.compose.spanning import add_end, drives_of
from tickwright.design.compose.tapping import column_length, tap_needs
from tickwright.design.compose.tiles import FALLEN, joint, pad
from tickwright.design.compose.waiting import ROUTE, SPARE, Way, add_rings
from tickwright.design.compose.wholes import shift_of
from tickwright.design.compose.wording import with_beginning

LAGS = (6, 4)  # how late events may come to their groups
PAIRED_LAG = 8  # the same, better where pairs of events come through a comparator more
SOONER = 2  # by which a wait that nothing races with comes to its group before other events would
OUT = 2  # from a group's event to its output
FLAG = 10  # from `lag` on: when flags change
OPEN = DEAF_STEPS  # from `lag` on: when groups are open again
AFTER_MOVE = 6  # from a group's output to a change of a memory, with a little time for the way
LONGEST_SHIFT = 6  # by which an output may show later than its memory
MOST_HURRIED = 2  # ways from one group that may be without time to spare
HELD_TAPS = 2  # of what shuts a pair of events until the state has changed
JOINED = 4  # steps to where the flags of several states are made one
MOST_SETS = 4
MOST_JOINED = 6
FILLED_IN = 20  # steps that the shortest absence from a state fills a ring
WAIT_LOST = FLAG + 2 + FALLEN + 2  # of a wait: to the flag's end, from the ring's end, through the group's column
LEAST_COLUMN = 2
GAP = 2  # cells between tiles: more nets than with spans
ONE_COLUMN = 8  # steps that one repeater can take


class Source(NamedTuple):
    """Where an event comes from: a net, and how many steps after the event its pulse begins."""

    net: str
    step: int


class Machining:
    """The machines of a brief in a network: `build` adds them, `finish` what hangs on their moves.

    In between spans may ask for the source of an event, and give it their needs. Both raise Refusal.
    """

    def __init__(self, low: Lowered, network: Network) -> None:
        self.low, self.brief, self.network = low, low.brief, network
        self.follows = low.follows
        self.slots: dict[str, dict[str, list[Slot]]] = {}
        self.levels: dict[Event, str] = {}  # nets of levels
        self.programs: dict[str, Program] = {}
        self.sources: dict[str, Source] = {}
        self.needs: dict[str, list[Need]] = {}  # of sources
        self.spans = [one for mine in low.wanted.spans.values() for one in mine]
        self.events = list(dict.fromkeys(at.trigger for at in edges_of(self.spans)))
        self.moving = {low.keys.moves[event].machine for event in self.events if event in low.keys.moves}

    def build(self) -> None:
        """All of it."""
        if not self.brief.automata:
            return
        self.network.gap = GAP
        for machine in self.brief.automata:
            watched = next((key for key in self.low.keys.asked if self._moved_in(key) == machine.name), None)
            asking = Asking(machine, self._claim(machine.name), machine.name in self.moving, watched)
            asking.check()
            self.slots[machine.name] = asking.slots()
        self.lag = LAGS[0]
        self.lag = self._lag()
        self._strikers()
        for machine in self.brief.automata:
            self._groups(machine)
        for machine in self.brief.automata:
            self._flags(machine)
            self.network.deaf[machine.name] = machine.deaf_steps or DEAF_STEPS
        for one in self.follows:
            self._output(one)
        for event in self.events:
            if (source := self._source(event)) is not None:
                self.sources[event] = source
                self.needs[event] = []

    def finish(self) -> None:
        """The programs of all moves, and of the events that spans count from."""
        for event, needs in self.needs.items():
            source = self.sources[event]
            meant = self._meant(event)
            if len(meant) == 1:
                meant[0].needs += needs
            else:
                tap_needs(self.network, self._base(source.net, source.step), needs, source.step)
        for slots in self.slots.values():
            for slot in (one for ways in slots.values() for one in ways):
                self._program(slot)
        self.network.programs += self.programs.values()

    def _meant(self, event: str) -> list[Slot]:
        """The moves that an event's key stands for; none for a plain act."""
        moves = self.low.keys.moves.get(event)
        if moves is None:
            return []
        ways = self.slots[moves.machine].items()
        return [slot for state, slots in ways for slot in slots if (state, slot.to) in moves.pairs]

    def _source(self, event: str) -> Source | None:
        """Where an event comes from; None if a front makes it."""
        slots = self._meant(event)
        if len(slots) == 1:
            return Source(slots[0].net, self._out(slots[0]))
        if slots:
            if len(slots) > MOST_JOINED:
                raise refuse(
                    self._counting([event]), f"{len(slots)} transitions are {event}: at most {MOST_JOINED} are composed"
                )
            name = f"{event.replace(' ', '-')}-any"
            self.network.add(name, joint(name, [1] * len(slots)))
            step = self.lag + OUT + JOINED
            for number, slot in enumerate(slots):
                slot.needs.append(Need(name, f"in{number}", step))
            return Source(self.network.net(name, "out"), step)
        if event in self.low.keys.moves:
            raise refuse(self._counting([event]), f"{event} never comes: no act leads there")
        trigger = worked_name(event)
        if trigger not in self.low.struck:
            return None
        return Source(self.network.net(f"{trigger}-striker", "rise" if trigger == event else "fall"), STRUCK)

    # --- what is asked ----------------------------------------------------------------------------------------------

    def _claim(self, machine: str) -> Claim:
        """A claim that names a machine, or for which it was made."""
        own = [one for one in self.brief.claims if machine in names_in(one)]
        own += [one.claim for one in self.follows if one.machine == machine]
        return own[0] if own else self._counting([event for event in self.events if self._moved_in(event) == machine])

    def _counting(self, events: Collection[str]) -> Claim:
        """The first claim that counts from one of these events; the brief's first if none does."""
        counting = (one.claim for one in self.spans if any(at.trigger in events for at in edges_of([one])))
        return next(counting, self.brief.claims[0])

    def _moved_in(self, event: str) -> str | None:
        """The machine whose moves an event is, if it is such."""
        moves = self.low.keys.moves.get(event)
        return moves.machine if moves is not None else None

    def _lag(self) -> int:
        """The latest lag that leaves outputs time; raises Refusal where none does."""
        every = [ways for slots in self.slots.values() for ways in slots.values()]
        joined = any(len(slot.events) > 1 for ways in every if len(ways) > 1 for slot in ways)
        paired = any(slot.paired for ways in every for slot in ways)
        lags = (PAIRED_LAG, LAGS[0]) if paired else LAGS[:1] if joined else LAGS
        for lag in lags:
            self.lag = lag
            least = lag + OUT + LEAST_COLUMN
            soon = all(self._soonest(one) >= least for one in self.follows)
            if soon and not self._hurried(lag, least) and self._moved_by(lag + OUT + AFTER_MOVE):
                return lag
        for one in self.follows:
            missing = lags[-1] + OUT + LEAST_COLUMN - self._soonest(one)
            if missing > 0:
                raise self._too_soon(one, missing)
        return lags[-1]

    def _sooner(self, slot: Slot) -> int:
        """By how much what takes a way comes sooner than acts do: waits that nothing races with may."""
        if self.lag != PAIRED_LAG or not slot.waits or int(slot.events[0][1]) < OPEN + 2 * SOONER:
            return 0
        return SOONER if any(ways == [slot] for states in self.slots.values() for ways in states.values()) else 0

    def _out(self, slot: Slot) -> int:
        """When a group's output comes on, after the event that takes this way."""
        return self.lag - self._sooner(slot) + OUT

    def _moved_by(self, step: int) -> bool:
        """Whether no span of a machine's move has to begin or end before a step."""
        ends = [at.steps for at in edges_of(self.spans) if at.trigger in self.low.keys.moves]
        return all(steps - LONGEST_SHIFT >= step for steps in ends)

    def _too_soon(self, one: Follows, missing: int) -> Refusal:
        """An output that follows its machine sooner than can be had."""
        late = one.late_steps + missing
        if not any(isinstance(clause, While) for clause in one.claim.clauses):
            event = self._machine(one.machine).transitions[0].event
            why = f"it can begin {steps_text(late)} after {event} at the soonest"
            return refuse(one.claim, why, with_beginning(one.claim.text, str(event), late), missing)
        head = one.claim.text.partition(", late by ")[0]
        instead = f"{head}, late by {steps_text(late)}"
        if one.claim.give_or_take_steps:
            instead += f", give or take {one.claim.give_or_take_steps} steps"
        return refuse(
            one.claim, f"{one.output} follows {one.machine} by {steps_text(late)} at the soonest", instead, missing
        )

    def _machine(self, name: str) -> Automaton:
        return next(one for one in self.brief.automata if one.name == name)

    def _hurried(self, lag: int, least: int) -> bool:
        """Whether with this lag too many ways to outputs would have no time to spare.

        That is, more from one slot than MOST_HURRIED; some from a group of several events, whose level is low; or some
        from a group of two, and in all more than the ways of events that the shorter lag would leave without.
        """
        if lag == LAGS[-1]:
            return False
        groups = [ways for slots in self.slots.values() for ways in slots.values()]
        hurried = [slot for one in self.follows for slot in self._ends(one)[2] if self._soonest(one) < least + 2]
        weak = [slot for ways in groups for slot in ways if len(ways) == 1 and len(slot.events) > 1]
        ends = [slot for one in self.follows for slot in self._ends(one)[2] if self._soonest(one) < least + 4]
        if any(slot in ends for slot in weak):
            return True
        if any(hurried.count(slot) > MOST_HURRIED for ways in groups for slot in ways):
            return True
        events = sum(len(slot.events) for ways in groups if len(ways) > 1 for slot in ways)
        return len(hurried) > events and any(slot in hurried for ways in groups if len(ways) > 1 for slot in ways)

    def _soonest(self, one: Follows) -> int:
        """The first step in which a pulse must leave a column of an output's memory."""
        shift, sets, resets = self._ends(one)
        late = 2 if len(resets) <= MOST_QUICK else 4
        steps = one.late_steps + one.claim.give_or_take_steps // 2 * 2
        begins = [steps - shift[0] - 2 + self._sooner(slot) for slot in sets]
        return min([*begins, *(steps - shift[1] - late + self._sooner(slot) for slot in resets)], default=99)

    def _ends(self, one: Follows) -> tuple[tuple[int, int], list[Slot], list[Slot]]:
        """How much later than its memory it shows on and off, and the slots that set and reset that."""
        machine = self._machine(one.machine)
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
        for event in self.events:
            if event not in self.low.keys.moves:
                events.add(("fall" if event.endswith(RELEASED) else "rise", worked_name(event)))
        looked = {name for slot in ways for name, _ in slot.shut_by}
        for trigger in self.low.struck:
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
            gates = [bool(way.shut_by) for way in ways]
            events = [len(way.events) for way in ways] if length == 1 else [1 + way.paired for way in ways]
            room = OPEN - changes - _shutters(length, events[0])[0][1]
            yields = self._yielding(machine, state, ways)
            if yields is not None:
                self.network.ordered[machine.name, state] = ways[yields].waits
                ways[yields].yields = True
            self.network.add(name, group(name, gates, length, 1 if room <= ONE_COLUMN else 2, events, yields))
            for place, way in enumerate(ways):
                way.net = self.network.net(name, f"o{place}")
                again = machine.name in self.moving or any(one.to == state for one in ways)
                if len(way.events) > 2 or (length == 2 and len(way.events) == 2 and again):
                    self.network.joined.append(f"{machine.name} is {state}")
                self._events(name, place, way, length)
                self._gate(name, place, way, length)

    def _yielding(self, machine: Automaton, state: str, ways: Sequence[Slot]) -> int | None:
        """The place of what has to give way in one step: a wait to acts that are all listed before it, or the reverse.

        An act gives way only where there is time for it, and nothing else comes with it.
        """
        waits = [place for place, way in enumerate(ways) if way.waits]
        if len(ways) != 2 or len(waits) != 1:
            return None
        listed = [one for one in machine.transitions if not one.states or state in one.states]
        if all(one.after_steps is None for one in listed[:-1]):
            return waits[0]
        other = 1 - waits[0]
        first = listed[0].after_steps is not None
        return other if first and self.lag >= LAGS[0] and len(ways[other].events) == 1 else None

    def _events(self, name: str, place: int, way: Slot, length: int) -> None:
        port = f"e{place}"
        if length == 2 and way.paired:
            self._pair(name, place, way)
            return
        if length == 1 or len(way.events) == 1:
            for number, (kind, what) in enumerate(way.events):
                here = port if len(way.events) == 1 else f"{port}-{number}"
                if kind == "after":
                    way.waits_at = (name, here)
                    continue
                net = self.network.net(f"{what}-striker", kind)
                self._need(net, STRUCK, Need(name, here, self.lag - (LEAST_COLUMN if way.yields else 0)))
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

    def _pair(self, name: str, place: int, way: Slot) -> None:
        """Two events that do the same beside another: what came out of them shuts both until the state has changed."""
        network = self.network
        for number, (kind, what) in enumerate(way.events):
            port = f"e{place}-{number}"
            if kind == "after":
                way.waits_at = (name, port)
                continue
            self._need(network.net(f"{what}-striker", kind), STRUCK, Need(name, port, self.lag - LEAST_COLUMN))
        held = network.add(f"{name}-held{place}", shutter(f"{name}-held{place}", HELD_TAPS, True))
        way.needs.append(Need(held, "in", self.lag + OUT + LEAST_COLUMN + 2))
        way.shut_lead = network.connect(network.net(held, "out"), name, f"nb{place}", 4)

    def _gate(self, name: str, place: int, way: Slot, length: int) -> None:
        """Levels that shut an event out must be there when the event is: up to 2 steps late, 0.2 s are allowed."""
        if not way.shut_by:
            return
        port, at = f"g{place}", self.lag + OUT + 2
        if len(way.shut_by) == 1:
            net, late = self._level(*way.shut_by[0])
            self._need(net, late, Need(name, port, min(at, late + ONE_COLUMN * length)))
            return
        made = joint(f"{name}-gate{place}", [1] * len(way.shut_by))
        self.network.add(made.tile.name, made)
        lead = self.network.connect(self.network.net(made.tile.name, "out"), name, port, 2)
        for number, one in enumerate(way.shut_by):
            net, late = self._level(*one)
            leave = min(at - 2 * length, late + ONE_COLUMN)
            self._need(net, late, Need(made.tile.name, f"in{number}", leave, (lead,)))

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
                self._shut(machine.name, state, network.net(name, "not"), self.lag + FLAG + 2)
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
        if len(sets) > MOST_SETS:
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
        name = f"{machine.name}-{first}"
        if not self.slots[machine.name][first] or not outs:
            return
        if len(outs) == 1:
            self._shut(machine.name, first, outs[0], self.lag + FLAG)
            return
        paired = any(way.paired for way in self.slots[machine.name][first])
        if len(outs) > (1 if paired else 2) and (left := self._left(machine, first)):
            self._shut(machine.name, first, left, self.lag + FLAG)
            return
        if len(outs) > MOST_JOINED:
            why = f"{machine.name} has {len(outs) + 1} states: at most {MOST_JOINED + 1} are composed"
            raise refuse(self._claim(machine.name), why)
        made = joint(f"{name}-others", [1] * len(outs))
        self.network.add(made.tile.name, made)
        step = self.lag + FLAG + JOINED
        for number, out in enumerate(outs):
            self._need(out, self.lag + FLAG, Need(made.tile.name, f"in{number}", step))
        self._shut(machine.name, first, self.network.net(made.tile.name, "out"), step)

    def _shut(self, machine: str, state: str, net: str, step: int) -> None:
        name, ways = f"{machine}-{state}", len(self.slots[machine][state])
        ports = self.network.made[name].tile.ports
        for port, own in _shutters(ways, 2 if "e0-0" in ports else 1):
            self._need(net, step, Need(name, port, self.lag + OPEN - own))
        for place, way in enumerate(self.slots[machine][state]):
            if way.paired:
                column = 2 * len(self.network.made[name].columns[f"nb{place}"])
                leave = self.lag + OPEN - LEAST_COLUMN - column
                self._need(net, step, Need(f"{name}-held{place}", "na", leave, (way.shut_lead,)))

    def _wait(self, machine: Automaton, state: str, place: int, way: Slot, net: str, steps: int) -> None:
        """From when the flag's `not` goes off to the group's event: rings that fade, or a column if it is short."""
        network = self.network
        name = f"{machine.name}-{state}-wait{place}"
        end, port = way.waits_at
        lost = LEAST_COLUMN * (len(way.waits_lead) + way.yields + way.paired) + self._sooner(way)
        room = steps - WAIT_LOST - lost
        step = self.lag + FLAG + 2
        rings = rings_for(room, FILLED_IN, SPARE)
        if rings is None:
            if steps > 2 * DEAF_STEPS:
                why = f"{machine.name}: no rings were found for a wait of {steps_text(steps)} in {state}"
                raise refuse(self._claim(machine.name), why)
            network.add(name, drop(name, max(1, -(-room // 8))))
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
        machine = self._machine(one.machine)
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
        program = self._base(slot.net, self._out(slot))
        tap_needs(self.network, program, slot.needs, self._out(slot))


def _lengths(length: int, number: int) -> list[int]:
    """The first reset's column may be longer than those beside it."""
    return [length if place == 0 or number > MOST_QUICK else min(length, 2) for place in range(number)]


def _shutters(ways: int, events: int) -> list[tuple[str, int]]:
    """The ports that shut a group, and how many steps after their columns they do; a group of one has its events."""
    return [("na", 0 if events == 1 else 2)] if ways == 1 else [("na0", 2), ("na1", 2)]


def _shown(network: Network, end: End, output: str, rests_on: bool) -> None:
    name = f"{output}-shown"
    add_end(network, name, pad(name, drives_of(end), rests_on), end, "out")
    network.outputs[output] = (name, "out")
