"""Compiled: containers, hoppers and ejectors, stacks in the open, and what plates feel."""

from __future__ import annotations

import numpy as np

from tickwright.engine.circuit import KIND, LOST
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.inner import inner
from tickwright.engine.fast.signals import (
    HOPPER,
    begin_merge,
    change_level,
    end_merge,
    join_count,
    join_level,
    pop_turn,
    powered,
    wake,
)

TREAD_PLATE, COUNTING_PLATE = KIND["tread-plate"], KIND["counting-plate"]


@inner
def note(m, e, h, x, c, code, actor, argument):
    """Put an event into the log."""
    at = c[a.LOG_LENGTH]
    x[c[a.LOG] + at * 4 + 0], x[c[a.LOG] + at * 4 + 1], x[c[a.LOG] + at * 4 + 2], x[c[a.LOG] + at * 4 + 3] = (
        code,
        c[a.NOW],
        actor,
        argument,
    )
    c[a.LOG_LENGTH] = at + 1


@inner
def room(m, e, h, x, c, i):
    """How many more items the container takes; 0 if there is none."""
    return m[i * a.ROW + a.CAPACITY] - x[c[a.MATTER] + i * a.MATTERS + a.COUNT] if m[i * a.ROW + a.CAPACITY] > 0 else 0


# --- plates ------------------------------------------------------------------------------------------------------


