"""The shelf: tiles as plan files with ports, in a folder; what a netlist's gates, inputs and outputs are laid of."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from tickwright.errors import UsageError, near
from tickwright.layout.model import Port, Tile
from tickwright.plan import load
from tickwright.plan.modules import SHELF, SHELF_MARK
from tickwright.space import Cell

# Cells that must stay empty beside a line, so that what it is joined to later finds room.
KEEP_OUTS: dict[str, frozenset[Cell]] = {
    "line-in": frozenset(((-1, 0, 1),)),
    "line-out": frozenset(((2, 0, 1), (2, 0, 0))),
}


def load_tile(path: str | Path, keep_outs: frozenset[Cell] = frozenset()) -> Tile:
    """The tile in a plan file: the plan with its ports. Raises PlanError, and UsageError for a plan without ports."""
    plan = load(path)
    if not plan.ports:
        raise UsageError(f'"{path}" has no [ports]: name there the cells where its wires come in and go out.')
    return Tile(Path(path).stem, plan, {name: Port(*port) for name, port in plan.ports.items()}, keep_outs)


def named_tile(name: str) -> Tile:
    """The tile of a plan file, or of "tile:NAME" on our shelf. Raises as `load_tile`, and UsageError for no such tile.

    >>> named_tile("tile:not").name
    'not'
    """
    if not name.startswith(SHELF_MARK):
        return load_tile(name)
    kind = name.removeprefix(SHELF_MARK)
    known = sorted(one.stem for one in SHELF.glob("*.toml"))
    if kind not in known:
        raise UsageError(f'There is no tile "{kind}" on the shelf.{near(kind, known)}')
    return gate_tile(kind)


@cache
def gate_tile(kind: str) -> Tile:
    """The tile of a gate, an input ("lever", "line-in") or an output ("lamp", "line-out"), from our shelf.

    >>> sorted(gate_tile("nor2").ports)
    ['a', 'b', 'out']
    """
    return load_tile(SHELF / f"{kind}.toml", KEEP_OUTS.get(kind, frozenset()))
