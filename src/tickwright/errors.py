"""The errors Tickwright raises for bad input, as one tree.

TickwrightError
├── DurationError   a duration that is not a whole number of steps, or has no unit
├── PartError       a part's text that names no part, or gives it an argument it does not take
├── FileError       a text file of the user's, with the line and column at fault
│   ├── RuleSetError    a rule set that does not exist or has a wrong value
│   ├── PlanError       a plan file or an edit that does not describe a valid plan
│   └── NetlistError    a netlist that cannot be read or built
└── UsageError      a command, option or act of the hand that cannot be meant

Each message says what is wrong, where, by which rule and what to do. The command line prints it and exits with 2.
"""

from __future__ import annotations

import errno
from collections.abc import Iterable

__all__ = [
    "DurationError",
    "FileError",
    "NetlistError",
    "PartError",
    "PlanError",
    "RuleSetError",
    "TickwrightError",
    "UsageError",
    "near",
    "reason",
]


class TickwrightError(Exception):
    """Bad input, said in one message; the root of every error that a user can cause."""


class DurationError(TickwrightError):
    """A duration without a unit, or one that is not a whole number of steps."""


class PartError(TickwrightError):
    """A part's text that cannot be read."""


class FileError(TickwrightError):
    """A text file of the user's that cannot be read, or that says what it may not say.

    If it came from a text, `line` and `column` (from 1) say where; if the text came from a file, `path` is that file.
    The message as printed begins with them: 'gangway.toml, line 3, column 5: ...'. `cells` are those at fault.
    """

    def __init__(
        self,
        message: str,
        line: int | None = None,
        column: int | None = None,
        path: str | None = None,
        cells: Iterable[tuple[int, int, int]] = (),
    ) -> None:
        super().__init__(message)
        self.message = message
        self.line = line
        self.column = column
        self.path = path
        self.cells = tuple(cells)

    def __str__(self) -> str:
        place = [self.path] if self.path is not None and self.line is not None else []
        place += [f"line {self.line}", f"column {self.column or 1}"] if self.line is not None else []
        return f"{', '.join(place)}: {self.message}" if place else self.message


class RuleSetError(FileError):
    """A rule set that cannot be found or read."""


class PlanError(FileError):
    """A plan that breaks a rule of the plan file."""


class NetlistError(FileError):
    """A netlist that cannot be read, or that says what cannot be built."""


class UsageError(TickwrightError):
    """A command, option or act that cannot be meant."""


def reason(error: OSError | ValueError) -> str:
    """Why a file could not be read or written, in a few words.

    >>> reason(OSError(errno.ENOSPC, "No space left on device"))
    'disk full'
    """
    if isinstance(error, ValueError):
        return str(error)
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "disk full"
    if error.errno == errno.EFBIG:
        return "the file may not grow any more"
    return error.strerror or str(error)


def near(word: str, known: Iterable[str], likeness: float = 0.7) -> str:
    """Say which known names are like `word`: ' Did you mean "repeater"?', or list them all when none is near.

    How like, from 0 to 1, is `likeness`.

    >>> near("repeter", ["repeater", "torch"])
    ' Did you mean "repeater"?'
    """
    import difflib

    names = sorted(known)
    close = difflib.get_close_matches(word, names, n=3, cutoff=likeness)
    if close:
        return " Did you mean " + " or ".join(f'"{name}"' for name in close) + "?"
    return f" Known: {', '.join(names)}." if names else ""
