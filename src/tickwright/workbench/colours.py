"""The page's colours as CSS variables, light and dark: those of the drawings."""

from __future__ import annotations

from tickwright.publish import LEVEL_COLOURS, THEMES, over


def variables() -> str:
    """The variables as a style sheet."""
    levels = f"--levels:{' '.join(LEVEL_COLOURS)};--levels-over:{' '.join(map(over, LEVEL_COLOURS))};"
    light, dark = (
        "".join(f"--{name}:{value};" for name, value in THEMES[theme].items()) for theme in ("light", "dark")
    )
    return f"body{{{levels}{light}}}body.body--dark{{{dark}}}"
