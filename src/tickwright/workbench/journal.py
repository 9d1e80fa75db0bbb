"""The journal: each change written to a file as it is made, so that a crash loses nothing.

One journal belongs to one plan file (or to a new plan that has none yet). It lies in the user's state folder, never
beside the plan. Its first line says what the plan was when it was opened, each further line what happened then; undoing
and redoing are lines too, so that the whole history comes back.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from io import FileIO
from pathlib import Path
from typing import Any, BinaryIO

import msgspec

from tickwright.errors import UsageError, reason
from tickwright.workbench.changes import Change

if sys.platform == "win32":
    import msvcrt

    def _hold(file: BinaryIO) -> None:
        """Lock a file for this process alone. Raises OSError if another one has it."""
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _hold(file: BinaryIO) -> None:
        """Lock a file for this process alone. Raises OSError if another one has it."""
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


FORMAT = "tickwright journal 1"
LARGEST_JOURNAL_BYTES = 200_000_000


class Head(msgspec.Struct, frozen=True):
    """A journal's first line: the plan file's path, the text the plan had and the digest of the file it came from."""

    path: str
    text: str
    digest: str | None
    format: str = FORMAT


class Line(msgspec.Struct, frozen=True, omit_defaults=True):
    """One event: a change made; or so many changes taken back (`undo`) or made again (`redo`); or the digest saved."""

    change: Change | None = None
    undo: int = 0
    redo: int = 0
    saved: str | None = None


def state_folder() -> Path:
    """Where journals lie: TICKWRIGHT_STATE, or the place that the system has for such files."""
    own = os.environ.get("TICKWRIGHT_STATE")
    if own:
        return Path(own)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData/Local") / "tickwright"
    else:  # noqa: RET505 - a checker for one system must not see the line for the other
        return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local/state") / "tickwright"


class Journal:
    """The journal of the plan file at `path`, which need not exist."""

    def __init__(self, path: Path) -> None:
        self.path = path
        name = hashlib.sha256(str(path).encode("utf-8", "surrogateescape")).hexdigest()[:24]
        self.file = state_folder() / "journals" / f"{name}.jsonl"
        self.trouble = ""  # why the last that was to be kept is not, "" if it is
        self._out: FileIO | None = None
        self._length = 0  # bytes of whole lines in the open file; what stands after them is cut off
        self._waiting: list[bytes] = []  # what is not kept yet, in order
        self._begins = False  # whether the first of them begins the journal anew
        self._lock: BinaryIO | None = None

    def lock(self) -> None:
        """Keep other workbenches off this plan until `close` or the end of this process.

        Raises UsageError if one has it already.
        """
        self.file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._lock = self.file.with_suffix(".lock").open("ab")  # as it is: what is locked cannot be cut everywhere
        try:
            _hold(self._lock)
        except OSError:
            self._lock.close()
            self._lock = None
            raise UsageError(f"{self.path} is open in another workbench: close it there, or open a copy.") from None

    def begin(self, text: str, digest: str | None) -> None:
        """Start anew with a plan of that text; an old journal is gone. `trouble` says whether that is kept."""
        self._end()
        self._waiting = [msgspec.json.encode(Head(str(self.path), text, digest)) + b"\n"]
        self._begins = True
        self.keep()

    def write(self, line: Line) -> None:
        """Add a line. It is on the disk when this returns, or `trouble` says why not and `keep` tries again."""
        self._waiting.append(msgspec.json.encode(line) + b"\n")
        self.keep()

    def keep(self) -> bool:
        """Bring to the disk what is not there yet; whether all is."""
        try:
            while self._waiting:
                if self._begins:
                    self._start(self._waiting[0])
                else:
                    self._append(self._waiting[0])
                del self._waiting[0]
        except OSError as error:
            self.trouble = reason(error)
            return False
        self.trouble = ""
        return True

    def _start(self, head: bytes) -> None:
        self.file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        fresh = self.file.with_suffix(".new")
        try:
            with fresh.open("wb", buffering=0) as out:
                _write_all(out, head)
            fresh.replace(self.file)
        except OSError:
            fresh.unlink(missing_ok=True)
            raise
        self._begins = False

    def _append(self, line: bytes) -> None:
        """Add a line whole or not at all: what a full disk took of it is cut off, at the latest before the next."""
        if self._out is None:
            self._out = self.file.open("r+b", buffering=0)
            self._length = self._out.seek(0, os.SEEK_END)
        self._cut()
        try:
            _write_all(self._out, line)
        except OSError:
            with suppress(OSError):
                self._cut()
            raise
        self._length += len(line)

    def _cut(self) -> None:
        assert self._out is not None
        if self._out.seek(0, os.SEEK_END) != self._length:
            self._out.truncate(self._length)
            self._out.seek(self._length)

    def read(self) -> tuple[Head, list[Line]] | None:
        """What the journal holds; None if there is none. What a crash cut short is cut off.

        Raises UsageError if it cannot be read; it is then put aside, never thrown away.
        """
        if not self.file.exists():
            return None
        if self.file.stat().st_size > LARGEST_JOURNAL_BYTES:
            raise self.put_aside("is larger than any that is read")
        data = self.file.read_bytes()
        first, *rest = data.split(b"\n")
        try:
            head = msgspec.json.decode(first, type=Head)
        except msgspec.DecodeError:
            raise self.put_aside("has no first line that can be read") from None
        if head.format != FORMAT:
            raise self.put_aside(f'has the format "{head.format}"')
        lines = list(_whole_lines(rest))
        end = sum(len(line) + 1 for line in (first, *rest[: len(lines)]))
        if end < len(data):
            os.truncate(self.file, end)
        return head, lines

    def drop(self) -> None:
        """Remove the journal: there is nothing to bring back."""
        self._end()
        self._waiting, self._begins, self.trouble = [], False, ""
        self.file.unlink(missing_ok=True)

    def close(self) -> None:
        """Close the file and let others have the plan."""
        self._end()
        if self._lock is not None:
            self._lock.close()
            self._lock = None

    def _end(self) -> None:
        if self._out is not None:
            self._out.close()
            self._out = None

    def put_aside(self, what: str) -> UsageError:
        """Keep the journal under another name, since it is of no use here; what is to be said of it."""
        self._end()
        goal = self.file.with_suffix(".unreadable")
        self.file.replace(goal)
        return UsageError(f"The journal of {self.path} {what}: it was put aside as {goal}.")


def _write_all(out: FileIO, data: bytes) -> None:
    """Write all of it through to the disk. Raises OSError if there is room for a part of it only."""
    view = memoryview(data)
    while view:
        view = view[out.write(view) or 0 :]
    os.fsync(out.fileno())


def _whole_lines(lines: list[bytes]) -> Iterator[Line]:
    """The lines up to the first that cannot be read: what comes after a gap cannot be applied. The last has no end."""
    for line in lines[:-1]:
        try:
            yield msgspec.json.decode(line, type=Line)
        except msgspec.DecodeError:
            return


def journals_of(folder: Path) -> list[Path]:
    """The plan paths inside a folder that have a journal, the one last written first."""
    files = (state_folder() / "journals").glob("*.jsonl")
    found: list[tuple[float, Path]] = []
    for file in files:
        try:
            with file.open("rb") as opened:
                head: Any = msgspec.json.decode(opened.readline(4_000_000), type=Head)
            path, changed = Path(head.path), file.stat().st_mtime
        except (OSError, msgspec.DecodeError):
            continue
        if path.is_relative_to(folder):
            found.append((changed, path))
    return [path for _, path in sorted(found, reverse=True)]
