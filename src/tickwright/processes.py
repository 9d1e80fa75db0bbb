"""Work for other processes: of this machine, deaf to Ctrl-C and never left behind, or of a dask.distributed cluster."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from contextlib import contextmanager, suppress
from multiprocessing import resource_tracker
from typing import Any, NamedTuple, TypeVar

from tickwright.errors import UsageError

__all__ = [
    "HERE_SECONDS",
    "Losses",
    "Place",
    "begin_worker",
    "cluster_place",
    "process_place",
    "send_out",
    "spread",
    "undisturbed",
]

CONNECT_SECONDS = 10
WORKERS_SECONDS = 30
HERE_SECONDS = 1.0  # about what it takes to start processes
LOOK_SECONDS = 0.5  # between two looks whether to stop
MOST_LOSSES = 3
Task = TypeVar("Task")
Answer = TypeVar("Answer")


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


class Place(NamedTuple):
    """Where work is done: what runs functions, how many tasks to keep there, and the errors of a lost worker."""

    executor: Executor
    room: Callable[[], int]
    lost: tuple[type[BaseException], ...]


@contextmanager
def process_place(count: int) -> Iterator[Place]:
    """Processes of this machine, which end when this does, however; interrupts are for this process alone."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    others = set(multiprocessing.active_children())
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, context, begin_worker)
    try:
        yield Place(pool, lambda: 2 * count, (BrokenExecutor,))
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for process in set(multiprocessing.active_children()) - others:
            process.terminate()
        raise
    pool.shutdown()


@contextmanager
def cluster_place(address: str) -> Iterator[Place]:
    """The workers of the dask.distributed scheduler at `address`; they need tickwright installed."""
    from distributed import Client, KilledWorker

    connect: Any = Client
    try:
        client = connect(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise UsageError(
            f'No scheduler answers at "{address}" ({error}): give the address that dask scheduler prints, such as '
            "tcp://127.0.0.1:8786."
        ) from None
    with client:
        try:
            client.wait_for_workers(1, timeout=WORKERS_SECONDS)
        except TimeoutError:
            raise UsageError(
                f'The scheduler at "{address}" has no workers: start some with dask worker {address}.'
            ) from None
        try:
            yield Place(
                client.get_executor(pure=False),
                lambda: 2 * max(1, sum(client.nthreads().values())),
                (KilledWorker, CancelledError, OSError),
            )
        except ImportError as error:
            raise UsageError(
                f"A worker of the cluster cannot do its work ({error}): install the same tickwright there."
            ) from None


class Losses:
    """Workers lost one after another, with nothing done in between; `then` says what to do once they are left running.

    >>> losses = Losses("try again")
    >>> for _ in range(3):
    ...     losses.add(OSError("gone"))
    Traceback (most recent call last):
    tickwright.errors.UsageError: Workers were lost 3 times and nothing was done in between (gone): see that they have \
memory enough and are left running, then try again. What is done is kept.
    """

    def __init__(self, then: str) -> None:
        self.then = then
        self.number = 0

    def add(self, error: BaseException) -> None:
        """Count a lost worker; raises UsageError when there were too many."""
        self.number += 1
        if self.number == MOST_LOSSES:
            raise UsageError(
                f"Workers were lost {MOST_LOSSES} times and nothing was done in between ({error}): see that they have "
                f"memory enough and are left running, then {self.then}. What is done is kept."
            ) from None

    def clear(self) -> None:
        """Something was done."""
        self.number = 0


def send_out(
    place: Place, do: Callable[[Task], Answer], waiting: deque[Task], running: dict[Future[Answer], Task]
) -> None:
    """Send waiting tasks to a place, as many as it has room for; raises its errors if all workers are lost by now."""
    while waiting and len(running) < place.room():
        with undisturbed():  # it may start a process
            future = place.executor.submit(do, waiting[0])
        running[future] = waiting.popleft()


def spread(
    do: Callable[[Task], Answer],
    tasks: Iterable[Task],
    workers: int | None,
    cluster: str | None,
    stopped: Callable[[], bool],
) -> Iterator[tuple[Task, Answer]]:
    """Do tasks, each by itself, and give each with its answer as it comes, until all are done or `stopped` says so.

    They are done here for a second, or all of them with one worker; then in processes (None: one for each core), or
    on a cluster. A task whose worker is lost goes out again. Raises UsageError if that happens time and again.
    """
    waiting = deque(tasks)
    count = workers if workers is not None else os.cpu_count() or 1
    end = time.monotonic() + HERE_SECONDS
    while waiting and cluster is None and (count == 1 or time.monotonic() < end):
        if stopped():
            return
        task = waiting.popleft()
        yield task, do(task)
    losses = Losses("go on")
    while waiting and not stopped():
        with suppress(_Stopped), cluster_place(cluster) if cluster is not None else process_place(count) as place:
            try:
                for done in _answers(do, place, waiting, stopped):
                    yield done
                    losses.clear()
            except place.lost as error:
                losses.add(error)
                continue
            if waiting:  # stopped: what is under way is given up
                raise _Stopped


class _Stopped(BaseException):
    """Leaves a place without waiting for what is under way there."""


def _answers(
    do: Callable[[Task], Answer], place: Place, waiting: deque[Task], stopped: Callable[[], bool]
) -> Iterator[tuple[Task, Answer]]:
    """Send tasks out and give their answers; what is not answered stays in `waiting`."""
    running: dict[Future[Answer], Task] = {}
    try:
        while (waiting or running) and not stopped():
            send_out(place, do, waiting, running)
            for future in wait(running, LOOK_SECONDS, FIRST_COMPLETED).done:
                answer = future.result()
                yield running.pop(future), answer
    finally:
        waiting.extendleft(running.values())
