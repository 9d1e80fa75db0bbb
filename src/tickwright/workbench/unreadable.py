"""Messages that no page of the workbench sends: one line for each, where its libraries would print a traceback."""

from __future__ import annotations

import logging
from pathlib import Path

LOGGERS = ("asyncio", "engineio.server", "socketio.server", "uvicorn.error")
OURS = str(Path(__file__).resolve().parents[1])
GUARD = str(Path(__file__).resolve().with_name("guard.py"))  # through which all messages come


def tell_briefly() -> None:
    """From now on say in one line what the libraries could not read."""
    for name in LOGGERS:
        logger = logging.getLogger(name)
        if not any(isinstance(one, Brief) for one in logger.filters):
            logger.addFilter(Brief())


class Brief(logging.Filter):
    """Shortens what is said of a message that could not be read; what went wrong in our own code is said in full."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Shorten the record, if it is of such a message; it is always let through."""
        error = record.exc_info[1] if isinstance(record.exc_info, tuple) else None
        if error is not None and _of_a_message(error):
            record.msg = f"A message to the workbench could not be read ({type(error).__name__}) and was left out."
            record.args = ()
            record.exc_info = record.exc_text = None
        return True


def _of_a_message(error: BaseException) -> bool:
    """Whether the libraries that take messages met the error, and none of our files."""
    files = []
    trace = error.__traceback__
    while trace is not None:
        files.append(trace.tb_frame.f_code.co_filename)
        trace = trace.tb_next
    ours = any(file.startswith(OURS) and file != GUARD for file in files)
    return not ours and any("socketio" in f or "engineio" in f for f in files)
