"""Jobs: work done in a process of its own, so that the page stays responsive and a runaway job can be ended.

A Worker does one job at a time. A job is a name in `work.JOBS`; while it runs it may tell how far it is; it ends with a
result, with a message (bad input), by `end` with what it has, by `cancel`, or at its limits of time and memory.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from tickwright.errors import TickwrightError, UsageError
from tickwright.processes import begin_worker, undisturbed
from tickwright.rules import confine_rules

MOST_SECONDS = 600.0
ENDING_SECONDS = 30.0  # so long a job at its limit may take to give what it has
PATIENCE_SECONDS = 1.0  # so long a job that nobody waits for any more may hold up the next before it is ended
TOLD_EVERY_SECONDS = 0.1
GONE_SECONDS = 10.0  # so long a process that was ended may take to go
MOST_BYTES = 6 * 1024**3
Tell = Callable[[Any], None]


class Cancelled(Exception):
    """The job was ended before it was done, because its user asked or something newer took its place."""


class Worker:
    """A process that waits for jobs; a patient one lets others go first. `job` is what it does now, if anything.

    With `folder` its jobs read rule sets from inside that folder alone; those of a `parent` may start processes.
    """

    def __init__(self, name: str, patient: bool = False, folder: Path | None = None, parent: bool = False) -> None:
        self.name = name
        self.parent = parent
        self.patient = patient
        self.folder = folder
        self.job: str | None = None
        self._process: _Process | None = None
        self._killed: list[_Process] = []
        self._lock = asyncio.Lock()
        self._starting = threading.Lock()  # a process is started in another thread than it is ended in
        self._cancelled = False
        self._ending = False  # whether the job was asked to end with what it has
        self._closed = False  # whether the worker was ended for good

    async def start(self) -> None:
        """Start the process, if it does not run, so that the first job need not wait for it."""
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(None, self._start, loop)

    def _start(self, loop: asyncio.AbstractEventLoop) -> None:
        with self._starting:
            if not self._closed and (self._process is None or self._process.gone):
                self._process = _Process(self, loop)

    async def do(
        self,
        job: str,
        *args: Any,
        tell: Tell | None = None,
        most_seconds: float = MOST_SECONDS,
        keeps: bool = False,
    ) -> Any:
        """Do a job after those before it, and give its result.

        `tell` is called on the way with what the job says of its progress. A job that `keeps` what it has when it is
        asked to end is asked at its limit of time, too. Raises TickwrightError for bad input, Cancelled if ended.
        """
        async with self._lock:
            self.job, self._cancelled, self._ending = job, False, False
            try:
                await self._clear()
                await self.start()
                process = self._process
                if process is None or self._closed or self._cancelled:
                    raise Cancelled(job)
                return await self._done(process, job, args, tell, most_seconds, keeps)
            finally:
                self.job = None

    async def _done(
        self, process: _Process, job: str, args: tuple[Any, ...], tell: Tell | None, most_seconds: float, keeps: bool
    ) -> Any:
        await process.begin(job, args)
        if self._ending:
            process.end_job()
        until = time.monotonic() + most_seconds
        while True:
            try:
                async with asyncio.timeout(until - time.monotonic()):
                    sort, content = await process.hear()
            except TimeoutError:
                if keeps and not self._ending:
                    self.end()
                    until += ENDING_SECONDS
                    continue
                self._kill()
                raise UsageError(f"The {job} was ended after {most_seconds:.0f} s: try a smaller one.") from None
            if sort == "progress":
                if tell is not None:
                    tell(content)
            elif sort == "done":
                return content
            elif sort == "refused":
                raise UsageError(content)
            elif sort == "failed":
                raise RuntimeError(content)
            elif self._cancelled or self._closed:
                raise Cancelled(job)
            else:
                raise UsageError(f"The {job} ended by itself: it may have wanted more memory than a job may have.")

    async def _clear(self) -> None:
        """Let a job that nobody waits for any more come to its end, or end it if that takes long."""
        process = self._process
        if process is None:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(PATIENCE_SECONDS):
                while process.at_work:
                    await process.hear()
        if process.at_work:
            self._kill()

    def end(self) -> None:
        """Ask the job that runs now to end with what it has; one that has nothing to keep goes on."""
        if self.job is not None and not self._ending:
            self._ending = True
            if self._process is not None and self._process.at_work:
                self._process.end_job()

    def cancel(self) -> None:
        """End the job that runs now, and get ready for the next."""
        if self.job is not None:
            self._cancelled = True
            if self._process is not None and self._process.at_work:
                self._kill()

    def stop(self) -> None:
        """End the process for good: no job is taken any more."""
        self._closed = True
        with self._starting:
            self._kill()
        for process in self._killed:
            process.wait()

    def _kill(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            self._killed = [*(one for one in self._killed if not one.gone), process]


class _Process:
    """A process that does jobs, and a thread that hears what it says. Made in any thread, used in the loop's."""

    def __init__(self, worker: Worker, loop: asyncio.AbstractEventLoop) -> None:
        name = f"tickwright {worker.name}"
        self.at_work = False  # whether it was given a job whose end was not heard yet
        self.gone = False  # set by the thread
        self._said: asyncio.Queue[tuple[str, Any]] = asyncio.Queue()
        self._given = False  # whether the job is with the process, so that it can be asked to end
        context = multiprocessing.get_context("spawn")
        self._pipe, other = context.Pipe()
        self._process = context.Process(
            target=serve_jobs, args=(other, worker.patient, worker.folder), name=name, daemon=not worker.parent
        )
        with undisturbed():
            self._process.start()
        other.close()
        self._hearing = threading.Thread(target=self._listen, args=(loop,), name=f"{name}, heard", daemon=True)
        self._hearing.start()

    async def begin(self, job: str, args: tuple[Any, ...]) -> None:
        """Give it a job. A large one is not taken before the process is up, so the loop does not wait for that."""
        self.at_work, self._given = True, False
        with suppress(OSError):  # the process is gone, which will be heard
            await asyncio.get_running_loop().run_in_executor(None, self._pipe.send, (job, args))
        self._given = True

    def end_job(self) -> None:
        """Ask it to end its job with what it has."""
        if self._given:
            with suppress(OSError):
                self._pipe.send(None)

    async def hear(self) -> tuple[str, Any]:
        """What it says next: "progress", or at the end of a job "done", "refused", "failed" or "gone"; and of what."""
        sort, content = await self._said.get()
        if sort != "progress":
            self.at_work = False
        return sort, content

    def kill(self) -> None:
        """End it; that it is gone will be heard."""
        self._process.kill()

    def wait(self) -> None:
        """Wait until it is gone."""
        self._hearing.join(GONE_SECONDS)

    def _listen(self, loop: asyncio.AbstractEventLoop) -> None:
        with suppress(RuntimeError):  # the loop is closed: nobody hears any more
            while True:
                try:
                    said = self._pipe.recv()
                except (EOFError, OSError):
                    break
                except Exception as error:  # noqa: BLE001 - a result that cannot be read must not be waited for
                    said = "failed", f"{type(error).__name__}: {error}"
                loop.call_soon_threadsafe(self._said.put_nowait, said)
        self._process.join()
        self.gone = True
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(self._said.put_nowait, ("gone", None))


