"""The tiles that contraptions are composed of: small flat plans, each with ports and with repeaters that set its time.

All act on the layer z = 1 and stand on the layer below. Inputs end in *columns*: repeaters one behind the other, whose
delays are set once the nets are routed. Delays are in steps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tickwright.kinds import STANDS, parse_part
from tickwright.layout.model import Port, Tile
from tickwright.plan.model import Plan
from tickwright.space import OPPOSITE, Cell

Flat = tuple[int, int]
LEAST_DELAY, MOST_DELAY = 2, 8  # steps of one repeater
LAMP_OFF, TORCH = 4, 2
FALLEN = 2  # steps from when a level is gone to the pulse that tells it


@dataclass(frozen=True)
class Made:
    """A tile, the repeaters of its adjustable columns by port, and the cells of its own that have a name outside."""

    tile: Tile
    columns: Mapping[str, tuple[Cell, ...]] = field(default_factory=dict)
    named: Mapping[str, Cell] = field(default_factory=dict)


def centered(made: Made, named: str) -> Made:
    """The tile moved so that the named cell lies at (0, 0, 1)."""
    x0, y0, _ = made.named[named]

    def moved(cell: Cell) -> Cell:
        return (cell[0] - x0, cell[1] - y0, cell[2])

    old = made.tile
    ports = {name: port._replace(cell=moved(port.cell)) for name, port in old.ports.items()}
    plan = Plan({moved(cell): part for cell, part in old.plan.cells.items()})
    return Made(
        Tile(old.name, plan, ports, frozenset(map(moved, old.keep_outs))),
        {name: tuple(map(moved, cells)) for name, cells in made.columns.items()},
        {name: moved(cell) for name, cell in made.named.items()},
    )


class Sketch:
    """Parts drawn on one layer, and what becomes of them: a tile with a support under whatever stands."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.flat: dict[Flat, str] = {}
        self.ports: dict[str, Port] = {}
        self.columns: dict[str, tuple[Cell, ...]] = {}
        self.named: dict[str, Cell] = {}
        self.keep_outs: set[Cell] = set()

    def put(self, x: int, y: int, part: str) -> None:
        """Draw a part; a cell takes one only."""
        if (x, y) in self.flat:
            raise AssertionError(f"two parts at {x}, {y} of {self.name}")
        self.flat[x, y] = part

    def wires(self, *cells: Flat) -> None:
        """Draw wires."""
        for x, y in cells:
            self.put(x, y, "wire")

    def input_column(self, port: str, x: int, y: int, length: int, toward: str) -> None:
        """Draw a column of repeaters whose last lies at x, y and faces `toward` (south or north), and its port."""
        back = -1 if toward == "south" else 1
        cells = []
        for place in range(length):
            self.put(x, y + back * place, f"repeater {toward}")
            cells.append((x, y + back * place, 1))
        side = "north" if toward == "south" else "south"
        self.ports[port] = Port(cells[-1], side, "in", need=1)
        self.columns[port] = tuple(reversed(cells))

    def west_column(self, port: str, x: int, y: int, length: int) -> None:
        """Draw a column of repeaters that comes from the west and whose last lies at x, y, and its port."""
        cells = tuple((x - place, y, 1) for place in range(length))
        for cell in cells:
            self.put(*cell[:2], "repeater east")
        self.ports[port] = Port(cells[-1], "west", "in", need=1)
        self.columns[port] = tuple(reversed(cells))

    def out(self, port: str, x: int, y: int, side: str, gives: int = 15, also: tuple[str, ...] = ()) -> None:
        """Name an output port beside the part at x, y; `gives` is the level that a wire has there."""
        self.ports[port] = Port((x, y, 1), side, "out", also, gives=gives)

    def made(self) -> Made:
        """The tile."""
        cells: dict[Cell, object] = {}
        for (x, y), text in self.flat.items():
            part = parse_part(text)
            cells[x, y, 1] = part
            if part.kind in STANDS and part.facing in (None, "down", "north", "east", "south", "west"):
                if part.behaviour == "torch" and part.facing != "down":
                    continue
                cells[x, y, 0] = parse_part("block")
        plan = Plan(cells)  # type: ignore[arg-type]
        tile = Tile(self.name, plan, dict(self.ports), frozenset(self.keep_outs))
        return Made(tile, dict(self.columns), dict(self.named))


