"""Drawings as lists of marks, and those as SVG. A mark has its colours and its place in pixels; nothing is implied."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal, NamedTuple

from tickwright.publish.letters import text_width
from tickwright.publish.tokens import FAMILY, TOKENS

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

FONTS = f"{FAMILY}, {TOKENS['type']['fallback']}"
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class Mark(NamedTuple):
    """One mark: a "line" or a closed "area" through points, a "circle" about its point, or a "text" at its point.

    `radius` is that of the circle, or the size of the text; colours are "#rrggbb" or "none". A text's point lies on
    the middle of its height; `anchor` says which part of its width.
    """

    form: Literal["line", "area", "circle", "text"]
    points: tuple[Point, ...]
    radius: float = 0.0
    text: str = ""
    fill: str = "none"
    stroke: str = "none"
    width: float = 0.0
    dashed: bool = False
    anchor: Anchor = "middle"
    bold: bool = False


class Group(NamedTuple):
    """Marks that belong together, what they show in words, and a key by which a page finds them ("x,y,z" of a cell)."""

    marks: tuple[Mark, ...]
    label: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture of `width` by `height` pixels: groups from back to front, with its title and description in words."""

    width: float
    height: float
    ground: str
    title: str
    description: str
    groups: tuple[Group, ...]


def words(
    x: float, y: float, text: str, size: float, colour: str, anchor: Anchor = "start", *, bold: bool = False
) -> Mark:
    """A mark of text."""
    return Mark("text", ((x, y),), size, text, colour, anchor=anchor, bold=bold)


def rectangle(
    x: float, y: float, wide: float, high: float, fill: str, stroke: str = "none", width: float = 1.0
) -> Mark:
    """A mark of a rectangle with its left upper corner at (x, y)."""
    points = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
    return Mark("area", points, fill=fill, stroke=stroke, width=width)


def scaled(group: Group, scale: float) -> Group:
    """The group so many times as large."""
    marks = tuple(
        mark._replace(
            points=tuple((x * scale, y * scale) for x, y in mark.points),
            radius=mark.radius * scale,
            width=mark.width * scale,
        )
        for mark in group.marks
    )
    return group._replace(marks=marks)


def shifted(group: Group, right: float, down: float) -> Group:
    """The group moved by so many pixels."""
    marks = tuple(mark._replace(points=tuple((x + right, y + down) for x, y in mark.points)) for mark in group.marks)
    return group._replace(marks=marks)


def shortened(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits, with a sign that it goes on.

    >>> shortened("gangway lamp", 10, 50)
    'gangwa…'
    """
    if text_width(text, size, bold=bold) <= room:
        return text
    while text and text_width(text + "…", size, bold=bold) > room:
        text = text[:-1]
    return text + "…"


def told_apart(titles: Sequence[str]) -> list[str]:
    """What designs shown together are called: by title, with its number where several share it or one has none.

    >>> told_apart(["Lamp", "Bell", "Lamp", ""])
    ['Lamp (1)', 'Bell', 'Lamp (3)', 'Design 4']
    """
    return [
        (f"{title} ({number})" if titles.count(title) > 1 else title) if title else f"Design {number}"
        for number, title in enumerate(titles, 1)
    ]


def lines_of(text: str, size: float, room: float) -> list[str]:
    """The text broken at spaces into lines that fit; a word that is too long for a line is cut.

    >>> lines_of("the lamp over the planks", 10, 60)
    ['the lamp', 'over the', 'planks']
    """
    lines: list[str] = []
    for word in (shortened(word, size, room) for word in text.split()):
        if lines and text_width(f"{lines[-1]} {word}", size) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def svg_text(drawing: Drawing, name: str = "") -> str:
    """The drawing as an SVG file, the same to the byte for the same drawing; title and description are its alt text.

    Every text is escaped, and what no XML file may hold is left out. In a page that holds several, each has a `name`.
    """
    first = f"{name}-" if name else ""
    wide, high = _number(drawing.width), _number(drawing.height)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" height="{high}"',
        f' role="img" aria-labelledby="{first}title {first}desc" font-family="{FONTS}" stroke-linejoin="round">',
        f'<title id="{first}title">{xml_escaped(drawing.title)}</title>',
        f'<desc id="{first}desc">{xml_escaped(drawing.description)}</desc>',
        f'<rect width="{wide}" height="{high}" fill="{drawing.ground}"/>',
    ]
    for group in drawing.groups:
        marks = [_svg_mark(mark) for mark in group.marks]
        if group.label or group.key:
            key = f' data-cell="{xml_escaped(group.key)}"' if group.key else ""
            title = f"<title>{xml_escaped(group.label)}</title>" if group.label else ""
            marks = [f"<g{key}>{title}", *marks, "</g>"]
        lines += marks
    lines.append("</svg>")
    return "\n".join(lines) + "\n"


def xml_escaped(text: str) -> str:
    r"""Text as it may stand in an XML element or attribute; letters that XML forbids are left out.

    >>> xml_escaped('"<i>" & \x07')
    '&quot;&lt;i&gt;&quot; &amp; '
    """
    return escape(_UNPRINTABLE.sub("", text))


def _svg_mark(mark: Mark) -> str:
    if mark.form == "text":
        ((x, y),) = mark.points
        anchor = f' text-anchor="{mark.anchor}"' if mark.anchor != "start" else ""
        weight = ' font-weight="600"' if mark.bold else ""
        # 0.36 of the size is half the height of a capital; `dominant-baseline` is not kept everywhere.
        return (
            f'<text x="{_number(x)}" y="{_number(y + 0.36 * mark.radius)}" font-size="{_number(mark.radius)}"'
            f'{anchor}{weight} fill="{mark.fill}" xml:space="preserve">{xml_escaped(mark.text)}</text>'
        )
    style = f' fill="{mark.fill}"'
    if mark.stroke != "none":
        style += f' stroke="{mark.stroke}" stroke-width="{_number(mark.width)}"'
        style += ' stroke-dasharray="3 2"' if mark.dashed else ""
    if mark.form == "circle":
        ((x, y),) = mark.points
        return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(mark.radius)}"{style}/>'
    if mark.form == "area" and (corners := _upright(mark.points)):
        left, top, wide, high = map(_number, corners)
        return f'<rect x="{left}" y="{top}" width="{wide}" height="{high}"{style}/>'
    return f'<path d="{path_data(mark.points, closed=mark.form == "area")}"{style}/>'


def path_data(points: Iterable[Point], *, closed: bool) -> str:
    """Points as the data of an SVG path."""
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points) + ("Z" if closed else "")


def _upright(points: Sequence[Point]) -> tuple[float, float, float, float] | None:
    """Left, top, width and height of an upright rectangle given by its corners; None if it is none."""
    xs, ys = sorted({x for x, _ in points}), sorted({y for _, y in points})
    if len(points) == 4 and len(set(points)) == 4 and len(xs) == 2 and len(ys) == 2:
        return xs[0], ys[0], xs[1] - xs[0], ys[1] - ys[0]
    return None


def _number(value: float) -> str:
    """A length with at most two decimals, without needless ones."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return text if text != "-0" else "0"
