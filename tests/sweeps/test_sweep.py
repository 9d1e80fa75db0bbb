"""Sweeps: what they find is what `measure` and `run` find; nothing is lost and nothing done twice, whoever dies."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import BrokenExecutor, Future
from contextlib import contextmanager
from pathlib import Path

import pytest

from tickwright import grid, load, measure, processes, run, sweep
from tickwright.errors import UsageError
from tickwright.sweeps import left, recorded

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
LOOP = {"loop": load(EXAMPLES / "flat-loop-4.toml")}
CLOCK = {"clock": load(EXAMPLES / "hopper-clock.toml")}
PATIENCE_SECONDS = 600.0  # CI has few cores
SLOW = {"acts": ["60..83:run"], "steps": 15_000}


def stored(path: Path) -> list[tuple[str, str]]:
    file = sqlite3.connect(path)
    try:
        return file.execute("SELECT key, answer FROM points ORDER BY key").fetchall()
    finally:
        file.close()


def test_each_point_has_what_measure_gives(tmp_path):
    points = grid(LOOP, rules=["standard", "older-wire"], lengths=["7 steps..9 steps"], minimum=True)
    rows = sweep(points, tmp_path / "r.sqlite", workers=1)
    assert [(row.rules, row.length_steps) for row in rows] == [
        (rules, length) for rules in ("standard", "older-wire") for length in (7, 8, 9)
    ]
    for row in rows:
        found = measure(LOOP["loop"], rules=row.rules, length_steps=row.length_steps)
        assert row.results == [one.as_data() for one in found]


def test_each_point_has_what_run_gives(tmp_path):
    points = grid(LOOP, settings=["1,0,1:delay=1,4"], acts=["0:press", "5..6:press"], steps=80)
    rows = sweep(points, tmp_path / "r.sqlite", workers=1)
    text = (EXAMPLES / "flat-loop-4.toml").read_text("utf-8").replace('"repeater east"', '"repeater east delay=4"')
    (tmp_path / "slow.toml").write_text(text, "utf-8")
    plans = {"1": LOOP["loop"], "4": load(tmp_path / "slow.toml")}
    assert len(rows) == 4
    for row in rows:
        made = run(plans[row.settings["1,0,1:delay"]], row.acts, 80)
        assert row.outputs == {name: [list(pair) for pair in pairs] for name, pairs in made.trace.changes.items()}


def test_a_point_that_the_rules_refuse_says_so_and_stops_no_other(tmp_path):
    rows = sweep(grid(LOOP, settings=["press:on=down,up"]), tmp_path / "r.sqlite", workers=1)
    assert [row.error is None for row in rows] == [True, False]
    assert "The short-button at (0, 0, 1) has no support" in str(rows[1].error)
    assert rows[1].results == []


def test_nothing_is_done_twice(tmp_path, monkeypatch):
    from tickwright.sweeps import workers

    done = []
    monkeypatch.setattr(workers, "_answer", lambda point: done.append(point.key) or "{}")
    file = tmp_path / "r.sqlite"
    few, more = (
        grid(LOOP, lengths=["1 tick..5 ticks"]),
        grid({**LOOP, "same": LOOP["loop"]}, lengths=["1 tick..9 ticks"]),
    )
    assert len(left(more, file)) == 9
    assert not file.exists()
    sweep(few, file, workers=1)
    assert len(left(more, file)) == 4
    rows = sweep(more, file, workers=1)
    sweep(more, file, workers=1)
    assert len(done) == len(set(done)) == 9
    assert [row.plan for row in rows] == ["loop"] * 9 + ["same"] * 9
    assert len(recorded(file)) == 9


def test_a_killed_process_takes_nothing_along(tmp_path, monkeypatch):
    from tickwright.sweeps import workers

    points = grid(CLOCK, **SLOW)
    whole = tmp_path / "whole.sqlite"
    sweep(points, whole, workers=1)
    monkeypatch.setattr(workers, "HERE_SECONDS", 0)
    killed, told = [], []

    def kill_one(done, total):
        told.append(done)
        if done and not killed:
            killed.append(multiprocessing.active_children()[0])
            os.kill(killed[0].pid, signal.SIGKILL)

    rows = sweep(points, tmp_path / "killed.sqlite", workers=2, progress=kill_one)
    assert killed
    assert told[-1] == len(rows) == 24
    assert told == sorted(set(told))  # each answer counted once
    assert stored(tmp_path / "killed.sqlite") == stored(whole)
    deadline = time.monotonic() + PATIENCE_SECONDS
    while multiprocessing.active_children():  # what has ended is taken off the list when it is looked at
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_a_killed_cluster_worker_takes_nothing_along(tmp_path):
    distributed = pytest.importorskip("distributed")
    points = grid(CLOCK, **SLOW)
    whole = tmp_path / "whole.sqlite"
    sweep(points, whole, workers=1)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        killed = []

        def kill_one(done, total):
            if done and not killed:
                killed.append(cluster.workers[0].pid)
                os.kill(killed[0], signal.SIGKILL)

        rows = sweep(points, tmp_path / "killed.sqlite", cluster=cluster.scheduler_address, progress=kill_one)
    assert killed
    assert len(rows) == 24
    assert stored(tmp_path / "killed.sqlite") == stored(whole)


def die(chunk):
    """Stands for the work of a worker that never lives to do any."""
    os._exit(1)


def test_workers_that_always_die_end_in_one_message(tmp_path, monkeypatch):
    from tickwright.sweeps import workers

    monkeypatch.setattr(workers, "HERE_SECONDS", 0)
    monkeypatch.setattr(workers, "answers_of", die)
    with pytest.raises(UsageError, match="Workers were lost 3 times and nothing was done in between"):
        sweep(grid(LOOP), tmp_path / "r.sqlite", workers=2)
    assert stored(tmp_path / "r.sqlite") == []


def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(tmp_path):
    file = tmp_path / "r.sqlite"
    command = [sys.executable, "-m", "tickwright", "sweep", str(EXAMPLES / "hopper-clock.toml"), "--into", str(file)]
    command += ["--do", "60..260:run", "--for", "15000 steps", "--workers", "2", "--json"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not (file.exists() and len(stored_or_none(file)) >= 5):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    said = process.communicate(timeout=PATIENCE_SECONDS)[1]
    assert process.returncode == 130
    kept = stored(file)
    assert 5 <= len(kept) < 201
    assert said == f"{201 - len(kept)} points left; the same command goes on from there.\nStopped.\n"
    points = grid(CLOCK, acts=["60..260:run"], steps=15_000)
    assert len(left(points, file)) == 201 - len(kept)


def stored_or_none(path: Path) -> list[tuple[str, str]]:
    try:
        return stored(path)
    except sqlite3.OperationalError:  # between its making and its table
        return []


def test_a_file_of_something_else_is_left_alone(tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("the ferry leaves at nine " * 50, "utf-8")
    with pytest.raises(UsageError, match="is no file of sweep results"):
        sweep(grid(LOOP), other)
    assert other.read_text("utf-8").startswith("the ferry")
    foreign = tmp_path / "foreign.sqlite"
    file = sqlite3.connect(foreign)
    file.execute("CREATE TABLE timetable (ferry TEXT)")
    file.close()
    with pytest.raises(UsageError, match="no file of results of this kind of sweep"):
        sweep(grid(LOOP), foreign)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"workers": 0}, "A sweep with 0 workers does nothing"),
        ({"cluster": "tcp://127.0.0.1:9"}, 'No scheduler answers at "tcp://127.0.0.1:9"'),
        ({"cluster": "nowhere"}, 'No scheduler answers at "nowhere"'),
    ],
)
def test_places_that_are_none(tmp_path, monkeypatch, options, message):
    monkeypatch.setattr(processes, "CONNECT_SECONDS", 1)
    with pytest.raises(UsageError, match=r"A sweep|No scheduler") as caught:
        sweep(grid(LOOP), tmp_path / "r.sqlite", **options)
    assert message in str(caught.value)


def test_a_missing_library_is_named(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match=r'pip install "tickwright\[cluster\]"'):
        sweep(grid(LOOP), tmp_path / "r.sqlite", cluster="tcp://127.0.0.1:8786")


def test_a_file_that_is_not_there_cannot_be_read_back(tmp_path):
    with pytest.raises(UsageError, match="There is no file"):
        recorded(tmp_path / "none.sqlite")


def test_a_chunk_that_no_worker_takes_is_not_lost(tmp_path, monkeypatch):
    from tickwright.sweeps import workers

    class Refusing:
        """Does one chunk at once and, as if all workers were lost then, takes no other."""

        taken = 0

        def submit(self, work, chunk):
            Refusing.taken += 1
            if Refusing.taken % 2 == 0:
                raise BrokenExecutor("all workers are lost")
            future = Future()
            future.set_result(work(chunk))
            return future

    @contextmanager
    def place(_count):
        yield workers.Place(Refusing(), lambda: 2, (BrokenExecutor,))

    monkeypatch.setattr(workers, "HERE_SECONDS", 0)
    monkeypatch.setattr(workers, "process_place", place)
    rows = sweep(grid(LOOP, lengths=["8 steps..30 steps"]), tmp_path / "r.sqlite", workers=2)
    assert [row.length_steps for row in rows] == list(range(8, 31))
