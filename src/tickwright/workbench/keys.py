"""The keys of the grids: one table, from which the page acts, the list of keys is shown and the docs are written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple


class Key(NamedTuple):
    """What some keys do: as a browser names them ("R" is Shift + r), as they are shown, the deed, and it in words."""

    keys: tuple[str, ...]
    shown: str
    op: str
    words: str


# Which parts a key chooses: pressed again, the next of them. Together they hold every kind once (a test looks).
PART_KEYS: dict[str, tuple[str, ...]] = {
    "b": ("block", "insulator", "power-block"),
    "w": ("wire",),
    "e": ("repeater",),
    "c": ("comparator",),
    "t": ("torch",),
    "l": ("lamp",),
    "s": ("short-button", "long-button"),
    "v": ("lever",),
    "p": ("item-plate", "tread-plate", "counting-plate"),
    "u": ("change-sensor",),
    "i": ("piston", "pull-piston"),
    "h": ("hopper", "ejector", "crate"),
}

TABLE: tuple[Key, ...] = (
    Key(("ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"), "Arrow keys", "step", "move the cursor"),
    Key(
        ("Shift+ArrowLeft", "Shift+ArrowRight", "Shift+ArrowUp", "Shift+ArrowDown"),
        "Shift + arrow keys", "span", "select a box of cells",
    ),
    Key(("Ctrl+a",), "Ctrl + A", "all", "select the whole layer"),
    Key(("Escape",), "Escape", "drop", "leave what is being tried, or select nothing"),
    Key(("PageUp", "PageDown"), "Page Up, Page Down", "climb", "one layer up or down, or one section on"),
    Key(
        ("Shift+PageUp", "Shift+PageDown"), "Shift + Page Up, Page Down", "climb-on", "the same, also one above the top"
    ),
    Key(
        ("Enter", " "), "Enter, Space", "act",
        "lay the chosen part, in every cell of a selection; put what is being tried",
    ),
    Key(("Shift+Enter",), "Shift + Enter", "press", "press what is in the cell, at the step that is shown"),
    Key(("Delete", "Backspace"), "Delete, Backspace", "erase", "erase the part or the selection"),
    Key(("[",), "[", "part-before", "choose the part before in the list"),
    Key(("]",), "]", "part-after", "choose the part after in the list"),
    Key(("q",), "Q", "pick", "choose the part under the cursor"),
    Key(("r",), "R", "turn", "turn the part, the selection or, over an empty cell, the chosen part"),
    Key(("R",), "Shift + R", "turn-back", "turn it the other way"),
    Key(("1", "2", "3", "4"), "1 to 4", "delay", "set the delay of the repeater, in ticks"),
    Key(("m",), "M", "mode", "the other mode of the comparator"),
    Key(("<",), "<", "try-before", "try the setting or part before at this cell: a ghost shows what it would do"),
    Key((">",), ">", "try-after", "try the one after"),
    Key(("x",), "X", "mirror-x", "mirror: swap east and west"),
    Key(("y",), "Y", "mirror-y", "mirror: swap north and south"),
    Key(
        ("Alt+ArrowLeft", "Alt+ArrowRight", "Alt+ArrowUp", "Alt+ArrowDown", "Alt+PageUp", "Alt+PageDown"),
        "Alt + arrow keys, Alt + Page Up or Page Down", "move", "move the part or the selection",
    ),
    Key(("Ctrl+c",), "Ctrl + C", "copy", "copy"),
    Key(("Ctrl+x",), "Ctrl + X", "cut", "cut"),
    Key(("Ctrl+v",), "Ctrl + V", "paste", "paste at the cursor"),
    Key(("d",), "D", "ask-repeat", "repeat the selection"),
    Key(("Ctrl+z",), "Ctrl + Z", "undo", "undo"),
    Key(("Ctrl+y", "Ctrl+Z"), "Ctrl + Y", "redo", "redo"),
    Key(("Ctrl+s",), "Ctrl + S", "save", "save"),
    Key(("a",), "A", "ask-module", "choose a module to lay: a plan of the folder, or a tile of the shelf"),
    Key(("o",), "O", "open-module", "open the module at the cell, to change its parts where it lies"),
    Key(("U",), "Shift + U", "leave-module", "go back from the module to the whole"),
    Key(("f",), "F", "boxes", "show modules as boxes, or with their parts"),
    Key(("T",), "Shift + T", "ask-trigger", "name the cell as a trigger"),
    Key(("O",), "Shift + O", "ask-output", "name the cell as an output"),
    Key(("N",), "Shift + N", "ask-note", "pin a note to the cell"),
    Key(("L",), "Shift + L", "lane", "show or hide the lane of the cell"),
    Key(("k",), "K", "play", "play or pause"),
    Key((",",), ",", "jump-back", "to the change before"),
    Key((".",), ".", "jump-on", "to the next change"),
    Key(("g",), "G", "ghosts", "show or hide the other layers"),
    Key(("+", "="), "+", "zoom-in", "zoom in"),
    Key(("-",), "-", "zoom-out", "zoom out"),
    Key(("0",), "0", "fit", "show all"),
    Key(("F1", "?"), "F1, ?", "ask-keys", "this list"),
    *(
        Key((key,), key.upper(), f"part:{'|'.join(kinds)}", f"choose {', then '.join(kinds)}")
        for key, kinds in PART_KEYS.items()
    ),
)  # fmt: skip


def key_map(table: Iterable[Key] = TABLE) -> dict[str, str]:
    """The deed of each key, for the page. Raises ValueError for a key that stands twice.

    >>> key_map()["r"], key_map()["w"]
    ('turn', 'part:wire')
    """
    found: dict[str, str] = {}
    for row in table:
        for key in row.keys:
            if key in found:
                raise ValueError(f"The key {key} stands for {found[key]} and for {row.op}.")
            found[key] = row.op
    return found


def key_rows() -> Iterator[tuple[str, str]]:
    """The keys and what they do, as the list shows them."""
    for row in TABLE:
        yield row.shown, row.words
    yield "two fingers", "move the grid, and make it larger or smaller"
