"""The conversation about a build, kept in the process that does its jobs: a job takes all answers, the last is new."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from tickwright import Plan, RuleSet
from tickwright.diagnosis import Conversation, Round
from tickwright.rules import Layout, Stand
from tickwright.space import Cell
from tickwright.workbench.cells import drawn_at

LIT = "which of these are lit?"


class Asking(NamedTuple):
    """What a page shows of a conversation: the round, of what `kind` its question is, and the picture to tap in.

    `picture` has the layers with what can be tapped, None where nothing is; `over` says that all is well now.
    """

    round: Round
    kind: str
    question: str
    picture: dict[str, Any] | None
    over: bool


class _Kept(NamedTuple):
    plan: Plan
    rules: RuleSet
    answers: tuple[str, ...]
    talk: Conversation


_kept: list[_Kept] = []  # the conversation that was asked last, at most one


def ask(tell: Callable[[Any], bool], plan: Plan, rules: RuleSet, answers: Sequence[str]) -> Asking:
    """Go on with a conversation: what comes after these answers, "back" among them. Tells what is being done.

    Raises UsageError for an answer that answers nothing; the conversation stands as before it.
    """

    def progress(what: str) -> bool:
        tell(what)
        return False

    said = tuple(answers)
    known = _kept.pop() if _kept else None
    if known is None or known.plan != plan or known.rules != rules or known.answers != said[: len(known.answers)]:
        known = _Kept(plan, rules, (), Conversation(plan, rules, progress))
    talk = known.talk
    talk.progress = progress
    taken = len(known.answers)
    try:
        for answer in said[taken:]:
            talk.answer(answer)
            taken += 1
    finally:
        _kept.append(_Kept(plan, rules, said[:taken], talk))
    return _shown(talk)


def _shown(talk: Conversation) -> Asking:
    now, question = talk.round, talk.question
    kind = question.kind if question is not None else ""
    text = now.question or ""
    if kind == "lit" and LIT in text:
        text = f"{text.split(LIT)[0]}which parts are lit?"
    picture = picture_of(talk.plan, talk.rules, question.cells) if question is not None and kind == "lit" else None
    return Asking(now, kind, text, picture, talk.over)


def picture_of(plan: Plan, rules: RuleSet, cells: Sequence[Cell]) -> dict[str, Any]:
    """The layers that hold these cells, as they are drawn: rows x, y, z, the number of the sort, and whether asked."""
    layout = Layout({cell: Stand(part) for cell, part in plan.cells.items()}, rules)
    asked = set(cells)
    layers = sorted({z for _, _, z in cells})
    numbers: dict[Any, int] = {}
    rows = [
        (*cell, numbers.setdefault(drawn_at(layout, cell), len(numbers)), cell in asked)
        for cell in plan.cells
        if cell[2] in layers
    ]
    return {"sorts": [drawn.as_data() for drawn in numbers], "rows": rows, "layers": layers, "size": plan.size}
