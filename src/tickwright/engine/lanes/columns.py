"""The columns and numbers of the lane kernel: what its arrays hold, and where."""

from __future__ import annotations

import numpy as np

# What an actor does, p[actor, KIND_OF]:
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
    NOTIFIED,  # x[...]: pairs (listener, via) in order of telling; via is -1, or which of its live wires is watched
    NOTIFIED_END,
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
# Edges: source << 16 | analog << 8 | loss << 4 | most; analog if its level may be other than 0 and the top; most is
# what a wire on the way carries at most. The first entries of x are rules and sizes:
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

# What n[...] holds:
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
    SINCE,  # the step from which on edges are found, and their steps counted, in lane time
    MADE_FROM,  # tells one compiled code from another
    OFFS_END,  # where the numbers of torches end
    RUNS,  # how many runs there are
    ROOM,  # how many rows the trace may have
    FOUND_COLUMNS,  # of found
) = range(21)
WHEN = 32  # n[WHEN + lane]: the step of its next act, release or end, in common time
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

# Columns of acts[k, ...]:
ACT_STEP, ACT_ACTOR, ACT_VERB = range(3)
# found[BASE + lane, ...]: last step in which anything was due, -1 if it did not come to rest; then for each probe:
REST = 0
FIRST_ON, LAST_OFF, PULSES = 1, 2, 3  # first step on, -1; step of the last off, -1 while on; how often it went on
# trace[row, ...]: run, probe, step in lane time, value
