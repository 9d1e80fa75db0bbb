"""The order to build a plan in: bottom-up, nothing before what it stands on, equal parts of a row in one step."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from tickwright.kinds import PARTS, STANDS, Part, support_cell
from tickwright.plan.model import Plan
from tickwright.space import OPPOSITE, Cell, beside

_ENDINGS = {2: "nd", 3: "rd"}
MOST_APART = 20  # rows from one to the next that are told as a series
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


class BuildGroup(NamedTuple):
    """Equal parts to lay while a layer is built, in any order; all that they stand on is there by then."""

    layer: int
    part: Part
    cells: tuple[Cell, ...]


def build_groups(plan: Plan) -> list[BuildGroup]:
    """Every part of the plan once, equal parts of a layer together: what fills its cell before what stands on it.

    What is fixed to something above it is laid with the layer of that. Containers are laid empty: items that go in
    before all is laid may run off (see `fillings`).

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", w = "wire"}
    ... layer = [{rows = "###"}, {rows = "w#w"}]''')
    >>> [(group.layer, str(group.part), len(group.cells)) for group in build_groups(plan)]
    [(0, 'block', 3), (1, 'block', 1), (1, 'wire', 2)]
    """
    found: dict[tuple[int, bool, Part], list[Cell]] = {}
    layer = 0
    for step in build_order(plan):
        layer = max(layer, step.layer)
        found.setdefault((layer, step.part.kind in STANDS, step.part._replace(items=0)), []).extend(step.cells)
    ordered = sorted(found.items(), key=lambda item: item[0][:2])
    return [BuildGroup(layer, part, tuple(cells)) for (layer, _, part), cells in ordered]


def fillings(plan: Plan) -> list[tuple[Cell, Part]]:
    """The containers to put items into once all is laid, from the north-west on, layer by layer."""
    held = [(cell, part) for cell, part in plan.cells.items() if part.items]
    return sorted(held, key=lambda pair: (pair[0][2], pair[0][1], pair[0][0]))


def cells_text(cells: Sequence[Cell], layer: int, *, one_row: bool) -> str:
    """Where cells lie, in words: along x, by row unless there is only one, with the layer where it is another.

    Rows that hold the same places are told together.

    >>> cells_text([(0, 0, 1), (1, 0, 1), (2, 0, 1), (5, 0, 1)], 1, one_row=True)
    '0 to 2 and 5'
    >>> cells_text([(0, 0, 1), (3, 2, 1)], 1, one_row=False)
    'row 0: 0; row 2: 3'
    >>> cells_text([(x, y, 1) for x in (2, 3, 5) for y in (0, 3, 6, 9)], 1, one_row=False)
    'every 3rd row from 0 to 9: 2, 3 and 5'
    """
    rows: dict[tuple[int, int], list[int]] = {}
    for x, y, z in sorted(cells, key=lambda cell: (cell[2], cell[1], cell[0])):
        rows.setdefault((z, y), []).append(x)
    alike: dict[tuple[int, str], list[int]] = {}
    for (z, y), xs in rows.items():
        alike.setdefault((z, _runs(xs)), []).append(y)
    texts = []
    for (z, places), ys in alike.items():
        text = places if one_row else f"{_rows(ys)}: {places}"
        texts.append(text if z == layer else f"{text} of layer {z}")
    return "; ".join(texts)


def _rows(ys: Sequence[int]) -> str:
    """Rows by number, those at equal distances as a series."""
    if len(ys) == 1:
        return f"row {ys[0]}"
    apart = {b - a for a, b in pairwise(ys)}
    if len(ys) > 2 and len(apart) == 1 and 1 < max(apart) <= MOST_APART:
        (step,) = apart
        return f"every {step}{_ENDINGS.get(step, 'th')} row from {ys[0]} to {ys[-1]}"
    return f"rows {_runs(ys)}"


def _runs(xs: Sequence[int]) -> str:
    """Places along a row, three and more side by side as one."""
    spans: list[list[int]] = []
    for x in xs:
        if spans and x == spans[-1][1] + 1:
            spans[-1][1] = x
        else:
            spans.append([x, x])
    texts: list[str] = []
    for a, b in spans:
        texts += [f"{a} to {b}"] if b > a + 1 else map(str, range(a, b + 1))
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


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
        return f"watching {behind}, output to {ahead}"
    if behaviour == "hopper":
        return f"pushing into {_PLACES.get(facing, f'the cell in the {facing}')}"
    if behaviour == "ejector":
        return f"opening to {ahead}"
    return f"face to {ahead}"