def front(
    name: str,
    part: str,
    early: bool,
    blockers: int,
    reset_length: int = 3,
    drives: str = "port",
    rests_on: bool = False,
    falls: bool = False,
) -> Made:
    """What takes a trigger's acts: an edge detector, a gate that blockers shut, and the start pulse.

    The trigger is worked at step 0; the edge comparator is on for 2 steps from step 2 on. If no blocker is on at
    step 2, the gate opens at step 4, and the port `start` is on from step 10 on for 4 steps. With `early` the
    port `out`, or what it `drives`, is on from step 6 on (later if the column `gate` is set longer) until
    4 steps after `early-off` came. A blocker must be on, at its port, the 2 steps of its column before.
    Without `early` the port `noticed` is on at step 6, for 2 steps. With `falls` the port `fall` gives a pulse of 4
    steps, FALLEN steps after the trigger is let go.
    """
    s = Sketch(name)
    s.put(-1, 1, part)
    if falls:
        fallen(s, -1, 0, "west")
        s.ports["fall"] = s.ports.pop("out")
    s.named["trigger"] = (-1, 1, 1)
    s.wires((0, 1), (1, 1), (0, 2), (2, 2))
    s.put(1, 2, "comparator east")
    s.put(2, 1, "comparator east mode=difference")
    s.put(3, 1, "comparator east mode=difference")
    s.put(4, 1, "repeater east")
    s.put(5, 1, "block")
    s.put(5, 2, "repeater south delay=2")
    s.out("start", 5, 2, "south")
    if not early:
        s.out("noticed", 5, 1, "north", also=("east",))
    s.columns["gate"], s.columns["starter"] = ((4, 1, 1),), ((5, 2, 1),)
    if blockers:
        s.input_column("block0", 3, 0, 1, "south")
    if blockers > 1:
        s.input_column("block1", 3, 2, 1, "north")
    if early:
        s.wires((5, 0), (6, 0), (7, 0), (7, 1), (7, -1), (7, -2), (9, 0), (9, -1))
        s.put(6, 1, "repeater east")
        s.put(8, 0, "comparator east mode=difference")
        s.put(8, -1, "repeater west")
        s.input_column("early-off", 8, 1, reset_length, "north")
        drive(s, drives, rests_on, 11, (7, -2), "north")
    return s.made()


def fallen(s: Sketch, x: int, y: int, way: str = "east") -> None:
    """From the wire at x, y, full when on: port `out` gives a pulse of 4 steps, FALLEN steps after it has gone off.

    Twice the level, the second 4 steps later; `way` is where its parts lie.
    """
    ahead, back = (1, "west") if way == "east" else (-1, "east")
    s.wires((x, y), (x + ahead, y), (x + ahead, y - 1))
    s.put(x + 2 * ahead, y, f"repeater {way}")
    s.wires(*((x + 3 * ahead, y - place) for place in range(3)))
    s.put(x + 2 * ahead, y - 2, f"comparator {back}")
    s.put(x + ahead, y - 2, f"comparator {back} mode=difference")
    s.out("out", x + ahead, y - 2, back, gives=13)


START = 10  # the step, after a trigger is worked, from which on the start pulse of its front is on


