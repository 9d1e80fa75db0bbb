"""The pictures of a printed sheet, and the charts of its presses."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from tickwright.durations import duration_text
from tickwright.publish.canvas import Drawing, svg_text
from tickwright.publish.chart import Band, lap_chart, length_chart, timing_chart
from tickwright.publish.claim_bands import claims_drawing
from tickwright.publish.drawing import Window, layer_drawing, section_drawing, whole_layer, windows
from tickwright.publish.isometric import UNIT, isometric_drawing
from tickwright.publish.tokens import Theme

if TYPE_CHECKING:
    from tickwright.material import Material
    from tickwright.recording import Moment, Recording

Kept = TypeVar("Kept")
# Pixels that the lifted picture has on page 1: as a rule, beside a long list of parts, and at least.
ROOMY, MIDDLE, LOW = (500.0, 440.0), (500.0, 360.0), (500.0, 250.0)
SMALL_LIFTED = 28.0  # pixels a cell: where lifted layers are smaller they are tried side by side
LEAST_LIFTED = 8.0  # where both are smaller than this the whole is shown as built
SHOWN_AFTER = 30  # steps after the press: the moment of the first picture
MOST_ACROSS, MOST_DOWN = 32, 32  # cells of a layer in one picture: more are too small to be read on paper
MOST_LANES = 8  # of a chart that shows those, too, at which nothing changes
UNPRESSED = "run"  # what the files are called that show a run in which nothing is pressed


def sheet_charts(material: Material, theme: str = "light") -> dict[str, Drawing]:
    """The charts that there is something to show on, by name.

    Those are the plan's own with what they claim, and of every press as it is its levels, its lengths and its laps.
    """
    made: dict[str, Drawing] = {}
    known = material.dossier
    look: Any = theme
    for number, run in enumerate(material.charts, 1):
        made[f"claims-{number}"] = claims_drawing(run, look)
    for press in material.presses:
        if not press.own:
            continue
        if not press.recording.trace.names:
            continue
        name = press.trigger or UNPRESSED
        pressed, idle = _busy(press.recording)
        made[f"{name}-chart"] = timing_chart(
            {material.plan.title or "Untitled plan": pressed}, look, _bands(material, name), idle=idle
        )
        answers = [answer for answer in known.answers if answer.measured.trigger == name]
        rows = {answer.measured.output: answer.lengths for answer in answers if answer.lengths}
        if len(rows) > MOST_LANES:
            rows = {output: tried for output, tried in rows.items() if any(row.pulses for row in tried)}
        if any(row.hold_steps is not None for found in rows.values() for row in found):
            least = {answer.measured.output: answer.measured.minimum_trigger_steps for answer in answers}
            made[f"{name}-lengths"] = length_chart(name, rows, press.length_steps, least, look)
        if any(len(lap.levels) > 1 for lap in known.laps.get(name, ())):
            made[f"{name}-laps"] = lap_chart(name, known.laps[name], look)
    return made


def _busy(recording: Recording) -> tuple[Recording, int]:
    """A run without the names at which nothing changes, if there are many; and how many those are."""
    trace = recording.trace
    busy = {name: changes for name, changes in trace.changes.items() if len(changes) > 1}
    if len(trace.names) <= MOST_LANES or not busy:
        return recording, 0
    return replace(recording, trace=replace(trace, changes=busy)), len(trace.names) - len(busy)


def _bands(material: Material, trigger: str) -> dict[str, list[Band]]:
    """What is promised of each output after the trigger, for the chart of its press."""
    made: dict[str, list[Band]] = {}
    for wish in material.plan.expectations:
        found = next(
            (
                one.measured
                for one in material.dossier.answers
                if (one.measured.trigger, one.measured.output) == (wish.trigger, wish.output)
            ),
            None,
        )
        if wish.trigger != trigger or wish.hold_steps is None or found is None:
            continue
        start = found.delay_steps if wish.delay_steps is None else wish.delay_steps
        if start is None:
            continue
        stop = start + wish.hold_steps
        text = f"promised: {duration_text(wish.hold_steps)} from press + {duration_text(start)}"
        ends = (found.delay_steps or 0) + found.hold_steps if found.hold_steps is not None else None
        short = stop - ends if ends is not None else 0
        missing = f"{duration_text(short)} short" if short > wish.within_steps else ""
        made.setdefault(wish.output, []).append(Band(start, stop, text, missing, ends if missing else None))
    return made


class Picture(NamedTuple):
    """A drawing as the text of an SVG file, and the same in words."""

    svg: str
    alt: str


class NotedPicture(NamedTuple):
    """A picture, and a line that says what it shows."""

    svg: str
    alt: str
    note: str


class FlatPicture(NamedTuple):
    """A flat picture, cells edge to edge, with the coordinates of its columns and rows."""

    svg: str
    alt: str
    columns: tuple[int, ...]
    rows: tuple[int, ...]


class Pictures:
    """The pictures of a plan and the charts of its presses in one theme, each drawn once, when it is first wanted."""

    def __init__(self, material: Material, theme: Theme = "light") -> None:
        self._material = material
        self._theme = theme
        self._made: dict[Hashable, Any] = {}

    def whole(self, corner: str) -> Picture:
        """The whole plan from above a corner."""
        plan, rules = self._material.plan, self._material.rules
        return self._kept(corner, lambda: picture(isometric_drawing(plan, rules, theme=self._theme, corner=corner)))

    def layer(self, z: int) -> Picture:
        """One layer from above."""
        plan, rules = self._material.plan, self._material.rules
        return self._kept(z, lambda: picture(layer_drawing(plan, rules, z, theme=self._theme)))

    def strips(self, z: int) -> list[FlatPicture]:
        """One layer without its title and names, in as many pictures as a page has room for."""
        return [self._strip(z, window) for window in windows(self._held(z), MOST_ACROSS, MOST_DOWN)]

    def map(self, z: int) -> FlatPicture:
        """One layer without its title and names, however large."""
        return self._strip(z, self._held(z))

    def _held(self, z: int) -> Window:
        """What is shown of a layer: all, or where the parts lie if that is less than half of it."""
        plan = self._material.plan
        xs, ys = zip(*((x, y) for x, y, layer in plan.cells if layer == z), strict=True)
        held = Window(range(min(xs), max(xs) + 1), range(min(ys), max(ys) + 1))
        whole = whole_layer(plan)
        return held if 2 * len(held.xs) * len(held.ys) < len(whole.xs) * len(whole.ys) else whole

    def _strip(self, z: int, window: Window) -> FlatPicture:
        plan, rules = self._material.plan, self._material.rules

        def made() -> FlatPicture:
            drawing = layer_drawing(plan, rules, z, theme="print", window=window, bare=True, numbered=False, boxed=True)
            return FlatPicture(*picture(drawing), tuple(window.xs), tuple(window.ys))

        return self._kept(("layer", z, window), made)

    @cached_property
    def _shown(self) -> Moment | None:
        """A moment some way into the first press, or None if nothing is pressed."""
        own = next((press.recording for press in self._material.presses if press.own), None)
        if own is None or own.pressed_at_step is None:
            return None
        return own.moment(min(own.pressed_at_step + SHOWN_AFTER, own.trace.steps - 1))

    def lifted(self, room: tuple[float, float]) -> NotedPicture:
        """The layers lifted apart or, where they are larger so, side by side, some way into the first press.

        `room` is how wide and high the picture may be in pixels; its letters are as large in whatever room.
        """
        way = lifted_way(self._isometric, room, self._material.plan.size[2])
        drawing, how = self._isometric(*way[:3]), way.how
        return NotedPicture(*picture(drawing), f"{self._when}; seen from the south-east, {how}.")

    def _isometric(self, apart: float | None, aside: bool, unit: float) -> Drawing:
        plan, rules, shown = self._material.plan, self._material.rules, self._shown
        return self._kept(
            ("lifted", apart, aside, unit),
            lambda: isometric_drawing(plan, rules, shown, "print", apart=apart, bare=True, unit=unit, aside=aside),
        )

    @property
    def _when(self) -> str:
        """Which moment `lifted` shows."""
        shown = self._shown
        own = next((press.recording for press in self._material.presses if press.own), None)
        if shown is None or own is None or own.pressed_at_step is None:
            return "As laid"
        return f"As it is {duration_text(shown.step - own.pressed_at_step)} after the press"

    @cached_property
    def _plane(self) -> tuple[str, int]:
        """The section through most parts that act: along y or x, and where."""
        counts: dict[tuple[str, int], int] = {}
        for (x, y, _), part in self._material.plan.cells.items():
            if part.behaviour != "still":
                counts["y", y] = counts.get(("y", y), 0) + 1
                counts["x", x] = counts.get(("x", x), 0) + 1
        return max(counts, key=lambda plane: (counts[plane], plane[0], -plane[1]), default=("y", 0))

    @cached_property
    def section(self) -> FlatPicture:
        """A section as laid."""
        axis, at = self._plane
        plan, rules = self._material.plan, self._material.rules
        drawing = section_drawing(plan, rules, axis, at, theme="print", bare=True, numbered=False)
        wide, deep, high = plan.size
        columns = range(wide) if axis == "y" else range(deep - 1, -1, -1)
        return FlatPicture(*picture(drawing), tuple(columns), tuple(range(high - 1, -1, -1)))

    @property
    def section_note(self) -> str:
        """Which section `section` shows."""
        axis, at = self._plane
        return f"Section {axis} {at}, from the {'south' if axis == 'y' else 'east'}, at rest"

    @cached_property
    def charts(self) -> dict[str, Picture]:
        """The charts by name, as `sheet_charts` makes them."""
        return {name: picture(chart) for name, chart in sheet_charts(self._material, self._theme).items()}

    def _kept(self, key: Hashable, make: Callable[[], Kept]) -> Kept:
        if key not in self._made:
            self._made[key] = make()
        made: Kept = self._made[key]
        return made


class LiftedWay(NamedTuple):
    """How the layers of a plan are shown: how far apart (None: as far as they must), side by side, pixels a cell."""

    apart: float | None
    aside: bool
    unit: float

    @property
    def how(self) -> str:
        """In words."""
        return "as built" if self.apart == 0.0 else "each layer by itself"


def lifted_way(
    draw: Callable[[float | None, bool, float], Drawing], room: tuple[float, float], layers: int
) -> LiftedWay:
    """The way in which a plan is seen largest in a room so many pixels wide and high.

    That is with its layers lifted apart, or side by side where they are larger so; as built if both are too small.
    """

    def fitting(apart: float | None, aside: bool) -> LiftedWay:
        unit = UNIT
        while True:
            drawing = draw(apart, aside, unit)
            share = min(room[0] / drawing.width, room[1] / drawing.height)
            if share >= 1 or unit < LEAST_LIFTED:
                return LiftedWay(apart, aside, unit)
            unit *= min(share, 0.95)

    way = fitting(None, aside=False)
    if way.unit < SMALL_LIFTED and layers > 1:
        way = max(way, fitting(None, aside=True), key=lambda one: one.unit)
    return way if way.unit >= LEAST_LIFTED else fitting(0.0, aside=False)


def picture(drawing: Drawing) -> Picture:
    """A drawing as a picture."""
    return Picture(svg_text(drawing), f"{drawing.title}. {drawing.description}")
