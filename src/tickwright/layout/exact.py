"""Exact layout: all cells of a box, all labels of a netlist, and the rules of wires and power as clauses for SAT.

What a cell may hold: a block, a wire, a torch, an input's lever, an output's lamp, a repeater of a flip-flop (see
`FlipFlop`). What is unsound is forbidden rather
too often than too seldom (a wire is taken to point at every block beside it); what is needed is asked for in ways that
are sure (on top, or pointing with nothing joined across). A wire hears what it should itself, or by way of at most
`HOPS` other wires: a variable for each number of hops says so, so that no wires hear only one another. "No layout"
holds for these labels, these parts and so many hops.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple, TypeVar

from tickwright.kinds import Part
from tickwright.layout.contacts import CLIMBS
from tickwright.layout.flipping import FlipFlop, Flips, flip_flops
from tickwright.layout.labels import Labels, Need, Source
from tickwright.space import DIRECTIONS, FLANKS, HORIZONTAL, OPPOSITE, Cell, beside

HOPS = 3  # wires between one that hears a source itself and one that hears it by others
TORCH_SIDES = ("down", *HORIZONTAL)
BLOCK, WIRE, TORCH, LEVER, LAMP = "block", "wire", "torch", "lever", "lamp"
Place = Cell | str  # a cell of the box, or a side of it
Key = TypeVar("Key")


class Through(NamedTuple):
    """A signal that runs through the box from west to east, from cell to cell of a repeated layout.

    The number of the input that it comes in as, the output that it leaves as, and the row and height of its wires: the
    outermost columns hold these wires and what carries them, and nothing else.
    """

    comes: int
    leaves: str
    row: int
    height: int


class Found(NamedTuple):
    """A layout: its parts, the cell of each input's lever and each output's lamp, and where each flip-flop lies."""

    cells: dict[Cell, Part]
    levers: dict[int, Cell]
    lamps: dict[str, Cell]
    flip_flops: Mapping[int, FlipFlop] = {}


class Encoding:
    """The clauses of one box; `layout` reads a model back. `places` gives inputs and outputs a cell or a side.

    `straight` asks that a wire that must point arrives straight, as the rule set older-wire wants it; `through` lets a
    signal run through the box.
    """

    def __init__(
        self,
        labels: Labels,
        inputs: Sequence[str],
        size: Cell,
        places: Mapping[str, Place] | None = None,
        straight: bool = False,
        through: Through | None = None,
    ) -> None:
        self.through = through
        self.labels, self.inputs, self.size, self.straight = labels, inputs, size, straight
        self.clauses: list[list[int]] = []
        self.count = 0
        x, y, z = size
        self.cells = [(a, b, c) for c in range(z) for b in range(y) for a in range(x)]
        self.inside = set(self.cells)
        n = len(labels.table)
        self.block = {cell: self._fresh(range(n + 1)) for cell in self.cells}  # label n: nothing hears it
        self.wire = {cell: self._fresh(range(n)) for cell in self.cells if cell[2]}
        self.torch = {cell: self._fresh(labels.torch) for cell in self.cells}  # by the label of its block
        self.lever = {cell: self._fresh(range(len(inputs))) for cell in self.cells}
        self.lamp = {cell: self._fresh(labels.output) for cell in self.cells}
        self.facing = {
            cell: self._fresh(side for side in TORCH_SIDES if beside(cell, side) in self.inside) for cell in self.cells
        }
        self.is_block, self.conducts, self.joins, self.fixed = ({c: self._new() for c in self.cells} for _ in range(4))
        self.is_wire = {c: self._new() for c in self.wire}
        latches = range(len(labels.latches))
        self.flips = Flips(self._fresh((number, one) for one in flip_flops(self.inside) for number in latches))
        self.repeater = self._fresh(self.flips.covering)
        self._kinds()
        self._ends(places or {})
        self._outer: dict[Cell, int] = {}  # holds where a wire hears what comes in from outside
        if through is not None:
            self._run_through(through)
        self._touching()
        for cell in self.cells:
            self._sound(cell)
        self._connections()
        self._pointed: dict[tuple[Cell, str], int] = {}
        self._carried: dict[tuple[Cell, str, frozenset[int]], int] = {}
        self._complete()
        self._clocked()

    def _new(self) -> int:
        self.count += 1
        return self.count

    def _fresh(self, keys: Iterable[Key]) -> dict[Key, int]:
        return {key: self._new() for key in keys}

    def _add(self, *clause: int) -> None:
        self.clauses.append(list(clause))

    def _both(self, a: int, *others: int) -> int:
        """A variable that holds exactly if all of these do."""
        var = self._new()
        self._add(var, -a, *(-other for other in others))
        for one in (a, *others):
            self._add(-var, one)
        return var

    # --- one thing in each cell, what it stands on, each input and output once ---

    def _kinds(self) -> None:
        for cell in self.cells:
            wires, below = self.wire.get(cell, {}).values(), beside(cell, "down")
            torches, levers = self.torch[cell].values(), self.lever[cell].values()
            blocks, lamps = self.block[cell].values(), self.lamp[cell].values()
            repeaters = self.flips.covering.get(cell, [])
            self._at_most_one([*blocks, *wires, *torches, *levers, *lamps, *repeaters])
            if repeaters:
                self._any(self.repeater[cell], repeaters)
                self._add(-self.repeater[cell], self.conducts[below])
            self._any(self.is_block[cell], blocks)
            self._any(self.conducts[cell], [*blocks, *lamps])
            self._any(self.fixed[cell], [*torches, *levers])
            self._any(self.joins[cell], [*wires, *torches, *levers])
            if cell in self.is_wire:
                self._any(self.is_wire[cell], wires)
                self._add(-self.is_wire[cell], self.conducts[below])
            self._at_most_one(list(self.facing[cell].values()))
            self._any(self.fixed[cell], self.facing[cell].values())

    def _any(self, name: int, forms: Iterable[int]) -> None:
        forms = list(forms)
        self._add(-name, *forms)
        for var in forms:
            self._add(-var, name)

    def _at_most_one(self, variables: list[int]) -> None:
        if len(variables) <= 5:
            for a, b in combinations(variables, 2):
                self._add(-a, -b)
            return
        half = len(variables) // 2
        left = self._new()
        for var in variables[:half]:
            self._add(-var, left)
        for var in variables[half:]:
            self._add(-var, -left)
        self._at_most_one(variables[:half])
        self._at_most_one(variables[half:])

    def _ends(self, places: Mapping[str, Place]) -> None:
        through = self.through
        for number in range(len(self.labels.latches)):
            wheres = self.flips.of.get(number, [])
            self._add(*wheres)
            self._at_most_one(wheres)
        for number, name in enumerate(self.inputs):
            if through is not None and number == through.comes:
                for levers in self.lever.values():
                    self._add(-levers[number])
                continue
            self._one_at({cell: levers[number] for cell, levers in self.lever.items()}, places.get(name))
        for name in self.labels.output:
            if through is not None and name == through.leaves:
                for lamps in self.lamp.values():
                    self._add(-lamps[name])
                continue
            self._one_at({cell: lamps[name] for cell, lamps in self.lamp.items()}, places.get(name))

    def _run_through(self, through: Through) -> None:
        """The wires at the west and the east end, and nothing else in their columns."""
        for x, label in (
            (0, self.labels.lever[through.comes]),
            (self.size[0] - 1, self.labels.output[through.leaves]),
        ):
            end = (x, through.row, through.height)
            support = beside(end, "down")
            self._add(self.wire[end][label])
            self._add(self.block[support][label])
            if x == 0:
                self._outer[end] = self._new()
                self._add(self._outer[end])
            for cell in self.cells:
                if cell[0] == x and cell not in (end, support):
                    for forms in (self.block, self.wire, self.torch, self.lever, self.lamp):
                        for var in forms.get(cell, {}).values():
                            self._add(-var)

    def _one_at(self, everywhere: Mapping[Cell, int], place: Place | None) -> None:
        """Exactly one of these holds, in a cell of that place."""
        there = [var for cell, var in everywhere.items() if self._on(cell, place)]
        self._add(*there)
        self._at_most_one(there)
        for var in set(everywhere.values()) - set(there):
            self._add(-var)

    def _on(self, cell: Cell, place: Place | None) -> bool:
        """Whether the cell is that one, or on that side; without a place, on any side or on top."""
        if isinstance(place, tuple):
            return cell == place
        x, y, z = self.size
        borders = {"west": cell[0] == 0, "east": cell[0] == x - 1, "north": cell[1] == 0, "south": cell[1] == y - 1}
        return borders[place] if place is not None else any(borders.values()) or cell[2] == z - 1

    # --- what gives to what ---

    def _touching(self) -> None:
        """Variables for what a torch gives to its sides, what a lever is fixed to, and what a torch powers above it."""
        self.gives: dict[tuple[Cell, str], dict[int, int]] = {}  # a torch in the cell, by its block's label, to a side
        self.fixes: dict[tuple[Cell, str], dict[int, int]] = {}  # a lever in the cell, by input, fixed to that side
        self.lifts: dict[Cell, dict[int, int]] = {}  # the cell conducts, a torch below it, by its block's label
        self.fronts: dict[Cell, dict[int, int]] = {}  # a slave gives to the cell, by the flip-flop's number
        self.meets: dict[Cell, dict[int, int]] = {}  # the cell conducts, a slave gives to it
        for cell in self.cells:
            for side in DIRECTIONS:
                if beside(cell, side) not in self.inside:
                    continue
                away = self.facing[cell].get(side)
                if away is None:
                    self.gives[cell, side] = self.torch[cell]
                    continue
                self.gives[cell, side] = {g: self._both(var, -away) for g, var in self.torch[cell].items()}
                self.fixes[cell, side] = {i: self._both(var, away) for i, var in self.lever[cell].items()}
            if cell in self.flips.fronts:
                given = self.fronts[cell] = self._fresh(self.flips.fronts[cell])
                for number, var in given.items():
                    self._any(var, self.flips.fronts[cell][number])
                self.meets[cell] = {number: self._both(var, self.conducts[cell]) for number, var in given.items()}
            above = beside(cell, "up")
            if above in self.inside:
                self.lifts[above] = {g: self._both(v, self.conducts[above]) for g, v in self.torch[cell].items()}

        self.strong = {cell: self._merged(self._strong(cell)) for cell in self.cells}  # what powers it strongly
        self.given = {cell: self._merged(self._given(cell)) for cell in self.cells}  # what beside it gives to it
        self.heard = {cell: self._merged(self._heard(cell)) for cell in self.wire}  # what a wire there hears itself

    def _merged(self, pairs: Iterable[tuple[Source, int]]) -> dict[Source, int]:
        """For each source a variable that holds exactly if one of those that go with it does."""
        ways: dict[Source, list[int]] = {}
        for source, var in pairs:
            ways.setdefault(source, []).append(var)
        merged = {}
        for source, several in ways.items():
            merged[source] = several[0] if len(several) == 1 else self._new()
            if len(several) > 1:
                self._any(merged[source], several)
        return merged

    def _heard(self, cell: Cell) -> Iterator[tuple[Source, int]]:
        yield from self.given[cell].items()
        for side in DIRECTIONS:
            yield from self.strong.get(beside(cell, side), {}).items()

    def _strong(self, cell: Cell) -> Iterator[tuple[Source, int]]:
        """(source, variable) of each torch, lever and flip-flop that powers the conducting cell strongly."""
        for number, var in self.meets.get(cell, {}).items():
            yield ("latch", number), var
        for g, var in self.lifts.get(cell, {}).items():
            yield ("torch", g), var
        for side in DIRECTIONS:
            for i, var in self.fixes.get((beside(cell, side), OPPOSITE[side]), {}).items():
                yield ("lever", i), var

    def _given(self, cell: Cell) -> Iterator[tuple[Source, int]]:
        """(source, variable) of each torch, lever and flip-flop beside the cell that gives to it."""
        for number, var in self.fronts.get(cell, {}).items():
            yield ("latch", number), var
        for side in DIRECTIONS:
            there = beside(cell, side)
            if there in self.inside:
                for g, var in self.gives[there, OPPOSITE[side]].items():
                    yield ("torch", g), var
                for i, var in self.lever[there].items():
                    yield ("lever", i), var

    def _own(self, source: Source) -> int:
        kind, number = source
        if kind == "latch":
            return self.labels.latches[number].own
        return self.labels.lever[number] if kind == "lever" else self.labels.torch[number]

    # --- soundness: what touches must be allowed to ---

    def _sound(self, cell: Cell) -> None:
        may, n = self.labels.may, len(self.labels.table)
        wires = self.wire.get(cell, {})
        lamps = {self.labels.output[name]: var for name, var in self.lamp[cell].items()}
        blocks = {label: var for label, var in self.block[cell].items() if label < n}
        for source, var in self.heard.get(cell, {}).items():
            self._forbid(var, self._own(source), wires)
        for source, var in self.given[cell].items():
            self._forbid(var, self._own(source), lamps)
        for source, var in self.strong[cell].items():
            self._forbid(var, self._own(source), blocks, lamps)
        powered = self._fresh(range(n))  # what wires on top or pointing at it give to it
        for label, var in powered.items():
            self._forbid(var, label, blocks, lamps)
        for side in DIRECTIONS:
            there = beside(cell, side)
            if there not in self.inside:
                continue
            for label, var in self.block[there].items():
                self._forbid(var, label, lamps)
            for var in self.lamp[there].values():
                for lamp in lamps.values():
                    self._add(-var, -lamp)
            if side != "down" and there in self.wire:
                self._pointing(there, OPPOSITE[side], powered)
        for g, torch in self.torch[cell].items():
            for side, away in self.facing[cell].items():
                self._add(-torch, -away, self.block[beside(cell, side)][g])
        for side, away in self.facing[cell].items():
            there = beside(cell, side)
            self._add(-away, self.is_block[there])
            for i, var in self.fixes.get((cell, side), {}).items():
                for label, block in self.block[there].items():
                    if label < n and not may[self.labels.lever[i]][label]:
                        self._add(-var, -block)

    def _pointing(self, cell: Cell, side: str, powered: Mapping[int, int]) -> None:
        """A wire in the cell may power what is at that side, or below, unless it surely points elsewhere."""
        flanks = [beside(cell, across) for across in FLANKS.get(side, ())]
        joins = [self.joins[flank] for flank in flanks if flank in self.inside]
        elsewhere = []
        if joins:
            away = self._new()  # it surely points along the other axis only
            elsewhere.append(away)
            self._add(-away, *joins)
            above = beside(beside(cell, side), "up")
            if above in self.is_wire:
                self._add(-away, -self.is_wire[above])
        for label, var in self.wire[cell].items():
            self._add(-var, *elsewhere, powered[label])

    def _forbid(self, var: int, label: int, *hearers: Mapping[int, int]) -> None:
        """What holds `var` has that label: it goes with no hearer that it may not touch."""
        may, n = self.labels.may, len(self.labels.table)
        for heard in hearers:
            for own, hearer in heard.items():
                if label == n or not may[label][own]:
                    self._add(-var, -hearer)

    def _connections(self) -> None:
        """Wires that join: a variable for each two cells in which they may, and the same label in both."""
        self.joined: dict[Cell, dict[Cell, int]] = {cell: {} for cell in self.wire}
        for cell in self.wire:
            for dx, dy, dz in CLIMBS:
                there = (cell[0] + dx, cell[1] + dy, cell[2] + dz)
                if there not in self.wire or dz < 0 or (dz == 0 and there < cell):
                    continue
                cut = [self.conducts[beside(cell, "up")]] if dz else []
                for label in self.wire[cell]:
                    a, b = self.wire[cell][label], self.wire[there][label]
                    self._add(-a, -self.is_wire[there], b, *cut)
                    self._add(-b, -self.is_wire[cell], a, *cut)
                var = self._both(self.is_wire[cell], self.is_wire[there], *(-one for one in cut))
                self.joined[cell][there] = self.joined[there][cell] = var

    # --- completeness: what is needed is there ---

    def _complete(self) -> None:
        needs = self.labels.needs
        wanted = {need.sources for label in needs for need in label}
        reached = {sources: self._reached(sources) for sources in sorted(wanted, key=sorted)}
        for cell, wires in self.wire.items():
            for label, var in wires.items():
                for need in needs[label]:
                    self._add(-var, reached[need.sources][cell])
        self.complete: dict[Cell, dict[int, int]] = {}  # a block that hears all that its label needs
        for cell in self.cells:
            complete = self.complete[cell] = self._fresh(self.labels.torch)
            for label, used in complete.items():
                self._add(-used, self.block[cell][label])
                for need in needs[label]:
                    self._add(-used, *self._provided(cell, need))
            for side in DIRECTIONS:
                there, back = beside(cell, side), OPPOSITE[side]
                if there in self.inside and back in self.facing[there]:
                    for label, torch in self.torch[there].items():
                        self._add(-torch, -self.facing[there][back], complete[label])
            for name, var in self.lamp[cell].items():
                for need in needs[self.labels.output[name]]:
                    given = [given for source, given in self.given[cell].items() if source in need.sources]
                    self._add(-var, *given, *self._provided(cell, need))

    def _clocked(self) -> None:
        """Behind a flip-flop's master and locks are its data and clock; its slave gives to no repeater else."""
        latches = self.labels.latches
        for (number, where), var in self.flips.var.items():
            own = latches[number]
            data, lock, hold = where.heard
            before = self.flips.slaves.get((data, where.facing), {})
            shifted = [one for other, ones in before.items() if latches[other].own == own.data for one in ones]
            self._add(-var, *self._is(data, own.data), *shifted)
            self._add(-var, *self._is(lock, own.lock))
            self._add(-var, *self._is(hold, own.hold))
            if where.front in self.repeater:
                after = self.flips.masters.get((where.front, where.facing), {})
                fed = [one for other, ones in after.items() if latches[other].data == own.own for one in ones]
                self._add(-var, -self.repeater[where.front], *fed)

    def _is(self, cell: Cell, label: int) -> list[int]:
        """Ways that a repeater hears a signal from the cell behind it: from a wire, a block, a torch or a lever."""
        ways = [self.wire[cell][label]] if cell in self.wire else []
        ways += [var for block, var in self.torch[cell].items() if self.labels.torch[block] == label]
        ways += [var for number, var in self.lever[cell].items() if self.labels.lever[number] == label]
        return [*ways, self.complete[cell][label]] if label in self.complete[cell] else ways

    def _reached(self, sources: frozenset[Source]) -> dict[Cell, int]:
        """Variables that hold only if a wire in the cell hears one of the sources, at most `HOPS` wires away."""
        found = {cell: self._hears(cell, sources) for cell in self.wire}
        for _ in range(HOPS):
            before, found = found, self._fresh(self.wire)
            for cell, var in found.items():
                ways = [before[cell]]
                for there, joined in self.joined[cell].items():
                    way = self._new()
                    self._add(-way, joined)
                    self._add(-way, before[there])
                    ways.append(way)
                self._add(-var, *ways)
        return found

    def _hears(self, cell: Cell, sources: frozenset[Source]) -> int:
        """A variable that holds only if a wire in the cell hears one of the sources itself."""
        var = self._new()
        ways = [heard for source, heard in self.heard[cell].items() if source in sources]
        if cell in self._outer and self.through is not None and ("lever", self.through.comes) in sources:
            ways.append(self._outer[cell])
        self._add(-var, *ways)
        return var

    def _provided(self, cell: Cell, need: Need) -> list[int]:
        """Ways that a block or lamp hears what is needed: strong power, a wire on top or pointing at it."""
        ways = [strong for source, strong in self.strong[cell].items() if source in need.sources]
        above = beside(cell, "up")
        if above in self.wire:
            ways += [self.wire[above][label] for label in sorted(need.labels)]
        for side in HORIZONTAL:
            there = beside(cell, side)
            if there in self.wire:
                ways.append(self._points(there, OPPOSITE[side], need.labels))
        return ways

    def _points(self, cell: Cell, side: str, labels: frozenset[int]) -> int:
        """A variable that holds only if a wire with one of these labels is in the cell and surely points that way."""
        key = (cell, side, labels)
        if key not in self._carried:
            var = self._carried[key] = self._new()
            self._add(-var, *(self.wire[cell][label] for label in sorted(labels)))
            if (cell, side) not in self._pointed:
                sure = self._pointed[cell, side] = self._new()
                for across in FLANKS[side]:
                    for rise in (0, 1, -1):
                        x, y, z = beside(cell, across)
                        joins = self.is_wire if rise else self.joins
                        if (x, y, z + rise) in joins:
                            self._add(-sure, -joins[x, y, z + rise])
                    if beside(cell, across) in self.repeater:
                        self._add(-sure, -self.repeater[beside(cell, across)])
                if self.straight:
                    behind = beside(cell, OPPOSITE[side])
                    self._add(-sure, *([self.joins[behind]] if behind in self.inside else []))
            self._add(-var, self._pointed[cell, side])
        return self._carried[key]

    # --- a model read back ---

    def layout(self, model: Sequence[int]) -> Found:
        """The layout that a model says."""
        true = {var for var in model if var > 0}
        flips = {number: where for (number, where), var in self.flips.var.items() if var in true}
        cells: dict[Cell, Part] = {cell: part for where in flips.values() for cell, part in where.parts().items()}
        levers: dict[int, Cell] = {}
        lamps: dict[str, Cell] = {}
        for cell in self.cells:
            side = next((side for side, var in self.facing[cell].items() if var in true), None)
            if self.is_block[cell] in true:
                cells[cell] = Part(BLOCK)
            elif self.is_wire.get(cell) in true:
                cells[cell] = Part(WIRE)
            elif true.intersection(self.torch[cell].values()):
                cells[cell] = Part(TORCH, side)
            for number, var in self.lever[cell].items():
                if var in true:
                    cells[cell], levers[number] = Part(LEVER, side), cell
            for name, var in self.lamp[cell].items():
                if var in true:
                    cells[cell], lamps[name] = Part(LAMP), cell
        return Found(cells, levers, lamps, flips)
