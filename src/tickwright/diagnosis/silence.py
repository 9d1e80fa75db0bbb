"""Findings of what does nothing: parts that a wire passes, rings that do not close, parts that nothing hears."""

from __future__ import annotations

from collections.abc import Iterator

from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.paths import Loop, loop_through
from tickwright.diagnosis.suspicion import Suspicion, put, row_text, suspicion, take
from tickwright.findings import Repair
from tickwright.kinds import LAMPS, PASSING, PISTONS, Part, kinds_with
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.wire import is_joined, points
from tickwright.space import DIRECTIONS, HORIZONTAL, OPPOSITE, Cell, beside, zyx

PASSED = kinds_with("piston", "lamp")
DRIVING = kinds_with("repeater", "comparator")


# --- never powered -----------------------------------------------------------------------------------------------


def never_powered(ev: Evidence) -> Iterator[Suspicion]:
    """A lamp or piston to which no power leads, although a wire with a source lies beside it and points elsewhere.

    Not told where a piston that is powered may move something that powers it.
    """
    geometry = ev.geometry
    if any(part.kind in PISTONS and geometry.fan_in(cell).power for cell, part in ev.plan.cells.items()):
        return
    for cell in sorted(ev.plan.cells, key=zyx):
        kind = ev.plan.cells[cell].kind
        if kind not in PASSED or geometry.fan_in(cell).power:
            continue
        near = [beside(cell, side) for side in HORIZONTAL if side != ev.plan.cells[cell].facing]
        passing = [wire for wire in near if geometry.is_wire(wire) and _driven(ev, wire)]
        if passing:
            wire = passing[0]
            message = (
                f"The {kind} at {cell} is never powered: the wire at {wire} {_turn(ev, wire)} and passes it; a wire "
                "powers only what it points at."
            )
            yield suspicion("never-powered", message, (cell, wire), (), _pointed(ev, cell, wire))


def _driven(ev: Evidence, wire: Cell) -> bool:
    """Whether any part gives a level to the wire's network."""
    return any(ev.geometry.wire_sources(here) for here in ev.geometry.network(wire))


def _turn(ev: Evidence, wire: Cell) -> str:
    """Where the wire points, in words."""
    sides = points(ev.geometry, wire)
    if not sides:
        return "points to no side"
    if len(sides) == 2 and sides[1] == OPPOSITE[sides[0]]:
        return f"runs {sides[0]} and {sides[1]}"
    return f"turns to {' and '.join(sides)}"


def _pointed(ev: Evidence, cell: Cell, wire: Cell) -> Iterator[Repair]:
    """Without a stub that bends the wire it runs straight at the part; a wire on top of a lamp powers it, too."""
    geometry = ev.geometry
    for side in HORIZONTAL:
        stub = beside(wire, side)
        if geometry.is_wire(stub) and sum(is_joined(geometry, stub, other) for other in HORIZONTAL) == 1:
            yield Repair(f"Take away the wire at {stub}, which bends it.", (take(stub),))
    top = beside(cell, "up")
    if ev.plan.cells[cell].behaviour == "lamp" and top not in ev.plan.cells:
        yield Repair(f"Lay a wire on top of the lamp, at {top}.", (put(top, "wire"),))


# --- rings that do not close -------------------------------------------------------------------------------------


def ring_not_closed(ev: Evidence) -> Iterator[Suspicion]:
    """A part that nothing goes on from, where one cell of wire, or turning it, makes a ring of it and others.

    Of comparators alone also one from which only outputs are fed: a loop whose end was lost still lights its lamp.
    """
    for cell, gap, ring, edits in ev.once(_gaps):
        part = ev.plan.cells[cell]
        if gap == cell:
            why = f"the {part.kind} at {cell} faces {part.facing}, away from it"
        else:
            why = f"between the {part.kind} at {cell} and the rest of it a wire is missing at {gap}"
        message = f"The ring of {len(ring.parts)} parts does not close: {why}. The way: {row_text(ring.cells)}."
        text = f"Turn the {part.kind} at {cell} to face {edits.facing}." if gap == cell else f"Lay a wire at {gap}."
        cells = (gap, *(other for other in ring.cells if other != gap))
        yield suspicion("ring-not-closed", message, cells, (), [Repair(text, (put(gap, edits),))])


def _gaps(ev: Evidence) -> list[tuple[Cell, Cell, Loop, Part]]:
    """Each end of an open ring: the part, the cell that is wrong, the ring that it would be, what belongs there."""
    found: list[tuple[Cell, Cell, Loop, Part]] = []
    may_be_moved = ev.once(_moved_rows)
    for cell, part in sorted(ev.plan.cells.items(), key=lambda item: zyx(item[0])):
        if part.kind not in DRIVING or cell in ev.plan.outputs.values() or cell in may_be_moved:
            continue
        unheard = not ev.out_of.get(cell)
        if not unheard and not _feeds_outputs_alone(ev, cell):
            continue
        tries = [(gap, Part("wire")) for gap in _empty_ends(ev, cell)]
        if unheard:
            tries += [(cell, part._replace(facing=side)) for side in HORIZONTAL if side != part.facing]
        for gap, other in tries:
            ring = _ring_with(ev, cell, gap, other)
            if ring is not None and (
                unheard or all(ev.plan.cells[one].behaviour == "comparator" for one in ring.parts)
            ):
                found.append((cell, gap, ring, other))
                break
    return found


