"""The circuits that show each finding: one that has it, and a near twin that has not. `explain` and tests run them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import msgspec

from tickwright.plan.files import loads
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet, load_rules
from tickwright.space import Cell

_LEGEND = {
    "#": "block",
    "%": "insulator",
    "w": "wire",
    "b": "short-button",
    "l": "lever",
    "k": "lever on=east thrown=yes",
    "P": "power-block",
    "L": "lamp",
    "r": "repeater east",
    "2": "repeater east delay=2",
    "q": "repeater west",
    "Q": "repeater west delay=2",
    "n": "repeater north",
    "u": "repeater south",
    "U": "repeater south delay=2",
    ">": "comparator east",
    "<": "comparator west",
    "c": "comparator north",
    "t": "torch on=west",
    "s": "change-sensor east",
    "i": "item-plate",
    "p": "piston east",
    "o": "pull-piston east",
    "g": "hopper into=east",
    "h": "hopper into=east items=16",
    "e": "ejector east items=3",
    "C": "crate",
}


@dataclass(frozen=True, slots=True)
class Sketch:
    """A small circuit: the layers above a floor of blocks, rows split by "/"; what is pressed and watched.

    `hand` and `steps` are what it is run with to show it; without a hand its first trigger is pressed at step 0.
    `claims` are those of a chart of the plan.
    """

    layers: tuple[str, ...]
    triggers: dict[str, Cell] = field(default_factory=lambda: {"press": (0, 0, 1)})
    outputs: dict[str, Cell] = field(default_factory=dict)
    hand: tuple[str, ...] = ()
    steps: int = 120
    floor: str | None = None
    claims: tuple[str, ...] = ()

    def text(self) -> str:
        """The plan file of the sketch."""
        rows = self.layers[0].split("/")
        floor = self.floor.split("/") if self.floor is not None else ["#" * max(map(len, rows))] * len(rows)
        layers = [floor, *(layer.split("/") for layer in self.layers)]
        used = {mark for layer in layers for row in layer for mark in row} - {"."}
        legend = "".join(f'"{mark}" = "{part}"\n' for mark, part in _LEGEND.items() if mark in used)
        drawn = "".join('\n[[layer]]\nrows = """\n' + "\n".join(layer) + '\n"""\n' for layer in layers)
        named = [
            f"\n[{table}]\n" + "".join(f"{name} = {list(cell)}\n" for name, cell in cells.items())
            for table, cells in (("triggers", self.triggers), ("outputs", self.outputs))
            if cells
        ]
        shows = "".join(f'  "{claim}",\n' for claim in self.claims)
        chart = f'\n[[chart]]\nname = "one press"\nshows = [\n{shows}]\n' if shows else ""
        return f'format = "tickwright plan 1"\n\n[legend]\n{legend}{drawn}{"".join(named)}{chart}'

    def plan(self) -> Plan:
        """The plan of the sketch."""
        return loads(self.text())


@dataclass(frozen=True, slots=True)
class Case:
    """What shows a finding: a circuit that has it, a near twin that has not, and in words how they differ.

    `lamp_off_steps` is a lamp's glow in the rules they are run under, where that is not the one of `standard`.
    """

    wrong: Sketch
    right: Sketch
    differs: str
    lamp_off_steps: int | None = None

    @property
    def rules(self) -> RuleSet:
        """The rules that the case is run under."""
        rules = load_rules()
        if self.lamp_off_steps is None:
            return rules
        lamp = msgspec.structs.replace(rules.lamp, off_delay=self.lamp_off_steps)
        return msgspec.structs.replace(rules, lamp=lamp, name=f"standard, lamp.off_delay = {self.lamp_off_steps}")


_BELL = ("lamp: on from press + 6 steps for 24 steps",)


def _loop(half: int) -> Sketch:
    return Sketch((f"brw{'>' * half}w/..w{'<' * half}w",), outputs={"entry": (2, 0, 1)}, steps=240)


def _long_loop(cells: int) -> Sketch:
    end = "." * (cells - 1) + "w"
    return Sketch((f"brw>{'w' * cells}/..w.{end}/..w<{'w' * cells}",), outputs={"entry": (2, 0, 1)}, steps=60)


def _line(row: str, output: int, **more: Cell) -> Sketch:
    return Sketch((row,), outputs={"lamp": (output, 0, 1), **more}, steps=60)


_TWO = {"press": (0, 0, 1), "ring": (0, 1, 1)}
_APART = {"press": (0, 0, 1), "ring": (0, 2, 1)}
_COPIES = {"press": (0, 0, 1), "press-2": (0, 1, 1)}


@cache
def cases() -> dict[str, Case]:
    """The case of every code."""
    piston = {"piston": (1, 0, 1)}
    return {
        "trigger-too-short": Case(_loop(6), _loop(3), "a loop of six comparators instead of twelve"),
        "level-dies-in-loop": Case(_long_loop(7), _long_loop(5), "four cells of wire less"),
        "loop-never-fades": Case(
            Sketch(("brw>w/..wqw",), outputs={"entry": (2, 0, 1)}, steps=80),
            Sketch(("brw>w/..w<w",), outputs={"entry": (2, 0, 1)}, steps=80),
            "a comparator on the way back instead of the repeater",
        ),
        "wires-joined": Case(
            Sketch(("bwwr/bwwr",), _TWO, {"barrier": (3, 0, 1), "bell": (3, 1, 1)}, steps=60),
            Sketch(("bwwr/..../bwwr",), _APART, {"barrier": (3, 0, 1), "bell": (3, 2, 1)}, steps=60),
            "the lines lie a cell apart",
        ),
        "climbing-wire-feeds-comparator": Case(
            Sketch(
                (".w#>L/bw", "..w"),
                {"press": (0, 1, 1)},
                {"lamp": (4, 0, 1), "level": (3, 0, 1)},
                floor="#####/##",
                steps=60,
            ),
            Sketch(("bw#>L", "..w"), outputs={"lamp": (4, 0, 1), "level": (3, 0, 1)}, steps=60),
            "the wire runs straight at the block",
        ),
        "short-pulse-lost": Case(
            _line("brsw>L", 5, edge=(2, 0, 1)),
            _line("brs2>L", 5, edge=(2, 0, 1)),
            "a repeater of two ticks instead of the wire",
        ),
        "torch-burns-out": Case(
            Sketch(("k#tw/.w.w/.wqw",), {"start": (0, 0, 1)}, {"beat": (3, 0, 1)}, steps=160),
            Sketch(("k#tw/.w.w/.wQw",), {"start": (0, 0, 1)}, {"beat": (3, 0, 1)}, steps=160),
            "two ticks instead of one in the ring",
        ),
        "repeater-locked-for-good": Case(
            Sketch(("bwrwL/..n/..P",), outputs={"lamp": (4, 0, 1)}, steps=60),
            Sketch(("bwrwL/..n/..l",), outputs={"lamp": (4, 0, 1)}, steps=60),
            "a lever, not thrown, instead of the power-block",
        ),
        "output-unreached": Case(_line("bwqL", 3), _line("bwrL", 3), "the repeater faces the lamp"),
        "output-too-far": Case(
            _line("b" + "w" * 16 + "L", 17), _line("b" + "w" * 15 + "L", 16), "one cell of wire less"
        ),
        "never-powered": Case(
            Sketch(("bwL/.w",), outputs={"lamp": (2, 0, 1)}, steps=60),
            Sketch(("bwL",), outputs={"lamp": (2, 0, 1)}, steps=60),
            "no wire that bends the one before the lamp",
        ),
        "ring-not-closed": Case(
            Sketch(("brw>>>w/..w<<<",), outputs={"entry": (2, 0, 1)}, floor="#######/#######", steps=240),
            _loop(3),
            "the wire at the far end is there",
        ),
        "heard-by-nobody": Case(
            Sketch(("bw>.",), outputs={"wire": (1, 0, 1)}, steps=60),
            Sketch(("bw>L",), outputs={"wire": (1, 0, 1), "lamp": (3, 0, 1)}, steps=60),
            "a lamp before the comparator",
        ),
        "neighbour-too-near": Case(
            Sketch(("brL/brL",), _COPIES, {"lamp": (2, 0, 1), "lamp-2": (2, 1, 1)}, steps=60),
            Sketch(
                ("brL/.../brL",), {**_COPIES, "press-2": (0, 2, 1)}, {"lamp": (2, 0, 1), "lamp-2": (2, 2, 1)}, steps=60
            ),
            "the second copy stands a cell farther away",
        ),
        "order-sensitive": Case(
            Sketch(("bwwrwL/.w.c/.www",), outputs={"lamp": (5, 0, 1)}, steps=60),
            Sketch(("bwwrwL/.w.c/.wrw",), outputs={"lamp": (5, 0, 1)}, steps=60),
            "a repeater in the wire to the comparator",
        ),
        "container-never-fills": Case(
            Sketch(("gC",), {}, {"crate": (1, 0, 1)}, steps=60),
            Sketch(("hC",), {}, {"crate": (1, 0, 1)}, steps=60),
            "sixteen items in the hopper",
        ),
        "container-never-drains": Case(
            Sketch(("PhC",), {}, {"crate": (2, 0, 1)}, steps=60),
            Sketch((".hC",), {}, {"crate": (2, 0, 1)}, steps=60),
            "no power-block beside the hopper",
        ),
        "piston-blocked": Case(
            Sketch(("bpC",), outputs=piston, steps=60),
            Sketch(("bp#",), outputs=piston, steps=60),
            "a block instead of the crate",
        ),
        "piston-cannot-pull": Case(
            Sketch(("bo.C",), outputs=piston, steps=60),
            Sketch(("bo.#",), outputs=piston, steps=60),
            "a block instead of the crate",
        ),
        "cell-left-behind": Case(
            Sketch(("brswo#",), outputs={"piston": (4, 0, 1), "block": (5, 0, 1)}, steps=60),
            Sketch(("brs2o#",), outputs={"piston": (4, 0, 1), "block": (5, 0, 1)}, steps=60),
            "a repeater of two ticks instead of the wire",
        ),
        "part-broke": Case(
            Sketch(("bp#", "..w"), outputs=piston, steps=60),
            Sketch(("bp#",), outputs=piston, steps=60),
            "no wire on the block that is pushed",
        ),
        "item-lost": Case(
            Sketch(("be",), outputs={"items": (1, 0, 1)}, steps=60),
            Sketch(("be",), outputs={"items": (1, 0, 1)}, steps=60, floor="###"),
            "a floor before the ejector",
        ),
        "lamp-flashes": Case(
            Sketch(("lrswrw/...w.u/...wqw",), outputs={"lamp": (3, 1, 0)}, steps=80, floor="######/...L##/...###"),
            Sketch(("lrswrw/...w.U/...wqw",), outputs={"lamp": (3, 1, 0)}, steps=80, floor="######/...L##/...###"),
            "a ring of four ticks instead of three",
            lamp_off_steps=2,
        ),
        "claim-not-kept": Case(
            Sketch(("brrL",), outputs={"lamp": (3, 0, 1)}, steps=60, claims=_BELL),
            Sketch(("br2L",), outputs={"lamp": (3, 0, 1)}, steps=60, claims=_BELL),
            "the second repeater has the tick more that the claim counts on",
        ),
        "act-refused": Case(
            Sketch(("iL",), {"plate": (0, 0, 1)}, {"lamp": (1, 0, 1)}, ("5:plate:take",), 60),
            Sketch(("iL",), {"plate": (0, 0, 1)}, {"lamp": (1, 0, 1)}, ("2:plate:drop", "5:plate:take"), 60),
            "something lies on the plate",
        ),
        "act-after-end": Case(
            Sketch(("bL",), outputs={"lamp": (1, 0, 1)}, hand=("0:press", "60:press"), steps=60),
            Sketch(("bL",), outputs={"lamp": (1, 0, 1)}, hand=("0:press", "30:press"), steps=60),
            "the second press comes before the end",
        ),
    }
