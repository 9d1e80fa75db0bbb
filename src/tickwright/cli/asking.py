"""The conversation of `tickwright diagnose --ask`: in the terminal, by answers given beforehand, and as JSON."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from pathlib import Path

import typer

from tickwright import Plan
from tickwright.cli.show import print_json, stoppable
from tickwright.cli.stopping import STOPPED
from tickwright.cli.style import print_wrapped
from tickwright.diagnosis import Conversation, Leading, Round, picture
from tickwright.errors import UsageError

_NAMED = re.compile(r"\b([A-Za-z]) \((\d+), (\d+), (\d+)\)")
HELP = (
    'Answer in your words: cells or letters that are lit ("ab", "2,0,1 3,0,1", "none"), "on for 4.3 s", "never on", a '
    'part ("repeater east delay=2", "nothing", "as planned"), a cell with what '
    'stands in it ("3,0,1 wire"), "yes", "no"; "don\'t know" goes on, "back" takes the '
    "last answer back, an empty line ends it."
)


def converse(path: Path, plan: Plan, rules: str | None, answers: Iterable[str], as_json: bool) -> None:
    """Ask and take answers: first those given, then, in a terminal, those typed.

    Raises UsageError for a given answer that answers nothing.
    """
    with stoppable() as tell:
        talk = Conversation(plan, rules, tell)
        for number, text in enumerate(answers, 1):
            if tell(f"taking answer {number}"):
                raise typer.Exit(STOPPED)
            _answer(talk, number, text)
    if as_json:
        rounds = [one.as_data() for one in talk.rounds]
        print_json({"plan": str(path), "rules": talk.rules.name, "rounds": rounds, "next": talk.asks()})
        return
    if sys.stdin.isatty() and sys.stdout.isatty():
        _in_terminal(talk)
        return
    for one in talk.rounds:
        _show_round(one)
    _show_picture(talk)
    _show_leading(talk.round.leading)


def _answer(talk: Conversation, number: int, text: str) -> None:
    try:
        talk.answer(text)
    except UsageError as error:
        raise UsageError(f"Answer {number}: {error}") from None


def _in_terminal(talk: Conversation) -> None:
    print_wrapped(HELP)
    while talk.round.question is not None:
        print()
        print_wrapped(talk.round.question, "bold")
        _show_picture(talk)
        print_wrapped(f"Such as: {' | '.join(_in_letters(talk.round)[:4])}")
        try:
            text = input("> ").strip()
        except (EOFError, KeyboardInterrupt):
            print()
            _show_leading(talk.round.leading)
            raise typer.Exit(STOPPED) from None
        if not text:
            break
        try:
            with stoppable():
                talk.answer(text)
        except UsageError as error:
            print(error)
            continue
        _show_leading(talk.round.leading)
    if talk.over:
        print("Then all is well.")


def _show_picture(talk: Conversation) -> None:
    if talk.question is not None and talk.question.kind == "lit":
        print(*picture(talk.plan, talk.question), sep="\n")


def _show_round(one: Round) -> None:
    if one.question is None:
        print("Done." if one.done else "There is nothing left to ask that would tell more.")
        return
    print_wrapped(one.question)
    print_wrapped(f"  such as: {' | '.join(_in_letters(one))}")


def _in_letters(one: Round) -> list[str]:
    """The answers of a round, cells by the letters that its question gives them.

    >>> _in_letters(Round("which are lit? a (2, 0, 0) lamp, b (0, 0, 1) wire", ("2,0,0 0,0,1", "none"), (), False))
    ['ab', 'none']
    """
    names = {f"{x},{y},{z}": letter for letter, x, y, z in _NAMED.findall(one.question or "")}
    found = []
    for answer in one.answers:
        words = answer.split()
        found.append("".join(names[word] for word in words) if words and names.keys() >= {*words} else answer)
    return found


def _show_leading(leading: Iterable[Leading]) -> None:
    print("Likeliest so far:")
    for one in leading:
        text = ", and ".join(mistake.text for mistake in one.mistakes) or "it is built as planned"
        print_wrapped(f"  {one.chance:5.1%}  {text}")
