"""The tiles of gates: what a netlist's gates, inputs and outputs are laid of."""

from __future__ import annotations

from functools import cache

from tickwright.kinds import parse_part
from tickwright.layout.model import Port, Tile
from tickwright.plan.model import Plan
from tickwright.space import Cell

LEGEND = {
    "#": "block",
    "w": "wire",
    "L": "lamp",
    "l": "lever",
    "P": "power-block",
    "e": "torch on=west",
    "W": "torch on=east",
    "n": "torch on=south",
    ">": "repeater east",
    "}": "repeater east delay=2",
    ")": "repeater east delay=4",
    "v": "repeater south",
}

# For each tile its layers, bottom first, its ports as cell, sides and role, and cells that must stay empty.
_DRAWN: dict[str, tuple[tuple[str, ...], dict[str, tuple[Cell, str, str]], tuple[Cell, ...]]] = {
    "not": (("#..", "w#e"), {"a": ((0, 0, 1), "west", "in"), "out": ((2, 0, 1), "east north south", "out")}, ()),
    "nor2": (
        (".#.\n#..", ".w.\nw#e"),
        {
            "a": ((0, 1, 1), "west", "in"),
            "b": ((1, 0, 1), "north", "in"),
            "out": ((2, 1, 1), "east south", "out"),
        },
        (),
    ),
    "nor3": (
        (".#.\n#..\n.#.", ".w.\nw#e\n.w."),
        {
            "a": ((0, 1, 1), "west", "in"),
            "b": ((1, 0, 1), "north", "in"),
            "c": ((1, 2, 1), "south", "in"),
            "out": ((2, 1, 1), "east", "out"),
        },
        (),
    ),
    "nand2": (
        ("#..#..#", "w#ewW#w"),
        {
            "a": ((0, 0, 1), "west", "in"),
            "b": ((6, 0, 1), "east", "in"),
            "out": ((3, 0, 1), "north south", "out"),
        },
        (),
    ),
    "nand3": (
        ("#..#..#\n.......\n.......\n...#...", "w#ewW#w\n...n...\n...#...\n...w..."),
        {
            "a": ((0, 0, 1), "west", "in"),
            "b": ((6, 0, 1), "east", "in"),
            "c": ((3, 3, 1), "south", "in"),
            "out": ((3, 0, 1), "north", "out"),
        },
        (),
    ),
    "re": (
        ("#..#\n.#.#\n####", "w#ew\n.v.v\nw>w)"),
        {"d": ((0, 2, 1), "west south", "in"), "clock": ((0, 0, 1), "west", "in"), "q": ((3, 2, 1), "east", "out")},
        (),
    ),
    "fe": (
        (".#..#\n.#.#.\n####.", ".wW#w\n.v.v.\nw}w)."),
        {"d": ((0, 2, 1), "west south", "in"), "clock": ((4, 0, 1), "east", "in"), "q": ((3, 2, 1), "east", "out")},
        (),
    ),
    "al": (
        (".#.\n.#.\n##.", ".w.\n.v.\nw>."),
        {
            "d": ((0, 2, 1), "west south", "in"),
            "clock": ((1, 0, 1), "north west east", "in"),
            "q": ((1, 2, 1), "east", "out"),
        },
        (),
    ),
    "lever": (("#", "l"), {"out": ((0, 0, 1), "east north south west", "out")}, ()),
    "lamp": (("L", "w"), {"in": ((0, 0, 1), "west north south east", "in")}, ()),
    "one": (("#", "P"), {"out": ((0, 0, 1), "east north south west", "out")}, ()),
    "line-in": (("###", "lw>"), {"out": ((2, 0, 1), "east", "out")}, ((-1, 0, 1),)),
    "line-out": (("##", ">w"), {"in": ((0, 0, 1), "west", "in")}, ((2, 0, 1), (2, 0, 0))),
}
GIVES = {"nand2": 14, "nand3": 14}
NEEDS = {"lamp": 2}


@cache
def gate_tile(kind: str) -> Tile:
    """The tile of a gate, an input ("lever", "line-in") or an output ("lamp", "line-out").

    >>> sorted(gate_tile("nor2").ports)
    ['a', 'b', 'out']
    """
    layers, ports, keep_outs = _DRAWN[kind]
    cells = {
        (x, y, z): parse_part(LEGEND[character])
        for z, layer in enumerate(layers)
        for y, row in enumerate(layer.split("\n"))
        for x, character in enumerate(row)
        if character != "."
    }
    made = {}
    for name, (cell, sides, role) in ports.items():
        side, *also = sides.split()
        made[name] = Port(cell, side, role, tuple(also), gives=GIVES.get(kind, 15))
    return Tile(kind, Plan(cells), made, frozenset(keep_outs))
