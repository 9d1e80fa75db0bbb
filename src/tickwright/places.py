"""Where things stand in the text of a plan file: the line and column of a key, a value or a cell's character.

tomllib gives values without places, and fast; this light scan of the same text is made only when an error needs one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from functools import cached_property
from typing import NamedTuple

from tickwright.errors import PlanError
from tickwright.space import Cell

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\n]++|#[^\n]*+)*+")
_SPACE = re.compile(r"[ \t]*+")
_BARE = re.compile(r"[A-Za-z0-9_-]++")
_STRING = re.compile(
    r'"""(?:[^\\"]++|\\.|"(?!""))*+"""(?:"{0,2})'
    r"|'''(?:[^']++|'(?!''))*+'''(?:'{0,2})"
    r'|"(?!"")(?:[^"\\\n]++|\\[^\n])*+"'
    r"|'(?!'')[^'\n]*+'",
    re.DOTALL,
)
_PLAIN = re.compile(r"[^\s,\]}#]*+(?:[ \t]++[^\s,\]}#]++)*+")
_ESCAPE = re.compile(r"\\(?:u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|[ \t]*\n[ \t\n]*|.)", re.DOTALL)


class Spot(NamedTuple):
    """Offsets into the text: of a key (or a table's header, or a list's entry), of its value, and where that ends."""

    key: int
    value: int
    end: int


class _ScanEnd(Exception):
    """The scan met something it cannot read; what it found so far stands."""


class Places:
    """Finds lines and columns (from 1) in the text of a plan file; line ends must be plain newlines.

    A path is the way to a value, such as ("layer", 2, "rows"). A path that the text does not hold is answered with
    the nearest one above it, at last with the start of the file.

    >>> Places('title = "Bell"').of("title")
    (1, 1)
    """

    def __init__(self, text: str) -> None:
        self.text = text

    @cached_property
    def scan(self) -> Scan:
        """The scan of the text, made when first asked for."""
        return Scan(self.text)

    def of(self, *path: str | int) -> tuple[int, int]:
        """Line and column of the key at `path`, or of the nearest one above it."""
        for length in range(len(path), 0, -1):
            spot = self.scan.spots.get(path[:length])
            if spot is not None:
                return self.line_column(spot.key)
        return (1, 1)

    def of_cell(self, cell: Cell) -> tuple[int, int]:
        """Line and column of a cell's character, or of its layer's rows if the rows do not reach that far."""
        x, y, z = cell
        path = ("layer", z, "rows")
        spot = self.scan.spots.get(path)
        if spot is not None:
            here_x = here_y = 0
            for character, offset in string_characters(self.text, spot.value):
                if (here_x, here_y) == (x, y) and character != "\n":
                    return self.line_column(offset)
                here_x, here_y = (0, here_y + 1) if character == "\n" else (here_x + 1, here_y)
        return self.of(*path)

    def line_column(self, offset: int) -> tuple[int, int]:
        """The line and column of a character of the text."""
        return (self.text.count("\n", 0, offset) + 1, offset - self.text.rfind("\n", 0, offset))

    def error(self, message: str, *path: str | int) -> PlanError:
        """A PlanError placed at the key of that path."""
        return PlanError(message, *self.of(*path))

    def cell_error(self, message: str, cell: Cell) -> PlanError:
        """A PlanError placed at a cell's character."""
        return PlanError(message, *self.of_cell(cell), cells=(cell,))


class Scan:
    """One walk over TOML text: `spots` of all paths, and where a text that is not TOML goes wrong in two ways.

    `repeated` is the path, first and second offset of a key given twice; `unclosed` is where a string begins that
    never ends. Both are None where the text is right.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.spots: dict[Path, Spot] = {}
        self.repeated: tuple[Path, int, int] | None = None
        self.unclosed: int | None = None
        self._lists: dict[Path, int] = {}
        with suppress(_ScanEnd, RecursionError):
            self._statements()

    def _statements(self) -> None:
        table: Path = ()
        while True:
            self._skip(_BLANK)
            if self.at >= len(self.text):
                return
            table = self._header() if self.text[self.at] == "[" else self._pair(table)

    def _header(self) -> Path:
        start = self.at
        listed = self.text.startswith("[[", start)
        self.at += 2 if listed else 1
        parts = self._key()
        path: Path = ()
        for part in parts:
            path += (part,)
            if path in self._lists and not (listed and len(path) == len(parts)):
                path += (self._lists[path] - 1,)
        if listed:
            self._lists[path] = self._lists.get(path, 0) + 1
            self.spots.setdefault(path, Spot(start, start, start))
            path += (self._lists[path] - 1,)
        self._note(path, start, start)
        self._expect("]]" if listed else "]")
        self._end(path)
        return path

    def _pair(self, table: Path) -> Path:
        start = self.at
        parts = self._key()
        self._expect("=")
        self._skip(_SPACE)
        for length in range(1, len(parts)):
            self.spots.setdefault(table + parts[:length], Spot(start, self.at, self.at))
        self._note(table + parts, start, self.at)
        self._value(table + parts)
        return table

    def _note(self, path: Path, key: int, value: int) -> None:
        if path in self.spots:
            self.repeated = self.repeated or (path, self.spots[path].key, key)
            raise _ScanEnd
        self.spots[path] = Spot(key, value, value)

    def _end(self, path: Path) -> None:
        self.spots[path] = self.spots[path]._replace(end=self.at)

    def _key(self) -> tuple[str, ...]:
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            bare = _BARE.match(self.text, self.at)
            if bare:
                parts.append(bare.group())
                self.at = bare.end()
            else:
                parts.append(self._string())
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return tuple(parts)
            self.at += 1

    def _value(self, path: Path) -> None:
        first = self.text[self.at : self.at + 1]
        if first in ("'", '"') and first:
            self._string()
        elif first == "[":
            self._entries(path, "]")
        elif first == "{":
            self._entries(path, "}")
        else:
            self._skip(_PLAIN)
        self._end(path)

    def _entries(self, path: Path, close: str) -> None:
        self.at += 1
        number = 0
        while True:
            self._skip(_BLANK)
            if self.text.startswith(close, self.at):
                self.at += 1
                return
            if close == "}":
                self._pair(path)
            else:
                self._note((*path, number), self.at, self.at)
                self._value((*path, number))
            number += 1
            self._skip(_BLANK)
            if not self.text.startswith(close, self.at):
                self._expect(",")

    def _string(self) -> str:
        match = _STRING.match(self.text, self.at)
        if match is None:
            if self.text[self.at : self.at + 1] in ("'", '"'):
                self.unclosed = self.at
            raise _ScanEnd
        self.at = match.end()
        try:
            return str(tomllib.loads(f"it = {match.group()}")["it"])
        except tomllib.TOMLDecodeError:
            raise _ScanEnd from None

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _expect(self, mark: str) -> None:
        if not self.text.startswith(mark, self.at):
            raise _ScanEnd
        self.at += len(mark)


def string_characters(text: str, start: int) -> Iterator[tuple[str, int]]:
    """Each character that the TOML string at `start` holds, with the offset at which it is written."""
    match = _STRING.match(text, start)
    if match is None:
        return
    quote = text[start : start + 3] if text.startswith(('"""', "'''"), start) else text[start]
    at, end = start + len(quote), match.end() - len(quote)
    if len(quote) == 3 and text.startswith("\n", at):
        at += 1
    while at < end:
        if text[at] != "\\" or quote[0] == "'":
            yield text[at], at
            at += 1
            continue
        escape = _ESCAPE.match(text, at)
        assert escape is not None  # the text is valid TOML
        if "\n" not in escape.group():
            yield tomllib.loads(f'it = "{escape.group()}"')["it"], at
        at = escape.end()
