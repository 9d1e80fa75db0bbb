"""Compiled: what a part does when it is due, what the hand does, and the clock."""

from __future__ import annotations

import numpy as np

from tickwright.engine.circuit import KIND
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.inner import inner
from tickwright.engine.fast.matter import (
    eject,
    hoppers_turn,
    let_go,
    next_flight,
    next_vanishing,
    note,
    plates_look,
    room,
    shrink,
    stacks_move,
    things_changed,
)
from tickwright.engine.fast.signals import (
    COMPARATOR,
    EJECTOR,
    LAMP,
    REPEATER,
    SENSOR,
    TORCH,
    append,
    begin_merge,
    change_level,
    compared,
    end_merge,
    hears,
    join_count,
    level_at,
    notify,
    pop_over,
    powered,
    schedule,
)

LEVER, SHORT_BUTTON, LONG_BUTTON = KIND["lever"], KIND["short-button"], KIND["long-button"]
TREAD_PLATE, EMPTY, WIRE = KIND["tread-plate"], KIND["empty"], KIND["wire"]
DE_BRUIJN = np.uint64(0x03F79D71B4CB0A89)
LOWEST_BIT = np.zeros(64, np.int64)  # LOWEST_BIT[top six bits of the product with 1 << bit]
LOWEST_BIT[[((int(DE_BRUIJN) << bit) & (2**64 - 1)) >> 58 for bit in range(64)]] = range(64)


@inner
def lowest_bit(bits):
    """The number of the lowest bit that is set (the usual multiplication by a de Bruijn sequence)."""
    lowest = bits & (~bits + np.uint64(1))
    return LOWEST_BIT[np.int64((lowest * DE_BRUIJN) >> np.uint64(58))]


# --- parts that are due ------------------------------------------------------------------------------------------


@inner
def burns_out(m, e, h, x, c, i):
    """Note a switch-off of the torch; whether so many of them lie within the window, first to last."""
    row = m[i * a.ROW + a.TORCH]
    count = e[a.BURN_COUNT]
    put = x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.PUT]
    x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.OFFS + put] = c[a.NOW]
    put = (put + 1) % count
    x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.PUT] = put
    x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.KEPT] = min(
        x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.KEPT] + 1, count
    )
    first = x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.OFFS + put]
    return x[c[a.TORCHES] + row * (a.OFFS + e[a.BURN_COUNT]) + a.KEPT] == count and c[a.NOW] - first <= e[a.BURN_WINDOW]


@inner
def act(m, e, h, x, c, i):
    """The part's event is due: it acts, which is one change."""
    kind = m[i * a.ROW + a.CODE]
    level = np.int64(h[i * a.HOT + a.LEVEL])
    new = level
    stretch = False
    if kind == REPEATER:
        if not hears(m, e, h, x, c, m[i * a.ROW + a.FLANK], m[i * a.ROW + a.FLANK_END]):
            on = powered(m, e, h, x, c, i)
            if level == 0:
                new = np.int64(e[a.TOP])
                stretch = not on
            elif not on:
                new = 0
    elif kind == COMPARATOR:
        new = compared(m, e, h, x, c, i)
    elif kind == TORCH:
        on = powered(m, e, h, x, c, i)
        h[i * a.HOT + a.FLAGS] &= ~a.BURNT
        if level > 0 and on:
            new = 0
            if burns_out(m, e, h, x, c, i):
                h[i * a.HOT + a.FLAGS] |= a.BURNT
                schedule(m, e, h, x, c, i, e[a.BURN_REST], m[i * a.ROW + a.CLASS_OFF])
                note(m, e, h, x, c, np.int64(a.BURNT_OUT), i, np.int64(0))
        elif level == 0 and not on:
            new = np.int64(e[a.TOP])
    elif kind == LAMP:
        if not powered(m, e, h, x, c, i):
            new = 0
    elif kind == SENSOR:
        if level > 0:
            new = 0
        else:
            schedule(m, e, h, x, c, i, e[a.SENSOR_PULSE], m[i * a.ROW + a.CLASS_OFF])
            new = np.int64(e[a.TOP])
    elif kind == EJECTOR:
        eject(m, e, h, x, c, i)
    elif kind in (SHORT_BUTTON, LONG_BUTTON):
        new = 0
    if new != level:
        change_level(m, e, h, x, c, i, new)
        if stretch:
            schedule(m, e, h, x, c, i, m[i * a.ROW + a.DELAY], e[a.CLASS_STRETCH])


