"""Fragments with pistons, containers, plates and loose items."""

from __future__ import annotations

from tickwright.space import DIRECTIONS, HORIZONTAL, OPPOSITE, along, beside
from worlds.fragments import HERE, Chance, Fragment, fragment

# --- pistons -----------------------------------------------------------------------------------------------------


@fragment("pistons")
def row(c: Chance) -> Fragment:
    """A piston, what it pushes, what stands on that and what is in the way."""
    facing = c.one(*DIRECTIONS)
    length = c.rng.choice([0, 1, 1, 2, 2, 3, 4])
    cells: Fragment = {HERE: c.piston(facing)}
    for distance in range(1, length + 1):
        cell = along(HERE, facing, distance)
        cells[cell] = c.movable()
        if c.maybe(0.4) and facing in HORIZONTAL:
            cells[beside(cell, "up")] = c.one("wire", c.switch("down"), c.torch(), c.gate(), c.plate())
        elif c.maybe(0.3):
            side = c.side()
            if side not in (facing, OPPOSITE[facing]):
                cells[beside(cell, side)] = c.one(
                    f"torch on={OPPOSITE[side]}", c.switch(OPPOSITE[side]), "wire", "lamp"
                )
    if c.maybe(0.5):
        cells[along(HERE, facing, length + 1)] = c.one(
            "wire", c.switch(), c.torch(), c.gate(), c.plate(), c.piston(OPPOSITE[facing]), c.container(), "lamp"
        )
    return cells | power_for(c, facing)


def power_for(c: Chance, facing: str) -> Fragment:
    """Something that powers the piston at HERE, not through its face."""
    side = c.one(*(side for side in DIRECTIONS if side != facing))
    there = beside(HERE, side)
    if side == "down":
        return {there: "block", beside(there, c.side()): c.switch()}
    if c.maybe(0.4):
        front = c.one(
            "wire", c.repeater(OPPOSITE[side] if side in HORIZONTAL else None), "block", c.sensor(OPPOSITE[side])
        )
        return {there: front, beside(there, c.side()): c.switch()}
    return {there: c.switch("down" if c.maybe(0.7) else OPPOSITE[side])}


@fragment("pistons")
def long_row(c: Chance) -> Fragment:
    """Eleven to thirteen cells before a piston: the most it pushes, or one too many."""
    length = c.rng.randint(11, 13)
    cells: Fragment = {(x, 0, 0): c.one("block", "block", "insulator", "lamp") for x in range(1, length + 1)}
    return cells | {HERE: c.piston("east"), (-1, 0, 0): c.switch("down")}


@fragment("pistons")
def from_above(c: Chance) -> Fragment:
    """A piston powered by way of the cell above it, perhaps told late."""
    facing = c.side()
    side = c.one(*(side for side in HORIZONTAL if side != facing))
    up = (0, 0, 1)
    cells: Fragment = {HERE: c.piston(facing), beside(HERE, facing): c.movable(), beside(up, side): "block"}
    cells[along(up, side, 2)] = c.one(c.switch(), "wire", c.repeater(OPPOSITE[side]))
    cells[along(up, side, 3)] = c.switch("down")
    if c.maybe(0.5):
        cells[up] = c.one(c.full(), "wire")
    if c.maybe(0.4):
        cells[beside(HERE, OPPOSITE[facing])] = c.one("wire", "lamp", c.switch("down"))
    return cells


@fragment("pistons")
def shuttle(c: Chance) -> Fragment:
    """Two pistons face to face with something between them."""
    facing = c.one("east", "east", "up")
    gap = c.rng.randint(0, 1)
    cells: Fragment = {HERE: f"{c.one('pull-piston', 'pull-piston', 'piston')} {facing}"}
    cells[beside(HERE, facing)] = c.one("power-block", "block", "lamp", c.sensor(), c.piston())
    cells[along(HERE, facing, 3 + gap)] = c.piston(OPPOSITE[facing])
    for distance in range(1, 5 + gap):
        if c.maybe(0.6):
            cells[beside(along(HERE, facing, distance), "south")] = c.one(
                "wire", "wire", c.gate("north"), c.gate("south"), c.switch("down"), "lamp", c.sensor()
            )
    return cells | {beside(HERE, OPPOSITE[facing]): c.switch(), along(HERE, facing, 4 + gap): c.switch()}


