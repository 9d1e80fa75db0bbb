"""Colours and signs of a terminal: none in pipes and with NO_COLOR, plain signs where there are no others."""

from __future__ import annotations

import os
import re
import shutil
import sys
from textwrap import fill
from typing import Literal

from tickwright.cli.settings import CALL

Style = Literal["bold", "answer", "good", "bad", "soft", "lamp"]
_CODES: dict[Style, str] = {"bold": "1", "answer": "1;34", "good": "32", "bad": "31", "soft": "2", "lamp": "33"}
NARROWEST, WIDEST = 44, 160
_KEPT = re.compile(r"(?:\b[A-Za-z] )?\(\d+, \d+, \d+\)")  # a cell, with its letter: never broken


def styled(text: str, style: Style) -> str:
    """The text in a style, where the terminal shows colours and they are not turned off."""
    off = not CALL.colours or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    if not text or off or not sys.stdout.isatty():
        return text
    return f"\033[{_CODES[style]}m{text}\033[0m"


def shows(text: str) -> bool:
    """Whether standard output can take these signs."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def verdict_mark(passed: bool) -> str:
    """A sign for what passed or failed, in its colour."""
    signs = ("✓", "✗") if shows("✓✗") else ("ok", "x ")
    return styled(signs[not passed], "good" if passed else "bad")


def window_width() -> int:
    """How many columns the window has, within reason; 80 where there is none."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)


def wrapped(line: str, set_in: str = "", width: int | None = None) -> str:
    r"""A line as lines that fit the window, those after the first set in; no cell is broken in two.

    >>> wrapped("which of these are lit? a (2, 0, 1) lamp, b (3, 0, 1) wire", "  ", 32)
    'which of these are lit?\n  a (2, 0, 1) lamp, b (3, 0, 1)\n  wire'
    """
    kept = _KEPT.sub(lambda found: found[0].replace(" ", "\0"), line)
    lines = fill(kept, width or window_width(), subsequent_indent=set_in, break_on_hyphens=False)
    return lines.replace("\0", " ")


def print_wrapped(line: str, style: Style | None = None) -> None:
    """Print a line of prose; in a terminal as lines that fit its window, those after the first set in."""
    if sys.stdout.isatty():
        line = wrapped(line, " " * (len(line) - len(line.lstrip()) + 2))
    print(line if style is None else styled(line, style))
