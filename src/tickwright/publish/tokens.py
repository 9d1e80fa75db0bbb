"""The tokens of the look: colours, sizes, strokes and the axes of lifted layers, from the one file `tokens.json`.

That file feeds everything that shows a plan: pages by CSS variables, drawings, printed sheets, films and the terminal.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

Theme = Literal["light", "dark", "print"]
Colours = Mapping[str, str]

HIGHEST_LEVEL = 15
_HERE = Path(__file__).parent
FONT_FOLDER = _HERE / "fonts"
TOKENS: Mapping[str, Any] = MappingProxyType(json.loads((_HERE / "tokens.json").read_text(encoding="utf-8")))
FAMILY: str = TOKENS["type"]["family"]
FONT_FILES = ("inter-tabular-regular", "inter-tabular-semibold")


def _colours(theme: str) -> Colours:
    """The colours of a theme by name; "level-0" is that of what is off, "on-level-3" what can be read on level 3."""
    given = dict(TOKENS[theme])
    levels, inks = given.pop("ramp"), given.pop("rampink")
    named = {f"level-{level}": colour for level, colour in enumerate([given["panel"], *levels])}
    named |= {f"on-level-{level}": colour for level, colour in enumerate([given["soft"], *inks])}
    return MappingProxyType({**given, **named})


THEMES: Mapping[str, Colours] = MappingProxyType({theme: _colours(theme) for theme in ("light", "dark", "print")})


def level_colour(colours: Colours, level: int) -> str:
    """The colour of a level, 0 being that of what is off; of a count above 15 that of 15.

    >>> level_colour(THEMES["light"], 0), level_colour(THEMES["light"], 15)
    ('#ffffff', '#032b88')
    """
    return colours[f"level-{min(level, HIGHEST_LEVEL)}"]


def level_ink(colours: Colours, level: int) -> str:
    """What can be read on the colour of a level.

    >>> level_ink(THEMES["light"], 1), level_ink(THEMES["light"], 15)
    ('#05080e', '#ffffff')
    """
    return colours[f"on-level-{min(level, HIGHEST_LEVEL)}"]


def wire_width(level: int) -> float:
    """How wide the line of a wire is, as a share of its cell: the stronger the wider.

    >>> wire_width(1), wire_width(15)
    (0.24, 0.36)
    """
    wire: Mapping[str, float] = TOKENS["wire"]
    if not level:
        return wire["off"]
    share = (min(level, HIGHEST_LEVEL) - 1) / (HIGHEST_LEVEL - 1)
    return round(wire["least"] + share * (wire["most"] - wire["least"]), 4)


def css_variables(theme: str) -> str:
    """The colours of a theme as CSS variables.

    >>> "--accent:#6a2bd9;" in css_variables("light")
    True
    """
    return "".join(f"--{name}:{colour};" for name, colour in THEMES[theme].items())


def font_face(embedded: bool, folder: str = "") -> str:
    """The rules of a style sheet that bring our letters: from files in a folder of the page, or embedded in it."""
    import base64

    rules = []
    for name, weight in zip(FONT_FILES, ("400 500", "600 800"), strict=True):
        if embedded:
            data = (FONT_FOLDER / f"{name}.woff2").read_bytes()
            source = f"data:font/woff2;base64,{base64.b64encode(data).decode('ascii')}"
        else:
            source = f"{folder}/{name}.woff2"
        rules.append(
            f"@font-face{{font-family:'{FAMILY}';font-weight:{weight};font-display:block;"
            f"src:url({source}) format('woff2')}}"
        )
    return "\n".join(rules)


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
