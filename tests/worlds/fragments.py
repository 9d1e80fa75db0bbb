"""Small arrangements that make a world interesting, each a picture of cells with some choices left to chance.

A fragment maps cells to the texts of their parts (None clears the cell). East is ahead and it lies flat on z = 0; the
generator turns, mirrors and lays it somewhere, and puts a floor under what needs one.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from tickwright.kinds import PARTS
from tickwright.space import DIRECTIONS, HORIZONTAL, OPPOSITE, Cell, along, beside

Fragment = dict[Cell, "str | None"]
Maker = Callable[["Chance"], Fragment]
HERE = (0, 0, 0)
MAKERS: dict[str, tuple[str, Maker]] = {}  # name -> (theme, maker)


class Chance:
    """A source of random parts."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng

    def one(self, *choices: str) -> str:
        return self.rng.choice(choices)

    def maybe(self, chance: float) -> bool:
        return self.rng.random() < chance

    def side(self) -> str:
        return self.rng.choice(HORIZONTAL)

    def repeater(self, facing: str | None = None, delay: int | None = None) -> str:
        return f"repeater {facing or self.side()} delay={delay or self.rng.choice([1, 1, 1, 2, 3, 4])}"

    def comparator(self, facing: str | None = None, mode: str | None = None) -> str:
        return f"comparator {facing or self.side()} mode={mode or self.one('threshold', 'difference')}"

    def gate(self, facing: str | None = None) -> str:
        return self.comparator(facing) if self.maybe(0.5) else self.repeater(facing)

    def torch(self) -> str:
        return "torch on=" + self.one("down", "down", *HORIZONTAL)

    def switch(self, on: str | None = None) -> str:
        kind = self.one("lever", "lever", "short-button", "long-button")
        thrown = " thrown=yes" if kind == "lever" and self.maybe(0.4) else ""
        return f"{kind} on={on or self.one('down', 'down', 'down', *DIRECTIONS)}{thrown}"

    def plate(self) -> str:
        return self.one("item-plate", "tread-plate", "counting-plate counts=1", "counting-plate counts=10")

    def container(self, most: int | None = None) -> str:
        kind = self.one("hopper", "hopper", "ejector", "crate")
        held = PARTS[kind].arguments[0].choices[-1]
        assert isinstance(held, int)
        items = self.rng.choice([0, 0, 1, 2, 5, 30, 64, held // 2, held - 1, held])
        items = items if most is None else min(items, most)
        if kind == "hopper":
            return f"hopper into={self.one('down', 'down', *HORIZONTAL)} items={items}"
        return f"ejector {self.one(*DIRECTIONS)} items={items}" if kind == "ejector" else f"crate items={items}"

    def piston(self, facing: str | None = None) -> str:
        return f"{self.one('piston', 'pull-piston')} {facing or self.one(*DIRECTIONS)}"

    def sensor(self, facing: str | None = None) -> str:
        return f"change-sensor {facing or self.one(*DIRECTIONS)}"

    def movable(self) -> str:
        return self.one("block", "block", "block", "insulator", "lamp", "power-block", self.sensor(), self.piston())

    def full(self) -> str:
        return self.one(*["block"] * 6, "insulator", "insulator", "lamp", "lamp", "power-block")


def fragment(theme: str) -> Callable[[Maker], Maker]:
    """Put the function into the table of fragments under a theme."""

    def enter(maker: Maker) -> Maker:
        MAKERS[maker.__name__] = (theme, maker)
        return maker

    return enter


def level_row(*texts: str, start: int = 0, y: int = 0, z: int = 0) -> Fragment:
    """Parts side by side, eastward."""
    return {(start + x, y, z): text for x, text in enumerate(texts)}


# --- wires, repeaters, torches -----------------------------------------------------------------------------------


@fragment("wires")
def stair(c: Chance) -> Fragment:
    """A wire that climbs over blocks or insulators, perhaps under a roof, perhaps down again."""
    height = c.rng.randint(1, 2)
    cells: Fragment = {(-1, 0, 0): c.switch("down"), HERE: "wire"}
    for x in range(1, height + 1):
        cells |= {(x, 0, z): "block" for z in range(x - 1)}
        cells |= {(x, 0, x - 1): c.one("block", "insulator", "insulator", "lamp", "block"), (x, 0, x): "wire"}
    cells[height + 1, 0, height - 1] = c.one("wire", "wire", c.full(), c.gate("east"))
    cells[height + 1, 0, height] = c.one(c.gate("east"), "lamp", "wire", "wire")
    cells[height + 2, 0, height - 1] = c.one("wire", c.comparator("east"), "lamp")
    if c.maybe(0.3):
        cells[0, 0, 1] = c.one("block", "insulator", "lamp")
    return cells


@fragment("wires")
def drop(c: Chance) -> Fragment:
    """Level that should come down from a wire on a block, insulator or lamp."""
    carrier = c.one("block", "insulator", "insulator", "lamp", "power-block", "crate items=3")
    cells: Fragment = {HERE: carrier, (0, 0, 1): "wire", (1, 0, 0): "wire", (2, 0, 0): c.one("wire", "lamp", "block")}
    cells[-1, 0, 1] = c.switch("down") if c.maybe(0.6) else c.gate("east")
    cells[-1, 0, 0] = "block"
    cells[-2, 0, 1] = c.switch("down")
    if c.maybe(0.2):
        cells[1, 0, 1] = c.full()
    return cells


@fragment("wires")
def lock(c: Chance) -> Fragment:
    """A repeater that another repeater or a comparator locks."""
    cells: Fragment = {
        (-1, 0, 0): c.switch("down"),
        HERE: c.one("wire", c.switch("down"), c.sensor("east"), c.repeater("east")),
        (1, 0, 0): c.repeater("east"),
        (2, 0, 0): c.one("wire", "lamp", "block", c.gate("east")),
        (1, 1, 0): c.one(c.repeater("north"), c.comparator("north"), c.sensor("north")),
        (1, 2, 0): c.one("wire", c.switch("down"), c.repeater("north")),
        (1, 3, 0): c.switch("down"),
    }
    if c.maybe(0.4):
        cells[1, -1, 0] = c.one(c.repeater("south"), c.comparator("south"), "wire")
    return cells


@fragment("wires")
def ring(c: Chance) -> Fragment:
    """Repeaters in a ring, started by a pulse: a clock, or on for ever."""
    cells: Fragment = {HERE: "wire", (1, 0, 0): c.repeater("east"), (2, 0, 0): "wire", (2, 1, 0): "wire"}
    cells |= {(1, 1, 0): c.repeater("west"), (0, 1, 0): "wire"}
    if c.maybe(0.6):
        cells |= {(-1, 0, 0): c.sensor("east"), (-2, 0, 0): c.switch("down")}
    else:
        cells[-1, 0, 0] = c.switch("down")
    if c.maybe(0.5):
        cells[3, 0, 0] = c.one("lamp", c.comparator("east"), c.repeater("east"), "block")
    return cells


@fragment("wires")
def chain(c: Chance) -> Fragment:
    """Repeaters and comparators one behind another, fed by something short: stretched pulses, swallowed gaps."""
    cells: Fragment = {(-1, 0, 0): c.switch("down"), HERE: c.one(c.sensor("east"), "wire", c.repeater("east"))}
    for x in range(1, c.rng.randint(2, 4)):
        cells[x, 0, 0] = c.one(c.repeater("east"), c.repeater("east"), c.comparator("east"), "wire", "block")
    cells[len(cells), 0, 0] = c.one("lamp", "wire", "block", "lamp")
    return cells


@fragment("wires")
def split(c: Chance) -> Fragment:
    """A direct way and a detour that meet again: ties and priorities."""
    cells: Fragment = {(-1, 0, 0): c.switch("down"), HERE: "wire", (0, 1, 0): "wire"}
    cells |= {(1, 0, 0): c.gate("east"), (1, 1, 0): c.gate("east"), (2, 0, 0): c.one("wire", c.gate("east"))}
    cells |= {(2, 1, 0): c.one("wire", c.gate("east"), c.repeater("north")), (3, 0, 0): c.one("wire", c.gate("east"))}
    cells[3, 1, 0] = c.one("wire", "lamp", c.gate("north"))
    return cells


@fragment("wires")
def head_on(c: Chance) -> Fragment:
    """Two parts front to front."""
    cells: Fragment = {(-1, 0, 0): c.switch("down"), HERE: c.gate("east"), (1, 0, 0): c.gate("west")}
    return cells | {(2, 0, 0): c.one(c.switch("down"), "wire"), (0, 1, 0): c.gate("north"), (0, 2, 0): c.switch("down")}


@fragment("torches")
def torch_ring(c: Chance) -> Fragment:
    """Torches round a ring, odd or even."""
    cells: Fragment = {HERE: "block", (1, 0, 0): "torch on=west", (2, 0, 0): c.one("wire", c.repeater("east"), "block")}
    cells |= {(3, 0, 0): "block", (3, 1, 0): "torch on=north", (3, 2, 0): "wire", (2, 2, 0): "wire"}
    cells |= {(1, 2, 0): c.one("wire", c.repeater("west")), (0, 2, 0): "wire"}
    cells[0, 1, 0] = c.one("wire", c.repeater("north"))
    if c.maybe(0.4):
        cells[0, 0, 1] = c.one(c.switch("down"), "torch on=down", "wire")
    return cells


@fragment("torches")
def burner(c: Chance) -> Fragment:
    """A torch that feeds the block it is fixed to, so that it burns out."""
    cells: Fragment = {HERE: "block", (1, 0, 0): "torch on=west", (1, 0, 1): "block", (0, 0, 1): "wire"}
    if c.maybe(0.5):
        cells = {HERE: "block", (1, 0, 0): "torch on=west", (2, 0, 0): "wire", (2, 1, 0): "wire", (2, 2, 0): "wire"}
        cells |= {(1, 2, 0): c.one("wire", c.repeater("west")), (0, 2, 0): "wire", (0, 1, 0): "wire"}
    cells[-1, 0, 0] = c.one(c.switch("east"), c.switch("down"), "lever on=east", "lamp")
    cells[0, -1, 0] = c.one("lamp", "torch on=south", "wire", c.switch("south"))
    return cells


@fragment("torches")
def tower(c: Chance) -> Fragment:
    """Torch over block over torch."""
    cells: Fragment = {
        HERE: "block",
        (0, 0, 1): "torch on=down",
        (0, 0, 2): c.one("block", "block", "lamp", "insulator"),
    }
    cells |= {(-1, 0, 0): c.one(c.switch("down"), c.switch("east"), c.sensor("east")), (-2, 0, 0): c.switch("down")}
    cells[0, 0, 3] = c.one("torch on=down", "wire", c.switch("down"))
    cells[1, 0, 2] = c.one("torch on=west", "wire", c.repeater("east"), "lamp")
    cells[1, 0, 1] = c.one("wire", c.full())
    return cells


@fragment("wires")
def soft_block(c: Chance) -> Fragment:
    """Blocks powered strongly or weakly, and what hears them."""
    front = c.one("wire", c.gate("east"), c.sensor("east"), c.switch("east"))
    cells: Fragment = {(-2, 0, 0): c.switch("down"), (-1, 0, 0): front, HERE: c.one("block", "block", "lamp")}
    for side in ("east", "north", "south", "down"):
        torch = f"torch on={OPPOSITE[side]}" if side != "down" else "wire"
        cells[beside(HERE, side)] = c.one("wire", torch, "lamp", c.gate(side if side != "down" else None))
    cells[0, 0, 1] = c.one("wire", "torch on=down", c.plate(), c.switch("down"))
    return cells


# --- comparators -------------------------------------------------------------------------------------------------


@fragment("comparators")
def flat_loop(c: Chance) -> Fragment:
    """Comparators there and back between two wires: the level runs round and fades."""
    half = c.rng.randint(1, 3)
    cells: Fragment = {HERE: "wire", (0, 1, 0): "wire", (half + 1, 0, 0): "wire", (half + 1, 1, 0): "wire"}
    for x in range(1, half + 1):
        cells[x, 0, 0] = c.comparator("east", "threshold") if c.maybe(0.8) else c.gate("east")
        cells[x, 1, 0] = c.comparator("west", "threshold") if c.maybe(0.8) else c.gate("west")
    cells[-1, 0, 0] = c.switch("down") if c.maybe(0.5) else c.one(c.repeater("east", 1), c.sensor("east"))
    cells[-2, 0, 0] = c.switch("down")
    if c.maybe(0.3):
        cells[1, -1, 0] = c.one("wire", c.repeater("south"), c.switch())
    return cells


@fragment("comparators")
def corner_loop(c: Chance) -> Fragment:
    """Comparators between corner blocks: nothing is lost."""
    cells: Fragment = {HERE: "block", (2, 0, 0): "block", (2, 2, 0): "block", (0, 2, 0): c.one("block", "lamp", "wire")}
    cells |= {(1, 0, 0): c.comparator("east"), (2, 1, 0): c.comparator("south"), (1, 2, 0): c.comparator("west")}
    cells |= {(0, 1, 0): c.comparator("north", "threshold"), (-1, 0, 0): c.switch("east")}
    if c.maybe(0.5):
        cells[0, 0, 1] = c.one("wire", c.switch("down"), c.plate())
    return cells


@fragment("comparators")
def vertical_loop(c: Chance) -> Fragment:
    """A loop that climbs a block: it fades or stays, by the rule set."""
    cells: Fragment = {
        HERE: "wire",
        (1, 0, 0): "block",
        (1, 0, 1): "wire",
        (2, 0, 0): c.comparator("east", "threshold"),
    }
    cells |= {(3, 0, 0): "wire", (3, 1, 0): "wire", (2, 1, 0): c.comparator("west", "threshold")}
    cells |= {(1, 1, 0): c.comparator("west", "threshold"), (0, 1, 0): "wire", (-1, 1, 0): c.switch("down")}
    if c.maybe(0.5):
        cells[2, 0, 1] = c.one("insulator", "lamp", "block")
    return cells


@fragment("comparators")
def flanks(c: Chance) -> Fragment:
    """One comparator with something at its back and at both flanks."""
    cells: Fragment = {(-1, 0, 0): c.one(c.switch("down"), "power-block", c.container(), "wire")}
    cells |= {HERE: c.one("wire", "block", "lamp", c.container()), (1, 0, 0): c.comparator("east")}
    cells[2, 0, 0] = c.one("wire", c.gate("east"), "block", "lamp")
    for side, y in (("north", 1), ("south", -1)):
        cells[1, y, 0] = c.one("wire", c.gate(side), "power-block", c.sensor(side), "block", "wire")
        cells[1, 2 * y, 0] = c.one(c.switch("down"), "wire", c.container())
    return cells


@fragment("comparators")
def duel(c: Chance) -> Fragment:
    """Rear and flank fed over wires of chosen lengths, or one from the other."""
    cells: Fragment = {HERE: c.comparator("east"), (1, 0, 0): c.one("wire", "lamp", c.gate("east"))}
    for side, (dx, dy) in {"back": (-1, 0), "flank": (0, 1)}.items():
        length = c.rng.randint(1, 3)
        cells |= {(dx * step, dy * step, 0): "wire" for step in range(1, length + 1)}
        if side == "flank" and c.maybe(0.6):
            cells[0, 1, 0] = c.one(c.gate("north"), c.sensor("north"), "power-block")
        cells[dx * (length + 1), dy * (length + 1), 0] = c.switch("down")
    return cells


@fragment("comparators")
def fader(c: Chance) -> Fragment:
    """A comparator that subtracts its own output: it swings, or fades."""
    cells: Fragment = {(-1, 0, 0): c.switch("down"), HERE: "wire", (1, 0, 0): c.comparator("east", "difference")}
    cells |= {(2, 0, 0): "wire", (2, 1, 0): "wire", (1, 1, 0): c.one("wire", c.gate("west"), c.gate("north"))}
    if c.maybe(0.4):
        cells |= {(0, 1, 0): "wire"}
    return cells


@fragment("comparators")
def reader(c: Chance) -> Fragment:
    """A comparator that reads a container, directly or through one cell that may itself have power."""
    cells: Fragment = {HERE: c.container(), (3, 0, 0): c.one("wire", "lamp", c.gate("east"))}
    cells[1, 0, 0] = c.one("block", "block", "lamp", "insulator", c.comparator("east"))
    cells[2, 0, 0] = c.comparator("east")
    if c.maybe(0.4):
        cells |= {(1, 1, 0): "wire", (1, 2, 0): "wire", (1, 3, 0): c.switch("down")}
    elif c.maybe(0.6):
        cells[1, 0, 1] = c.one(c.switch("down"), "wire", c.plate())
        cells[1, 1, 1] = c.switch("down")
        cells[1, 1, 0] = "block"
    cells[0, 0, 1] = c.one("hopper into=down items=20", c.container(), "wire")
    return cells


# --- sensors -----------------------------------------------------------------------------------------------------


@fragment("sensors")
def watch_one(c: Chance) -> Fragment:
    """A sensor that watches any kind of part."""
    facing = c.one(*DIRECTIONS)
    flat = facing if facing in HORIZONTAL else None
    seen = c.one(
        "wire", "lamp", "block", c.repeater("east"), c.comparator("east"), "torch on=west", c.switch("down"),
        c.plate(), c.piston(), c.container(), c.sensor("east"),
    )  # fmt: skip
    cells: Fragment = {HERE: seen, (-1, 0, 0): c.switch("down"), beside(HERE, facing): c.sensor(facing)}
    if seen == "torch on=west":
        cells |= {(-1, 0, 0): "block", (-2, 0, 0): c.switch("east")}
    cells[along(HERE, facing, 2)] = c.one("wire", "lamp", "block", c.gate(flat), c.piston(), c.sensor(facing))
    if c.maybe(0.4):
        other = c.one(*DIRECTIONS)
        cells[beside(HERE, other)] = c.sensor(other)
    return cells


@fragment("sensors")
def flicker(c: Chance) -> Fragment:
    """A wire that loses one source and gains another in the same step, with a sensor on it."""
    cells: Fragment = {(-2, 0, 0): c.switch("down"), (-1, 0, 0): "wire", HERE: c.repeater("east", 1)}
    cells |= {
        (1, 0, 0): "wire",
        (2, 0, 0): c.one(c.sensor("east"), "wire"),
        (3, 0, 0): c.one("wire", "lamp", c.sensor("east")),
    }
    cells |= {(-1, 1, 0): "block", (0, 1, 0): "torch on=west", (1, 1, 0): c.one("wire", c.repeater("north", 1))}
    cells[1, -1, 0] = c.sensor("north")
    cells[1, -2, 0] = c.one("wire", "lamp", c.gate("north"))
    return cells


@fragment("sensors")
def unseen(c: Chance) -> Fragment:
    """A comparator whose level changes while it stays on, with a sensor on it."""
    cells: Fragment = {(-1, 0, 0): "lever on=down thrown=yes", HERE: "comparator east mode=difference"}
    cells |= {(0, 0, 1): c.sensor("up"), (0, 1, 0): "wire", (0, 2, 0): c.one("wire", "lever on=down")}
    return cells | {(0, 3, 0): c.switch("down"), (1, 0, 0): c.one("wire", c.sensor("east"), c.gate("east"))}


@fragment("sensors")
def sensor_pair(c: Chance) -> Fragment:
    """Two sensors that watch each other."""
    facing = c.one(*DIRECTIONS)
    cells: Fragment = {HERE: c.sensor(facing), beside(HERE, OPPOSITE[facing]): c.sensor(OPPOSITE[facing])}
    cells[beside(HERE, facing)] = c.one("lamp", "block", "wire", c.piston())
    cells[along(HERE, OPPOSITE[facing], 2)] = c.one("wire", "lamp", c.piston(), c.switch())
    return cells


@fragment("sensors")
def pulse_lost(c: Chance) -> Fragment:
    """A sensor's pulse into what may lose it: a comparator, a torch, a repeater of any delay."""
    cells: Fragment = {(-1, 0, 0): c.one(c.switch("down"), "wire", "lamp"), HERE: c.sensor("east")}
    cells[-2, 0, 0] = c.switch("down")
    cells[1, 0, 0] = c.one("wire", "block", c.comparator("east"), c.repeater("east"), "lamp")
    cells[2, 0, 0] = c.one("torch on=west", c.comparator("east"), c.repeater("east"), "lamp", "wire")
    cells[3, 0, 0] = c.one("wire", "lamp", c.gate("east"))
    return cells
