"""Many tabs that the browser has put to sleep, on real sockets: the one that edits is served, and they cost nothing."""

from __future__ import annotations

import asyncio
import shutil
from contextlib import AsyncExitStack
from pathlib import Path

from at_the_bench import Bench
from tabs import Tab

LATCH = Path(__file__).resolve().parents[2] / "examples" / "latch.toml"
STUCK = 20
MOST_EDITS = 2000


async def edit_beside_stuck_tabs(address):
    """Edit until an edit reaches no stuck tab, then wake one; how many edits it took."""
    async with AsyncExitStack() as stack:
        tab = await stack.enter_async_context(Tab(address))
        stuck = [await stack.enter_async_context(Tab(address, listens=False)) for _ in range(STUCK)]
        for done in range(1, MOST_EDITS):
            for one in stuck:
                one.forget()
            await tab.edit(op="place", cell=[done % 50, 20 + done // 50, 0], part="block")
            await tab.until_told("take")
            await asyncio.sleep(0.5)  # what was sent to the others is there by now, or comes with the next edit
            if not any(one.read("runMethod") for one in stuck):
                await stuck[0].wake()
                await stuck[0].until_told("take")  # what it missed
                assert not any(one.read("runMethod") for one in stuck[1:])
                return done
    return MOST_EDITS


def test_twenty_stuck_tabs_are_left_alone_until_they_wake(tmp_path):
    shutil.copy(LATCH, tmp_path / "latch.toml")
    bench = Bench(tmp_path / "latch.toml", tmp_path / "state")
    try:
        assert asyncio.run(edit_beside_stuck_tabs(bench.address)) < MOST_EDITS
    finally:
        bench.end()
