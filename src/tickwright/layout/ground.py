"""The ground that nets are routed through: what the tiles forbid, what nets have claimed so far, and who claims it.

Cells are numbers here, (z · deep + y) · wide + x; lists by cell number hold what the router asks in its inner loop.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from tickwright.layout.contacts import CLIMBS, Contacts, laid_contacts
from tickwright.layout.model import Instance
from tickwright.space import Cell

FREE, CLOSED = 0, -1


@dataclass(slots=True)
class Claim:
    """What one net takes: its wires, its repeaters (and where each faces), and the air that its climbs need."""

    wires: set[int] = field(default_factory=set)
    repeaters: dict[int, str] = field(default_factory=dict)
    airs: set[int] = field(default_factory=set)


class Ground:
    """Static obstacles and the claims of all nets, in a room of `size` cells.

    `wire[cell]`: FREE, CLOSED, or the number of the only net whose wire may be there; `block[cell]` likewise for what
    conducts (the supports of wires); `cuts[cell]`: something conducting stands there for good.
    `load[cell]`: how many claims a wire there would conflict with; `taken`, `airs`, `supports`: how many take the cell,
    need it as the air of a climb, or have a support there.
    """

    def __init__(self, size: Cell, blocked: Iterable[Cell] = ()) -> None:
        self.size = size
        wide, deep, high = size
        self.row, self.layer = wide, wide * deep
        n = self.n = wide * deep * high
        self.wire, self.block = [FREE] * n, [FREE] * n
        self.cuts = [False] * n
        self.load, self.taken, self.airs, self.supports = ([0] * (n + self.layer) for _ in range(4))
        self.history = [0.0] * n
        self.x = [i % wide for i in range(n)]
        self.y = [i // wide % deep for i in range(n)]
        self.z = [i // self.layer for i in range(n)]
        self._steps: list[tuple[tuple[int, int], ...] | None] = [None] * n
        self._jumps: list[tuple[tuple[int, int, str], ...] | None] = [None] * n
        self._twelve: list[tuple[int, ...] | None] = [None] * n
        for i in range(self.layer):
            self.wire[i] = CLOSED
        for cell in blocked:
            if self.inside(cell):
                self.wire[self.number(cell)] = self.block[self.number(cell)] = CLOSED
                self.cuts[self.number(cell)] = True

    def inside(self, cell: Cell) -> bool:
        """Whether the cell lies in the room."""
        return all(0 <= here < most for here, most in zip(cell, self.size, strict=True))

    def number(self, cell: Cell) -> int:
        """The number of a cell in the room."""
        return (cell[2] * self.size[1] + cell[1]) * self.row + cell[0]

    def cell(self, number: int) -> Cell:
        """The cell of a number."""
        return (self.x[number], self.y[number], self.z[number])

    # --- tiles ------------------------------------------------------------------------------------------------------

    def lay(self, instances: Iterable[Instance], net_of: Mapping[tuple[str, str], int]) -> None:
        """Mark what instances take and forbid; `net_of` gives the number of the net at (instance, port)."""
        laid = [(instance.name, laid_contacts(instance)) for instance in instances]
        for _, found in laid:
            for cell in found.no_wire:
                self._close(self.wire, cell)
            for cell in found.no_block:
                self._close(self.block, cell)
        self._open(laid, net_of)
        for _, found in laid:
            for cell in found.body:
                self._close(self.wire, cell)
                self._close(self.block, cell)
            for cell in found.conducting:
                if self.inside(cell):
                    self.cuts[self.number(cell)] = True

    def _open(self, laid: list[tuple[str, Contacts]], net_of: Mapping[tuple[str, str], int]) -> None:
        """Open the cells at ports to their nets, where nothing of another tile forbids it."""
        forbidden: dict[int, set[str]] = {}
        owners: dict[int, set[str]] = {}
        open_to: dict[int, int] = {}
        for name, found in laid:
            for cell in filter(self.inside, found.no_wire):
                forbidden.setdefault(self.number(cell), set()).add(name)
            for cell, port in found.access.items():
                if self.inside(cell):
                    number = self.number(cell)
                    net = net_of.get((name, port), CLOSED) if port is not None else CLOSED
                    open_to[number] = net if open_to.get(number, net) == net else CLOSED
                    owners.setdefault(number, set()).add(name)
        for number, net in open_to.items():
            alone = forbidden.get(number, set()) <= owners[number]
            self.wire[number] = net if alone else CLOSED
            if number >= self.layer and self.block[number - self.layer] == CLOSED and alone:
                self.block[number - self.layer] = net

    def _close(self, layer: list[int], cell: Cell) -> None:
        if self.inside(cell):
            layer[self.number(cell)] = CLOSED

    # --- ways -------------------------------------------------------------------------------------------------------

    def steps(self, here: int) -> tuple[tuple[int, int], ...]:
        """(cell, air) of each wire that may follow the wire here; the air of a climb must not conduct, -1 if flat."""
        found = self._steps[here]
        if found is None:
            x, y, z = self.x[here], self.y[here], self.z[here]
            ways = []
            for dx, dy, dz in CLIMBS:
                there = (x + dx, y + dy, z + dz)
                if not self.inside(there):
                    continue
                number = self.number(there)
                if number < self.layer or self.wire[number] == CLOSED or self.block[number - self.layer] == CLOSED:
                    continue
                air = -1 if dz == 0 else here + self.layer if dz == 1 else number + self.layer
                if air >= 0 and self.cuts[air]:
                    continue
                ways.append((number, air))
            found = self._steps[here] = tuple(ways)
        return found

    def jumps(self, here: int) -> tuple[tuple[int, int, str], ...]:
        """(repeater, wire behind its front, direction) of each repeater that may follow the wire here."""
        found = self._jumps[here]
        if found is None:
            x, y, z = self.x[here], self.y[here], self.z[here]
            ways = []
            for dx, dy, name in ((0, -1, "north"), (0, 1, "south"), (1, 0, "east"), (-1, 0, "west")):
                there = (x + 2 * dx, y + 2 * dy, z)
                if not self.inside(there):
                    continue
                middle, goal = self.number((x + dx, y + dy, z)), self.number(there)
                if self.wire[middle] != FREE or self.block[middle - self.layer] == CLOSED:
                    continue
                if self.wire[goal] != CLOSED and self.block[goal - self.layer] != CLOSED:
                    ways.append((middle, goal, name))
            found = self._jumps[here] = tuple(ways)
        return found

    def twelve(self, here: int) -> tuple[int, ...]:
        """The cells in which a wire would join the wire here."""
        found = self._twelve[here]
        if found is None:
            x, y, z = self.x[here], self.y[here], self.z[here]
            near = [(x + dx, y + dy, z + dz) for dx, dy, dz in CLIMBS]
            found = self._twelve[here] = tuple(self.number(cell) for cell in near if self.inside(cell))
        return found

    # --- claims -----------------------------------------------------------------------------------------------------

    def claim(self, claim: Claim, sign: int) -> None:
        """Add the claims of a net (`sign` 1), or take them back (-1)."""
        load, taken, airs, supports, layer = self.load, self.taken, self.airs, self.supports, self.layer
        for here in claim.wires:
            for near in self.twelve(here):
                load[near] += sign
        for here in (*claim.wires, *claim.repeaters):
            under = here - layer
            load[here] += sign
            load[here + layer] += sign
            load[under] += sign
            taken[here] += sign
            taken[under] += sign
            supports[under] += sign
        for here in claim.airs:
            load[here + layer] += sign
            airs[here] += sign

    def conflicts(self, claim: Claim) -> list[int]:
        """The cells of a net, itself not claimed now, where it conflicts with claims of others."""
        layer = self.layer
        bad = [here for here in claim.wires if self.load[here]]
        bad += [
            here for here in claim.repeaters if self.taken[here] or self.taken[here - layer] or self.airs[here - layer]
        ]
        bad += [here for here in claim.airs if self.supports[here]]
        return bad
