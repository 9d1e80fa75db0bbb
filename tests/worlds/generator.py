"""Random worlds: a plan, a script of the hand and a number of steps, all from one seed."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from tickwright.kinds import CONTAINERS, PARTS, PISTONS, PLATES, STANDS, mirrored, parse_part, support_cell, turned
from tickwright.plan import Plan
from tickwright.space import DIRECTIONS, Cell, beside, zyx
from worlds import moving  # noqa: F401 - enters its fragments into the table
from worlds.fragments import MAKERS, Chance, Fragment

STATIC_THEMES = ("wires", "torches", "comparators", "sensors")
THEMES = (*STATIC_THEMES, "comparators", "sensors", "pistons", "items", "pistons", "items", "everything", "soup")
SWITCHES = ("lever", "short-button", "long-button")
Cells = dict[Cell, str]


@dataclass(frozen=True, slots=True)
class World:
    """What two engines are compared on. `name` says where it comes from."""

    name: str
    plan: Plan
    acts: tuple[str, ...]
    steps: int

    def watched(self) -> dict[str, Cell]:
        """Every cell that holds a part, or that a part may come to stand in nearby, under its coordinates."""
        cells = set(self.plan.cells)
        if any(part.kind in PISTONS for part in self.plan.cells.values()):
            cells |= {beside(cell, side) for cell in self.plan.cells for side in DIRECTIONS}
        return {",".join(map(str, cell)): cell for cell in sorted(cells, key=zyx)}

    def is_static(self) -> bool:
        """Whether nothing moves, holds items or is built while it runs."""
        kinds = {part.kind for part in self.plan.cells.values()}
        loose = any(word in act for act in self.acts for word in ("drop", "take", "put", "place", "clear"))
        return not loose and kinds.isdisjoint((*PISTONS, *CONTAINERS))


def random_world(seed: int, static: bool = False) -> World:
    """The world of that seed. `static` leaves out pistons, containers, loose items and building."""
    rng = random.Random(f"{'static' if static else 'any'} world {seed}")
    theme = rng.choice((*STATIC_THEMES, "everything") if static else THEMES)
    cells = _laid(rng, theme, static)
    if static:
        chance = Chance(rng)
        moves = [cell for cell, text in cells.items() if text.split()[0] in (*PISTONS, *CONTAINERS)]
        cells |= {cell: chance.one("block", "lamp", chance.sensor()) for cell in moves}
    _give_supports(rng, cells)
    _give_switches(rng, cells)
    _drop_unsupported(cells)
    if not any(text.split()[0] in SWITCHES for text in cells.values()):
        cells |= {(20, 0, 0): "block", (20, 0, 1): "lever on=down", (21, 0, 1): "lamp"}
    low = [min(cell[axis] for cell in cells) for axis in range(3)]
    cells = {(x - low[0], y - low[1], z - low[2]): text for (x, y, z), text in cells.items()}
    steps = rng.choice([100, 150, 200, 250, 300, 400, 600])
    parts = {cell: parse_part(cells[cell]) for cell in sorted(cells, key=zyx)}
    plan = Plan(parts, title=f"World {seed}, {theme}")
    acts = _acts(rng, plan, steps, theme, static)
    if theme == "items" and rng.random() < 0.1:
        steps = 6100 + steps  # what was dropped early vanishes
    return World(f"{'static ' if static else ''}world {seed} ({theme})", plan, tuple(acts), steps)


def _laid(rng: random.Random, theme: str, static: bool) -> Cells:
    """Fragments side by side or on top of each other, and clutter between them."""
    chance = Chance(rng)
    themes = STATIC_THEMES if static else (*STATIC_THEMES, "pistons", "items")
    known = [name for name, (group, _) in MAKERS.items() if group in themes]
    fitting = [name for name in known if MAKERS[name][0] == theme] or known
    cells: Cells = {}
    for number in range(1 if theme == "soup" else rng.choice([1, 2, 3, 4, 5, 6])):
        name = rng.choice(fitting if rng.random() < 0.8 else known)
        spread = (rng.choice([4, 5, 7]) * (number // 2), rng.choice([4, 5, 7]) * (number % 2), 0)
        _stamp(rng, cells, MAKERS[name][1](chance), spread)
    density = rng.choice([0.3, 0.5, 0.7] if theme == "soup" else [0, 0, 0, 0.02, 0.05, 0.2])
    low, high = ([side(cell[axis] for cell in cells) for axis in range(3)] for side in (min, max))
    for z in range(low[2], max(high[2], 1) + 1):
        for y in range(low[1], high[1] + 1):
            for x in range(low[0], high[0] + 1):
                if (x, y, z) not in cells and rng.random() < density:
                    cells[x, y, z] = _clutter(chance, theme, static)
    return cells


def _stamp(rng: random.Random, cells: Cells, fragment: Fragment, offset: Cell) -> None:
    mirror, turns = rng.random() < 0.5, rng.randint(0, 3)
    for place, text in fragment.items():
        x, y, z = place
        part = None if text is None else parse_part(text)
        if mirror:
            y, part = -y, part and mirrored(part, "y")
        for _ in range(turns):
            x, y = -y, x
        cell = (x + offset[0], y + offset[1], z + offset[2])
        if part is None:
            cells.pop(cell, None)
        else:
            cells[cell] = str(turned(part, turns))


def _clutter(c: Chance, theme: str, static: bool) -> str:
    common = [("wire", 8), (c.full(), 6), (c.repeater(), 2), (c.comparator(), 2), (c.torch(), 1.5), (c.switch(), 2)]
    more = {
        "wires": [("wire", 8), (c.repeater(), 3)],
        "torches": [(c.torch(), 6)],
        "comparators": [(c.comparator(), 8), (c.container(), 0.5)],
        "sensors": [(c.sensor(), 6), ("lamp", 2), (c.piston(), 1)],
        "pistons": [(c.piston(), 8), (c.movable(), 5), (c.sensor(), 1)],
        "items": [(c.container(), 8), (c.plate(), 4), (c.comparator(), 3)],
    }
    chosen = more.get(theme) or [(c.piston(), 2), (c.sensor(), 2), (c.container(), 2), (c.plate(), 2), (c.movable(), 3)]
    texts, weights = zip(*common, *chosen, strict=True)
    return str(c.rng.choices(texts, weights)[0])


# --- what stands needs something to stand on ---------------------------------------------------------------------


def _carries(cells: Cells, cell: Cell, standing: Cell) -> bool:
    if cell not in cells:
        return False
    part = parse_part(cells[cell])
    if part.kind in STANDS:
        return False
    return part.kind not in PISTONS or beside(cell, str(part.facing)) != standing


def _give_supports(rng: random.Random, cells: Cells) -> None:
    chance = Chance(rng)
    for cell in sorted(cells, key=zyx, reverse=True):
        support = support_cell(parse_part(cells[cell]), cell)
        if support is None or support in cells:
            continue
        cells[support] = (
            "block" if rng.random() < 0.9 else chance.one("insulator", "lamp", chance.full(), "change-sensor up")
        )


def _give_switches(rng: random.Random, cells: Cells) -> None:
    """Most pistons and ejectors get a switch beside them, if none is there."""
    chance = Chance(rng)
    for cell in sorted(cells, key=zyx):
        part = parse_part(cells[cell])
        if part.kind not in (*PISTONS, "ejector") or rng.random() < 0.5:
            continue
        free = [there for side in DIRECTIONS if side != part.facing and (there := beside(cell, side)) not in cells]
        rng.shuffle(free)
        for there in free:
            on = [side for side in DIRECTIONS if _carries(cells, beside(there, side), there)]
            if on:
                cells[there] = chance.switch(rng.choice(on))
                break


def _drop_unsupported(cells: Cells) -> None:
    while True:
        loose = [
            cell
            for cell, text in cells.items()
            if (support := support_cell(parse_part(text), cell)) is not None and not _carries(cells, support, cell)
        ]
        if not loose:
            return
        for cell in loose:
            del cells[cell]


def without(world: World, cells: set[Cell]) -> World:
    """The world less these cells, what stands on them, and the acts on them that no longer can be meant."""
    left = {cell: str(part) for cell, part in world.plan.cells.items() if cell not in cells}
    _drop_unsupported(left)
    kept = {cell: part for cell, part in world.plan.cells.items() if cell in left}
    return replace(world, plan=Plan(kept, title=world.plan.title))


# --- the hand ----------------------------------------------------------------------------------------------------


def _acts(rng: random.Random, plan: Plan, steps: int, theme: str, static: bool) -> list[str]:
    """Acts of every kind that something in the plan takes, in bursts and far apart."""
    groups = {
        "switch": [cell for cell, part in plan.cells.items() if part.kind in SWITCHES],
        "plate": [cell for cell, part in plan.cells.items() if part.kind in PLATES],
        "store": [cell for cell, part in plan.cells.items() if part.kind in CONTAINERS],
        "open": _open_cells(rng, plan),
        "build": list(plan.cells),
    }
    building = 0 if static else rng.choice([0, 0, 0, 1, 3])
    loose = 0 if static else 1 if theme in ("items", "everything", "soup") else 0.2
    weights = {"switch": 9, "plate": 4, "store": 3, "open": loose, "build": building}
    usable = [name for name, cells in groups.items() if cells and weights[name]]
    groups["switch"] = rng.sample(groups["switch"], min(len(groups["switch"]), 6))
    acts, step, last = [], rng.choice([0, 0, 1, 3, 7]), None
    for _ in range(rng.choice([8, 20, 40, 80, 120])):
        name = rng.choices(usable, [weights[name] for name in usable])[0]
        cell = last if name == "switch" and last is not None and rng.random() < 0.4 else rng.choice(groups[name])
        last = cell if name == "switch" else last
        part = plan.cells.get(cell)
        verb = _verb(rng, name, part.kind if part else None, static)
        if name == "build":
            cell, verb = _building(rng, plan, cell)
        acts.append(f"{step}:{','.join(map(str, cell))}{verb}")
        step += rng.choice(
            [0, 0, 1, 1, 2, 2, 3, 4, 5, 8, 12, 20, 30, steps // 8] if rng.random() < 0.6 else [1, 2, 3, 4]
        )
        if step >= steps:
            break
    return acts


def _open_cells(rng: random.Random, plan: Plan) -> list[Cell]:
    around = {beside(cell, side) for cell in plan.cells for side in ("up", "north", "east")} - set(plan.cells)
    cells = sorted(around, key=zyx)
    return rng.sample(cells, min(4, len(cells)))


def _verb(rng: random.Random, name: str, kind: str | None, static: bool) -> str:
    number = rng.choice(["", "", "", "=2", "=64", "=500"])
    if name == "switch":
        return "" if rng.random() < 0.1 else f":{rng.choice(PARTS[str(kind)].acts)}"
    if name == "store":
        return f":{rng.choice(['put', 'take'])}{number}"
    if static:
        return f":{rng.choice(['tread', 'tread', 'leave'])}"
    return f":{rng.choice(['drop' + number, 'drop', 'drop', 'take', 'tread', 'tread', 'leave'])}"


def _building(rng: random.Random, plan: Plan, cell: Cell) -> tuple[Cell, str]:
    """Place a part in some cell or clear one."""
    if rng.random() < 0.4:
        return cell, ":clear"
    if rng.random() < 0.5:
        cell = beside(cell, rng.choice(DIRECTIONS))
    chance = Chance(rng)
    text = rng.choice([_clutter(chance, "everything", False), chance.movable(), str(plan.cells.get(cell, "block"))])
    return cell, f":place={text}"
