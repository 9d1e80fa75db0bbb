"""Routing: wires through a room, from where it is entered to a plan's trigger and from its output to where it is left.

The plan keeps its layout; CP-SAT finds the wires, all of them at once and as few as it can. A wire takes one level a
cell, so a long one is renewed by repeaters where it runs straight. What is found is still to be run: routing keeps
clear of the plan by rules of thumb, a run tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.design.fitting import fits, in_room, plus
from tickwright.design.ground import NOTHING, Ground, joined, lay, lay_wire, round_about
from tickwright.design.wish import Fit, Room
from tickwright.kinds import PARTS, parse_part
from tickwright.measurement import find_trigger, observe
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.plan.edits import crop
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import HORIZONTAL, OPPOSITE, Cell, beside
from tickwright.verify.copies import oriented

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel

__all__ = ["Routing", "route"]

SECONDS_EACH = 5.0
SECONDS = 20.0  # after which no further placement of a plan is tried
MOST_PLACES = 40
HIGHEST = 10_000  # more than all heights of a path together


class Ends(NamedTuple):
    """Where a wire may begin or end at the plan: the repeater between them, which way it faces, and the wire's cell."""

    repeater: Cell
    facing: str
    wire: Cell


@dataclass(frozen=True, slots=True)
class Routing:
    """What came of routing: `plan` lies in the room with its wires, or is None, and then `reason` says why.

    `fit` is how the plan lies there, `wire_cells` how many cells were added. `shortest` tells whether it was proved
    that for this fit no fewer will do. `fits` placements there are, `tried` of them were tried.
    """

    plan: Plan | None
    reason: str | None
    fit: Fit | None
    wire_cells: int
    shortest: bool
    fits: int
    tried: int


def route(plan: Plan, room: Room, rules: RuleSet) -> Routing:
    """Lay the plan in the room, with wires from where that is entered to its trigger, and from its output to the exit.

    The placements nearest to both are tried first, of 40 at most the shortest wires that CP-SAT finds in five seconds;
    after 20 seconds in all no further one is tried. The first that, run, holds as long as the plan alone is taken. The
    trigger then stands where the room is entered; a repeater stands in its old place. Behind the output stands a
    repeater; a lamp is laid anew below the wire's end. The plan has one trigger and one output, which comes on once and
    goes off.
    """
    alone = _hold(plan, rules)
    if alone is None:
        return Routing(None, "A run of the plan gives no single pulse that ends.", None, 0, False, 0, 0)
    laid = _placements(plan, room)
    until = monotonic() + SECONDS
    tried = refused = 0
    for how in laid:
        lying = in_room(plan, Room(room.size, room.blocked), how)
        paths = _ways(lying, room)
        if paths is None:
            continue
        if tried == MOST_PLACES or (tried and monotonic() > until):
            break
        tried += 1
        found = _solve(*paths)
        if found is None:
            continue
        whole = _laid(lying, found[0])
        if _hold(whole, rules) == alone:
            return Routing(whole, None, how, len(whole.cells) - len(plan.cells), found[1], len(laid), tried)
        refused += 1
    if not laid:
        why = f"The plan, {' x '.join(map(str, plan.size))} cells, does not fit in the room of {room.text}."
    elif refused:
        why = f"In {refused} of {tried} placements wires could be laid, but in runs they changed the hold."
    elif not tried:
        why = f"In none of the {len(laid)} placements is there room for a wire at the trigger and at the output."
    else:
        why = f"In none of the {tried} placements that were tried, of {len(laid)}, could wires be laid."
    return Routing(None, why, None, 0, False, len(laid), tried)


def _hold(plan: Plan, rules: RuleSet) -> int | None:
    """The hold of the plan's one output, if a press gives one pulse that ends."""
    if any(problems(plan, rules)):
        return None
    (output,) = plan.outputs
    setup = Setup(plan, rules)
    seen = observe(setup, find_trigger(setup, next(iter(plan.triggers))))
    return hold_of(seen.pulses(output)) if kind_of(seen, output) == "one-shot" else None


