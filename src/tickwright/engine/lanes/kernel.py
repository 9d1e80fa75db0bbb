"""Compiled: 64 runs of one circuit at once, a bit of a word for each.

An actor's level is four words, one for each binary digit of the levels of all 64 lanes. Whatever happens is an entry
(actor, lanes): what a part does when it is due, and whom it tells, is worked out for all lanes of the entry by a few
operations on words. Every lane sees the changes of its own run in their own order: entries stand in lists by (due step,
priority), new ones go to the end, and one is joined to an older one only if no lane of it has an entry in between.

A lane in which nothing is due but its next act, or the release of its button, does not wait for the others: its clock
is put forward. So lanes whose presses differ in length alone act together again once they are charged.
"""
# mypy: allow-untyped-defs, allow-untyped-calls

from __future__ import annotations

from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np

from tickwright.engine.fast.entries import entry
from tickwright.engine.fast.inner import inner, pointer
from tickwright.engine.lanes import columns as c
from tickwright.engine.lanes.columns import ALL, NONE, ONE
from tickwright.engine.lanes.ports import compared, differs, digits, hears, level_at, lowest, pick

# --- entries ------------------------------------------------------------------------------------------------------


@inner
def new_entry(w, n, i, lanes):
    """A fresh entry; there is room for one of every actor in every lane."""
    e = n[c.FREE]
    if e >= 0:
        n[c.FREE] = n[n[c.ENTRY_AT] + 3 * e + c.NEXT]
    else:
        e = n[c.USED]
        n[c.USED] = e + 1
    n[n[c.ENTRY_AT] + 3 * e + c.ACTOR_OF] = i
    w[n[c.ENTRY_WORDS] + e] = lanes
    return e


@inner
def schedule(w, n, i, lanes, delay, order):
    """Schedule an event in the lanes, none of which has one for this actor."""
    if lanes == NONE:
        return
    w[c.ACTOR_WORDS + 8 * i + c.PENDING] |= lanes
    slot = (n[c.STEP] + delay) & (c.SLOTS - 1)
    at = c.HEAD + 2 * (slot * c.CLASSES + order)
    entries, words = n[c.ENTRY_AT], n[c.ENTRY_WORDS]
    last = n[at + 1]
    e = last
    while e >= 0:
        if n[entries + 3 * e + c.ACTOR_OF] == i:
            w[words + e] |= lanes
            return
        if w[words + e] & lanes:
            break
        e = n[entries + 3 * e + c.BEFORE]
    e = new_entry(w, n, i, lanes)
    n[entries + 3 * e + c.NEXT] = -1
    n[entries + 3 * e + c.BEFORE] = last
    if last < 0:
        n[at] = e
    else:
        n[entries + 3 * last + c.NEXT] = e
    n[at + 1] = e
    n[c.WAITING + slot] += 1


@inner
def schedule_first(w, n, i, lanes, order):
    """An entry of this very step, before all others of its priority: it was made before them."""
    slot = n[c.STEP] & (c.SLOTS - 1)
    at = c.HEAD + 2 * (slot * c.CLASSES + order)
    first = n[at]
    e = new_entry(w, n, i, lanes)
    entries = n[c.ENTRY_AT]
    n[entries + 3 * e + c.NEXT] = first
    n[entries + 3 * e + c.BEFORE] = -1
    if first < 0:
        n[at + 1] = e
    else:
        n[entries + 3 * first + c.BEFORE] = e
    n[at] = e
    n[c.WAITING + slot] += 1


# --- telling ------------------------------------------------------------------------------------------------------


@inner
def mark(p, x, w, n, i):
    """Whatever shows this actor's level must be looked at when the step ends."""
    row = i * c.COLUMNS
    for at in range(p[row + c.PROBES], p[row + c.PROBES_END]):
        w[n[c.PROBE_AT] + 5 * x[at] + 4] = ONE


@inner
def notify_sensor(p, w, n, i, lanes):
    """A change-sensor is told."""
    row = i * c.COLUMNS
    a = c.ACTOR_WORDS + 8 * i
    schedule(w, n, i, lanes & ~w[a] & ~w[a + c.PENDING], p[row + c.DELAY], p[row + c.CLASS_OFF])


