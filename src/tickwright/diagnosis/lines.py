"""Findings of lines: outputs that nothing reaches, levels that die on the way, wires that touch, wires that climb."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.paths import Hop, reached, replaceable_wires
from tickwright.diagnosis.suspicion import Suspicion, put, row_text, suspicion, take
from tickwright.findings import Repair
from tickwright.kinds import CONTAINERS, PARTS, PASSING, PISTONS, PLATES, Part
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.rules.wire import is_joined, points
from tickwright.space import HORIZONTAL, OPPOSITE, Cell, beside, zyx

Pair = tuple[Cell, Cell]


# --- unreached ---------------------------------------------------------------------------------------------------


def output_unreached(ev: Evidence) -> Iterator[Suspicion]:
    """An output to which no way leads from any trigger of the plan; not told where pistons or items may carry."""
    carriers = (*PISTONS, *CONTAINERS, *PLATES)
    starts = [cell for cell in ev.plan.triggers.values() if cell in ev.plan.cells]
    if not starts or any(part.kind in carriers for part in ev.plan.cells.values()):
        return
    here = reached(ev.out_of, starts)
    for name, cell in ev.plan.outputs.items():
        if cell in here:
            continue
        nearest = min(here, key=lambda other: (_distance(other, cell), zyx(other)))
        message = (
            f"Nothing that a trigger changes comes to the output {name} at {cell}: on the way from the triggers the "
            f"part nearest to it that is reached stands at {nearest}."
        )
        yield suspicion("output-unreached", message, (cell, nearest), (), _ways_there(ev, cell, here))


def _distance(one: Cell, other: Cell) -> int:
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


def _ways_there(ev: Evidence, output: Cell, here: set[Cell]) -> Iterator[Repair]:
    """Turn one part of those that are reached or lie near, make a block of an insulator, or lay one cell of wire."""
    cells = ev.plan.cells
    acting = [cell for cell in sorted(cells, key=zyx) if PARTS[cells[cell].kind].direction == ""]
    for cell in sorted(acting, key=lambda cell: (cell not in here, _distance(cell, output))):
        facing = str(cells[cell].facing)
        for side in (OPPOSITE[facing], *HORIZONTAL):
            if side != facing:
                yield Repair(
                    f"Turn the {cells[cell].kind} at {cell} to face {side}.",
                    (put(cell, cells[cell]._replace(facing=side)),),
                )
    for cell in sorted(cells, key=lambda cell: (_distance(cell, output), zyx(cell))):
        if (still := cells[cell]).behaviour == "still" and still.kind not in PASSING:
            yield Repair(f"Put a block in the place of the {still.kind} at {cell}.", (put(cell, "block"),))
    empty = {beside(beside(cell, "up"), side) for cell in cells for side in ("up", *HORIZONTAL)} | {
        beside(cell, side) for cell in here | {output} for side in HORIZONTAL
    }
    for cell in sorted(empty - set(cells), key=lambda cell: (_distance(cell, output), zyx(cell))):
        below = beside(cell, "down")
        if min(cell) < 0 or below[2] < 0:
            continue
        under = cells.get(below)
        if under is None:
            yield Repair(f"Lay a wire on a block at {cell}.", (put(below, "block"), put(cell, "wire")))
        elif ev.geometry.carries(below, "up"):
            yield Repair(f"Lay a wire at {cell}.", (put(cell, "wire"),))


# --- too far -----------------------------------------------------------------------------------------------------


def output_too_far(ev: Evidence) -> Iterator[Suspicion]:
    """A listener that every source of its wire is too far from to be heard by."""
    top = ev.rules.wire.top_level
    ends: dict[Cell, list[Hop]] = {}
    for target, found in (*ev.into.items(), *((cell, ev.output_hops[cell]) for cell in ev.plain_outputs)):
        ends[target] = [hop for hop in found if hop.port in ("rear", "power")]
    looping = {cell for loop in ev.loops if not loop.closes for cell in loop.parts}
    for target, found in ends.items():
        if not found or any(hop.loss < top for hop in found) or target in looping:
            continue
        hop = min(found, key=lambda one: (one.loss, zyx(one.source)))
        last = hop.wires[(top - 1) // ev.rules.wire.loss]
        what = next((f"output {name}" for name, cell in ev.plan.outputs.items() if cell == target), "part")
        message = (
            f"The level dies before the {what} at {target}: from {hop.source} to it the wire takes {hop.loss} levels. "
            f"The last cell with any is {last}: regenerate there or before."
        )
        yield suspicion("output-too-far", message, (target, last, *hop.wires), (), _regenerate(ev, hop))


def _regenerate(ev: Evidence, hop: Hop) -> Iterator[Repair]:
    """A repeater in the place of a straight wire, as late as the level allows, on all listeners' behalf."""
    top, loss = ev.rules.wire.top_level, ev.rules.wire.loss
    reach = (top - 1) // loss  # the last wire that has any level has this number on the way
    straight = [(hop.wires.index(wire), side) for wire, side in replaceable_wires(ev.geometry, hop.wires)]
    chosen: list[tuple[int, str]] = []
    start = 0
    while len(hop.wires) - 1 - start > reach:
        usable = [(number, side) for number, side in straight if start < number <= start + reach + 1]
        if not usable:
            break
        chosen.append(usable[-1])
        start = usable[-1][0] + 1
    if chosen:
        edits = tuple(put(hop.wires[number], Part("repeater", side)) for number, side in chosen)
        yield Repair(f"Regenerate at {row_text(hop.wires[number] for number, _ in chosen)} with a repeater.", edits)
    for number, side in reversed(straight):
        if number <= reach + 1:
            yield Repair(
                f"Regenerate at {hop.wires[number]} with a repeater.",
                (put(hop.wires[number], Part("repeater", side)),),
            )


