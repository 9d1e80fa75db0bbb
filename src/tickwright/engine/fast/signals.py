"""Compiled: ports, schedules, what a part does when it is told, and how a change spreads."""

from __future__ import annotations

import numpy as np

from tickwright.engine.circuit import KIND
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.inner import inner

REPEATER, COMPARATOR, TORCH, LAMP = KIND["repeater"], KIND["comparator"], KIND["torch"], KIND["lamp"]
SENSOR, EJECTOR, HOPPER = KIND["change-sensor"], KIND["ejector"], KIND["hopper"]
MOST_STAMPS = 2**31 - 1


@inner
def hears(m, e, h, x, c, start, end):
    """Whether any source of a port reaches it."""
    for at in range(start, end):
        edge = e[at]
        if h[(edge >> 8) * a.HOT + a.LEVEL] > ((edge >> 4) & 15):
            return True
    return False


@inner
def level_at(m, e, h, x, c, start, end):
    """The level at a port."""
    highest = 0
    for at in range(start, end):
        edge = e[at]
        level = min(h[(edge >> 8) * a.HOT + a.LEVEL], edge & 15) - ((edge >> 4) & 15)
        highest = max(highest, level)
    return highest


@inner
def powered(m, e, h, x, c, i):
    """Whether power reaches the rear of a repeater, or any side that the part hears on."""
    return hears(m, e, h, x, c, m[i * a.ROW + a.POWER], m[i * a.ROW + a.POWER_END])


@inner
def compared(m, e, h, x, c, i):
    """The level that the comparator computes from its rear and flanks at this moment."""
    rear = level_at(m, e, h, x, c, m[i * a.ROW + a.POWER], m[i * a.ROW + a.POWER_END])
    container = m[i * a.ROW + a.READS]
    traits = m[i * a.ROW + a.TRAITS]
    if container >= 0 and (traits & a.DIRECTLY or rear < e[a.TOP]):
        items = x[c[a.MATTER] + container * a.MATTERS + a.COUNT]
        rear = 0 if items == 0 else 1 + 14 * items // m[container * a.ROW + a.CAPACITY]
    flank = level_at(m, e, h, x, c, m[i * a.ROW + a.FLANK], m[i * a.ROW + a.FLANK_END])
    if traits & a.DIFFERENCE:
        return max(rear - flank, 0)
    return rear if rear >= flank else 0


@inner
def push_over(m, e, h, x, c, key, entry):
    """Put an entry into the overflow heap."""
    over = c[a.OVER]
    at = c[a.OVER_LENGTH]
    c[a.OVER_LENGTH] = at + 1
    while at > 0:
        parent = (at - 1) >> 1
        if c[over + 2 * parent] <= key:
            break
        c[over + 2 * at], c[over + 2 * at + 1] = c[over + 2 * parent], c[over + 2 * parent + 1]
        at = parent
    c[over + 2 * at], c[over + 2 * at + 1] = key, entry


@inner
def pop_over(m, e, h, x, c):
    """Take the first entry off the overflow heap."""
    over = c[a.OVER]
    length = c[a.OVER_LENGTH] - 1
    c[a.OVER_LENGTH] = length
    key, entry = c[over + 2 * length], c[over + 2 * length + 1]
    at = 0
    while True:
        child = 2 * at + 1
        if child >= length:
            break
        if child + 1 < length and c[over + 2 * child + 2] < c[over + 2 * child]:
            child += 1
        if key <= c[over + 2 * child]:
            break
        c[over + 2 * at], c[over + 2 * at + 1] = c[over + 2 * child], c[over + 2 * child + 1]
        at = child
    c[over + 2 * at], c[over + 2 * at + 1] = key, entry


@inner
def append(m, e, h, x, c, i, due, order):
    """Put an entry at the end of its list of the wheel."""
    slot = due & (a.SLOTS - 1)
    at = slot * a.CLASSES + order
    h[i * a.HOT + a.NEXT] = -1
    last = x[a.TAIL + at]
    if last < 0:
        x[at] = i
        c[a.FILLED] |= np.int64(1) << slot
    else:
        h[last * a.HOT + a.NEXT] = i
    x[a.TAIL + at] = i


@inner
def schedule(m, e, h, x, c, i, delay, order):
    """Schedule an event; a part that has one is never scheduled again."""
    if h[i * a.HOT + a.DUE] >= 0:
        return
    due = c[a.NOW] + delay
    h[i * a.HOT + a.DUE] = due
    if delay < a.SLOTS:
        append(m, e, h, x, c, i, due, order)
    else:
        serial = c[a.SERIAL] + 1 if c[a.OVER_LENGTH] > 0 else np.int64(0)
        c[a.SERIAL] = serial
        push_over(m, e, h, x, c, (due << 32) | serial, (np.int64(order) << 32) | np.int64(i))


# --- hoppers that something happens to ---------------------------------------------------------------------------


@inner
def sift_turn(m, e, h, x, c, turn):
    """Put a turn into the heap of turns, which has room for it."""
    turns, at = c[a.TURNS], c[a.TURNS_LENGTH]
    c[a.TURNS_LENGTH] = at + 1
    while at > 0:
        parent = (at - 1) >> 1
        if c[turns + parent] <= turn:
            break
        c[turns + at] = c[turns + parent]
        at = parent
    c[turns + at] = turn


