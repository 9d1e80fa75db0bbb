"""A brief made ready for the network: its spans by event, the machines that watch for events, and states told apart.

What a brief says in moments that no front of a trigger can make becomes machines: acts that are counted or that hang on
a condition, what runs on from a release, acts that a machine hears, too. And states that begin anew become two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from tickwright.charts.notation import Automaton, Claim, Event, Transition, condition_atoms
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.dividing import Follows, machine_triggers
from tickwright.design.compose.events import DEAF_STEPS, Keys, WatchedAct, again_steps, free_name
from tickwright.design.compose.moments import (
    BUTTON_STEPS,
    RELEASED,
    At,
    Solver,
    Wanted,
    edges_of,
    released_name,
    steps_text,
    worked_name,
)
from tickwright.design.compose.refusing import refuse

SETTLES = 12  # steps from the end of a span until the next may begin
ANEW = "'"  # ends the name of a state that stands for another when that begins anew


@dataclass(frozen=True)
class Lowered:
    """A brief as it is built: `brief` with all machines; spans and policies; keys; who shows machines.

    `struck` are the triggers that machines hear; `ready` says from when on acts of them count again, where that is
    asked.
    """

    brief: Brief
    wanted: Wanted
    keys: Keys
    follows: tuple[Follows, ...]
    struck: tuple[str, ...]
    ready: Mapping[str, int]

    def is_door(self, output: str) -> bool:
        """Whether an output drives a piston door."""
        return self.brief.outputs[output].part == "piston-door"


def lowered(brief: Brief) -> Lowered:
    """What a brief asks, in events that can be built; raises Refusal at the first claim that cannot be had."""
    solver = Solver(brief)
    wanted = solver.wanted()
    return _Lowering(brief, solver, wanted).lowered()


class _Lowering:
    def __init__(self, brief: Brief, solver: Solver, wanted: Wanted) -> None:
        self.brief, self.keys, self.solver = brief, solver.keys, solver
        self.spans = dict(wanted.spans)
        self.wanted = wanted
        self.follows = list(solver.follows.values())
        self.machines: list[Automaton] = []
        self.ready: dict[str, int] = {}
        self.taken = {*brief.inputs, *brief.outputs, *(one.name for one in brief.automata)}

    def lowered(self) -> Lowered:
        """All of it."""
        for machine in self.brief.automata:
            self._begun_anew(machine)
        for output in list(self.spans):
            self._tail(output)
        self._watch()
        kept = replace(self.wanted, spans=self.spans)
        brief = replace(self.brief, automata=(*self.machines, *self.keys.watchers))
        return Lowered(brief, kept, self.keys, tuple(self.follows), machine_triggers(brief), self.ready)

    # --- states that begin anew -------------------------------------------------------------------------------------

    def _begun_anew(self, machine: Automaton) -> None:
        """A state with a wait that begins anew becomes two, which take turns: so leaving either ends its wait."""
        waits = {state for one in machine.transitions if one.after_steps is not None for state in one.states}
        anew = {
            state for one in machine.transitions for state in one.states or machine.states
            if one.to == state and one.after_steps is None and state in waits and state != machine.states[0]
        }  # fmt: skip
        if not anew:
            self.machines.append(machine)
            return

        def both(state: str) -> tuple[str, ...]:
            return (state, state + ANEW) if state in anew else (state,)

        moves: list[Transition] = []
        for one in machine.transitions:
            mine = tuple(twin for state in one.states or machine.states for twin in both(state))
            again = tuple(state for state in mine if state == one.to and state in anew)
            if again and one.after_steps is None:
                moves.append(replace(one, states=again, to=one.to + ANEW))
            rest = tuple(state for state in mine if state not in again or one.after_steps is not None)
            if rest:
                moves.append(replace(one, states=rest))
        states = tuple(twin for state in machine.states for twin in both(state))
        self.machines.append(Automaton(machine.name, states, tuple(moves), machine.deaf_steps))
        for place, shown in enumerate(self.follows):
            if shown.machine == machine.name:
                twins = frozenset(twin for state in shown.states for twin in both(state))
                self.follows[place] = replace(shown, states=twins)
        for key, meant in self.keys.moves.items():
            if meant.machine == machine.name:
                pairs = frozenset(
                    (one, move.to) for move in moves for one in move.states
                    if (one.removesuffix(ANEW), move.to.removesuffix(ANEW)) in meant.pairs
                )  # fmt: skip
                self.keys.moves[key] = meant._replace(pairs=pairs)

    # --- what runs on after a release -------------------------------------------------------------------------------

    def _tail(self, output: str) -> None:
        """A span that ends long after a release: a machine that is on, then in its tail, then off."""
        spans = self.spans[output]
        if len(spans) != 1:
            return
        (one,) = spans
        trigger = one.begin.trigger
        if one.end is None or one.end.trigger != released_name(trigger):
            return
        tail = one.end.steps - one.begin.steps
        if tail < DEAF_STEPS or tail % 2:
            return
        name = free_name("tail", self.taken)
        act, release = (Event(trigger, "trigger", what) for what in ("worked", "released"))
        moves = (
            Transition(("off",), "on", event=act),
            Transition(("on",), "tail", event=release),
            Transition(("tail",), "on", event=act),
            Transition(("tail",), "off", after_steps=tail),
        )  # fmt: skip
        self.machines.append(Automaton(name, ("off", "on", "tail"), moves))
        states = frozenset(("off",)) if output in self.wanted.rests_on else frozenset(("on", "tail"))
        self.follows.append(Follows(output, name, states, one.begin.steps, one.claim))
        del self.spans[output]

    # --- watchers ---------------------------------------------------------------------------------------------------

    def _watch(self) -> None:
        """Machines that watch for acts that no front can take: counted, on a condition, or heard by a machine, too."""
        heard = set(machine_triggers(replace(self.brief, automata=tuple(self.machines))))
        heard |= {name for one in self.keys.asked.values() for name in self._looked(one)}
        runs_on = self._apart()
        runs_on |= {  # a further release may come while what the last one began is on
            one.begin.trigger for spans in self.spans.values() for one in spans
            if one.begin.trigger.endswith(RELEASED) and one.end and one.end.trigger == one.begin.trigger
        }  # fmt: skip
        heard |= {worked_name(event.removesuffix(ANEW)) for event in runs_on}
        for key, asked in list(self.keys.asked.items()):
            each = any(one.word in ("ignored", "ready") for one in self.wanted.policies[asked.event.name])
            self.keys.watch(key, asked, self._deaf_for(key, asked.event.name), self.taken, each)
            self._check_again(key)
        events = {at.trigger for spans in self.spans.values() for at in edges_of(spans)}
        for event in sorted(events - set(self.keys.moves)):
            plain = event.removesuffix(ANEW)
            trigger = worked_name(plain)
            if trigger not in heard:
                continue
            deaf_for = self._deaf_for(event, trigger)
            if deaf_for > self._soonest_again(plain) or event in runs_on:
                act = Event(trigger, "trigger", "worked" if plain == trigger else "released")
                self.keys.watch(event, WatchedAct(act), deaf_for, self.taken)
        for key in [key for key in self.keys.moves if self.keys.trigger(key) is None]:
            self._check_again(key)

    def _apart(self) -> set[str]:
        """Keys of their own for what an act or release of a lever begins while another output follows the lever itself.

        What runs on is deaf for a while, which what follows a lever must not be.
        """
        keys = set()
        for trigger in self.brief.inputs:
            ways = {(trigger, released_name(trigger)), (released_name(trigger), trigger)}
            edges = {(one.begin.trigger, one.end.trigger) for spans in self.spans.values() for one in spans if one.end}
            if not edges & ways or self.wanted.policies[trigger]:
                continue
            for event in (event for event in (trigger, released_name(trigger)) if self._over(event)[0]):
                keys.add(event + ANEW)
                for output, spans in self.spans.items():
                    self.spans[output] = tuple(
                        one._replace(begin=At(event + ANEW, one.begin.steps), end=At(event + ANEW, one.end.steps))
                        if one.end and one.begin.trigger == one.end.trigger == event else one
                        for one in spans
                    )  # fmt: skip
        return keys

    def _looked(self, one: WatchedAct) -> set[str]:
        return {one.event.name, *(atom.name for atom in condition_atoms(one.condition))}

    def _soonest_again(self, event: str) -> int:
        part = self.brief.inputs[worked_name(event)].part
        return BUTTON_STEPS.get(part, 20) + 2

    def _deaf_for(self, event: str, trigger: str) -> int:
        """How long after an act that counts another must not count: as asked, or until what it began is over."""
        policies = self.wanted.policies[trigger]
        for asked in policies:
            if asked.word in ("restarts", "extends"):
                raise refuse(asked.claim, f"{trigger} works machines, too: there a further press is ignored at most")
        least = max((one.steps for one in policies if one.word == "ignored"), default=0)
        over = self._over(event)[0]
        ready = next((one for one in policies if one.word == "ready"), None)
        least = max(least, over)
        least += least % 2
        if ready is not None:
            least = max(least, 2 * DEAF_STEPS)
            if ready.steps < least:
                why = f"what {event} began is not over by then: {steps_text(least)} after it is the soonest"
                raise refuse(ready.claim, why)
            least = ready.steps - ready.steps % 2
        if policies:
            self.ready[trigger] = max(self.ready.get(trigger, 0), least)
        return least

    def _over(self, event: str) -> tuple[int, Claim | None]:
        """When all that an event begins and ends is over, counted from when the first of it begins again."""
        most, claim = 0, None
        for spans in self.spans.values():
            mine = [one for one in spans if one.begin.trigger == event]
            ends = [one.end.steps for one in mine if one.end is not None and one.end.trigger == event]
            if ends and max(ends) - min(one.begin.steps for one in mine) + SETTLES > most:
                most = max(ends) - min(one.begin.steps for one in mine) + SETTLES
                claim = mine[0].claim
        return most, claim

    def _check_again(self, key: str) -> None:
        """Refuse spans of an event that may come again before they are over."""
        moves = self.keys.moves[key]
        machine = next(one for one in (*self.machines, *self.keys.watchers) if one.name == moves.machine)
        again = again_steps(machine, moves.pairs)
        over, claim = self._over(key)
        if again is not None and over > again and claim is not None:
            least = steps_text(again)
            why = f"{key} may come again after {least}, before what it begins is over ({steps_text(over)})"
            raise refuse(claim, f"{why}: let that be shorter, or the machine stay longer")