@inner
def notify(p, x, w, n, i, lanes):
    """Let one part look at its input."""
    row = i * c.COLUMNS
    kind = p[row + c.KIND_OF]
    a = c.ACTOR_WORDS + 8 * i
    free = lanes & ~w[a + c.PENDING]
    if kind == c.COMPARATOR:
        if free:
            a0, a1, a2, a3 = compared(p, x, w, i)
            free &= differs(w, i, a0, a1, a2, a3)
            schedule(w, n, i, free, p[row + c.DELAY], p[row + c.CLASS_OFF])
        return
    if kind == c.SENSOR:
        notify_sensor(p, w, n, i, lanes)
        return
    on = w[a]
    heard = hears(x, w, p[row + c.POWER], p[row + c.POWER_END])
    if kind == c.REPEATER:
        free &= heard ^ on
        if free and p[row + c.FLANK] != p[row + c.FLANK_END]:
            free &= ~hears(x, w, p[row + c.FLANK], p[row + c.FLANK_END])
        schedule(w, n, i, free & ~on, p[row + c.DELAY], p[row + c.CLASS_OFF])
        schedule(w, n, i, free & on, p[row + c.DELAY], p[row + c.CLASS_ON])
    elif kind == c.TORCH:
        schedule(w, n, i, free & ~(heard ^ on) & ~w[a + c.BURNT], p[row + c.DELAY], p[row + c.CLASS_OFF])
    elif kind == c.LAMP:
        schedule(w, n, i, free & on & ~heard, p[row + c.DELAY], p[row + c.CLASS_OFF])
        lights = lanes & heard & ~on
        if lights:
            w[a] |= lights
            mark(p, x, w, n, i)
            for at in range(p[row + c.NOTIFIED], p[row + c.NOTIFIED_END], 2):
                notify_sensor(p, w, n, x[at], lights)


@inner
def change(p, x, w, n, i, lanes, visibly):
    """The actor's level has changed in the lanes, visibly in some of them: tell everyone, in order."""
    row = i * c.COLUMNS
    mark(p, x, w, n, i)
    first = p[row + c.LIVE]
    for at in range(first, p[row + c.LIVE_END]):
        wire = x[at]
        a = c.ACTOR_WORDS + 8 * wire
        a0, a1, a2, a3 = level_at(x, w, p[wire * c.COLUMNS + c.POWER], p[wire * c.COLUMNS + c.POWER_END])
        w[n[c.LIVE_AT] + at - first] = lanes & differs(w, wire, a0, a1, a2, a3)
        w[a + 1], w[a + 2], w[a + 3], w[a + 4] = a0, a1, a2, a3
    for at in range(p[row + c.NOTIFIED], p[row + c.NOTIFIED_END], 2):
        other, via = x[at], x[at + 1]
        if via >= 0:
            notify_sensor(p, w, n, other, w[n[c.LIVE_AT] + via])
        else:
            notify(p, x, w, n, other, visibly if p[other * c.COLUMNS + c.KIND_OF] == c.SENSOR else lanes)


# --- parts that are due -------------------------------------------------------------------------------------------


@inner
def burn_out(p, x, n, i, lanes):
    """Note the switch-offs of a torch; the lanes in which so many lie within the window, first to last."""
    burns = NONE
    most = x[c.BURN_COUNT]
    while lanes:
        lane = lowest(lanes)
        bit = ONE << np.uint64(lane)
        lanes ^= bit
        at = n[c.OFFS_AT] + (p[i * c.COLUMNS + c.TORCH_ROW] * 64 + lane) * (1 + most)
        now, put = n[c.STEP] + n[c.SHIFT + lane], n[at] + 1
        n[at + 1 + n[at] % most] = now
        n[at] = put
        if put >= most and now - n[at + 1 + put % most] <= x[c.BURN_WINDOW]:
            burns |= bit
    return burns


