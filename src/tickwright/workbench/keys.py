"""The keys of the layer view, as the page and the docs list them."""

from __future__ import annotations

KEYS: tuple[tuple[str, str], ...] = (
    ("Arrow keys", "move the cursor"),
    ("Shift + arrow keys", "select a box of cells"),
    ("Ctrl + A", "select the whole layer"),
    ("Escape", "select nothing"),
    ("Page Up, Page Down", "one layer up or down; with Shift also one above the top"),
    ("Enter, Space", "lay the chosen part, in every cell of a selection; press, when watching"),
    ("Delete, Backspace", "erase the part or the selection"),
    ("[ and ]", "choose the part before or after in the list"),
    ("I", "choose the part under the cursor"),
    ("R, Shift + R", "turn the part, the selection or, over an empty cell, the chosen part"),
    ("X, Y", "mirror: swap east and west, or north and south"),
    ("Alt + arrow keys, Alt + Page Up or Page Down", "move the part or the selection"),
    ("Ctrl + C, Ctrl + X, Ctrl + V", "copy, cut, paste at the cursor"),
    ("D", "repeat the selection"),
    ("Ctrl + Z, Ctrl + Y", "undo, redo"),
    ("Ctrl + S", "save"),
    ("T, O, N", "name the cell as a trigger or an output, or pin a note to it"),
    ("L", "show or hide the lane of the cell, when watching"),
    ("G", "show or hide the other layers"),
    ("+, -, 0", "zoom in, zoom out, show all"),
    ("F1, ?", "this list"),
)
