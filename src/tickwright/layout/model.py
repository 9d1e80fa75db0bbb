"""What is laid: tiles with ports, instances of them, nets between their ports, and the layout that comes of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from tickwright.kinds import Part, mirrored, turned
from tickwright.plan.model import Plan
from tickwright.space import HORIZONTAL, Cell, beside

MIRRORED = {"east": "west", "west": "east"}


class Port(NamedTuple):
    """Where a net meets a tile: the tile's own `cell`, and the `side` of it at which the net's wire lies.

    `role` is "in" or "out"; `also` are further sides that will do as well. For an input, `need` is the least level that
    the wire beside the port must have; for an output, `gives` is the level that it has there.
    """

    cell: Cell
    side: str
    role: str
    also: tuple[str, ...] = ()
    need: int = 2
    gives: int = 15

    @property
    def access(self) -> tuple[Cell, ...]:
        """The cells in which a wire of the net meets the port.

        >>> Port((0, 1, 1), "west", "in", ("north",)).access
        ((-1, 1, 1), (0, 0, 1))
        """
        return tuple(beside(self.cell, side) for side in (self.side, *self.also))


@dataclass(frozen=True)
class Tile:
    """A small plan with ports. Nothing else may come into its `keep_outs`; compared by identity.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", w = "wire"}
    ... layer = [{rows = "#"}, {rows = "w"}]''')
    >>> Tile("joint", plan, {"in": Port((0, 0, 1), "west", "in")}).ports["in"].access
    ((-1, 0, 1),)
    """

    name: str
    plan: Plan
    ports: Mapping[str, Port]
    keep_outs: frozenset[Cell] = frozenset()

    def __hash__(self) -> int:
        return id(self)

    def __eq__(self, other: object) -> bool:
        return self is other

    @cached_property
    def box(self) -> tuple[Cell, Cell]:
        """The lowest and the highest cell of all that it takes, unturned."""
        cells = (*self.plan.cells, *self.keep_outs)
        xs, ys, zs = zip(*cells, strict=True)
        return (min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs))


@dataclass(frozen=True, slots=True)
class Instance:
    """A tile laid: its own cell (0, 0, 0) comes to lie at `at`; mirrored east to west, then turned clockwise.

    `turn` is 0, 90, 180 or 270 degrees, seen from above.
    """

    name: str
    tile: Tile
    at: Cell = (0, 0, 0)
    turn: int = 0
    mirror: bool = False

    def cell(self, cell: Cell) -> Cell:
        """Where a cell of the tile comes to lie.

        >>> from tickwright.plan.model import Plan
        >>> Instance("a", Tile("t", Plan({}), {}), (10, 10, 0), 90).cell((1, 0, 0))
        (10, 11, 0)
        """
        return moved(cell, self.at, self.turn, self.mirror)

    def side(self, side: str) -> str:
        """Which way a side of the tile comes to face."""
        return turned_side(side, self.turn, self.mirror)

    def part(self, part: Part) -> Part:
        """How a part of the tile comes to lie."""
        return turned(mirrored(part, "x") if self.mirror else part, self.turn // 90)

    def port(self, name: str) -> Port:
        """A port as it comes to lie."""
        port = self.tile.ports[name]
        also = tuple(map(self.side, port.also))
        return Port(self.cell(port.cell), self.side(port.side), port.role, also, port.need, port.gives)

    def cells(self) -> Iterator[tuple[Cell, Part]]:
        """The parts as they come to lie."""
        for cell, part in self.tile.plan.cells.items():
            yield self.cell(cell), self.part(part)


def moved(cell: Cell, at: Cell, turn: int, mirror: bool) -> Cell:
    """A cell mirrored east to west about the origin if asked, turned clockwise about it, and moved by `at`.

    >>> moved((2, 1, 0), (0, 0, 0), 90, True)
    (-1, -2, 0)
    """
    x, y, z = cell
    if mirror:
        x = -x
    for _ in range(turn // 90 % 4):
        x, y = -y, x
    return (x + at[0], y + at[1], z + at[2])


def turned_side(side: str, turn: int, mirror: bool) -> str:
    """The side mirrored east to west if asked, then turned clockwise.

    >>> turned_side("east", 90, False), turned_side("east", 90, True)
    ('south', 'north')
    """
    if mirror:
        side = MIRRORED.get(side, side)
    if side not in HORIZONTAL:
        return side
    clockwise = ("north", "east", "south", "west")
    return clockwise[(clockwise.index(side) + turn // 90) % 4]


@dataclass(frozen=True, slots=True)
class Pin:
    """A port of an instance, as a net names it: (instance, port), and what a sink asks of the way to it.

    `need` is the least level at the sink where that is more than its port asks; `most_steps` is the most delay that
    repeaters on the way may add.
    """

    instance: str
    port: str
    need: int = 0
    most_steps: int | None = None


@dataclass(frozen=True, slots=True)
class Net:
    """One signal: the port that drives it and the ports that hear it."""

    driver: Pin
    sinks: tuple[Pin, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """What came of laying: the plan, where the instances lie, what each net takes, and what is not routed.

    `cells` maps a net to its wires and repeaters; `delays` maps (net, instance, port) to the steps that repeaters add
    on the way there; `levels` to the level of the wire at that port. `unrouted` names sinks as "net -> instance.port";
    `faults` says what acceptance found (empty: every input hears just what the nets say); `stopped` whether the time
    was over, or somebody ended it, before all was tried; `blocked`: (net, instance) of sinks that other tiles keep from
    being reached.
    """

    plan: Plan
    instances: Mapping[str, Instance]
    cells: Mapping[str, tuple[Cell, ...]]
    delays: Mapping[tuple[str, str, str], int]
    levels: Mapping[tuple[str, str, str], int]
    unrouted: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    seed: int = 0
    stopped: bool = False
    blocked: tuple[tuple[str, str], ...] = ()

    @property
    def done(self) -> bool:
        """Whether everything is routed and accepted."""
        return not self.unrouted and not self.faults

    @property
    def repeaters(self) -> dict[Cell, str]:
        """The repeaters that routing put in, each with its net."""
        behaviours = {cell: part.behaviour for cell, part in self.plan.cells.items()}
        return {cell: net for net, cells in self.cells.items() for cell in cells if behaviours[cell] == "repeater"}

    @property
    def box(self) -> Cell:
        """How many cells it takes along x, y and z."""
        return self.plan.size