def _placements(plan: Plan, room: Room) -> list[Fit]:
    """Every way in which the plan fits in the room wherever its ends lie, the nearest to entry and exit first.

    Where the ends lie is told without laying the plan: a large room has many thousand placements.
    """
    turned: dict[tuple[int, bool], tuple[Cell, ...]] = {}
    laid = crop(plan)

    def distance(how: Fit) -> int:
        key = (how.quarter_turns, how.mirrored)
        if key not in turned:
            lying = oriented(laid, *key)
            turned[key] = (next(iter(lying.triggers.values())), next(iter(lying.outputs.values())))
        return _distance([plus(cell, how.offset) for cell in turned[key]], room)

    return sorted(fits(plan, Room(room.size, room.blocked)), key=distance)


def _distance(ends: Sequence[Cell], room: Room) -> int:
    """How far trigger and output are from where the room is entered and left, about."""
    total = 0
    for where, cell in zip((room.enter, room.leave), ends, strict=True):
        if isinstance(where, tuple):
            total += sum(abs(one - two) for one, two in zip(cell, where, strict=True))
        elif where is not None:
            edges = {"west": cell[0], "north": cell[1], "east": room.size[0] - 1 - cell[0]}
            total += edges.get(where, room.size[1] - 1 - cell[1])
    return total


def _ways(plan: Plan, room: Room) -> tuple[_Sites, list[Ends], list[Ends]] | None:
    """Where wires may begin and end at a plan that lies in the room, none where none is needed; None if one cannot."""
    trigger, output = next(iter(plan.triggers.values())), next(iter(plan.outputs.values()))
    ground = _Sites(plan, room)
    entries = [] if room.at(room.enter, trigger) else list(ground.entries(trigger))
    exits = [] if room.at(room.leave, output) else list(ground.exits(output))
    if (entries or room.at(room.enter, trigger)) and (exits or room.at(room.leave, output)):
        return ground, entries, exits
    return None


class _Sites(Ground):
    """The ground of a plan, and where wires may meet it."""

    def entries(self, trigger: Cell) -> Iterator[Ends]:
        """Repeaters in the trigger's place that feed what it fed, and the wire's last cell behind them."""
        for side in HORIZONTAL:
            ahead, behind = beside(trigger, side), beside(trigger, OPPOSITE[side])
            if ahead in self.taken and self.free(behind) and self.free(beside(behind, "down")):
                yield Ends(trigger, side, behind)

    def exits(self, output: Cell) -> Iterator[Ends]:
        """Repeaters beside the output that hear it, and the wire's first cell before them."""
        for side in HORIZONTAL:
            cell = beside(output, side)
            ahead = beside(cell, side)
            if self.free(cell) and self.free(beside(cell, "down")) and self.free(ahead):
                yield Ends(cell, side, ahead)


class _Net(NamedTuple):
    """One wire of the model: for each cell whether it is used and whether it is the far end; which end is taken."""

    used: Mapping[Cell, Any]
    far: Mapping[Cell, Any]
    near: Mapping[Ends, Any]


def _solve(
    ground: _Sites, entries: list[Ends], exits: list[Ends]
) -> tuple[tuple[tuple[Ends, list[Cell]] | None, tuple[Ends, list[Cell]] | None], bool] | None:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    nets: list[_Net | None] = [
        _net(model, ground, ends, where) if ends else None
        for ends, where in ((entries, ground.room.enter), (exits, ground.room.leave))
    ]
    laid = [net for net in nets if net is not None]
    if any(not net.far for net in laid):
        return None
    _apart(model, laid)
    # As few cells as can be; of equally few, low ones.
    model.minimize(sum(use * (HIGHEST + cell[2]) for net in laid for cell, use in net.used.items()))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = SECONDS_EACH
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    paths = [None if net is None else _path(net, solver) for net in nets]
    return (paths[0], paths[1]), status == cp_model.OPTIMAL


