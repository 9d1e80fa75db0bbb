"""Flat drawings of a plan: a layer from above, or a section from the south or the east."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from tickwright.errors import UsageError
from tickwright.plan.model import Plan
from tickwright.publish.boxes import box_marks, boxes_of
from tickwright.publish.canvas import Drawing, Group, Mark, Point, lines_of, rectangle, shortened, words
from tickwright.publish.letters import text_width
from tickwright.publish.shapes import Shape
from tickwright.publish.shown import FROM_EAST, FROM_SOUTH, LEAST_TEXT, NUMBERED, Scene, paint
from tickwright.publish.tokens import HIGHEST_LEVEL, TOKENS, Colours, Theme, level_colour, level_ink
from tickwright.rules import RuleSet
from tickwright.space import Cell, beside, cell_text

if TYPE_CHECKING:
    from tickwright.recording import Moment

CELL = 48.0  # pixels along a cell
WIDEST_FOR_TITLE = 900.0
SMALL, TEXT, LARGE, HUGE = (float(size) for size in TOKENS["type"]["sizes"])
MARGIN = 16.0
LABEL_HIGH = 18.0
_HALOED = (("panel", 6.0), ("accent", 3.0))  # an outline that stands out on every fill


class Window(NamedTuple):
    """Which columns and rows of a layer are shown."""

    xs: range
    ys: range

    def holds(self, cell: Cell) -> bool:
        """Whether the cell, of whatever layer, is within."""
        return cell[0] in self.xs and cell[1] in self.ys


class Flat(NamedTuple):
    """A flat view: the cell at each place (column, row), the coordinates along both edges, the shapes of each cell.

    `behind` gives the cell that lies behind (or below) a place, seen from the viewer.
    """

    columns: tuple[int, ...]
    rows: tuple[int, ...]
    cell: Callable[[int, int], Cell]
    shapes: Callable[[Cell], tuple[Shape, ...]]
    behind: str


def whole_layer(plan: Plan) -> Window:
    """All columns and rows of a plan."""
    return Window(range(plan.size[0]), range(plan.size[1]))


def windows(shown: Window, most_across: int, most_down: int) -> list[Window]:
    """A part of a layer cut into pieces of at most so many cells, as equal as may be, from the north-west on.

    >>> windows(Window(range(50), range(3)), 40, 40)
    [Window(xs=range(0, 25), ys=range(0, 3)), Window(xs=range(25, 50), ys=range(0, 3))]
    """

    def cuts(along: range, most: int) -> list[range]:
        pieces = max(ceil(len(along) / most), 1)
        ends = [along.start + len(along) * piece // pieces for piece in range(pieces + 1)]
        return [range(start, end) for start, end in pairwise(ends)]

    return [Window(xs, ys) for ys in cuts(shown.ys, most_down) for xs in cuts(shown.xs, most_across)]


def layer_drawing(
    plan: Plan,
    rules: RuleSet,
    z: int,
    moment: Moment | None = None,
    theme: Theme = "light",
    window: Window | None = None,
    bare: bool = False,
    marked: Collection[Cell] = (),
    numbered: bool = True,
    boxed: bool = False,
) -> Drawing:
    """The layer `z` of a plan from above, north up, as laid or at a moment of a run; or what of it is in a window.

    What lies in the layer below is hinted at by a tint. A `bare` drawing is without title, names and notes, and has a
    bold outline round the cells that are `marked`; one that is not `numbered` has no coordinates either. `boxed`: where
    modules lie are boxes with their names. Raises UsageError for a layer that the plan has not.
    """
    if not 0 <= z < max(plan.size[2], 1):
        raise UsageError(f"The plan has no layer {z}: it has the layers 0 to {plan.size[2] - 1}.")
    scene = Scene(plan, rules, moment, theme)
    shown = window or whole_layer(plan)
    where = f"From above, layer {z}"
    if len(shown.xs) < plan.size[0]:
        where += f", x {shown.xs[0]} to {shown.xs[-1]}"
    if len(shown.ys) < plan.size[1]:
        where += f", y {shown.ys[0]} to {shown.ys[-1]}"
    flat = layer_view(scene, z, shown)
    boxes = boxes_of(plan) if boxed else ()

    def over(left: float, top: float) -> Iterator[Mark]:
        return box_marks(boxes, z, flat.columns, flat.rows, (left, top), CELL, scene.colours)

    if bare:
        return _bare(scene, flat, where, marked, numbered, over)
    return _flat_drawing(scene, flat, where, ("x", "y"), north=True)


def section_drawing(
    plan: Plan,
    rules: RuleSet,
    axis: str,
    at: int,
    moment: Moment | None = None,
    theme: Theme = "light",
    bare: bool = False,
    numbered: bool = True,
) -> Drawing:
    """A section of a plan: the cells with `y` (or `x`) equal to `at`, seen from the south (or the east), up being up.

    Raises UsageError for another axis and for a place that the plan has not.
    """
    if axis not in ("x", "y"):
        raise UsageError(f'There is no section along "{axis}": use x or y.')
    size = plan.size["xy".index(axis)]
    if not 0 <= at < max(size, 1):
        raise UsageError(f"The plan has no section {axis} {at}: it has the sections {axis} 0 to {size - 1}.")
    scene = Scene(plan, rules, moment, theme)
    from_side = "south" if axis == "y" else "east"
    where = f"Section {axis} {at}, from the {from_side}"
    flat = section_view(scene, axis, at)
    if bare:
        return _bare(scene, flat, where, (), numbered)
    return _flat_drawing(scene, flat, where, ("y" if axis == "x" else "x", "z"), north=False)


def layer_view(scene: Scene, z: int, window: Window | None = None) -> Flat:
    """A layer as a flat view."""
    xs, ys = window or whole_layer(scene.plan)
    return Flat(tuple(xs), tuple(ys), lambda x, y: (x, y, z), scene.shapes, "down")


def section_view(scene: Scene, axis: str, at: int) -> Flat:
    """A section as a flat view: the highest layer first."""
    wide, deep, high = scene.plan.size
    rows = tuple(range(high - 1, -1, -1))
    if axis == "y":
        return Flat(
            tuple(range(wide)), rows, lambda x, z: (x, at, z), lambda cell: scene.side_shapes(cell, FROM_SOUTH), "north"
        )
    columns = tuple(range(deep - 1, -1, -1))
    return Flat(columns, rows, lambda y, z: (at, y, z), lambda cell: scene.side_shapes(cell, FROM_EAST), "west")


def _flat_drawing(scene: Scene, flat: Flat, where: str, axes: tuple[str, str], *, north: bool) -> Drawing:
    colours = scene.colours
    cells = {flat.cell(column, row) for column in flat.columns for row in flat.rows}
    named = {cell: names for cell, names in scene.names.items() if cell in cells}
    left = MARGIN + 26
    places = {flat.cell(c, r): (i, j) for i, c in enumerate(flat.columns) for j, r in enumerate(flat.rows)}
    labels, rise = name_labels({cell: (left + places[cell][0] * CELL, places[cell][1] * CELL) for cell in named}, named)
    top = 50.0 + 18 * bool(scene.caption()) + rise
    width = max(left + len(flat.columns) * CELL + (76 if north else MARGIN), 420.0, title_width(scene.plan))
    head = list(heading(scene, where, width))
    groups = [Group(tuple(head)), Group(tuple(flat_grid(scene, flat, left, top, CELL)))]
    for j, row in enumerate(flat.rows):
        for i, column in enumerate(flat.columns):
            cell = flat.cell(column, row)
            filled = cell in scene.stands or cell in named
            marks = tuple(flat_cell(scene, flat, cell, left + i * CELL, top + j * CELL, CELL))
            groups.append(Group(marks, scene.words(cell) if filled else "", ",".join(map(str, cell)) if filled else ""))
    groups.append(Group(tuple(_coordinates(flat, axes, left, top, colours))))
    groups.append(Group(tuple(mark for label in labels for mark in label.marks_at(top, colours))))
    if north:
        groups.append(
            Group(tuple(compass(left + len(flat.columns) * CELL + 40, top + 26, (0.0, -15.0), (15.0, 0.0), colours)))
        )
    notes = [name_note(scene, cell) for cell in named]
    foot, height = footing(scene, left, top + len(flat.rows) * CELL + 30, width, notes)
    groups.append(Group(tuple(foot)))
    title = titled(scene.plan, where)
    return Drawing(width, height, colours["panel"], title, described(scene, notes, cells), tuple(groups))


def _bare(
    scene: Scene,
    flat: Flat,
    where: str,
    marked: Collection[Cell],
    numbered: bool,
    over: Callable[[float, float], Iterator[Mark]] = lambda _left, _top: iter(()),
) -> Drawing:
    """The cells and their coordinates alone, or the cells alone, edge to edge; `over` gives what lies over them."""
    left, top = (22.0, 1.0) if numbered else (0.0, 0.0)
    groups = [Group(tuple(flat_grid(scene, flat, left, top, CELL)))]
    for j, row in enumerate(flat.rows):
        for i, column in enumerate(flat.columns):
            marks = flat_cell(scene, flat, flat.cell(column, row), left + i * CELL, top + j * CELL, CELL)
            groups.append(Group(tuple(marks)))
    groups.append(Group(tuple(over(left, top))))
    outlines = []
    for j, row in enumerate(flat.rows):
        for i, column in enumerate(flat.columns):
            if flat.cell(column, row) in marked:
                place = left + i * CELL + 1, top + j * CELL + 1, CELL - 2, CELL - 2
                outlines += [rectangle(*place, "none", scene.colours[role], width) for role, width in _HALOED]
    if outlines:
        groups.append(Group(tuple(outlines)))
    width, height = left + len(flat.columns) * CELL, top + len(flat.rows) * CELL
    if numbered:
        along = [mark for mark in _coordinates(flat, ("", ""), left, top, scene.colours) if mark.text.strip()]
        groups.append(Group(tuple(along)))
        width, height = width + 2, height + 22
    cells = {flat.cell(column, row) for column in flat.columns for row in flat.rows}
    title = titled(scene.plan, where)
    return Drawing(width, height, scene.colours["panel"], title, described(scene, (), cells), tuple(groups))


class Label(NamedTuple):
    """The name of a cell above a drawing: where its leader stands, how far up the text lies, and the cell's top."""

    x: float
    rise: float
    down: float
    text: str

    def marks_at(self, top: float, colours: Colours) -> tuple[Mark, ...]:
        """The leader with its dot at the cell's corner, and the name."""
        y, end = top - self.rise, top + self.down + 5
        leader = Mark("line", ((self.x, y + 6), (self.x, end)), stroke=colours["soft"], width=1)
        tip = Mark("circle", ((self.x, end),), 2.2, fill=colours["soft"])
        return leader, tip, words(self.x - 2, y - 2, self.text, SMALL, colours["ink"], bold=True)