@inner
def due_phase(m, e, h, x, c):
    """Everything that is due in this step, by priority, then in the order of scheduling."""
    now = c[a.NOW]
    slot = now & (a.SLOTS - 1)
    bit = np.int64(1) << slot
    if not c[a.FILLED] & bit:
        return
    for at in range(slot * a.CLASSES, slot * a.CLASSES + e[a.CLASS_COUNT]):
        i = np.int64(x[at])
        while i >= 0:
            following = h[i * a.HOT + a.NEXT]
            h[i * a.HOT + a.DUE] = -1
            x[at] = following
            act(m, e, h, x, c, i)
            c[a.EVENTS] += 1
            i = np.int64(following)
        x[a.TAIL + at] = -1
    c[a.FILLED] &= ~bit


# --- the hand ----------------------------------------------------------------------------------------------------


@inner
def hand(m, e, h, x, c, k):
    """Do one act that leaves all parts where they are; note why, if it cannot be done now."""
    at = c[a.ACTS] + k * a.ACT
    i, verb, number = np.int64(x[at + a.ACT_ACTOR]), np.int64(x[at + a.ACT_VERB]), np.int64(x[at + a.ACT_NUMBER])
    kind = m[i * a.ROW + a.CODE]
    level = h[i * a.HOT + a.LEVEL]
    button = kind in (SHORT_BUTTON, LONG_BUTTON)
    plate = m[i * a.ROW + a.COUNTS] > 0
    container = m[i * a.ROW + a.CAPACITY] > 0
    if verb == a.USUAL_VERB:
        if button:
            verb = a.PRESS
        elif kind == LEVER:
            verb = a.FLIP
        elif plate:
            verb = a.TREAD if kind == TREAD_PLATE else a.DROP
        elif container:
            verb = a.PUT_IN
        elif kind == EMPTY:
            verb = np.int64(x[at + a.ACT_SPARE])
        else:
            verb = a.PRESS
    why = -1
    begin_merge(m, e, h, x, c)
    if verb == a.PRESS and button:
        if level == 0:
            delay = x[at + a.ACT_PRESS] if x[at + a.ACT_PRESS] > 0 else m[i * a.ROW + a.DELAY]
            schedule(m, e, h, x, c, i, delay, m[i * a.ROW + a.CLASS_OFF])
            change_level(m, e, h, x, c, i, np.int64(e[a.TOP]))
        return
    if verb in (a.FLIP, a.ON, a.OFF) and kind == LEVER:
        wanted = level == 0 if verb == a.FLIP else verb == a.ON
        if wanted != (level > 0):
            change_level(m, e, h, x, c, i, np.int64(e[a.TOP]) if wanted else 0)
        return
    if verb in (a.PUT_IN, a.TAKE) and container:
        moved = (
            min(number, room(m, e, h, x, c, i))
            if verb == a.PUT_IN
            else -min(number, x[c[a.MATTER] + i * a.MATTERS + a.COUNT])
        )
        if moved == 0:
            why = a.IS_FULL if verb == a.PUT_IN else a.IS_EMPTY
        else:
            x[c[a.MATTER] + i * a.MATTERS + a.COUNT] += moved
            join_count(m, e, h, x, c, i)
    elif verb in (a.DROP, a.TAKE, a.TREAD, a.LEAVE) and (plate or kind == EMPTY):
        if verb == a.DROP:
            let_go(m, e, h, x, c, np.int64(m[i * a.ROW + a.FALL]), number, m[i * a.ROW + a.FRONT] != 0, i)
        elif verb == a.TAKE:
            if x[c[a.MATTER] + i * a.MATTERS + a.FIRST] < 0:
                why = a.NOTHING_LIES
            while x[c[a.MATTER] + i * a.MATTERS + a.FIRST] >= 0:
                first = np.int64(x[c[a.MATTER] + i * a.MATTERS + a.FIRST])
                shrink(m, e, h, x, c, first, np.int64(x[c[a.STACKED] + first * 5 + a.NUMBER]))
        elif verb == a.LEAVE and x[c[a.MATTER] + i * a.MATTERS + a.CREATURES] == 0:
            why = a.NO_CREATURE
        else:
            x[c[a.MATTER] + i * a.MATTERS + a.CREATURES] += 1 if verb == a.TREAD else -1
            things_changed(m, e, h, x, c, i)
    else:
        why = a.NOT_SO
    if why < 0:
        end_merge(m, e, h, x, c)
    else:
        note(m, e, h, x, c, np.int64(a.REFUSED), k, (verb << 8) | why)


