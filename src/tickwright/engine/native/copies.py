"""Further acts, tried in copies of one run: at every offset of a press, say, in one call."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import NamedTuple

from tickwright.engine.native.library import ActRecord, ChangeRecord, EndingRecord
from tickwright.engine.native.packing import address
from tickwright.engine.native.simulation import Simulation, World
from tickwright.plan.hand import Stimulus

KEEP_ACTS = 2
ACT = -1  # the place of a row that tells of an act
WORKED, LET_GO = 1, 2  # its value; 0 where the act did nothing to a trigger
AT_ONCE = 50_000  # changes read in one go
SHARE = 16  # copies run between two looks at what a user wants


class Further(NamedTuple):
    """What came of one list of further acts.

    `changes` holds (step, place, value) from the beginning on: what a watched cell showed, within a step, too, before
    and after each act of the script; and for each act, in order, a row of place `ACT` that says what it was.
    """

    changes: list[tuple[int, int, int]]
    last_step: int  # in which anything happened
    at_rest: bool


def further(sim: Simulation, jobs: Sequence[Sequence[Stimulus]], until: int) -> list[Further]:
    """Let each list of acts come in a copy of the run, beside its own script, and run on to before `until`.

    `sim` is not touched. The lists are in the order of their first acts, none of which may lie in a step that was
    simulated; within a step the script's own acts come first.

    >>> from tickwright.plan import Setup, loads
    >>> from tickwright.rules import load_rules
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]''')
    >>> sim = Simulation(Setup(plan, load_rules()), watch={"lamp": (1, 0, 1)})
    >>> [further(sim, [[Stimulus(step, (0, 0, 1), "press")]], 100)[0].changes[-1] for step in (3, 5)]
    [(27, 0, 0), (29, 0, 0)]
    """
    records, starts = [], array("q", [0])
    for job in jobs:
        records += [sim.act_record(act) for act in job]
        starts.append(len(records))
    acts = (ActRecord * max(len(records), 1))(*records)
    held, running = sim.world.copy(), World()
    held.checked(held.library.tw_log(held.handle, KEEP_ACTS))
    ends, endings = array("q", [0] * len(jobs)), (EndingRecord * max(len(jobs), 1))()
    found: list[Further] = []
    changes = (ChangeRecord * AT_ONCE)()
    while len(found) < len(jobs):
        first = len(found)
        end = min(first + SHARE, len(jobs))
        stopped = held.checked(
            held.library.tw_further(
                held.handle, running.handle, acts, len(records), address(starts), first, end, until, changes,
                len(changes), address(ends), endings,
            )
        )  # fmt: skip
        at = 0
        for place in range(first, stopped):
            rows = [(row.step, row.probe, row.value) for row in changes[at : ends[place]]]
            found.append(Further(rows, endings[place].last_step, bool(endings[place].at_rest)))
            at = ends[place]
        if stopped == first:
            changes = (ChangeRecord * (2 * len(changes)))()
    return found
