"""Jobs: results, progress, bad input, ends by order and at the limit; and what a run is packed as."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import struct
import subprocess
import sys
import threading
from array import array
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from tickwright import load, load_rules, measure
from tickwright.design import Wish
from tickwright.errors import TickwrightError
from tickwright.recording import record
from tickwright.workbench import work
from tickwright.workbench.jobs import Cancelled, Worker
from tickwright.workbench.work import flashing_cells, packed

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


pytestmark = pytest.mark.timeout(1200)  # on a busy machine


def with_worker(story):
    """Run a story (an async function of a worker) and end the worker."""

    async def whole():
        worker = Worker("trial")
        try:
            return await story(worker)
        finally:
            worker.stop()

    return asyncio.run(whole())


def children(worker):
    """The processes that a worker has."""
    return [child for child in multiprocessing.active_children() if child.name == f"tickwright {worker.name}"]


def threads(worker):
    """The threads that a worker has."""
    return [thread for thread in threading.enumerate() if thread.name.startswith(f"tickwright {worker.name}")]


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
        data, findings, _ = await worker.do("watch", plan, load_rules("standard"), ["0:press"], 100)
        assert (unpacked(data)[0]["steps"], findings) == (100, ())
        with pytest.raises(TickwrightError, match="neither a trigger"):
            await worker.do("watch", plan, load_rules("standard"), ["0:pres"], 100)
        data, *_ = await worker.do("watch", plan, load_rules("standard"), [], 50)
        assert unpacked(data)[0]["steps"] == 50

    with_worker(story)


PLAN, RULES = load(EXAMPLES / "flat-loop-6.toml"), load_rules("standard")
ENDLESS = ("prove", load(EXAMPLES / "two-keys.toml"), RULES, "settles", 10**8)


@asynccontextmanager
async def at_work(worker, job, **more):
    """The task of a job that has told of its progress, so it is at work in its process."""
    told = asyncio.Event()
    running = asyncio.create_task(worker.do(*job, tell=lambda _: told.set(), **more))
    running.add_done_callback(lambda _: told.set())
    await told.wait()
    if running.done():
        await running
    yield running


async def is_fit(worker):
    """Whether the worker does another job as it should."""
    data, *_ = await worker.do("watch", PLAN, RULES, [], 50)
    return unpacked(data)[0]["steps"] == 50


def test_a_runaway_job_is_ended_by_order_and_at_its_limit():
    async def story(worker):
        async with at_work(worker, ENDLESS) as running:
            worker.cancel()
            with pytest.raises(Cancelled):
                await running
        with pytest.raises(TickwrightError, match="was ended after 0 s"):
            await worker.do(*ENDLESS, most_seconds=0.3)
        assert await is_fit(worker)

    with_worker(story)


def test_a_job_is_cancelled_before_its_process_is_up():
    async def story(worker):
        running = asyncio.create_task(worker.do(*ENDLESS))
        await asyncio.sleep(0)  # it has begun to start the process, no more
        assert worker.job == "prove"
        worker.cancel()
        with pytest.raises(Cancelled):
            await running
        assert await is_fit(worker)

    with_worker(story)


def test_a_job_that_is_asked_to_end_gives_what_it_has():
    async def story(worker):
        async with at_work(worker, ENDLESS) as running:
            worker.end()
            proof = await running
        assert proof.verdict == "undecided"
        assert proof.detail.startswith("stopped by hand")
        assert proof.states < 10**8
        proof = await worker.do(*ENDLESS, most_seconds=0.5, keeps=True)
        assert proof.detail.startswith("stopped by hand")

        running = asyncio.create_task(worker.do(*ENDLESS))
        await asyncio.sleep(0)
        worker.end()  # before it was given to the process
        assert (await running).verdict == "undecided"

        async with at_work(worker, ("choose", Wish(hold_steps=240, within_steps=20))) as running:
            worker.end()
            chosen, pictures = await running
        assert chosen.stopped
        assert len(pictures) == len(chosen.designs)

        async with at_work(worker, ("tune", PLAN, RULES, 121, 0)) as running:
            worker.end()
            tuning = await running
        assert not tuning.finished
        assert tuning.runs >= 1
        assert tuning.knob_table
        worker.end()  # of nothing
        assert await is_fit(worker)

    with_worker(story)


def test_designs_that_were_found_stay_when_the_search_is_asked_to_end():
    told = []

    def tell(said):
        told.append(said)
        return "1 found" in said

    chosen, pictures = work.choose(tell, Wish(hold_steps=240, within_steps=20))
    assert (told[0][-7:], told[-2][-7:], told[-1]) == ("0 found", "1 found", "drawing")
    (design,) = chosen.designs
    assert (chosen.stopped, chosen.reason, len(pictures)) == (True, None, 1)
    assert abs(measure(design.plan)[0].hold_steps - 240) <= 20


def test_what_could_stand_in_a_cell_is_measured_one_by_one():
    told = []
    found = work.tries(lambda so_far: told.append(len(so_far)) or False, PLAN, RULES, (1, 0, 1))
    assert [(one.part, one.own) for one in found] == [
        ("repeater east", True), ("repeater east delay=2", False), ("repeater east delay=3", False),
        ("repeater east delay=4", False), ("comparator east", False),
    ]  # fmt: skip
    assert told == [1, 2, 3, 4, 5]
    # A repeater of n ticks answers n ticks after the press, which is 10 ticks long: all else is n - 1 ticks later.
    assert [one.pulses["lamp"] for one in found[:4]] == [[[2 * n, 108]] for n in (1, 2, 3, 4)]
    assert "delay 0.1 s → 0.3 s" in found[2].detail
    assert work.tries(lambda _: False, PLAN, RULES, (0, 0, 0)) == ()  # a block


def test_findings_that_are_asked_to_end_are_those_found_so_far():
    found, stopped = work.findings(lambda _: True, PLAN, RULES, 8)
    assert (found, stopped) == ((), True)
    asked = iter([False] * 30 + [True] * 1_000)
    found, stopped = work.findings(lambda _: next(asked), PLAN, RULES, 8)
    assert [finding.code for finding in found] == ["trigger-too-short"]
    assert stopped
    found, stopped = work.findings(lambda _: False, PLAN, RULES, 8)
    assert (found[0].repair.verified, stopped) == (True, False)


def test_a_job_that_nobody_waits_for_does_not_answer_for_the_next():
    async def story(worker):
        assert await is_fit(worker)
        for pauses in range(6):  # left alone before it was given to the process, and after
            waiting = asyncio.create_task(worker.do("watch", PLAN, RULES, [], 90))
            for _ in range(pauses):
                await asyncio.sleep(0)
            waiting.cancel()
            assert await is_fit(worker)
        async with at_work(worker, ENDLESS) as running:
            running.cancel()
            assert await is_fit(worker)

    with_worker(story)


def test_a_process_that_dies_is_told_and_followed_by_another():
    async def story(worker):
        async with at_work(worker, ENDLESS) as running:
            for child in children(worker):
                child.kill()
            with pytest.raises(TickwrightError, match="ended by itself"):
                await running
        assert await is_fit(worker)
        before = threads(worker)
        for child in children(worker):  # while it has nothing to do
            child.kill()
        for thread in before:
            thread.join()
        assert await is_fit(worker)

    with_worker(story)


def test_a_worker_stopped_while_it_starts_leaves_nothing_and_takes_no_job():
    async def story(worker):
        for _ in range(8):
            starting = asyncio.create_task(worker.start())
            await asyncio.sleep(0)  # another thread has begun to start the process
            worker.stop()
            await starting
            assert (children(worker), threads(worker)) == ([], [])
            with pytest.raises(Cancelled):
                await worker.do("watch", PLAN, RULES, [], 50)
            worker = Worker(worker.name)

    with_worker(story)


def test_a_worker_that_is_stopped_leaves_nothing():
    async def story(worker):
        for _ in range(3):
            async with at_work(worker, ENDLESS) as running:
                worker.cancel()
                with pytest.raises(Cancelled):
                    await running
        async with at_work(worker, ENDLESS) as running:
            worker.stop()
            assert (children(worker), threads(worker)) == ([], [])
            with pytest.raises(Cancelled):
                await running

    with_worker(story)


# A group of its own hears Ctrl-C right after its worker was started, and again while it is at work.
INTERRUPTED = """
import asyncio, os, signal, sys
from tickwright import load, load_rules
from tickwright.workbench.jobs import Worker

async def story():
    worker, told = Worker("trial"), asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGINT, worker.end)
    job = "prove", load(sys.argv[1]), load_rules("standard"), "settles", 10**8
    await worker.start()
    os.killpg(0, signal.SIGINT)
    for _ in range(2):
        running = asyncio.create_task(worker.do(*job, tell=lambda _: told.set()))
        running.add_done_callback(lambda _: told.set())
        await told.wait()
        told.clear()
        os.killpg(0, signal.SIGINT)
        print((await running).verdict)
    worker.stop()

if __name__ == "__main__":
    asyncio.run(story())
"""


def test_ctrl_c_is_not_heard_by_what_does_the_jobs(tmp_path):
    story = tmp_path / "story.py"
    story.write_text(INTERRUPTED, encoding="utf-8")
    words = [sys.executable, str(story), str(EXAMPLES / "two-keys.toml")]
    done = subprocess.run(words, capture_output=True, text=True, start_new_session=True, timeout=1000, check=False)
    assert (done.stdout, done.stderr, done.returncode) == ("undecided\n" * 2, "", 0)
