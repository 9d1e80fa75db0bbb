"""Compiled: states as rows of words that hold no date, and every state that can follow one.

A row says all that decides what comes after the end of a step, for a circuit in which no items and no cells move: the
levels, seven to a word; the number of entries and, in the order in which they come due, the steps left of each and
`class << 24 | actor`; then each torch that remembers anything: `actor << 1 | burnt out`, the number of its switch-offs
within the window, and how many steps ago they were.
"""

from __future__ import annotations

import numpy as np

from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.inner import inner
from tickwright.engine.fast.signals import TORCH, append, level_at, push_over
from tickwright.engine.fast.steps import LEVER, advance, begin_step, hand, next_step, sample

NOON = 1 << 21  # the step at which a state is taken up again: more than any torch remembers
LEVELS_A_WORD = 7
ENTRY = 4  # of a list to be sorted: due, class, serial, actor
MIX = np.uint64(0x9E3779B97F4A7C15)
# g[...]: states known, words taken, room for both, size of the table less 1, states in it, lists of acts, the most
# words that a row may take, and the step at whose end all begins
STATES, WORDS, STATE_ROOM, WORD_ROOM, TABLE_MASK, IN_TABLE, LISTS, MOST_WORDS, START = range(9)
GRAPH = 9
LENGTH, FIRST_ACT = range(2)  # of a list of acts: how many, and the acts (rows of World.act) one after the other
LIST = 5
MOST_IN_A_LIST = LIST - FIRST_ACT


@inner
def torch_at(m, e, h, x, c, i):
    """Where the memory of a torch begins."""
    return c[a.TORCHES] + m[i * a.ROW + a.TORCH] * (a.OFFS + e[a.BURN_COUNT])


@inner
def comes_before(room, one, other):
    """Whether an entry comes due before another, or is of an earlier class, or was made before it."""
    for column in range(3):
        first, second = room[one * ENTRY + column], room[other * ENTRY + column]
        if first != second:
            return first < second
    return False


@inner
def sort_in(m, e, h, x, c, room, entries, due, order, serial, i):
    """Put an entry where it belongs among those in `room`."""
    here = entries * ENTRY
    room[here], room[here + 1], room[here + 2], room[here + 3] = due, order, serial, i
    while entries > 0 and comes_before(room, entries, entries - 1):
        for column in range(entries * ENTRY, entries * ENTRY + ENTRY):
            room[column], room[column - ENTRY] = room[column - ENTRY], room[column]
        entries -= 1


@inner
def encode(m, e, h, x, c, now, room, words, start):
    """Write the row of the state at the end of step `now` from `start` on; where it ends."""
    n = np.int64(e[a.ACTORS])
    at = np.int64(start)
    for first in range(0, n, LEVELS_A_WORD):
        word = np.int64(0)
        for i in range(first, min(first + LEVELS_A_WORD, n)):
            word = word << 4 | h[i * a.HOT + a.LEVEL]
        words[at] = word
        at += 1
    entries = np.int64(0)
    for later in range(a.SLOTS):
        slot = (c[a.NOW] + 1 + later) & (a.SLOTS - 1)
        if c[a.FILLED] & (np.int64(1) << slot):
            for order in range(e[a.CLASS_COUNT]):
                i = np.int64(x[slot * a.CLASSES + order])
                while i >= 0:
                    due = np.int64(h[i * a.HOT + a.DUE])
                    serial = np.int64(a.NEVER) + entries  # later than any of the overflow heap
                    sort_in(m, e, h, x, c, room, entries, due, np.int64(order), serial, i)
                    entries += 1
                    i = np.int64(h[i * a.HOT + a.NEXT])
    for entry in range(c[a.OVER_LENGTH]):
        key, value = c[c[a.OVER] + 2 * entry], c[c[a.OVER] + 2 * entry + 1]
        sort_in(m, e, h, x, c, room, entries, key >> 32, value >> 32, key & 0xFFFFFFFF, value & 0xFFFFFFFF)
        entries += 1
    words[at] = entries
    at += 1
    for entry in range(entries):
        words[at] = room[entry * ENTRY] - now
        words[at + 1] = room[entry * ENTRY + 1] << 24 | room[entry * ENTRY + 3]
        at += 2
    for i in range(n):
        if m[i * a.ROW + a.CODE] == TORCH:
            at = encode_torch(m, e, h, x, c, now, i, words, at)
    return at


@inner
def encode_torch(m, e, h, x, c, now, i, words, at):
    """Write what a torch remembers, if it does; where that ends."""
    count = np.int64(e[a.BURN_COUNT])
    memory = torch_at(m, e, h, x, c, i)
    kept, put = np.int64(x[memory + a.KEPT]), np.int64(x[memory + a.PUT])
    burnt = np.int64(1) if h[i * a.HOT + a.FLAGS] & a.BURNT else np.int64(0)
    found = np.int64(0)
    for one in range(kept):
        ago = now - x[memory + a.OFFS + (put - kept + one + count) % count]
        if ago <= e[a.BURN_WINDOW]:
            words[at + 2 + found] = ago
            found += 1
    if found == 0 and burnt == 0:
        return at
    words[at] = np.int64(i) << 1 | burnt
    words[at + 1] = found
    return at + 2 + found


