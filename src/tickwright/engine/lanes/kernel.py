"""Compiled: 64 runs of one circuit at once, a bit of a word for each.

An actor's level is four words, one for each binary digit of the levels of all 64 lanes. Whatever happens is an entry
(actor, lanes): what a part does when it is due, and whom it tells, is worked out for all lanes of the entry by a few
operations on words. Every lane sees the changes of its own run in their own order: entries stand in lists by (due step,
priority), new ones go to the end, and one is joined to an older one only if no lane of it has an entry in between.

A lane in which nothing is due but its next act, or the release of its button, does not wait for the others: its clock
is put forward. So lanes whose presses differ in length alone act together again once they are charged.

All that is compiled is in this one file, for numba keeps compiled code by file.
"""

from __future__ import annotations

import numpy as np
from numba import njit

# what an actor does: kind[actor]
NOTHING, REPEATER, COMPARATOR, TORCH, LAMP, SENSOR, BUTTON, LEVER, LIVE_WIRE = range(9)

SLOTS = 256  # of the timing wheel, and of the calendar; every delay is shorter
CLASSES = 8  # priorities are numbered 0, 1, ... from the one that acts first
PRESS, FLIP, ON, OFF = range(4)  # verbs of the hand
NEVER = 1 << 40
NONE = np.uint64(0)
ALL = ~np.uint64(0)
ONE = np.uint64(1)


# p[actor, ...]: what never changes of an actor
(
    KIND_OF,
    DELAY,  # steps from the schedule to the act
    CLASS_OFF,  # class of the priority of what it schedules while off
    CLASS_ON,  # ... while on
    POWER,  # x[p[a, POWER]:p[a, POWER_END]]: edges, what its rear, or all of it, hears
    POWER_END,
    FLANK,  # edges: flanks of a comparator, locks of a repeater
    FLANK_END,
    TOLD,  # x[...]: pairs (listener, via) in order of telling; via is -1, or which of its live wires is watched
    TOLD_END,
    LIVE,  # x[...]: the live wires that hear it
    LIVE_END,
    PROBES,  # x[...]: the probes that may show its level
    PROBES_END,
    DIFFERENCE,  # 1 for a comparator of that mode
    FILL,  # the level of the container that a comparator reads; -1 for none
    DIRECTLY,  # 1 if that is right behind it
    TORCH_ROW,
) = range(18)
COLUMNS = 18
# Edges: source << 16 | analog << 8 | loss << 4 | most; analog if its level may be other than 0 and the top; most is what
# a wire on the way carries at most. The first entries of x are rules and sizes:
(
    TOP,
    SENSOR_PULSE,
    BURN_COUNT,
    BURN_WINDOW,
    BURN_REST,
    CLASS_STRETCH,  # class of the priority with which a repeater that stretched a pulse goes off
    CLASS_ZERO,  # class of priority 0
    CLASS_COUNT,
    LONGEST,  # the longest delay of any part
    ACTORS,
    PROBE_COUNT,
    SHOWS,  # x[x[SHOWS] + probe], one more at the end: where the edges of a probe begin
    ORDER,  # x[x[ORDER]:x[ORDER_END]]: the actors that hear, in order of telling
    ORDER_END,
) = range(14)
HEADER = 16

# w[...]: words of lanes. Which lanes run; whose button's release is booked; in which the hand acts in this step
RUN, FAR, ACTING = range(3)
CALENDAR = 8  # w[CALENDAR + slot]: the lanes whose next act, release or end may lie there
ACTOR_WORDS = CALENDAR + SLOTS  # w[ACTOR_WORDS + 8 * actor + ...]
LIT, PLANE, PENDING, BURNT, LAID = (
    0,
    1,
    5,
    6,
    7,
)  # level not 0; its four digits; has an entry; a dark torch; at the start
# then 64 words of live wires that changed, 4 digits and 1 dirty word of each probe, and the lanes of each entry

