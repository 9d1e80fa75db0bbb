"""Where something beside a tile would matter to it: cells where a wire, or a conducting cell, touches what it does.

Rather too many cells than too few: the acceptance afterwards goes by the rules themselves.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from tickwright.kinds import PARTS, PISTONS, PLATES, Part, kinds_with
from tickwright.layout.model import Instance, Tile
from tickwright.rules import load_rules
from tickwright.space import DIRECTIONS, FLANKS, HORIZONTAL, OPPOSITE, Cell, beside, taxicab_ball

FRONTED = tuple(kind.name for kind in PARTS.values() if kind.gives == "front")
ROUND = tuple(kind.name for kind in PARTS.values() if kind.gives == "around")
HEARS_ROUND = tuple(kind.name for kind in PARTS.values() if kind.hears in ("around", "not-face") or kind.slots)
FIXED = kinds_with("lever", "button")
CONDUCTING = frozenset(kind for kind, conducts in load_rules().conducts.items() if conducts)
CLIMBS = tuple((dx, dy, dz) for dz in (0, 1, -1) for dx, dy in ((0, -1), (0, 1), (1, 0), (-1, 0)))


class Contacts(NamedTuple):
    """Cells around a tile: no wire, no conducting cell there; and for each access cell, its port (None if of several).

    `body` is what it takes itself, `conducting` what of that cuts the climbs of wires below.
    """

    body: frozenset[Cell]
    conducting: frozenset[Cell]
    no_wire: frozenset[Cell]
    no_block: frozenset[Cell]
    access: dict[Cell, str | None]


def twelve(cell: Cell) -> list[Cell]:
    """The twelve cells in which a wire may join the wire in `cell`: beside it, and one up or down from there."""
    x, y, z = cell
    return [(x + dx, y + dy, z + dz) for dx, dy, dz in CLIMBS]


@lru_cache(maxsize=1024)
def contacts(tile: Tile) -> Contacts:
    """The contacts of a tile, in its own coordinates."""
    cells = tile.plan.cells
    no_wire: set[Cell] = set()
    no_block: set[Cell] = set()
    strong, heard = _powered(cells.items(), dict(cells))
    for cell, part in cells.items():
        no_wire.update(_wires_that_matter(cell, part))
        no_block.update(_blocks_that_matter(cell, part))
        if part.behaviour == "wire":
            no_block.update(
                beside(cell, "up")
                for side in HORIZONTAL
                if (above := cells.get(beside(beside(cell, side), "up"))) and above.behaviour == "wire"
            )
    for cell in strong:
        no_wire.update(beside(cell, side) for side in DIRECTIONS)
    for cell in heard:
        no_wire.update(beside(cell, side) for side in (*HORIZONTAL, "up"))
    body = frozenset((*cells, *tile.keep_outs))
    access: dict[Cell, str | None] = {}
    for name, port in tile.ports.items():
        for cell in port.access:
            access[cell] = None if cell in access else name
    conducting = frozenset(cell for cell, part in cells.items() if part.kind in CONDUCTING)
    return Contacts(body, conducting, frozenset(no_wire - body), frozenset(no_block - body), access)


def _powered(items: Iterable[tuple[Cell, Part]], cells: dict[Cell, Part]) -> tuple[set[Cell], set[Cell]]:
    """The conducting cells that something powers strongly, and those that something listens to."""
    strong: set[Cell] = set()
    heard: set[Cell] = set()
    for cell, part in items:
        if part.kind in FRONTED:
            strong.add(beside(cell, str(part.facing)))
            heard.add(beside(cell, OPPOSITE[str(part.facing)]))
        elif part.behaviour == "torch":
            strong.add(beside(cell, "up"))
            heard.add(beside(cell, str(part.facing)))
        elif part.kind in FIXED:
            strong.add(beside(cell, str(part.facing)))
        elif part.kind in PLATES:
            strong.add(beside(cell, "down"))
        elif part.kind in HEARS_ROUND:
            heard.update(beside(cell, side) for side in DIRECTIONS)
    conducting = {cell for cell, part in cells.items() if part.kind in CONDUCTING}
    return strong & conducting, heard & conducting


def _wires_that_matter(cell: Cell, part: Part) -> list[Cell]:
    if part.behaviour == "wire":
        return twelve(cell)
    if part.kind in ROUND:
        return [beside(cell, side) for side in DIRECTIONS]
    if part.behaviour == "torch":
        return [beside(cell, side) for side in DIRECTIONS if side != part.facing]
    if part.kind in FRONTED:
        sides = [str(part.facing), OPPOSITE[str(part.facing)]]
        if part.behaviour == "comparator":
            sides += FLANKS[str(part.facing)]
        return [beside(cell, side) for side in sides]
    if part.kind in PISTONS:
        x, y, z = cell
        return [
            (x + dx, y + dy, z + dz)
            for dx, dy, dz in (*taxicab_ball(2), *((a, b, c + 1) for a, b, c in taxicab_ball(1)))
        ]
    if part.kind in HEARS_ROUND:
        return [beside(cell, side) for side in (*HORIZONTAL, "up")]
    return []


def _blocks_that_matter(cell: Cell, part: Part) -> list[Cell]:
    if part.kind in FRONTED:
        return [beside(cell, side) for side in (str(part.facing), OPPOSITE[str(part.facing)])]
    if part.behaviour == "torch":
        return [beside(cell, "up")]
    if part.kind in PISTONS:
        x, y, z = cell
        return [
            (x + dx, y + dy, z + dz)
            for dx, dy, dz in (*taxicab_ball(1), *((a, b, c + 1) for a, b, c in taxicab_ball(1)))
        ]
    if part.kind in HEARS_ROUND:
        return [beside(cell, side) for side in DIRECTIONS]
    return []


def laid_contacts(instance: Instance) -> Contacts:
    """The contacts of an instance, where it lies."""
    own = contacts(instance.tile)
    cell = instance.cell
    body, conducting, no_wire, no_block = (
        frozenset(map(cell, cells)) for cells in (own.body, own.conducting, own.no_wire, own.no_block)
    )
    access = {cell(there): name for there, name in own.access.items()}
    return Contacts(body, conducting, no_wire, no_block, access)