@inner
def decode(m, e, h, x, c, words, start, end):
    """Take up the state of a row, at the end of step NOON."""
    n = np.int64(e[a.ACTORS])
    for slot in range(a.SLOTS):
        if c[a.FILLED] & (np.int64(1) << slot):
            for order in range(slot * a.CLASSES, slot * a.CLASSES + e[a.CLASS_COUNT]):
                x[order] = x[a.TAIL + order] = -1
    c[a.FILLED] = c[a.OVER_LENGTH] = c[a.SERIAL] = 0
    c[a.NOW] = NOON
    c[a.PHASE] = a.BETWEEN
    at = np.int64(start)
    for first in range(0, n, LEVELS_A_WORD):
        word = np.int64(words[at])
        at += 1
        last = min(first + LEVELS_A_WORD, n) - 1
        for back in range(last - first + 1):
            i = last - back
            h[i * a.HOT + a.LEVEL] = word & 15
            h[i * a.HOT + a.DUE] = -1
            h[i * a.HOT + a.FLAGS] = 0
            word >>= 4
            if m[i * a.ROW + a.CODE] == TORCH:
                memory = torch_at(m, e, h, x, c, i)
                x[memory + a.KEPT] = x[memory + a.PUT] = 0
    entries = np.int64(words[at])
    at += 1
    for _ in range(entries):
        left, order, i = np.int64(words[at]), np.int64(words[at + 1]) >> 24, np.int64(words[at + 1]) & 0xFFFFFF
        at += 2
        h[i * a.HOT + a.DUE] = NOON + left
        if left < a.SLOTS:
            append(m, e, h, x, c, i, np.int64(NOON + left), order)
        else:
            c[a.SERIAL] += 1
            push_over(m, e, h, x, c, ((NOON + left) << 32) | c[a.SERIAL], (order << 32) | i)
    while at < end:
        i, burnt, found = np.int64(words[at]) >> 1, words[at] & 1, np.int64(words[at + 1])
        if burnt:
            h[i * a.HOT + a.FLAGS] = a.BURNT
        memory = torch_at(m, e, h, x, c, i)
        for one in range(found):
            x[memory + a.OFFS + one] = NOON - words[at + 2 + one]
        x[memory + a.KEPT] = found
        x[memory + a.PUT] = found % e[a.BURN_COUNT]
        at += 2 + found


@inner
def spot(words, start, end):
    """A number that goes with the words of a row, the place in the table where it is sought first."""
    mixed = np.uint64(end - start)
    for at in range(start, end):
        mixed = (mixed ^ np.uint64(np.int64(words[at]) & 0xFFFFFFFF)) * MIX
        mixed ^= mixed >> np.uint64(29)
    return np.int64(mixed >> np.uint64(1))


@inner
def number(m, e, h, x, c, g, words, where, table, shown, end):
    """The number of the state whose row has just been written behind the others; a new one stays there."""
    start = g[WORDS]
    here = spot(words, start, end) & g[TABLE_MASK]
    while table[here] >= 0:
        known = np.int64(table[here])
        begin = where[known]
        if where[known + 1] - begin == end - start:
            same = True
            for at in range(end - start):
                if words[begin + at] != words[start + at]:
                    same = False
                    break
            if same:
                return known
        here = (here + 1) & g[TABLE_MASK]
    state = g[STATES]
    table[here] = state
    g[IN_TABLE] = state + 1
    where[state + 1] = end
    for p in range(e[a.PROBE_TOTAL]):
        shown[state * e[a.PROBE_TOTAL] + p] = level_at(
            m, e, h, x, c, e[e[a.PROBES] + p * 3 + a.PROBE_EDGE], e[e[a.PROBES] + p * 3 + a.PROBE_EDGE_END]
        )
    g[STATES] = state + 1
    g[WORDS] = end
    return state


@inner
def can_act(m, e, h, x, c, k):
    """Whether the act, a press or a flip, would change anything now."""
    i = np.int64(x[c[a.ACTS] + k * a.ACT + a.ACT_ACTOR])
    return m[i * a.ROW + a.CODE] == LEVER or h[i * a.HOT + a.LEVEL] == 0