@inner
def act(p, x, w, n, i, lanes):
    """The part's event is due in the lanes: it acts, which is one change in each."""
    row = i * c.COLUMNS
    a = c.ACTOR_WORDS + 8 * i
    w[a + c.PENDING] &= ~lanes
    kind = p[row + c.KIND_OF]
    on = w[a]
    if kind == c.COMPARATOR:
        a0, a1, a2, a3 = compared(p, x, w, i)
        lanes &= differs(w, i, a0, a1, a2, a3)
        if lanes:
            a0, a1, a2, a3 = pick(lanes, a0, a1, a2, a3, w[a + 1], w[a + 2], w[a + 3], w[a + 4])
            w[a + 1], w[a + 2], w[a + 3], w[a + 4] = a0, a1, a2, a3
            w[a] = a0 | a1 | a2 | a3
            change(p, x, w, n, i, lanes, on ^ w[a])
        return
    heard = hears(x, w, p[row + c.POWER], p[row + c.POWER_END])
    stretched = NONE
    if kind == c.REPEATER:
        if p[row + c.FLANK] != p[row + c.FLANK_END]:
            lanes &= ~hears(x, w, p[row + c.FLANK], p[row + c.FLANK_END])
        lanes &= ~(on & heard)
        stretched = lanes & ~on & ~heard
    elif kind == c.LAMP:
        lanes &= on & ~heard
    elif kind == c.TORCH:
        w[a + c.BURNT] &= ~lanes
        lanes &= ~(on ^ heard)
        goes = lanes & on
        if goes:
            burns = burn_out(p, x, n, i, goes)
            w[a + c.BURNT] |= burns
            schedule(w, n, i, burns, x[c.BURN_REST], p[row + c.CLASS_OFF])
    elif kind == c.SENSOR:
        schedule(w, n, i, lanes & ~on, x[c.SENSOR_PULSE], p[row + c.CLASS_OFF])
    else:  # a button
        lanes &= on
    if lanes:
        w[a] ^= lanes
        change(p, x, w, n, i, lanes, lanes)
        if stretched:
            schedule(w, n, i, stretched & ~w[a + c.PENDING], p[row + c.DELAY], x[c.CLASS_STRETCH])


@inner
def due_phase(p, x, w, n):
    """Everything that is due in this step, by priority, then in the order of scheduling."""
    slot = n[c.STEP] & (c.SLOTS - 1)
    entries, words = n[c.ENTRY_AT], n[c.ENTRY_WORDS]
    for order in range(x[c.CLASS_COUNT]):
        at = c.HEAD + 2 * (slot * c.CLASSES + order)
        e = n[at]
        while e >= 0:
            i, lanes = n[entries + 3 * e + c.ACTOR_OF], w[words + e] & w[c.RUN]
            following = n[entries + 3 * e + c.NEXT]
            n[entries + 3 * e + c.NEXT] = n[c.FREE]
            n[c.FREE] = e
            if lanes:
                n[c.EVENTS] += 1
                act(p, x, w, n, i, lanes)
            e = following
        n[at] = n[at + 1] = -1
    n[c.WAITING + slot] = 0


# --- the lanes' own clocks ----------------------------------------------------------------------------------------


@inner
def book(w, n, acts, lane):
    """Put the lane's next act, release or end into the calendar."""
    k = n[c.ACT + lane]
    at = min(n[c.RELEASE + lane], n[c.UNTIL])
    if k < n[c.ACT_END + lane]:
        at = min(at, acts[3 * k + c.ACT_STEP])
    at -= n[c.SHIFT + lane]
    n[c.WHEN + lane] = at
    distance = max(min(at - n[c.STEP], c.SLOTS - 1), 1)
    w[c.CALENDAR + ((n[c.STEP] + distance) & (c.SLOTS - 1))] |= ONE << np.uint64(lane)


