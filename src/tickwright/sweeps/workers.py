"""Doing points: in this process, in processes of this machine, or on the workers of a dask.distributed cluster.

Wherever they run, points go out in chunks and only the process that began the sweep records, chunk by chunk; a worker
that dies takes at most its chunk along, which goes out again.
"""

from __future__ import annotations

import json
import math
import os
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from typing import Any

from tickwright.charts import check_charts
from tickwright.engine import run
from tickwright.errors import TickwrightError
from tickwright.measurement import measure_with_findings
from tickwright.plan.cells import with_changes
from tickwright.plan.files import loads
from tickwright.plan.model import Plan
from tickwright.processes import HERE_SECONDS, Losses, Place, cluster_place, process_place, send_out
from tickwright.sweeps.points import Point

CHUNK_POINTS = 64
CHUNK_SECONDS = 0.5

Record = Callable[[list[tuple[Point, str]]], None]


def do_points(points: Sequence[Point], workers: int | None, cluster: str | None, record: Record) -> None:
    """Do the points and hand each chunk's answers to `record`, in whatever order they come.

    A KeyboardInterrupt is let through when what is being done just then has been recorded, or after a second.
    """
    count = workers if workers is not None else os.cpu_count() or 1
    if cluster is None:
        points = _here(points, record, HERE_SECONDS if count > 1 else math.inf)
    waiting = deque(_chunks(points, count))
    losses = Losses("sweep again")
    while waiting:
        with cluster_place(cluster) if cluster is not None else process_place(count) as place:
            try:
                for done in _answered(place, waiting):
                    record(done)
                    losses.clear()
            except place.lost as error:
                losses.add(error)


def _here(points: Sequence[Point], record: Record, seconds: float) -> Sequence[Point]:
    """Do points in this process for so long, and give those that are left."""
    end = time.monotonic() + seconds
    while points and time.monotonic() < end:
        answers: list[str] = []
        chunk = points[:CHUNK_POINTS]
        try:
            _answer_into(answers, chunk)
        finally:
            record(list(zip(chunk, answers, strict=False)))
        points = points[len(answers) :]
    return points


def _chunks(points: Sequence[Point], workers: int) -> list[list[Point]]:
    """The points in chunks, so many that no worker is left without when few are left."""
    size = max(1, min(CHUNK_POINTS, len(points) // (4 * workers)))
    return [list(points[start : start + size]) for start in range(0, len(points), size)]


def _answered(place: Place, waiting: deque[list[Point]]) -> Iterator[list[tuple[Point, str]]]:
    """Send chunks out and give the answers as they come; the chunks of a lost worker go back into `waiting`."""
    running: dict[Future[list[str]], list[Point]] = {}

    def take(future: Future[list[str]]) -> list[tuple[Point, str]]:
        chunk = running.pop(future)
        try:
            answers = future.result()
        except place.lost:
            waiting.extend([point] for point in chunk)  # alone and last: one that ends its worker ends no other's work
            raise
        if len(answers) < len(chunk):
            waiting.appendleft(chunk[len(answers) :])
        return list(zip(chunk, answers, strict=False))

    try:
        while waiting or running:
            send_out(place, answers_of, waiting, running)
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                yield take(future)
    except place.lost:
        for future in list(running):
            if future.done() and not future.cancelled() and future.exception() is None:
                yield take(future)
        waiting.extend([point] for chunk in running.values() for point in chunk)
        raise
    except KeyboardInterrupt:
        for future in wait(running, timeout=2 * CHUNK_SECONDS).done:
            with suppress(*place.lost):
                yield take(future)
        raise


def answers_of(chunk: list[Point]) -> list[str]:
    """The answers to the first points of a chunk, as many as there is time for, one at least."""
    answers: list[str] = []
    _answer_into(answers, chunk)
    return answers


def _answer_into(answers: list[str], chunk: Sequence[Point]) -> None:
    end = time.monotonic() + CHUNK_SECONDS
    for point in chunk:
        answers.append(_answer(point))
        if time.monotonic() > end:
            return


def _answer(point: Point) -> str:
    """What comes of a point, as the JSON that the file keeps."""
    plan = _plan(point.text)
    if point.changes:
        plan = replace(plan, cells=with_changes(plan.cells, dict(point.changes)))
    if point.chart is not None:
        return json.dumps(_claims(point, plan, point.chart), separators=(",", ":"))
    try:
        if point.steps is None:
            measured, findings = measure_with_findings(
                plan, point.trigger, None, point.length_steps, point.ruleset, point.order, point.minimum
            )
            data: dict[str, Any] = {"results": [one.as_data() for one in measured]}
        else:
            made = run(plan, point.acts, point.steps, point.ruleset, point.order)
            data, findings = {"outputs": dict(made.trace.changes)}, made.findings
    except TickwrightError as error:
        return json.dumps({"error": str(error)})
    return json.dumps({**data, "findings": [finding.as_data() for finding in findings]}, separators=(",", ":"))


def _claims(point: Point, plan: Plan, chart: str) -> dict[str, Any]:
    """What the plan makes of one of its charts; errors name no place of a file, as the plan is changed."""
    try:
        verdict = check_charts(replace(plan, source=None), point.ruleset, chart, point.order)[0]
    except TickwrightError as error:
        return {"chart": chart, "error": str(error)}
    findings = [finding.as_data() for finding in verdict.played.findings]
    return {"chart": chart, "claims": [claim.as_data() for claim in verdict.claims], "findings": findings}


@lru_cache(maxsize=16)
def _plan(text: str) -> Plan:
    return loads(text)