@inner
def expand(m, e, h, x, c, g, words, where, table, shown, lists, after, room, state):
    """Find what follows a state: after[state, 0] hands off, after[state, 1 + list] if the hand does that list of acts.

    The acts come at the end of the step; -1 stands where one of them would change nothing.
    """
    moves = 1 + g[LISTS]
    decode(m, e, h, x, c, words, where[state], where[state + 1])
    if next_step(m, e, h, x, c) == NOON + 1:
        advance(m, e, h, x, c, np.int64(NOON + 2))
    else:
        begin_step(m, e, h, x, c, np.int64(NOON + 1))
    c[a.TRACE_LENGTH] = c[a.LOG_LENGTH] = 0
    row = encode(m, e, h, x, c, np.int64(NOON + 1), room, words, g[WORDS])
    off = number(m, e, h, x, c, g, words, where, table, shown, row)
    after[state * moves] = off
    for one in range(g[LISTS]):
        if one > 0:
            decode(m, e, h, x, c, words, where[off], where[off + 1])
        possible = True
        for act in range(lists[one * LIST + LENGTH]):
            possible = possible and can_act(m, e, h, x, c, np.int64(lists[one * LIST + FIRST_ACT + act]))
        if possible:
            for act in range(lists[one * LIST + LENGTH]):
                hand(m, e, h, x, c, np.int64(lists[one * LIST + FIRST_ACT + act]))
            sample(m, e, h, x, c)
            c[a.TRACE_LENGTH] = c[a.LOG_LENGTH] = 0
            row = encode(m, e, h, x, c, c[a.NOW], room, words, g[WORDS])
            after[state * moves + 1 + one] = number(m, e, h, x, c, g, words, where, table, shown, row)


@inner
def explore(m, e, h, x, c, g, words, where, table, shown, lists, after, room, state, end, hands_off):
    """Expand the states `state` .. `end` - 1, or with `hands_off` as many of those that follow each other so.

    What is expanded already stays as it is, and ends a way hands off. Returns the first state that was not come to, or
    for which there was no room.
    """
    for known in range(g[IN_TABLE], g[STATES]):
        here = spot(words, where[known], where[known + 1]) & g[TABLE_MASK]
        while table[here] >= 0:
            here = (here + 1) & g[TABLE_MASK]
        table[here] = known
    g[IN_TABLE] = g[STATES]
    if g[STATES] == 0:
        number(m, e, h, x, c, g, words, where, table, shown, encode(m, e, h, x, c, g[START], room, words, g[WORDS]))
    moves = 1 + g[LISTS]
    for _ in range(state, end):
        if after[state * moves] < 0:
            if g[STATES] + moves > g[STATE_ROOM] or g[WORDS] + moves * g[MOST_WORDS] > g[WORD_ROOM]:
                break
            expand(m, e, h, x, c, g, words, where, table, shown, lists, after, room, state)
        elif hands_off:
            break
        state = np.int64(after[state * moves]) if hands_off else state + 1
    return state


@inner
def futures(after, moves, rests, shown, probes, states, done, path, future):
    """Follow every state hands off, to what is known already or round a cycle in which nothing but time may pass.

    future[state, ...]: steps to rest; for each probe steps until it is off for good; for each probe how many pulses
    begin after this state; -1 for never, or for no end of them. `done` is all 0 at the start, `path` holds the way.
    """
    columns = 1 + 2 * probes
    for first in range(states):
        length = 0
        state = np.int64(first)
        while done[state] == 0:
            done[state] = 1
            path[length] = state
            length += 1
            state = np.int64(after[state * moves])
        if done[state] == 1:
            begin = length - 1
            while path[begin] != state:
                begin -= 1
            close(rests, shown, probes, path, begin, length, future)
            for at in range(begin, length):
                done[path[at]] = 2
            length = begin
        for back in range(length):
            state = np.int64(path[length - 1 - back])
            then = np.int64(after[state * moves])
            later = future[then * columns]
            future[state * columns] = 0 if rests[state] else -1 if later < 0 else later + 1
            for p in range(probes):
                on, comes = shown[state * probes + p] > 0, shown[then * probes + p] > 0
                later = future[then * columns + 1 + p]
                future[state * columns + 1 + p] = -1 if later < 0 else later + 1 if later > 0 or on else 0
                later = future[then * columns + 1 + probes + p]
                more = 1 if comes and not on else 0
                future[state * columns + 1 + probes + p] = -1 if later < 0 else later + more
            done[state] = 2


@inner
def close(rests, shown, probes, path, begin, end, future):
    """The future of all states of a cycle."""
    columns = 1 + 2 * probes
    rest = False
    for at in range(begin, end):
        rest = rest or rests[path[at]] != 0
    for at in range(begin, end):
        future[path[at] * columns] = 0 if rest else -1
    for p in range(probes):
        ever, always = False, True
        for at in range(begin, end):
            on = shown[path[at] * probes + p] > 0
            ever, always = ever or on, always and on
        for at in range(begin, end):
            future[path[at] * columns + 1 + p] = -1 if ever else 0
            future[path[at] * columns + 1 + probes + p] = -1 if ever and not always else 0
