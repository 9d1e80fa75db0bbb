"""The tiles that state machines are composed of. All delays are in steps; all act on the layer z = 1, as in `tiles`.

A *striker* makes a pulse of 4 steps, 2 steps after its trigger is worked (or released). A *group* belongs to a state:
it lets the first event that comes in that state through, and shuts out the others. A *flag* is the memory of a state. A
*fade* is a wait that can be cut short: a ring of comparators that is fed while the state is not there, and that loses
one level each turn once it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tickwright.design.compose.tiles import Made, Sketch, drive, fallen
from tickwright.layout.model import Port
from tickwright.space import OPPOSITE

STRUCK = 2  # steps after an act from which on a striker's pulse is on, for 4 steps
HELD = 22  # steps for which a group of two shuts out one event after the other
MOST_QUICK = 3  # resets of a memory that act at once
FEWEST, WIDEST = 3, 30  # the widths of the smallest ring, and below which all are
LEAST_RING = 14  # steps that it fades in at least
NEXT_RING = 6  # steps from one ring to the next: its column and what routing adds


def striker(name: str, part: str, rises: bool, falls: bool, level: bool) -> Made:
    """A trigger with pulses: port `rise` 2 steps after it is worked, `fall` 2 steps after it is let go, each 4 long.

    With `level` its level can be heard, too, at the port of that name.
    """
    s = Sketch(name)
    s.put(2, -2, part)
    s.named["trigger"] = (2, -2, 1)
    if rises:
        # x, the act less a torch of the act, comes 4 steps after it and goes 2 after its end; act less x is the pulse
        s.wires((3, -2), (4, -2), (4, -1), (1, -2), (1, -1), (1, 0), (0, 0), (0, 1), (0, 2), (2, 3), (2, 2), (2, 1))
        s.put(0, 3, "block")
        s.put(1, 3, "torch on=west")
        s.put(2, 0, "comparator east mode=difference")
        s.wires((3, 0))
        s.put(4, 0, "comparator south mode=difference")
        s.out("rise", 4, 0, "south", gives=13)
    if falls:
        fallen(s, 2, -3)
        s.ports["fall"] = s.ports.pop("out")
    if level:
        s.out("level", 2, -3 if falls else -2, "west" if falls else "north")
    return s.made()


def group(
    name: str,
    gates: Sequence[bool],
    gate_length: int = 1,
    na_length: int = 2,
    events: Sequence[int] = (1, 1),
    yields: int | None = None,
) -> Made:
    """Lets one of its events through, the first that comes while `na` is off: from `e0` to `o0`, from `e1` to `o1`.

    An event must come to its column's end as a pulse of 4 steps; 2 steps later its output is on, for 4 steps. `na`
    must be off at its column's end 2 steps after the event's at the latest. With two events, each shuts out the other
    in the step in which it comes out and for HELD steps from then. If both come in one step, the one whose number is
    `yields` is shut out: its column ends in a comparator, which acts after the other's repeater in that step; so its
    event must come 2 steps earlier. An event with a gate counts only if `g0` (`g1`) is off.

    `events` says how many do the same. A group of one lets as many through, which are `e0-0`, `e0-1` and so on then.
    Of two, each may have a pair of events, `e0-0` and `e0-1` (`e1-0`, `e1-1`), which must come 2 steps earlier: see
    `_half`. What has more than one event has no gate.
    """
    s = Sketch(name)
    if len(gates) == 1 and events[0] > 1:
        _gathered(s, events[0], na_length)
        return s.made()
    if len(gates) == 1:
        s.put(0, 0, "comparator east mode=difference")
        s.put(-1, 0, "repeater east")
        s.ports["e0"], s.columns["e0"] = Port((-1, 0, 1), "west", "in", need=1), ((-1, 0, 1),)
        s.out("o0", 0, 0, "east")
        s.input_column("na", 0, -1, na_length, "south")
        if gates[0]:
            s.input_column("g0", 0, 1, gate_length, "north")
        return s.made()
    for number in (0, 1):
        _half(s, number, gates[number], gate_length, na_length, yields == number, events[number], max(events) > 1)
    return s.made()


def _gathered(s: Sketch, events: int, na_length: int) -> None:
    """Events that do the same, by turns to two comparators, so that what is late for one does not join another's pulse.

    What comes out fills a ring of two comparators, which fades: it shuts both from 10 to about 26 steps after an event
    (34, if another came meanwhile). `na` comes to them 2 steps after its column.
    """
    for place, y in enumerate((0, 6)):
        s.put(0, y, "comparator east mode=difference")
        _events(s, y, range(place, events, 2), "north" if place == 0 else "south")
    s.put(0, 1, "repeater north")
    s.put(0, 5, "repeater south")
    s.wires((0, 2), (0, 3), (0, 4))
    s.west_column("na", -1, 3, na_length)
    s.wires(*((x, y) for y in (0, 6) for x in range(1, 7)), *((6, y) for y in range(1, 6)))
    s.ports["o0"] = Port((6, 3, 1), "east", "out", gives=6)
    s.put(5, 3, "repeater west")
    s.wires(*((x, y) for x in (2, 4) for y in (2, 3, 4)))
    s.put(3, 2, "comparator west")
    s.put(3, 4, "comparator east")
    s.put(1, 3, "repeater west")


def _events(s: Sketch, y: int, numbers: Sequence[int], side: str) -> None:
    """The columns of events west of the comparator at (0, y): the first beside it, more on one side."""
    first, *others = numbers
    west = -1 - 2 * len(others)
    s.wires(*((x, y) for x in range(west + 1, 0)))
    s.put(west, y, "repeater east")
    s.ports[f"e0-{first}"] = Port((west, y, 1), "west", "in", need=1)
    s.columns[f"e0-{first}"] = ((west, y, 1),)
    for place, number in enumerate(others):
        s.input_column(f"e0-{number}", -2 - 2 * place, y + (-1 if side == "north" else 1), 1, OPPOSITE[side])


def _half(
    s: Sketch, number: int, gate: bool, gate_length: int, na_length: int, yields: bool, events: int,
    far: bool,
) -> None:  # fmt: skip
    """One event of two, and what it does to the other; the second lies turned about the middle.

    A pair of events comes through a comparator each, so that one that is lost does not join the pulse of the next. Both
    are shut while the level is on that comes through the column `nb0` (`nb1`). `far` says that one
    of the two has such a pair: then the other's event takes a wire more, since two that race must be as strong.
    """

    def at(x: int, y: int) -> tuple[int, int]:
        return (x, y) if number == 0 else (2 - x, 1 - y)

    def way(direction: str) -> str:
        return direction if number == 0 else OPPOSITE[direction]

    def put(x: int, y: int, text: str) -> None:
        s.put(*at(x, y), text)

    def column(port: str, x: int, y: int, long: int, step: tuple[int, int], facing: str) -> None:
        cells = []
        for place in range(long):
            here = at(x + step[0] * place, y + step[1] * place)
            s.put(*here, f"repeater {way(facing)}")
            cells.append((*here, 1))
        s.ports[port] = Port(cells[-1], way(OPPOSITE[facing]), "in", need=1)
        s.columns[port] = tuple(reversed(cells))

    put(0, 0, f"comparator {way('east')} mode=difference")
    put(1, 0, "block")
    put(2, 0, "wire")  # what shuts the other event out: full strength from this event's block
    put(-1, 0, "wire")
    if yields:
        put(-1, -1 - far, f"comparator {way('south')}")
    if far:
        put(-1, -1, "wire")
    if events > 1:
        put(-2, -1, f"comparator {way('east')} mode=difference")
        column(f"e{number}-0", -3, -1, 1, (-1, 0), "east")
        put(-1, -2, f"comparator {way('south')} mode=difference")
        column(f"e{number}-1", -1, -3, 1, (0, -1), "south")
        put(-2, -2, "wire")
        column(f"nb{number}", -2, -3, 2, (0, -1), "south")
        s.keep_outs.update((*at(x, y), 1) for x, y in ((-2, 0), (0, -1), (0, -2), (-3, -2)))
    else:
        column(f"e{number}", -1, -1 - yields - far, 1, (0, -1), "south")
    if gate:
        column(f"g{number}", 0, -1, gate_length, (0, -1), "south")
    for x, y in ((1, -1), (1, -2), (2, -2), (3, -2), (4, -2)):
        put(x, y, "wire")
    s.ports[f"o{number}"] = Port((*at(2, -2), 1), way("north"), "out", gives=12 - far)
    put(2, -1, f"repeater {way('south')} delay=2")
    put(4, -1, f"repeater {way('south')} delay=3")
    put(5, -2, f"repeater {way('east')}")
    put(6, -2, "wire")
    put(6, -1, f"repeater {way('south')} delay=4")
    for x in (4, 5, 6):
        put(x, 0, "wire")
    put(3, 0, f"repeater {way('west')}")
    column(f"na{number}", 7, 0, na_length, (1, 0), "west")


def keeper(name: str, sets: Sequence[int], resets: Sequence[int], drives: str = "port", rests_on: bool = False) -> Made:
    """A memory with up to MOST_QUICK resets at its flank: on 2 steps after a set's column, off 2 after a reset's.

    Reset wins. `drives` as in `tiles.memory`, or "flag": then port `out` is on while it is, and `not` is off then, 2
    steps later. More resets come through a repeater, and take 2 steps more.
    """
    s = Sketch(name)
    count = len(sets)
    apart = 4 if 1 < len(resets) <= MOST_QUICK else 0  # room for a reset from the west
    s.wires(*((-place, 0) for place in range(2 * count + apart)))
    for number, length in enumerate(sets):
        s.input_column(f"set{number}", -1 - apart - 2 * number, -1, length, "south")
    s.put(1, 0, "comparator east mode=difference")
    s.wires((2, 0), (2, 1), (0, 1), (3, 0))
    s.put(1, 1, "repeater west")
    if len(resets) <= MOST_QUICK:
        s.wires((1, -1), (1, -2))
        for number, length in enumerate(resets):
            _beside(s, number, length)
    else:
        s.put(1, -1, "repeater south")
        s.wires(*((1 + place, -2) for place in range(2 * len(resets) - 1)))
        for number, length in enumerate(resets):
            s.input_column(f"reset{number}", 1 + 2 * number, -3, length, "south")
    level = 15 - 2 * count - apart
    if drives != "flag":
        drive(s, drives, rests_on, level)
        return s.made()
    s.out("out", 2, 1, "south", gives=level - 1)
    s.put(4, 0, "block")
    s.put(5, 0, "torch on=west")
    s.out("not", 5, 0, "east")
    return s.made()


def _beside(s: Sketch, number: int, length: int) -> None:
    """The column of a reset: from the north, the west or the east."""
    if number == 0:
        s.input_column("reset0", 1, -3, length, "south")
        return
    facing, step = ("east", -1) if number == 1 else ("west", 1)
    cells = [(1 + step * (1 + place), -2) for place in range(length)]
    for cell in cells:
        s.put(*cell, f"repeater {facing}")
    s.ports[f"reset{number}"] = Port((*cells[-1], 1), OPPOSITE[facing], "in", need=1)
    s.columns[f"reset{number}"] = tuple((x, y, 1) for x, y in reversed(cells))


def inverter(name: str, length: int) -> Made:
    """On while its input is off, 2 steps after its column."""
    s = Sketch(name)
    s.wires((0, 0))
    s.input_column("in", 0, -1, length, "south")
    s.put(0, 1, "block")
    s.put(0, 2, "torch on=north")
    s.out("out", 0, 2, "south")
    return s.made()


class Ring(NamedTuple):
    """A ring of `wide` cells along x and 3 along y, fed through so many cells more of wire."""

    wide: int
    lead: int

    @property
    def comparators(self) -> int:
        """How many comparators are in it."""
        return 2 * self.wide - 1

    @property
    def fill_steps(self) -> int:
        """How long it must be fed."""
        return 2 * self.comparators + 2

    @property
    def fade_steps(self) -> int:
        """From when its column ends to feed it until its tap is off, the tap's own delay of 2 included."""
        return (13 - self.lead) * 2 * self.comparators + 2 * (self.wide - 2) + 2


