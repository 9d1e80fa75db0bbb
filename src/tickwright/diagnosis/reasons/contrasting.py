"""One design and not the other: why two designs hold as they do, told from what was read off both runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from tickwright.diagnosis.reasons.explanation import Explained
from tickwright.diagnosis.reasons.sentences import Figure, Sentence
from tickwright.durations import duration_text

LONGEST_CONTRASTED_STEPS = 2_400  # hold, beyond which a comparison of plans leaves their runs alone: that takes long


class _Holds(NamedTuple):
    """What one design's hold is made of: figures of its sentences about one output, None for what was not told."""

    hold: int | None
    members: int | None
    turn: int | None
    turns: int | None
    loss: int | None
    items: int | None
    each: int | None
    least: int | None
    spare: int | None


def contrast(this: Explained, that: Explained, names: tuple[str, str] = ("the first", "the second")) -> tuple[str, ...]:
    """Why two designs differ, in sentences: the holds, their rings or items, the least press; nothing that is alike.

    Both are told of their first output that holds for a time.

    >>> from tickwright import load, why
    >>> from tickwright.plan import examples_folder
    >>> flat, stacked = (why(load(examples_folder() / f"{name}.toml")) for name in ("flat-loop-6", "stacked-loop-3"))
    >>> contrast(stacked, flat, ("the stacked one", "the flat one"))[1]
    'The stacked one makes 14 turns of 0.3 s, the flat one 7 of 0.6 s.'
    """
    told = [_capital(text) for text in _contrasted(_holds(this), _holds(that), *names)]
    return tuple(told)


def _holds(explained: Explained) -> _Holds:
    pairs = list(dict.fromkeys((one.trigger, one.output) for one in explained.sentences))
    sums = {(one.trigger, one.output) for one in explained.sentences if one.kind == "sum"}
    pair = next((pair for pair in pairs if pair in sums), pairs[0] if pairs else ("", ""))
    mine = [one for one in explained.sentences if (one.trigger, one.output) == pair]
    answer = _figures(mine, "answer", "steps")
    ring, items = _figures(mine, "ring", "steps"), _figures(mine, "items", "count")
    return _Holds(
        hold=answer[0] if answer and _of(mine, "sum") is not None else None,
        members=_first(_figures(mine, "ring", "count")),
        turn=_first(ring),
        turns=_first(_figures(mine, "levels", "count")),
        loss=_first(_figures(mine, "loss", "levels")),
        items=_first(items),
        each=_first(_figures(mine, "items", "steps")),
        least=_first(_figures(mine, "least", "steps")),
        spare=_first(_figures(mine, "handover", "steps")[::-1]),
    )


def _of(sentences: list[Sentence], kind: str) -> Sentence | None:
    return next((one for one in sentences if one.kind == kind), None)


def _figures(sentences: list[Sentence], kind: str, unit: str) -> list[int]:
    found = _of(sentences, kind)
    figures: tuple[Figure, ...] = found.figures if found is not None else ()
    return [figure.value for figure in figures if figure.unit == unit]


def _first(values: list[int]) -> int | None:
    return values[0] if values else None


def _contrasted(a: _Holds, b: _Holds, this: str, that: str) -> Iterator[str]:
    if a.hold is not None and b.hold is not None:
        if a.hold == b.hold:
            yield f"both hold {duration_text(a.hold)}."
        else:
            yield f"{this} holds {duration_text(a.hold)}, {that} {duration_text(b.hold)}."
    yield from _what_goes_round(a, b, this, that)
    if a.loss is not None and b.loss is not None and a.loss != b.loss:
        yield f"a turn costs {_levels(a.loss)} in {this}, {b.loss} in {that}."
    if a.least is not None and b.least is not None and a.least != b.least:
        yield f"{this} needs a press of {duration_text(a.least)} at least, {that} of {duration_text(b.least)}."
    if a.spare is not None and b.spare is not None and a.spare != b.spare:
        spare, other = duration_text(a.spare), duration_text(b.spare)
        yield f"when one source lets go, the next has been on for {spare} in {this}, for {other} in {that}."


def _what_goes_round(a: _Holds, b: _Holds, this: str, that: str) -> Iterator[str]:
    ways = [_way(one) for one in (a, b)]
    if a.turns and a.turn and b.turns and b.turn:
        if (a.turns, a.turn) != (b.turns, b.turn):
            mine, theirs = duration_text(a.turn), duration_text(b.turn)
            yield f"{this} makes {a.turns} turns of {mine}, {that} {b.turns} of {theirs}."
        elif a.members == b.members:
            yield f"the rings are alike: {a.turns} turns of {duration_text(a.turn)}."
    elif a.items and a.each and b.items and b.each:
        if (a.items, a.each) != (b.items, b.each):
            gone = f"{a.items} items, one every {duration_text(a.each)}"
            yield f"{this} moves {gone}, {that} {b.items}, one every {duration_text(b.each)}."
    elif all(ways) and ways[0] != ways[1]:
        yield f"{this} holds by {ways[0]}, {that} by {ways[1]}."


def _way(one: _Holds) -> str:
    """What makes the hold, in a few words; "" if it is neither turns nor items."""
    if one.turns and one.turn:
        return f"{one.turns} turns of {duration_text(one.turn)} round a ring"
    if one.items and one.each:
        return f"{one.items} items, one every {duration_text(one.each)}"
    return ""


def _levels(number: int) -> str:
    return f"{number} level" if number == 1 else f"{number} levels"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
