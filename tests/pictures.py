"""Plans drawn in the tests: one picture a layer, the bottom layer first, rows from north to south split by "/"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tickwright.kinds import Part, parse_part
from tickwright.space import Cell


def cells_of(layers: Sequence[str], key: Mapping[str, str], floor: bool = False) -> dict[Cell, Part]:
    """The cells of a picture; "." is empty. `floor` lays blocks under all of it, so that it starts at z = 1.

    >>> cells_of(["#w"], {"#": "block", "w": "wire"}, floor=True)[1, 0, 1].kind
    'wire'
    """
    rows = [layer.split("/") for layer in layers]
    if floor:
        width = max(len(row) for layer in rows for row in layer)
        rows.insert(0, ["#" * width] * max(len(layer) for layer in rows))
    return {
        (x, y, z): parse_part(key[mark])
        for z, layer in enumerate(rows)
        for y, row in enumerate(layer)
        for x, mark in enumerate(row)
        if mark != "."
    }