def name_labels(corners: Mapping[Cell, Point], names: Mapping[Cell, list[str]]) -> tuple[list[Label], float]:
    """The names above a drawing so that no leader crosses a text or another leader; and the room that they take.

    `corners` are the left upper corners of the named cells, counted from the drawing's upper edge. A leader runs down
    along the left edge of its cell's column, so that it covers no number; of two in one column the lower one stands
    more to the left.
    """
    labels: list[Label] = []
    spans: list[tuple[int, float]] = []  # the row of each text, and where it starts
    used: dict[float, int] = {}
    for cell in sorted(corners, key=lambda one: (-corners[one][0], corners[one][1])):
        x, down = corners[cell]
        again = used[x] = used.get(x, -1) + 1
        at = x + 7 - 4.5 * again
        text = ", ".join(names[cell])
        end = at + text_width(text, SMALL, bold=True) + 8
        row = 1 + max((taken for taken, start in spans if start < end), default=-1)
        spans.append((row, at))
        labels.append(Label(at, 14 + row * LABEL_HIGH, down, text))
    rows = 1 + max((row for row, _ in spans), default=-1)
    return labels, rows * LABEL_HIGH + 10


def flat_grid(scene: Scene, flat: Flat, left: float, top: float, unit: float) -> Iterator[Mark]:
    """The tints of what lies behind, and the thin lines between all cells."""
    colours = scene.colours
    right, bottom = left + len(flat.columns) * unit, top + len(flat.rows) * unit
    for j, row in enumerate(flat.rows):
        for i, column in enumerate(flat.columns):
            cell = flat.cell(column, row)
            if not scene.fills(cell) and scene.fills(beside(cell, flat.behind)):
                yield rectangle(left + i * unit, top + j * unit, unit, unit, colours["below"])
    for i in range(len(flat.columns) + 1):
        x = left + i * unit
        yield Mark("line", ((x, top), (x, bottom)), stroke=colours["grid"], width=1)
    for j in range(len(flat.rows) + 1):
        y = top + j * unit
        yield Mark("line", ((left, y), (right, y)), stroke=colours["grid"], width=1)


