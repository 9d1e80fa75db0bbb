"""Drawings of a plan, layer by layer: what stands where, how wires join and point, and what each cell shows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, Literal, NamedTuple

from tickwright.durations import seconds_text, ticks_text
from tickwright.errors import UsageError
from tickwright.kinds import CONTAINERS, PARTS
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Drawing, Group, Mark, Point, lines_of, rectangle, shortened, text_width, words
from tickwright.publish.palette import HIGHEST_LEVEL, THEMES, level_colour, over
from tickwright.publish.symbols import Shape, symbol, wire_symbol
from tickwright.rules import RuleSet
from tickwright.rules.layout import Layout, Stand
from tickwright.rules.wire import joins, points
from tickwright.space import Cell, beside, cell_text

if TYPE_CHECKING:
    from tickwright.recording import Moment

Theme = Literal["light", "dark"]
Colours = Mapping[str, str]

CELL = 56.0  # pixels along a cell of a layer
WIDEST_FOR_TITLE = 900.0
SMALL, TEXT, LARGE = 11.0, 13.0, 17.0  # sizes of text


def cell_shapes(layout: Layout, cell: Cell, on: bool = False, facing: str | None = None) -> tuple[Shape, ...]:
    """The shapes of what stands in a cell that is not empty, wires as the rules see them.

    `facing` is where a part faces in the picture, if not as in the world.
    """
    stand = layout.stands[cell]
    if stand.part.kind == "wire" and stand.posture == "rest":
        return _wire_shapes(layout, cell)
    part = stand.part if facing is None or stand.part.facing is None else stand.part._replace(facing=facing)
    return symbol(part, on, stand.posture)


def _wire_shapes(layout: Layout, cell: Cell) -> tuple[Shape, ...]:
    joined = joins(layout, cell)
    flat = [side for side in joined if layout.kind(beside(cell, side)) == "wire"]
    up = [side for side in joined if side not in flat and layout.kind(beside(beside(cell, side), "up")) == "wire"]
    down = [side for side in joined if layout.kind(beside(beside(cell, side), "down")) == "wire"]
    roofed = layout.conducts(beside(cell, "up"))
    climbing = [side for side in up if not roofed and layout.carries(beside(cell, side), "up")]
    dropping = [side for side in down if side not in (*flat, *climbing) and not layout.conducts(beside(cell, side))]
    return wire_symbol(joined, points(layout, cell), climbing, dropping)


class Scene:
    """What a drawing shows: the cells at one moment (or as laid), the colours, and the shapes of each part."""

    def __init__(self, plan: Plan, rules: RuleSet, moment: Moment | None, theme: Theme) -> None:
        self.plan = plan
        self.moment = moment
        self.colours = THEMES[theme]
        laid = {cell: Stand(part) for cell, part in plan.cells.items()}
        self.stands: Mapping[Cell, Stand] = laid if moment is None else moment.stands
        self.layout = Layout(self.stands, rules)
        self.names: dict[Cell, list[str]] = {}
        for table in (plan.triggers, plan.outputs):
            for name, cell in table.items():
                if name not in self.names.setdefault(cell, []):
                    self.names[cell].append(name)

    def value(self, cell: Cell) -> int | None:
        """What the cell shows; None if no moment of a run is drawn."""
        return None if self.moment is None else self.moment.values.get(cell, 0)

    def level(self, cell: Cell) -> int | None:
        """The level that colours the cell's symbol; None for none, and for a container, which holds a count."""
        stand = self.stands[cell]
        value = self.value(cell)
        return None if stand.part.kind in CONTAINERS or not value else value

    def fills(self, cell: Cell) -> bool:
        """Whether a part at rest fills the whole cell there, so that nothing behind it is seen."""
        stand = self.stands.get(cell)
        return stand is not None and not stand.inert and PARTS[stand.part.kind].support is None

    def body(self, cell: Cell) -> str:
        """The role of the colour of a full cell: "solid" if it conducts."""
        return "solid" if self.layout.conducts(cell) else "paper"

    def shapes(self, cell: Cell, facing: str | None = None) -> tuple[Shape, ...]:
        """The shapes of what stands in the cell; `facing` is where it faces in the picture, if not as in the world."""
        part = self.stands[cell].part
        return cell_shapes(self.layout, cell, bool(self.value(cell)) or (self.moment is None and part.thrown), facing)

    def words(self, cell: Cell) -> str:
        """What stands in the cell and what it shows, in words."""
        stand = self.stands.get(cell)
        what = "open cell" if stand is None else str(stand.part)
        if stand is not None and stand.posture != "rest":
            what += {"out": ", extended", "arm": ", its arm", "moving": ", on its way", "back": ""}[stand.posture]
        value = self.value(cell)
        if value is not None and stand is not None:
            what += f", holds {value}" if stand.part.kind in CONTAINERS else f", level {value}"
        named = f" ({', '.join(self.names[cell])})" if cell in self.names else ""
        return f"{cell_text(cell)}{named}: {what}"

    def caption(self) -> str:
        """Which moment is shown."""
        if self.moment is None:
            return ""
        step = self.moment.step
        return f"end of step {step} ({seconds_text(step)}, {ticks_text(step)})"