# n[...]: numbers
(
    STEP,  # in common time
    FREE,  # the first free entry, -1 if none was freed yet
    USED,  # how many entries were ever used in this run
    LIVE_AT,  # where the words of live wires begin in w
    PROBE_AT,  # ... those of probes, and of entries
    ENTRY_WORDS,
    ENTRY_AT,  # where the numbers of entries begin in n
    OFFS_AT,  # ... those of torches
    TRACING,  # whether there is a trace
    ROWS,  # how many rows it has
    EVENTS,  # how many entries have acted, in all runs
    LANES,  # how many lanes there are
    UNTIL,  # steps to run
    BUTTON_AT,  # the actor that has a length of its own in each lane, or -1
    BASE,  # the run of lane 0
) = range(15)
WHEN = 16  # n[WHEN + lane]: the step of its next act, release or end, in common time
SHIFT = WHEN + 64  # lane time - common time
RELEASE = SHIFT + 64  # when the long button is due, in lane time; NEVER
ACT = RELEASE + 64  # the next act
ACT_END = ACT + 64
LENGTH = ACT_END + 64  # of the button that has a length of its own in each lane, steps
WAITING = LENGTH + 64  # n[WAITING + slot]: how many entries its lists have
HEAD = WAITING + SLOTS  # n[HEAD + 2 * (slot * CLASSES + class)]: the first entry of that list, or -1; then the last
ENTRIES = HEAD + 2 * SLOTS * CLASSES  # n[ENTRY_AT + 3 * entry + ...]
ACTOR_OF, NEXT, BEFORE = range(3)  # of entries; NEXT also in the list of free ones
# Behind them lies, for each torch and lane, how many switch-offs there were, and the latest of them in lane time.

# act[k, ...]
ACT_STEP, ACT_ACTOR, ACT_VERB = range(3)
# found[BASE + lane, ...]: last step in which anything was due, -1 if it did not come to rest; then for each probe:
REST = 0
FIRST_ON, LAST_OFF, PULSES = 1, 2, 3  # first step on, -1; step of the last off, -1 while on; how often it went on
# trace[row, ...]: run, probe, step in lane time, value

DE_BRUIJN = np.uint64(0x03F79D71B4CB0A89)
LOWEST = np.zeros(64, np.int64)
for _bit in range(64):
    LOWEST[(((1 << _bit) * int(DE_BRUIJN)) & (2**64 - 1)) >> 58] = _bit


@njit(_nrt=False)
def lowest(bits):
    """The number of the lowest bit that is set (the usual multiplication by a de Bruijn sequence)."""
    return LOWEST[np.int64(((bits & (~bits + ONE)) * DE_BRUIJN) >> np.uint64(58))]


# --- numbers in four words ----------------------------------------------------------------------------------------


@njit(_nrt=False)
def less(a0, a1, a2, a3, b0, b1, b2, b3):
    """The lanes in which a < b."""
    borrow = ~a0 & b0
    borrow = (~a1 & (b1 | borrow)) | (b1 & borrow)
    borrow = (~a2 & (b2 | borrow)) | (b2 & borrow)
    return (~a3 & (b3 | borrow)) | (b3 & borrow)


@njit(_nrt=False)
def minus(a0, a1, a2, a3, b0, b1, b2, b3):
    """The difference a - b, and 0 where b is larger."""
    d0 = a0 ^ b0
    borrow = ~a0 & b0
    d1 = a1 ^ b1 ^ borrow
    borrow = (~a1 & (b1 | borrow)) | (b1 & borrow)
    d2 = a2 ^ b2 ^ borrow
    borrow = (~a2 & (b2 | borrow)) | (b2 & borrow)
    d3 = a3 ^ b3 ^ borrow
    keep = ~((~a3 & (b3 | borrow)) | (b3 & borrow))
    return d0 & keep, d1 & keep, d2 & keep, d3 & keep


@njit(_nrt=False)
def pick(lanes, a0, a1, a2, a3, b0, b1, b2, b3):
    """Level a in the lanes, b in the others."""
    return (
        b0 ^ ((a0 ^ b0) & lanes),
        b1 ^ ((a1 ^ b1) & lanes),
        b2 ^ ((a2 ^ b2) & lanes),
        b3 ^ ((a3 ^ b3) & lanes),
    )