@inner
def plate_level(m, e, h, x, c, i):
    """What the plate would show if it looked now."""
    kind = m[i * a.ROW + a.CODE]
    things = x[c[a.MATTER] + i * a.MATTERS + a.CREATURES]
    if kind != TREAD_PLATE:
        things += x[c[a.MATTER] + i * a.MATTERS + a.STACKS]
    if kind == COUNTING_PLATE:
        counts = m[i * a.ROW + a.COUNTS]
        return min(e[a.TOP], (things + counts - 1) // counts)
    return e[a.TOP] if things > 0 else 0


@inner
def things_changed(m, e, h, x, c, i):
    """As part of a change: things came or went in the cell. A plate goes on at once; it goes off when it looks."""
    if m[i * a.ROW + a.COUNTS] > 0:
        now = c[a.NOW]
        if h[i * a.HOT + a.LEVEL] == 0:
            level = np.int64(plate_level(m, e, h, x, c, i))
            if level > 0:
                h[i * a.HOT + a.LEVEL] = level
                x[c[a.MATTER] + i * a.MATTERS + a.SINCE] = now
                join_level(m, e, h, x, c, i, np.int64(0))
        else:
            since = x[c[a.MATTER] + i * a.MATTERS + a.SINCE]
            every = m[i * a.ROW + a.LOOK_EVERY]
            wait = now - since + (1 if c[a.LOOKS_OVER] != 0 or now == since else 0)
            look = since + (wait + every - 1) // every * every
            x[c[a.MATTER] + i * a.MATTERS + a.LOOK] = look
            c[a.NEXT_LOOK] = min(c[a.NEXT_LOOK], look)
    below = np.int64(m[i * a.ROW + a.BELOW])
    if below >= 0:
        wake(m, e, h, x, c, below)


@inner
def plates_look(m, e, h, x, c):
    """Plates whose look is due look again, in (z, y, x) order: each changes or releases."""
    now = c[a.NOW]
    if c[a.NEXT_LOOK] <= now:
        following = np.int64(a.NEVER)
        for at in range(e[a.PLATES], e[a.PLATES_END]):
            i = np.int64(e[at])
            look = x[c[a.MATTER] + i * a.MATTERS + a.LOOK]
            if look == now:
                x[c[a.MATTER] + i * a.MATTERS + a.LOOK] = -1
                level = np.int64(plate_level(m, e, h, x, c, i))
                if level == 0:
                    x[c[a.MATTER] + i * a.MATTERS + a.SINCE] = -1
                if level != h[i * a.HOT + a.LEVEL]:
                    change_level(m, e, h, x, c, i, level)
            elif look > now:
                following = min(following, np.int64(look))
        c[a.NEXT_LOOK] = following
    c[a.LOOKS_OVER] = 1


# --- stacks ------------------------------------------------------------------------------------------------------


@inner
def let_go(m, e, h, x, c, place, number, at_once, cell_actor):
    """As part of a change: a stack is let go, and rests at once, or falls to its place, or is lost."""
    if place == LOST:
        note(m, e, h, x, c, np.int64(a.ITEM_LOST), cell_actor, number)
        return
    now = c[a.NOW]
    s = c[a.STACK_END] - c[a.STACK_BASE]
    c[a.STACK_END] += 1
    x[c[a.STACKED] + s * 5 + a.PLACE] = place
    x[c[a.STACKED] + s * 5 + a.NUMBER] = number
    x[c[a.STACKED] + s * 5 + a.VANISHES] = now + e[a.ITEM_VANISH]
    x[c[a.STACKED] + s * 5 + a.RESTS] = -1 if at_once else now + e[a.ITEM_REST]
    if at_once:
        rest(m, e, h, x, c, s)


@inner
def rest(m, e, h, x, c, s):
    """As part of a change: the stack comes to rest, where a plate may feel it and a hopper below take it."""
    x[c[a.STACKED] + s * 5 + a.RESTS] = -1
    place = np.int64(x[c[a.STACKED] + s * 5 + a.PLACE])
    before, here = -1, x[c[a.MATTER] + place * a.MATTERS + a.FIRST]
    while 0 <= here < s:
        before, here = here, x[c[a.STACKED] + here * 5 + a.AFTER]
    x[c[a.STACKED] + s * 5 + a.AFTER] = here
    if before < 0:
        x[c[a.MATTER] + place * a.MATTERS + a.FIRST] = s
    else:
        x[c[a.STACKED] + before * 5 + a.AFTER] = s
    x[c[a.MATTER] + place * a.MATTERS + a.STACKS] += 1
    things_changed(m, e, h, x, c, place)


@inner
def shrink(m, e, h, x, c, s, number):
    """As part of a change: so many items of a resting stack are gone."""
    x[c[a.STACKED] + s * 5 + a.NUMBER] -= number
    if x[c[a.STACKED] + s * 5 + a.NUMBER] > 0:
        return
    place = np.int64(x[c[a.STACKED] + s * 5 + a.PLACE])
    before, here = -1, x[c[a.MATTER] + place * a.MATTERS + a.FIRST]
    while here != s:
        before, here = here, x[c[a.STACKED] + here * 5 + a.AFTER]
    if before < 0:
        x[c[a.MATTER] + place * a.MATTERS + a.FIRST] = x[c[a.STACKED] + s * 5 + a.AFTER]
    else:
        x[c[a.STACKED] + before * 5 + a.AFTER] = x[c[a.STACKED] + s * 5 + a.AFTER]
    x[c[a.MATTER] + place * a.MATTERS + a.STACKS] -= 1
    things_changed(m, e, h, x, c, place)


@inner
def next_flight(m, e, h, x, c):
    """The first stack in flight, or the end of the stacks."""
    at = c[a.FLIGHT]
    base = c[a.STACK_BASE]
    while at < c[a.STACK_END] and x[c[a.STACKED] + (at - base) * 5 + a.RESTS] < 0:
        at += 1
    c[a.FLIGHT] = at
    return at


@inner
def next_vanishing(m, e, h, x, c):
    """The first stack that is left to vanish, or the end of the stacks."""
    at = c[a.VANISHING]
    base = c[a.STACK_BASE]
    while at < c[a.STACK_END] and x[c[a.STACKED] + (at - base) * 5 + a.NUMBER] == 0:
        at += 1
    c[a.VANISHING] = at
    return at


@inner
def stacks_move(m, e, h, x, c):
    """Items in flight come to rest; items vanish."""
    now, base = c[a.NOW], c[a.STACK_BASE]
    while True:
        at = next_flight(m, e, h, x, c)
        if at == c[a.STACK_END] or x[c[a.STACKED] + (at - base) * 5 + a.RESTS] > now:
            break
        begin_merge(m, e, h, x, c)
        rest(m, e, h, x, c, at - base)
        end_merge(m, e, h, x, c)
    while True:
        at = next_vanishing(m, e, h, x, c)
        if at == c[a.STACK_END] or x[c[a.STACKED] + (at - base) * 5 + a.VANISHES] > now:
            break
        begin_merge(m, e, h, x, c)
        shrink(m, e, h, x, c, at - base, np.int64(x[c[a.STACKED] + (at - base) * 5 + a.NUMBER]))
        end_merge(m, e, h, x, c)


# --- containers --------------------------------------------------------------------------------------------------


@inner
def transfer(m, e, h, x, c, giver, taker):
    """One item from one container into another: a change."""
    x[c[a.MATTER] + giver * a.MATTERS + a.COUNT] -= 1
    x[c[a.MATTER] + taker * a.MATTERS + a.COUNT] += 1
    begin_merge(m, e, h, x, c)
    join_count(m, e, h, x, c, giver)
    join_count(m, e, h, x, c, taker)
    end_merge(m, e, h, x, c)


@inner
def hopper_turn(m, e, h, x, c, i):
    """Push one item into the container it faces, then pull one from above; if either worked, rest for the cooldown."""
    now = c[a.NOW]
    if x[c[a.MATTER] + i * a.MATTERS + a.READY] > now:
        wake(m, e, h, x, c, i)
        return
    if powered(m, e, h, x, c, i):
        return
    worked = False
    goal, above = np.int64(m[i * a.ROW + a.READS]), np.int64(m[i * a.ROW + a.ABOVE])
    if x[c[a.MATTER] + i * a.MATTERS + a.COUNT] > 0 and goal >= 0 and room(m, e, h, x, c, goal) > 0:
        if m[goal * a.ROW + a.CODE] == HOPPER and x[c[a.MATTER] + goal * a.MATTERS + a.COUNT] == 0:
            x[c[a.MATTER] + goal * a.MATTERS + a.READY] = now + e[a.FIRST_WAIT]
        transfer(m, e, h, x, c, i, goal)
        worked = True
    if above >= 0 and room(m, e, h, x, c, i) > 0:
        if m[above * a.ROW + a.CAPACITY] > 0 and x[c[a.MATTER] + above * a.MATTERS + a.COUNT] > 0:
            transfer(m, e, h, x, c, above, i)
            worked = True
        elif x[c[a.MATTER] + above * a.MATTERS + a.FIRST] >= 0:
            begin_merge(m, e, h, x, c)
            shrink(m, e, h, x, c, np.int64(x[c[a.MATTER] + above * a.MATTERS + a.FIRST]), np.int64(1))
            x[c[a.MATTER] + i * a.MATTERS + a.COUNT] += 1
            join_count(m, e, h, x, c, i)
            end_merge(m, e, h, x, c)
            worked = True
    if worked:
        x[c[a.MATTER] + i * a.MATTERS + a.READY] = now + e[a.COOLDOWN]
        wake(m, e, h, x, c, i)


@inner
def hoppers_turn(m, e, h, x, c):
    """Every hopper that is ready takes its turn, in order."""
    now = c[a.NOW]
    while c[a.TURNS_LENGTH] > 0 and (c[c[a.TURNS] + 0] >> 31) <= now:
        turn = c[c[a.TURNS] + 0]
        pop_turn(m, e, h, x, c)
        rank = turn & ((np.int64(1) << 31) - 1)
        i = np.int64(e[e[a.ORDER] + rank])
        if x[c[a.MATTER] + i * a.MATTERS + a.TURN] == turn >> 31:
            x[c[a.MATTER] + i * a.MATTERS + a.TURN] = -1
            c[a.TURN_RANK] = rank
            hopper_turn(m, e, h, x, c, i)
    c[a.TURNS_OVER] = 1


@inner
def eject(m, e, h, x, c, i):
    """An ejector's event: one item into the container in front, or let go there."""
    if x[c[a.MATTER] + i * a.MATTERS + a.COUNT] == 0:
        return
    goal, fall = np.int64(m[i * a.ROW + a.READS]), np.int64(m[i * a.ROW + a.FALL])
    if goal >= 0:
        if room(m, e, h, x, c, goal) > 0:
            transfer(m, e, h, x, c, i, goal)
    elif fall != -1:
        x[c[a.MATTER] + i * a.MATTERS + a.COUNT] -= 1
        begin_merge(m, e, h, x, c)
        join_count(m, e, h, x, c, i)
        let_go(m, e, h, x, c, fall, np.int64(1), m[i * a.ROW + a.FRONT] != 0, i)
        end_merge(m, e, h, x, c)
