"""Pictures of a film one after another: each is the one before, set anew only where something changed."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from math import ceil, floor
from typing import NamedTuple

from PIL import Image

from tickwright.publish.canvas import Drawing, Group, Mark, Point, scaled, shifted
from tickwright.publish.film.frames import Stage, Told, frame_drawing
from tickwright.publish.isometric import Memo
from tickwright.publish.letters import text_width
from tickwright.publish.raster import png_bytes, png_pages

MOST_SHARE = 0.6  # of the picture: where more changes it is set whole
MOST_BOXES = 40
AIR = 3  # pixels round what changed


class Box(NamedTuple):
    """An upright rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether they share a point."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def with_(self, other: Box) -> Box:
        """The smallest box round both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    @property
    def area(self) -> float:
        """Its area."""
        return (self.right - self.left) * (self.bottom - self.top)


class Painter:
    """Paints the pictures of a stage in the order in which they are asked for."""

    def __init__(self, stage: Stage, scale: float) -> None:
        self.stage = stage
        self.scale = scale
        self._memos = [Memo() for _ in stage.recordings]
        self._boxes: dict[int, tuple[Group, Box | None]] = {}
        self._large: dict[int, tuple[Group, Group]] = {}
        self._drawing: Drawing | None = None
        self._picture: Image.Image | None = None

    def picture(self, step: int, told: Told | None = None) -> Image.Image:
        """The picture at a step of the clock, with what is told of it."""
        drawing = self._scaled(frame_drawing(self.stage, step, self._memos, told))
        before, made = self._drawing, self._picture
        self._drawing = drawing
        boxes: list[Box] | None = None
        if before is not None and (before.width, before.height) == (drawing.width, drawing.height):
            boxes = self._changed(before, drawing)
        whole = drawing.width * drawing.height
        if made is None or boxes is None or sum(box.area for box in boxes) > MOST_SHARE * whole:
            made = Image.open(io.BytesIO(png_bytes(drawing, 1.0))).convert("RGB")
        elif boxes:
            made = made.copy()
            for box, data in zip(boxes, self._set(drawing, boxes), strict=True):
                piece = Image.open(io.BytesIO(data)).convert("RGB")
                made.paste(piece, (round(box.left), round(box.top)))
        self._picture = made
        return made

    def _set(self, drawing: Drawing, boxes: Iterable[Box]) -> list[bytes]:
        """What of a drawing lies in each of the boxes, as PNGs."""
        pieces = []
        for box in boxes:
            groups = []
            for group in drawing.groups:
                place = self._box(group)
                if place is not None and place.meets(box):
                    groups.append(shifted(group, -box.left, -box.top))
            size = box.right - box.left, box.bottom - box.top
            pieces.append(Drawing(*size, drawing.ground, "", "", tuple(groups)))
        return png_pages(pieces, 1.0)

    def _changed(self, before: Drawing, after: Drawing) -> list[Box]:
        """Where two drawings differ: boxes on whole pixels that do not meet."""
        old, new = ({id(group): group for group in drawing.groups} for drawing in (before, after))
        gone = [group for key, group in old.items() if key not in new]
        come = [group for key, group in new.items() if key not in old]
        alike = set(gone) & set(come)
        boxes = [self._box(group) for group in (*gone, *come) if group not in alike]
        limit = Box(0, 0, after.width, after.height)
        return merged(self._snapped(box, limit) for box in boxes if box is not None)

    def _scaled(self, drawing: Drawing) -> Drawing:
        """The drawing as large as the film: a piece of it is then set to the pixel as it is in the whole."""
        if self.scale == 1.0:
            return drawing
        groups = []
        for group in drawing.groups:
            found = self._large.get(id(group))
            if found is None or found[0] is not group:
                found = self._large[id(group)] = group, scaled(group, self.scale)
            groups.append(found[1])
        size = drawing.width * self.scale, drawing.height * self.scale
        return Drawing(*size, drawing.ground, drawing.title, drawing.description, tuple(groups))

    def _snapped(self, box: Box, limit: Box) -> Box:
        left, top = (max(0, floor(at) - AIR) for at in (box.left, box.top))
        right, bottom = min(ceil(limit.right), ceil(box.right) + AIR), min(ceil(limit.bottom), ceil(box.bottom) + AIR)
        return Box(left, top, right, bottom)

    def _box(self, group: Group) -> Box | None:
        found = self._boxes.get(id(group))
        if found is None or found[0] is not group:
            found = self._boxes[id(group)] = group, box_of(group.marks)
        return found[1]


def box_of(marks: Iterable[Mark]) -> Box | None:
    """The box that marks take, with the width of their lines; None for none.

    >>> box_of([Mark("line", ((2, 3), (5, 3)), stroke="#000000", width=2)])
    Box(left=1.0, top=2.0, right=6.0, bottom=4.0)
    """
    boxes = list(_boxes(marks))
    if not boxes:
        return None
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return Box(min(lefts), min(tops), max(rights), max(bottoms))


def _boxes(marks: Iterable[Mark]) -> Iterator[Box]:
    for mark in marks:
        if mark.form == "text":
            yield _text_box(mark, mark.points[0])
            continue
        xs, ys = zip(*mark.points, strict=True)
        more = mark.width / 2 + (mark.radius if mark.form == "circle" else 0)
        yield Box(min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more)


def _text_box(mark: Mark, at: Point) -> Box:
    wide = text_width(mark.text, mark.radius, bold=mark.bold) + 4
    left = at[0] - {"start": 2.0, "middle": wide / 2, "end": wide - 2}[mark.anchor]
    return Box(left, at[1] - mark.radius, left + wide, at[1] + mark.radius)


def merged(boxes: Iterable[Box]) -> list[Box]:
    """The boxes, those that meet made one, until none meet; beyond MOST_BOXES all in one.

    >>> merged([Box(0, 0, 2, 2), Box(1, 1, 3, 3), Box(5, 5, 6, 6)])
    [Box(left=5, top=5, right=6, bottom=6), Box(left=0, top=0, right=3, bottom=3)]
    """
    found: list[Box] = []
    for one in boxes:
        box = one
        while touching := [other for other in found if other.meets(box)]:
            found = [other for other in found if other not in touching]
            for other in touching:
                box = box.with_(other)
        found.append(box)
    if len(found) > MOST_BOXES:
        whole = found[0]
        for box in found:
            whole = whole.with_(box)
        return [whole]
    return sorted(found, key=lambda box: (-box.top, box.left))
