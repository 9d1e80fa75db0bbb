"""A netlist of slices that do the same, laid as one exact cell again and again: each hands its signal to the next.

The outermost columns of a cell hold the wire that comes in or leaves, and the block under it: the last column of one is
the first of the next, so that nothing else of two cells meets.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from tickwright.kinds import Part
from tickwright.layout.computing import Exact, computes, needless_first, pruned, tables
from tickwright.layout.exact import Found, Through
from tickwright.layout.slices import COMES, LEAVES, Slice, repetition, slices_like
from tickwright.layout.smallest import Told, search_of
from tickwright.netlist import Network
from tickwright.plan import load
from tickwright.plan.model import Plan
from tickwright.plan.modules import SHELF
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell, beside

KEPT = ("full-adder",)  # cells of rows on the shelf


class Row(NamedTuple):
    """Cells in a row, as they are laid: the parts of one, and where its levers, lamps and the signal's wires are.

    `tables`, of a cell on the shelf: what its lamps show and, last, what it hands on, as `slices_like` takes it.
    """

    found: Found
    through: Through
    pitch: int
    tables: tuple[int, ...] = ()


def lay_repeated(
    network: Network,
    rules: Sequence[RuleSet],
    seconds: float,
    told: Told | None = None,
    seed: int = 0,
    workers: int | None = None,
) -> Exact | None:
    """The netlist as a row of equal cells; None where it has no such slices, or no cell is found in time."""
    repeated = repetition(network)
    if repeated is None:
        return None
    search = search_of(repeated.cell, rules, None, {}, seconds, told, seed, (0, LEAVES), workers)
    found = search.run() if search is not None else None
    if search is None or found is None or search.runs is None or search.box is None:
        return None
    row = Row(found, search.runs, search.box[0] - 1)
    exact = assembled(repeated.slices, row, tuple(search.tried))
    if not computes(exact, network, rules):
        return None
    return _pruned(repeated.slices, row, network, rules, exact)


def lay_kept(network: Network, rules: Sequence[RuleSet]) -> Exact | None:
    """The netlist as a row of a cell that lies on the shelf, or as one of it; None where no cell does it."""
    for row in kept_rows():
        slices = slices_like(network, row.tables, len(row.found.levers))
        exact = assembled(slices, row) if slices else None
        if exact is not None and computes(exact, network, rules):
            return _without_needless_ends(exact, row.pitch, network, rules)
    return None


@cache
def kept_rows() -> tuple[Row, ...]:
    """The cells of rows on the shelf: plans with a lever `comes` and a lamp `leaves`, for what is handed on."""
    return tuple(_kept(load(SHELF / f"{name}.toml")) for name in KEPT)


def _kept(plan: Plan) -> Row:
    """A plan as a cell of a row: its lever `comes` and what stands above its lamp `leaves` are wires of the row."""
    first, lamp = plan.triggers[COMES], plan.outputs[LEAVES]
    last = beside(lamp, "up")
    cells = {**plan.cells, first: Part("wire"), last: Part("wire"), lamp: Part("block")}
    own = sorted(name for name in plan.triggers if name != COMES)
    levers = {int(name[1:]) + 1: plan.triggers[name] for name in own}
    lamps = {name: cell for name, cell in plan.outputs.items() if name != LEAVES}
    shown = tables(plan, plan.triggers, (COMES, *own), load_rules())
    if shown is None:
        raise ValueError("A cell of a row on the shelf has no truth table.")
    does = tuple(shown[plan.outputs[name]] for name in (*sorted(lamps), LEAVES))
    return Row(Found(cells, levers, lamps), Through(0, LEAVES, first[1], first[2]), last[0], does)


def assembled(slices: Sequence[Slice], row: Row, tried: tuple[tuple[Cell, str], ...] = ()) -> Exact:
    """All cells in a row, with a lever for what comes into the first and a lamp for what leaves the last."""
    parts, levers, lamps, _ = row.found
    end = (0, row.through.row, row.through.height)
    first = slices[0].comes
    start = 0 if first is None else 1
    cells: dict[Cell, Part] = {}
    thrown: dict[str, Cell] = {}
    shown: dict[str, Cell] = {}
    for number, one in enumerate(slices):
        x = start + number * row.pitch
        cells.update({_east(cell, x): part for cell, part in parts.items()})
        thrown |= {one.inputs[place - 1]: _east(cell, x) for place, cell in levers.items()}
        shown |= {one.outputs[int(name[1:])]: _east(cell, x) for name, cell in lamps.items()}
    if first is None:
        cells.pop(end, None)
    else:
        thrown[first] = end
        cells[end], cells[beside(end, "down")] = Part("lever", "down"), Part("block")
    last = slices[-1]
    lamp = beside(_east(end, start + len(slices) * row.pitch), "down")
    if last.leaves is not None:
        cells[lamp] = Part("lamp")
        shown[last.leaves] = lamp
    return Exact(Plan(cells), thrown, shown, tried)


def _east(cell: Cell, by: int) -> Cell:
    return (cell[0] + by, cell[1], cell[2])


def _pruned(slices: Sequence[Slice], row: Row, network: Network, rules: Sequence[RuleSet], exact: Exact) -> Exact:
    """The row without the parts that no cell needs, and at its ends without those that the end does not need."""
    parts, levers, lamps, _ = row.found
    kept = {*levers.values(), *lamps.values()}
    for cell in needless_first(parts):
        if cell in kept:
            continue
        less = {there: part for there, part in parts.items() if there != cell}
        shorter = assembled(slices, row._replace(found=Found(less, levers, lamps)), exact.tried)
        if computes(shorter, network, rules):
            parts, exact = less, shorter
    return _without_needless_ends(exact, row.pitch, network, rules)


def _without_needless_ends(exact: Exact, pitch: int, network: Network, rules: Sequence[RuleSet]) -> Exact:
    """The row without the parts of its first cell and last columns that nothing is handed to or by there."""
    last = exact.plan.size[0] - 2
    return pruned(exact, network, rules, lambda cell: cell[0] <= pitch or cell[0] >= last)
