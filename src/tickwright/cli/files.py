"""Writing files whole: a file is either the old one or the new one, whatever happens while it is written."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from tickwright.cli.settings import CALL, STANDARD, answer_stream
from tickwright.errors import UsageError


def check_writable(path: Path) -> None:
    """Raise the OSError that writing this file would end in, before any work is done for it.

    Folders that are missing above it are an error, too. - is standard output, which may be written.
    """
    if path == STANDARD:
        return
    if path.is_dir():
        raise OSError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not path.parent.exists():
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT), str(path))
    if not path.parent.is_dir():
        raise OSError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path))
    if not os.access(path if path.exists() and not path.is_file() else path.parent, os.W_OK):
        raise OSError(errno.EACCES, os.strerror(errno.EACCES), str(path))


def output_path(text: str) -> Path:
    """Where to write, as it is typed: with a slash at its end it is a folder, which need not be there yet."""
    path = Path(text)
    if text.endswith(("/", os.sep)):
        CALL.folders.add(path)
    return path


def is_folder(path: Path) -> bool:
    """Whether files are to be written in it."""
    return path.is_dir() or path in CALL.folders


def check_folder(folder: Path, names: Iterable[str]) -> None:
    """Refuse a folder, there already or to be made, in which files of these names could not be written.

    Raises UsageError if something on the way to it is a file, OSError for what else would go wrong.
    """
    there = next(one for one in (folder, *folder.parents) if one.exists())
    if not there.is_dir():
        raise UsageError(f'"{there}" is a file: name a folder to write to.')
    if not os.access(there, os.W_OK):
        raise OSError(errno.EACCES, os.strerror(errno.EACCES), str(there))
    for name in names:
        if (folder / name).is_dir():
            raise OSError(errno.EISDIR, os.strerror(errno.EISDIR), str(folder / name))


def refuse_what_is_there(folder: Path, pattern: str) -> None:
    """As `check_folder`, and refuse a folder in which a file of such names would be written over."""
    if folder.exists() and not folder.is_dir():
        raise UsageError(f'"{folder}" is no folder: give --save a folder, which is made if it does not exist.')
    check_folder(folder, ())
    for path in sorted(folder.glob(pattern)):
        raise UsageError(f'"{path}" is there already: name another folder, or take the file away first.')


def write_whole(path: Path, data: str | bytes) -> int:
    """Write a file in one go and return its size in bytes; text as UTF-8. Raises OSError where nothing can be written.

    What is not a plain file, such as a pipe, is written to as it is; - is standard output.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    if path == STANDARD:
        stream = answer_stream()
        stream.flush()
        stream.buffer.write(raw)
        return len(raw)
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(raw)
            return len(raw)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".tickwright-") as folder:
            made = Path(folder) / path.name
            made.write_bytes(raw)
            made.replace(path)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from None  # a full disk names no file
    return len(raw)