def fade(name: str, ring: Ring, last: bool, length: int) -> Made:
    """A ring that fades; port `in` feeds it, port `out` is on while any level is left in it.

    With `last` the port `out` gives a pulse of 4 steps instead, from FALLEN steps after the level is gone, and the
    port `level` is on while any is left.
    """
    s = Sketch(name)
    wide = ring.wide
    s.wires((0, 0), (1, 0), (wide, 0), (wide, 2), (0, 2))
    for x in range(2, wide):
        s.put(x, 0, "comparator east")
    for x in range(1, wide):
        s.put(x, 2, "comparator west")
    s.put(wide, 1, "comparator south")
    s.put(0, 1, "comparator north")
    for place in range(ring.lead):
        s.wires((0, -1 - place))
    y = -1 - ring.lead
    s.input_column("in", 0, y, length, "south")
    if not last:
        s.put(wide + 1, 0, "repeater east")
        s.out("out", wide + 1, 0, "east")
        return s.made()
    s.put(wide + 1, 0, "repeater east")
    fallen(s, wide + 2, 0)
    s.out("level", wide + 2, 0, "south", gives=14)
    return s.made()


def drop(name: str, length: int) -> Made:
    """A wait as long as its column: a pulse of 4 steps, FALLEN steps after the column's end has gone off."""
    s = Sketch(name)
    for place in range(length):
        s.put(-1 - place, 0, "repeater east")
    s.ports["in"] = Port((-length, 0, 1), "west", "in", need=1)
    s.columns["in"] = tuple((-1 - place, 0, 1) for place in reversed(range(length)))
    fallen(s, 0, 0)
    return s.made()


