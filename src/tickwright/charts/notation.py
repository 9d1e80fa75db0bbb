"""What a chart says, as values: events and moments, conditions, clauses, claims, lines of the hand, machines.

`tickwright.charts.parsing` makes them from text. All times are whole steps of 0.05 s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from tickwright.plan.model import Machine

RESERVED = ("start", "any", "if", "and", "or", "not")
POLICIES = ("ignored", "extends", "restarts", "ready")

Kind = Literal["trigger", "output", "machine"]
What = Literal["worked", "released", "on", "off", "enters", "leaves"]


class Names(NamedTuple):
    """The names that a chart may use: triggers, outputs, and of each machine its states, the first one first."""

    triggers: tuple[str, ...]
    outputs: tuple[str, ...]
    machines: Mapping[str, tuple[str, ...]]

    @classmethod
    def of(cls, triggers: Iterable[str], outputs: Iterable[str], machines: Iterable[Machine] = ()) -> Names:
        """The names of a plan or of a brief."""
        return cls(tuple(triggers), tuple(outputs), {machine.name: machine.states for machine in machines})

    def kind(self, name: str) -> Kind | None:
        """What the name names; None for nothing."""
        if name in self.triggers:
            return "trigger"
        if name in self.outputs:
            return "output"
        return "machine" if name in self.machines else None


class Event(NamedTuple):
    """Something that happens in a step: a trigger is worked or released, an output goes on or off, a machine moves.

    `what` is "worked" or "released", "on" or "off", "enters" or "leaves" (then `state` is the state).
    """

    name: str
    kind: Kind
    what: What
    state: str | None = None

    def __str__(self) -> str:
        if self.what == "worked":
            return self.name
        return f"{self.name} {self.what}" + (f" {self.state}" if self.state else "")


class Ordinal(NamedTuple):
    """Which of an event's times: the `number`-th, or with `every` each `number`-th."""

    number: int
    every: bool = False


@dataclass(frozen=True, slots=True)
class Has:
    """A condition: an output or trigger is on (or off), or a machine is in a state."""

    name: str
    kind: Kind
    on: bool = True
    state: str | None = None


@dataclass(frozen=True, slots=True)
class Not:
    """A condition that holds where `inner` does not."""

    inner: Condition


@dataclass(frozen=True, slots=True)
class Both:
    """A condition that holds where all of `parts` do."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Either:
    """A condition that holds where one of `parts` does."""

    parts: tuple[Condition, ...]


Condition = Has | Not | Both | Either


class Moment(NamedTuple):
    """A moment: `steps` from time 0, or from each of an event's times, those that `ordinal` and `condition` leave."""

    steps: int
    event: Event | None = None
    ordinal: Ordinal | None = None
    condition: Condition | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """`on from M ...` or `off from M ...`: for `lasts_steps`, or until a moment, or (neither) for good."""

    away: Literal["on", "off"]
    begins: Moment
    lasts_steps: int | None = None
    until: Moment | None = None


@dataclass(frozen=True, slots=True)
class Train:
    """`N pulses of D every D from M`; without a `number` they go on until a moment."""

    number: int | None
    length_steps: int
    every_steps: int
    begins: Moment
    until: Moment | None = None


@dataclass(frozen=True, slots=True)
class Never:
    """`never on` or `never off`."""

    state: Literal["on", "off"]


@dataclass(frozen=True, slots=True)
class Level:
    """`level at least L` or `level at most L`."""

    at_least: bool
    level: int


@dataclass(frozen=True, slots=True)
class While:
    """`on while COND, late by D`."""

    condition: Condition
    late_steps: int = 0


@dataclass(frozen=True, slots=True)
class Policy:
    """What a further press does: `word`, one of POLICIES, up to (for "ready": from) `moment`, or while a condition."""

    word: str
    moment: Moment | None = None
    condition: Condition | None = None


Clause = Span | Train | Never | Level | While | Policy


@dataclass(frozen=True, slots=True)
class Claim:
    """One claim of a chart, with its text; `offsets` are where its clauses begin in that text."""

    name: str
    kind: Kind
    clauses: tuple[Clause, ...]
    give_or_take_steps: int = 0
    otherwise_free: bool = False
    text: str = ""
    offsets: tuple[int, ...] = ()

    @property
    def is_policy(self) -> bool:
        """Whether it says what a further press does."""
        return self.kind == "trigger"


@dataclass(frozen=True, slots=True)
class HandLine:
    """One line of the hand: at `moment` the act `who` does, both as `--do` has them."""

    moment: Moment
    who: str
    act: str | None
    text: str

    @property
    def words(self) -> str:
        """WHO[:ACT]."""
        return self.who if self.act is None else f"{self.who}:{self.act}"


@dataclass(frozen=True, slots=True)
class Transition:
    """`STATE, STATE: event if COND -> STATE`; no `states` is any state; the event, or so long after the entry."""

    states: tuple[str, ...]
    to: str
    event: Event | None = None
    ordinal: Ordinal | None = None
    after_steps: int | None = None
    condition: Condition | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Automaton:
    """A state machine as read: the first state is entered at time 0; `deaf_steps` None if the file does not say."""

    name: str
    states: tuple[str, ...]
    transitions: tuple[Transition, ...]
    deaf_steps: int | None = None


@dataclass(frozen=True, slots=True)
class ReadChart:
    """A chart as read: its claims, and what the hand does (None if the file does not say)."""

    name: str
    claims: tuple[Claim, ...]
    hand: tuple[HandLine, ...] | None = None
    watch_steps: int | None = None
    at_rest: bool = True


def condition_atoms(condition: Condition | None) -> Iterator[Has]:
    """All that a condition looks at."""
    if isinstance(condition, Has):
        yield condition
    elif isinstance(condition, Not):
        yield from condition_atoms(condition.inner)
    elif isinstance(condition, Both | Either):
        for part in condition.parts:
            yield from condition_atoms(part)


def clause_moments(clause: Clause) -> tuple[Moment, ...]:
    """The moments that a clause names, the beginning first."""
    if isinstance(clause, Span | Train):
        return (clause.begins, *((clause.until,) if clause.until is not None else ()))
    if isinstance(clause, Policy) and clause.moment is not None:
        return (clause.moment,)
    return ()


def names_in(claim: Claim) -> dict[str, Kind]:
    """Every name that a claim says, its own included, with its kind, in the order of the claim."""
    found: dict[str, Kind] = {claim.name: claim.kind}
    for clause in claim.clauses:
        conditions = [clause.condition] if isinstance(clause, While | Policy) else []
        for moment in clause_moments(clause):
            if moment.event is not None:
                found.setdefault(moment.event.name, moment.event.kind)
            conditions.append(moment.condition)
        for condition in conditions:
            for atom in condition_atoms(condition):
                found.setdefault(atom.name, atom.kind)
    return found
