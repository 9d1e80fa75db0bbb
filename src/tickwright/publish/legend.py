"""The legend: what each part is drawn as, how it is written and what it does."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from tickwright.kinds import PARTS, Part
from tickwright.publish.canvas import Drawing, Group, Mark, lines_of, rectangle, shortened, words
from tickwright.publish.drawing import SMALL, TEXT, square
from tickwright.publish.shapes import Shape
from tickwright.publish.shown import paint
from tickwright.publish.symbols import symbol, wire_symbol
from tickwright.publish.tokens import HIGHEST_LEVEL, THEMES, Colours, Theme
from tickwright.rules import RuleSet

SIDE = 40.0  # pixels along a cell
_ACROSS = ("east", "west")
_WIRES = (
    ("A line runs to each side that it joins or points to; an arrow stands where a part that is no wire listens to it.",
     wire_symbol(_ACROSS, ("east",))),
    ("A bar across: it climbs there, to a wire one layer up.", wire_symbol(_ACROSS, climbing=("east",))),
    ("Two ticks beside the line: it goes down there, to a wire one layer below.",
     wire_symbol(_ACROSS, dropping=("east",))),
)  # fmt: skip


class LegendRow(NamedTuple):
    """One symbol: how the part is written, what it does (of a wire: what the drawing says), and its picture."""

    text: str
    help: str
    symbol: Drawing


def legend_rows(parts: Iterable[Part], rules: RuleSet, theme: Theme = "light") -> list[LegendRow]:
    """A row for each of these parts, numbers of items left out, and at the end how wires are drawn.

    >>> from tickwright.rules import load_rules
    >>> [row.text for row in legend_rows([Part("hopper", "down", items=3), Part("block")], load_rules())]
    ['block', 'hopper']
    """
    parts = list(parts)
    bare = sorted({part._replace(items=0) for part in parts if part.behaviour != "wire"}, key=str)
    rows = [LegendRow(str(part), PARTS[part.kind].help, symbol_drawing(part, rules, theme)) for part in bare]
    if any(part.behaviour == "wire" for part in parts):
        rows += [LegendRow("wire", text, _drawing(Part("wire"), shapes, rules, theme)) for text, shapes in _WIRES]
    return rows


def symbol_drawing(part: Part, rules: RuleSet, theme: Theme = "light") -> Drawing:
    """The symbol of a part in its cell, a wire as a straight one from west to east."""
    shapes = wire_symbol(_ACROSS) if part.behaviour == "wire" else symbol(part, part.thrown)
    return _drawing(part, shapes, rules, theme)


def _drawing(part: Part, shapes: tuple[Shape, ...], rules: RuleSet, theme: Theme) -> Drawing:
    colours = THEMES[theme]
    marks = tuple(_marks(part, shapes, rules, colours))
    return Drawing(SIDE + 2, SIDE + 2, colours["panel"], str(part), PARTS[part.kind].help, (Group(marks),))


def _marks(part: Part, shapes: tuple[Shape, ...], rules: RuleSet, colours: Colours) -> list[Mark]:
    if part.behaviour == "still":
        body = colours["block" if rules.conducts.get(part.kind, False) else "panel"]
        cell = rectangle(2, 2, SIDE - 2, SIDE - 2, body, colours["edge"], 1.2)
    else:
        cell = rectangle(1, 1, SIDE, SIDE, colours["panel"], colours["grid"])
    level = HIGHEST_LEVEL if part.thrown or part.behaviour == "source" else 0
    return [cell, *paint(shapes, square(1, 1, SIDE), SIDE, colours, level)]


def legend_drawing(parts: Iterable[Part], rules: RuleSet, theme: Theme = "light", width: float = 760.0) -> Drawing:
    """The legend of these parts as one picture, a row for each."""
    colours = THEMES[theme]
    groups, y = [], 11.0
    rows = legend_rows(parts, rules, theme)
    for row in rows:
        drawn = [mark for group in row.symbol.groups for mark in group.marks]
        marks = [mark._replace(points=tuple((px + 11, py + y) for px, py in mark.points)) for mark in drawn]
        marks.append(words(64, y + 12, shortened(row.text, TEXT, width - 76), TEXT, colours["ink"], bold=True))
        lines = lines_of(row.help, SMALL, width - 76)
        marks += [words(64, y + 29 + at * 14, piece, SMALL, colours["ink"]) for at, piece in enumerate(lines)]
        groups.append(Group(tuple(marks), row.text))
        y += max(SIDE, 28 + 14 * len(lines)) + 8
    description = "Symbols of " + ", ".join(dict.fromkeys(row.text for row in rows)) + "."
    return Drawing(width, y + 5, colours["panel"], "Legend", description, tuple(groups))