@fragment("pistons")
def short_push(c: Chance) -> Fragment:
    """A piston driven by a pulse too short for what it pushes to land."""
    facing = c.one("east", "south", "up")
    cells: Fragment = {HERE: c.piston(facing), beside(HERE, facing): c.movable()}
    cells |= {(-1, 0, 0): c.one(c.sensor("east"), c.repeater("east", 1)), (-2, 0, 0): c.one("wire", c.switch("down"))}
    cells[-3, 0, 0] = c.switch("down")
    if c.maybe(0.5):
        cells[along(HERE, facing, 2)] = c.movable()
    return cells


@fragment("pistons")
def pulls_back(c: Chance) -> Fragment:
    """A pull-piston with something before its arm that comes along, or cannot."""
    facing = c.one("east", "up", "down", "south")
    cells: Fragment = {HERE: f"pull-piston {facing}", (-1, 0, 0): c.switch("down")}
    cells[along(HERE, facing, 2)] = c.one(c.movable(), c.container(), "wire", c.piston(OPPOSITE[facing]))
    if c.maybe(0.3):
        cells[-1, 0, 0], cells[-2, 0, 0] = c.one(c.sensor("east"), "repeater east"), c.switch("down")
    return cells


@fragment("pistons")
def piston_clock(c: Chance) -> Fragment:
    """A piston and wires that its own move connects and cuts."""
    cells: Fragment = {HERE: c.piston("east"), (0, 1, 0): "wire", (1, 1, 0): "wire"}
    cells[1, 0, 0] = c.one("block", "power-block", "lamp", c.sensor("west"), c.sensor("east"), c.sensor("up"))
    cells |= {(2, 1, 0): c.one("wire", c.gate("west"), c.gate("east")), (2, 0, 0): c.one("wire", "block")}
    cells |= {(-1, 0, 0): c.one(c.sensor("west"), c.switch(), "wire")}
    cells[3, 0, 0] = c.one("block", "wire", c.sensor("west"), "power-block")
    return cells


@fragment("pistons")
def moved_parts(c: Chance) -> Fragment:
    """A piston pushes what is at work: sensors and lamps with an event, pistons, a wire's carrier."""
    mover = c.one(c.sensor("up"), c.sensor("east"), "lamp", c.piston("east"), c.piston("north"), c.sensor("north"))
    cells: Fragment = {
        HERE: c.piston("east"),
        (1, 0, 0): mover,
        (-1, 0, 0): c.switch("down"),
        (1, 1, 0): c.switch("down"),
    }
    cells |= {(2, 1, 0): "wire", (1, -1, 0): c.one("wire", "block", c.switch("down")), (3, 0, 0): c.one("wire", "lamp")}
    cells[1, 0, 1] = c.one("wire", "lamp", c.switch("down"))
    return cells


# --- items -------------------------------------------------------------------------------------------------------


@fragment("items")
def column(c: Chance) -> Fragment:
    """Containers above one another with hoppers between: pairs that move two, and what reads them."""
    cells: Fragment = {
        HERE: c.one("hopper into=down items=0", "hopper into=east items=0", "crate items=0", c.container())
    }
    cells |= {(0, 0, 1): f"hopper into=down items={c.rng.choice([0, 1, 3, 20, 320])}"}
    cells[0, 0, 2] = c.one(c.container(), c.plate(), "hopper into=down items=30", "crate items=100")
    cells |= {
        (1, 0, 1): c.one(c.comparator("east"), "block", c.switch("west")),
        (2, 0, 1): c.one(c.comparator("east"), "wire"),
    }
    cells |= {
        (1, 0, 0): c.one(c.comparator("east"), "block", c.container()),
        (2, 0, 0): c.one(c.comparator("east"), "lamp"),
    }
    return cells


