"""Compiled: many runs one after the other, each in the same state arrays, with a summary of what every output did."""

from __future__ import annotations

import numpy as np

from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.inner import inner, shifted
from tickwright.engine.fast.steps import advance, next_step, start

# summary[job, probe, ...]: first step on and last step off (-1 for none), pulses begun, highest and last value, changes
FIRST_ON, LAST_OFF, PULSES, HIGHEST, LAST, CHANGES = range(6)
SUMMARY = 6
# ending[job, ...]: the last step in which anything happened, whether all is at rest then, parts that acted, trouble
LAST_STEP, AT_REST, ACTED, TROUBLE = range(4)
ENDING = 4
TOO_MANY_STACKS = 1  # trouble: more stacks lie about than there is room for


@inner
def renew(m, e, h, x, c):
    """Put everything back to what it is before a start; the tables of the state stay where they are."""
    stamp, actors = c[a.STAMP], np.int64(e[a.ACTORS])
    spare_log, spare_stacks = c[a.SPARE_LOG], c[a.SPARE_STACKS]
    if c[a.FILLED] != 0:
        for at in range(a.WHEEL):
            x[at] = -1
    for at in range(a.MATTER):
        c[at] = 0
    c[a.STAMP], c[a.SPARE_LOG], c[a.SPARE_STACKS] = stamp, spare_log, spare_stacks
    c[a.NEXT_LOOK] = c[a.LANDS] = a.NEVER
    c[a.TURN_RANK] = -1
    for i in range(actors):
        h[i * a.HOT + a.LEVEL] = m[i * a.ROW + a.LAID]
        h[i * a.HOT + a.DUE] = -1
        h[i * a.HOT + a.FLAGS] = 0
    if e[a.HAS_MATTER]:
        for i in range(actors):
            at = c[a.MATTER] + i * a.MATTERS
            x[at + a.COUNT] = m[i * a.ROW + a.STOCK]
            x[at + a.READY] = x[at + a.STACKS] = x[at + a.CREATURES] = 0
            x[at + a.TURN] = x[at + a.SINCE] = x[at + a.LOOK] = x[at + a.FIRST] = -1
    for row in range(e[a.TORCH_TOTAL]):
        at = c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT])
        x[at + a.KEPT] = x[at + a.PUT] = 0
    for p in range(e[a.PROBE_TOTAL]):
        x[c[a.SHOWN] + p] = -1


@inner
def fold(m, e, h, x, c, summary):
    """Take the trace so far into the summary, and empty it."""
    for row in range(c[a.TRACE_LENGTH]):
        at = c[a.TRACE] + row * 3
        p, step, value = np.int64(x[at]), x[at + 1], x[at + 2]
        here = p * SUMMARY
        before = summary[here + LAST]
        if value > 0 and before == 0:
            summary[here + PULSES] += 1
            if summary[here + FIRST_ON] < 0:
                summary[here + FIRST_ON] = step
        if value == 0 and before > 0:
            summary[here + LAST_OFF] = step
        if value != before:
            summary[here + CHANGES] += 1
        summary[here + HIGHEST] = max(summary[here + HIGHEST], value)
        summary[here + LAST] = value
    c[a.TRACE_LENGTH] = 0
    c[a.LOG_LENGTH] = 0


@inner
def run_one(m, e, h, x, c, act, acts, steps, summary, ending):
    """Run one circuit under one script for so many steps."""
    renew(m, e, h, x, c)
    for at in range(acts * a.ACT):
        x[c[a.ACTS] + at] = act[at]
    c[a.ACTS_END] = acts
    for p in range(e[a.PROBE_TOTAL]):
        for column in range(SUMMARY):
            summary[p * SUMMARY + column] = 0
        summary[p * SUMMARY + FIRST_ON] = summary[p * SUMMARY + LAST_OFF] = -1
    start(m, e, h, x, c)
    trouble = 0
    while True:
        code = advance(m, e, h, x, c, steps)
        fold(m, e, h, x, c, summary)
        if code == a.FINISHED:
            break
        if c[a.STACK_END] - c[a.STACK_BASE] + c[a.SPARE_STACKS] > c[a.STACK_ROOM]:
            trouble = TOO_MANY_STACKS
            break
    ending[LAST_STEP] = c[a.NOW]
    ending[AT_REST] = 1 if trouble == 0 and next_step(m, e, h, x, c) == a.NEVER else 0
    ending[ACTED] = c[a.EVENTS]
    ending[TROUBLE] = trouble


@inner
def run_jobs(m, e, h, x, c, place, job, act, steps, summary, ending, first, end):
    """Run the jobs `first` .. `end` - 1.

    place[circuit]: where it begins in m and e. job[j]: its circuit, its first act, how many, where its summary begins.
    """
    for j in range(first, end):
        circuit = np.int64(job[j * 4])
        run_one(
            shifted(m, place[circuit * 2]),
            shifted(e, place[circuit * 2 + 1]),
            h,
            x,
            c,
            shifted(act, np.int64(job[j * 4 + 1]) * a.ACT),
            np.int64(job[j * 4 + 2]),
            steps,
            shifted(summary, np.int64(job[j * 4 + 3]) * SUMMARY),
            shifted(ending, np.int64(j) * ENDING),
        )
