"""Sweep: do what is left of a grid, and give every point's row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from tickwright.arguments import checked
from tickwright.errors import UsageError
from tickwright.extras import need_extra
from tickwright.sweeps.points import Point, Row


@checked
def sweep(
    points: Sequence[Point],
    into: str | Path,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Row]:
    """Do every point that the SQLite file `into` does not hold yet, and give the rows of all, in the points' order.

    What is done is in the file at once: after an interrupt, a crash or a lost worker the same call goes on from there,
    and nothing is done twice. `workers` processes of this machine take part (all cores if None, none but this if 1;
    more than one need the guard `if __name__ == "__main__":` in a script), or the workers of the dask.distributed
    scheduler at `cluster`. `progress` is called with the numbers of points done and in all.

    Raises UsageError if `into` is something else, the cluster does not answer, or workers are lost again and again.

    >>> import tempfile
    >>> from tickwright import grid, loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
    ... layer = [{rows = "##"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     rows = sweep(grid({"lamp": plan}, settings=["1,0,1:delay=1..4"]), f"{folder}/delays.sqlite", workers=1)
    >>> [(row.settings["1,0,1:delay"], row.results[0]["delay_steps"]) for row in rows]
    [('1', 2), ('2', 4), ('3', 6), ('4', 8)]
    """
    from tickwright.sweeps.results import Results
    from tickwright.sweeps.workers import do_points

    if workers is not None and workers < 1:
        raise UsageError(f"A sweep with {workers} workers does nothing: give it 1 or more.")
    if cluster is not None:
        need_extra("cluster")
    with Results(into) as results:
        todo = _left(points, results.keys())
        total = len({point.key for point in points})
        done = total - len(todo)

        def record(answers: list[tuple[Point, str]]) -> None:
            nonlocal done
            results.add(answers)
            done += len(answers)
            if progress is not None:
                progress(done, total)

        if progress is not None:
            progress(done, total)
        if todo:
            do_points(todo, workers, cluster, record)
        rows = [results.row(point.key) for point in points]
        return [
            replace(row, plan=point.plan, rules=point.rules, settings=dict(point.settings), acts=list(point.acts))
            for point, row in zip(points, rows, strict=True)
            if row is not None
        ]


def left(points: Iterable[Point], into: str | Path) -> list[Point]:
    """The points that the file does not hold yet, each once; nothing is written, and the file need not be there."""
    from tickwright.sweeps.results import Results

    if not Path(into).exists():
        return _left(points, set())
    with Results(into) as results:
        return _left(points, results.keys())


def recorded(into: str | Path) -> list[Row]:
    """All rows of a file of results, whatever sweep they came from; UsageError if there is no such file."""
    from tickwright.sweeps.results import Results

    if not Path(into).exists():
        raise UsageError(f'There is no file "{into}": give the file of a sweep that was begun.')
    with Results(into) as results:
        return results.rows()


def _left(points: Iterable[Point], known: set[str]) -> list[Point]:
    return list({point.key: point for point in points if point.key not in known}.values())
