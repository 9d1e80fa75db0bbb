"""What explanations are made of: sentences of text, parts that a page can light, and figures that can be derived anew.

>>> sentence = Sentence("ring", "lamp", "press", (Named("Two comparators", ((3, 0, 1), (4, 0, 1))), Text(" blink.")))
>>> sentence.text
'Two comparators blink.'
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from tickwright.durations import duration_text
from tickwright.space import Cell

LONGEST = 160
_WORDS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


class Text(NamedTuple):
    """Words that stand for themselves."""

    text: str

    def as_data(self) -> dict[str, Any]:
        """The text as JSON shows it."""
        return {"text": self.text}


class Named(NamedTuple):
    """Words that stand for cells, which a page lights while they are spoken of."""

    text: str
    cells: tuple[Cell, ...]

    def as_data(self) -> dict[str, Any]:
        """The words and cells as JSON shows them."""
        return {"text": self.text, "cells": [list(cell) for cell in self.cells]}


class Figure(NamedTuple):
    """A number, its unit ("steps", "level", "levels", "count") and how `derive` gets it again from another run.

    `of` is one of: ("span", cell, number, cell, number), from one change of a cell to one of another, changes counted
    from 0 at the press; ("since press", cell, number); ("level", cell, step), ("drop", cell, step, cell, step) and
    ("moved", cell, step, step), of what cells show so many steps from the press; ("changes", cell, first, last, every),
    how often; ("cells", number) and ("length", steps), counted; ("least", output); ("pulses", output, length) and
    ("hold", output, length), of a press that long; ("edit", cell, part, output), what an edit does; ("sum", figures).
    """

    value: int
    unit: str
    of: tuple[Any, ...]
    word: bool = False

    @property
    def text(self) -> str:
        """The number as it is read: seconds for steps, a word for a small count where it is asked for."""
        if self.unit == "steps":
            return duration_text(self.value)
        if self.word and 0 <= self.value < len(_WORDS):
            return _WORDS[self.value]
        return f"{self.value}"

    def as_data(self) -> dict[str, Any]:
        """The number as JSON shows it."""
        return {"text": self.text, "figure": {"value": self.value, "unit": self.unit, "of": _plain(self.of)}}


Piece = Text | Named | Figure


def _plain(value: Any) -> Any:
    if isinstance(value, Figure):
        return {"value": value.value, "unit": value.unit, "of": _plain(value.of)}
    return [_plain(one) for one in value] if isinstance(value, tuple) else value


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence: what it tells of (`kind`), of which output and trigger, and when, in steps from the press.

    `weight` is 3 for what everybody should hear, 2 for the reason, 1 for what rounds it off; `short` is a caption.
    """

    kind: str
    output: str
    trigger: str
    pieces: tuple[Piece, ...]
    steps: tuple[int, ...] = ()
    weight: int = 2
    caption: str = ""

    @property
    def text(self) -> str:
        """The sentence as it is read, with a capital at its beginning."""
        text = "".join(piece.text for piece in self.pieces)
        return text[:1].upper() + text[1:]

    @property
    def short(self) -> str:
        """The caption: the short form if there is one, else the sentence."""
        return self.caption or self.text

    @property
    def figures(self) -> tuple[Figure, ...]:
        """Every number in it."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Figure))

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every cell that it speaks of."""
        return tuple(dict.fromkeys(cell for piece in self.pieces if isinstance(piece, Named) for cell in piece.cells))

    def as_data(self) -> dict[str, Any]:
        """The sentence as JSON shows it."""
        return {
            "kind": self.kind,
            "output": self.output,
            "trigger": self.trigger,
            "text": self.text,
            "pieces": [piece.as_data() for piece in self.pieces],
            "steps": list(self.steps),
            "weight": self.weight,
            "short": self.short,
        }


def pieces(*parts: Piece | str | Iterable[Piece | str]) -> tuple[Piece, ...]:
    """Pieces from pieces and plain words, in order; what is nested is laid flat."""
    flat: list[Piece] = []
    for part in parts:
        if isinstance(part, str):
            flat.append(Text(part))
        elif isinstance(part, Text | Named | Figure):
            flat.append(part)
        else:
            flat += pieces(*part)
    return tuple(flat)
