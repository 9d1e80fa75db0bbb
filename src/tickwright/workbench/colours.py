"""The page's colours as CSS variables, light and dark."""

from __future__ import annotations

LEVELS = (
    "#00224e", "#002e6c", "#1e3a6f", "#35456c", "#47516c", "#575d6d", "#666970", "#757575",
    "#848279", "#948e77", "#a59c74", "#b7a96e", "#c8b866", "#dbc75a", "#eed649", "#fee838",
)  # fmt: skip
THEMES = {
    "light": {
        "ground": "#ffffff", "paper": "#f1f3f5", "solid": "#ccd2d9", "ink": "#1c252e", "edge": "#64707d",
        "faint": "#dfe3e8", "name": "#0b4f8a",
    },
    "dark": {
        "ground": "#12161b", "paper": "#272e37", "solid": "#434d5a", "ink": "#eef1f4", "edge": "#a3aebb",
        "faint": "#2b323b", "name": "#8cc4f5",
    },
}  # fmt: skip


def variables() -> str:
    """The variables as a style sheet."""
    over = " ".join("#ffffff" if number < 7 else "#000000" for number in range(16))
    shared = f"--levels:{' '.join(LEVELS)};--levels-over:{over};"
    light, dark = (
        "".join(f"--{name}:{value};" for name, value in THEMES[theme].items()) for theme in ("light", "dark")
    )
    return f"body{{{shared}{light}}}body.body--dark{{{dark}}}"
