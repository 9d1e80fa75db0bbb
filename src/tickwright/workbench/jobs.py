"""Jobs: work done in a process of its own, so that the page stays responsive and a runaway job can be ended.

A Worker does one job at a time. A job is a name in `work.JOBS`; while it runs it may tell how far it is; it ends with a
result, with a message (bad input), by `cancel`, or at its limits of time and memory.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any

from tickwright.errors import TickwrightError, UsageError

MOST_SECONDS = 600.0
PATIENCE_SECONDS = 1.0  # so long a job that nobody waits for any more may hold up the next before it is ended
MOST_BYTES = 6 * 1024**3
Tell = Callable[[Any], None]


class Cancelled(Exception):
    """The job was ended before it was done, because its user asked or something newer took its place."""


class Worker:
    """A process that waits for jobs; a patient one lets others go first. `job` is what it does now, if anything."""

    def __init__(self, name: str, patient: bool = False) -> None:
        self.name = name
        self.patient = patient
        self.job: str | None = None
        self.began = 0.0
        self._process: Any = None
        self._pipe: Connection | None = None
        self._lock = asyncio.Lock()
        self._starting = threading.Lock()  # a process is started in another thread than it is ended in
        self._stopped = False
        self._closed = False  # whether it was ended for good
        self._left_over = False  # whether the process is at a job whose end was not awaited

    def start(self) -> None:
        """Start the process, if it does not run, so that the first job need not wait for it; any thread may ask."""
        with self._starting:
            if self._closed or (self._process is not None and self._process.is_alive()):
                return
            context = multiprocessing.get_context("spawn")
            self._pipe, other = context.Pipe()
            self._process = context.Process(
                target=serve_jobs, args=(other, self.patient), name=f"tickwright {self.name}", daemon=True
            )
            self._process.start()
            other.close()

    async def do(self, job: str, *args: Any, tell: Tell | None = None, most_seconds: float = MOST_SECONDS) -> Any:
        """Do a job after those before it, and give its result.

        `tell` is called on the way with what the job says of its progress. Raises TickwrightError for bad input,
        Cancelled if it was ended.
        """
        async with self._lock:
            await self._clear()
            loop = asyncio.get_running_loop()
            await loop.run_in_executor(None, self.start)
            if self._closed:
                raise Cancelled(job)
            pipe = self._pipe
            assert pipe is not None
            self.job, self.began, self._stopped = job, time.monotonic(), False
            self._left_over = True
            try:
                pipe.send((job, args))
                while True:
                    left = self.began + most_seconds - time.monotonic()
                    if not await loop.run_in_executor(None, pipe.poll, max(0.0, min(left, 1.0))):
                        if left <= 0:
                            self._kill()
                            raise UsageError(f"The {job} was ended after {most_seconds:.0f} s: try a smaller one.")
                        continue
                    sort, content = pipe.recv()
                    if sort == "progress":
                        if tell is not None:
                            tell(content)
                        continue
                    self._left_over = False
                    if sort == "done":
                        return content
                    raise UsageError(content) if sort == "refused" else RuntimeError(content)
            except (EOFError, OSError):
                if not self._stopped:
                    self._kill()
                    raise UsageError(
                        f"The {job} ended by itself: it may have wanted more memory than a job may have."
                    ) from None
                raise Cancelled(job) from None
            finally:
                self.job = None

    async def _clear(self) -> None:
        """Let a job that nobody waits for any more come to its end, or end it if that takes long."""
        until = time.monotonic() + PATIENCE_SECONDS
        while self._left_over and self._pipe is not None:
            left = until - time.monotonic()
            try:
                if left > 0 and await asyncio.get_running_loop().run_in_executor(None, self._pipe.poll, left):
                    self._left_over = self._pipe.recv()[0] == "progress"
                    continue
            except (EOFError, OSError):
                pass
            self._kill()

    def cancel(self) -> None:
        """End the job that runs now, and get ready for the next."""
        if self.job is not None:
            self._kill()

    def stop(self) -> None:
        """End the process for good: no job is taken any more."""
        self._closed = True
        self._kill()

    def _kill(self) -> None:
        with self._starting:
            self._stopped = True
            self._left_over = False
            if self._process is not None:
                self._process.kill()
                self._process = None


def serve_jobs(pipe: Connection, patient: bool) -> None:
    """What the process does: one job after another, until its parent is gone."""
    _limit(patient)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from tickwright.workbench.work import JOBS

    with suppress(EOFError, KeyboardInterrupt, BrokenPipeError):
        while True:
            job, args = pipe.recv()
            try:
                pipe.send(("done", JOBS[job](lambda said: pipe.send(("progress", said)), *args)))
            except TickwrightError as error:
                pipe.send(("refused", str(error)))
            except MemoryError:
                pipe.send(("refused", f"The {job} took more memory than a job may have: try a smaller one."))
            except Exception as error:  # noqa: BLE001 - said to the page, where else nobody would see it
                pipe.send(("failed", f"{type(error).__name__}: {error}"))


def _limit(patient: bool) -> None:
    with suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    if patient:
        with suppress(AttributeError, OSError):
            os.nice(5)


def _end_with_parent() -> None:
    """End this process when the one that started it has ended, however that happened."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)
