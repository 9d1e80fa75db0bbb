"""Colours and signs of a terminal: none in pipes and with NO_COLOR, plain signs where there are no others."""

from __future__ import annotations

import os
import shutil
import sys
from textwrap import fill
from typing import Literal

from tickwright.cli.settings import CALL

Style = Literal["bold", "answer", "good", "bad", "soft", "lamp"]
_CODES: dict[Style, str] = {"bold": "1", "answer": "1;34", "good": "32", "bad": "31", "soft": "2", "lamp": "33"}
NARROWEST, WIDEST = 44, 160


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


def print_wrapped(line: str) -> None:
    """Print a line of prose; in a terminal as lines that fit its window, those after the first set in."""
    if sys.stdout.isatty():
        set_in = " " * (len(line) - len(line.lstrip()) + 2)
        line = fill(line, window_width(), subsequent_indent=set_in, break_on_hyphens=False)
    print(line)
