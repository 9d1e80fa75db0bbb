"""The order to build a plan in: bottom-up, nothing before what it stands on, equal parts of a row in one step."""

from __future__ import annotations

from typing import NamedTuple

from tickwright.kinds import PARTS, STANDS, Part, support_cell
from tickwright.plan.model import Plan
from tickwright.space import OPPOSITE, Cell, beside

_PLACES = {"up": "the cell above", "down": "the cell below"}


class BuildStep(NamedTuple):
    """Equal parts to place one after another: `cells` lie side by side from west to east; `hint` says how they face."""

    layer: int
    part: Part
    cells: tuple[Cell, ...]
    hint: str


def build_order(plan: Plan) -> list[BuildStep]:
    """Every part of the plan once, each after what it stands on or is fixed to.

    Layer by layer from below; in a layer what fills its cell comes before what stands, then rows from north to south. A
    part that is fixed to something not yet there (a lever on a ceiling) comes right after it.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "##"}, {rows = "bL"}]''')
    >>> [(str(step.part), step.cells) for step in build_order(plan)]
    [('block', ((0, 0, 0), (1, 0, 0))), ('lamp', ((1, 0, 1),)), ('short-button', ((0, 0, 1),))]
    """
    waiting: dict[Cell, list[Cell]] = {}
    placed: set[Cell] = set()
    order: list[Cell] = []

    def lay(cell: Cell) -> None:
        ready = [cell]
        for here in ready:
            placed.add(here)
            order.append(here)
            ready += waiting.pop(here, [])

    for cell in sorted(plan.cells, key=lambda cell: (cell[2], plan.cells[cell].kind in STANDS, cell[1], cell[0])):
        support = support_cell(plan.cells[cell], cell)
        if support is not None and support in plan.cells and support not in placed:
            waiting.setdefault(support, []).append(cell)
        else:
            lay(cell)
    return _grouped(plan, order)


def _grouped(plan: Plan, order: list[Cell]) -> list[BuildStep]:
    steps: list[BuildStep] = []
    for cell in order:
        part = plan.cells[cell]
        if steps and steps[-1].part == part and beside(steps[-1].cells[-1], "east") == cell:
            steps[-1] = steps[-1]._replace(cells=(*steps[-1].cells, cell))
        else:
            steps.append(BuildStep(cell[2], part, (cell,), facing_hint(part)))
    return steps


def facing_hint(part: Part) -> str:
    """How a part is to face, in words; nothing for one that faces nowhere.

    >>> facing_hint(Part("comparator", "east")), facing_hint(Part("torch", "down"))
    ('output to the east, back to the west', 'fixed to the cell below')
    """
    facing = part.facing
    if facing is None:
        return ""
    ahead = _PLACES.get(facing, f"the {facing}")
    behind = _PLACES.get(OPPOSITE[facing], f"the {OPPOSITE[facing]}")
    if PARTS[part.kind].support == "facing":
        return f"fixed to {_PLACES.get(facing, f'the cell in the {facing}')}"
    behaviour = PARTS[part.kind].behaviour
    if behaviour in ("repeater", "comparator"):
        return f"output to {ahead}, back to {behind}"
    if behaviour == "sensor":
        return f"watches {behind}, output to {ahead}"
    if behaviour == "hopper":
        return f"pushes into {_PLACES.get(facing, f'the cell in the {facing}')}"
    if behaviour == "ejector":
        return f"opens to {ahead}"
    return f"face to {ahead}"