def rings_steps(rings: Sequence[Ring]) -> int:
    """From when the first of rings, one behind the other, is fed no more until all have faded, without the ways."""
    return sum(ring.fade_steps for ring in rings) + 2 * (len(rings) - 1)


def rings_for(steps: int, filled_in: int, spare: tuple[int, int, int]) -> tuple[Ring, ...] | None:
    """Rings one behind the other for a wait, the first filled in `filled_in` steps.

    They leave of `steps` what columns and routes take: `spare` is the least, the best and the most of that.
    """
    least, best, most = spare
    found: list[Ring] = []
    while True:
        fits = [
            ring for wide in range(FEWEST, WIDEST) for lead in range(13)
            if (ring := Ring(wide, lead)).fill_steps <= filled_in and ring.fade_steps <= steps - least
        ]  # fmt: skip
        near = [ring for ring in fits if steps - ring.fade_steps <= most]
        if near:
            found.append(min(near, key=lambda ring: (abs(steps - ring.fade_steps - best), ring.wide)))
            return tuple(found)
        more = [ring for ring in fits if steps - ring.fade_steps - NEXT_RING >= LEAST_RING + least]
        if not more:
            return None
        ring = max(more, key=lambda ring: ring.fade_steps)
        found.append(ring)
        steps -= ring.fade_steps + 2
        filled_in = ring.fade_steps