def start_step(early: int | None) -> int:
    """The same with an early output that comes on at the step `early`: its gate delays the start pulse, too.

    >>> start_step(None), start_step(8), start_step(12)
    (10, 10, 14)
    """
    if early is None:
        return START
    first = min(4, max(1, (early - 4) // 2))
    return 4 + 2 * first + 2 * max(1, 3 - first)


EQUAL_SETS = 3  # of a memory, which all come to it at one level


def memory(name: str, sets: Sequence[int], resets: Sequence[int], drives: str = "port", rests_on: bool = False) -> Made:
    """A memory: on from 2 steps after a set input's column, off from 2 after a reset's (4 if there are several).

    `sets` and `resets` are the lengths of their columns. Reset wins. `drives` is "port", or "line", "lamp" or "door":
    then the cell named `out` shows it. With `rests_on` a torch turns it round. With more than EQUAL_SETS sets it cannot
    be on for 6 steps: its level changes 4 steps after a farther set, which lets a reset of that step act at once.
    """
    s = Sketch(name)
    level = 15 - _sets(s, sets)
    s.put(1, 0, "comparator east mode=difference")
    s.wires((2, 0), (2, 1), (0, 1), (3, 0))
    s.put(1, 1, "repeater west")
    if len(resets) == 1:
        s.input_column("reset0", 1, -1, resets[0], "south")
    elif resets:
        s.put(1, -1, "repeater south")
        s.wires(*((1 + place, -2) for place in range(2 * len(resets) - 1)))
        for number, length in enumerate(resets):
            s.input_column(f"reset{number}", 1 + 2 * number, -3, length, "south")
    drive(s, drives, rests_on, level)
    return s.made()


def _sets(s: Sketch, sets: Sequence[int]) -> int:
    """The columns of a memory's sets: few round one wire, more in a row; how much level is lost on the way out."""
    if len(sets) > EQUAL_SETS:
        s.wires(*((-place, 0) for place in range(2 * len(sets))))
        for number, length in enumerate(sets):
            s.input_column(f"set{number}", -1 - 2 * number, -1, length, "south")
        return 2 * len(sets)
    s.wires((0, 0), (-1, 0))
    for number, length in enumerate(sets):
        if number == 1:
            s.west_column("set1", -2, 0, length)
        else:
            s.input_column(f"set{number}", -1, 1 if number else -1, length, "north" if number else "south")
    return 2


AHEAD: Mapping[str, Flat] = {"east": (1, 0), "north": (0, -1)}


def drive(s: Sketch, drives: str, rests_on: bool, level: int, origin: Flat = (3, 0), way: str = "east") -> None:
    """What the wire at `origin` drives, which comes straight from behind; a wire there has `level`."""
    dx, dy = AHEAD[way]

    def cell(steps: int, z: int = 1) -> Cell:
        return (origin[0] + dx * steps, origin[1] + dy * steps, z)

    def put(steps: int, part: str) -> None:
        s.put(*cell(steps)[:2], part)

    ahead = 1
    if rests_on:
        put(1, "block")
        put(2, f"torch on={OPPOSITE[way]}")
        level, ahead = 16, 3
    if drives == "port":
        s.out("out", *cell(ahead - 1)[:2], way, gives=level - 1)
    elif drives == "line":
        if rests_on:
            put(ahead, "wire")
        s.named["out"] = cell(ahead if rests_on else 0)
    elif drives == "lamp":
        put(ahead, "lamp")
        s.named["out"] = cell(ahead)
        s.keep_outs.update({cell(ahead, 2), cell(ahead, 0)})
    elif drives == "door":
        put(ahead, f"pull-piston {way}")
        put(ahead + 1, "block")
        s.named["out"] = cell(ahead + 1)
        s.keep_outs.update({cell(ahead + 2), cell(ahead, 2), cell(ahead, 3), cell(ahead + 1, 2), cell(ahead + 2, 2)})


def pad(name: str, drives: str, rests_on: bool = False) -> Made:
    """What shows an output, by itself: a wire, a lamp or a door at the cell named `out`, driven from the port `in`."""
    s = Sketch(name)
    s.wires((3, 0))
    s.ports["in"] = Port((3, 0, 1), "west", "in", need=2)
    drive(s, drives, rests_on, 0)
    return s.made()


def joint(name: str, inputs: Sequence[int]) -> Made:
    """Several signals made one: on while one of the inputs is, a column later."""
    s = Sketch(name)
    s.wires(*((-place, 0) for place in range(2 * len(inputs))))
    for number, length in enumerate(inputs):
        s.input_column(f"in{number}", -1 - 2 * number, -1, length, "south")
    s.out("out", 0, 0, "east", gives=15 - 2 * len(inputs))
    return s.made()


def chain(name: str, repeaters: int) -> Made:
    """A delay: repeaters in rows that go to and fro."""
    wanted = max(3, round(repeaters**0.5) if repeaters > 12 else -(-repeaters // 2) if repeaters > 4 else repeaters)
    for per_row in range(wanted, wanted + 12):
        s, out = _rows(name, repeaters, per_row)
        x, y = out
        turns = any(s.flat.get(near) == "wire" for near in ((x, y - 1), (x, y + 1), (x - 1, y), (x + 1, y)))
        if not turns and not (-3 <= x <= 0 and y <= 1):
            return s.made()
    raise AssertionError(f"no rows for {repeaters} repeaters")


def _rows(name: str, repeaters: int, per_row: int) -> tuple[Sketch, Flat]:
    """The rows of a chain, and the cell in which its output is met."""
    s = Sketch(name)
    cells: list[Cell] = []
    row, left = 0, repeaters
    while left:
        west, east = _turns(row, per_row)
        going = "east" if row % 2 == 0 else "west"
        xs = list(range(west + 1, east))
        if going == "west":
            xs.reverse()
        xs = xs[:left]
        for x in xs:
            s.put(x, row, f"repeater {going}")
            cells.append((x, row, 1))
        left -= len(xs)
        if left:
            turn = east if going == "east" else west
            s.wires((turn, row), (turn, row + 1))
        row += 1
    s.ports["in"] = Port(cells[0], "west", "in", need=1)
    s.columns["in"] = tuple(cells)
    x, y, _ = cells[-1]
    s.out("out", x, y, "east" if row % 2 else "west")
    return s, (x + 1 if row % 2 else x - 1, y)


def _turns(row: int, per_row: int) -> tuple[int, int]:
    """The columns west and east of a row's repeaters, where rows turn; staggered so that no two turns touch."""
    east = per_row + row // 2 % 2
    west = -3 - (row - 1) // 2 % 2 if row else -1
    return west, east


def set_delays(total_steps: int, repeaters: int) -> list[int] | None:
    """The delays in ticks of so many repeaters that add up to `total_steps`; None if they cannot. Long ones first.

    >>> set_delays(12, 2), set_delays(3, 1), set_delays(20, 2)
    ([4, 2], None, None)
    """
    ticks, odd = divmod(total_steps, 2)
    if odd or not repeaters <= ticks <= 4 * repeaters:
        return None
    delays = []
    for place in range(repeaters):
        after = repeaters - place - 1
        delays.append(min(4, ticks - after))
        ticks -= delays[-1]
    return delays