# --- the clock ---------------------------------------------------------------------------------------------------


@inner
def start(m, e, h, x, c):
    """Torches are lit, all else is at rest; wires settle; then every part is told once, in order."""
    n = e[a.ACTORS]
    for i in range(n):
        if m[i * a.ROW + a.CODE] == WIRE:
            h[i * a.HOT + a.LEVEL] = level_at(m, e, h, x, c, m[i * a.ROW + a.POWER], m[i * a.ROW + a.POWER_END])
    for rank in range(n):
        i = np.int64(e[e[a.ORDER] + rank])
        if m[i * a.ROW + a.TRAITS] & a.HEARS:
            notify(m, e, h, x, c, i)
    for p in range(e[a.PROBE_TOTAL]):
        x[c[a.DIRTY] + p] = 1
        x[c[a.DIRTY] + e[a.PROBE_TOTAL] + p] = p
    c[a.DIRTY_LENGTH] = e[a.PROBE_TOTAL]
    c[a.PHASE] = a.FRESH


@inner
def next_step(m, e, h, x, c):
    """The next step in which something is due, the hand included; NEVER if everything is at rest."""
    now = c[a.NOW]
    if c[a.PHASE] == a.FRESH:
        return np.int64(0)
    step = min(np.int64(a.NEVER), c[a.LANDS], c[a.NEXT_LOOK])
    if c[a.FILLED]:
        turn = np.uint64((now + 1) & (a.SLOTS - 1))
        bits = np.uint64(c[a.FILLED])
        if turn:
            bits = (bits >> turn) | (bits << (np.uint64(a.SLOTS) - turn))
        step = min(step, now + 1 + lowest_bit(bits))
    if c[a.OVER_LENGTH] > 0:
        step = min(step, c[c[a.OVER]] >> 32)
    if c[a.QUEUE_LENGTH] > 0:
        step = min(step, now + 1)
    if c[a.TURNS_LENGTH] > 0:
        step = min(step, c[c[a.TURNS] + 0] >> 31)
    if c[a.STACK_END] > c[a.VANISHING]:
        base = c[a.STACK_BASE]
        at = next_flight(m, e, h, x, c)
        if at < c[a.STACK_END]:
            step = min(step, np.int64(x[c[a.STACKED] + (at - base) * 5 + a.RESTS]))
        at = next_vanishing(m, e, h, x, c)
        if at < c[a.STACK_END]:
            step = min(step, np.int64(x[c[a.STACKED] + (at - base) * 5 + a.VANISHES]))
    if c[a.NEXT_ACT] < c[a.ACTS_END]:
        step = min(step, np.int64(x[c[a.ACTS] + c[a.NEXT_ACT] * a.ACT + a.ACT_STEP]))
    return step


