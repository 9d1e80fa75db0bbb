"""What is made in one go, and kept, is not looked through for garbage meanwhile."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["collection_paused"]


@contextmanager
def collection_paused() -> Iterator[None]:
    """Let no garbage be collected meanwhile: looking through much that is only made and kept can take half the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
