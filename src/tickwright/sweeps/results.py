"""The file of a sweep: one row of SQLite for each point that is done, under the point's key."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec

from tickwright.errors import UsageError
from tickwright.sweeps.points import Point, Row

APPLICATION_ID = 0x5449434B  # says in the file's head whose it is
FILE_VERSION = 1
_SCHEMA = """
CREATE TABLE points (
    key TEXT PRIMARY KEY,         -- digest of plan, rules, settings, order and stimulus
    plan TEXT NOT NULL,           -- the file it came from
    rules TEXT NOT NULL,
    settings TEXT NOT NULL,       -- JSON object: what was set to what
    telling_order TEXT NOT NULL,
    trigger TEXT,                 -- of a press; NULL for a run of acts
    length_steps INTEGER,         -- of the button in the trigger's place; NULL for the trigger's own
    acts TEXT NOT NULL,           -- JSON list: acts of the hand
    steps INTEGER,                -- how long it was run; NULL for a press
    answer TEXT NOT NULL          -- JSON object: results or outputs, findings; or error; or chart with its claims
)
"""
_ROW = "SELECT key, plan, rules, settings, telling_order, trigger, length_steps, acts, steps, answer FROM points"
WAIT_SECONDS = 60.0  # so long another program may write to the file


class _Result(msgspec.Struct):
    """What one entry of `results` has to hold, to be shown; it may hold more."""

    output: str
    kind: str
    ends: bool
    delay_steps: int | None
    hold_steps: int | None
    minimum_trigger_steps: int | None
    margin_steps: int | None
    settled: bool
    rest_steps: int | None
    lowest_level: int | None
    pulses: list[list[int | None]]


class _Claim(msgspec.Struct):
    """What one entry of `claims` has to hold."""

    claim: str
    passed: bool


class Results:
    """An open file of results; what `add` has taken is on disk when it returns."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        folder = self.path.absolute().parent
        if not folder.is_dir():
            raise UsageError(f'There is no folder "{folder}" for the file of results: make it first.')
        with self._told():
            self._file = sqlite3.connect(self.path, timeout=WAIT_SECONDS, isolation_level=None)
        try:
            with self._told():
                self._open()
        except BaseException:
            self._file.close()
            raise

    def _open(self) -> None:
        found = self._file.execute("PRAGMA application_id").fetchone()[0]
        tables = self._file.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if not tables and found in (0, APPLICATION_ID):
            self._make()
            return
        version = self._file.execute("PRAGMA user_version").fetchone()[0]
        if found != APPLICATION_ID or version != FILE_VERSION:
            raise UsageError(f'"{self.path}" is no file of results of this kind of sweep: name another file.')

    @contextmanager
    def _told(self) -> Iterator[None]:
        """What SQLite has to say against it becomes one message. What was recorded before stays as it is."""
        try:
            yield
        except sqlite3.Error as error:
            raise UsageError(f'"{self.path}" {_trouble(error)}') from None

    def _make(self) -> None:
        self._file.execute("BEGIN IMMEDIATE")
        if not self._file.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            self._file.execute(_SCHEMA)
            self._file.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            self._file.execute(f"PRAGMA user_version = {FILE_VERSION}")
        self._file.execute("COMMIT")

    def __enter__(self) -> Results:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def keys(self) -> set[str]:
        """The keys of all points that are done."""
        with self._told():
            return {str(key) for (key,) in self._file.execute("SELECT key FROM points")}

    def add(self, done: Iterable[tuple[Point, str]]) -> None:
        """Record points with their answers (JSON); one that is there already stays as it is.

        On a full disk as many are recorded as there is room for, in their order. After another error none is.
        """
        rows = [
            (
                point.key,
                point.plan,
                point.rules,
                json.dumps(dict(point.settings)),
                point.order,
                point.trigger,
                point.length_steps,
                json.dumps(point.acts),
                point.steps,
                answer,
            )
            for point, answer in done
        ]
        with self._told():
            try:
                self._insert(rows)
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
                    raise
                for row in rows:
                    self._insert([row])

    def _insert(self, rows: list[tuple[Any, ...]]) -> None:
        """Insert all or none."""
        self._file.execute("BEGIN IMMEDIATE")
        try:
            self._file.executemany("INSERT OR IGNORE INTO points VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
            self._file.execute("COMMIT")
        except BaseException:
            if self._file.in_transaction:  # SQLite may have taken it back by itself
                self._file.execute("ROLLBACK")
            raise

    def row(self, key: str) -> Row | None:
        """The row of the point with that key; None if it is not done."""
        with self._told():
            found = self._file.execute(f"{_ROW} WHERE key = ?", (key,)).fetchone()
        return None if found is None else self._row(found)

    def rows(self) -> list[Row]:
        """All rows, by plan, rules, order, trigger and length, then as they were done."""
        by = "plan, rules, telling_order, trigger, length_steps, rowid"
        with self._told():
            found = self._file.execute(f"{_ROW} ORDER BY {by}").fetchall()
        return [self._row(one) for one in found]

    def _row(self, found: tuple[Any, ...]) -> Row:
        """A row as it was read. Raises UsageError if it holds what no sweep has written."""
        key, plan, rules, settings, order, trigger, length_steps, acts, steps, answer = found
        about = {"plan": plan, "rules": rules, "order": order, "trigger": trigger, "length_steps": length_steps}
        try:
            came = json.loads(answer)
            about.update(settings=json.loads(settings), acts=json.loads(acts), steps=steps, **came)
            msgspec.convert(came.get("results", []), list[_Result])
            msgspec.convert(came.get("claims", []), list[_Claim])
            return msgspec.convert(about, Row)
        except (AttributeError, TypeError, ValueError, RecursionError):
            raise UsageError(
                f'"{self.path}" holds a row that no sweep has written, of the point {str(key)[:12]}: take a copy of '
                "the file, delete that row in it, and sweep again into the copy."
            ) from None


def _trouble(error: sqlite3.Error) -> str:
    """What is wrong with the file and what to do."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the primary code of an extended one
    done = "What is recorded stays; the same command goes on from there."
    return {
        sqlite3.SQLITE_FULL: f"cannot grow, disk full: make room. {done}",
        sqlite3.SQLITE_IOERR: f"cannot be read or written ({error}): look at the disk and the room on it. {done}",
        sqlite3.SQLITE_READONLY: "may not be written: allow it, or name another file.",
        sqlite3.SQLITE_PERM: "may not be written: allow it, or name another file.",
        sqlite3.SQLITE_CANTOPEN: "cannot be opened: see that it is a file that you may read and write.",
        sqlite3.SQLITE_BUSY: f"is being written by another program for over {WAIT_SECONDS:g} s: wait for it. {done}",
        sqlite3.SQLITE_LOCKED: f"is locked by another program for over {WAIT_SECONDS:g} s: wait for it. {done}",
        sqlite3.SQLITE_CORRUPT: "is damaged: keep a copy, and sweep into another file.",
        sqlite3.SQLITE_NOTADB: f"is no file of sweep results ({error}): name another file.",
    }.get(code, f"is no file of sweep results as they are written ({error}): name another file.")
