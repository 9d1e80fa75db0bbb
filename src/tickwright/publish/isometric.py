"""The whole plan from above one of its four corners, as built or with its layers lifted off each other."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from math import cos, pi, sin
from typing import TYPE_CHECKING, NamedTuple

from tickwright.errors import UsageError, near
from tickwright.kinds import PARTS, turned
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Drawing, Group, Mark, Point, words
from tickwright.publish.drawing import (
    LABEL_HIGH,
    SMALL,
    compass,
    corner_level,
    described,
    footing,
    heading,
    name_note,
    title_width,
    titled,
)
from tickwright.publish.letters import text_width
from tickwright.publish.shapes import Shape, turned_shape
from tickwright.publish.shown import NUMBERED_3D, Scene, paint
from tickwright.publish.tokens import TOKENS, Theme, wire_width
from tickwright.rules import RuleSet
from tickwright.space import CLOCKWISE, DIRECTIONS, Cell, beside

if TYPE_CHECKING:
    from tickwright.recording import Moment

# How often the world is turned clockwise so that the viewer, who stands above that corner, has it in front.
CORNERS = {"south-east": 0, "north-east": 1, "north-west": 2, "south-west": 3}
UNIT = 48.0  # pixels of a cell along the first axis
(UX, UY), (VX, VY), WZ = TOKENS["axes"]["x"], TOKENS["axes"]["y"], TOKENS["axes"]["z"]
PLATE, AIR = TOKENS["axes"]["margin"], TOKENS["axes"]["air"]
MOST_APART = 20
CROSSED = 60.0  # pixels of a way round that a number is worth which a line to a name would cross
MANY_ROWS = 8  # from so many on a coordinate at the right may make room for a name
ASIDE = 2.0  # cells between layers that stand side by side
LOW = 0.25  # of its height: a full cell that stands before a part of its own layer
ROUND = 20  # corners of the polygon that stands for a circle
Space = tuple[float, float, float]


def lifting_gap(wide: int, deep: int) -> float:
    """How many heights of a cell lie between two lifted layers of `wide` by `deep` cells, so that none covers another.

    The chord is the longest upright line within a layer's plate on paper.

    >>> round(lifting_gap(7, 1), 2) < round(lifting_gap(7, 5), 2)
    True
    """
    across = abs(UX * VY - UY * VX)
    chord = min((deep + 2 * PLATE) * across / UX, (wide + 2 * PLATE) * across / abs(VX))
    return float((chord + AIR) / WZ)


class View(NamedTuple):
    """Where a corner of the plan lies in the picture: the world turned `turns` times, layers `apart` heights apart.

    Layers that stand side by side lie `aside` cells apart.
    """

    turns: int
    size: Cell
    apart: float
    unit: float = UNIT
    aside: float = 0.0

    @property
    def parted(self) -> bool:
        """Whether each layer is seen by itself."""
        return bool(self.apart or self.aside)

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
        height = z + layer * self.apart - (layer if self.aside else 0)
        x += layer * self.aside
        return (self.unit * (UX * x + VX * y), self.unit * (UY * (x - layer * self.aside) + VY * y - WZ * height))


def isometric_drawing(
    plan: Plan,
    rules: RuleSet,
    moment: Moment | None = None,
    theme: Theme = "light",
    corner: str = "south-east",
    apart: float | None = 0.0,
    bare: bool = False,
    memo: Memo | None = None,
    marked: Collection[Cell] = (),
    dated: bool = True,
    unit: float = UNIT,
    aside: bool = False,
) -> Drawing:
    """The plan from above `corner`, as laid or at a moment of a run, `unit` pixels a cell.

    With `apart` the layers are lifted off each other by so many cells; with None, by just so much that none covers
    another, or, if `aside`, they stand side by side from the lowest on. A `bare` drawing is without title, compass and
    notes. One that is not `dated`, as for a film, says neither which moment it shows nor, below it, what is named.
    `marked` cells have a bold outline. Raises UsageError for a corner that there is not and for layers too far apart.
    """
    if corner not in CORNERS:
        raise UsageError(f'There is no corner "{corner}".{near(corner, CORNERS)}')
    turns = CORNERS[corner]
    view = View(turns, plan.size, 0.0, unit)
    if apart is None and plan.size[2] > 1:
        wide, deep, _ = view.extent()
        view = view._replace(aside=wide + ASIDE) if aside else view._replace(apart=lifting_gap(wide, deep))
    elif apart is not None and not 0 <= apart <= MOST_APART:
        raise UsageError(f"Layers cannot lie {apart:g} cells apart: give 0 to {MOST_APART}.")
    elif apart is not None:
        view = view._replace(apart=apart)
    memo = memo if memo is not None else Memo()
    scene = memo.scene_of(plan, rules, moment, theme, view)
    groups = [memo.floor]
    for cell in memo.order:
        key = (cell, scene.look(cell))
        group = memo.cells.get(key)
        if group is None:
            marks = tuple(_cell_marks(scene, view, memo.sight, cell))
            group = memo.cells[key] = Group(marks, scene.words(cell), ",".join(map(str, cell)))
        if group.marks:
            groups.append(group)
    if marked:
        groups.append(Group(tuple(mark for cell in sorted(marked) for mark in _marked(scene, view, cell))))
    return _framed(scene, view, groups, corner, memo, bare=bare, dated=dated)


class Memo:
    """What the pictures of one run have in common, as long as the same stands where."""

    sight: _Sight
    floor: Group
    order: list[Cell]

    def __init__(self) -> None:
        self.scene: Scene | None = None
        self.cells: dict[tuple[Cell, tuple[object, ...]], Group] = {}
        self.labels: list[Mark] | None = None
        self.box: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
        self._moved: dict[tuple[int, Point], tuple[Group, Group]] = {}

    def scene_of(self, plan: Plan, rules: RuleSet, moment: Moment | None, theme: Theme, view: View) -> Scene:
        """The scene at a moment; what is kept is let go if other things stand."""
        if self.scene is not None and moment is not None and moment.stands is self.scene.stands:
            return self.scene.at(moment)
        self.scene = scene = Scene(plan, rules, moment, theme)
        self.order = sorted(
            scene.stands, key=lambda cell: (view.cell(cell)[2], sum(view.cell(cell)[:2]), view.cell(cell))
        )
        self.sight = _Sight(scene, view, self.order)
        self.floor = Group(tuple(_floor(scene, view)))
        self.labels = None
        self.cells.clear()
        self._moved.clear()
        return scene

    def moved(self, group: Group, shift: Point) -> Group:
        """The group where it lies in the picture; the same one for the same group."""
        found = self._moved.get((id(group), shift))
        if found is None or found[0] is not group:
            moved = Group(tuple(_moved(mark, shift) for mark in group.marks), group.label, group.key)
            found = self._moved[id(group), shift] = group, moved
        return found[1]


class _Sight:
    """The faces of full cells that no other full cell beside them covers; what lies farther off is drawn over."""

    def __init__(self, scene: Scene, view: View, order: list[Cell]) -> None:
        full = {view.cell(cell) for cell in order if scene.fills(cell)}
        self.sides: dict[Cell, tuple[str, ...]] = {}
        self.low: set[Cell] = set()  # drawn low, so that it hides no part behind it in its layer
        flat = {view.cell(cell) for cell in order} - full
        for cell in order:
            if scene.fills(cell):
                at = view.cell(cell)
                seen = [side for side in ("south", "east") if beside(at, side) not in full]
                top = view.parted or beside(at, "up") not in full
                self.sides[cell] = ("up", *seen) if top else tuple(seen)
                x, y, z = at
                if view.parted and {(x, y - 1, z), (x - 1, y - 1, z)} & flat:
                    self.low.add(cell)


def _framed(
    scene: Scene, view: View, groups: list[Group], corner: str, memo: Memo, *, bare: bool, dated: bool
) -> Drawing:
    """The cells set into a picture with heading, names, compass and footing."""
    colours = scene.colours
    notes = [name_note(scene, cell) for cell in scene.names]
    if memo.labels is None:
        memo.labels, memo.box = _labelled(scene, view, groups)
        memo.floor = groups[0] = _clear_of_leaders(memo.floor, view, memo.labels)
    labels, (left, top, right, bottom) = memo.labels, memo.box
    if bare:
        return _bare(scene, view, groups, labels, (left - 4, top - 10, right + 4, bottom + 4), notes)
    width = max(right - left + 48 + 72, 420.0, title_width(scene.plan))
    head = 84.0 if scene.moment is not None and dated else 66.0
    shift = (24.0 - left, head - top)
    moved = [memo.moved(group, shift) for group in groups]
    moved.append(Group(tuple(_moved(mark, shift) for mark in labels)))
    north, east = _direction("north", view), _direction("east", view)
    moved.append(Group(tuple(compass(width - 46, head + 12, north, east, colours))))
    what = f"From above the {corner} corner" + (
        ", layers lifted apart" if view.apart else ", layers side by side" if view.aside else ""
    )
    moved.insert(0, Group(tuple(heading(scene, what, width, width - 120, dated=dated))))
    foot, height = footing(scene, 16, bottom + shift[1] + 26, width, notes if dated else ())
    moved.append(Group(tuple(foot)))
    title = titled(scene.plan, what)
    return Drawing(width, height, colours["panel"], title, described(scene, notes), tuple(moved))


def _labelled(scene: Scene, view: View, groups: list[Group]) -> tuple[list[Mark], tuple[float, float, float, float]]:
    """The names of the cells, and the box that they and all groups take: left, top, right and bottom."""
    xs, ys = zip(*(point for group in groups for mark in group.marks for point in mark.points), strict=True)
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
    right += text_width("layer 00", SMALL) - 8
    labels = list(_labels(scene, view, groups, left, right))
    texts = [mark for mark in labels if mark.form == "text"]
    reach = [
        (
            mark.points[0][0] - (text_width(mark.text, SMALL, bold=True) if mark.anchor == "end" else 0),
            mark.points[0][0] + (text_width(mark.text, SMALL, bold=True) if mark.anchor == "start" else 0),
        )
        for mark in texts
    ]
    left = min([left, *(low for low, _ in reach)])
    right = max([right, *(high for _, high in reach)])
    top = min([top, *(mark.points[0][1] for mark in texts)])
    bottom = max([bottom, *(mark.points[0][1] + 8 for mark in texts)])
    return labels, (left, top, right, bottom)


def _thinned(view: View, mark: Mark) -> bool:
    """Whether it is one of so many coordinates at the right that some may be left out."""
    many = not view.parted and view.extent()[1] >= MANY_ROWS
    along = "xy"[1 - view.turns % 2]
    return many and mark.form == "text" and mark.text[:1] == along and mark.text[1:].isdigit()


def _clear_of_leaders(floor: Group, view: View, labels: list[Mark]) -> Group:
    """The floor without the coordinates at the right that a line to a name would strike through."""
    lines = [mark.points for mark in labels if mark.form == "line"]

    def struck(mark: Mark) -> bool:
        x, y = mark.points[0]
        return any(min(a, b) < x + 8 and x - 8 < max(a, b) and abs(y - level) < SMALL * 0.7
                   for (a, level), (b, _), *_ in lines)  # fmt: skip

    kept = tuple(mark for mark in floor.marks if not (_thinned(view, mark) and struck(mark)))
    return floor if len(kept) == len(floor.marks) else Group(kept, floor.label, floor.key)


def _bare(
    scene: Scene,
    view: View,
    groups: list[Group],
    labels: list[Mark],
    box: tuple[float, float, float, float],
    notes: list[str],
) -> Drawing:
    """The cells and their names alone, cut to the box."""
    left, top, right, bottom = box
    moved = [
        Group(tuple(_moved(mark, (-left, -top)) for mark in group.marks), group.label, group.key)
        for group in [*groups, Group(tuple(labels))]
    ]
    title = titled(scene.plan, "layers side by side" if view.aside else "layers lifted apart")
    ground = scene.colours["panel"]
    return Drawing(right - left, bottom - top, ground, title, described(scene, notes), tuple(moved))


def _moved(mark: Mark, shift: Point) -> Mark:
    return mark._replace(points=tuple((x + shift[0], y + shift[1]) for x, y in mark.points))


def _direction(side: str, view: View) -> Point:
    """Where a direction of the world points in the picture, as long as a needle of the compass."""
    for _ in range(view.turns):
        side = CLOCKWISE[side]
    dx, dy = {"north": (0, -1), "south": (0, 1), "east": (1, 0), "west": (-1, 0)}[side]
    return (20.0 * (UX * dx + VX * dy), 20.0 * (UY * dx + VY * dy))


def _floor(scene: Scene, view: View) -> Iterator[Mark]:
    """The plate of each lifted layer (or of the lowest), and the coordinates along the front edges and upwards."""
    colours = scene.colours
    wide, deep, layers = view.extent()
    m = PLATE
    for z in range(layers if view.parted else 1):
        corners = ((-m, -m), (wide + m, -m), (wide + m, deep + m), (-m, deep + m))
        plate = tuple(view.point(x, y, z, z) for x, y in corners)
        yield Mark("area", (*plate, plate[0]), stroke=colours["line"], width=1)
    turns, (x_cells, y_cells, _) = view.turns, view.size
    along_x = {view.cell((x, 0, 0))[turns % 2]: f"x{x}" for x in range(x_cells)}
    along_y = {view.cell((0, y, 0))[1 - turns % 2]: f"y{y}" for y in range(y_cells)}
    left, right = (along_y, along_x) if turns % 2 else (along_x, along_y)
    soft = colours["soft"]
    for place, text in _spread(left, view.unit * UX, text_width("x00", SMALL) + 4):
        px, py = view.point(place + 0.5, deep + 0.42, 0, 0)
        yield words(px, py + 3, text, SMALL, soft, "middle")
    for place, text in _spread(right, view.unit * VY, SMALL):
        px, py = view.point(wide + 0.35, place + 0.5, 0, 0)
        if view.apart and py < view.point(wide + m, -m, 0, 0)[1] + SMALL - 1:
            continue  # the name of the layer stands there
        yield words(px + 4, py, text, SMALL, soft)
    heights = dict(_spread({z: f"z{z}" for z in range(layers)}, view.unit * WZ, SMALL))
    for z in range(layers) if view.parted else heights:
        if view.aside:
            px, py = view.point(-m, -m, z + 1, z)  # above what stands in the corner
            yield words(px, py - 8, f"layer {z}", SMALL, soft)
            continue
        px, py = view.point(wide + m, -m, z if view.apart else z + 0.5, z)
        yield words(px + (10 if view.apart else 26), py, f"layer {z}" if view.apart else heights[z], SMALL, soft)


def _spread(names: Mapping[int, str], apart: float, room: float) -> Iterator[tuple[int, str]]:
    """As many of the coordinates as have room: each, or every second, fifth, tenth and so on."""
    every = next((every for every in (1, 2, 5, 10, 20) if every * apart >= room), 50)
    yield from ((place, names[place]) for place in sorted(names) if int(names[place][1:]) % every == 0)


def _cell_marks(scene: Scene, view: View, sight: _Sight, cell: Cell) -> Iterator[Mark]:
    """What is seen of a cell: the faces that nothing covers with its symbol on the first of them, or a flat symbol."""
    stand, colours = scene.stands[cell], scene.colours
    part = turned(stand.part, view.turns)
    if not scene.fills(cell):
        face = _lying(scene, view, cell)
        if part.behaviour == "wire" and stand.posture == "rest":
            shapes = tuple(turned_shape(shape, view.turns) for shape in scene.shapes(cell))
        else:
            shapes = scene.shapes(cell, part.facing)
        yield from _on_face(scene, view, face, shapes, cell)
        return
    level = scene.level(cell)
    seen = _faces(view, sight, cell)
    lit = part.behaviour == "lamp" and level > 0
    for side, face, _ in seen:
        role = {"up": "block", "south": "front", "east": "side"}[side]
        fill = colours["amber"] if lit else colours[role]
        yield _outline(view, face, fill, colours["amberedge" if lit else "edge"])
    if not seen:
        return
    side, face, facing = seen[0]
    shapes = scene.shapes(cell, facing.get(part.facing or "")) if part.facing else scene.shapes(cell)
    if side != "up" and part.behaviour == "still":
        shapes = ()
    yield from _on_face(scene, view, face, shapes, cell)
    if part.row.shows_passed and level and view.unit >= NUMBERED_3D:
        yield from _block_level(scene, view, face, level, scene.is_strong(cell))


def _marked(scene: Scene, view: View, cell: Cell) -> Iterator[Mark]:
    """A bold outline on top of a full cell, or round what lies in it; its halo keeps it apart from any fill."""
    x, y, z = view.cell(cell)
    stand = scene.stands.get(cell)
    face = _lying(scene, view, cell) if stand is not None else _Face((x, y, z), (1, 0, 0), (0, 1, 0), z)
    if stand is not None and scene.fills(cell):
        face = _Face((x, y, z + 1), (1, 0, 0), (0, 1, 0), z)
    for role, width in (("panel", 6.0), ("accent", 3.0)):
        yield _outline(view, face, "none", scene.colours[role])._replace(width=width)


def _block_level(scene: Scene, view: View, face: _Face, level: int, strong: bool) -> Iterator[Mark]:
    x, y = face.place(view, (0.8, 0.66))
    yield from corner_level(x + 8, y, level, strong, scene.colours)


def _lying(scene: Scene, view: View, cell: Cell) -> _Face:
    """The face on which a flat symbol lies: the floor of its cell, half way up for an arm and what hangs on a side."""
    stand = scene.stands[cell]
    hangs = PARTS[stand.part.kind].support == "facing" and stand.part.facing != "down"
    x, y, z = view.cell(cell)
    return _Face((x, y, z + (0.5 if hangs or stand.posture == "arm" else 0.0)), (1, 0, 0), (0, 1, 0), z)


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


def _outline(view: View, face: _Face, fill: str, stroke: str) -> Mark:
    corners = tuple(face.place(view, corner) for corner in ((0, 0), (1, 0), (1, 1), (0, 1)))
    return Mark("area", corners, fill=fill, stroke=stroke, width=1)


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
    high = LOW if cell in sight.low else 1.0
    for side in sight.sides[cell]:
        (dx, dy, dz), along, (ax, ay, az), facing = _SIDES[side]
        found.append((side, _Face((x + dx, y + dy, z + dz * high), along, (ax, ay, az * high), z), facing))
    return found


def _on_face(scene: Scene, view: View, face: _Face, shapes: tuple[Shape, ...], cell: Cell) -> Iterator[Mark]:
    """Shapes on a face: circles become polygons, for a face is seen aslant; signs and numbers stay upright."""
    level, number = scene.level(cell), scene.number(cell)
    numbered = bool(number) and view.unit >= NUMBERED_3D
    flat = [_flattened(shape, level, numbered) for shape in shapes]
    yield from paint(
        flat, lambda point: face.place(view, point), view.unit * 0.8, scene.colours, level, number if numbered else 0, 0
    )


def _flattened(shape: Shape, level: int, numbered: bool) -> Shape:
    """The shape as one that may be seen aslant: circles and wires become polygons."""
    if shape.form == "wire":
        ((ax, ay), (bx, by)), half = shape.points, wire_width(level) / 2 + shape.radius
        px, py = (0.0, half) if ay == by else (half, 0.0)
        corners = ((ax - px, ay - py), (bx - px, by - py), (bx + px, by + py), (ax + px, ay + py))
        return Shape("area", corners, fill="outline" if shape.stroke == "outline" else "level", stroke="none", width=0)
    if shape.form in ("number", "sign"):
        return shape._replace(radius=shape.radius * 0.8)
    if shape.form != "circle":
        return shape
    ((x, y),) = shape.points
    radius = shape.radius
    if shape.text == "hub" and not numbered:
        radius = min(radius, wire_width(level) / 2 + 0.045)
    angles = [2 * pi * corner / ROUND for corner in range(ROUND)]
    points = tuple((x + radius * cos(angle), y + radius * sin(angle)) for angle in angles)
    return shape._replace(form="area", points=points, text="")


def _labels(scene: Scene, view: View, groups: list[Group], left: float, right: float) -> Iterator[Mark]:
    """The names at the left and the right, each with a line to its cell.

    Of the ways from a cell to either side the one is taken that touches the fewest numbers and names of layers. On each
    side the leaders are in the order of their cells from above, so that they do not cross.
    """
    every = (mark for group in groups for mark in group.marks if mark.form == "text")
    texts = [mark.points[0] for mark in every if not _thinned(view, mark)]
    taken: list[tuple[float, float]] = []
    sides: dict[bool, list[tuple[Point, str]]] = {True: [], False: []}
    for cell, names in scene.names.items():
        x, y, z = view.cell(cell)
        full = scene.fills(cell)
        rise = 1.0 if full else 0.0
        corners = [view.point(x + dx, y + dy, z + rise, z) for dx in (0.12, 0.88) for dy in (0.12, 0.88)]
        if full:
            corners = [view.point(x + 0.15, y + 1, z + 0.5, z), view.point(x + 1, y + 0.5, z + 0.5, z), *corners]
        ways = [(corner, at_right) for corner in corners for at_right in (False, True)]

        def cost(way: tuple[Point, bool]) -> tuple[int, float]:
            (px, py), at_right = way
            end = right if at_right else left
            near = [1 for tx, ty in texts if abs(ty - py) < 9 and min(px, end) - 8 < tx < max(px, end) + 8]
            near += [1 for one, _ in taken if abs(one - py) < 3]
            if view.extent()[1] >= MANY_ROWS and not view.parted:  # a line across a wide plan is worse than a number
                return 0, len(near) * CROSSED + abs(px - end)
            return len(near), abs(px - end)

        corner, at_right = min(ways, key=cost)
        taken.append((corner[1], corner[0]))
        sides[at_right].append((corner, ", ".join(names)))
    colours = scene.colours
    for at_right, anchors in sides.items():
        level = -1e9
        for (px, py), name in sorted(anchors, key=lambda label: (label[0][1], label[0][0])):
            level = max(level + LABEL_HIGH, py)
            text = right + 26 if at_right else left - 14
            bend, end = (right + 6, text - 4) if at_right else (left - 2, text + 4)
            way = ((px, py), (bend, level), (end, level))
            yield Mark("line", way, stroke=colours["panel"], width=3.5)
            yield Mark("line", way, stroke=colours["soft"], width=1.2)
            yield Mark("circle", ((px, py),), 2.8, fill=colours["soft"], stroke=colours["panel"], width=1)
            yield words(text, level, name, SMALL, colours["ink"], "start" if at_right else "end", bold=True)
