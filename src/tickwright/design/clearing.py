"""Clearing: what is laid behind a design's line so that each press puts the output out first, and starts it anew.

The line, some ticks later, comes to a difference comparator; at its flank the press itself shuts it for as long as it
lasts. So the output comes on when the press is over, and each further press puts it out at once. A line that a further
press makes longer, so that it ends as long after that as after the first, then does all anew. What the line does while
the press lasts is not seen. What comes of it is still to be run.
"""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.design.fitting import plus
from tickwright.design.ground import WIRE, Ground, lay_wire, round_about, shortest_way
from tickwright.design.recipes import LAMP_STEPS
from tickwright.design.shaping import straight_and_back
from tickwright.design.sketch import PRESS, Sketch, split_delay
from tickwright.design.wish import Design, Room
from tickwright.errors import PlanError
from tickwright.kinds import Part
from tickwright.plan import Plan
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import HORIZONTAL, OPPOSITE, Cell, beside

__all__ = ["REACH_STEPS", "base_hold_steps", "cleared"]

FLANK_STEPS = 2  # of the repeater at the flank, and of each that renews the wire to it
AHEAD_STEPS = 4  # by which the line comes later than the press comes to the flank, lest the output comes on twice
REACH_STEPS = 8  # by how much the holds of bases that come to the same hold may differ, to either side
MARGIN = 4  # free cells beside a plan in which wires may run
MOST_RENEWED = 2


def base_hold_steps(hold_steps: int, output: str, press_steps: int) -> int:
    """The hold in mid-range of the bases that become one of `hold_steps`, for a press that lasts so long."""
    return hold_steps - LAMP_STEPS * (output == "lamp") + press_steps + FLANK_STEPS - AHEAD_STEPS - REACH_STEPS


def cleared(base: Design, hold_steps: int, press_steps: int, output: str, rules: RuleSet) -> Iterator[tuple[int, Plan]]:
    """Plans that hold so long, with the ticks of repeaters behind the base's line; only such as can stand."""
    (line,) = base.plan.outputs.values()
    wanted = hold_steps - LAMP_STEPS * (output == "lamp")
    for renewed in range(MOST_RENEWED + 1):
        more, odd = divmod(wanted + press_steps + FLANK_STEPS * (1 + renewed) - base.delay_steps - base.hold_steps, 2)
        least = AHEAD_STEPS + FLANK_STEPS * renewed
        if odd or not least <= base.delay_steps + 2 * more <= press_steps or more < 1:
            continue
        for side in HORIZONTAL:
            for row in straight_and_back(line, side, split_delay(more)):
                for flank in HORIZONTAL:
                    if flank in (row[-1][1], OPPOSITE[row[-1][1]]):
                        continue
                    plan = _laid(base.plan, [(cell, part) for cell, _, part in row], row[-1][1], flank, output, renewed)
                    if plan is not None and not any(problems(plan, rules)):
                        yield more, plan


def _laid(plan: Plan, row: list[tuple[Cell, str]], way: str, flank: str, output: str, renewed: int) -> Plan | None:
    """The row, the comparator, its end and its flank's repeater, and a wire to there from beside the trigger."""
    sketch = Sketch()
    sketch.cells = dict(plan.cells)
    comparator = beside(row[-1][0], way)
    repeater = beside(comparator, flank)
    end = beside(comparator, way)
    try:
        for cell, part in row:
            sketch.put(cell, part)
        sketch.put(comparator, f"comparator {way} mode=difference")
        sketch.put(repeater, f"repeater {OPPOSITE[flank]}")
        sketch.put(end, "lamp" if output == "lamp" else "wire")
        names = {"lamp" if output == "lamp" else "line": end}
        laid = sketch.plan(plan.title, plan.triggers[PRESS], names)
    except PlanError:
        return None
    # All cells may have moved to begin at 0: so does what is needed of them.
    (x, y, z), (new_x, new_y, new_z) = plan.triggers[PRESS], laid.triggers[PRESS]
    goal = plus(beside(repeater, flank), (new_x - x, new_y - y, new_z - z))
    return _wired(laid, goal, OPPOSITE[flank], renewed)


def _wired(plan: Plan, goal: Cell, to_repeater: str, renewed: int) -> Plan | None:
    """The plan with a wire from beside its trigger to the goal, the cell behind the flank's repeater."""

    def shifted(cell: Cell) -> Cell:
        return plus(cell, (MARGIN, MARGIN, 0))

    cells: dict[Cell, Part] = {shifted(cell): part for cell, part in plan.cells.items()}
    wide, deep, high = plan.size
    room = Room((wide + 2 * MARGIN, deep + 2 * MARGIN, high + 1))
    trigger = shifted(plan.triggers[PRESS])
    ground = Ground(Plan(cells, {PRESS: trigger}, {}, size=room.size), room)
    pressed = round_about(trigger)
    starts = {cell: pressed for side in HORIZONTAL if ground.free(cell := beside(trigger, side))}
    end = shifted(goal)
    path = shortest_way(ground, starts, end, round_about(beside(end, to_repeater)))
    if path is None:
        return None
    lay_wire(cells, path)
    if sum(cells[cell] != WIRE for cell in path) != renewed:
        return None
    sketch = Sketch()
    sketch.cells = cells
    return sketch.plan(plan.title, trigger, {name: shifted(cell) for name, cell in plan.outputs.items()})
