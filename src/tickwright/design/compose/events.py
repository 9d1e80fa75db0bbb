"""The events that spans may count from, beyond plain acts: moves of machines, ordinals, conditions, deaf times.

Each has a *key*, which stands in an `At` where a trigger's name would. A key stands for moves of a machine: one of the
brief's own, or a *watcher*, a small machine that is made for it (one that counts presses, say).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import count
from typing import NamedTuple

from tickwright.charts.notation import Automaton, Both, Condition, Either, Event, Has, Moment, Not, Ordinal, Transition
from tickwright.design.compose.machine_tiles import HELD

Pair = tuple[str, str]
Literals = tuple[tuple[str, bool], ...]  # triggers that must all be on (True) or off
DEAF_STEPS = HELD  # after a move, a machine as it is built hears nothing


class Moves(NamedTuple):
    """What a key stands for: a machine, and those of its moves (from, to) that are meant."""

    machine: str
    pairs: frozenset[Pair]


class WatchedAct(NamedTuple):
    """An act that is to be watched: the event, which of its times, and on what condition."""

    event: Event
    ordinal: Ordinal | None = None
    condition: Condition | None = None


@dataclass
class Keys:
    """All keys that the moments of a brief ask for."""

    moves: dict[str, Moves] = field(default_factory=dict)
    asked: dict[str, WatchedAct] = field(default_factory=dict)
    watchers: list[Automaton] = field(default_factory=list)

    def of_moves(self, key: str, moves: Moves) -> str:
        """The key of moves of one of the brief's machines."""
        self.moves[key] = moves
        return key

    def of_act(self, moment: Moment) -> str:
        """The key of an act with an ordinal or a condition."""
        assert moment.event is not None
        ordinal = None if moment.ordinal == Ordinal(1, True) else moment.ordinal
        one = WatchedAct(moment.event, ordinal, moment.condition)
        key = told_act(one)
        self.asked[key] = one
        return key

    def trigger(self, key: str) -> str | None:
        """The trigger whose act a key is; None for moves of a machine of the brief."""
        return self.asked[key].event.name if key in self.asked else None

    def words(self, key: str) -> str:
        """The event that a key stands for as claims write it, without its condition.

        >>> keys = Keys(asked={"press if safe on": WatchedAct(Event("press", "trigger", "worked"))})
        >>> keys.words("press if safe on"), keys.words("lock enters open")
        ('press', 'lock enters open')
        """
        return told_act(self.asked[key]._replace(condition=None)) if key in self.asked else key

    def watch(self, key: str, one: WatchedAct, deaf_for: int, taken: set[str], each: bool = False) -> None:
        """Make the machine that watches for an act; it is deaf so long once that counted, with `each` after any."""
        made, pairs = watcher(free_name("watch", taken), one, deaf_for, each)
        self.watchers.append(made)
        self.asked[key] = one
        self.moves[key] = Moves(made.name, frozenset(pairs))


def free_name(stem: str, taken: set[str]) -> str:
    """A name that nothing has yet; from then on it is taken.

    >>> free_name("watch", {"watch0"})
    'watch1'
    """
    name = next(text for number in count() if (text := f"{stem}{number}") not in taken)
    taken.add(name)
    return name


def told_act(one: WatchedAct) -> str:
    """An act as charts write it, but for its offset.

    >>> told_act(WatchedAct(Event("press", "trigger", "worked"), Ordinal(3, True), Has("safe", "trigger")))
    'every 3rd press if safe on'
    """
    which = f"{ordinal_text(one.ordinal)} " if one.ordinal else ""
    return f"{which}{one.event}" + (f" if {condition_text(one.condition)}" if one.condition else "")


def ordinal_text(ordinal: Ordinal) -> str:
    """An ordinal as charts write it.

    >>> ordinal_text(Ordinal(2)), ordinal_text(Ordinal(11, True))
    ('2nd', 'every 11th')
    """
    ends = {1: "st", 2: "nd", 3: "rd"}
    number = f"{ordinal.number}{ends.get(ordinal.number % 10 if ordinal.number % 100 not in (11, 12, 13) else 0, 'th')}"
    return f"every {number}" if ordinal.every else number


def condition_text(condition: Condition) -> str:
    """A condition as charts write it.

    >>> condition_text(Both((Has("a", "trigger"), Not(Has("m", "machine", state="b")))))
    '(a on and not m is b)'
    """
    if isinstance(condition, Has):
        word = f"is {condition.state}" if condition.state else "on" if condition.on else "off"
        return f"{condition.name} {word}"
    if isinstance(condition, Not):
        return f"not {condition_text(condition.inner)}"
    word = " and " if isinstance(condition, Both) else " or "
    return f"({word.join(map(condition_text, condition.parts))})"


