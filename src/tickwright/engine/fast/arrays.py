"""The arrays that the compiled code works on, and what their entries mean.

Compiled functions take five flat arrays: `m` and `e` describe a circuit and change only with the configuration; `h`,
`x` and `c` are the state of one run. Python sees them as the tables of a World. An actor's number is its row in all.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int32]
Longs = npt.NDArray[np.int64]

SLOTS = 64  # of the timing wheel: delays below this many steps go there, longer ones into the overflow heap
CLASSES = 8  # priorities are numbered 0, 1, ... from the one that acts first

# m[actor * ROW + ...]: what never changes with time; what is asked all the time comes first
(
    CODE,  # an index into circuit.KINDS
    DELAY,  # steps from the schedule to the act
    CLASS_OFF,  # class of the priority of what it schedules while off
    CLASS_ON,  # ... while on
    POWER,  # e[POWER .. POWER_END]: what its rear, or all of it, hears, each source << 8 | loss << 4 | most
    POWER_END,
    FLANK,  # e[...]: flanks of a comparator, locks of a repeater
    FLANK_END,
    NOTIFIED,  # e[...]: who is told of a change of its level, in order
    NOTIFIED_END,
    LIVE,  # e[...]: the live wires that hear it
    LIVE_END,
    PROBE,  # e[...]: the probes whose value may change with its level or count
    PROBE_END,
    READS,  # the container a comparator reads, a hopper pushes into, an ejector fills; -1 for none
    TRAITS,  # bits, see below
    RANK,  # place in the order of telling
    RECOUNT,  # e[...]: who is told of a change of its count
    RECOUNT_END,
    WAKES,  # e[...]: the hoppers in and beside it
    WAKES_END,
    CAPACITY,  # of a container
    COUNTS,  # things for one level of a plate; 0 for no plate
    LOOK_EVERY,  # of a plate, steps
    ABOVE,  # what lies above a hopper: a container or a place; -1
    BELOW,  # the hopper below a place; -1
    FALL,  # where an item let go here rests (by an ejector: in front); -2 lost, -1 nowhere
    FRONT,  # whether it rests right there (1), or falls first (0)
    TORCH,  # its row among the torches
    LAID,  # the level it starts with
    STOCK,  # the items it starts with
) = range(31)
ROW = 32
DIFFERENCE, DIRECTLY, OUT, BACK, HEARS = 1, 2, 4, 8, 16  # traits: a mode, how it reads, a piston's posture; is told

# e[...]: first the numbers of the rules, then all lists
(
    TOP, SENSOR_PULSE, BURN_COUNT, BURN_WINDOW, BURN_REST, CLASS_STRETCH, CLASS_COUNT, COOLDOWN, FIRST_WAIT,
    ITEM_REST, ITEM_VANISH, PLATES, PLATES_END, HOPPERS, HOPPERS_END, ORDER, PROBES, PROBE_TOTAL, ACTORS, TORCH_TOTAL,
    HAS_MATTER, EJECTOR_TOTAL,
) = range(22)  # fmt: skip
HEADER = 32  # e[e[ORDER] + rank]: an actor; e[e[PROBES] + 3 * p + ...]: what a watched name shows
PROBE_EDGE, PROBE_EDGE_END, PROBE_COUNT = range(
    3
)  # the level heard over edges; or the count of that container, if >= 0

# of an actor, at h[actor * HOT]
LEVEL, DUE, NEXT, FLAGS = range(4)  # level 0..15; step of its entry or -1; who follows it in its list; bits
HOT = 4
POWERED, BURNT, QUEUED = 1, 2, 4  # flags: an ejector's power when last told, a dark torch, a piston

# x: first the wheel, x[slot * CLASSES + class] the first actor of a list, x[TAIL + ...] the last; then tables
TAIL = SLOTS * CLASSES
WHEEL = 2 * TAIL
COUNT, READY, TURN, SINCE, LOOK, STACKS, FIRST, CREATURES = range(8)  # x[c[MATTER] + actor * MATTERS + ...]
MATTERS = 8
KEPT, PUT, OFFS = range(3)  # of a torch: how many switch-offs are kept, where the next goes, and their steps
PLACE, NUMBER, VANISHES, AFTER, RESTS = range(5)  # of stack serial - c[STACK_BASE]
ACT_STEP, ACT_ACTOR, ACT_VERB, ACT_NUMBER, ACT_SPARE, ACT_PRESS = range(6)  # what the hand does; how long it presses
ACT = 6
VERBS = ("usual", "press", "flip", "on", "off", "put", "take", "drop", "tread", "leave", "place", "clear")
(USUAL_VERB, PRESS, FLIP, ON, OFF, PUT_IN, TAKE, DROP, TREAD, LEAVE, PLACE_PART, CLEAR_PART) = range(12)
BURNT_OUT, ITEM_LOST, REFUSED = range(3)  # log: code, step, actor, argument
NOT_SO, IS_FULL, IS_EMPTY, NOTHING_LIES, NO_CREATURE = range(5)  # why an act is refused

# c[...]: the clock, and where the tables begin
(
    NOW, PHASE, FILLED, NEXT_ACT, ACTS_END, QUEUE_LENGTH, LOG_LENGTH, TRACE_LENGTH, OVER_LENGTH, SERIAL, TURNS_LENGTH,
    TURN_RANK, TURNS_OVER, LOOKS_OVER, NEXT_LOOK, STACK_BASE, STACK_END, FLIGHT, VANISHING, LANDS, DIRTY_LENGTH, STAMP,
    BUFFER_LENGTH, SPARE_LOG, SPARE_STACKS, EVENTS, MADE_FROM,
    MATTER, TORCHES, STACKED, QUEUE, STAMPS, BUFFER, SHOWN, DIRTY, TRACE, LOG, ACTS, OVER, TURNS, TRACE_ROOM, LOG_ROOM,
    STACK_ROOM, TURNS_ROOM,
) = range(44)  # fmt: skip
CLOCK = 64
BETWEEN, ITEMS_NEXT, HAND_NEXT, FRESH = range(4)  # phases
FINISHED, MOVES_DUE, HAND_DUE, ROOM_SHORT = range(4)  # why the compiled code comes back
NEVER = 1 << 40

# The tables of x and c: name -> (entry of c that says where it begins, columns)
TABLES = {
    "matter": (MATTER, MATTERS),
    "torch": (TORCHES, 0),
    "stack": (STACKED, 5),
    "queue": (QUEUE, 1),
    "stamp": (STAMPS, 1),
    "buffer": (BUFFER, 1),
    "shown": (SHOWN, 1),
    "dirty": (DIRTY, 1),
    "trace": (TRACE, 3),
    "log": (LOG, 4),
    "act": (ACTS, ACT),
}
LONG_TABLES = {"over": (OVER, 2), "turns": (TURNS, 1)}
_FILL: dict[str, int | tuple[int, ...]] = {"matter": (0, 0, -1, -1, -1, 0, -1, 0), "shown": -1}
_ROOMS = {"trace": TRACE_ROOM, "log": LOG_ROOM, "stack": STACK_ROOM, "turns": TURNS_ROOM}


class World:
    """The five arrays of one run, and views of them as tables; `sizes` maps each table to its number of rows."""

    def __init__(self, m: Ints, e: Ints, sizes: Mapping[str, int]) -> None:
        self.m, self.e = m, e
        self.sizes = dict(sizes)
        self.burn_columns = OFFS + int(e[BURN_COUNT])
        self.h: Ints = np.zeros(sizes["matter"] * HOT, np.int32)
        self.x: Ints = np.zeros(WHEEL + sum(sizes[name] * self._columns(name) for name in TABLES), np.int32)
        self.c: Longs = np.zeros(CLOCK + sum(sizes[name] * LONG_TABLES[name][1] for name in LONG_TABLES), np.int64)
        self.tables: dict[str, Ints] = {}
        self.hot = self.h.reshape(-1, HOT)
        self.hot[:, DUE] = self.hot[:, NEXT] = -1
        self.x[:WHEEL] = -1
        at = WHEEL
        for name, (where, _) in TABLES.items():
            columns = self._columns(name)
            self.c[where] = at
            table = self.x[at : at + sizes[name] * columns]
            self.tables[name] = table.reshape(-1, columns) if columns > 1 else table
            self.tables[name][...] = np.array(_FILL.get(name, 0), np.int32)
            at += len(table)
        at = CLOCK
        for name, (where, columns) in LONG_TABLES.items():
            self.c[where] = at
            at += sizes[name] * columns
        for name, where in _ROOMS.items():
            self.c[where] = sizes[name]
        self.c[NEXT_LOOK] = self.c[LANDS] = NEVER
        self.c[TURN_RANK] = -1

    def _columns(self, name: str) -> int:
        return TABLES[name][1] or self.burn_columns

    @property
    def arrays(self) -> tuple[Ints, Ints, Ints, Ints, Longs]:
        """What the compiled functions take."""
        return self.m, self.e, self.h, self.x, self.c

    @property
    def part(self) -> Ints:
        """part[actor, ...]: the entries of m."""
        return self.m.reshape(-1, ROW)

    @property
    def over(self) -> Longs:
        """over[i]: due << 32 | serial, class << 32 | actor of an entry of the overflow heap."""
        here = int(self.c[OVER])
        return self.c[here : here + 2 * self.sizes["over"]].reshape(-1, 2)

    @property
    def turns(self) -> Longs:
        """turns[i]: an entry of the heap of hoppers' turns: step << 31 | rank."""
        here = int(self.c[TURNS])
        return self.c[here : here + self.sizes["turns"]]

    def resized(self, **sizes: int) -> World:
        """The same world with other numbers of rows in some tables; what fits is kept."""
        grown = World(self.m, self.e, {**self.sizes, **sizes})
        kept = self.c[:MATTER]
        grown.c[: len(kept)] = kept
        grown.x[:WHEEL] = self.x[:WHEEL]
        pairs: list[tuple[npt.NDArray[Any], npt.NDArray[Any]]] = [(self.hot, grown.hot)]
        pairs += [(self.over, grown.over), (self.turns, grown.turns)]
        pairs += [(self.tables[name], grown.tables[name]) for name in TABLES]
        for old, new in pairs:
            rows = min(len(old), len(new))
            new[:rows] = old[:rows]
        return grown
