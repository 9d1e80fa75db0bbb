"""Compiled: levels of 64 lanes as four words, and what reaches a port in each of them."""
# mypy: allow-untyped-defs, allow-untyped-calls

from __future__ import annotations

import numpy as np

from tickwright.engine.fast.inner import inner
from tickwright.engine.lanes import columns as c
from tickwright.engine.lanes.columns import ALL, NONE, ONE

DE_BRUIJN = np.uint64(0x03F79D71B4CB0A89)
LOWEST = np.zeros(64, np.int64)
for _bit in range(64):
    LOWEST[(((1 << _bit) * int(DE_BRUIJN)) & (2**64 - 1)) >> 58] = _bit


@inner
def lowest(bits):
    """The number of the lowest bit that is set (the usual multiplication by a de Bruijn sequence)."""
    return LOWEST[np.int64(((bits & (~bits + ONE)) * DE_BRUIJN) >> np.uint64(58))]


# --- numbers in four words ----------------------------------------------------------------------------------------


@inner
def less(a0, a1, a2, a3, b0, b1, b2, b3):
    """The lanes in which a < b."""
    borrow = ~a0 & b0
    borrow = (~a1 & (b1 | borrow)) | (b1 & borrow)
    borrow = (~a2 & (b2 | borrow)) | (b2 & borrow)
    return (~a3 & (b3 | borrow)) | (b3 & borrow)


@inner
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


@inner
def pick(lanes, a0, a1, a2, a3, b0, b1, b2, b3):
    """Level a in the lanes, b in the others."""
    return (
        b0 ^ ((a0 ^ b0) & lanes),
        b1 ^ ((a1 ^ b1) & lanes),
        b2 ^ ((a2 ^ b2) & lanes),
        b3 ^ ((a3 ^ b3) & lanes),
    )


@inner
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


@inner
def hears(x, w, start, end):
    """The lanes in which any source reaches a port."""
    heard = NONE
    for at in range(start, end):
        edge = x[at]
        a = c.ACTOR_WORDS + 8 * (edge >> 16)
        if (edge & 0x1F0) <= 0x100:  # no loss, or not analog
            heard |= w[a]
        else:
            b0, b1, b2, b3 = digits(edge >> 4, ALL)
            heard |= less(b0, b1, b2, b3, w[a + 1], w[a + 2], w[a + 3], w[a + 4])
    return heard


@inner
def edge_level(x, w, edge):
    """What one source brings to a port."""
    a = c.ACTOR_WORDS + 8 * (edge >> 16)
    loss, most = (edge >> 4) & 15, edge & 15
    if not edge & 0x100:
        return digits(min(x[c.TOP], most) - loss, w[a])
    a0, a1, a2, a3 = w[a + 1], w[a + 2], w[a + 3], w[a + 4]
    if most < 15:
        b0, b1, b2, b3 = digits(most, ALL)
        a0, a1, a2, a3 = pick(less(b0, b1, b2, b3, a0, a1, a2, a3), b0, b1, b2, b3, a0, a1, a2, a3)
    if loss:
        b0, b1, b2, b3 = digits(loss, ALL)
        a0, a1, a2, a3 = minus(a0, a1, a2, a3, b0, b1, b2, b3)
    return a0, a1, a2, a3


@inner
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


@inner
def compared(p, x, w, i):
    """The level that a comparator computes."""
    row = i * c.COLUMNS
    a0, a1, a2, a3 = level_at(x, w, p[row + c.POWER], p[row + c.POWER_END])
    if p[row + c.FILL] >= 0:
        c0, c1, c2, c3 = digits(p[row + c.FILL], ALL)
        lanes = ALL
        if not p[row + c.DIRECTLY]:
            t0, t1, t2, t3 = digits(x[c.TOP], ALL)
            lanes = less(a0, a1, a2, a3, t0, t1, t2, t3)
        a0, a1, a2, a3 = pick(lanes, c0, c1, c2, c3, a0, a1, a2, a3)
    if p[row + c.FLANK] == p[row + c.FLANK_END]:
        return a0, a1, a2, a3
    b0, b1, b2, b3 = level_at(x, w, p[row + c.FLANK], p[row + c.FLANK_END])
    if p[row + c.DIFFERENCE]:
        return minus(a0, a1, a2, a3, b0, b1, b2, b3)
    keep = ~less(a0, a1, a2, a3, b0, b1, b2, b3)
    return a0 & keep, a1 & keep, a2 & keep, a3 & keep


@inner
def differs(w, i, a0, a1, a2, a3):
    """The lanes in which an analog actor's level is another."""
    a = c.ACTOR_WORDS + 8 * i
    return (a0 ^ w[a + 1]) | (a1 ^ w[a + 2]) | (a2 ^ w[a + 3]) | (a3 ^ w[a + 4])
