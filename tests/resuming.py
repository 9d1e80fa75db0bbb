"""What a long chore has done so far, in a file of lines, so that it goes on where it was stopped."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def records(path: Path, again: bool = False) -> list[Any]:
    """What was kept in the file, in the order in which it was added; `again` forgets it and begins anew."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if again:
        path.unlink(missing_ok=True)
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []


def add(path: Path, record: Any) -> None:
    """Keep one more."""
    with path.open("a", encoding="utf-8") as lines:
        lines.write(json.dumps(record) + "\n")
