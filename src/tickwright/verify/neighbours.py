"""Neighbours: how close copies of a plan may stand before they touch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for
from tickwright.kinds import CONTAINERS, HEARING, PASSING, PISTONS, is_a
from tickwright.measurement.observe import Observation, Runs, observe
from tickwright.measurement.press import Trigger, find_trigger, press_stimuli
from tickwright.plan.edits import crop, mirror
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import NEAR, Stand
from tickwright.space import Cell, beside, cell_text, zyx
from tickwright.verify.copies import AXES, Row, row_of

COPIES = 3
REACH = 4  # no part hears, joins or cuts off another that is farther away, pistons at work left out
MOST_TOUCHES = 20
MOST_STIRRED_STEPS = 2_000


class Touch(NamedTuple):
    """`cell` of one copy meets `other` of another; copies count from 0.

    `how`: "hears", "is changed by" (what it hears of its own copy is another than alone), "stands in" (both want the
    cell); or, if only a run showed it, "moves with" (`other` is the trigger that was pressed) or "is not as alone after
    a press at".
    """

    cell: Cell
    copy: int
    other: Cell
    other_copy: int
    how: str

    def __str__(self) -> str:
        return (
            f"{cell_text(self.cell)} of copy {self.copy} {self.how} {cell_text(self.other)} of copy {self.other_copy}"
        )

    def as_data(self) -> dict[str, Any]:
        """The touch as JSON shows it."""
        return {**self._asdict(), "cell": list(self.cell), "other": list(self.other)}


class NeighbourVerdict(NamedTuple):
    """Copies along one axis, every second one mirrored along it if `mirrored`.

    `pitch_cells` is the least pitch such that at it and every larger one a press moves only its own copy, and each copy
    holds as alone; None if there is none, and then `reason` says why. `touching` is what meets at one less, in the
    cells of three copies from (0, 0, 0), empty for a pitch of 1. `length_cells` is one copy's extent along the axis.
    """

    axis: str
    mirrored: bool
    length_cells: int
    pitch_cells: int | None
    reason: str | None
    touching: tuple[Touch, ...]

    def as_data(self) -> dict[str, Any]:
        """The verdict as JSON shows it."""
        return {**self._asdict(), "touching": [touch.as_data() for touch in self.touching]}


@checked
def neighbour_verdicts(
    plan: Plan,
    rules: RuleSet | str | None = None,
    axes: tuple[str, ...] = ("x", "y"),
    mirrorings: tuple[bool, ...] = (False, True),
) -> list[NeighbourVerdict]:
    """The least pitch of copies side by side along each axis, plain and mirrored, or only as `mirrorings` says.

    Three copies are laid, and each is pressed at each of its triggers while the others stand by. Where no part of a
    copy hears, or is cut off by, another copy, or passes items to it, and neither cells move nor items lie about, that
    alone proves them apart, and nothing is run.
    """
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    laid = _Copy.of(Setup(crop(plan), ruleset))
    return [_verdict(laid, ruleset, axis, mirrored) for axis in axes for mirrored in mirrorings]


Shape = dict[Cell, frozenset[Cell]]  # for each cell, every cell that it hears or that level flows to or from it


class _Copy(NamedTuple):
    """A plan to lay in a row, what follows a press of each of its triggers, and what its cells hear, when alone."""

    plan: Plan
    alone: dict[str, Observation]
    shape: Shape

    @classmethod
    def of(cls, setup: Setup) -> _Copy:
        plan = setup.plan
        geometry = Geometry({cell: Stand(part) for cell, part in plan.cells.items()}, setup.rules)
        runs = Runs({None: {frozenset(): geometry}})
        alone = {name: observe(setup, find_trigger(setup, name), runs=runs) for name in plan.triggers}
        return cls(plan, alone, {cell: _heard(geometry, cell) for cell in plan.cells})


def _verdict(laid: _Copy, rules: RuleSet, axis: str, mirrored: bool) -> NeighbourVerdict:
    plan = laid.plan
    length = plan.size[AXES.index(axis)]
    wander = not _contained(plan)
    if not plan.triggers:
        return NeighbourVerdict(axis, mirrored, length, None, "The plan has no trigger to press.", ())
    if not all(seen.settled for seen in laid.alone.values()):
        return NeighbourVerdict(axis, mirrored, length, None, "The circuit is not at rest before a press.", ())
    other = _Copy.of(Setup(mirror(plan, axis), rules)) if mirrored else laid
    copies = tuple(other if index % 2 else laid for index in range(COPIES))
    reach = _reach(laid, other, rules, axis)
    least: int | None = None
    touching: tuple[Touch, ...] = ()
    for pitch in range(reach, 0, -1):
        row = row_of(tuple(copy.plan for copy in copies), axis, pitch)
        geometry = Geometry({cell: Stand(part) for cell, part in row.plan.cells.items()}, rules)
        touching = tuple(_touches(row, geometry, axis, pitch, copies))
        if row.clashes:
            break
        if touching or wander:
            met = {cell for touch in touching for cell in (touch.cell, touch.other)}
            runs = Runs({None: {frozenset(): geometry}})
            moved = tuple(_moves(row, rules, copies, None if wander else met, runs))
            if moved:
                touching = touching or moved
                break
        least, touching = pitch, ()
    reason = None if least is not None else f"Even {reach} cells apart they touch."
    return NeighbourVerdict(axis, mirrored, length, least, reason, touching[:MOST_TOUCHES])


def _reach(one: _Copy, other: _Copy, rules: RuleSet, axis: str) -> int:
    """From this pitch on nothing of one copy, wherever its parts come to stand, is near anything of the next."""
    number = AXES.index(axis)
    length = one.plan.size[number]
    if not any(part.kind in PISTONS for part in one.plan.cells.values()):
        return length + REACH
    if any(seen.seen_steps > MOST_STIRRED_STEPS for copy in (one, other) for seen in copy.alone.values()):
        return length + REACH + rules.piston.push_limit + 1
    first, last = _ends(one, rules, number)
    next_first, next_last = (first, last) if other is one else _ends(other, rules, number)
    return max(last - next_first, next_last - first) + 1 + REACH


def _ends(copy: _Copy, rules: RuleSet, number: int) -> tuple[int, int]:
    """The first and the last place along an axis in which a part of the copy ever comes to stand, after any press."""
    moved = (cell for name, seen in copy.alone.items() for cell in _moved_to(Setup(copy.plan, rules), name, seen))
    along = [cell[number] for cell in (*copy.plan.cells, *moved)]
    return min(along), max(along)


def _moved_to(setup: Setup, name: str, seen: Observation) -> set[Cell]:
    """The cells in which at any time of a press something else stands than at first."""
    found: set[Cell] = set()

    def look(_step: int, _values: list[int]) -> None:
        found.update(cell for cell, _ in sim.configuration())

    sim = Simulation(setup, sample=look)
    sim.queue_stimuli(press_stimuli(find_trigger(setup, name), seen.pressed_at))
    sim.advance(seen.pressed_at + seen.seen_steps + 1)
    return found


# --- what touches, read off the geometry ---------------------------------------------------------------------------


def _contained(plan: Plan) -> bool:
    """Whether no cell moves and no item lies about that a hopper might take: what hears what is then all that acts."""

    def kind(cell: Cell) -> str | None:
        return plan.cells[cell].kind if cell in plan.cells else None

    kinds = {part.kind for part in plan.cells.values()}
    ejectors = [cell for cell, part in plan.cells.items() if part.behaviour == "ejector"]
    if kinds & {*PISTONS} or any(
        kind(beside(cell, str(plan.cells[cell].facing))) not in CONTAINERS for cell in ejectors
    ):
        return False
    triggers = [kind(cell) for cell in plan.triggers.values()]
    takes = any(is_a(kind, "hopper") for kind in kinds)
    return None not in triggers and (not takes or all(default_act(one) != "drop" for one in triggers))


def _heard(geometry: Geometry, cell: Cell) -> frozenset[Cell]:
    """All that may decide what the cell shows."""
    kind = geometry.kind(cell)
    heard: set[Cell] = set()
    if geometry.is_wire(cell):
        heard.update(geometry.wire_sources(cell), geometry.outflows(cell))
    elif kind in PASSING:
        heard.update(geometry.block_sources(cell))
    elif kind in HEARING:
        fan_in = geometry.fan_in(cell)
        heard.update(fan_in.power, fan_in.flank, fan_in.lock, (fan_in.container[0],) if fan_in.container else ())
    if is_a(kind, "hopper", "ejector"):
        ends = geometry.hopper_ends(cell) if is_a(kind, "hopper") else (beside(cell, str(geometry.parts[cell].facing)),)
        heard.update(end for end in ends if geometry.kind(end) in CONTAINERS)
    x, y, z = cell
    near = ((x + dx, y + dy, z + dz) for dx, dy, dz in NEAR[1])
    heard.update(there for there in near if is_a(kind, "sensor") and cell in geometry.watchers(there))
    return frozenset(heard)


def _touches(row: Row, geometry: Geometry, axis: str, pitch: int, copies: tuple[_Copy, ...]) -> Iterator[Touch]:
    """Where a cell of one copy is not as if it were alone, first by copy, then in (z, y, x) order."""
    for cell, copy, other_copy in row.clashes:
        yield Touch(cell, copy, cell, other_copy, "stands in")
    if row.clashes:
        return
    number = AXES.index(axis)
    copy_of = row.copy_of
    length = copies[0].plan.size[number]
    for cell in sorted(copy_of, key=lambda here: (copy_of[here], zyx(here))):
        copy = copy_of[cell]
        shift = copy * pitch
        if length - 1 - pitch + REACH < cell[number] - shift < pitch - REACH:
            continue  # too far from the end of the copy before and from the start of the one after
        heard = _heard(geometry, cell)
        foreign = sorted((other for other in heard if copy_of.get(other, copy) != copy), key=zyx)
        yield from (Touch(cell, copy, other, copy_of[other], "hears") for other in foreign)
        alone = copies[copy].shape[_shifted(cell, number, -shift)]
        if not foreign and heard != {_shifted(other, number, shift) for other in alone}:
            other = min(
                (far for far in copy_of if copy_of[far] != copy), key=lambda far: (_distance(cell, far), zyx(far))
            )
            yield Touch(cell, copy, other, copy_of[other], "is changed by")


def _shifted(cell: Cell, number: int, shift: int) -> Cell:
    x, y, z = (value + (shift if here == number else 0) for here, value in enumerate(cell))
    return (x, y, z)


def _distance(one: Cell, other: Cell) -> int:
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


# --- what moves, read off runs -------------------------------------------------------------------------------------


def _moves(row: Row, rules: RuleSet, copies: tuple[_Copy, ...], met: set[Cell] | None, runs: Runs) -> Iterator[Touch]:
    """What the first press that is felt beyond its copy moves there, or its own outputs that differ from alone.

    With `met`, the cells that touch, only these are watched: where neither pistons nor items are about, nothing goes
    from copy to copy but through them.
    """
    has_pistons = any(part.kind in PISTONS for part in row.plan.cells.values())
    for copy in range(COPIES):
        others = {str(cell): cell for cell in met or row.plan.cells if row.copy_of.get(cell, copy) != copy}
        for name, expected in copies[copy].alone.items():
            setup = Setup(row.plan, rules)
            trigger = find_trigger(setup, f"{copy} {name}")
            seen = observe(setup, trigger, runs=runs, also=others)
            felt = False
            stirred = _stirred(row, rules, trigger, seen, runs) if has_pistons else set()
            for key, cell in others.items():
                if len(seen.changes[key]) > 1 or cell in stirred:
                    felt = True
                    yield Touch(cell, row.copy_of[cell], trigger.cell, copy, "moves with")
            for output in expected.changes:
                if seen.pulses(f"{copy} {output}") != expected.pulses(output):
                    felt = True
                    cell = row.plan.outputs[f"{copy} {output}"]
                    yield Touch(cell, copy, trigger.cell, copy, "is not as alone after a press at")
            if felt:
                return


def _stirred(row: Row, rules: RuleSet, trigger: Trigger, seen: Observation, runs: Runs) -> set[Cell]:
    """The cells in which something else comes to stand after the press: what moved or broke need not show a level."""
    found: set[Cell] = set()

    def look(_step: int, _values: list[int]) -> None:
        found.update(cell for cell, _ in sim.configuration() - before)

    sim, pressed_at, _ = runs.start(Setup(row.plan, rules))
    sim.watched, sim.sample = (), look
    before = sim.configuration()
    sim.queue_stimuli(press_stimuli(trigger, pressed_at))
    sim.advance(seen.pressed_at + min(seen.seen_steps, MOST_STIRRED_STEPS) + 1)
    return found