def flat_cell(scene: Scene, flat: Flat, cell: Cell, x: float, y: float, unit: float) -> Iterator[Mark]:
    """What stands in a cell, with its left upper corner at (x, y)."""
    stand = scene.stands.get(cell)
    if stand is None:
        return
    colours = scene.colours
    if stand.part.behaviour == "still":
        body = colours["block"] if scene.layout.conducts(cell) or stand.inert else colours["panel"]
        yield rectangle(x + 1, y + 1, unit - 2, unit - 2, body, colours["edge"], max(1.0, unit * 0.03))
    level = scene.level(cell)
    yield from paint(flat.shapes(cell), square(x, y, unit), unit, colours, level, scene.number(cell))
    if stand.part.row.shows_passed and level and unit >= NUMBERED:
        yield from corner_level(x + unit - 5, y + unit - 11, level, scene.is_strong(cell), colours)


def corner_level(right: float, y: float, level: int, strong: bool, colours: Colours) -> Iterator[Mark]:
    """The level that lies on a block, small in a corner, underlined if it is strong."""
    wide = text_width(str(level), LEAST_TEXT)
    yield words(right, y, str(level), LEAST_TEXT, colours["ink"], "end")
    if strong:
        yield Mark("line", ((right - wide, y + 6.5), (right, y + 6.5)), stroke=colours["ink"], width=1.2)


