"""Geometry: the answers of layout, wire and power for one configuration of cells, each worked out once, when asked.

A move or a break changes the configuration; the engines keep one Geometry for each.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from tickwright.kinds import CONTAINERS, HEARING, PARTS, PISTONS
from tickwright.rules import power, wire
from tickwright.rules.layout import NEAR, Layout, Stand
from tickwright.rules.power import NOTHING, Sources
from tickwright.rules.ruleset import RuleSet
from tickwright.space import DIRECTIONS, Cell, beside


class FanIn:
    """What one part hears: `power` (rear, or all sides), `flank` (a comparator's), `lock` (a repeater's).

    `container` is what a comparator reads: the cell and whether directly.
    """

    __slots__ = ("container", "flank", "lock", "power")

    def __init__(self, layout: Layout, cell: Cell) -> None:
        flank = PARTS[layout.parts[cell].kind].flank
        self.power: Sources = power.power_sources(layout, cell)
        self.flank: Sources = power.flank_sources(layout, cell) if flank == "level" else NOTHING
        self.lock: Sources = power.lock_sources(layout, cell) if flank == "lock" else NOTHING
        self.container = power.read_container(layout, cell) if flank == "level" else None

    def hears(self, source: Cell) -> bool:
        """Whether a change of that source may change what this part does."""
        return (
            source in self.power
            or source in self.flank
            or source in self.lock
            or (self.container is not None and self.container[0] == source)
        )


class Geometry(Layout):
    """One configuration: who hears whom and who is told, kept once worked out.

    `stands` maps each cell that is not empty to its Stand, inert ones included.
    """

    def __init__(self, stands: Mapping[Cell, Stand], rules: RuleSet) -> None:
        super().__init__(stands, rules)
        self._fan_in: dict[Cell, FanIn] = {}
        self._wire_sources: dict[Cell, Sources] = {}
        self._networks: dict[Cell, tuple[Cell, ...]] = {}
        self._listeners: dict[Cell, tuple[Cell, ...]] = {}
        self._fed_wires: dict[Cell, tuple[Cell, ...]] = {}
        self._inflows: dict[Cell, tuple[Cell, ...]] = {}
        self._outflows: dict[Cell, tuple[Cell, ...]] = {}
        self._watchers: dict[Cell, tuple[Cell, ...]] = {}
        self._pistons_near: dict[Cell, tuple[Cell, ...]] = {}
        self._block_sources: dict[Cell, Sources] = {}
        self._hoppers_near: dict[Cell, tuple[Cell, ...]] = {}
        self._hopper_ends: dict[Cell, tuple[Cell, Cell]] = {}
        self._capacity = {
            cell: rules.capacity(part.kind) for cell, part in self.parts.items() if part.kind in CONTAINERS
        }

    def fan_in(self, cell: Cell) -> FanIn:
        """What the repeater, comparator, torch, lamp, piston, hopper or ejector in the cell hears."""
        fan_in = self._fan_in.get(cell)
        if fan_in is None:
            fan_in = self._fan_in[cell] = FanIn(self, cell)
        return fan_in

    def wire_sources(self, cell: Cell) -> Sources:
        """The sources that the wire in the cell hears at full level."""
        sources = self._wire_sources.get(cell)
        if sources is None:
            sources = self._wire_sources[cell] = power.wire_sources(self, cell)
        return sources

    def outflows(self, cell: Cell) -> tuple[Cell, ...]:
        """The wires into which level flows from the wire in the cell."""
        flows = self._outflows.get(cell)
        if flows is None:
            flows = self._outflows[cell] = wire.outflows(self, cell)
        return flows

    def network(self, cell: Cell) -> tuple[Cell, ...]:
        """All wires that level may reach from, or that may send level to, the wire in the cell."""
        network = self._networks.get(cell)
        if network is None:
            seen = {cell}
            queue = [cell]
            for here in queue:
                for other in (*self.outflows(here), *wire.inflows(self, here)):
                    if other not in seen:
                        seen.add(other)
                        queue.append(other)
            network = tuple(queue)
            for here in queue:
                self._networks[here] = network
        return network

    def inflows(self, cell: Cell) -> tuple[Cell, ...]:
        """The wires from which level flows into the wire in the cell."""
        flows = self._inflows.get(cell)
        if flows is None:
            flows = self._inflows[cell] = wire.inflows(self, cell)
        return flows

    def fed_wires(self, source: Cell) -> tuple[Cell, ...]:
        """The wires that hear the source at full level."""
        wires = self._fed_wires.get(source)
        if wires is None:
            x, y, z = source
            near = [(x + dx, y + dy, z + dz) for dx, dy, dz in NEAR[2]]
            wires = self._fed_wires[source] = tuple(
                cell for cell in near if self.behaviour(cell) == "wire" and source in self.wire_sources(cell)
            )
        return wires

    def listeners(self, source: Cell) -> tuple[Cell, ...]:
        """The parts, pistons left out, whose input may change with the level or count in `source`."""
        listeners = self._listeners.get(source)
        if listeners is None:
            x, y, z = source
            near = [(x + dx, y + dy, z + dz) for dx, dy, dz in NEAR[2]]
            listeners = self._listeners[source] = tuple(
                cell
                for cell in near
                if (kind := self.kind(cell)) in HEARING and kind not in PISTONS and self.fan_in(cell).hears(source)
            )
        return listeners

    def watchers(self, cell: Cell) -> tuple[Cell, ...]:
        """The change-sensors that watch the cell."""
        watchers = self._watchers.get(cell)
        if watchers is None:
            x, y, z = cell
            near = [(x + dx, y + dy, z + dz) for dx, dy, dz in NEAR[1]]
            watchers = self._watchers[cell] = tuple(
                there for there in near if self.behaviour(there) == "sensor" and power.watched_cell(self, there) == cell
            )
        return watchers

    @cached_property
    def pistons(self) -> tuple[Cell, ...]:
        """All pistons that can be told."""
        return tuple(cell for cell, part in self.parts.items() if part.kind in PISTONS)

    def pistons_near(self, cell: Cell) -> tuple[Cell, ...]:
        """The pistons that are told of a change in the cell."""
        pistons = self._pistons_near.get(cell)
        if pistons is None:
            x, y, z = cell
            reach = self.rules.piston.hears_within
            pistons = self._pistons_near[cell] = tuple(
                there for there in self.pistons if abs(there[0] - x) + abs(there[1] - y) + abs(there[2] - z) <= reach
            )
        return pistons

    def hoppers_near(self, cell: Cell) -> tuple[Cell, ...]:
        """The hoppers in the cell and beside it, which may have something to do when its content changes."""
        hoppers = self._hoppers_near.get(cell)
        if hoppers is None:
            near = (cell, *(beside(cell, side) for side in DIRECTIONS))
            hoppers = self._hoppers_near[cell] = tuple(there for there in near if self.behaviour(there) == "hopper")
        return hoppers

    def hopper_ends(self, cell: Cell) -> tuple[Cell, Cell]:
        """The cells that the hopper in the cell pushes into and pulls from."""
        ends = self._hopper_ends.get(cell)
        if ends is None:
            ends = self._hopper_ends[cell] = (beside(cell, str(self.parts[cell].facing)), beside(cell, "up"))
        return ends

    def capacity(self, cell: Cell) -> int:
        """How many items fit into the container in the cell; 0 if there is none."""
        return self._capacity.get(cell, 0)

    def block_sources(self, cell: Cell) -> Sources:
        """The sources whose highest level a conducting cell passes to a part that hears both kinds."""
        sources = self._block_sources.get(cell)
        if sources is None:
            strong, weak = power.strong_sources(self, cell), power.weak_sources(self, cell)
            sources = self._block_sources[cell] = strong | weak
        return sources
