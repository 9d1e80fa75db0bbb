"""Long waits of a trigger's program: rings that fade, one behind the other, once the trigger's busy flag is on."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tickwright.design.compose.machine_tiles import Ring, fade, rings_for, rings_steps
from tickwright.design.compose.network import Network, Program, Tap
from tickwright.design.compose.tiles import FALLEN

FLAG_LATE = 6  # from the start pulse to the fall of the flag's `not`: its column, the flag and a torch
FILLED_IN = 14  # steps for which the flag is off at least
SPARE = (10, 14, 26)  # steps that the column and the routes of a wait take: least, best, most
COLUMN = 3
ROUTE = 4  # steps for the way from one ring to the next
Way = tuple[str, str, str]


def add_rings(network: Network, name: str, rings: Sequence[Ring], column: int) -> tuple[list[str], list[Way]]:
    """Add rings, one behind the other, the first behind a column so long; their names and the ways between them."""
    names = [f"{name}-ring{place}" for place in range(len(rings))]
    for place, (one, ring) in enumerate(zip(names, rings, strict=True)):
        network.add(one, fade(one, ring, place == len(rings) - 1, 1 if place else column))
    ways = [network.connect(network.net(one, "out"), following, "in", ROUTE) for one, following in pairwise(names)]
    return names, ways


def waiting(network: Network, program: Program, until: int) -> Tap | None:
    """A tap whose pulse comes `until` steps after the act, behind rings; None if the trigger has no busy flag.

    The first ring fades when the flag comes on, or, after another such wait, when its last ring has faded.
    """
    if program.busy is None:
        return None
    flag = program.busy.memory
    lead: tuple[Way, ...] = ()
    before = [place for place, tap in enumerate(program.taps) if tap.source]
    if before:
        base = before[-1]
        last = program.taps[base]
        source = network.net(network.drivers[last.net].instance, "level")
        after, filled = -FALLEN, last.fixed_steps
        room = until - last.step
    else:
        base, source, after, filled = 0, network.net(flag, "not"), FLAG_LATE, FILLED_IN
        lead = ((program.taps[0].net, flag, "set0"),)
        room = until - program.taps[0].step - FLAG_LATE - FALLEN
    rings = rings_for(room, filled, SPARE)
    if rings is None:
        return None
    names, ways = add_rings(network, f"{program.trigger}-wait{len(program.taps)}", rings, COLUMN)
    fixed = rings_steps(rings) + FALLEN
    lead = (*lead, network.connect(source, names[0], "in", 8), *ways)
    return Tap(network.net(names[-1], "out"), until, names[0], source, base, after, fixed, lead)