def _net(model: CpModel, ground: _Sites, ends: list[Ends], where: str | Cell | None) -> _Net:
    """A path without branches from one of the ends at the plan to a cell where the room is entered or left."""
    contacts = {end.wire: round_about(end.repeater) for end in ends}
    wide, deep, high = ground.room.size
    cells = [(x, y, z) for z in range(1, high) for y in range(deep) for x in range(wide)]
    may = [cell for cell in cells if ground.stands(cell, contacts.get(cell, NOTHING))]
    used = {cell: model.new_bool_var(f"used {cell}") for cell in may}
    # A lamp stands below the wire's end; what stands there itself ends the wire in the cell that was asked for.
    lower = where is not None and not isinstance(where, str)
    goals = [
        cell for cell in may if ground.room.at(where, cell) or (lower and ground.room.at(where, beside(cell, "down")))
    ]
    far = {cell: model.new_bool_var(f"far {cell}") for cell in goals}
    near = {end: model.new_bool_var(f"near {end}") for end in ends if end.wire in used}
    if not near or not far:
        return _Net(used, {}, near)
    model.add_exactly_one(far.values())
    model.add_exactly_one(near.values())
    begins: dict[Cell, list[Any]] = {}
    for end, chosen in near.items():
        begins.setdefault(end.wire, []).append(chosen)
    for cell, use in used.items():
        ends_here = [*begins.get(cell, []), *([far[cell]] if cell in far else [])]
        for one in ends_here:
            model.add_implication(one, use)
        degree = sum(used[other] for other in joined(cell) if other in used)
        # A used cell has two neighbours, one less for each end that lies in it; so wires neither branch nor touch.
        model.add(degree + sum(ends_here) == 2).only_enforce_if(use)
        if cell in far:  # what stands at the end meets the wire on the level
            for other in joined(cell):
                if other in used and other[2] != cell[2]:
                    model.add_implication(far[cell], used[other].negated())
    for cell, use in used.items():
        for above in (beside(cell, "up"), beside(beside(cell, "up"), "up")):
            if above in used:  # a block over a wire would cut its way up
                model.add_bool_or(use.negated(), used[above].negated())
    return _Net(used, far, near)


def _apart(model: CpModel, nets: list[_Net]) -> None:
    """Two wires neither touch nor stand over each other."""
    if len(nets) < 2:
        return
    one, other = nets
    for cell, use in one.used.items():
        ups = [beside(cell, "up"), beside(beside(cell, "up"), "up")]
        downs = [beside(cell, "down"), beside(beside(cell, "down"), "down")]
        for near in (cell, *joined(cell), *ups, *downs):
            if near in other.used:
                model.add_bool_or(use.negated(), other.used[near].negated())


def _path(net: _Net, solver: Any) -> tuple[Ends, list[Cell]]:
    """The end at the plan that was chosen, and the wire's cells from there to its far end."""
    end = next(end for end, chosen in net.near.items() if solver.boolean_value(chosen))
    left = {cell for cell, use in net.used.items() if solver.boolean_value(use)}
    path, here = [], end.wire
    while True:
        path.append(here)
        left.discard(here)
        following = [cell for cell in joined(here) if cell in left]
        if not following:
            return end, path
        here = following[0]


def _laid(plan: Plan, paths: tuple[tuple[Ends, list[Cell]] | None, tuple[Ends, list[Cell]] | None]) -> Plan:
    """The plan with both wires: the trigger at the far end of one, the output at that of the other."""
    cells = dict(plan.cells)
    (trigger, pressed), (output, watched) = next(iter(plan.triggers.items())), next(iter(plan.outputs.items()))
    triggers, outputs = dict(plan.triggers), dict(plan.outputs)
    into, out_of = paths
    if into is not None:
        end, path = into
        kind = cells[pressed].kind
        lay(cells, end.repeater, parse_part(f"repeater {end.facing}"))
        standing = parse_part(f"{kind} on=down" if PARTS[kind].support == "facing" else kind)
        lay(cells, path[-1], standing)
        lay_wire(cells, path[-2::-1])
        triggers[trigger] = path[-1]
    if out_of is not None:
        end, path = out_of
        lay(cells, end.repeater, parse_part(f"repeater {end.facing}"))
        lay_wire(cells, path)
        outputs[output] = path[-1]
        if plan.cells[watched].behaviour == "lamp":
            outputs[output] = beside(path[-1], "down")
            cells[outputs[output]] = parse_part("lamp")
    return replace(plan, cells=cells, triggers=triggers, outputs=outputs, expectations=())