@njit(_nrt=False)
def digits(number, lanes):
    """A number in the lanes, 0 in the others."""
    n = np.int64(number)
    return (
        lanes if n & 1 else NONE,
        lanes if n & 2 else NONE,
        lanes if n & 4 else NONE,
        lanes if n & 8 else NONE,
    )


# --- ports --------------------------------------------------------------------------------------------------------


@njit(_nrt=False)
def hears(x, w, start, end):
    """The lanes in which any source reaches a port."""
    heard = NONE
    for at in range(start, end):
        edge = x[at]
        a = ACTOR_WORDS + 8 * (edge >> 16)
        if (edge & 0x1F0) <= 0x100:  # no loss, or not analog
            heard |= w[a]
        else:
            b0, b1, b2, b3 = digits(edge >> 4, ALL)
            heard |= less(b0, b1, b2, b3, w[a + 1], w[a + 2], w[a + 3], w[a + 4])
    return heard


@njit(_nrt=False)
def edge_level(x, w, edge):
    """What one source brings to a port."""
    a = ACTOR_WORDS + 8 * (edge >> 16)
    loss, most = (edge >> 4) & 15, edge & 15
    if not edge & 0x100:
        return digits(min(x[TOP], most) - loss, w[a])
    a0, a1, a2, a3 = w[a + 1], w[a + 2], w[a + 3], w[a + 4]
    if most < 15:
        b0, b1, b2, b3 = digits(most, ALL)
        a0, a1, a2, a3 = pick(less(b0, b1, b2, b3, a0, a1, a2, a3), b0, b1, b2, b3, a0, a1, a2, a3)
    if loss:
        b0, b1, b2, b3 = digits(loss, ALL)
        a0, a1, a2, a3 = minus(a0, a1, a2, a3, b0, b1, b2, b3)
    return a0, a1, a2, a3


@njit(_nrt=False)
def level_at(x, w, start, end):
    """The level at a port."""
    a0 = a1 = a2 = a3 = NONE
    for at in range(start, end):
        b0, b1, b2, b3 = edge_level(x, w, x[at])
        if at == start:
            a0, a1, a2, a3 = b0, b1, b2, b3
        else:
            a0, a1, a2, a3 = pick(less(a0, a1, a2, a3, b0, b1, b2, b3), b0, b1, b2, b3, a0, a1, a2, a3)
    return a0, a1, a2, a3


@njit(_nrt=False)
def compared(p, x, w, i):
    """The level that a comparator computes."""
    a0, a1, a2, a3 = level_at(x, w, p[i, POWER], p[i, POWER_END])
    if p[i, FILL] >= 0:
        c0, c1, c2, c3 = digits(p[i, FILL], ALL)
        lanes = ALL
        if not p[i, DIRECTLY]:
            t0, t1, t2, t3 = digits(x[TOP], ALL)
            lanes = less(a0, a1, a2, a3, t0, t1, t2, t3)
        a0, a1, a2, a3 = pick(lanes, c0, c1, c2, c3, a0, a1, a2, a3)
    if p[i, FLANK] == p[i, FLANK_END]:
        return a0, a1, a2, a3
    b0, b1, b2, b3 = level_at(x, w, p[i, FLANK], p[i, FLANK_END])
    if p[i, DIFFERENCE]:
        return minus(a0, a1, a2, a3, b0, b1, b2, b3)
    keep = ~less(a0, a1, a2, a3, b0, b1, b2, b3)
    return a0 & keep, a1 & keep, a2 & keep, a3 & keep


@njit(_nrt=False)
def differs(w, i, a0, a1, a2, a3):
    """The lanes in which an analog actor's level is another."""
    a = ACTOR_WORDS + 8 * i
    return (a0 ^ w[a + 1]) | (a1 ^ w[a + 2]) | (a2 ^ w[a + 3]) | (a3 ^ w[a + 4])


# --- entries ------------------------------------------------------------------------------------------------------


