"""Moments solved: what each output must show, as spans that begin and end so many steps after a trigger is worked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tickwright.charts.notation import (
    Automaton,
    Claim,
    Clause,
    Event,
    Has,
    Level,
    Moment,
    Never,
    Not,
    Policy,
    Span,
    Train,
    While,
    condition_atoms,
)
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.dividing import Follows, followers
from tickwright.design.compose.events import Keys, Moves, alternatives, moves_of
from tickwright.design.compose.refusing import Refusal, refuse
from tickwright.durations import duration_text

RELEASED = " released"
PLATE_LATE = 20  # steps between two looks of a plate
BUTTON_STEPS = {"short-button": 20, "long-button": 30}


class At(NamedTuple):
    """So many steps after each act of a trigger; a lever or plate that is let go is `released_name(trigger)`.

    Other events have keys (see `events`), which stand here in place of a trigger.
    """

    trigger: str
    steps: int


class Away(NamedTuple):
    """A span of an output away from rest; `end` None for good."""

    begin: At
    end: At | None
    claim: Claim


class Asked(NamedTuple):
    """A policy of a trigger: until (for "ready": from) so many steps after its act."""

    word: str
    steps: int
    claim: Claim


@dataclass(frozen=True, slots=True)
class Wanted:
    """All that a brief asks but for what shows machines: spans by output, what rests on, and policies by trigger."""

    spans: dict[str, tuple[Away, ...]]
    rests_on: frozenset[str]
    policies: dict[str, tuple[Asked, ...]]


def edges_of(spans: Iterable[Away]) -> list[At]:
    """When spans begin and end, in their order."""
    return [at for one in spans for at in (one.begin, one.end) if at is not None]


def released_name(trigger: str) -> str:
    """What stands for the letting go of a lever or plate where triggers are named.

    >>> released_name("sw")
    'sw released'
    """
    return trigger + RELEASED


def worked_name(event: str) -> str:
    """The trigger whose working or letting go an event is.

    >>> worked_name("sw released"), worked_name("sw")
    ('sw', 'sw')
    """
    return event.removesuffix(RELEASED)


def rests_on(claims: Sequence[Claim]) -> frozenset[str]:
    """The outputs that are on at rest: a claim says "off from", "never off", or on while a trigger is off."""
    found = set()
    for claim in claims:
        for clause in claim.clauses:
            if isinstance(clause, Span) and clause.away == "off":
                found.add(claim.name)
            if isinstance(clause, Never) and clause.state == "off":
                found.add(claim.name)
            if isinstance(clause, While) and (shown := _trigger_of(clause)) and not shown[1]:
                found.add(claim.name)
    return frozenset(found)


class Solver:
    """Solves the moments of the claims of a brief."""

    def __init__(self, brief: Brief) -> None:
        self.brief = brief
        self.keys = Keys()
        self.resting = rests_on(brief.claims)
        self.follows: dict[str, Follows] = {one.output: one for one in followers(brief)}
        self.done: dict[str, tuple[Away, ...]] = {}
        self.under_way: list[str] = []

    def wanted(self) -> Wanted:
        """All spans and policies; raises Refusal at the first claim that cannot be had."""
        spans = {name: self.spans(name) for name in self.brief.outputs if name not in self.follows}
        return Wanted(spans, self.resting, self.policies())

    def spans(self, output: str) -> tuple[Away, ...]:
        """The spans of an output, in the order of their beginnings."""
        if output in self.done:
            return self.done[output]
        if output in self.under_way:
            ring = [*self.under_way[self.under_way.index(output) :], output]
            claim = next(one for one in self.brief.claims if one.name == output)
            raise refuse(claim, f"the moments go round in a ring: {' needs '.join(ring)}")
        self.under_way.append(output)
        found: list[Away] = []
        for claim in self.brief.claims:
            if claim.name == output:
                for clause in claim.clauses:
                    found += self._clause(claim, clause, found)
        self.under_way.pop()
        self.done[output] = merged(sorted(found, key=lambda one: (one.begin.trigger, one.begin.steps)))
        return self.done[output]

    def _clause(self, claim: Claim, clause: Clause, before: list[Away]) -> list[Away]:
        if isinstance(clause, Never):
            away = "off" if clause.state == "off" else "on"
            if (claim.name in self.resting) != (away == "off"):
                raise refuse(claim, f"it would have to be {'off' if away == 'off' else 'on'} at rest as well as never")
            return []
        if isinstance(clause, Level):
            raise refuse(claim, "levels are not composed: outputs show on and off only")
        if isinstance(clause, While):
            return self._while_on(claim, clause)
        if isinstance(clause, Span):
            if (clause.away == "off") != (claim.name in self.resting):
                raise refuse(claim, f"{claim.name} rests on by another claim: write off from")
            begins = self.moments(claim, clause.begins, before)
            return [Away(at, self._end(claim, at, clause, before), claim) for at in begins]
        if isinstance(clause, Train):
            if claim.name in self.resting:
                raise refuse(claim, f"{claim.name} rests on by another claim, and pulses are on: write off from")
            return self._train(claim, clause, before)
        raise AssertionError(clause)

    def _while_on(self, claim: Claim, clause: While) -> list[Away]:
        shown = _trigger_of(clause)
        if shown is None:
            why = '"while" is composed of the states of one machine, or of one trigger that is on or off'
            raise refuse(claim, why)
        trigger, late = shown[0], clause.late_steps
        return [Away(At(trigger, late), self._released(claim, trigger, late)[0], claim)]

    def _end(self, claim: Claim, begin: At, span: Span, before: list[Away]) -> At | None:
        if span.lasts_steps is not None:
            return At(begin.trigger, begin.steps + span.lasts_steps)
        if span.until is None:
            return None
        own = [Away(begin, None, claim)] if span.until.event and span.until.event.name == claim.name else []
        return self._next(claim, begin, self.moments(claim, span.until, [*before, *own]), span.until)

    def _next(self, claim: Claim, begin: At, ends: list[At], until: Moment) -> At:
        """The end by the next event after the beginning: of the same trigger if one is; else the other trigger's."""
        same = [at for at in ends if at.trigger == begin.trigger]
        if same:
            later = [at.steps for at in same if at.steps > begin.steps]
            if not later:
                raise refuse(claim, "it would end before it begins")
            following = [at.steps for at in same if at.steps - until.steps > begin.steps]
            if not following:
                why = (
                    f"after it begins, {steps_text(begin.steps)} after {begin.trigger}, the next {until.event} is that "
                    "of another act"
                )
                raise refuse(claim, why, with_length_for(claim.text, min(later) - begin.steps))
            if min(following) <= begin.steps:
                raise refuse(claim, "it would end before it begins")
            return At(begin.trigger, min(following))
        others = {at.trigger for at in ends}
        if len(ends) != 1 or len(others) != 1:
            raise refuse(claim, "it would end at several moments of another trigger: name one")
        return ends[0]

    def _train(self, claim: Claim, train: Train, before: list[Away]) -> list[Away]:
        found: list[Away] = []
        if train.every_steps <= train.length_steps and (train.number or 2) > 1:
            raise refuse(claim, "its pulses touch: let them be farther apart than they are long")
        for at in self.moments(claim, train.begins, before):
            number = train.number
            if number is None:
                assert train.until is not None
                end = self._next(claim, at, self.moments(claim, train.until, before), train.until)
                if end.trigger != at.trigger:
                    raise refuse(
                        claim, "pulses until another trigger's moment are not composed: name a number of pulses"
                    )
                number = -(-(end.steps - at.steps) // train.every_steps)
            for place in range(number):
                start = at.steps + place * train.every_steps
                found.append(Away(At(at.trigger, start), At(at.trigger, start + train.length_steps), claim))
        return found

    def moments(self, claim: Claim, moment: Moment, before: list[Away]) -> list[At]:
        """Every time at which a moment comes, after the act of a trigger."""
        event = moment.event
        if event is None:
            raise refuse(claim, "it counts from time 0, when nobody has acted: count from a trigger")
        if event.kind == "trigger":
            return self._acts(claim, moment, event)
        if moment.condition is not None or moment.ordinal is not None:
            raise refuse(claim, f"ordinals and conditions are composed of acts, not of {event}: use a machine")
        if event.kind == "machine":
            return [At(self._moves(claim, event), moment.steps)]
        if event.name in self.follows:
            shown = self.follows[event.name]
            return [At(self._shown(claim, event, shown), shown.late_steps + moment.steps)]
        spans = before if event.name == claim.name else self.spans(event.name)
        begins = (event.what == "on") != (event.name in self.resting)
        ends = [one.begin if begins else one.end for one in spans]
        if not ends and event.name == claim.name:
            raise refuse(claim, "the moment is defined by itself")
        if not any(ends):
            raise refuse(claim, f"{event} never comes")
        return [At(at.trigger, at.steps + moment.steps) for at in ends if at is not None]

    def _acts(self, claim: Claim, moment: Moment, event: Event) -> list[At]:
        """Acts of a trigger: each of them, or some by ordinal or condition."""
        if moment.condition is None and moment.ordinal is None:
            if event.what == "released":
                return self._released(claim, event.name, moment.steps)
            return [At(event.name, moment.steps)]
        if event.what == "released" and self.brief.inputs[event.name].part not in ("lever", *BUTTON_STEPS):
            raise refuse(claim, "a plate is let go at no certain step: name the release without ordinal and condition")
        if alternatives(moment.condition) is None:
            raise refuse(claim, '"if" is composed of triggers that are on or off: an output is known too late')
        if any(atom.name == event.name for atom in condition_atoms(moment.condition)):
            raise refuse(claim, f'"if" of {event.name} itself is not composed')
        return [At(self.keys.of_act(moment), moment.steps)]

    def _moves(self, claim: Claim, event: Event) -> str:
        """The key of a machine's entries into a state, or of its leaving one."""
        machine = self._machine(event.name)
        if event.what == "enters" and event.state == machine.states[0]:
            raise refuse(claim, f"{event.name} enters {event.state} at time 0, too, when nobody has acted")
        pairs = {way for way in moves_of(machine) if event.state == way[1 if event.what == "enters" else 0]}
        return self._key(claim, event, Moves(event.name, frozenset(pairs)))

    def _shown(self, claim: Claim, event: Event, shown: Follows) -> str:
        """The key of the moves that let an output that follows a machine go on or off."""
        machine, on = self._machine(shown.machine), event.what == "on"
        pairs = {(a, b) for a, b in moves_of(machine) if (a in shown.states) != on and (b in shown.states) == on}
        return self._key(claim, event, Moves(machine.name, frozenset(pairs)))

    def _machine(self, name: str) -> Automaton:
        return next(one for one in self.brief.automata if one.name == name)

    def _key(self, claim: Claim, event: Event, moves: Moves) -> str:
        if not moves.pairs:
            raise refuse(claim, f"{event} never comes")
        return self.keys.of_moves(str(event), moves)

    def _released(self, claim: Claim, trigger: str, steps: int) -> list[At]:
        length = BUTTON_STEPS.get(self.brief.inputs[trigger].part)
        if length is None:
            if steps < 0:
                raise refuse(claim, f"nothing tells beforehand when {trigger} is released")
            if self.brief.inputs[trigger].part != "lever":
                if claim.give_or_take_steps < PLATE_LATE // 2:
                    late, give = steps_text(PLATE_LATE), PLATE_LATE // 2
                    why = f"a plate looks again every {late}, so {trigger} released is known up to {late} late"
                    instead = f"{claim.text.partition(', give or take')[0]}, give or take {steps_text(give)}"
                    raise refuse(claim, why, instead, give - claim.give_or_take_steps)
                steps -= PLATE_LATE // 2
            return [At(released_name(trigger), steps)]
        return [At(trigger, length + steps)]

    def policies(self) -> dict[str, tuple[Asked, ...]]:
        """The policies of each trigger, in the order of their moments."""
        found: dict[str, list[Asked]] = {name: [] for name in self.brief.inputs}
        for claim in self.brief.claims:
            if not claim.is_policy:
                continue
            for clause in claim.clauses:
                assert isinstance(clause, Policy)
                one = self._policy(claim, clause, max((asked.steps - 1 for asked in found[claim.name]), default=0))
                if clause.word == "ignored":
                    self._check_ignored(claim, clause, one.steps, not found[claim.name])
                found[claim.name].append(one)
        return {name: tuple(sorted(asked, key=lambda one: one.steps)) for name, asked in found.items()}

    def _policy(self, claim: Claim, clause: Policy, after: int) -> Asked:
        """A policy, by the first of its moments whose event comes later than `after` steps after the act."""
        if clause.condition is not None:
            return Asked(clause.word, self._while(claim, clause), claim)
        assert clause.moment is not None
        times = self.moments(claim, clause.moment, [])
        own = [at.steps for at in times if self.trigger(at.trigger) == claim.name]
        if not own:
            raise refuse(claim, f"its end does not follow from {claim.name} alone")
        following = [steps for steps in own if steps - clause.moment.steps > after]
        return Asked(clause.word, min(following, default=max(own)), claim)

    def _check_ignored(self, claim: Claim, clause: Policy, last: int, first: bool) -> None:
        """Refuse to ignore until a moment before which no further act can come.

        A trigger's first policy ends at the first of its moments after the act; one after another policy may end later.
        """
        again = BUTTON_STEPS.get(self.brief.inputs[claim.name].part, 2) + 2
        ends = [last]
        if first and clause.moment is not None:
            ends += [at.steps for at in self.moments(claim, clause.moment, []) if at.trigger == claim.name]
        if (soonest := min(ends)) > again:
            return
        more = again + 2 - soonest + soonest % 2
        instead = _until_later(claim, clause.moment, more) if clause.moment is not None else None
        why = (
            f"{claim.name} can be worked again {steps_text(again)} after an act at the soonest, "
            f"and {_until(claim)} comes {steps_text(max(soonest, 0))} after it: nothing is ignored"
        )
        raise refuse(claim, why, instead, more if instead else 0)

    def trigger(self, event: str) -> str:
        """The trigger whose act an event is."""
        return self.keys.trigger(event) or worked_name(event)

    def _while(self, claim: Claim, clause: Policy) -> int:
        ends: list[int] = []
        for atom in condition_atoms(clause.condition):
            if atom.kind != "output" or atom.name in self.follows:
                raise refuse(claim, "it hangs on more than this trigger's outputs")
            ends += [
                one.end.steps
                for one in self.spans(atom.name)
                if one.end and self.trigger(one.end.trigger) == claim.name
            ]
        if not ends:
            raise refuse(claim, f"its end does not follow from {claim.name} alone")
        return max(ends)


def _until(claim: Claim) -> str:
    """What a policy lasts until, in the claim's words."""
    return claim.text.partition(" until ")[2].partition(",")[0].partition(";")[0] or "its end"


def _until_later(claim: Claim, moment: Moment, more: int) -> str | None:
    """A policy's claim with a moment so many steps later, if its words can be changed."""
    head, until, tail = claim.text.partition(" until ")
    old = _until(claim)
    if not until or moment.event is None or not old.startswith(str(moment.event)) or moment.condition is not None:
        return None
    steps = moment.steps + more
    words = f"{moment.event} {'+' if steps > 0 else '-'} {steps_text(abs(steps))}" if steps else f"{moment.event}"
    return f"{head}{until}{words}{tail[len(old) :]}"


def with_length_for(text: str, length: int) -> str | None:
    """A claim of one clause with its end as a length.

    >>> with_length_for("lamp: on from gate on + 5 s until gate off + 1 s, give or take 1 step", 40)
    'lamp: on from gate on + 5 s for 2 s, give or take 1 step'
    """
    head, until, tail = text.partition(" until ")
    if not until or ";" in text or "pulse" in head:
        return None
    return f"{head} for {steps_text(length)}{tail[len(tail.partition(',')[0]) :]}"


def _trigger_of(clause: While) -> tuple[str, bool] | None:
    """The one trigger that a "while" looks at, and whether it must be on; None if it looks at something else."""
    condition, wanted = clause.condition, True
    while isinstance(condition, Not):
        condition, wanted = condition.inner, not wanted
    if not isinstance(condition, Has) or condition.kind != "trigger":
        return None
    return condition.name, condition.on == wanted


def merged(spans: list[Away]) -> tuple[Away, ...]:
    """Spans of one trigger that overlap or touch become one; pulses of one claim that touch were refused before."""
    kept: list[Away] = []
    for one in spans:
        last = kept[-1] if kept else None
        if last is None or not _meets(last, one):
            kept.append(one)
        elif one.end is None or last.end is None or one.end.trigger != last.end.trigger:
            raise Refusal(one.claim.text, "it overlaps another span of the same output")
        else:
            longer = max(one.end.steps, last.end.steps)
            kept[-1] = Away(last.begin, At(one.begin.trigger, longer), last.claim)
    return tuple(kept)


def _meets(last: Away, one: Away) -> bool:
    """Whether a span begins before, or as, the one before it ends: known if all follow from one trigger."""
    triggers = {last.begin.trigger, one.begin.trigger, last.end.trigger if last.end else None}
    return len(triggers) == 1 and last.end is not None and one.begin.steps <= last.end.steps


def steps_text(steps: int) -> str:
    """A number of steps as a duration that charts read.

    >>> steps_text(6), steps_text(21)
    ('0.3 s', '1.05 s')
    """
    return duration_text(steps)
