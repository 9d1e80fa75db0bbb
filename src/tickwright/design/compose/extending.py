"""Further presses that extend what runs: memories whose reset is cut when the trigger is worked again in time.

An extended output has a *holder*: a memory whose reset passes a comparator. Every press shuts that comparator for a
while, so that no reset of an earlier press gets through; the press's own reset comes later. Short spans are reset by
the trigger's chain. Longer ones by rings that each press fills anew: they fade from the last press on.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tickwright.design.compose.machine_tiles import LEAST_RING, WIDEST, Ring, fade, rings_steps
from tickwright.design.compose.network import Need, Network, Program, Tap
from tickwright.design.compose.tiles import FALLEN, Made, Sketch, drive, joint
from tickwright.layout.model import Port

SHUT_FROM = 10  # steps after a press from which on its holders are shut, if the ways took no time
CUT = 4  # steps from when a reset leaves its column until the holder is off
LATE = 2  # steps that the ways to a holder may take
SHUT_FOR = (6, 10, 14, 20, 26, 34, 42, 50, 58)  # steps for which a holder is shut, by the number of its further taps
TAP_TICKS, CHAIN_TICKS = (1, 2, 3, 4, 4, 4, 4, 4), (1, 1, 1, 1, 4, 4, 4, 4)
LEAST_END = 26  # of an extended span, steps after the press, as its memory has it
RING_FROM = 86  # the end from which on rings make the reset
COLUMN = 2  # repeaters of a reset
FIRST_WIDE = 7  # the widest ring that a holder fills, and that is full again before a late reset could get through
STAYS = 150  # steps that the last of several rings fades, while those before it fill
BETWEEN = 6  # steps from one ring to the next: columns and ways
SPARE_STEPS = 16  # what the columns and the ways of rings take, about the middle of what they can


def taps_for(end: int, again: int) -> int:
    """How many taps shut a holder long enough for resets of earlier presses, and not for its own.

    `end` is when the memory goes off after its press, `again` how soon the next press can come.

    >>> SHUT_FOR[taps_for(60, 22)], SHUT_FOR[taps_for(800, 22)]
    (34, 58)
    """
    most, least = end - CUT - SHUT_FROM - LATE, min(end + 2 - again - SHUT_FROM, SHUT_FOR[-1])
    return next(taps for taps, steps in enumerate(SHUT_FOR) if least <= steps <= most)


def lay_taps(s: Sketch, taps: int) -> None:
    """A chain of repeaters that runs west at y -4, and taps from it to a line back east at y -2."""
    s.put(-1, -2, "repeater east")
    for tap in range(taps):
        x = -2 - 2 * tap
        s.put(x + 1, -4, f"repeater west delay={CHAIN_TICKS[tap]}")
        s.put(x, -3, f"repeater south delay={TAP_TICKS[tap]}")
        s.wires((x, -4), (x, -2))
        if tap:
            s.wires((x + 1, -2))


def holder(name: str, set_length: int, taps: int, drives: str = "port", rests_on: bool = False) -> Made:
    """A memory whose reset is cut: on 2 steps after the column `set0`, off CUT steps after the column `reset0`.

    The ports `now` and `again` hear of each press, 6 steps after it, by a pulse of 2 steps. From 4 steps later on no
    reset gets through, for SHUT_FOR steps by the number of `taps`. With all of them the port `hold` is on for almost
    as long, and goes off in the same step.
    """
    s = Sketch(name)
    s.wires((0, 0), (-1, 0))
    s.input_column("set0", -1, 1, set_length, "north")
    s.put(1, 0, "comparator east mode=difference")
    s.wires((2, 0), (2, 1), (0, 1), (3, 0))
    s.put(1, 1, "repeater west")
    s.wires((1, -1))
    s.put(1, -2, "comparator south mode=difference")
    s.wires((1, -3), (1, -5))
    s.put(1, -4, "repeater south")
    s.put(2, -5, "repeater west")
    s.ports["reset0"] = Port((2, -5, 1), "east", "in", need=1)
    s.columns["reset0"] = ((2, -5, 1), (1, -4, 1))
    s.put(2, -2, "repeater west delay=2")
    s.ports["now"] = Port((2, -2, 1), "east", "in", need=1)
    s.wires((0, -2), (0, -4))
    s.put(0, -3, "repeater south")
    s.put(0, -5, "repeater south delay=2")
    s.ports["again"] = Port((0, -5, 1), "north", "in", need=1)
    if taps:
        lay_taps(s, taps)
    if taps == len(TAP_TICKS):
        s.put(-2 * taps - 1, -2, "repeater west")
        s.out("hold", -2 * taps - 1, -2, "west")
    drive(s, drives, rests_on, 13)
    return s.made()


def extending_rings(steps: int) -> tuple[Ring, ...]:
    """Rings one behind the other that fade in about so many steps, and that a short pulse fills anew."""
    small = [Ring(wide, lead) for wide in range(3, FIRST_WIDE + 1) for lead in range(13)]
    small = [ring for ring in small if ring.fade_steps >= LEAST_RING]
    most = max(ring.fade_steps for ring in small)
    found: list[Ring] = []
    left = steps
    if left > most + SPARE_STEPS // 4:
        found.append(Ring(FIRST_WIDE, 0))
        left -= found[-1].fade_steps + BETWEEN
    while left > most:
        wide = [Ring(one, 0) for one in range(3, WIDEST) if Ring(one, 0).fade_steps <= left - STAYS - BETWEEN]
        found.append(max(wide, key=lambda ring: ring.fade_steps))
        left -= found[-1].fade_steps + BETWEEN
    kept = [ring for ring in small if not found or ring.fade_steps >= min(STAYS, left)]
    found.append(min(kept, key=lambda ring: (abs(ring.fade_steps - left), ring.wide)))
    return tuple(found)


def extending_tap(network: Network, program: Program, instance: str, need: Need) -> None:
    """Let rings that a holder fills reset it: a tap of their own."""
    until = need.leave - 2 * COLUMN - 4
    start = program.taps[0].step
    rings = extending_rings(until - SHUT_FROM - SHUT_FOR[-1] - FALLEN - SPARE_STEPS)
    again = (network.net(program.front, "noticed"), instance, "again")
    names = [f"{instance}-ring{place}" for place in range(len(rings))]
    for place, (one, ring) in enumerate(zip(names, rings, strict=True)):
        network.add(one, fade(one, ring, place == len(rings) - 1, 1))
    hold = network.net(instance, "hold")
    lead = [again, network.connect(hold, names[0], "in", 4)]
    fixed = rings_steps(rings) + FALLEN
    for before, following in pairwise(names):
        if following != names[-1]:
            lead.append(network.connect(network.net(before, "out"), following, "in", 4))
            continue
        both = network.add(f"{instance}-refill", joint(f"{instance}-refill", [1, 1]))
        lead.append(network.connect(network.net(before, "out"), both, "in0", 4))
        network.connect(hold, both, "in1", 4)
        lead.append(network.connect(network.net(both, "out"), following, "in", 2))
        fixed += 2
    net = network.net(names[-1], "out")
    after = SHUT_FROM + SHUT_FOR[-1] - start
    program.taps.append(Tap(net, until, names[0], hold, 0, after, fixed, tuple(lead)))
    program.needs[net] = [need]
    network.connect(net, need.instance, need.port, 4)


def first_extended(ends: Sequence[int], again: int) -> int | None:
    """The first end of spans that a further press can extend: those that are not over before it can come."""
    return min((end for end in ends if end > again), default=None)