class Window(NamedTuple):
    """Which columns and rows of a layer are shown."""

    xs: range
    ys: range

    def holds(self, cell: Cell) -> bool:
        """Whether the cell, of whatever layer, is within."""
        return cell[0] in self.xs and cell[1] in self.ys


def windows(plan: Plan, most_across: int, most_down: int) -> list[Window]:
    """The layers of a plan cut into pieces of at most so many cells, as equal as may be, from the north-west on.

    >>> windows(Plan({}, size=(50, 3, 2)), 40, 40)
    [Window(xs=range(0, 25), ys=range(0, 3)), Window(xs=range(25, 50), ys=range(0, 3))]
    """

    def cuts(length: int, most: int) -> list[range]:
        pieces = max(ceil(length / most), 1)
        ends = [length * piece // pieces for piece in range(pieces + 1)]
        return [range(start, end) for start, end in pairwise(ends)]

    return [Window(xs, ys) for ys in cuts(plan.size[1], most_down) for xs in cuts(plan.size[0], most_across)]


def layer_drawing(
    plan: Plan,
    rules: RuleSet,
    z: int,
    moment: Moment | None = None,
    theme: Theme = "light",
    window: Window | None = None,
) -> Drawing:
    """The layer `z` of a plan from above, north up, as laid or at a moment of a run; or what of it is in a window.

    Cells of the layer below are hinted at where this one is empty. Raises UsageError for a layer that the plan has not.
    """
    if not 0 <= z < max(plan.size[2], 1):
        raise UsageError(f"The plan has no layer {z}: it has the layers 0 to {plan.size[2] - 1}.")
    scene = Scene(plan, rules, moment, theme)
    colours = scene.colours
    shown = window or Window(range(plan.size[0]), range(plan.size[1]))
    wide, high = len(shown.xs), len(shown.ys)
    named = {cell: names for cell, names in scene.names.items() if cell[2] == z and shown.holds(cell)}
    left, top = 44.0, 102.0 if moment is not None else 85.0
    width = max(left + wide * CELL + 84, 420.0, title_width(plan))
    where = f"Layer z = {z} of 0 to {plan.size[2] - 1}"
    if wide < plan.size[0]:
        where += f", x {shown.xs[0]} to {shown.xs[-1]}"
    if high < plan.size[1]:
        where += f", y {shown.ys[0]} to {shown.ys[-1]}"
    groups = [Group(tuple(heading(scene, f"{where}, from above", width)))]
    groups.append(Group(tuple(_axes(scene, shown, left, top))))
    corner = (left - shown.xs.start * CELL, top - shown.ys.start * CELL)  # where the cell (0, 0) would begin
    for y in shown.ys:
        for x in shown.xs:
            cell = (x, y, z)
            marks = tuple(_cell_marks(scene, cell, corner[0] + x * CELL, corner[1] + y * CELL))
            filled = cell in scene.stands or cell in named
            groups.append(Group(marks, scene.words(cell) if filled else "", f"{x},{y},{z}" if filled else ""))
    tags = [
        mark
        for (x, y, _), names in named.items()
        for mark in _tag(", ".join(names), corner[0] + x * CELL, corner[1] + y * CELL, colours)
    ]
    groups.append(Group(tuple(tags)))
    bottom = top + high * CELL + 22
    notes = [name_note(scene, cell) for cell in named]
    foot, height = footing(scene, left, bottom, width, notes)
    groups.append(Group(tuple(foot)))
    return Drawing(
        width, height, colours["ground"], titled(plan, where), described(scene, notes, z, shown), tuple(groups)
    )


def titled(plan: Plan, what: str) -> str:
    """A title: that of the plan, then what of it is shown."""
    return f"{plan.title}: {what[0].lower()}{what[1:]}" if plan.title else what


def described(scene: Scene, notes: Iterable[str], z: int | None = None, window: Window | None = None) -> str:
    """A description in words: how many parts of each kind are shown, what has a name, and which moment it is."""
    counts: dict[str, int] = {}
    for cell, stand in scene.stands.items():
        if (z is None or cell[2] == z) and (window is None or window.holds(cell)) and stand.posture != "arm":
            counts[stand.part.kind] = counts.get(stand.part.kind, 0) + 1
    parts = ", ".join(f"{number} {kind}" for kind, number in sorted(counts.items())) or "nothing"
    caption = scene.caption()
    pieces = [f"It holds {parts}.", *(f"{note}." for note in notes)]
    if caption:
        pieces.append(f"Shown is the {caption}.")
    return " ".join(pieces)


def title_width(plan: Plan) -> float:
    """How wide a picture should be for the title of the plan, within reason."""
    return min(text_width(plan.title, LARGE) + 30, WIDEST_FOR_TITLE)


def heading(scene: Scene, what: str, width: float, room: float | None = None) -> Iterator[Mark]:
    """The title of the plan, a line that says what is shown, and one that says which moment; these have `room`."""
    ink = scene.colours["ink"]
    yield words(12, 20, shortened(scene.plan.title or "Untitled plan", LARGE, width - 24), LARGE, ink, bold=True)
    for row, text in enumerate(filter(None, (what, scene.caption()))):
        yield words(12, 42 + row * 17, shortened(text, TEXT, room or width - 24), TEXT, ink)


def footing(scene: Scene, left: float, top: float, width: float, notes: Iterable[str]) -> tuple[list[Mark], float]:
    """What stands below a drawing: the names, and the scale of levels if a moment is shown; and where it ends."""
    marks: list[Mark] = []
    for note in notes:
        for piece in lines_of(note, SMALL, width - left - 12):
            marks.append(words(left, top, piece, SMALL, scene.colours["ink"]))
            top += 16
    if scene.moment is not None:
        marks += scale_of_levels(left, top, scene.colours)
        top += 32
    return marks, top + 6


def scale_of_levels(x: float, y: float, colours: Colours) -> Iterator[Mark]:
    """The colours of levels 0 to 15 in a row, each with its number."""
    yield words(x, y + 8, "level", SMALL, colours["ink"])
    x += 42
    for level in range(HIGHEST_LEVEL + 1):
        fill = level_colour(level) if level else colours["paper"]
        yield rectangle(x + level * 20, y, 20, 16, fill, colours["edge"])
        ink = over(fill)
        yield words(x + level * 20 + 10, y + 8, str(level), SMALL, ink, "middle")


def paint(
    shapes: Iterable[Shape], place: Callable[[Point], Point], unit: float, colours: Colours, level: int | None
) -> Iterator[Mark]:
    """The marks of shapes laid on the picture by `place`, a cell being `unit` pixels long there.

    Circles are kept as circles: `place` must not distort. With no level (or 0) what shows one is left neutral.
    """
    lit = level_colour(level) if level else colours["paper"]
    roles = {**colours, "level": lit, "over": over(lit) if level else colours["ink"], "none": "none"}
    for shape in shapes:
        at = tuple(place(point) for point in shape.points)
        fill, stroke = roles[shape.fill], roles[shape.stroke]
        if shape.form == "text":
            yield Mark("text", at, shape.radius * unit, shape.text, fill, bold=True)
        else:
            yield Mark(shape.form, at, shape.radius * unit, "", fill, stroke, shape.width * unit, shape.dashed)


def chip(scene: Scene, cell: Cell, x: float, y: float) -> Iterator[Mark]:
    """The number that a cell shows, on its colour, in a box about (x, y); nothing for 0."""
    value = scene.value(cell)
    if not value:
        return
    level = scene.level(cell)
    fill = level_colour(level) if level else scene.colours["ground"]
    wide, high = text_width(str(value), SMALL) + 5, SMALL + 3
    yield rectangle(x - wide / 2, y - high / 2, wide, high, fill, scene.colours["ink"])
    yield words(x, y, str(value), SMALL, over(fill), "middle", bold=True)


def _cell_marks(scene: Scene, cell: Cell, x: float, y: float) -> Iterator[Mark]:
    colours = scene.colours
    stand = scene.stands.get(cell)
    below = beside(cell, "down") in scene.stands
    if stand is None:
        yield rectangle(x, y, CELL, CELL, colours["faint"] if below else colours["ground"], colours["faint"])
        return
    full = PARTS[stand.part.kind].support is None and stand.posture != "arm"
    fill = colours[scene.body(cell)] if full else colours["faint"] if below else colours["ground"]
    outline = rectangle(x, y, CELL, CELL, fill, colours["edge"])
    yield outline._replace(dashed=True) if stand.inert else outline
    yield from paint(scene.shapes(cell), square(x, y, CELL), CELL, colours, scene.level(cell))
    yield from chip(scene, cell, x + CELL - 12, y + CELL - 10)


def square(x: float, y: float, side: float) -> Callable[[Point], Point]:
    """Lays the unit square on the square with its left upper corner at (x, y)."""
    return lambda point: (x + point[0] * side, y + point[1] * side)


def _tag(name: str, x: float, y: float, colours: Colours) -> Iterator[Mark]:
    """A frame round a cell that has a name, and the name over its upper edge."""
    yield rectangle(x + 1.5, y + 1.5, CELL - 3, CELL - 3, "none", colours["name"], 3)
    shown = shortened(name, SMALL, CELL + 8)
    wide = text_width(shown, SMALL) + 6
    yield rectangle(x + CELL / 2 - wide / 2, y - 10, wide, 15, colours["ground"], colours["name"])
    yield words(x + CELL / 2, y - 2.5, shown, SMALL, colours["name"], "middle", bold=True)


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


def _axes(scene: Scene, shown: Window, left: float, top: float) -> Iterator[Mark]:
    """Coordinates along the upper and the left edge, and the compass."""
    ink = scene.colours["ink"]
    yield words(left - 8, top - 24, "y  x", SMALL, ink, "end")
    for column, x in enumerate(shown.xs):
        yield words(left + (column + 0.5) * CELL, top - 24, str(x), SMALL, ink, "middle")
    for row, y in enumerate(shown.ys):
        yield words(left - 14, top + (row + 0.5) * CELL, str(y), SMALL, ink, "end")
    yield from compass(left + len(shown.xs) * CELL + 40, top + 22, (0.0, -18.0), (18.0, 0.0), scene.colours)


def compass(x: float, y: float, north: Point, east: Point, colours: Colours) -> Iterator[Mark]:
    """A compass about (x, y): an arrow to the north, a line across, and the four letters."""
    ink = colours["ink"]
    yield Mark("line", ((x - east[0], y - east[1]), (x + east[0], y + east[1])), stroke=ink, width=1.5)
    yield Mark("line", ((x - north[0], y - north[1]), (x + north[0], y + north[1])), stroke=ink, width=1.5)
    tip = (x + north[0] * 1.15, y + north[1] * 1.15)
    wing = [
        (x + north[0] * 0.55 + side * east[0] * 0.25, y + north[1] * 0.55 + side * east[1] * 0.25) for side in (-1, 1)
    ]
    yield Mark("area", (tip, *wing), fill=ink, stroke=ink, width=1)
    for letter, (dx, dy) in {"N": north, "E": east, "S": (-north[0], -north[1]), "W": (-east[0], -east[1])}.items():
        yield words(x + dx * 1.6, y + dy * 1.6, letter, SMALL, ink, "middle", bold=letter == "N")
