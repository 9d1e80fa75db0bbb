"""Jobs: results, progress, bad input, ends by order and at the limit; and what a run is packed as."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import struct
import threading
import time
from array import array
from pathlib import Path

import pytest

from tickwright import load, load_rules
from tickwright.errors import TickwrightError
from tickwright.recording import record
from tickwright.workbench import work
from tickwright.workbench.jobs import Cancelled, Worker
from tickwright.workbench.work import flashing_cells, packed

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def with_worker(story):
    """Run a story (an async function of a worker) and end the worker."""

    async def whole():
        worker = Worker("trial")
        try:
            return await story(worker)
        finally:
            worker.stop()

    return asyncio.run(whole())


def processes(worker, wanted):
    """How many processes a worker has; one that was just ended may take a moment to go."""
    until = time.monotonic() + 10
    while True:
        here = [child.name for child in multiprocessing.active_children()].count(f"tickwright {worker.name}")
        if here == wanted or time.monotonic() > until:
            return here
        time.sleep(0.01)


def unpacked(data):
    (length,) = struct.unpack_from("<I", data)
    head = json.loads(data[4 : 4 + length])
    total = sum(head["counts"])
    steps = array("I", data[4 + length : 4 + length + 4 * total])
    values = array("H", data[4 + length + 4 * total :])
    lanes, at = {}, 0
    for cell, count in zip(head["cells"], head["counts"], strict=True):
        lanes[tuple(cell)] = list(zip(steps[at : at + count], values[at : at + count], strict=True))
        at += count
    return head, lanes


def test_a_run_is_packed_whole():
    recording = record(load(EXAMPLES / "flat-loop-6.toml"), ["5:press"], 200)
    data = packed(recording)
    head, lanes = unpacked(data)
    assert (len(data) % 2, head["steps"], head["acts"][0]["step"]) == (0, 200, 5)
    assert lanes == {cell: list(changes) for cell, changes in recording.shown.items()}
    # By hand: the lamp comes on one tick (2 steps) after the press and holds 108 steps (5.4 s).
    assert lanes[2, 0, 0] == [(0, 0), (7, 15), (115, 0)]
    assert head["scenes"]["scenes"] == []
    assert head["solid"] is None


def test_what_pistons_move_is_packed_as_scenes():
    recording = record(load(EXAMPLES / "shuttle.toml"), None, 200)
    scenes = unpacked(packed(recording))[0]["scenes"]
    assert [scene["step"] for scene in scenes["scenes"]] == [step for step, _ in recording.scenes[1:]]
    words = {sort["text"] for sort in scenes["sorts"]}
    assert any("extended" in text for text in words)
    for scene, (_, stands) in zip(scenes["scenes"], recording.scenes[1:], strict=True):
        for x, y, z, number in scene["cells"]:
            assert (number < 0) == ((x, y, z) not in stands)


def test_what_pistons_move_is_packed_for_the_3d_view_too(monkeypatch):
    recording = record(load(EXAMPLES / "shuttle.toml"), None, 200)
    solid = unpacked(packed(recording))[0]["solid"]
    assert solid["steps"] == [step for step, _ in recording.scenes]
    assert (solid["configurations"][0], solid["cut_at"]) == (0, None)
    for number, (_, stands) in zip(solid["configurations"], recording.scenes, strict=True):
        rows = {row[0]: row for row in solid["data"]["configurations"][0]}
        rows |= {row[0]: row for row in solid["data"]["configurations"][number]}
        held = {tuple(solid["data"]["cells"][cell]) for cell, row in rows.items() if len(row) > 1}
        assert held == set(stands)
    monkeypatch.setattr(work, "MOST_SOLID_ROWS", 3 * len(recording.plan.cells))
    cut = unpacked(packed(recording))[0]["solid"]
    assert (len(cut["data"]["configurations"]), cut["configurations"]) == (3, [0, 1, 2])
    assert cut["cut_at"] == recording.scenes[3][0]


def test_cells_that_flash_are_told_for_each_speed():
    # On and off every 2 steps: a flash each 4 steps, 5 a second at full speed; at a half 2.5. Six levels are no flash.
    blinking = [(step, 15 * (step // 2 % 2)) for step in range(0, 200, 2)]
    fading = [(step, 15 - step) for step in range(16)]
    found = flashing_cells([fading, blinking])
    assert found["1"] == [1]
    assert found["0.5"] == []
    assert flashing_cells([fading[:5]]) == {}


def test_a_job_gives_its_result_and_the_next_one_too():
    async def story(worker):
        plan = load(EXAMPLES / "flat-loop-6.toml")
        data, findings = await worker.do("watch", plan, load_rules("standard"), ["0:press"], 100)
        assert (unpacked(data)[0]["steps"], findings) == (100, ())
        with pytest.raises(TickwrightError, match="neither a trigger"):
            await worker.do("watch", plan, load_rules("standard"), ["0:pres"], 100)
        data, _ = await worker.do("watch", plan, load_rules("standard"), [], 50)
        assert unpacked(data)[0]["steps"] == 50

    with_worker(story)


def test_a_runaway_job_is_ended_by_order_and_at_its_limit():
    async def story(worker):
        plan, rules = load(EXAMPLES / "torch-clock.toml"), load_rules("standard")
        running = asyncio.create_task(worker.do("prove", plan, rules, "settles", 10**8))
        while worker.job is None:
            await asyncio.sleep(0.01)
        worker.cancel()
        with pytest.raises(Cancelled):
            await running
        with pytest.raises(TickwrightError, match="was ended after 0 s"):
            await worker.do("prove", plan, rules, "settles", 10**8, most_seconds=0.3)
        data, _ = await worker.do("watch", plan, rules, [], 50)  # and the worker is fit for the next
        assert unpacked(data)[0]["steps"] == 50

    with_worker(story)


def test_a_job_that_nobody_waits_for_does_not_answer_for_the_next():
    async def story(worker):
        plan, rules = load(EXAMPLES / "flat-loop-6.toml"), load_rules("standard")
        endless = ("prove", load(EXAMPLES / "torch-clock.toml"), rules, "settles", 10**8)
        for job in (("watch", plan, rules, [], 90), endless):
            waiting = asyncio.create_task(worker.do(*job))
            while worker.job is None:
                await asyncio.sleep(0.01)
            waiting.cancel()
            data, _ = await worker.do("watch", plan, rules, [], 50)
            assert unpacked(data)[0]["steps"] == 50

    with_worker(story)


def test_a_worker_stopped_while_it_starts_leaves_no_process_and_takes_no_job():
    async def story(worker):
        for _ in range(8):
            begun = threading.Event()

            def start(one=worker, begun=begun):
                begun.set()
                one.start()

            starting = threading.Thread(target=start)
            starting.start()
            begun.wait()
            worker.stop()
            starting.join()
            assert processes(worker, 0) == 0
            with pytest.raises(Cancelled):
                await worker.do("watch", load(EXAMPLES / "flat-loop-6.toml"), load_rules("standard"), [], 50)
            worker = Worker(worker.name)

    with_worker(story)
