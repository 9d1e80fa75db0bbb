"""Colours: the levels on a colour-blind-safe scale, the neutral tones round them, and how well they stand apart."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# Levels 0 to 15 on the scale cividis: Nuñez, Anderton and Renslow, PLOS ONE 13(7) e0199239 (2018), whose table of 256
# colours is free to use; here each seventeenth of them, the first being level 0.
LEVEL_COLOURS = (
    "#00224e", "#002e6c", "#1e3a6f", "#35456c", "#47516c", "#575d6d", "#666970", "#757575",
    "#848279", "#948e77", "#a59c74", "#b7a96e", "#c8b866", "#dbc75a", "#eed649", "#fee838",
)  # fmt: skip
HIGHEST_LEVEL = len(LEVEL_COLOURS) - 1

# What a role of a shape is drawn with. `ink` is for lines and text, `edge` for the outlines of cells, `faint` for what
# is only hinted at (it carries no meaning of its own), `left` and `right` for the sides of a cell seen from above.
THEMES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "light": {
            "ground": "#ffffff", "paper": "#f1f3f5", "solid": "#ccd2d9", "left": "#b4bcc6", "right": "#9aa4b0",
            "ink": "#1c252e", "edge": "#64707d", "faint": "#dfe3e8", "name": "#0b4f8a",
        },
        "dark": {
            "ground": "#12161b", "paper": "#272e37", "solid": "#434d5a", "left": "#363f4a", "right": "#2a323b",
            "ink": "#eef1f4", "edge": "#a3aebb", "faint": "#2b323b", "name": "#8cc4f5",
        },
    }
)  # fmt: skip


def level_colour(level: int) -> str:
    """The colour of a level; of a count above 15 that of 15.

    >>> level_colour(0), level_colour(15)
    ('#00224e', '#fee838')
    """
    return LEVEL_COLOURS[min(level, HIGHEST_LEVEL)]


def luminance(colour: str) -> float:
    """The relative luminance of a colour "#rrggbb", 0 for black to 1 for white. Source: WCAG 2.2, definition.

    >>> round(luminance("#767676"), 3)
    0.181
    """
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21. Source: WCAG 2.2, definition.

    >>> round(contrast("#ffffff", "#767676"), 2)
    4.54
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def over(colour: str) -> str:
    """Black or white, whichever can be read better on a colour; always at least 4.5 to 1.

    >>> over("#fee838"), over("#00224e")
    ('#000000', '#ffffff')
    """
    return max(("#000000", "#ffffff"), key=lambda text: contrast(text, colour))