@njit(_nrt=False)
def new_entry(w, n, i, lanes):
    """A fresh entry; there is room for one of every actor in every lane."""
    e = n[FREE]
    if e >= 0:
        n[FREE] = n[n[ENTRY_AT] + 3 * e + NEXT]
    else:
        e = n[USED]
        n[USED] = e + 1
    n[n[ENTRY_AT] + 3 * e + ACTOR_OF] = i
    w[n[ENTRY_WORDS] + e] = lanes
    return e


@njit(_nrt=False)
def schedule(w, n, i, lanes, delay, order):
    """Make an appointment in the lanes, none of which has one for this actor."""
    if lanes == NONE:
        return
    w[ACTOR_WORDS + 8 * i + PENDING] |= lanes
    slot = (n[STEP] + delay) & (SLOTS - 1)
    at = HEAD + 2 * (slot * CLASSES + order)
    entries, words = n[ENTRY_AT], n[ENTRY_WORDS]
    last = n[at + 1]
    e = last
    while e >= 0:
        if n[entries + 3 * e + ACTOR_OF] == i:
            w[words + e] |= lanes
            return
        if w[words + e] & lanes:
            break
        e = n[entries + 3 * e + BEFORE]
    e = new_entry(w, n, i, lanes)
    n[entries + 3 * e + NEXT] = -1
    n[entries + 3 * e + BEFORE] = last
    if last < 0:
        n[at] = e
    else:
        n[entries + 3 * last + NEXT] = e
    n[at + 1] = e
    n[WAITING + slot] += 1


@njit(_nrt=False)
def schedule_first(w, n, i, lanes, order):
    """An entry of this very step, before all others of its priority: it was made before them."""
    slot = n[STEP] & (SLOTS - 1)
    at = HEAD + 2 * (slot * CLASSES + order)
    first = n[at]
    e = new_entry(w, n, i, lanes)
    entries = n[ENTRY_AT]
    n[entries + 3 * e + NEXT] = first
    n[entries + 3 * e + BEFORE] = -1
    if first < 0:
        n[at + 1] = e
    else:
        n[entries + 3 * first + BEFORE] = e
    n[at] = e
    n[WAITING + slot] += 1


# --- telling ------------------------------------------------------------------------------------------------------


@njit(_nrt=False)
def mark(p, x, w, n, i):
    """Whatever shows this actor's level must be looked at when the step ends."""
    for at in range(p[i, PROBES], p[i, PROBES_END]):
        w[n[PROBE_AT] + 5 * x[at] + 4] = ONE


@njit(_nrt=False)
def tell_sensor(p, w, n, i, lanes):
    """A change-sensor is told."""
    a = ACTOR_WORDS + 8 * i
    schedule(w, n, i, lanes & ~w[a] & ~w[a + PENDING], p[i, DELAY], p[i, CLASS_OFF])


@njit(_nrt=False)
def tell(p, x, w, n, i, lanes):
    """Let one part look at its input."""
    kind = p[i, KIND_OF]
    a = ACTOR_WORDS + 8 * i
    free = lanes & ~w[a + PENDING]
    if kind == COMPARATOR:
        if free:
            a0, a1, a2, a3 = compared(p, x, w, i)
            schedule(w, n, i, free & differs(w, i, a0, a1, a2, a3), p[i, DELAY], p[i, CLASS_OFF])
        return
    if kind == SENSOR:
        tell_sensor(p, w, n, i, lanes)
        return
    on = w[a]
    heard = hears(x, w, p[i, POWER], p[i, POWER_END])
    if kind == REPEATER:
        free &= heard ^ on
        if free and p[i, FLANK] != p[i, FLANK_END]:
            free &= ~hears(x, w, p[i, FLANK], p[i, FLANK_END])
        schedule(w, n, i, free & ~on, p[i, DELAY], p[i, CLASS_OFF])
        schedule(w, n, i, free & on, p[i, DELAY], p[i, CLASS_ON])
    elif kind == TORCH:
        schedule(w, n, i, free & ~(heard ^ on) & ~w[a + BURNT], p[i, DELAY], p[i, CLASS_OFF])
    elif kind == LAMP:
        schedule(w, n, i, free & on & ~heard, p[i, DELAY], p[i, CLASS_OFF])
        lights = lanes & heard & ~on
        if lights:
            w[a] |= lights
            mark(p, x, w, n, i)
            for at in range(p[i, TOLD], p[i, TOLD_END], 2):
                tell_sensor(p, w, n, x[at], lights)


