"""The state arrays of one run, and how they grow."""

from __future__ import annotations

import numpy as np

from tickwright.engine.circuit import Circuit
from tickwright.engine.fast import arrays as a
from tickwright.engine.fast.packing import Packed

TRACE_ROOM = 1 << 14
LOG_ROOM = 1 << 10
STACK_ROOM = 64


def fresh(packed: Packed, torches: int, act: a.Ints, spare_log: int, spare_stacks: int) -> a.World:
    """A world before its start: nothing is laid, nothing scheduled; `torches` rows for torches."""
    rows, probes = len(packed.m) // a.ROW, int(packed.e[a.PROBE_TOTAL])
    hoppers = int(packed.e[a.HOPPERS_END] - packed.e[a.HOPPERS])
    sizes = dict.fromkeys(("matter", "queue", "stamp", "buffer", "over"), rows)
    sizes |= {"torch": torches, "shown": probes, "dirty": 2 * probes, "act": len(act)}
    sizes |= {"stack": spare_stacks + STACK_ROOM if spare_stacks else 0, "turns": turns_room(hoppers)}
    sizes |= {"trace": max(TRACE_ROOM, 2 * probes), "log": 2 * spare_log + LOG_ROOM}
    world = a.World(packed.m, packed.e, sizes)
    world.tables["act"][...] = act
    world.c[a.ACTS_END] = len(act)
    world.c[a.SPARE_LOG], world.c[a.SPARE_STACKS] = spare_log, spare_stacks
    return world


def turns_room(hoppers: int) -> int:
    """How long the heap of turns may become before it is made anew."""
    return 4 * hoppers + 16 if hoppers else 0


def lay(world: a.World, circuit: Circuit) -> None:
    """Give every actor the level and the stock it starts with."""
    world.hot[: circuit.n, a.LEVEL] = circuit.laid
    world.tables["matter"][: circuit.n, a.COUNT] = circuit.stock


def shift_stacks(world: a.World) -> a.World:
    """The world with room for more stacks: those that are gone make place, and if that is not enough there is more."""
    c, spare = world.c, int(world.c[a.SPARE_STACKS])
    base, end = int(c[a.STACK_BASE]), int(c[a.STACK_END])
    gone = min(int(c[a.VANISHING]), int(c[a.FLIGHT]), end) - base
    kept = world.tables["stack"][gone : end - base].copy()
    kept[:, a.AFTER] = np.where(kept[:, a.AFTER] >= 0, kept[:, a.AFTER] - gone, -1)
    first = world.tables["matter"][:, a.FIRST]
    first[...] = np.where(first >= 0, first - gone, -1)
    c[a.STACK_BASE] = base + gone
    room = max(len(world.tables["stack"]), STACK_ROOM)
    while room < 2 * (len(kept) + spare):
        room *= 2
    grown = world.resized(stack=room)
    grown.tables["stack"][: len(kept)] = kept
    return grown


def with_rows(world: a.World, rows: int) -> a.World:
    """The world with room for so many actors; those to come are at rest."""
    return world.resized(matter=rows, queue=rows, stamp=rows, buffer=rows, over=rows)


def unlink(world: a.World, actor: int) -> None:
    """Take an actor's entry out of the wheel, or out of the overflow heap."""
    slot = int(world.hot[actor, a.DUE]) & (a.SLOTS - 1)
    for at in range(slot * a.CLASSES, (slot + 1) * a.CLASSES):
        before, here = -1, int(world.x[at])
        while here >= 0:
            following = int(world.hot[here, a.NEXT])
            if here == actor:
                if before < 0:
                    world.x[at] = following
                else:
                    world.hot[before, a.NEXT] = following
                if following < 0:
                    world.x[a.TAIL + at] = before
                return
            before, here = here, following
    length = int(world.c[a.OVER_LENGTH])
    rows = world.over[:length]
    kept = rows[(rows[:, 1] & 0xFFFFFFFF) != actor]
    world.over[: len(kept)] = kept[np.argsort(kept[:, 0])]
    world.c[a.OVER_LENGTH] = len(kept)