# --- joined ------------------------------------------------------------------------------------------------------


def wires_joined(ev: Evidence) -> Iterator[Suspicion]:
    """Two lines, each with its own source and its own listener, that touch: side by side, or where one climbs."""
    geometry = ev.geometry
    heard = _listened_wires(ev)
    seen: set[Cell] = set()
    for wire in sorted((cell for cell in geometry.parts if geometry.is_wire(cell)), key=zyx):
        if wire in seen:
            continue
        network = geometry.network(wire)
        seen.update(network)
        contacts = _contacts(geometry, network)
        for axis in (0, 1):
            touching = [pair for pair in contacts if _sideways(geometry, pair, axis)]
            if touching:
                cut = set(touching)
                yield from _accidents(ev, network, [pair for pair in contacts if pair not in cut], touching, heard)


def _listened_wires(ev: Evidence) -> set[Cell]:
    """The wires that a part, an output, or a block with a listener hears directly."""
    heard = {cell for cell in ev.plan.outputs.values() if ev.geometry.is_wire(cell)}
    heard |= {hop.wires[-1] for hop in ev.hops if hop.wires}
    heard |= {hop.wires[-1] for found in ev.output_hops.values() for hop in found if hop.wires}
    return heard


def _contacts(geometry: Geometry, network: tuple[Cell, ...]) -> list[Pair]:
    """Every pair of wires between which level flows, each once."""
    pairs = {tuple(sorted((here, other))) for here in network for other in geometry.outflows(here)}
    return sorted(pairs)  # type: ignore[arg-type]


def _sideways(geometry: Geometry, pair: Pair, axis: int) -> bool:
    """Whether the contact lies along the axis and both wires run across it."""
    one, other = pair
    if abs(one[axis] - other[axis]) != 1:
        return False
    across = ("north", "south") if axis == 0 else ("east", "west")
    return all(any(is_joined(geometry, wire, side) for side in across) for wire in pair)