class Teller:
    """How a job tells its progress, and hears that it is asked to end with what it has."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe
        self._ending = False
        self._told_at = 0.0

    def __call__(self, said: Any = None) -> bool:
        """Say something, unless it is only words that come too fast, or nothing; whether the job is asked to end."""
        now = time.monotonic()
        if said is not None and not (isinstance(said, str) and now - self._told_at < TOLD_EVERY_SECONDS):
            self._pipe.send(("progress", said))
            self._told_at = now
        while self._pipe.poll():
            self._pipe.recv()  # while it is at a job nothing else is sent to it
            self._ending = True
        return self._ending


def serve_jobs(pipe: Connection, patient: bool, folder: Path | None = None) -> None:
    """What the process does: one job after another, until its parent is gone."""
    begin_worker()
    _limit(patient)
    confine_rules(folder)
    from tickwright.workbench.work import JOBS

    with suppress(EOFError, OSError):
        while True:
            asked = pipe.recv()
            if asked is None:  # to end a job that had ended by then
                continue
            job, args = asked
            try:
                pipe.send(("done", JOBS[job](Teller(pipe), *args)))
            except TickwrightError as error:
                pipe.send(("refused", str(error)))
            except MemoryError:
                pipe.send(("refused", f"The {job} took more memory than a job may have: try a smaller one."))
            except Exception as error:  # noqa: BLE001 - said to the page, where else nobody would see it
                pipe.send(("failed", f"{type(error).__name__}: {error}"))


def _limit(patient: bool) -> None:
    if sys.platform != "win32":
        import resource

        with suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
        if patient:
            with suppress(OSError):
                os.nice(5)