@inner
def push_turn(m, e, h, x, c, turn):
    """Put a turn into the heap of turns, which is made anew when it is full."""
    if c[a.TURNS_LENGTH] < c[a.TURNS_ROOM]:
        sift_turn(m, e, h, x, c, turn)
        return
    c[a.TURNS_LENGTH] = 0
    for at in range(e[a.HOPPERS], e[a.HOPPERS_END]):
        i = np.int64(e[at])
        waits = np.int64(x[c[a.MATTER] + i * a.MATTERS + a.TURN])
        if waits >= 0:
            sift_turn(m, e, h, x, c, (waits << 31) | np.int64(m[i * a.ROW + a.RANK]))


@inner
def pop_turn(m, e, h, x, c):
    """Take the first turn off the heap."""
    length = c[a.TURNS_LENGTH] - 1
    c[a.TURNS_LENGTH] = length
    turn = c[c[a.TURNS] + length]
    at = 0
    while True:
        child = 2 * at + 1
        if child >= length:
            break
        if child + 1 < length and c[c[a.TURNS] + child + 1] < c[c[a.TURNS] + child]:
            child += 1
        if turn <= c[c[a.TURNS] + child]:
            break
        c[c[a.TURNS] + at] = c[c[a.TURNS] + child]
        at = child
    c[c[a.TURNS] + at] = turn


@inner
def wake(m, e, h, x, c, i):
    """Something about the hopper changed: let it take its next turn that is not yet over."""
    at = np.int64(x[c[a.MATTER] + i * a.MATTERS + a.READY])
    now = c[a.NOW]
    if at <= now:
        this_step = c[a.TURNS_OVER] == 0 and m[i * a.ROW + a.RANK] > c[a.TURN_RANK]
        at = now if this_step else now + 1
    if x[c[a.MATTER] + i * a.MATTERS + a.TURN] != at:
        x[c[a.MATTER] + i * a.MATTERS + a.TURN] = at
        push_turn(m, e, h, x, c, (at << 31) | np.int64(m[i * a.ROW + a.RANK]))


# --- telling -----------------------------------------------------------------------------------------------------


@inner
def mark(m, e, h, x, c, i):
    """Whatever shows this actor's level or count must be looked at when the step ends."""
    for at in range(m[i * a.ROW + a.PROBE], m[i * a.ROW + a.PROBE_END]):
        probe = e[at]
        if x[c[a.DIRTY] + probe] == 0:
            x[c[a.DIRTY] + probe] = 1
            x[c[a.DIRTY] + e[a.PROBE_TOTAL] + c[a.DIRTY_LENGTH]] = probe
            c[a.DIRTY_LENGTH] += 1


@inner
def notify_last(m, e, h, x, c, i):
    """Tell a change-sensor or a piston: neither changes anything at once."""
    kind = m[i * a.ROW + a.CODE]
    if kind == SENSOR:
        if h[i * a.HOT + a.LEVEL] == 0:
            schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], m[i * a.ROW + a.CLASS_OFF])
        return
    traits = m[i * a.ROW + a.TRAITS]
    if traits & a.BACK or h[i * a.HOT + a.FLAGS] & a.QUEUED:
        return
    if powered(m, e, h, x, c, i) != ((traits & a.OUT) != 0):
        h[i * a.HOT + a.FLAGS] |= a.QUEUED
        x[c[a.QUEUE] + c[a.QUEUE_LENGTH]] = i
        c[a.QUEUE_LENGTH] += 1


@inner
def notify(m, e, h, x, c, i):
    """Let one part look at its input."""
    kind = m[i * a.ROW + a.CODE]
    if kind == REPEATER:
        level = h[i * a.HOT + a.LEVEL]
        if (
            h[i * a.HOT + a.DUE] < 0
            and powered(m, e, h, x, c, i) != (level > 0)
            and not hears(m, e, h, x, c, m[i * a.ROW + a.FLANK], m[i * a.ROW + a.FLANK_END])
        ):
            order = m[i * a.ROW + (a.CLASS_OFF if level == 0 else a.CLASS_ON)]
            schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], order)
    elif kind == COMPARATOR:
        level = h[i * a.HOT + a.LEVEL]
        if h[i * a.HOT + a.DUE] < 0 and compared(m, e, h, x, c, i) != level:
            order = m[i * a.ROW + (a.CLASS_OFF if level == 0 else a.CLASS_ON)]
            schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], order)
    elif kind == TORCH:
        if (
            h[i * a.HOT + a.DUE] < 0
            and powered(m, e, h, x, c, i) == (h[i * a.HOT + a.LEVEL] > 0)
            and not h[i * a.HOT + a.FLAGS] & a.BURNT
        ):
            schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], m[i * a.ROW + a.CLASS_OFF])
    elif kind == LAMP:
        if h[i * a.HOT + a.LEVEL] > 0:
            if h[i * a.HOT + a.DUE] < 0 and not powered(m, e, h, x, c, i):
                schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], m[i * a.ROW + a.CLASS_OFF])
        elif powered(m, e, h, x, c, i):
            h[i * a.HOT + a.LEVEL] = e[a.TOP]
            mark(m, e, h, x, c, i)
            for at in range(m[i * a.ROW + a.NOTIFIED], m[i * a.ROW + a.NOTIFIED_END]):
                notify_last(m, e, h, x, c, np.int64(e[at]))
    elif kind == EJECTOR:
        if powered(m, e, h, x, c, i):
            if not h[i * a.HOT + a.FLAGS] & a.POWERED:
                h[i * a.HOT + a.FLAGS] |= a.POWERED
                schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], m[i * a.ROW + a.CLASS_OFF])
        else:
            h[i * a.HOT + a.FLAGS] &= ~a.POWERED
    elif kind == HOPPER:
        wake(m, e, h, x, c, i)
    else:
        notify_last(m, e, h, x, c, i)


