"""Shaping: what is laid behind a design's line so that its output comes later, or is off where it was on.

A row of repeaters adds a delay; a torch at its end turns the output over. The row leaves the line by a side that is
free, straight or there and back. What comes of it is still to be run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tickwright.design.sketch import PRESS, Sketch, split_delay
from tickwright.errors import PlanError
from tickwright.plan import Plan
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import HORIZONTAL, OPPOSITE, Cell, beside

__all__ = ["TORCH_STEPS", "shaped", "straight_and_back"]

TORCH_STEPS = 2
STRAIGHT_REPEATERS = 4  # a longer row is tried there and back, too


def shaped(plan: Plan, ticks: int, inverted: bool, output: str, rules: RuleSet) -> Iterator[Plan]:
    """Plans with so many ticks of repeaters behind the plan's one output, a wire, and a lamp or a wire at the end.

    `inverted`: a torch stands before the end. Only plans that can stand are given.
    """
    (line,) = plan.outputs.values()
    delays = split_delay(ticks)
    for side in HORIZONTAL:
        for path in straight_and_back(line, side, delays):
            sketch = Sketch()
            sketch.cells = dict(plan.cells)
            try:
                end = _lay(sketch, path, inverted, output)
                made = sketch.plan(plan.title, plan.triggers[PRESS], {"lamp" if output == "lamp" else "line": end})
                validate(made, rules)
            except PlanError:
                continue
            yield made


Path = Sequence[tuple[Cell, str, str]]  # cells, which way the signal goes there, and what stands there


def straight_and_back(line: Cell, side: str, delays: Sequence[int]) -> Iterator[Path]:
    """Straight out of the line by a side; and, if the row is long, there and back on either hand."""
    cell, out = line, []
    for delay in delays:
        cell = beside(cell, side)
        out.append((cell, side, f"repeater {side} delay={delay}"))
    yield out
    if len(delays) <= STRAIGHT_REPEATERS:
        return
    half = (len(delays) + 1) // 2
    home = OPPOSITE[side]
    corner = beside(out[half - 1][0], side)
    for across in HORIZONTAL:
        if across in (side, home):
            continue
        turned = beside(corner, across)
        path: list[tuple[Cell, str, str]] = [*out[:half], (corner, across, "wire"), (turned, home, "wire")]
        cell = turned
        for delay in delays[half:]:
            cell = beside(cell, home)
            path.append((cell, home, f"repeater {home} delay={delay}"))
        yield path


def _lay(sketch: Sketch, path: Path, inverted: bool, output: str) -> Cell:
    """Lay the row and its end; return the end."""
    for cell, _, part in path:
        sketch.put(cell, part)
    end, way, _ = path[-1]
    if inverted:
        block = beside(end, way)
        torch = beside(block, way)
        sketch.put(block, "block")
        sketch.put(torch, f"torch on={OPPOSITE[way]}")
        end = torch
    end = beside(end, way)
    sketch.put(end, "lamp" if output == "lamp" else "wire")
    return end
