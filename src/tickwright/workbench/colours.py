"""The page's colours as CSS variables, light and dark, and its letters: those of the tokens."""

from __future__ import annotations

from tickwright.publish import css_variables, font_face

FONTS = "/bench/fonts"


def variables() -> str:
    """The variables as a style sheet."""
    light, dark = (css_variables(theme) for theme in ("light", "dark"))
    return f"{font_face(embedded=False, folder=FONTS)}body{{{light}}}body.body--dark{{{dark}}}"
