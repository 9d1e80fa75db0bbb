"""Files of the one folder that is open: whatever name a page sends, nothing outside the folder is read or written."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from tickwright.errors import UsageError
from tickwright.plan import LARGEST_PLAN_BYTES

MOST_LISTED = 500
LONGEST_NAME = 200


@dataclass(frozen=True, slots=True)
class Listed:
    """A plan file of the folder: its name as a page shows it, bytes, and time of its last change (seconds)."""

    name: str
    size: int
    changed: float


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder by its real path.

    >>> Folder(Path.cwd()).place("../elsewhere.toml")
    Traceback (most recent call last):
        ...
    tickwright.errors.UsageError: "../elsewhere.toml" leads out of the opened folder: name a file inside it.
    """

    root: Path

    def __post_init__(self) -> None:
        object.__setattr__(self, "root", self.root.resolve())

    def place(self, name: str, suffix: str | None = None) -> Path:
        """The path of a file inside the folder, links followed.

        Raises UsageError if the name leads out of the folder, by dots, by a link or by being absolute, or is none; or
        lacks the `suffix` that is asked for.
        """
        shown = name if len(name) <= 60 else name[:57] + "..."
        if not name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
            raise UsageError(f'"{shown!s}" is no file name: use 1 to {LONGEST_NAME} printable characters.')
        if suffix is not None and not name.endswith(suffix):
            raise UsageError(f'"{shown}" does not end in {suffix}: name it, say, "{Path(name).stem}{suffix}".')
        try:
            goal = (self.root / name).resolve()
        except (OSError, RuntimeError, ValueError):
            raise UsageError(f'"{shown}" cannot be followed to a file: name another.') from None
        if not goal.is_relative_to(self.root) or goal == self.root:
            raise UsageError(f'"{shown}" leads out of the opened folder: name a file inside it.')
        return goal

    def name_of(self, path: Path) -> str:
        """A path inside the folder as a name that `place` takes, with forward slashes."""
        return path.resolve().relative_to(self.root).as_posix()

    def plans(self) -> list[Listed]:
        """The plan files of the folder and of those directly in it, by name; at most 500, hidden ones left out."""
        found = []
        for path in sorted((*self.root.glob("*.toml"), *self.root.glob("*/*.toml"))):
            name = path.relative_to(self.root).as_posix()
            try:
                if name.startswith(".") or "/." in name or not path.resolve().is_relative_to(self.root):
                    continue
                about = path.stat()
            except OSError:
                continue
            found.append(Listed(name, about.st_size, about.st_mtime))
        return found[:MOST_LISTED]

    def write(self, name: str, data: bytes, replace: bool = False) -> Path:
        """Write a file, whole or not at all. Raises UsageError if it exists and `replace` is not given."""
        goal = self.place(name)
        if goal.exists() and not replace:
            raise UsageError(f'There is a file "{name}" already: choose another name.')
        goal.parent.mkdir(parents=True, exist_ok=True)
        beside = goal.with_name(f".{goal.name}.{os.getpid()}.new")
        try:
            beside.write_bytes(data)
            beside.replace(goal)
        finally:
            beside.unlink(missing_ok=True)
        return goal


def digest_of(path: Path) -> str | None:
    """A digest of a plan file's bytes; None if there is no such file, or if it is larger than any plan file may be."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_PLAN_BYTES + 1)
    except OSError:
        return None
    return hashlib.sha256(data).hexdigest() if len(data) <= LARGEST_PLAN_BYTES else None