def _feeds_outputs_alone(ev: Evidence, cell: Cell) -> bool:
    outputs = set(ev.plan.outputs.values())
    return all(hop.target in outputs and ev.geometry.kind(hop.target) not in DRIVING for hop in ev.out_of[cell])


def _empty_ends(ev: Evidence, cell: Cell) -> list[Cell]:
    """The empty cells on a floor at which the line from the part may go on, where no piston may move anything.

    They lie before it, on or beside the block before it, and at the ends of the wires that it feeds, climbs included.
    """
    geometry = ev.geometry
    front = beside(cell, str(ev.plan.cells[cell].facing))
    ends = [front]
    if geometry.conducts(front):
        ends += [beside(front, side) for side in ("up", *HORIZONTAL)]
    near = [end for one in ends for end in (one, *(beside(one, side) for side in DIRECTIONS))]
    fed = [one for one in near if geometry.is_wire(one) and cell in geometry.wire_sources(one)]
    for wire in dict.fromkeys(wire for one in fed for wire in geometry.network(one)):
        if _joined(geometry, wire) <= 1:
            level = [beside(wire, side) for side in HORIZONTAL]
            ends += [*level, *(beside(end, side) for end in level for side in ("up", "down"))]
    empty = [end for end in dict.fromkeys(ends) if end not in ev.plan.cells]
    may_be_moved = ev.once(_moved_rows)
    return [end for end in empty if geometry.carries(beside(end, "down"), "up") and end not in may_be_moved]


def _moved_rows(ev: Evidence) -> set[Cell]:
    """The cells in the rows before pistons, and beside these rows."""
    found: set[Cell] = set()
    for piston, part in ev.plan.cells.items():
        here = piston
        for _ in range(ev.rules.piston.push_limit + 2 if part.kind in PISTONS else 0):
            here = beside(here, str(part.facing))
            found |= {here, *(beside(here, side) for side in DIRECTIONS)}
    return found


def _joined(geometry: Geometry, wire: Cell) -> int:
    return sum(is_joined(geometry, wire, side) for side in HORIZONTAL)


def _ring_with(ev: Evidence, cell: Cell, changed: Cell, part: Part) -> Loop | None:
    """The ring of two or more parts through the part in `cell` if that stood in the changed cell; None if none."""
    geometry = Geometry({one: Stand(held) for one, held in {**ev.plan.cells, changed: part}.items()}, ev.rules)
    return loop_through(ev.rules, geometry, cell)


# --- heard by nobody ---------------------------------------------------------------------------------------------


def heard_by_nobody(ev: Evidence) -> Iterator[Suspicion]:
    """A repeater or comparator whose output nothing hears and that is no output.

    Not told where a piston may move something there, nor of one that a wire would close to a ring: that says more.
    """
    if not ev.plan.outputs:
        return
    of_rings = {cell for cell, _, _, _ in ev.once(_gaps)}
    may_be_moved = ev.once(_moved_rows)
    for cell, part in sorted(ev.plan.cells.items(), key=lambda item: zyx(item[0])):
        if part.kind not in DRIVING or cell in of_rings or ev.out_of.get(cell):
            continue
        if cell in ev.plan.outputs.values() or cell in ev.plan.triggers.values():
            continue
        front = beside(cell, str(part.facing))
        if front in may_be_moved or cell in may_be_moved:
            continue
        message = f"Nothing hears the {part.kind} at {cell}: {_why_unheard(ev, front)}."
        where = (cell, front) if front in ev.plan.cells else (cell,)
        yield suspicion("heard-by-nobody", message, where, (), _heard(ev, cell, part, front))


def _why_unheard(ev: Evidence, front: Cell) -> str:
    kind = ev.geometry.kind(front)
    if kind is None:
        return f"the cell before it at {front} is empty"
    if ev.geometry.is_wire(front):
        return f"the wire at {front} before it leads to nothing that listens"
    if kind in DRIVING:
        return f"the {kind} before it at {front} faces another way and does not hear it"
    if kind in (*PASSING, *LAMPS):
        return f"the {kind} before it at {front} passes it on to nothing that listens"
    return f"the {kind} before it at {front} does not listen there"


def _heard(ev: Evidence, cell: Cell, part: Part, front: Cell) -> Iterator[Repair]:
    if ev.geometry.kind(front) is None and ev.geometry.carries(beside(front, "down"), "up"):
        yield Repair(f"Lay a wire at {front}.", (put(front, "wire"),))
    for side in HORIZONTAL:
        if side != part.facing:
            yield Repair(f"Turn the {part.kind} at {cell} to face {side}.", (put(cell, part._replace(facing=side)),))
    yield Repair(f"Take away the {part.kind} at {cell}.", (take(cell),))
