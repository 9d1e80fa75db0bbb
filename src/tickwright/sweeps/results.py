"""The file of a sweep: one row of SQLite for each point that is done, under the point's key."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any

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
    answer TEXT NOT NULL          -- JSON object: results or outputs, findings; or error
)
"""
_ROW = "SELECT plan, rules, settings, telling_order, trigger, length_steps, acts, steps, answer FROM points"
_WAIT_SECONDS = 60


class Results:
    """An open file of results; what `add` has taken is on disk when it returns."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        folder = self.path.absolute().parent
        if not folder.is_dir():
            raise UsageError(f'There is no folder "{folder}" for the file of results: make it first.')
        try:
            self._file = sqlite3.connect(self.path, timeout=_WAIT_SECONDS, isolation_level=None)
            found = self._file.execute("PRAGMA application_id").fetchone()[0]
            tables = self._file.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
            if not tables and found in (0, APPLICATION_ID):
                self._make()
                return
            version = self._file.execute("PRAGMA user_version").fetchone()[0]
        except sqlite3.Error as error:
            raise UsageError(f'"{path}" is no file of sweep results ({error}): name another file.') from None
        if found != APPLICATION_ID or version != FILE_VERSION:
            self._file.close()
            raise UsageError(f'"{path}" is no file of results of this kind of sweep: name another file.')

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
        return {key for (key,) in self._file.execute("SELECT key FROM points")}

    def add(self, done: Iterable[tuple[Point, str]]) -> None:
        """Record points with their answers (JSON), all or none; one that is there already stays as it is."""
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
        self._file.execute("BEGIN IMMEDIATE")
        try:
            self._file.executemany("INSERT OR IGNORE INTO points VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
        except BaseException:
            self._file.execute("ROLLBACK")
            raise
        self._file.execute("COMMIT")

    def row(self, key: str) -> Row | None:
        """The row of the point with that key; None if it is not done."""
        found = self._file.execute(f"{_ROW} WHERE key = ?", (key,)).fetchone()
        return None if found is None else _row(found)

    def rows(self) -> list[Row]:
        """All rows, by plan, rules, order, trigger and length, then as they were done."""
        by = "plan, rules, telling_order, trigger, length_steps, rowid"
        return [_row(found) for found in self._file.execute(f"{_ROW} ORDER BY {by}")]


def _row(found: tuple[Any, ...]) -> Row:
    plan, rules, settings, order, trigger, length_steps, acts, steps, answer = found
    return Row(
        plan, rules, json.loads(settings), order, trigger, length_steps, json.loads(acts), steps, **json.loads(answer)
    )
