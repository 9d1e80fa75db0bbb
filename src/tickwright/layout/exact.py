"""Exact layout: all cells of a box, all labels of a netlist, and the rules of wires and power as clauses for SAT.

What a cell may hold: a block, a wire, a torch, an input's lever, an output's lamp. What is unsound is forbidden rather
too often than too seldom (a wire is taken to point at every block beside it); what is needed is asked for in ways that
are sure (on top, or pointing with nothing joined across). An answer is judged like any other layout afterwards; "no
layout" holds for these labels, these parts and so many hops only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from tickwright.kinds import Part
from tickwright.layout.contacts import CLIMBS
from tickwright.layout.labels import Labels, Source
from tickwright.space import DIRECTIONS, FLANKS, HORIZONTAL, OPPOSITE, Cell, beside

HOPS = 3
TORCH_SIDES = ("down", *HORIZONTAL)
BLOCK, WIRE, TORCH, LEVER, LAMP = "block", "wire", "torch", "lever", "lamp"


class Encoding:
    """The clauses of one box; `plan_cells` reads a model back. `sides` gives inputs and outputs a side of the box."""

    def __init__(
        self, labels: Labels, inputs: Sequence[str], size: Cell, sides: Mapping[str, str] | None = None
    ) -> None:
        self.labels, self.inputs, self.size = labels, inputs, size
        self.clauses: list[list[int]] = []
        self.count = 0
        x, y, z = size
        self.cells = [(a, b, c) for c in range(z) for b in range(y) for a in range(x)]
        n = len(labels.table)
        self.block = {cell: [self._new() for _ in range(n + 1)] for cell in self.cells}  # label n: never powered
        self.wire = {cell: [self._new() for _ in range(n)] for cell in self.cells}
        self.torch = {
            (cell, side): {label: self._new() for label in labels.torch}  # the label of its block
            for cell in self.cells
            for side in TORCH_SIDES
            if beside(cell, side) in self.block
        }
        self.lever = {
            (cell, side): [self._new() for _ in labels.lever]
            for cell in self.cells
            for side in TORCH_SIDES
            if beside(cell, side) in self.block
        }
        self.lamp = {cell: {name: self._new() for name in labels.output} for cell in self.cells}
        self.is_block, self.is_wire, self.conducts, self.joins = (
            {c: self._new() for c in self.cells} for _ in range(4)
        )
        self.reach: dict[tuple[Cell, Source, int], int] = {}
        self._kinds()
        self._ends(sides or {})
        for cell in self.cells:
            self._sound(cell)
        for cell in self.cells:
            self._complete(cell)

    def _new(self) -> int:
        self.count += 1
        return self.count

    def _add(self, *clause: int) -> None:
        self.clauses.append(list(clause))

    # --- one thing in each cell, what it stands on, each input and output once ---

    def _forms(self, cell: Cell) -> Iterator[int]:
        yield from self.block[cell]
        yield from self.wire[cell]
        for side in TORCH_SIDES:
            yield from self.torch.get((cell, side), {}).values()
            yield from self.lever.get((cell, side), ())
        yield from self.lamp[cell].values()

    def _kinds(self) -> None:
        for cell in self.cells:
            forms = list(self._forms(cell))
            self._at_most_one(forms)
            lamps = list(self.lamp[cell].values())
            self._any(self.is_block[cell], self.block[cell])
            self._any(self.is_wire[cell], self.wire[cell])
            self._any(self.conducts[cell], [*self.block[cell], *lamps])
            round_it = [*self.wire[cell]]
            for side in TORCH_SIDES:
                round_it += [*self.torch.get((cell, side), {}).values(), *self.lever.get((cell, side), ())]
            self._any(self.joins[cell], round_it)
            below = beside(cell, "down")
            for var in self.wire[cell]:
                self._add(-var, self.conducts[below]) if below in self.conducts else self._add(-var)
            for side in TORCH_SIDES:
                there = beside(cell, side)
                for label, var in self.torch.get((cell, side), {}).items():
                    self._add(-var, self.block[there][label])
                for number, var in enumerate(self.lever.get((cell, side), ())):
                    self._add(-var, self.is_block[there])
                    own = self.labels.lever[number]
                    for label, block in enumerate(self.block[there]):
                        if label == len(self.labels.table) or not self.labels.may[own][label]:
                            self._add(-var, -block)

    def _any(self, name: int, forms: list[int]) -> None:
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

    def _ends(self, sides: Mapping[str, str]) -> None:
        for number, name in enumerate(self.inputs):
            places = [levers[number] for (c, _), levers in self.lever.items() if self._on(c, sides.get(name))]
            self._exactly_one(places, [levers[number] for levers in self.lever.values()])
        for name in self.labels.output:
            places = [self.lamp[cell][name] for cell in self.cells if self._on(cell, sides.get(name))]
            self._exactly_one(places, [lamps[name] for lamps in self.lamp.values()])

    def _on(self, cell: Cell, side: str | None) -> bool:
        x, y, _ = self.size
        borders = {"west": cell[0] == 0, "east": cell[0] == x - 1, "north": cell[1] == 0, "south": cell[1] == y - 1}
        return side is None or borders[side]

    def _exactly_one(self, places: list[int], everywhere: list[int]) -> None:
        self._add(*places)
        self._at_most_one(everywhere)
        for var in set(everywhere) - set(places):
            self._add(-var)

    # --- soundness: what touches must be allowed to ---

    def _givers(self, cell: Cell, side: str) -> Iterator[tuple[int, int]]:
        """(variable, label) of each torch or lever in `cell` that gives to the cell at its `side`."""
        for facing in TORCH_SIDES:
            if facing != side:
                for label, var in self.torch.get((cell, facing), {}).items():
                    yield var, self.labels.torch[label]
            for number, var in enumerate(self.lever.get((cell, facing), ())):
                yield var, self.labels.lever[number]

    def _strong(self, cell: Cell) -> Iterator[tuple[int, int]]:
        """(variable, label) of each torch or lever that powers the conducting cell strongly."""
        for facing in TORCH_SIDES:
            for label, var in self.torch.get((beside(cell, "down"), facing), {}).items():
                yield var, self.labels.torch[label]
        for side in DIRECTIONS:
            for number, var in enumerate(self.lever.get((beside(cell, side), OPPOSITE[side]), ())):
                yield var, self.labels.lever[number]

    def _sound(self, cell: Cell) -> None:
        may, n = self.labels.may, len(self.labels.table)
        above = beside(cell, "up")
        hearers = list(enumerate(self.wire[cell]))
        lamps = [(self.labels.output[name], var) for name, var in self.lamp[cell].items()]
        blocks = list(enumerate(self.block[cell]))
        for side in DIRECTIONS:
            there = beside(cell, side)
            if there not in self.block:
                continue
            for var, own in self._givers(there, OPPOSITE[side]):
                for label, hearer in (*hearers, *lamps):
                    if not may[own][label]:
                        self._add(-var, -hearer)
            for var, own in self._strong(there):
                for label, hearer in hearers:
                    if not may[own][label]:
                        self._add(-var, -self.conducts[there], -hearer)
            for own, var in enumerate(self.block[there][:n]):
                for label, hearer in lamps:
                    if not may[own][label]:
                        self._add(-var, -hearer)
            for var in self.lamp[there].values():
                for _, hearer in lamps:
                    self._add(-var, -hearer)
            if side in (*HORIZONTAL, "up"):  # wires beside or on top
                for own, var in enumerate(self.wire[there]):
                    for label, hearer in (*blocks, *lamps):
                        if label == n or not may[own][label]:
                            self._add(-var, -hearer)
        for var, own in self._strong(cell):
            for label, hearer in blocks:
                if label == n or not may[own][label]:
                    self._add(-var, -hearer)
            for label, hearer in lamps:
                if not may[own][label]:
                    self._add(-var, -hearer)
        for dx, dy, dz in CLIMBS:
            there = (cell[0] + dx, cell[1] + dy, cell[2] + dz)
            if there not in self.block or dz < 0:
                continue
            cut = [self.conducts[above]] if dz == 1 else []
            for one in range(n):
                for other in range(n):
                    if one != other:
                        self._add(-self.wire[cell][one], -self.wire[there][other], *cut)

    # --- completeness: what is needed is there ---

    def _complete(self, cell: Cell) -> None:
        labels = self.labels
        for label, var in enumerate(self.wire[cell]):
            for source in labels.sources[label]:
                self._add(-var, *(self._reach(cell, source, hops) for hops in range(HOPS + 1)))
        powered = {label: self.block[cell][label] for label in labels.torch}
        for label, var in powered.items():
            heard = [self.torch[beside(cell, side), OPPOSITE[side]][label] for side in ("up", *HORIZONTAL)
                     if (beside(cell, side), OPPOSITE[side]) in self.torch]  # fmt: skip
            used = self._new()
            for torch in heard:
                self._add(-torch, used)
            for source in labels.sources[label]:
                self._add(-used, -var, *self._provided(cell, source, [], label))
        for name, var in self.lamp[cell].items():
            for source in labels.sources[labels.output[name]]:
                self._add(-var, *self._provided(cell, source, self._direct(cell, source), labels.output[name]))

    def _is(self, source: Source) -> int:
        kind, number = source
        return self.labels.lever[number] if kind == "lever" else self.labels.torch[number]

    def _variables(self, source: Source, cell: Cell, facing: str) -> list[int]:
        kind, number = source
        if kind == "lever":
            levers = self.lever.get((cell, facing))
            return [levers[number]] if levers else []
        torches = self.torch.get((cell, facing))
        return [torches[number]] if torches else []

    def _direct(self, cell: Cell, source: Source) -> list[int]:
        """That source beside the cell, giving to it."""
        found = []
        for side in DIRECTIONS:
            for facing in TORCH_SIDES:
                if source[0] == "lever" or facing != OPPOSITE[side]:
                    found += self._variables(source, beside(cell, side), facing)
        return found

    def _strongly(self, cell: Cell, source: Source) -> list[int]:
        """That source powering the cell, if it conducts, strongly."""
        if source[0] == "torch":
            return [var for facing in TORCH_SIDES for var in self._variables(source, beside(cell, "down"), facing)]
        return [var for side in DIRECTIONS for var in self._variables(source, beside(cell, side), OPPOSITE[side])]

    def _provided(self, cell: Cell, source: Source, found: list[int], within: int) -> list[int]:
        """Ways that a block or lamp hears a source: what is given, strong power, a wire on top or pointing at it."""
        ways = [*found, *self._strongly(cell, source)]
        carrying = [
            label for label, sources in enumerate(self.labels.sources)
            if source in sources and self.labels.may[label][within]
        ]  # fmt: skip
        above = beside(cell, "up")
        if above in self.wire:
            ways += [self.wire[above][label] for label in carrying]
        for side in HORIZONTAL:
            there = beside(cell, side)
            if there not in self.wire:
                continue
            points = self._new()
            self._add(-points, *(self.wire[there][label] for label in carrying))
            for across in FLANKS[side]:
                x, y, z = beside(there, across)
                for joined in ((x, y, z), (x, y, z + 1), (x, y, z - 1)):
                    if joined in self.joins:
                        self._add(-points, -(self.joins if joined[2] == z else self.is_wire)[joined])
            ways.append(points)
        return ways

    def _reach(self, cell: Cell, source: Source, hops: int) -> int:
        """A variable that holds only if the wire in the cell hears the source over so many other wires."""
        key = (cell, source, hops)
        if key in self.reach:
            return self.reach[key]
        var = self.reach[key] = self._new()
        ways: list[int] = []
        if hops == 0:
            ways += self._direct(cell, source)
            for side in DIRECTIONS:
                there = beside(cell, side)
                if there in self.conducts:
                    for strong in self._strongly(there, source):
                        both = self._new()
                        self._add(-both, strong)
                        self._add(-both, self.conducts[there])
                        ways.append(both)
        else:
            for dx, dy, dz in CLIMBS:
                there = (cell[0] + dx, cell[1] + dy, cell[2] + dz)
                if there not in self.wire:
                    continue
                step = self._new()
                self._add(-step, self.is_wire[there])
                self._add(-step, self._reach(there, source, hops - 1))
                if dz:
                    roof = beside(cell if dz == 1 else there, "up")
                    self._add(-step, -self.conducts[roof])
                ways.append(step)
        self._add(-var, *ways)
        return var

    # --- a model read back ---

    def plan_cells(self, model: list[int]) -> tuple[dict[Cell, Part], dict[int, Cell], dict[str, Cell]]:
        """The parts of a model, the cell of each input's lever, and the cell of each output's lamp."""
        true = {var for var in model if var > 0}
        cells: dict[Cell, Part] = {}
        levers: dict[int, Cell] = {}
        lamps: dict[str, Cell] = {}
        for cell in self.cells:
            if true.intersection(self.block[cell]):
                cells[cell] = Part(BLOCK)
            elif true.intersection(self.wire[cell]):
                cells[cell] = Part(WIRE)
            for name, var in self.lamp[cell].items():
                if var in true:
                    cells[cell], lamps[name] = Part(LAMP), cell
        for (cell, side), torches in self.torch.items():
            if true.intersection(torches.values()):
                cells[cell] = Part(TORCH, side)
        for (cell, side), own in self.lever.items():
            for number, var in enumerate(own):
                if var in true:
                    cells[cell], levers[number] = Part(LEVER, side), cell
        return cells, levers, lamps