@fragment("items")
def hopper_chain(c: Chance) -> Fragment:
    """Hoppers one into the next, some empty, some locked."""
    length = c.rng.randint(2, 4)
    cells: Fragment = {
        (x, 0, 0): f"hopper into=east items={c.rng.choice([0, 0, 0, 1, 2, 5, 30])}" for x in range(length)
    }
    cells[length, 0, 0] = c.one(
        f"crate items={c.rng.choice([0, 1000, 1727])}", f"ejector up items={c.rng.choice([0, 1])}",
        "hopper into=west items=0", "hopper into=down items=0",
    )  # fmt: skip
    cells[0, 0, 1] = c.one(c.container(), c.plate(), "hopper into=down items=20")
    x = c.rng.randint(0, length)
    cells |= {
        (x, 1, 0): c.one(c.comparator("south"), "block", c.switch()),
        (x, 2, 0): c.one(c.comparator("south"), "wire"),
    }
    if c.maybe(0.5):
        cells[c.rng.randint(0, length), -1, 0] = c.one(c.switch("down"), "wire", c.comparator("north"))
    return cells


@fragment("items")
def ejector(c: Chance) -> Fragment:
    """An ejector into a container, onto a plate, into the open or against a wall."""
    facing = c.one("east", "east", "up", "down", "north")
    cells: Fragment = {HERE: f"ejector {facing} items={c.rng.choice([0, 1, 2, 9, 100])}"}
    cells |= {
        (-1, 0, 0): c.one(c.switch("down"), "wire", c.repeater("east"), c.sensor("east")),
        (-2, 0, 0): c.switch("down"),
    }
    goal = beside(HERE, facing)
    under = beside(goal, "down")
    kind = c.one("plate", "plate", "container", "full container", "open", "open", "wall")
    if kind == "plate":
        cells |= {goal: c.plate(), under: c.one("block", c.container(), "hopper into=down items=0")}
    elif kind == "container":
        cells[goal] = c.container()
    elif kind == "full container":
        cells[goal] = c.one("hopper into=down items=320", "crate items=1728", "ejector up items=576")
    elif kind == "open":
        cells |= {goal: None, under: None}
        cells[beside(under, "down")] = c.one(c.plate(), "hopper into=down items=0", "block", "wire")
    else:
        cells[goal] = c.full()
    cells[0, 1, 0] = c.one("wire", c.comparator("south"), c.switch("down"))
    return cells


@fragment("items")
def plate_on(c: Chance) -> Fragment:
    """A plate on a block or a hopper, and what hears it."""
    plate = c.plate()
    cells: Fragment = {HERE: c.one("block", "block", "hopper into=down items=0", "hopper into=east items=0", "lamp")}
    cells |= {(0, 0, 1): plate, (1, 0, 1): c.one("wire", "lamp", c.gate("east")), (1, 0, 0): "block"}
    cells[0, 1, 0] = c.one("torch on=north", "wire", "lamp", c.comparator("south"))
    return cells


@fragment("items")
def pit(c: Chance) -> Fragment:
    """Something falls into a pit with a hopper, a plate or nothing at its bottom."""
    bottom = c.one("hopper into=down items=0", "hopper into=east items=0", "block", c.plate(), None)  # type: ignore[arg-type]
    cells: Fragment = {
        HERE: bottom,
        (0, 0, 1): None,
        (0, 0, 2): None,
        (-1, 0, 2): f"ejector east items={c.rng.choice([1, 5])}",
    }
    if c.maybe(0.4):
        cells |= {(0, 1, 1): "block", (0, 0, 1): c.one("torch on=south", c.switch("south"))}
    cells |= {
        (-1, 0, 1): c.one("block", c.switch("up")),
        (-1, 1, 2): c.switch(),
        (1, 0, 0): c.one(c.comparator("east"), "crate"),
    }
    return cells
