"""What holds for the whole call, whichever command it is: how much is said, in which colours, and where answers go."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from typing import Any, TextIO

STANDARD = Path("-")  # standard input as a plan, standard output as a file to write


class Settings:
    """The settings of the call under way; `begin_call` sets them back."""

    def __init__(self) -> None:
        self.quiet = False  # say nothing but errors and what was asked for as data
        self.colours = True
        self.answers: TextIO | None = None  # where data goes while what is for people is silenced
        self.collected: list[Any] | None = None  # documents of several plans, until all are there
        self.folders: set[Path] = set()  # where to write, as typed with a slash at its end


CALL = Settings()


def begin_call() -> None:
    """A call begins: nothing is set yet."""
    CALL.__init__()  # type: ignore[misc]


def answer_stream() -> TextIO:
    """Where data that was asked for goes: standard output, silenced or not."""
    return CALL.answers if CALL.answers is not None else sys.stdout


class _Nowhere(io.TextIOBase):
    """Takes what is for people and shows it to nobody."""

    encoding = "utf-8"

    def write(self, text: str) -> int:
        return len(text)


@contextmanager
def silenced(silent: bool) -> Iterator[None]:
    """While it lasts what is printed for people is dropped if `silent`; data still goes to standard output."""
    if not silent:
        yield
        return
    CALL.answers = sys.stdout
    try:
        with redirect_stdout(_Nowhere()):
            yield
    finally:
        CALL.answers = None