@inner
def open_step(x, w, n, acts):
    """What the calendar says of this step: lanes that end, buttons that are released, lanes in which the hand acts."""
    now = n[c.STEP]
    at = c.CALENDAR + (now & (c.SLOTS - 1))
    lanes = w[at] & w[c.RUN]
    w[at] = NONE
    releases = NONE
    while lanes:
        lane = lowest(lanes)
        bit = ONE << np.uint64(lane)
        lanes ^= bit
        if n[c.WHEN + lane] != now:
            book(w, n, acts, lane)
            continue
        time = now + n[c.SHIFT + lane]
        if time >= n[c.UNTIL]:
            w[c.RUN] &= ~bit
            continue
        if n[c.RELEASE + lane] == time:
            releases |= bit
            n[c.RELEASE + lane] = c.NEVER
        k = n[c.ACT + lane]
        if k < n[c.ACT_END + lane] and acts[3 * k + c.ACT_STEP] == time:
            w[c.ACTING] |= bit
        else:
            book(w, n, acts, lane)
    if releases:
        w[c.FAR] &= ~releases
        schedule_first(w, n, n[c.BUTTON_AT], releases, x[c.CLASS_ZERO])


@inner
def press(p, x, w, n, i, lanes):
    """A button is pressed in the lanes: it is to be released, and then a change."""
    row = i * c.COLUMNS
    a = c.ACTOR_WORDS + 8 * i
    lanes &= ~w[a]
    if i != n[c.BUTTON_AT]:
        schedule(w, n, i, lanes, p[row + c.DELAY], p[row + c.CLASS_OFF])
    else:
        todo = lanes
        while todo:
            lane = lowest(todo)
            bit = ONE << np.uint64(lane)
            todo ^= bit
            if n[c.LENGTH + lane] > x[c.LONGEST]:
                n[c.RELEASE + lane] = n[c.STEP] + n[c.SHIFT + lane] + n[c.LENGTH + lane]
                w[c.FAR] |= bit
            else:
                schedule(w, n, i, bit, n[c.LENGTH + lane], p[row + c.CLASS_OFF])
        w[a + c.PENDING] |= lanes
    return lanes


@inner
def hand_phase(p, x, w, n, acts):
    """What the hand does in this step: round by round the next act of each lane, those that are alike at once."""
    acting = w[c.ACTING]
    w[c.ACTING] = NONE
    now = n[c.STEP]
    while acting:
        todo = acting
        while todo:
            k = n[c.ACT + lowest(todo)]
            i, verb = acts[3 * k + c.ACT_ACTOR], acts[3 * k + c.ACT_VERB]
            alike = NONE
            rest = todo
            while rest:
                lane = lowest(rest)
                rest &= rest - ONE
                k = n[c.ACT + lane]
                if acts[3 * k + c.ACT_ACTOR] == i and acts[3 * k + c.ACT_VERB] == verb:
                    alike |= ONE << np.uint64(lane)
            todo &= ~alike
            on = w[c.ACTOR_WORDS + 8 * i]
            if verb == c.PRESS:
                alike = press(p, x, w, n, i, alike)
            elif verb != c.FLIP:
                alike &= ~on if verb == c.ON else on
            if alike:
                w[c.ACTOR_WORDS + 8 * i] ^= alike
                change(p, x, w, n, i, alike, alike)
        todo = acting
        while todo:
            lane = lowest(todo)
            todo &= todo - ONE
            k = n[c.ACT + lane] + 1
            n[c.ACT + lane] = k
            if k == n[c.ACT_END + lane] or acts[3 * k + c.ACT_STEP] != now + n[c.SHIFT + lane]:
                acting &= ~(ONE << np.uint64(lane))
                book(w, n, acts, lane)


@inner
def put_forward(x, w, n, found):
    """Lanes in which nothing is due but an act or a release have it in the next step; those without either are done."""
    button = n[c.BUTTON_AT]
    busy = NONE
    for i in range(x[c.ACTORS]):
        pending = w[c.ACTOR_WORDS + 8 * i + c.PENDING]
        busy |= pending & ~w[c.FAR] if i == button else pending
    idle = w[c.RUN] & ~busy
    now = n[c.STEP]
    slot = c.CALENDAR + ((now + 1) & (c.SLOTS - 1))
    while idle:
        lane = lowest(idle)
        bit = ONE << np.uint64(lane)
        idle ^= bit
        if n[c.ACT + lane] == n[c.ACT_END + lane] and n[c.RELEASE + lane] == c.NEVER:
            w[c.RUN] &= ~bit
            found[(n[c.BASE] + lane) * n[c.FOUND_COLUMNS] + c.REST] = now + n[c.SHIFT + lane] - n[c.SINCE]
        elif n[c.WHEN + lane] > now + 1:
            n[c.SHIFT + lane] += n[c.WHEN + lane] - (now + 1)
            n[c.WHEN + lane] = now + 1
            w[slot] |= bit