@njit(_nrt=False)
def change(p, x, w, n, i, lanes, visibly):
    """The actor's level has changed in the lanes, visibly in some of them: tell everyone, in order."""
    mark(p, x, w, n, i)
    first = p[i, LIVE]
    for at in range(first, p[i, LIVE_END]):
        wire = x[at]
        a = ACTOR_WORDS + 8 * wire
        a0, a1, a2, a3 = level_at(x, w, p[wire, POWER], p[wire, POWER_END])
        w[n[LIVE_AT] + at - first] = lanes & differs(w, wire, a0, a1, a2, a3)
        w[a + 1], w[a + 2], w[a + 3], w[a + 4] = a0, a1, a2, a3
    for at in range(p[i, TOLD], p[i, TOLD_END], 2):
        other, via = x[at], x[at + 1]
        if via >= 0:
            tell_sensor(p, w, n, other, w[n[LIVE_AT] + via])
        else:
            tell(p, x, w, n, other, visibly if p[other, KIND_OF] == SENSOR else lanes)


# --- parts that are due -------------------------------------------------------------------------------------------


@njit(_nrt=False)
def burn_out(p, x, n, i, lanes):
    """Note the switch-offs of a torch; the lanes in which so many lie within the window, first to last."""
    burns = NONE
    most = x[BURN_COUNT]
    while lanes:
        lane = lowest(lanes)
        bit = ONE << np.uint64(lane)
        lanes ^= bit
        at = n[OFFS_AT] + (p[i, TORCH_ROW] * 64 + lane) * (1 + most)
        now, put = n[STEP] + n[SHIFT + lane], n[at] + 1
        n[at + 1 + n[at] % most] = now
        n[at] = put
        if put >= most and now - n[at + 1 + put % most] <= x[BURN_WINDOW]:
            burns |= bit
    return burns


@njit(_nrt=False)
def act(p, x, w, n, i, lanes):
    """The part's appointment is due in the lanes: it acts, which is one change in each."""
    a = ACTOR_WORDS + 8 * i
    w[a + PENDING] &= ~lanes
    kind = p[i, KIND_OF]
    on = w[a]
    if kind == COMPARATOR:
        a0, a1, a2, a3 = compared(p, x, w, i)
        lanes &= differs(w, i, a0, a1, a2, a3)
        if lanes:
            a0, a1, a2, a3 = pick(lanes, a0, a1, a2, a3, w[a + 1], w[a + 2], w[a + 3], w[a + 4])
            w[a + 1], w[a + 2], w[a + 3], w[a + 4] = a0, a1, a2, a3
            w[a] = a0 | a1 | a2 | a3
            change(p, x, w, n, i, lanes, on ^ w[a])
        return
    heard = hears(x, w, p[i, POWER], p[i, POWER_END])
    stretched = NONE
    if kind == REPEATER:
        if p[i, FLANK] != p[i, FLANK_END]:
            lanes &= ~hears(x, w, p[i, FLANK], p[i, FLANK_END])
        lanes &= ~(on & heard)
        stretched = lanes & ~on & ~heard
    elif kind == LAMP:
        lanes &= on & ~heard
    elif kind == TORCH:
        w[a + BURNT] &= ~lanes
        lanes &= ~(on ^ heard)
        goes = lanes & on
        if goes:
            burns = burn_out(p, x, n, i, goes)
            w[a + BURNT] |= burns
            schedule(w, n, i, burns, x[BURN_REST], p[i, CLASS_OFF])
    elif kind == SENSOR:
        schedule(w, n, i, lanes & ~on, x[SENSOR_PULSE], p[i, CLASS_OFF])
    else:  # a button
        lanes &= on
    if lanes:
        w[a] ^= lanes
        change(p, x, w, n, i, lanes, lanes)
        if stretched:
            schedule(w, n, i, stretched & ~w[a + PENDING], p[i, DELAY], x[CLASS_STRETCH])


