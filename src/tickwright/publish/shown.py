"""What a drawing shows: the cells of a plan at one moment of a run (or as laid), and shapes painted as marks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from typing import TYPE_CHECKING

from tickwright.durations import duration_text, ticks_text
from tickwright.kinds import CONTAINERS, PARTS, Part
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Mark, Point, words
from tickwright.publish.shapes import Shape, sign_strokes
from tickwright.publish.symbols import side_symbol, symbol, wire_side_symbol, wire_symbol
from tickwright.publish.tokens import THEMES, TOKENS, Colours, Theme, level_colour, level_ink, wire_width
from tickwright.rules import RuleSet
from tickwright.rules.layout import Layout, Stand
from tickwright.rules.power import flank_sources, lock_sources, power_sources, rear_sources, strong_sources
from tickwright.rules.wire import joins, points
from tickwright.space import HORIZONTAL, Cell, beside, cell_text

if TYPE_CHECKING:
    from tickwright.recording import Moment

LEAST_TEXT: float = TOKENS["type"]["least_screen_px"]
NUMBERED: float = TOKENS["type"]["least_numbered_cell_px"]
NUMBERED_3D: float = TOKENS["type"]["least_numbered_cell_3d_px"]
_HEARS = {row.name for row in PARTS.values() if row.hears in ("around", "not-face")}

# Where a direction of the world lies in a section: "east" to the right, "north" up, "up" towards the viewer.
FROM_SOUTH = {"east": "east", "west": "west", "up": "north", "down": "south", "south": "up", "north": "down"}
FROM_EAST = {"north": "east", "south": "west", "up": "north", "down": "south", "east": "up", "west": "down"}


def cell_shapes(layout: Layout, cell: Cell, on: bool = False, facing: str | None = None) -> tuple[Shape, ...]:
    """The shapes of what stands in a cell that is not empty, from above, wires as the rules see them.

    `facing` is where a part faces in the picture, if not as in the world.
    """
    stand = layout.stands[cell]
    if stand.part.behaviour == "wire" and stand.posture == "rest":
        return wire_symbol(arms(layout, cell), listeners(layout, cell), climbs(layout, cell), drops(layout, cell))
    return symbol(_facing(stand.part, facing), on, stand.posture)


def cell_side_shapes(layout: Layout, cell: Cell, ways: Mapping[str, str], on: bool = False) -> tuple[Shape, ...]:
    """The shapes of what stands in a cell, from the side; `ways` is FROM_SOUTH or FROM_EAST."""
    stand = layout.stands[cell]
    if stand.part.behaviour == "wire" and stand.posture == "rest":
        climbing = climbs(layout, cell)
        return wire_side_symbol({ways[side] for side in arms(layout, cell)}, {ways[side] for side in climbing})
    return side_symbol(_facing(stand.part, ways.get(str(stand.part.facing))), on, stand.posture)


def _facing(part: Part, facing: str | None) -> Part:
    return part if facing is None or part.facing is None else part._replace(facing=facing)


def arms(layout: Layout, wire: Cell) -> set[str]:
    """The sides that a wire joins or points to."""
    return {*joins(layout, wire), *points(layout, wire)}


def listeners(layout: Layout, wire: Cell) -> set[str]:
    """The sides at which a part that is no wire listens to this wire."""
    found = set()
    for side in HORIZONTAL:
        there = beside(wire, side)
        part = layout.parts.get(there)
        if part is None:
            continue
        if part.behaviour in ("repeater", "comparator"):
            at_back = part.facing == side and wire in rear_sources(layout, there)
            at_flank = part.behaviour == "comparator" and part.facing != side and wire in flank_sources(layout, there)
            if at_back or at_flank:
                found.add(side)
        elif part.kind in _HEARS and side in points(layout, wire) and wire in power_sources(layout, there):
            found.add(side)
    return found


def climbs(layout: Layout, wire: Cell) -> set[str]:
    """The sides at which a wire climbs to a wire one layer up."""
    if layout.conducts(beside(wire, "up")):
        return set()
    return {
        side
        for side in joins(layout, wire)
        if not layout.is_wire(beside(wire, side))
        and layout.is_wire(beside(beside(wire, side), "up"))
        and layout.carries(beside(wire, side), "up")
    }


def drops(layout: Layout, wire: Cell) -> set[str]:
    """The sides at which a wire goes down to a wire one layer below."""
    up = climbs(layout, wire)
    return {
        side
        for side in joins(layout, wire)
        if side not in up
        and not layout.is_wire(beside(wire, side))
        and layout.is_wire(beside(beside(wire, side), "down"))
        and not layout.conducts(beside(wire, side))
    }


class Scene:
    """What a drawing shows: the cells at one moment (or as laid), the colours, and the shapes of each part."""

    def __init__(self, plan: Plan, rules: RuleSet, moment: Moment | None, theme: Theme) -> None:
        self.plan = plan
        self.moment = moment
        self.colours = THEMES[theme]
        self.top_level = rules.wire.top_level
        laid = {cell: Stand(part) for cell, part in plan.cells.items()}
        self.stands: Mapping[Cell, Stand] = laid if moment is None else moment.stands
        self.layout = Layout(self.stands, rules)
        self.names: dict[Cell, list[str]] = {}
        for table in (plan.triggers, plan.outputs):
            for name, cell in table.items():
                if name not in self.names.setdefault(cell, []):
                    self.names[cell].append(name)

    def at(self, moment: Moment) -> Scene:
        """The same scene at another moment at which just the same stands where."""
        other = copy(self)
        other.moment = moment
        return other

    def look(self, cell: Cell) -> tuple[object, ...]:
        """What the marks of a cell depend on, besides what stands where: alike for two moments, they are alike."""
        value = self.value(cell)
        strong = bool(value) and PARTS[self.stands[cell].part.kind].behaviour == "still" and self.is_strong(cell)
        return value, self.is_held(cell), strong

    def value(self, cell: Cell) -> int | None:
        """What the cell shows; None if no moment of a run is drawn."""
        return None if self.moment is None else self.moment.values.get(cell, 0)

    def level(self, cell: Cell) -> int:
        """The level that colours the cell's symbol; 0 for a container, which holds a count."""
        part = self.stands[cell].part
        if part.behaviour == "source" or (self.moment is None and part.thrown):
            return self.top_level
        return 0 if part.kind in CONTAINERS else self.value(cell) or 0

    def on(self, cell: Cell) -> bool:
        """Whether the symbol of the cell is that of a part which is on, or holds items."""
        part = self.stands[cell].part
        return bool(self.value(cell)) or bool(self.level(cell)) or (self.moment is None and part.items > 0)

    def number(self, cell: Cell) -> int:
        """The number to write on a symbol that has room for it."""
        part = self.stands[cell].part
        return (part.items if self.moment is None else self.value(cell)) or 0

    def is_held(self, cell: Cell) -> bool:
        """Whether a repeater is locked, or a hopper held shut by power."""
        if self.moment is None or cell not in self.layout.parts:
            return False
        behaviour = self.layout.parts[cell].behaviour
        find = lock_sources if behaviour == "repeater" else power_sources if behaviour == "hopper" else None
        return find is not None and any(self.moment.values.get(source) for source in find(self.layout, cell))

    def is_strong(self, cell: Cell) -> bool:
        """Whether power that lies on a block now is strong."""
        values = self.moment.values if self.moment is not None else {}
        return any(values.get(source) for source in strong_sources(self.layout, cell))

    def fills(self, cell: Cell) -> bool:
        """Whether a part fills the whole cell there, at rest or on its way, so that nothing behind it is seen."""
        stand = self.stands.get(cell)
        return stand is not None and stand.posture != "arm" and PARTS[stand.part.kind].support is None

    def shapes(self, cell: Cell, facing: str | None = None) -> tuple[Shape, ...]:
        """The shapes of what stands in the cell from above; `facing` is where it faces in the picture."""
        stand = self.stands[cell]
        if stand.part.behaviour != "wire" and self.is_held(cell):
            return symbol(_facing(stand.part, facing), self.on(cell), stand.posture, True)
        return cell_shapes(self.layout, cell, self.on(cell), facing)

    def side_shapes(self, cell: Cell, ways: Mapping[str, str]) -> tuple[Shape, ...]:
        """The shapes of what stands in the cell from the side."""
        stand = self.stands[cell]
        if stand.part.behaviour != "wire" and self.is_held(cell):
            return side_symbol(
                _facing(stand.part, ways.get(str(stand.part.facing))), self.on(cell), stand.posture, True
            )
        return cell_side_shapes(self.layout, cell, ways, self.on(cell))

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
        return f"end of step {step} ({duration_text(step)}, {ticks_text(step)})"


