"""Bad input: what is said of it, as one message for people or as data."""

from __future__ import annotations

import re
from typing import Any

import click

from tickwright.errors import FileError, TickwrightError, near, reason


def error_text(error: Exception) -> str | None:
    """The message for bad input, or None for an error that is not about it."""
    if isinstance(error, TickwrightError):
        return str(error)
    if isinstance(error, click.ClickException):
        return _usage_text(error)
    if isinstance(error, OSError) and error.filename is not None:  # else of stdout, not of a file
        return f'"{error.filename}": {reason(error)}. Check the path and what you may read and write there.'
    if isinstance(error, MemoryError):
        return "This took more memory than there is: try a smaller plan, brief or box."
    return None


def error_data(error: Exception) -> dict[str, Any]:
    """What an error says as data: its message, and the file, line and cells at fault."""
    if isinstance(error, FileError):
        cells = [list(cell) for cell in error.cells]
        return {"message": error.message, "file": error.path, "line": error.line, "cells": cells}
    return {"message": error_text(error), "file": getattr(error, "filename", None), "line": None, "cells": []}


def _usage_text(error: click.ClickException) -> str:
    """What is wrong with what was typed, and where it is told what may be."""
    context, text = getattr(error, "ctx", None), error.format_message()
    help_text = f" {context.command_path if context else 'tickwright COMMAND'} --help tells what there is."
    unknown = re.match(r"No such command '(.*?)'\.", text, re.DOTALL)
    if unknown and context and isinstance(context.command, click.Group):
        return f'There is no command "{unknown[1]}".{near(unknown[1], context.command.commands)}'
    if isinstance(error, click.NoSuchOption):
        like = f" Did you mean {' or '.join(error.possibilities)}?" if error.possibilities else ""
        return f'There is no option "{error.option_name}" here.{like}{help_text}'
    return text.rstrip(".") + "." + help_text