@njit(_nrt=False)
def due_phase(p, x, w, n):
    """Everything that is due in this step, by priority, then in the order of scheduling."""
    slot = n[STEP] & (SLOTS - 1)
    entries, words = n[ENTRY_AT], n[ENTRY_WORDS]
    for order in range(x[CLASS_COUNT]):
        at = HEAD + 2 * (slot * CLASSES + order)
        e = n[at]
        while e >= 0:
            i, lanes = n[entries + 3 * e + ACTOR_OF], w[words + e] & w[RUN]
            following = n[entries + 3 * e + NEXT]
            n[entries + 3 * e + NEXT] = n[FREE]
            n[FREE] = e
            if lanes:
                n[EVENTS] += 1
                act(p, x, w, n, i, lanes)
            e = following
        n[at] = n[at + 1] = -1
    n[WAITING + slot] = 0


# --- the lanes' own clocks ----------------------------------------------------------------------------------------


@njit(_nrt=False)
def book(w, n, acts, lane):
    """Put the lane's next act, release or end into the calendar."""
    k = n[ACT + lane]
    at = min(n[RELEASE + lane], n[UNTIL])
    if k < n[ACT_END + lane]:
        at = min(at, acts[k, ACT_STEP])
    at -= n[SHIFT + lane]
    n[WHEN + lane] = at
    distance = max(min(at - n[STEP], SLOTS - 1), 1)
    w[CALENDAR + ((n[STEP] + distance) & (SLOTS - 1))] |= ONE << np.uint64(lane)


@njit(_nrt=False)
def open_step(x, w, n, acts):
    """What the calendar says of this step: lanes that end, buttons that are released, lanes in which the hand acts."""
    now = n[STEP]
    at = CALENDAR + (now & (SLOTS - 1))
    lanes = w[at] & w[RUN]
    w[at] = NONE
    releases = NONE
    while lanes:
        lane = lowest(lanes)
        bit = ONE << np.uint64(lane)
        lanes ^= bit
        if n[WHEN + lane] != now:
            book(w, n, acts, lane)
            continue
        time = now + n[SHIFT + lane]
        if time >= n[UNTIL]:
            w[RUN] &= ~bit
            continue
        if n[RELEASE + lane] == time:
            releases |= bit
            n[RELEASE + lane] = NEVER
        k = n[ACT + lane]
        if k < n[ACT_END + lane] and acts[k, ACT_STEP] == time:
            w[ACTING] |= bit
        else:
            book(w, n, acts, lane)
    if releases:
        w[FAR] &= ~releases
        schedule_first(w, n, n[BUTTON_AT], releases, x[CLASS_ZERO])


@njit(_nrt=False)
def press(p, x, w, n, i, lanes):
    """A button is pressed in the lanes: it is to be released, and then a change."""
    a = ACTOR_WORDS + 8 * i
    lanes &= ~w[a]
    if i != n[BUTTON_AT]:
        schedule(w, n, i, lanes, p[i, DELAY], p[i, CLASS_OFF])
    else:
        todo = lanes
        while todo:
            lane = lowest(todo)
            bit = ONE << np.uint64(lane)
            todo ^= bit
            if n[LENGTH + lane] > x[LONGEST]:
                n[RELEASE + lane] = n[STEP] + n[SHIFT + lane] + n[LENGTH + lane]
                w[FAR] |= bit
            else:
                schedule(w, n, i, bit, n[LENGTH + lane], p[i, CLASS_OFF])
        w[a + PENDING] |= lanes
    return lanes


