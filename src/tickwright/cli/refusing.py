"""Bad input: what is said of it, as one message for people or as data."""

from __future__ import annotations

from typing import Any

import click

from tickwright.errors import FileError, TickwrightError, reason


def error_text(error: Exception) -> str | None:
    """The message for bad input, or None for an error that is not about it."""
    if isinstance(error, TickwrightError):
        return str(error)
    if isinstance(error, click.ClickException):
        return error.format_message()
    if isinstance(error, OSError) and error.filename is not None:  # else of stdout, not of a file
        return f'"{error.filename}": {reason(error)}. Check the path and what you may read and write there.'
    return None


def error_data(error: Exception) -> dict[str, Any]:
    """What an error says as data: its message, and the file, line and cells at fault."""
    if isinstance(error, FileError):
        cells = [list(cell) for cell in error.cells]
        return {"message": error.message, "file": error.path, "line": error.line, "cells": cells}
    return {"message": error_text(error), "file": getattr(error, "filename", None), "line": None, "cells": []}