def _coordinates(flat: Flat, axes: tuple[str, str], left: float, top: float, colours: Colours) -> Iterator[Mark]:
    """The coordinates along the lower and the left edge."""
    soft = colours["soft"]
    below = top + len(flat.rows) * CELL + 12
    for i, column in enumerate(flat.columns):
        yield words(left + (i + 0.5) * CELL, below, str(column), SMALL, soft, "middle")
    for j, row in enumerate(flat.rows):
        yield words(left - 8, top + (j + 0.5) * CELL, str(row), SMALL, soft, "end")
    yield words(left - 8, below, f"{axes[1]} {axes[0]}", SMALL, soft, "end")


def titled(plan: Plan, what: str) -> str:
    """A title: that of the plan, then what of it is shown."""
    return f"{plan.title}: {what[0].lower()}{what[1:]}" if plan.title else what


def described(scene: Scene, notes: Iterable[str], cells: set[Cell] | None = None) -> str:
    """A description in words: how many parts of each kind are shown, what has a name, and which moment it is."""
    counts: dict[str, int] = {}
    for cell, stand in scene.stands.items():
        if (cells is None or cell in cells) and stand.posture != "arm":
            counts[stand.part.kind] = counts.get(stand.part.kind, 0) + 1
    parts = ", ".join(f"{number} {kind}" for kind, number in sorted(counts.items())) or "nothing"
    caption = scene.caption()
    pieces = [f"It holds {parts}.", *(f"{note}." for note in notes)]
    if caption:
        pieces.append(f"Shown is the {caption}.")
    return " ".join(pieces)


