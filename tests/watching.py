"""For step tables: build a world from the texts of its parts, run it, and give what each watched cell shows."""

from __future__ import annotations

from tickwright.engine.running import ENGINES, Run, run
from tickwright.kinds import parse_part
from tickwright.plan.model import Plan

Cell = tuple[int, int, int]


def world(parts: dict[Cell, str]) -> Plan:
    """A plan of these parts."""
    size = tuple(max(cell[axis] for cell in parts) + 1 for axis in range(3))
    return Plan({cell: parse_part(text) for cell, text in parts.items()}, {}, {}, (), "", "standard", size)


def watch(parts: dict[Cell, str], acts: list[str], steps: int, cells: list[Cell], order: str = "canonical") -> Run:
    """Run the world by every engine, which must agree, and watch these cells, each under its own coordinates."""
    plan, watched = world(parts), {name(cell): cell for cell in cells}
    first, *others = [run(plan, acts, steps, order=order, engine=engine, watch=watched) for engine in ENGINES]
    for other in others:
        assert other.trace == first.trace
        assert other.findings == first.findings
    return first


def name(cell: Cell) -> str:
    """What a cell is called in the trace."""
    return ",".join(map(str, cell))


def shows(
    parts: dict[Cell, str],
    acts: list[str],
    steps: int,
    table: dict[Cell, list[tuple[int, int]]],
    order: str = "canonical",
) -> Run:
    """Assert that each cell of the table shows just these (step, value) changes; give the run, for its findings."""
    done = watch(parts, acts, steps, list(table), order)
    found = {cell: list(done.trace.changes[name(cell)]) for cell in table}
    assert found == table
    return done