# --- what is watched ----------------------------------------------------------------------------------------------


@inner
def sample(x, w, n, found, trace):
    """What the probes show at the end of the step, where it is not what they showed before; False if out of room."""
    now, tracing = n[c.STEP], n[c.TRACING]
    for probe in range(x[c.PROBE_COUNT]):
        at = n[c.PROBE_AT] + 5 * probe
        if w[at + 4] == NONE:
            continue
        w[at + 4] = NONE
        shows = x[c.SHOWS] + probe
        a0, a1, a2, a3 = level_at(x, w, x[shows], x[shows + 1])
        b0, b1, b2, b3 = w[at], w[at + 1], w[at + 2], w[at + 3]
        w[at], w[at + 1], w[at + 2], w[at + 3] = a0, a1, a2, a3
        after = a0 | a1 | a2 | a3
        edges = (after ^ (b0 | b1 | b2 | b3)) & w[c.RUN]
        look = edges
        if tracing:
            look = w[c.RUN] & ((a0 ^ b0) | (a1 ^ b1) | (a2 ^ b2) | (a3 ^ b3))
            if n[c.ROWS] + 64 > n[c.ROOM]:
                return False
        while look:
            lane = lowest(look)
            look &= look - ONE
            time = now + n[c.SHIFT + lane]
            shift = np.uint64(lane)
            run_row = n[c.BASE] + lane
            column = run_row * n[c.FOUND_COLUMNS] + 3 * probe
            if (edges >> shift) & ONE and time >= n[c.SINCE]:
                if (after >> shift) & ONE:
                    found[column + c.PULSES] += 1
                    if found[column + c.FIRST_ON] < 0:
                        found[column + c.FIRST_ON] = time - n[c.SINCE]
                    found[column + c.LAST_OFF] = -1
                else:
                    found[column + c.LAST_OFF] = time - n[c.SINCE]
            if tracing:
                value = ((a0 >> shift) & ONE) | (((a1 >> shift) & ONE) << ONE)
                value |= (((a2 >> shift) & ONE) << np.uint64(2)) | (((a3 >> shift) & ONE) << np.uint64(3))
                at_row = 4 * n[c.ROWS]
                trace[at_row], trace[at_row + 1], trace[at_row + 2], trace[at_row + 3] = run_row, probe, time, value
                n[c.ROWS] += 1
    return True


# --- the run ------------------------------------------------------------------------------------------------------


