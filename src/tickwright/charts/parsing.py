"""One parser for the notation of charts: claims, lines of the hand, transitions, conditions and moments.

Each function takes a text and the names there are. What cannot be read raises NotationError, which knows the place in
the text and what may stand there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal, NamedTuple

from tickwright.charts.notation import (
    POLICIES,
    Both,
    Claim,
    Clause,
    Condition,
    Either,
    Event,
    HandLine,
    Has,
    Level,
    Moment,
    Names,
    Never,
    Not,
    Ordinal,
    Policy,
    Span,
    Train,
    Transition,
    While,
)
from tickwright.durations import parse_duration
from tickwright.errors import DurationError, TickwrightError, near

MOST_PULSES = 100_000
_TOKEN = re.compile(
    r"\s*(?:(?P<ordinal>[0-9]+(?:st|nd|rd|th)\b)|(?P<number>[0-9]+(?:\.[0-9]+)?)"
    r"|(?P<word>[A-Za-z_](?:[A-Za-z0-9_.]|-(?!>))*)|(?P<mark>->|[:;,+()-])|(?P<other>\S))"
)
_DURATION = 'a duration such as "2 s"'


class NotationError(TickwrightError):
    """A text of a chart that cannot be read: `at` is the place in it, from 0; `message` says what may stand there."""

    def __init__(self, message: str, at: int) -> None:
        super().__init__(message)
        self.message = message
        self.at = at

    @property
    def sentence(self) -> str:
        """The message with its end: a full stop where it has no question mark."""
        return self.message if self.message.endswith("?") else f"{self.message}."


class Figure(NamedTuple):
    """A time that a clause says, and where: `role` is "begins", "until", "lasts", "length" or "every".

    It stands from `start` to `stop`; that is the duration, or, of a moment with an event, all that comes between the
    event and what follows (nothing where no "+ D" or "- D" stands).
    """

    clause: int
    role: str
    start: int
    stop: int
    steps: int
    after_event: bool


class Token(NamedTuple):
    """A word, number, ordinal or mark of the text, and where it begins; sort "end" after the last."""

    sort: str
    text: str
    at: int


def parse_claim(text: str, names: Names) -> Claim:
    """Read `NAME: clause; clause ..., give or take D, otherwise free`.

    >>> claim = parse_claim("lamp: on from press + 2 steps for 5 s", Names(("press",), ("lamp",), {}))
    >>> claim.clauses[0].begins.steps, claim.clauses[0].lasts_steps
    (2, 100)
    """
    return _Reader(text, names).claim()


def figures_of(text: str, names: Names) -> list[Figure]:
    """The times that the clauses of a claim say, and where they stand in its text. Raises as `parse_claim`.

    >>> text = "lamp: on from press + 2 steps for 5 s"
    >>> [(one.role, text[one.start:one.stop]) for one in figures_of(text, Names(("press",), ("lamp",), {}))]
    [('begins', ' + 2 steps'), ('lasts', '5 s')]
    """
    reader = _Reader(text, names)
    reader.claim()
    return reader.figures


def parse_hand_line(text: str, names: Names) -> HandLine:
    """Read `MOMENT: WHO[:ACT]`; a number alone is steps. The act itself is read by the plan's hand.

    >>> line = parse_hand_line("lamp off + 2 s: press", Names(("press",), ("lamp",), {}))
    >>> line.moment.steps, line.words
    (40, 'press')
    """
    when, colon, what = text.partition(":")
    if not colon:
        raise NotationError('here ":" is missing: write MOMENT: WHO or MOMENT: WHO:ACT, such as "0: press"', len(text))
    reader = _Reader(when, names)
    moment = reader.moment(bare_steps=True)
    if reader.here.sort != "end":
        raise reader.wrong('":" and who is worked')
    if moment.ordinal is not None and moment.ordinal.every:
        raise NotationError("an act comes once: write 1st, 2nd and so on instead of every", 0)
    event = moment.event
    if event is not None and event.kind != "trigger" and moment.steps < 0:
        raise NotationError(f'"- D" cannot stand after "{event}" here: an act comes after what it waits for', 0)
    who, colon, act = what.partition(":")
    if not who.strip():
        raise NotationError("here the name of a trigger or a cell x,y,z is missing", len(text))
    if colon and not act.strip():
        raise NotationError("here an act is missing: leave the last colon out for the usual act", len(text))
    return HandLine(moment, who.strip(), act.strip() if colon else None, text)


def parse_transition(text: str, names: Names, states: tuple[str, ...]) -> Transition:
    """Read `STATE, STATE ...: event [if COND] -> STATE`, or `any: ...`, or with `after D` for the event.

    >>> names = Names(("knock",), (), {"lock": ("shut", "open")})
    >>> parse_transition("open: after 10 s -> shut", names, ("shut", "open")).after_steps
    200
    """
    return _Reader(text, names).transition(states)


def parse_condition(text: str, names: Names) -> Condition:
    """Read a condition that stands alone."""
    reader = _Reader(text, names)
    condition = reader.condition()
    reader.end("and, or")
    return condition


class _Reader:
    """Reads one text from left to right."""

    def __init__(self, text: str, names: Names) -> None:
        self.text = text
        self.names = names
        self.tokens = _tokens(text)
        self.index = 0
        self.clause_number = 0
        self.figures: list[Figure] = []

    # --- tokens ----------------------------------------------------------------------------------------------------

    @property
    def here(self) -> Token:
        return self.tokens[self.index]

    def ahead(self, distance: int = 1) -> Token:
        return self.tokens[min(self.index + distance, len(self.tokens) - 1)]

    def take(self) -> Token:
        token = self.here
        self.index = min(self.index + 1, len(self.tokens) - 1)
        return token

    def note(self, role: str, start: int, steps: int, after_event: bool = False) -> None:
        """Keep where a time was read, which ends with the token before this one."""
        last = self.tokens[self.index - 1]
        self.figures.append(Figure(self.clause_number, role, start, last.at + len(last.text), steps, after_event))

    def taken(self, *words: str) -> bool:
        """Whether these words or marks stand here; if so they are passed."""
        if all(self.ahead(number).text == word for number, word in enumerate(words)):
            self.index += len(words)
            return True
        return False

    def need(self, *words: str, such: str = "") -> None:
        for word in words:
            if not self.taken(word):
                raise self.wrong(f'"{word}"{such}')

    def end(self, more: str) -> None:
        if self.here.sort != "end":
            raise self.wrong(f"{more}, or the end")

    def wrong(self, expected: str, known: Iterable[str] = ()) -> NotationError:
        token = self.here
        what = "the text ends" if token.sort == "end" else f'"{token.text}" cannot stand'
        hint = near(token.text, known) if token.sort == "word" and known else ""
        return NotationError(f"{what} here; what may stand here is {expected}.{hint}".removesuffix("."), token.at)

    # --- claims ----------------------------------------------------------------------------------------------------

    def claim(self) -> Claim:
        name = self.here
        kind = self.names.kind(name.text) if name.sort == "word" else None
        if kind is None or kind == "machine":
            known = (*self.names.outputs, *self.names.triggers)
            raise self.wrong(
                "the name of an output, or of a trigger: " + (", ".join(known) or "the plan names none"), known
            )
        self.take()
        self.need(":")
        clauses: list[Clause] = []
        offsets: list[int] = []
        tolerance: int | None = None
        free = False
        while True:
            at = self.here.at
            if self.taken("give", "or", "take"):
                if tolerance is not None:
                    raise NotationError('"give or take" stands twice: write it once, at the end', at)
                tolerance = self.duration()
            elif self.taken("otherwise", "free"):
                if free:
                    raise NotationError('"otherwise free" stands twice: write it once, at the end', at)
                free = True
            elif tolerance is not None or free:
                raise self.wrong('"give or take D", "otherwise free" or the end; clauses come before these')
            else:
                offsets.append(at)
                self.clause_number = len(clauses)
                clauses.append(self.policy() if kind == "trigger" else self.clause())
            if self.here.sort == "end":
                break
            if not (self.taken(";") or self.taken(",")):
                late = '", late by D", ' if clauses and isinstance(clauses[-1], While) else ""
                raise self.wrong(f'{late}";" or "," and another clause, "give or take D", "otherwise free", or the end')
        return self._whole(Claim(name.text, kind, tuple(clauses), tolerance or 0, free, self.text, tuple(offsets)))

    def _whole(self, claim: Claim) -> Claim:
        """The claim, unless its clauses do not go together."""
        if not claim.clauses:
            raise NotationError("the claim has no clause: write what the output does, such as on from press for 2 s", 0)
        if claim.is_policy and (claim.give_or_take_steps or claim.otherwise_free):
            what = '"give or take" and "otherwise free" belong to the spans of an output, not to what a press does'
            raise NotationError(what, claim.offsets[-1])
        for clause, at in zip(claim.clauses, claim.offsets, strict=True):
            if isinstance(clause, While) and len(claim.clauses) > 1:
                raise NotationError('"on while" stands alone: put the other clauses into claims of their own', at)
        if claim.otherwise_free and not any(isinstance(clause, Span | Train) for clause in claim.clauses):
            raise NotationError('"otherwise free" needs a span beside it, such as on from press for 2 s', 0)
        return claim

    def clause(self) -> Clause:
        """A clause of an output."""
        if self.taken("never"):
            if self.taken("on"):
                return Never("on")
            if self.taken("off"):
                return Never("off")
            raise self.wrong('"on" or "off"')
        if self.taken("level"):
            return self.level()
        if self.here.text in ("on", "off"):
            return self.span()
        if self.here.text in ("pulse", "pulses") or self.here.sort == "number":
            return self.train()
        if self.here.text in POLICIES:
            raise self.wrong(
                'a clause of an output; "ignored", "extends", "restarts" and "ready" are said of a trigger'
            )
        raise self.wrong(
            '"on from", "off from", "on while", "never on", "never off", "level at least", "level at most", or pulses '
            'such as "3 pulses of 0.2 s every 1 s from press"',
            ("on", "off", "never", "level", "pulses"),
        )

    def level(self) -> Level:
        self.need("at")
        at_least = self.here.text == "least"
        if not (self.taken("least") or self.taken("most")):
            raise self.wrong('"least" or "most"')
        token = self.here
        if token.sort != "number" or not token.text.isdigit() or not 1 <= int(token.text) <= 15:
            raise self.wrong("a level, a whole number from 1 to 15")
        self.take()
        return Level(at_least, int(token.text))

    def span(self) -> Clause:
        away: Literal["on", "off"] = "on" if self.take().text == "on" else "off"
        if away == "on" and self.taken("while"):
            condition = self.condition()
            if self.here.text == "," and self.ahead().text == "late":
                self.take()
                self.need("late", "by")
                return While(condition, self.duration())
            return While(condition)
        if not self.taken("from"):
            raise self.wrong('"from" or "while"' if away == "on" else '"from"', ("from", "while"))
        begins = self.moment("begins")
        if self.taken("for"):
            return Span(away, begins) if self.taken("good") else Span(away, begins, self.some_time("lasts", "good"))
        if self.taken("until"):
            return Span(away, begins, until=self.moment("until"))
        raise self.wrong('"for D", "until M" or "for good"' + self._moment_more(begins), ("for", "until"))

    def train(self) -> Train:
        number: int | None = None
        at = self.here.at
        if self.here.sort == "number":
            if not self.here.text.isdigit() or not 1 <= int(self.here.text) <= MOST_PULSES:
                raise self.wrong(f"a whole number of pulses, from 1 to {MOST_PULSES:,}")
            number = int(self.take().text)
        if self.here.text not in ("pulse", "pulses"):
            raise self.wrong('"pulse" or "pulses"')
        self.take()
        self.need("of")
        length = self.some_time("length")
        every = 0
        if self.taken("every"):
            every = self.some_time("every")
            if every <= length and number != 1:
                touching = "pulses that touch are one span: make the time from beginning to beginning longer"
                raise NotationError(f"{touching} than {length} steps, the pulse", at)
        elif number != 1:
            raise self.wrong('"every D", the time from beginning to beginning')
        if not self.taken("from"):
            raise self.wrong('"from"' if every else '"every D" or "from"')
        begins = self.moment("begins")
        until = None
        if number is None:
            if not self.taken("until"):
                raise self.wrong('"until M", or write how many pulses before them' + self._moment_more(begins))
            until = self.moment("until")
        return Train(number, length, every, begins, until)

    def policy(self) -> Policy:
        """A clause of a trigger."""
        word = self.here.text
        if word not in POLICIES:
            raise self.wrong(
                '"ignored until", "ignored while", "extends until", "restarts until" or "ready from"', POLICIES
            )
        self.take()
        if word == "ready":
            self.need("from")
            return Policy(word, self.moment())
        if word == "ignored" and self.taken("while"):
            return Policy(word, condition=self.condition())
        if not self.taken("until"):
            raise self.wrong('"until M" or "while COND"' if word == "ignored" else '"until M"')
        return Policy(word, self.moment())

    # --- moments ---------------------------------------------------------------------------------------------------

    def _moment_more(self, moment: Moment) -> str:
        if moment.event is None or moment.condition is not None:
            return ""
        return ', or before it "if COND"' if moment.steps else ', or before it "+ D", "- D" or "if COND"'

    def moment(self, role: str = "", bare_steps: bool = False) -> Moment:
        """A moment; with `bare_steps` a number alone is steps, else only 0 may stand alone. `role` is its Figure's."""
        at = self.here.at
        moment = self._moment(role, bare_steps)
        if role and moment.event is None:
            self.note(role, at, moment.steps)
        return moment

    def _moment(self, role: str, bare_steps: bool) -> Moment:
        if self.here.sort == "number" and self.ahead().sort != "word":
            if bare_steps or self.here.text == "0":
                if not self.here.text.isdigit() or len(self.here.text) > 12:
                    raise self.wrong("a whole number of steps")
                return Moment(int(self.take().text))
            self.take()
            raise self.wrong("a unit, such as s, ticks or steps")
        if self.here.sort == "number" and (self.here.text != "0" or self._unit_ahead()):
            return Moment(self.duration())
        if self.here.text == "0":
            self.take()
            return Moment(0)
        ordinal = self.ordinal()
        event = self.event()
        last = self.tokens[self.index - 1]
        steps = 0
        if self.here.text in ("+", "-"):
            sign = 1 if self.take().text == "+" else -1
            steps = sign * self.duration()
        if role:
            self.note(role, last.at + len(last.text), steps, after_event=True)
        condition = self.condition() if self.taken("if") else None
        return Moment(steps, event, ordinal, condition)

    def _unit_ahead(self) -> bool:
        return self.ahead().text in ("s", "ms", "min", "h", "tick", "ticks", "step", "steps")

    def ordinal(self) -> Ordinal | None:
        every = self.here.text == "every" and self.ahead().sort == "ordinal"
        if every:
            self.take()
        if self.here.sort != "ordinal":
            return None
        number = int(self.here.text[:-2])
        if not 1 <= number <= 10**6:
            raise self.wrong("1st, 2nd, 3rd and so on")
        self.take()
        return Ordinal(number, every)

    def event(self) -> Event:
        name = self.here
        kind = self.names.kind(name.text) if name.sort == "word" else None
        if kind is None:
            known = [*self.names.triggers, *self.names.outputs, *self.names.machines]
            raise self.wrong(f"{_DURATION}, or an event of {', '.join(known) or 'a trigger or output'}", known)
        self.take()
        if kind == "trigger":
            return Event(name.text, kind, "released" if self.taken("released") else "worked")
        if kind == "output":
            if self.taken("on"):
                return Event(name.text, kind, "on")
            if self.taken("off"):
                return Event(name.text, kind, "off")
            raise self.wrong(f'"on" or "off" ({name.text} is an output)')
        what: Literal["enters", "leaves"] = "enters" if self.here.text == "enters" else "leaves"
        if not (self.taken("enters") or self.taken("leaves")):
            raise self.wrong(f'"enters" or "leaves" ({name.text} is a machine)')
        return Event(name.text, kind, what, self.state(self.names.machines[name.text]))

    def state(self, states: tuple[str, ...]) -> str:
        if self.here.text not in states:
            raise self.wrong(f"a state: {', '.join(states)}", states)
        return self.take().text

    def duration(self) -> int:
        number = self.here
        if number.sort != "number":
            raise self.wrong(_DURATION)
        self.take()
        unit = self.here
        if unit.sort != "word":
            raise self.wrong("a unit, such as s, ticks or steps")
        try:
            steps = parse_duration(f"{number.text} {unit.text}")
        except DurationError as error:
            raise NotationError(str(error).removesuffix("."), number.at) from None
        self.take()
        return steps

    def some_time(self, role: str, other: str = "") -> int:
        """A duration of at least one step."""
        if self.here.sort != "number":
            raise self.wrong(_DURATION + (f' or "{other}"' if other else ""))
        at = self.here.at
        steps = self.duration()
        if steps == 0:
            raise NotationError("a span lasts at least one step", at)
        self.note(role, at, steps)
        return steps

    # --- conditions ------------------------------------------------------------------------------------------------

    def condition(self) -> Condition:
        """`NAME on`, `NAME off`, `MACHINE is STATE`, with and, or, not, brackets; `and` binds closer than `or`."""
        parts = [self._all()]
        while self.taken("or"):
            parts.append(self._all())
        return parts[0] if len(parts) == 1 else Either(tuple(parts))

    def _all(self) -> Condition:
        parts = [self._one()]
        while self.taken("and"):
            parts.append(self._one())
        return parts[0] if len(parts) == 1 else Both(tuple(parts))

    def _one(self) -> Condition:
        if self.taken("not"):
            return Not(self._one())
        if self.taken("("):
            inner = self.condition()
            if not self.taken(")"):
                raise self.wrong('")", "and" or "or"')
            return inner
        name = self.here
        kind = self.names.kind(name.text) if name.sort == "word" else None
        if kind is None:
            known = [*self.names.triggers, *self.names.outputs, *self.names.machines]
            raise self.wrong(f'"not", "(" or a name: {", ".join(known)}', known)
        self.take()
        if kind == "machine":
            if not self.taken("is"):
                raise self.wrong('"is" and a state')
            return Has(name.text, kind, state=self.state(self.names.machines[name.text]))
        if self.taken("on"):
            return Has(name.text, kind, True)
        if self.taken("off"):
            return Has(name.text, kind, False)
        raise self.wrong('"on" or "off"')

    # --- machines --------------------------------------------------------------------------------------------------

    def transition(self, states: tuple[str, ...]) -> Transition:
        """One transition of a machine that has these states."""
        leaving: list[str] = []
        if not self.taken("any"):
            while True:
                if self.here.text not in states:
                    raise self.wrong(f'"any" or a state: {", ".join(states)}', states)
                leaving.append(self.take().text)
                if not self.taken(","):
                    break
        self.need(":")
        event: Event | None = None
        ordinal: Ordinal | None = None
        after: int | None = None
        if self.here.text == "after" and self.ahead().sort == "number":
            self.take()
            at = self.here.at
            after = self.duration()
            if after == 0:
                raise NotationError("a state lasts at least one step before it is left by itself", at)
        elif self.here.sort == "number":
            raise self.wrong('an event, or "after D"')
        else:
            ordinal = self.ordinal()
            event = self.event()
        condition = self.condition() if self.taken("if") else None
        if not self.taken("->"):
            raise self.wrong(
                '"->" and the state it goes to' if condition else '"if COND", or "->" and the state it goes to'
            )
        to = self.state(states)
        self.end("nothing more")
        return Transition(tuple(leaving), to, event, ordinal, after, condition, self.text)


def _tokens(text: str) -> list[Token]:
    tokens = []
    at = 0
    while True:
        match = _TOKEN.match(text, at)
        if match is None:
            break
        sort = str(match.lastgroup)
        tokens.append(Token(sort, match.group(sort), match.start(sort)))
        at = match.end()
    tokens.append(Token("end", "", len(text.rstrip())))
    return tokens
