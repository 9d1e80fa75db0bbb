"""The compiled functions that Python calls, kept on disk once compiled.

numba keeps compiled code by the file in which it is defined; so that a change in any file of this package counts, each
entry holds a number made from all of them.
"""

from __future__ import annotations

from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit

from tickwright.engine.fast import arrays as a
from tickwright.engine.fast import many, signals, states, steps
from tickwright.engine.fast.inner import pointer


def _sources() -> int:
    folder = Path(__file__).parent
    digest = blake2b(digest_size=7)
    for path in sorted((*folder.glob("*.py"), folder.parent / "circuit.py", folder.parents[1] / "kinds" / "table.py")):
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest(), "big")


entry: Any = njit(cache=True, nogil=True, _nrt=False)  # type: ignore[call-overload]


def _entries(made_from: int) -> tuple[Any, ...]:
    @entry
    def start(m, e, h, x, c):
        c[a.MADE_FROM] = made_from
        steps.start(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c))

    @entry
    def advance(m, e, h, x, c, until):
        c[a.MADE_FROM] = made_from
        return steps.advance(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c), until)

    @entry
    def notify_all(m, e, h, x, c, actors):
        c[a.MADE_FROM] = made_from
        for i in actors:
            signals.notify(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c), np.int64(i))

    @entry
    def run_jobs(m, e, h, x, c, place, job, act, steps, summary, ending, first, end):
        c[a.MADE_FROM] = made_from
        many.run_jobs(
            pointer(m),
            pointer(e),
            pointer(h),
            pointer(x),
            pointer(c),
            pointer(place),
            pointer(job),
            pointer(act),
            steps,
            pointer(summary),
            pointer(ending),
            first,
            end,
        )

    @entry
    def explore(m, e, h, x, c, g, words, where, table, shown, lists, after, room, state, end, hands_off):
        c[a.MADE_FROM] = made_from
        return states.explore(
            pointer(m), pointer(e), pointer(h), pointer(x), pointer(c), pointer(g), pointer(words), pointer(where),
            pointer(table), pointer(shown), pointer(lists), pointer(after), pointer(room), state, end, hands_off,
        )  # fmt: skip

    @entry
    def futures(c, after, moves, rests, shown, probes, count, done, path, future):
        c[a.MADE_FROM] = made_from
        states.futures(
            pointer(after), moves, pointer(rests), pointer(shown), probes, count, pointer(done), pointer(path),
            pointer(future),
        )  # fmt: skip

    return start, advance, notify_all, run_jobs, explore, futures


start, advance, notify_all, run_jobs, explore, futures = _entries(_sources())