@inner
def reset(p, x, w, n, found):
    """The state before step 0; what the last run has left in the wheel is taken out."""
    for slot in range(c.SLOTS):
        if n[c.WAITING + slot]:
            n[c.WAITING + slot] = 0
            for at in range(c.HEAD + 2 * slot * c.CLASSES, c.HEAD + 2 * (slot + 1) * c.CLASSES):
                n[at] = -1
    n[c.STEP] = n[c.USED] = 0
    n[c.FREE] = -1
    for at in range(c.ACTOR_WORDS):
        w[at] = NONE
    w[c.RUN] = ALL >> np.uint64(64 - n[c.LANES])
    for i in range(x[c.ACTORS]):
        a = c.ACTOR_WORDS + 8 * i
        level = w[a + c.LAID]
        w[a] = ALL if level else NONE
        w[a + 1], w[a + 2], w[a + 3], w[a + 4] = digits(level, ALL)
        w[a + c.PENDING] = w[a + c.BURNT] = NONE
    for probe in range(x[c.PROBE_COUNT]):
        at = n[c.PROBE_AT] + 5 * probe
        w[at] = w[at + 1] = w[at + 2] = w[at + 3] = NONE
        w[at + 4] = ONE
    for at in range(n[c.OFFS_AT], n[c.OFFS_END]):
        n[at] = 0
    for lane in range(n[c.LANES]):
        n[c.SHIFT + lane], n[c.RELEASE + lane] = 0, c.NEVER
        at = (n[c.BASE] + lane) * n[c.FOUND_COLUMNS]
        found[at + c.REST] = -1
        for column in range(at, at + 3 * x[c.PROBE_COUNT], 3):
            found[column + c.FIRST_ON] = found[column + c.LAST_OFF] = -1
            found[column + c.PULSES] = 0
    for i in range(x[c.ACTORS]):
        if p[i * c.COLUMNS + c.KIND_OF] == c.LIVE_WIRE:
            a = c.ACTOR_WORDS + 8 * i
            w[a + 1], w[a + 2], w[a + 3], w[a + 4] = level_at(
                x, w, p[i * c.COLUMNS + c.POWER], p[i * c.COLUMNS + c.POWER_END]
            )


@inner
def next_step(w, n):
    """The next step in which anything is due or booked; -1 if there is none."""
    for step in range(n[c.STEP] + 1, n[c.STEP] + c.SLOTS):
        slot = step & (c.SLOTS - 1)
        if n[c.WAITING + slot] or w[c.CALENDAR + slot] & w[c.RUN]:
            return step
    return -1


@inner
def run(p, x, w, n, acts, found, trace):
    """Run up to 64 lanes, each to rest after its last act or to its end; False if the trace has too few rows."""
    reset(p, x, w, n, found)
    for at in range(x[c.ORDER], x[c.ORDER_END]):
        notify(p, x, w, n, x[at], w[c.RUN])
    for lane in range(n[c.LANES]):
        k = n[c.ACT + lane]
        if k < n[c.ACT_END + lane] and acts[3 * k + c.ACT_STEP] == 0:
            w[c.ACTING] |= ONE << np.uint64(lane)
        else:
            book(w, n, acts, lane)
    hand_phase(p, x, w, n, acts)
    while sample(x, w, n, found, trace):
        put_forward(x, w, n, found)
        step = next_step(w, n)
        if step < 0 or w[c.RUN] == NONE:
            return True
        n[c.STEP] = step
        open_step(x, w, n, acts)
        if n[c.WAITING + (step & (c.SLOTS - 1))]:
            due_phase(p, x, w, n)
        if w[c.ACTING]:
            hand_phase(p, x, w, n, acts)
    return False


@inner
def run_all(p, x, w, n, acts, first, end, lengths, found, trace, start):
    """Run 64 at a time from run `start` on; the run from which on the trace has no room, or their number.

    Run i does the acts first[i] to end[i]; the button with lengths of its own is held for lengths[i] in it.
    """
    while start < n[c.RUNS]:
        n[c.BASE], n[c.LANES] = start, min(64, n[c.RUNS] - start)
        for lane in range(n[c.LANES]):
            n[c.ACT + lane], n[c.ACT_END + lane], n[c.LENGTH + lane] = (
                first[start + lane],
                end[start + lane],
                lengths[start + lane],
            )
        rows = n[c.ROWS]
        if not run(p, x, w, n, acts, found, trace):
            n[c.ROWS] = rows
            return start
        start += 64
    return start


def _entry(made_from: int) -> Any:
    """The compiled function that Python calls; the number makes it one of these very files to numba, which keeps it."""

    @entry
    def run_lanes(p, x, w, n, acts, first, end, lengths, found, trace, start):
        n[c.MADE_FROM] = made_from
        return run_all(
            pointer(p), pointer(x), pointer(w), pointer(n), pointer(acts), pointer(first), pointer(end),
            pointer(lengths), pointer(found), pointer(trace), start,
        )  # fmt: skip

    return run_lanes


def _sources() -> int:
    digest = blake2b(digest_size=7)
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest(), "big")


run_lanes = _entry(_sources())