def watcher(
    name: str, one: WatchedAct, deaf_for: int, each: bool = False
) -> tuple[Automaton, list[Pair]]:  # fmt: skip
    """The machine that watches for an act, and its moves that stand for it.

    An act that is to count each time takes one state; an ordinal counts in states. After an act that counts it is deaf
    for `deaf_for` steps, which takes a state more; with `each` after every act that it takes.

    >>> press = Event("press", "trigger", "worked")
    >>> watcher("w", WatchedAct(press, Ordinal(2)), 0)[0].states
    ('s0', 's1', 's2')
    """
    meant = _counted(one)
    waits = max(DEAF_STEPS, deaf_for - DEAF_STEPS)  # it is deaf when it has come back, too
    last = max(max(begin, end) for begin, end, _, _ in meant)
    moves: list[Transition] = []
    pairs: list[Pair] = []
    for begin, end, condition, counts in meant:
        to = end
        if deaf_for > DEAF_STEPS and (each or counts) and any(end == following for following, *_ in meant):
            last = to = last + 1
            moves.append(Transition((f"s{to}",), f"s{end}", after_steps=waits))
        moves.append(Transition((f"s{begin}",), f"s{to}", event=one.event, condition=condition))
        if counts:
            pairs.append((f"s{begin}", f"s{to}"))
    return Automaton(name, tuple(f"s{place}" for place in range(last + 1)), tuple(moves)), pairs


def _counted(one: WatchedAct) -> list[tuple[int, int, Condition | None, bool]]:
    """How a watcher counts: (from, to, condition, whether this is an act that is meant)."""
    if one.ordinal is None:
        return [(0, 0, one.condition, True)]
    number = one.ordinal.number
    moves: list[tuple[int, int, Condition | None, bool]] = [
        (place, place + 1, None, False) for place in range(number - 1)
    ]
    if one.ordinal.every and one.condition is None:
        return [*moves, (number - 1, 0, None, True)]
    moves.append((number - 1, number, one.condition, True))
    if one.condition is not None:  # the act of this number that the condition does not hold for
        moves.append((number - 1, 0 if one.ordinal.every else number + 1, None, False))
    if one.ordinal.every:
        moves.append((number, 1, None, False))
    return moves


def alternatives(condition: Condition | None) -> tuple[Literals, ...] | None:
    """A condition on triggers as alternatives, each the levels that must all be on (True) or off; None if on others.

    >>> a, b = Has("a", "trigger"), Has("b", "trigger")
    >>> alternatives(Not(Both((a, Not(b)))))
    ((('a', False),), (('b', True),))
    """
    return _alternatives(condition, True) if condition is not None else ((),)


def _alternatives(condition: Condition, wanted: bool) -> tuple[Literals, ...] | None:
    if isinstance(condition, Has):
        return (((condition.name, condition.on == wanted),),) if condition.kind == "trigger" else None
    if isinstance(condition, Not):
        return _alternatives(condition.inner, not wanted)
    parts = [_alternatives(part, wanted) for part in condition.parts]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    if isinstance(condition, Either) == wanted:
        return tuple(dict.fromkeys(one for part in known for one in part))
    found: list[Literals] = [()]
    for part in known:
        found = [tuple(dict.fromkeys((*one, *more))) for one in found for more in part]
    return tuple(one for one in dict.fromkeys(found) if not any((name, not on) in one for name, on in one))


def moves_of(machine: Automaton) -> set[Pair]:
    """All moves that a machine's transitions allow: (from, to)."""
    return {(state, one.to) for one in machine.transitions for state in one.states or machine.states}


def again_steps(machine: Automaton, pairs: frozenset[Pair]) -> int | None:
    """How soon one of some moves of a machine can follow another of them, at the soonest; None if never."""
    cost: dict[Pair, int] = {}
    for one in machine.transitions:
        for state in one.states or machine.states:
            steps = max(DEAF_STEPS, one.after_steps or 0)
            cost[state, one.to] = min(cost.get((state, one.to), steps), steps)
    best: int | None = None
    for _, to in pairs:
        known = {to: 0}
        waiting = [to]
        while waiting:
            here = waiting.pop()
            for (begin, end), steps in cost.items():
                if begin == here and known[here] + steps < known.get(end, 1 << 60):
                    known[end] = known[here] + steps
                    waiting.append(end)
        for begin, end in pairs:
            if begin in known and (begin, end) in cost:
                steps = known[begin] + cost[begin, end]
                best = steps if best is None else min(best, steps)
    return best