def title_width(plan: Plan) -> float:
    """How wide a picture should be for the title of the plan, within reason."""
    return min(text_width(plan.title, LARGE, bold=True) + 2 * MARGIN, WIDEST_FOR_TITLE)


def heading(scene: Scene, what: str, width: float, room: float | None = None, *, dated: bool = True) -> Iterator[Mark]:
    """The title of the plan, a line that says what is shown, and one (if `dated`) of the moment; these have `room`."""
    colours = scene.colours
    title = shortened(scene.plan.title or "Untitled plan", LARGE, width - 2 * MARGIN, bold=True)
    yield words(MARGIN, 20, title, LARGE, colours["ink"], bold=True)
    for row, text in enumerate(filter(None, (what, scene.caption() if dated else ""))):
        yield words(MARGIN, 41 + row * 18, shortened(text, SMALL, room or width - 24), SMALL, colours["soft"])


def footing(scene: Scene, left: float, top: float, width: float, notes: Iterable[str]) -> tuple[list[Mark], float]:
    """What stands below a drawing: the names, and the scale of levels if a moment is shown; and where it ends."""
    marks: list[Mark] = []
    for note in notes:
        for piece in lines_of(note, SMALL, width - left - 12):
            marks.append(words(left, top, piece, SMALL, scene.colours["soft"]))
            top += 16
    if scene.moment is not None:
        marks += scale_of_levels(left, top, scene.colours)
        top += 34
    return marks, top + 8


def scale_of_levels(x: float, y: float, colours: Colours) -> Iterator[Mark]:
    """The colours of levels 1 to 15 in a row, each with its number."""
    side = 20
    for level in range(1, HIGHEST_LEVEL + 1):
        fill = level_colour(colours, level)
        yield rectangle(x + (level - 1) * side, y, side, 16, fill)
        yield words(
            x + (level - 0.5) * side, y + 8, str(level), LEAST_TEXT, level_ink(colours, level), "middle", bold=True
        )
    yield words(x, y + 26, "level 1 to 15; 0 is an outline", SMALL, colours["soft"])


def square(x: float, y: float, side: float) -> Callable[[Point], Point]:
    """Lays the unit square on the square with its left upper corner at (x, y)."""
    return lambda point: (x + point[0] * side, y + point[1] * side)


def name_note(scene: Scene, cell: Cell) -> str:
    """A named cell in words."""
    names = ", ".join(scene.names[cell])
    roles = [
        role
        for role, table in (("trigger", scene.plan.triggers), ("output", scene.plan.outputs))
        if cell in table.values()
    ]
    stand = scene.stands.get(cell)
    return f"{names}: {' and '.join(roles)}, {stand.part if stand else 'open cell'} at {cell_text(cell)}"


def compass(x: float, y: float, north: Point, east: Point, colours: Colours) -> Iterator[Mark]:
    """A compass about (x, y): an arrow to the north, a line across, and the four letters."""
    soft = colours["soft"]
    yield Mark("line", ((x - east[0], y - east[1]), (x + east[0], y + east[1])), stroke=soft, width=1.2)
    yield Mark("line", ((x - north[0], y - north[1]), (x + north[0], y + north[1])), stroke=soft, width=1.2)
    tip = (x + north[0] * 1.15, y + north[1] * 1.15)
    wing = [
        (x + north[0] * 0.55 + side * east[0] * 0.25, y + north[1] * 0.55 + side * east[1] * 0.25) for side in (-1, 1)
    ]
    yield Mark("area", (tip, *wing), fill=soft, stroke=soft, width=1)
    for letter, (dx, dy) in {"N": north, "E": east, "S": (-north[0], -north[1]), "W": (-east[0], -east[1])}.items():
        yield words(x + dx * 1.75, y + dy * 1.75, letter, LEAST_TEXT, soft, "middle", bold=letter == "N")
