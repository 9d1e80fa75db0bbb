"""Writing files whole: a file is either the old one or the new one, whatever happens while it is written."""

from __future__ import annotations

import tempfile
from pathlib import Path


def write_whole(path: Path, data: str | bytes) -> int:
    """Write a file in one go and return its size in bytes; text as UTF-8. Raises OSError where nothing can be written.

    What is not a plain file, such as a pipe, is written to as it is.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    if path.exists() and not path.is_file():
        path.write_bytes(raw)
        return len(raw)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".tickwright-") as folder:
        made = Path(folder) / path.name
        made.write_bytes(raw)
        made.replace(path)
    return len(raw)