# --- changes -----------------------------------------------------------------------------------------------------


@inner
def begin_merge(m, e, h, x, c):
    """A change of several actors begins: nobody is to be told yet."""
    c[a.STAMP] += 1
    if c[a.STAMP] == MOST_STAMPS:
        for at in range(c[a.STAMPS], c[a.BUFFER]):
            x[at] = 0
        c[a.STAMP] = 1
    c[a.BUFFER_LENGTH] = 0


@inner
def join(m, e, h, x, c, start, end, visibly):
    """These are to be told as well; change-sensors only of what is visible."""
    stamp = c[a.STAMP]
    for at in range(start, end):
        i = e[at]
        if x[c[a.STAMPS] + i] != stamp and (visibly or m[i * a.ROW + a.CODE] != SENSOR):
            x[c[a.STAMPS] + i] = stamp
            x[c[a.BUFFER] + c[a.BUFFER_LENGTH]] = i
            c[a.BUFFER_LENGTH] += 1


@inner
def join_level(m, e, h, x, c, i, before):
    """As part of a change: the actor's level, which was `before`, has changed."""
    mark(m, e, h, x, c, i)
    join(
        m,
        e,
        h,
        x,
        c,
        m[i * a.ROW + a.NOTIFIED],
        m[i * a.ROW + a.NOTIFIED_END],
        (before > 0) != (h[i * a.HOT + a.LEVEL] > 0),
    )
    for at in range(m[i * a.ROW + a.LIVE], m[i * a.ROW + a.LIVE_END]):
        wire = np.int64(e[at])
        level = level_at(m, e, h, x, c, m[wire * a.ROW + a.POWER], m[wire * a.ROW + a.POWER_END])
        if level != h[wire * a.HOT + a.LEVEL]:
            h[wire * a.HOT + a.LEVEL] = level
            join(m, e, h, x, c, m[wire * a.ROW + a.NOTIFIED], m[wire * a.ROW + a.NOTIFIED_END], np.bool_(1))


@inner
def join_count(m, e, h, x, c, i):
    """As part of a change: what the container holds has changed."""
    mark(m, e, h, x, c, i)
    join(m, e, h, x, c, m[i * a.ROW + a.RECOUNT], m[i * a.ROW + a.RECOUNT_END], np.bool_(0))
    for at in range(m[i * a.ROW + a.WAKES], m[i * a.ROW + a.WAKES_END]):
        hopper = np.int64(e[at])
        if not powered(m, e, h, x, c, hopper):
            wake(m, e, h, x, c, hopper)


@inner
def end_merge(m, e, h, x, c):
    """The change is complete: tell everyone, in order."""
    length = c[a.BUFFER_LENGTH]
    gap = length >> 1
    while gap > 0:  # a shell sort by rank
        for at in range(gap, length):
            i = x[c[a.BUFFER] + at]
            rank = m[i * a.ROW + a.RANK]
            place = at
            while place >= gap and m[x[c[a.BUFFER] + place - gap] * a.ROW + a.RANK] > rank:
                x[c[a.BUFFER] + place] = x[c[a.BUFFER] + place - gap]
                place -= gap
            x[c[a.BUFFER] + place] = i
        gap >>= 1
    for at in range(length):
        notify(m, e, h, x, c, np.int64(x[c[a.BUFFER] + at]))


@inner
def change_level(m, e, h, x, c, i, level):
    """One actor shows another level: a change."""
    before = np.int64(h[i * a.HOT + a.LEVEL])
    h[i * a.HOT + a.LEVEL] = level
    if m[i * a.ROW + a.LIVE] != m[i * a.ROW + a.LIVE_END]:
        begin_merge(m, e, h, x, c)
        join_level(m, e, h, x, c, i, before)
        end_merge(m, e, h, x, c)
        return
    mark(m, e, h, x, c, i)
    visibly = (before > 0) != (level > 0)
    for at in range(m[i * a.ROW + a.NOTIFIED], m[i * a.ROW + a.NOTIFIED_END]):
        other = np.int64(e[at])
        if visibly or m[other * a.ROW + a.CODE] != SENSOR:
            notify(m, e, h, x, c, other)
