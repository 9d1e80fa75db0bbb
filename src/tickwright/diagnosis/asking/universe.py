"""The universe: every build that is thought of, each with the weight of the mistake that leads to it.

A weight is how easily one makes a mistake, divided by the square root of how many there are of its kind: common
practice of guessing, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from math import sqrt
from typing import NamedTuple

from tickwright.diagnosis.asking.moved import moved_parts
from tickwright.diagnosis.mistakes import KINDS, Changes, Kind, Mistake, mistakes_of_parts, strays
from tickwright.kinds import PARTS, PASSING, TAKES_HAND, Part, a_kind
from tickwright.plan.cells import with_changes
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import is_supported
from tickwright.rules import BUILT_IN, RuleSet
from tickwright.space import DIRECTIONS, Cell, beside, zyx

ASKED_KINDS = {
    **KINDS,
    "alike-part": Kind(6, "a part of the same shape"),
    "other-part": Kind(3, "any other part"),
    "extra-part": Kind(2, "a part that stands where nothing belongs"),
    "swapped": Kind(5, "two neighbours swapped"),
    "row-moved": Kind(3, "a row moved by one cell"),
    "half-moved": Kind(2, "a half moved by one cell"),
    "row-turned": Kind(2, "a row laid the other way round"),
}
RATES = (18, 16, 15, 14, 12, 10, 8, 5)  # steps a second of worlds that do not run at full speed
THOROUGH_CELLS = 120  # of larger plans other parts are tried facing one way only
COUNTS_APART = (2, 3, 4, 5, 8, 10, 16, 32)  # how many items one may be off, besides those of `mistakes_of_parts`


class Suspect(NamedTuple):
    """One build that is thought of: its mistakes (none: as planned), its weight, and what stands otherwise.

    `moved` says where named cells of the plan have gone; `rate` is the steps a second of a slow world, `rules` the name
    of another rule set.
    """

    mistakes: tuple[Mistake, ...]
    weight: float
    changes: Mapping[Cell, Part | None]
    moved: Mapping[Cell, Cell]
    rate: int | None = None
    rules: str | None = None

    @property
    def place(self) -> Cell | None:
        """Where to look first: the cell of its first mistake, None if it has none."""
        return self.mistakes[0].cell if self.mistakes else None

    def stands(self, plan: Plan, cell: Cell) -> Part | None:
        """What stands in a cell of this build."""
        return self.changes[cell] if cell in self.changes else plan.cells.get(cell)


def suspects_of(setup: Setup, thorough: bool | None = None) -> list[Suspect]:
    """Every build that is thought of, that as planned first; `thorough`: other parts are tried facing every way.

    Left out is what cannot stand, and a trigger that no hand can work.
    """
    if thorough is None:
        thorough = len(setup.plan.cells) <= THOROUGH_CELLS
    found: dict[frozenset[tuple[Cell, Part | None]], tuple[Mistake, Mapping[Cell, Cell]]] = {}
    for mistake, moved in _all(setup, thorough):
        key = frozenset(mistake.changes)
        known = found.get(key)
        if (known is None or known[0].ease < mistake.ease) and can_stand(setup, mistake.changes, moved):
            found[key] = (mistake, moved)
    worlds = [*_other_rules(setup.rules), *_slow_worlds()]
    kinds = Counter(mistake.kind for mistake, _ in found.values()) + Counter(one.mistakes[0].kind for one in worlds)
    suspects = [Suspect((), 1.0, {}, {})]
    for mistake, moved in found.values():
        suspects.append(Suspect((mistake,), mistake.ease / sqrt(kinds[mistake.kind]), dict(mistake.changes), moved))
    suspects += [one._replace(weight=one.weight / sqrt(kinds[one.mistakes[0].kind])) for one in worlds]
    return suspects


def can_stand(setup: Setup, changes: Changes, moved: Mapping[Cell, Cell]) -> bool:
    """Whether a build with these changes stands, holds what fits, and has triggers that a hand can work."""
    cells = with_changes(setup.plan.cells, dict(changes))
    for cell, part in changes:
        if part is not None and not is_supported(cells, setup.rules, cell, part):
            return False
        if part is not None and part.items and part.items > setup.rules.capacity(part.kind):
            return False
        for side in DIRECTIONS:
            near = beside(cell, side)
            there = cells.get(near)
            if there is not None and PARTS[there.kind].support and not is_supported(cells, setup.rules, near, there):
                return False
    triggers = [moved.get(cell, cell) for cell in setup.plan.triggers.values()]
    return all(cell not in setup.plan.cells or (cell in cells and cells[cell].kind in TAKES_HAND) for cell in triggers)


def seen_there(plan: Plan, cell: Cell, part: Part | None) -> Mistake:
    """What somebody saw in a cell, told as a mistake."""
    right = plan.cells.get(cell)
    text = f"at {cell} is {_part_text(part)} instead of {_part_text(right)}"
    return _mistake("other-part", cell, text, f"{cell}: {_part_text(right)} belongs there", ((cell, part),), 0)


def with_count(plan: Plan, cell: Cell, items: int) -> Mistake:
    """Another number of items in a container."""
    part = plan.cells[cell]
    text = f"the {part.kind} at {cell} has {items} items instead of {part.items} items"
    look = f"the {part.kind} at {cell}: {part.items} items belong in it"
    return _mistake("wrong-count", cell, text, look, ((cell, part._replace(items=items)),), 0)


def _all(setup: Setup, thorough: bool) -> Iterator[tuple[Mistake, Mapping[Cell, Cell]]]:
    plan = setup.plan
    for mistake in (*mistakes_of_parts(plan), *strays(setup)):
        yield mistake, {}
    bearing = {cell for cell in plan.cells if beside(cell, "up") in plan.cells}
    for cell in sorted(plan.cells, key=zyx):
        part = plan.cells[cell]
        for mistake in (*_other_parts(plan, cell, part, thorough), *_other_counts(plan, cell, part)):
            yield mistake, {}
        is_output = cell in plan.outputs.values()
        if cell not in bearing and (is_output or (part.behaviour == "still" and part.kind not in PASSING)):
            text, look = f"the {part.kind} at {cell} is missing", f"{cell}: {a_kind(part.kind)} belongs there"
            changes: Changes = ((cell, None),)
            yield _mistake("part-missing", cell, text, look, changes, 2 * is_output), {}
        yield from ((one, {}) for one in _swapped(plan, cell, part))
    for cell in _open_cells(plan) if thorough else ():
        for other in _placed_as(PARTS, None, thorough=False):
            text = f"{_part_text(other)} stands at {cell}, where nothing belongs"
            yield _mistake("extra-part", cell, text, f"{cell}: nothing belongs there", ((cell, other),)), {}
    for kind, place, text, shifted, moved in moved_parts(plan):
        look = f"{place}: {_part_text(plan.cells.get(place))} belongs there"
        yield _mistake(kind, place, text, look, shifted), moved


def _mistake(kind: str, cell: Cell | None, text: str, look: str, changes: Changes = (), harder: int = 0) -> Mistake:
    return Mistake(kind, cell, text, look, max(ASKED_KINDS[kind].ease - harder, 1), changes)


def _part_text(part: Part | None) -> str:
    if part is None:
        return "nothing"
    return f'"{part}"'


def _other_parts(plan: Plan, cell: Cell, part: Part, thorough: bool) -> Iterator[Mistake]:
    """Any other part instead, even one that looks otherwise; hardly ever of an output that is known at a glance."""
    seen_at_once = cell in plan.outputs.values() and PARTS[part.kind].seen_at_once
    for other in _placed_as(PARTS, part, thorough):
        alike = _shape(other.kind) == _shape(part.kind) and not seen_at_once
        kind = "alike-part" if alike and other.facing == part.facing else "other-part"
        text = f"at {cell} is {_part_text(other)} instead of {_part_text(part)}"
        look = f"{cell}: {_part_text(part)} belongs there"
        yield _mistake(kind, cell, text, look, ((cell, other),), 0 if alike else 1 + seen_at_once)


def _shape(kind: str) -> tuple[object, ...]:
    """Parts of one shape stand, hang or fill a cell alike, and face some way or none; wires are like nothing else."""
    row = PARTS[kind]
    return row.support, bool(row.directions) or bool(row.slots), bool(row.slots), row.behaviour == "wire"


def _placed_as(kinds: Iterable[str], part: Part | None, thorough: bool) -> Iterator[Part]:
    """Each other kind, facing every way if `thorough`, else as the part does or as is usual."""
    for kind in kinds:
        if part is not None and kind == part.kind:
            continue
        row = PARTS[kind]
        ways: Iterable[str | None] = row.directions or (None,)
        if not thorough and row.directions:
            same = part.facing if part is not None and part.facing in row.directions else None
            ways = (same or row.default_direction or row.directions[0],)
        for way in ways:
            yield Part(kind, way)


def _other_counts(plan: Plan, cell: Cell, part: Part) -> Iterator[Mistake]:
    if not PARTS[part.kind].slots or not part.items:
        return
    for apart in COUNTS_APART:
        for items in (part.items - apart, part.items + apart):
            if items >= 0:
                yield with_count(plan, cell, items)


def _swapped(plan: Plan, cell: Cell, part: Part) -> Iterator[Mistake]:
    """The part and one beside it, each in the other's place."""
    for side in ("east", "south", "up"):
        near = beside(cell, side)
        there = plan.cells.get(near)
        if there is not None and there != part:
            text = f"the parts at {cell} and {near} are swapped"
            look = f"{cell}: {_part_text(part)} belongs there, and {_part_text(there)} at {near}"
            yield _mistake("swapped", cell, text, look, ((cell, there), (near, part)))


def _open_cells(plan: Plan) -> list[Cell]:
    """Empty cells beside what acts."""
    lively = [cell for cell, part in plan.cells.items() if PARTS[part.kind].behaviour not in ("still", "source")]
    near = {beside(cell, side) for cell in lively for side in DIRECTIONS}
    return sorted(near - set(plan.cells), key=zyx)


def _other_rules(rules: RuleSet) -> Iterator[Suspect]:
    for name in BUILT_IN:
        if name != rules.name:
            text = f"the world runs under the rules {name}, not {rules.name}"
            look = "the rules of the world: build a small circuit that tells them apart"
            mistake = _mistake("wrong-rules", None, text, look)._replace(rules=name)
            yield Suspect((mistake,), mistake.ease, {}, {}, rules=name)


def _slow_worlds() -> Iterator[Suspect]:
    for rate in RATES:
        text = f"the world runs at about {rate} steps a second instead of 20"
        mistake = _mistake("slow-world", None, text, "how long a short button stays pressed: 1 s at full speed")
        yield Suspect((mistake,), mistake.ease, {}, {}, rate=rate)