def _accidents(
    ev: Evidence, network: tuple[Cell, ...], kept: list[Pair], touching: list[Pair], heard: set[Cell]
) -> Iterator[Suspicion]:
    """Without its sideways contacts the network falls apart; two pieces that could do alone touched by accident.

    `kept` are the other contacts of the network.
    """
    geometry = ev.geometry
    joined: dict[Cell, list[Cell]] = {}
    for one, other in kept:
        joined.setdefault(one, []).append(other)
        joined.setdefault(other, []).append(one)
    piece_of: dict[Cell, int] = {}
    number = -1
    for wire in network:
        if wire in piece_of:
            continue
        number += 1
        queue = [wire]
        piece_of[wire] = number
        for here in queue:
            for other in joined.get(here, ()):
                if other not in piece_of:
                    piece_of[other] = number
                    queue.append(other)
    sources: dict[int, set[Cell]] = {}
    listeners: set[int] = set()
    for wire, number in piece_of.items():
        sources.setdefault(number, set()).update(geometry.wire_sources(wire))
        if wire in heard:
            listeners.add(number)
    between: dict[tuple[int, int], list[Pair]] = {}
    for one, other in touching:
        first, second = sorted((piece_of[one], piece_of[other]))
        if first != second:
            between.setdefault((first, second), []).append((one, other))
    for pieces, both in between.items():
        alone = all(sources.get(piece) and piece in listeners for piece in pieces)
        feeds = alone and _feeds(ev, sources[pieces[0]], sources[pieces[1]])
        if not alone or (feeds and len(both) < 2):
            continue
        cells = [cell for pair in both for cell in pair]
        lines = [row_text(sorted(sources[piece], key=zyx)) for piece in pieces]
        message = (
            f"The lines from {lines[0]} and from {lines[1]} touch at "
            f"{', '.join(f'{a} and {b}' for a, b in both)}: they work as one wire."
        )
        yield suspicion("wires-joined", message, cells, (), _apart(ev, both, piece_of))


def _feeds(ev: Evidence, ones: set[Cell], others: set[Cell]) -> bool:
    """Whether the sources of one line drive those of the other, so that the contact may be meant to close a loop."""
    return bool(reached(ev.out_of, ones, others) & others) or bool(reached(ev.out_of, others, ones) & ones)


def _apart(ev: Evidence, both: list[Pair], piece_of: dict[Cell, int]) -> Iterator[Repair]:
    climbs = [(one, other) if one[2] < other[2] else (other, one) for one, other in both if one[2] != other[2]]
    roofs = sorted({beside(lower, "up") for lower, _ in climbs})
    if climbs and len(climbs) == len(both) and not any(roof in ev.plan.cells for roof in roofs):
        yield Repair(
            "Put a block above the lower wire, which cuts the climb.", tuple(put(roof, "block") for roof in roofs)
        )
    for piece in sorted({piece_of[cell] for pair in both for cell in pair}):
        line = sorted({cell for pair in both for cell in pair if piece_of[cell] == piece})
        across = ("north", "south") if both[0][0][0] != both[0][1][0] else ("east", "west")
        for facing in across:
            edits = tuple(put(cell, Part("repeater", facing)) for cell in line)
            more = "a tick" if len(line) == 1 else f"{len(line)} ticks"
            yield Repair(f"Put repeaters along one line where they touch (it gets {more} later).", edits)


# --- climbing ----------------------------------------------------------------------------------------------------


def climbing_wire(ev: Evidence) -> Iterator[Suspicion]:
    """A comparator whose rear block hears a wire under one of the built-in ways of pointing and not under the other."""
    geometry = ev.geometry
    for cell in sorted(geometry.parts, key=zyx):
        if geometry.behaviour(cell) != "comparator":
            continue
        block = beside(cell, OPPOSITE[str(geometry.parts[cell].facing)])
        if not geometry.conducts(block):
            continue
        for side in HORIZONTAL:
            wire, top = beside(block, side), beside(block, "up")
            if not geometry.is_wire(wire) or not geometry.is_wire(top) or top not in geometry.outflows(wire):
                continue
            if not _differs(ev, wire, OPPOSITE[side]):
                continue
            message = (
                f"The wire at {wire} climbs the block at {block}, behind the comparator at {cell}: under `standard` it "
                f"powers that block, under `older-wire` only the wire on top at {top} does, one level lower."
            )
            yield suspicion("climbing-wire-feeds-comparator", message, (cell, block, wire, top), (), _level(block, top))


def _differs(ev: Evidence, wire: Cell, side: str) -> bool:
    """Whether the two ways of pointing that there are disagree on that side of the wire."""
    answers = set()
    for pointing in ("joined", "through"):
        wires = msgspec.structs.replace(ev.rules.wire, pointing=pointing)
        rules = msgspec.structs.replace(ev.rules, wire=wires)
        stands = {cell: Stand(part) for cell, part in ev.plan.cells.items() if _distance(cell, wire) <= 4}
        answers.add(side in points(Geometry(stands, rules), wire))
    return len(answers) == 2


def _level(block: Cell, top: Cell) -> Iterator[Repair]:
    yield Repair("Let the wire run on level instead of climbing.", (take(top), put(block, "wire")))
    yield Repair("Take away the wire on top of the block.", (take(top),))