@njit(_nrt=False)
def hand_phase(p, x, w, n, acts):
    """What the hand does in this step: round by round the next act of each lane, those that are alike at once."""
    acting = w[ACTING]
    w[ACTING] = NONE
    now = n[STEP]
    while acting:
        todo = acting
        while todo:
            k = n[ACT + lowest(todo)]
            i, verb = acts[k, ACT_ACTOR], acts[k, ACT_VERB]
            alike = NONE
            rest = todo
            while rest:
                lane = lowest(rest)
                rest &= rest - ONE
                k = n[ACT + lane]
                if acts[k, ACT_ACTOR] == i and acts[k, ACT_VERB] == verb:
                    alike |= ONE << np.uint64(lane)
            todo &= ~alike
            on = w[ACTOR_WORDS + 8 * i]
            if verb == PRESS:
                alike = press(p, x, w, n, i, alike)
            elif verb != FLIP:
                alike &= ~on if verb == ON else on
            if alike:
                w[ACTOR_WORDS + 8 * i] ^= alike
                change(p, x, w, n, i, alike, alike)
        todo = acting
        while todo:
            lane = lowest(todo)
            todo &= todo - ONE
            k = n[ACT + lane] + 1
            n[ACT + lane] = k
            if k == n[ACT_END + lane] or acts[k, ACT_STEP] != now + n[SHIFT + lane]:
                acting &= ~(ONE << np.uint64(lane))
                book(w, n, acts, lane)


@njit(_nrt=False)
def put_forward(x, w, n, found):
    """Lanes in which nothing is due but an act or a release have it in the next step; those without either are done."""
    button = n[BUTTON_AT]
    busy = NONE
    for i in range(x[ACTORS]):
        pending = w[ACTOR_WORDS + 8 * i + PENDING]
        busy |= pending & ~w[FAR] if i == button else pending
    idle = w[RUN] & ~busy
    now = n[STEP]
    slot = CALENDAR + ((now + 1) & (SLOTS - 1))
    while idle:
        lane = lowest(idle)
        bit = ONE << np.uint64(lane)
        idle ^= bit
        if n[ACT + lane] == n[ACT_END + lane] and n[RELEASE + lane] == NEVER:
            w[RUN] &= ~bit
            found[n[BASE] + lane, REST] = now + n[SHIFT + lane]
        elif n[WHEN + lane] > now + 1:
            n[SHIFT + lane] += n[WHEN + lane] - (now + 1)
            n[WHEN + lane] = now + 1
            w[slot] |= bit


# --- what is watched ----------------------------------------------------------------------------------------------


@njit(_nrt=False)
def sample(x, w, n, found, trace):
    """What the probes show at the end of the step, where it is not what they showed before; False if out of room."""
    now, tracing = n[STEP], n[TRACING]
    for probe in range(x[PROBE_COUNT]):
        at = n[PROBE_AT] + 5 * probe
        if w[at + 4] == NONE:
            continue
        w[at + 4] = NONE
        shows = x[SHOWS] + probe
        a0, a1, a2, a3 = level_at(x, w, x[shows], x[shows + 1])
        b0, b1, b2, b3 = w[at], w[at + 1], w[at + 2], w[at + 3]
        w[at], w[at + 1], w[at + 2], w[at + 3] = a0, a1, a2, a3
        after = a0 | a1 | a2 | a3
        edges = (after ^ (b0 | b1 | b2 | b3)) & w[RUN]
        look = edges
        if tracing:
            look = w[RUN] & ((a0 ^ b0) | (a1 ^ b1) | (a2 ^ b2) | (a3 ^ b3))
            if n[ROWS] + 64 > trace.shape[0]:
                return False
        column = 3 * probe
        while look:
            lane = lowest(look)
            look &= look - ONE
            time = now + n[SHIFT + lane]
            shift = np.uint64(lane)
            run_row = n[BASE] + lane
            if (edges >> shift) & ONE:
                if (after >> shift) & ONE:
                    found[run_row, column + PULSES] += 1
                    if found[run_row, column + FIRST_ON] < 0:
                        found[run_row, column + FIRST_ON] = time
                    found[run_row, column + LAST_OFF] = -1
                else:
                    found[run_row, column + LAST_OFF] = time
            if tracing:
                value = ((a0 >> shift) & ONE) | (((a1 >> shift) & ONE) << ONE)
                value |= (((a2 >> shift) & ONE) << np.uint64(2)) | (((a3 >> shift) & ONE) << np.uint64(3))
                row = n[ROWS]
                trace[row, 0], trace[row, 1], trace[row, 2], trace[row, 3] = run_row, probe, time, value
                n[ROWS] = row + 1
    return True


# --- the run ------------------------------------------------------------------------------------------------------