@inner
def begin_step(m, e, h, x, c, step):
    """The clock moves on: entries of the overflow heap that are now near go into the wheel."""
    c[a.NOW] = step
    c[a.TURN_RANK] = -1
    c[a.TURNS_OVER] = 0
    c[a.LOOKS_OVER] = 0
    while c[a.OVER_LENGTH] > 0 and c[c[a.OVER]] >> 32 < step + a.SLOTS:
        due, entry = c[c[a.OVER]] >> 32, c[c[a.OVER] + 1]
        pop_over(m, e, h, x, c)
        append(m, e, h, x, c, entry & 0xFFFFFFFF, due, np.int32(entry >> 32))


@inner
def sample(m, e, h, x, c):
    """Note every watched value that is not what it was at the end of the step before."""
    probes = e[a.PROBE_TOTAL]
    for at in range(c[a.DIRTY_LENGTH]):
        p = x[c[a.DIRTY] + probes + at]
        x[c[a.DIRTY] + p] = 0
        container = e[e[a.PROBES] + p * 3 + a.PROBE_COUNT]
        if container >= 0:
            value = x[c[a.MATTER] + container * a.MATTERS + a.COUNT]
        else:
            value = level_at(
                m, e, h, x, c, e[e[a.PROBES] + p * 3 + a.PROBE_EDGE], e[e[a.PROBES] + p * 3 + a.PROBE_EDGE_END]
            )
        if value != x[c[a.SHOWN] + p]:
            x[c[a.SHOWN] + p] = value
            here = c[a.TRACE_LENGTH]
            x[c[a.TRACE] + here * 3 + 0], x[c[a.TRACE] + here * 3 + 1], x[c[a.TRACE] + here * 3 + 2] = (
                p,
                c[a.NOW],
                value,
            )
            c[a.TRACE_LENGTH] = here + 1
    c[a.DIRTY_LENGTH] = 0


@inner
def is_short(m, e, h, x, c):
    """Whether one more step might overrun the trace, the log or the stacks."""
    return (
        c[a.TRACE_LENGTH] + e[a.PROBE_TOTAL] > c[a.TRACE_ROOM]
        or c[a.LOG_LENGTH] + c[a.SPARE_LOG] > c[a.LOG_ROOM]
        or c[a.STACK_END] - c[a.STACK_BASE] + c[a.SPARE_STACKS] > c[a.STACK_ROOM]
    )


@inner
def advance(m, e, h, x, c, until):
    """Simulate every step before `until`, or up to where Python has something to do; say which."""
    while True:
        phase = c[a.PHASE]
        if phase in (a.BETWEEN, a.FRESH):
            step = next_step(m, e, h, x, c)
            if step >= until:
                return a.FINISHED
            if is_short(m, e, h, x, c):
                return a.ROOM_SHORT
            begin_step(m, e, h, x, c, step)
            due_phase(m, e, h, x, c)
            if c[a.QUEUE_LENGTH] > 0 or c[a.LANDS] <= step:
                c[a.PHASE] = a.ITEMS_NEXT
                return a.MOVES_DUE
            phase = a.ITEMS_NEXT
        if phase == a.ITEMS_NEXT:
            hoppers_turn(m, e, h, x, c)
            if c[a.STACK_END] > c[a.VANISHING]:
                stacks_move(m, e, h, x, c)
            plates_look(m, e, h, x, c)
        while c[a.NEXT_ACT] < c[a.ACTS_END]:
            k = c[a.NEXT_ACT]
            if x[c[a.ACTS] + k * a.ACT + a.ACT_STEP] > c[a.NOW]:
                break
            if x[c[a.ACTS] + k * a.ACT + a.ACT_VERB] >= a.PLACE_PART:
                c[a.PHASE] = a.HAND_NEXT
                return a.HAND_DUE
            c[a.NEXT_ACT] = k + 1
            hand(m, e, h, x, c, k)
        sample(m, e, h, x, c)
        c[a.PHASE] = a.BETWEEN
