"""The whole plan seen from above one of its four corners, hidden faces left out."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, sin
from typing import TYPE_CHECKING, NamedTuple

from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS, Part, turned
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Drawing, Group, Mark, Point, text_width, words
from tickwright.publish.drawing import (
    SMALL,
    TEXT,
    Scene,
    Theme,
    chip,
    compass,
    described,
    footing,
    heading,
    name_note,
    paint,
    title_width,
    titled,
)
from tickwright.publish.symbols import Shape, turned_shape
from tickwright.rules import RuleSet
from tickwright.space import CLOCKWISE, DIRECTIONS, Cell

if TYPE_CHECKING:
    from tickwright.recording import Moment

# How often the world is turned clockwise so that the viewer, who stands above that corner, has it in front.
CORNERS = {"south-east": 0, "north-east": 1, "north-west": 2, "south-west": 3}
ACROSS, DOWN, UP = 42.0, 24.25, 48.5  # pixels: half a cell's width, half its depth, its height (30 degrees)
MOST_APART = 20
ROUND = 20  # corners of the polygon that stands for a circle
LABEL_HIGH = 20.0
Space = tuple[float, float, float]


class View(NamedTuple):
    """Where a corner of the plan lies in the picture: the world turned `turns` times, layers `apart` cells apart."""

    turns: int
    size: Cell
    apart: float

    def cell(self, cell: Cell) -> Cell:
        """The cell in the turned world."""
        x, y, z = cell
        wide, high, _ = self.size
        for _ in range(self.turns):
            x, y, wide, high = high - 1 - y, x, high, wide
        return x, y, z

    def extent(self) -> tuple[int, int, int]:
        """How many cells the turned world has along x, y and z."""
        wide, high, layers = self.size
        return (high, wide, layers) if self.turns % 2 else (wide, high, layers)

    def point(self, x: float, y: float, z: float, layer: int) -> Point:
        """A point of the turned world in the picture; `layer` is the layer it belongs to."""
        height = z + layer * self.apart
        return (ACROSS * (x - y), DOWN * (x + y) - UP * height)


def isometric_drawing(
    plan: Plan,
    rules: RuleSet,
    moment: Moment | None = None,
    theme: Theme = "light",
    corner: str = "south-east",
    apart: float = 0.0,
) -> Drawing:
    """The plan from above `corner`, as laid or at a moment of a run.

    With `apart` the layers are lifted off each other by so many cells. Faces that a full cell covers are left out.
    Raises UsageError for a corner that there is not and for layers too far apart.
    """
    if corner not in CORNERS:
        raise UsageError(f'There is no corner "{corner}".{near(corner, CORNERS)}')
    if not 0 <= apart <= MOST_APART:
        raise UsageError(f"Layers cannot lie {apart:g} cells apart: give 0 to {MOST_APART}.")
    scene = Scene(plan, rules, moment, theme)
    view = View(CORNERS[corner], plan.size, apart)
    order = sorted(scene.stands, key=lambda cell: (view.cell(cell)[2], sum(view.cell(cell)[:2]), view.cell(cell)))
    sight = _Sight(scene, view, order)
    groups = [Group(tuple(_floor(scene, view)))]
    groups += [
        Group(marks, scene.words(cell), ",".join(map(str, cell)))
        for cell in order
        if (marks := tuple(_cell_marks(scene, view, sight, cell)))
    ]
    numbers = [mark for cell in order for mark in _number(scene, view, sight, cell)]
    groups.append(Group(tuple(numbers)))
    return _framed(scene, view, sight, groups, corner)


class _Sight:
    """What is seen of the cells, drawn in `order`: the faces that no full cell covers whole, and covered points.

    The picture falls into triangles, half a face each: a full cell covers six of them, two by each of its faces.
    """

    def __init__(self, scene: Scene, view: View, order: list[Cell]) -> None:
        self._place = {cell: place for place, cell in enumerate(order)}
        self._full = []
        self.sides: dict[Cell, tuple[str, ...]] = {}  # the faces of each cell that are seen; "floor" of a flat symbol
        taken: set[tuple[int, int, bool, int]] = set()
        for cell in reversed(order):
            x, y, z = view.cell(cell)
            halves = _halves(x - z, y - z, z if view.apart else 0)
            full = _full(scene, cell)
            own = {side: half for side, half in halves.items() if (side != "floor") is full}
            self.sides[cell] = tuple(side for side, half in own.items() if not half <= taken)
            if scene.fills(cell):
                taken.update(*own.values())
                self._full.append((self._place[cell], view.point(x + 0.5, y + 0.5, z + 0.5, z)))

    def hides(self, cell: Cell, point: Point) -> bool:
        """Whether a cell drawn after this one covers the point; an open cell is drawn first."""
        place = self._place.get(cell, -1)
        return any(after > place and _in_outline(point, middle) for after, middle in self._full)


def _halves(i: int, j: int, layer: int) -> dict[str, set[tuple[int, int, bool, int]]]:
    """The two triangles of each face of the cell whose lower north-west corner falls on (i, j) of the picture's grid.

    Going up by a cell moves by (-1, -1) on that grid; each of its squares is cut in two along that way.
    """
    return {
        "up": {(i - 1, j - 1, True, layer), (i - 1, j - 1, False, layer)},
        "south": {(i, j, False, layer), (i - 1, j, True, layer)},
        "east": {(i, j, True, layer), (i, j - 1, False, layer)},
        "floor": {(i, j, True, layer), (i, j, False, layer)},
    }


def _in_outline(point: Point, middle: Point) -> bool:
    """Whether a point lies within the outline of the full cell about `middle`: a hexagon that stands on a corner."""
    across, up = abs(point[0] - middle[0]), abs(point[1] - middle[1])
    return across < ACROSS and up < UP - DOWN * across / ACROSS


def _framed(scene: Scene, view: View, sight: _Sight, groups: list[Group], corner: str) -> Drawing:
    """The cells set into a picture with heading, names, compass and footing."""
    colours = scene.colours
    notes = [name_note(scene, cell) for cell in scene.names]
    xs, ys = zip(*(point for group in groups for mark in group.marks for point in mark.points), strict=True)
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
    labels = list(_labels(scene, view, sight, right + 34, top))
    label_width = max((text_width(mark.text, TEXT) for mark in labels if mark.form == "text"), default=0.0)
    width = max(right - left + 34 + max(label_width, 60) + 60, 500.0, title_width(scene.plan))
    head = 120.0 if scene.moment is not None else 103.0
    shift = (40.0 - left, head - top)
    bottom = max([bottom, *(point[1] + 8 for mark in labels for point in mark.points)]) + shift[1]
    moved = [Group(tuple(_moved(mark, shift) for mark in group.marks), group.label, group.key) for group in groups]
    moved.append(Group(tuple(_moved(mark, shift) for mark in labels)))
    north = _direction("north", view.turns)
    east = _direction("east", view.turns)
    moved.append(Group(tuple(compass(width - 60, 84, north, east, colours))))
    what = f"From above the {corner} corner" + (", layers apart" if view.apart else "")
    moved.insert(0, Group(tuple(heading(scene, what, width, width - 120))))
    foot, height = footing(scene, 12, bottom + 26, width, notes)
    moved.append(Group(tuple(foot)))
    title = titled(scene.plan, what)
    return Drawing(width, height, colours["ground"], title, described(scene, notes), tuple(moved))


def _moved(mark: Mark, shift: Point) -> Mark:
    return mark._replace(points=tuple((x + shift[0], y + shift[1]) for x, y in mark.points))


def _direction(side: str, turns: int) -> Point:
    """Where a direction of the world points in the picture, as long as a needle of the compass."""
    for _ in range(turns):
        side = CLOCKWISE[side]
    dx, dy = {"north": (0, -1), "south": (0, 1), "east": (1, 0), "west": (-1, 0)}[side]
    return (0.5 * ACROSS * (dx - dy), 0.5 * DOWN * (dx + dy))


def _floor(scene: Scene, view: View) -> Iterator[Mark]:
    """The floor as a faint grid, and the coordinates along its two front edges and one upright one."""
    colours = scene.colours
    wide, deep, layers = view.extent()
    for x in range(wide + 1):
        yield Mark("line", (view.point(x, 0, 0, 0), view.point(x, deep, 0, 0)), stroke=colours["faint"], width=1)
    for y in range(deep + 1):
        yield Mark("line", (view.point(0, y, 0, 0), view.point(wide, y, 0, 0)), stroke=colours["faint"], width=1)
    turns, (x_cells, y_cells, _) = view.turns, view.size
    along_x = {view.cell((x, 0, 0))[turns % 2]: f"x{x}" for x in range(x_cells)}
    along_y = {view.cell((0, y, 0))[1 - turns % 2]: f"y{y}" for y in range(y_cells)}
    left, right = (along_y, along_x) if turns % 2 else (along_x, along_y)
    ink = colours["ink"]
    for place, text in left.items():
        px, py = view.point(place + 0.5, deep + 0.4, 0, 0)
        yield words(px, py, text, SMALL, ink, "middle")
    for place, text in right.items():
        px, py = view.point(wide + 0.4, place + 0.5, 0, 0)
        yield words(px, py, text, SMALL, ink, "middle")
    for z in range(layers):
        px, py = view.point(0, deep, z + 0.5, z)
        yield words(px - 8, py, f"z{z}", SMALL, ink, "end")


def _cell_marks(scene: Scene, view: View, sight: _Sight, cell: Cell) -> Iterator[Mark]:
    """What is seen of a cell: the faces that nothing covers with its symbol on the first of them, or a flat symbol."""
    stand = scene.stands[cell]
    level = scene.level(cell)
    x, y, z = view.cell(cell)
    full = PARTS[stand.part.kind].support is None and stand.posture != "arm"
    part = turned(stand.part, view.turns)
    if not full:
        rise = (
            0.5 if stand.posture == "arm" or (PARTS[part.kind].support == "facing" and part.facing != "down") else 0.0
        )
        face = _Face((x, y, z + rise), (1, 0, 0), (0, 1, 0), z)
        if view.apart:
            yield _outline(view, face._replace(origin=(x, y, z)), "none", scene.colours["edge"], dashed=True)
        yield from _on_face(scene, view, face, _shapes(scene, view, cell, part), level)
        return
    body = scene.body(cell)
    seen = _faces(view, sight, cell)
    for side, face, _ in seen:
        role = body if side == "up" else {"solid": "right", "paper": "left"}[body] if side == "east" else "left"
        yield _outline(view, face, scene.colours[role], scene.colours["edge"], dashed=stand.inert)
    if seen:
        _, face, facing = seen[0]
        shapes = scene.shapes(cell, facing.get(part.facing or "")) if part.facing else scene.shapes(cell)
        yield from _on_face(scene, view, face, shapes, level)


def _full(scene: Scene, cell: Cell) -> bool:
    """Whether the part in the cell is drawn as a full cell, at rest or on its way."""
    stand = scene.stands[cell]
    return PARTS[stand.part.kind].support is None and stand.posture != "arm"


def _lying(scene: Scene, view: View, cell: Cell) -> _Face:
    """The face on which a flat symbol lies: the floor of its cell, half way up for an arm and what hangs on a side."""
    stand = scene.stands[cell]
    hangs = PARTS[stand.part.kind].support == "facing" and stand.part.facing != "down"
    x, y, z = view.cell(cell)
    return _Face((x, y, z + (0.5 if hangs or stand.posture == "arm" else 0.0)), (1, 0, 0), (0, 1, 0), z)


def _number(scene: Scene, view: View, sight: _Sight, cell: Cell) -> Iterator[Mark]:
    """The number that a cell shows, on its symbol, where no other cell covers it."""
    if not scene.value(cell):
        return
    faces = [face for _, face, _ in _faces(view, sight, cell)] if _full(scene, cell) else [_lying(scene, view, cell)]
    if faces and not sight.hides(cell, at := faces[0].place(view, (0.8, 0.8))):
        yield from chip(scene, cell, *at)


class _Face(NamedTuple):
    """A square in the turned world: the corner where its symbol begins, and the ways in which its x and y run."""

    origin: Space
    along: Space
    across: Space
    layer: int

    def place(self, view: View, point: Point) -> Point:
        """A point of the unit square in the picture."""
        (x, y, z), (ax, ay, az), (cx, cy, cz), layer = self
        a, c = point
        return view.point(x + ax * a + cx * c, y + ay * a + cy * c, z + az * a + cz * c, layer)


def _outline(view: View, face: _Face, fill: str, stroke: str, *, dashed: bool) -> Mark:
    corners = tuple(face.place(view, corner) for corner in ((0, 0), (1, 0), (1, 1), (0, 1)))
    return Mark("area", corners, fill=fill, stroke=stroke, width=1, dashed=dashed)


# How a side of a cell is seen: where its symbol begins, which ways it runs, and where a direction points on it.
_SIDES: dict[str, tuple[Space, Space, Space, dict[str, str]]] = {
    "up": ((0, 0, 1), (1, 0, 0), (0, 1, 0), {way: way for way in DIRECTIONS}),
    "south": (
        (0, 1, 1), (1, 0, 0), (0, 0, -1),
        {"north": "down", "south": "up", "east": "east", "west": "west", "up": "north", "down": "south"},
    ),
    "east": (
        (1, 1, 1), (0, -1, 0), (0, 0, -1),
        {"north": "east", "south": "west", "east": "up", "west": "down", "up": "north", "down": "south"},
    ),
}  # fmt: skip


def _faces(view: View, sight: _Sight, cell: Cell) -> list[tuple[str, _Face, dict[str, str]]]:
    """The faces of a full cell that are seen, top first, and where directions of the turned world point on each."""
    x, y, z = view.cell(cell)
    found = []
    for side in sight.sides[cell]:
        (dx, dy, dz), along, across, facing = _SIDES[side]
        found.append((side, _Face((x + dx, y + dy, z + dz), along, across, z), facing))
    return found


def _shapes(scene: Scene, view: View, cell: Cell, part: Part) -> tuple[Shape, ...]:
    """The shapes of a part that lies, turned as the world is."""
    if part.kind == "wire":
        return tuple(turned_shape(shape, view.turns) for shape in scene.shapes(cell))
    return scene.shapes(cell, part.facing)


def _on_face(scene: Scene, view: View, face: _Face, shapes: tuple[Shape, ...], level: int | None) -> Iterator[Mark]:
    """Shapes on a face: circles become polygons, for a face is seen aslant; texts stay upright."""
    flat = [_polygon(shape) if shape.form == "circle" else shape for shape in shapes]
    yield from paint(flat, lambda point: face.place(view, point), 1.55 * DOWN, scene.colours, level)


def _polygon(shape: Shape) -> Shape:
    ((x, y),) = shape.points
    angles = [2 * pi * corner / ROUND for corner in range(ROUND)]
    points = tuple((x + shape.radius * cos(angle), y + shape.radius * sin(angle)) for angle in angles)
    return shape._replace(form="area", points=points)


def _labels(scene: Scene, view: View, sight: _Sight, x: float, top: float) -> Iterator[Mark]:
    """The names in a column at the right, each with a line to its cell; the dot of a cell that is hidden is hollow."""
    colours = scene.colours
    anchors = []
    for cell, names in scene.names.items():
        stand = scene.stands.get(cell)
        tall = stand is not None and PARTS[stand.part.kind].support is None
        tx, ty, tz = view.cell(cell)
        anchor = view.point(tx + 0.5, ty + 0.5, tz + (1.0 if tall else 0.1), tz)
        anchors.append((anchor, ", ".join(names), sight.hides(cell, anchor)))
    y = top
    for (px, py), name, hidden in sorted(anchors, key=lambda label: label[0][1]):
        y = max(y + LABEL_HIGH, py)
        for colour, width in ((colours["ground"], 4.0), (colours["name"], 1.5)):
            yield Mark("line", ((px, py), (x - 14, y), (x - 5, y)), stroke=colour, width=width)
        fill, stroke = (colours["ground"], colours["name"]) if hidden else (colours["name"], colours["ground"])
        yield Mark("circle", ((px, py),), 4.0, fill=fill, stroke=stroke, width=1.5)
        yield words(x, y, name, TEXT, colours["name"], bold=True)