@njit(_nrt=False)
def reset(p, x, w, n, found):
    """The state before step 0; what the last run has left in the wheel is taken out."""
    for slot in range(SLOTS):
        if n[WAITING + slot]:
            n[WAITING + slot] = 0
            for at in range(HEAD + 2 * slot * CLASSES, HEAD + 2 * (slot + 1) * CLASSES):
                n[at] = -1
    n[STEP] = n[USED] = 0
    n[FREE] = -1
    for at in range(ACTOR_WORDS):
        w[at] = NONE
    w[RUN] = ALL >> np.uint64(64 - n[LANES])
    for i in range(x[ACTORS]):
        a = ACTOR_WORDS + 8 * i
        level = w[a + LAID]
        w[a] = ALL if level else NONE
        w[a + 1], w[a + 2], w[a + 3], w[a + 4] = digits(level, ALL)
        w[a + PENDING] = w[a + BURNT] = NONE
    for probe in range(x[PROBE_COUNT]):
        at = n[PROBE_AT] + 5 * probe
        w[at] = w[at + 1] = w[at + 2] = w[at + 3] = NONE
        w[at + 4] = ONE
    for at in range(n[OFFS_AT], n.shape[0]):
        n[at] = 0
    for lane in range(n[LANES]):
        n[SHIFT + lane], n[RELEASE + lane] = 0, NEVER
        row = n[BASE] + lane
        found[row, REST] = -1
        for probe in range(x[PROBE_COUNT]):
            found[row, 3 * probe + FIRST_ON] = found[row, 3 * probe + LAST_OFF] = -1
            found[row, 3 * probe + PULSES] = 0
    for i in range(x[ACTORS]):
        if p[i, KIND_OF] == LIVE_WIRE:
            a = ACTOR_WORDS + 8 * i
            w[a + 1], w[a + 2], w[a + 3], w[a + 4] = level_at(x, w, p[i, POWER], p[i, POWER_END])


@njit(_nrt=False)
def next_step(w, n):
    """The next step in which anything is due or booked; -1 if there is none."""
    for step in range(n[STEP] + 1, n[STEP] + SLOTS):
        slot = step & (SLOTS - 1)
        if n[WAITING + slot] or w[CALENDAR + slot] & w[RUN]:
            return step
    return -1


@njit(_nrt=False)
def run(p, x, w, n, acts, found, trace):
    """Run up to 64 lanes, each to rest after its last act or to its end; False if the trace has too few rows."""
    reset(p, x, w, n, found)
    for at in range(x[ORDER], x[ORDER_END]):
        tell(p, x, w, n, x[at], w[RUN])
    for lane in range(n[LANES]):
        k = n[ACT + lane]
        if k < n[ACT_END + lane] and acts[k, ACT_STEP] == 0:
            w[ACTING] |= ONE << np.uint64(lane)
        else:
            book(w, n, acts, lane)
    hand_phase(p, x, w, n, acts)
    while sample(x, w, n, found, trace):
        put_forward(x, w, n, found)
        step = next_step(w, n)
        if step < 0 or w[RUN] == NONE:
            return True
        n[STEP] = step
        open_step(x, w, n, acts)
        if n[WAITING + (step & (SLOTS - 1))]:
            due_phase(p, x, w, n)
        if w[ACTING]:
            hand_phase(p, x, w, n, acts)
    return False


@njit(_nrt=False, cache=True, nogil=True)
def run_lanes(p, x, w, n, acts, first, end, lengths, found, trace, start):
    """Run i does the acts first[i] to end[i]; from run `start` on, 64 at a time; the run from which on the trace has no room.

    A button with lengths of its own is held for lengths[i] in run i.
    """
    while start < first.shape[0]:
        n[BASE], n[LANES] = start, min(64, first.shape[0] - start)
        for lane in range(n[LANES]):
            n[ACT + lane], n[ACT_END + lane], n[LENGTH + lane] = (
                first[start + lane],
                end[start + lane],
                lengths[start + lane],
            )
        rows = n[ROWS]
        if not run(p, x, w, n, acts, found, trace):
            n[ROWS] = rows
            return start
        start += 64
    return start