def paint(
    shapes: Iterable[Shape],
    place: Callable[[Point], Point],
    unit: float,
    colours: Colours,
    level: int = 0,
    shown: int = 0,
    least: float = NUMBERED,
) -> Iterator[Mark]:
    """The marks of shapes laid on the picture by `place`, a cell being `unit` pixels long there.

    Circles are kept as circles: `place` must not distort them. `level` colours them, `shown` is the number written
    where a symbol has room for it, if a cell has `least` pixels. Signs and numbers stay upright.
    """
    roles = roles_of(colours, level)
    numbered = bool(shown) and unit >= least
    for shape in shapes:
        fill, stroke = roles[shape.fill], roles[shape.stroke]
        at = tuple(place(point) for point in shape.points)
        if shape.form == "number":
            if numbered:
                size = max(LEAST_TEXT, shape.radius * unit)
                yield words(*at[0], str(shown), size, fill, "middle", bold=True)
        elif shape.form == "sign":
            size = shape.radius * unit
            for part in sign_strokes(shape.text):
                line = tuple((at[0][0] + x * size, at[0][1] + y * size) for x, y in part)
                yield Mark("line", line, stroke=stroke, width=max(1.0, min(shape.width * unit, size * 0.2)))
        elif shape.form == "wire":
            wide = (wire_width(level) * (0.62 if shape.text else 1) + 2 * shape.radius) * unit
            yield Mark("line", at, stroke=stroke, width=wide)
        elif shape.text == "hub":
            radius = shape.radius if numbered else min(shape.radius, wire_width(level) / 2 + 0.045)
            yield Mark("circle", at, radius * unit, "", fill, stroke, shape.width * unit)
        else:
            yield Mark(shape.form, at, shape.radius * unit, "", fill, stroke, shape.width * unit)


def roles_of(colours: Colours, level: int) -> Mapping[str, str]:
    """The colour of each role of a shape for a part that shows this level."""
    on = level > 0
    return {
        **colours,
        "none": "none",
        "level": level_colour(colours, level),
        "outline": level_colour(colours, level) if on else colours["soft"],
        "mark": level_ink(colours, level),
        "lit": colours["amber"] if on else colours["panel"],
        "rim": colours["amberedge"] if on else colours["soft"],
        "glow": colours["amberglow"] if on else "none",
    }
