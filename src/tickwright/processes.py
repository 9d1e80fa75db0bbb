"""Processes that this one starts: deaf to Ctrl-C, which is for this one to hear, and never left behind by it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker

__all__ = ["begin_worker", "undisturbed"]


@contextmanager
def undisturbed() -> Iterator[None]:
    """A process that is started meanwhile does not hear Ctrl-C, not even before it can say so; this one hears it after.

    Of threads, only the one that starts the process is kept from hearing it.
    """
    if sys.platform == "win32":
        yield
    else:
        resource_tracker.ensure_running()  # started later it would let them through again
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)


def begin_worker() -> None:
    """In a process that was started: hear no Ctrl-C, and end when the process that started it has ended, however."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)
