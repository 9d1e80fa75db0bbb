"""Text files of the user's in TOML: read within a limit, and every way they can be wrong said with line and column."""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tickwright.errors import PlanError, near
from tickwright.places import Places

LARGEST_FILE_BYTES = 2_000_000
LARGEST_PLAN_BYTES = 64_000_000  # of a plan file, in which ten million parts have room
BYTE_ORDER_MARK = "\ufeff"
_TOO_DEEP = "The file nests lists or tables too deeply: three levels say all that is read."
# tomllib takes very long for a key of very many dotted parts; no row of cells is as long as this.
_ENDLESS_KEY = re.compile(r"""(?<![\w."'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){2100}""")
_ENDLESS_NUMBER = re.compile(r"(?<!\w)(?:[0-9]_?){4300}")  # as many digits as Python reads in one number
_WHERE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


def read_text(path: str | os.PathLike[str], most_bytes: int = LARGEST_FILE_BYTES) -> str:
    """The text of a file of so many bytes at the most, line ends as they are.

    Raises PlanError if the file is missing, too large, a folder, unreadable, or not UTF-8.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise PlanError(f"There is no file {shown(str(path), 200)}.{_near_files(Path(path))}") from None
    except IsADirectoryError:
        raise PlanError(f"{shown(str(path), 200)} is a folder: name the file in it.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise PlanError(f"The file {shown(str(path), 200)} cannot be read: {reason}.") from None
    if len(data) > most_bytes:
        raise _too_large(f"The file {shown(str(path), 200)}", most_bytes)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = len(data[data.rfind(b"\n", 0, error.start) + 1 : error.start].decode("utf-8-sig")) + 1
        what = f"The byte 0x{data[error.start]:02x} here is not UTF-8 text: save the file with the encoding UTF-8."
        raise PlanError(what, line, column) from None


def read_toml(
    text: str, parse_float: Callable[[str], Any] = float, most_bytes: int = LARGEST_FILE_BYTES
) -> tuple[dict[str, Any], Places]:
    """The values of a TOML text, numbers with a point read by `parse_float`; and the places of its keys.

    A byte order mark and CRLF line ends are allowed. Raises PlanError with line and column if it is not TOML.
    """
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        code = ord(text[error.start])
        raise PlanError(
            f"The character U+{code:04X} is half of a pair and no text by itself: remove it.",
            *Places(text).line_column(error.start),
        ) from None
    if size > most_bytes:
        raise _too_large("The text", most_bytes)
    text = plain_newlines(text)
    places = Places(text)
    endless = _ENDLESS_KEY.search(text)
    if endless is not None:
        raise _at(_TOO_DEEP, places, endless.start())
    try:
        return tomllib.loads(text, parse_float=parse_float), places
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), places) from None
    except RecursionError:
        raise PlanError(_TOO_DEEP, 1, 1) from None
    except ValueError as error:
        endless = _ENDLESS_NUMBER.search(text)
        if endless is not None:
            raise _at("This number has thousands of digits: write a smaller one.", places, endless.start()) from None
        raise PlanError(f"The file holds a value that cannot be read: {error}.", 1, 1) from None


def plain_newlines(text: str) -> str:
    """The text without a byte order mark and with plain newlines."""
    return text.removeprefix(BYTE_ORDER_MARK).replace("\r\n", "\n")


def quoted(text: str) -> str:
    """The text as a TOML string in one line."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def shown(value: object, longest: int = 40) -> str:
    """A value as messages show it: short, printable, text in double quotes."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > 128:
        return "a number of over 38 digits"
    text = str(value)
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    cut = "".join(character if character.isprintable() else ascii(character)[1:-1] for character in cut)
    return f'"{cut}"' if isinstance(value, str) else cut


def _too_large(what: str, most_bytes: int) -> PlanError:
    return PlanError(f"{what} is over {most_bytes:,} bytes, the most that is read: split it.")


def _near_files(path: Path) -> str:
    try:
        names = sorted(entry.name for entry in path.parent.glob("*.toml"))[:100]
    except (OSError, ValueError):
        return ""
    like = near(path.name, names, 0.8)  # their ends are alike anyway
    if like.startswith(" Did") or not names or len(names) > 10:
        return like if like.startswith(" Did") else ""
    return f" Files there: {', '.join(names)}."


def _syntax_error(message: str, places: Places) -> PlanError:
    where = _WHERE.search(message)
    detail = _WHERE.sub("", message)
    scan = places.scan
    if scan.unclosed is not None and ("Unterminated" in detail or "Expected" in detail or "Illegal" in detail):
        return _at(
            "The text that begins here is never closed: end it with the quotes that it begins with; only text in three "
            "quotes may run over several lines.",
            places,
            scan.unclosed,
        )
    if scan.repeated is not None and ("overwrite" in detail or "twice" in detail or "Duplicate" in detail):
        path, first, second = scan.repeated
        line = places.line_column(first)[0]
        name = ".".join(str(part) for part in path if isinstance(part, str))
        rule = "give it once, or another name."
        if places.text[first] == places.text[second] == "[":
            rule = "write its table once; a list of tables, such as [[layer]], has two brackets each time."
        return _at(f"{shown(name)} is given twice, first in line {line}: {rule}", places, second)
    if where is not None and where[1]:
        line, column = int(where[1]), int(where[2])
    else:
        line, column = places.line_column(len(places.text))
    lines = places.text.split("\n")
    text = shown(lines[line - 1].strip(), 60)[1:-1] if line <= len(lines) else ""
    if any(word in detail for word in ("overwrite", "twice", "mutate", "immutable")):
        rule = (
            "this name is given already, in another way: give it once, and write [[layer]] with two brackets each time."
        )
    else:
        rule = 'a line is a [table], a # comment, or name = value with text in quotes, such as "w" = "wire".'
    return PlanError(f"This is not TOML ({detail}), {text or 'the end of the file'}: {rule}", line, column)


def _at(message: str, places: Places, offset: int) -> PlanError:
    return PlanError(message, *places.line_column(offset))
