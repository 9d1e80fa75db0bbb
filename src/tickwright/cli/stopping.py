"""Ctrl-C: one exit code for all commands, what was found printed first, and never a traceback.

Before a command begins and after it has ended there is nothing to lose: Ctrl-C leaves at once. While it runs Ctrl-C
raises KeyboardInterrupt, or is noted by `stoppable` for a job that keeps what it has found.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

STOPPED = 130  # the exit code
PATIENCE_SECONDS = 5.0  # so long a job that was asked to stop may take to hear it, before it is ended where it is
AGAIN_SECONDS = 0.05
_hits: list[int] = []  # Ctrl-C since the command began


def leave(_number: int = 0, _frame: FrameType | None = None) -> None:
    """Leave the program at once; the handler for when nothing can be lost."""
    os.write(2, b"Stopped.\n")
    os._exit(STOPPED)


def begin() -> None:
    """A command begins: Ctrl-C is from now on a KeyboardInterrupt, wherever it is met."""
    _hits.clear()
    sys.unraisablehook = _again
    signal.signal(signal.SIGINT, _interrupt)


def was_stopped() -> bool:
    """Whether Ctrl-C was pressed since the command began."""
    return bool(_hits)


def _interrupt(_number: int, _frame: FrameType | None) -> None:
    _hits.append(1)
    raise KeyboardInterrupt


def _again(what: Any) -> None:
    """Where Python can raise nothing, as when an object is taken down, Ctrl-C is pressed again a moment later."""
    if issubclass(what.exc_type, KeyboardInterrupt):
        _press_after(AGAIN_SECONDS)
    else:
        sys.__unraisablehook__(what)


def _press_after(seconds: float) -> threading.Timer:
    import _thread

    timer = threading.Timer(seconds, _thread.interrupt_main)
    timer.daemon = True
    timer.start()
    return timer


@contextmanager
def noting_interrupts() -> Iterator[Callable[[], bool]]:
    """While it lasts, Ctrl-C is only noted, for a job that asks; a second one raises KeyboardInterrupt.

    It gives what the job asks with: whether it is to stop. A job that does not stop for `PATIENCE_SECONDS` is ended by
    a KeyboardInterrupt.
    """
    timers: list[threading.Timer] = []

    def note(_number: int, _frame: FrameType | None) -> None:
        _hits.append(1)
        if timers:
            raise KeyboardInterrupt
        timers.append(_press_after(PATIENCE_SECONDS))

    before = signal.signal(signal.SIGINT, note)
    try:
        yield lambda: bool(timers)
    finally:
        signal.signal(signal.SIGINT, before)
        for timer in timers:
            timer.cancel()
            timer.join()
