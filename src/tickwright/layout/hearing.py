"""Acceptance by hearing: does every input of the laid Circuit hear just the sources that the nets and tiles say?

What each input of a tile hears is taken from the tile alone, with a lever before each of its inputs; in the layout the
levers' places are taken by what drives the nets. Repeaters that routing put in are passed through.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from tickwright.engine import Circuit, circuit_of
from tickwright.kinds import HEARING, Part
from tickwright.layout.model import Instance, Net, Tile
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import HORIZONTAL, Cell, along, beside, cell_text

SHIFT = 8
Heard = frozenset[tuple[str, Cell | str]]


class Ear(NamedTuple):
    """What one part of a tile hears at its rear (or all round) and at its flanks: ("cell", cell) or ("port", name)."""

    power: Heard
    flank: Heard


class Alone(NamedTuple):
    """A tile by itself: what its parts hear, and what a wire at each of its outputs hears."""

    ears: Mapping[Cell, Ear]
    drives: Mapping[str, Heard]


class Bench(NamedTuple):
    """A tile laid alone, a lever at the wire before each of its inputs, a wire before each output.

    `levers`, `wires` (those before inputs) and `probes` say where these are, `back` gives the cell of the tile that
    came to lie in a cell.
    """

    plan: Plan
    levers: Mapping[str, Cell]
    wires: Mapping[str, Cell]
    probes: Mapping[str, Cell]
    back: Mapping[Cell, Cell]


def on_bench(tile: Tile) -> Bench:
    """The tile with levers and wires at its ports; a block is put under each that has nothing to stand on."""
    low = tile.box[0]
    offset = (SHIFT - low[0], SHIFT - low[1], SHIFT - low[2])

    def shifted(cell: Cell) -> Cell:
        return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])

    cells = {shifted(cell): part for cell, part in tile.plan.cells.items()}
    levers: dict[str, Cell] = {}
    wires: dict[str, Cell] = {}
    probes: dict[str, Cell] = {}
    for name, port in tile.ports.items():
        here = shifted(port.access[0])
        cells[here] = Part("wire")
        cells.setdefault(beside(here, "down"), Part("block"))
        if port.role == "out":
            probes[name] = here
            continue
        side = port.side if port.side not in ("up", "down") else "west"
        others = {shifted(other.access[0]) for one, other in tile.ports.items() if one != name}
        lever = _free_beside(here, (side, *HORIZONTAL), cells, others)
        cells[lever] = Part("lever", "down")
        cells.setdefault(beside(lever, "down"), Part("block"))
        levers[name], wires[name] = lever, here
    return Bench(Plan(cells), levers, wires, probes, {shifted(cell): cell for cell in tile.plan.cells})


def _free_beside(
    here: Cell, sides: Sequence[str], cells: Mapping[Cell, Part], others: Collection[Cell]
) -> Cell:  # fmt: skip
    """Where beside a wire a lever gives nothing to the wires of other ports: the first side that will do."""
    free = [along(here, side, 1) for side in sides]
    will_do = (one for one in free if one not in cells and not any(beside(one, way) in others for way in HORIZONTAL))
    return next(will_do, free[0])


def alone(tile: Tile, rules: RuleSet) -> Alone:
    """What the parts and outputs of a tile hear when it lies alone, with a lever at each of its inputs."""
    bench = on_bench(tile)
    stub = {lever: name for name, lever in bench.levers.items()}
    circuit = circuit_of(Setup(bench.plan, rules))
    there = {cell: shifted for shifted, cell in bench.back.items()}

    def heard(sources: Iterable[int]) -> Heard:
        found: set[tuple[str, Cell | str]] = set()
        for source in sources:
            cell = circuit.cells[source]
            found.add(("port", stub[cell]) if cell in stub else ("cell", bench.back[cell]))
        return frozenset(found)

    ears = {}
    for cell, part in tile.plan.cells.items():
        if part.kind in HEARING:
            actor = circuit.index[there[cell]]
            ears[cell] = Ear(
                heard(source for source, _ in circuit.power.of(actor)),
                heard(source for source, _ in circuit.flank.of(actor)),
            )
    drives = {name: heard(source for source, _, _ in circuit.hears(cell)) for name, cell in bench.probes.items()}
    return Alone(ears, drives)


class Laid(NamedTuple):
    """A plan, and what it should be: its tiles, its nets, and the net of each repeater that routing put in."""

    plan: Plan
    instances: Sequence[Instance]
    nets: Mapping[str, Net]
    repeaters: Mapping[Cell, str]


def hearing_faults(laid: Laid, rules: RuleSet, most: int = 20) -> tuple[str, ...]:
    """What is wrong with a laid plan, each in a sentence: parts without support, inputs that hear another thing.

    At most `most` faults are told.
    """
    plan = laid.plan
    faults = [
        f"The {part.kind} of {instance.name} is not at {cell_text(cell)}: something else is, or nothing."
        for instance in laid.instances
        for cell, part in instance.cells()
        if plan.cells.get(cell) != part
    ]
    faults += [
        f"The repeater of the net {net} is not at {cell_text(cell)}: something else is, or nothing."
        for cell, net in laid.repeaters.items()
        if cell not in plan.cells or plan.cells[cell].behaviour != "repeater"
    ]
    faults = faults or [message for message, _, _ in problems(plan, rules)]
    return tuple(faults[:most]) or heard_otherwise(laid, rules, most)


def heard_otherwise(laid: Laid, rules: RuleSet, most: int = 20) -> tuple[str, ...]:
    """The inputs of a laid plan that hear another thing than the nets and tiles say, whatever parts are gone.

    What a part that is gone drove is not heard any more, so it is seen all the same if anything depends on it.
    """
    plan, instances, nets, repeaters = laid
    sources = _Sources(circuit_of(Setup(plan, rules)), repeaters)
    by_name = {instance.name: instance for instance in instances}
    known = {tile: alone(tile, rules) for tile in dict.fromkeys(instance.tile for instance in instances)}
    drivers = {name: _drivers(by_name[net.driver.instance], net.driver.port, known) for name, net in nets.items()}
    net_at = {(pin.instance, pin.port): name for name, net in nets.items() for pin in net.sinks}
    faults = list(_repeater_faults(sources, repeaters, drivers))
    expected_parts = set(repeaters)
    for instance in instances:
        for cell, ear in known[instance.tile].ears.items():
            there = instance.cell(cell)
            expected_parts.add(there)
            if there not in sources.circuit.index:
                continue
            for what, heard in (("input", ear.power), ("flank", ear.flank)):
                wanted = frozenset(c for item in heard for c in _meant(item, instance, net_at, drivers))
                if sources.of(there, what) != wanted:
                    faults.append(
                        f"The {what} of the {plan.cells[there].kind} at {cell_text(there)} ({instance.name}) does not "
                        "hear just what it should."
                    )
    for cell, part in plan.cells.items():
        if part.kind in HEARING and cell not in expected_parts:
            faults.append(f"The {part.kind} at {cell_text(cell)} belongs to nothing that was asked for.")
    return tuple(faults[:most])


class _Sources(NamedTuple):
    """What the parts of a circuit hear, repeaters that routing put in passed through."""

    circuit: Circuit
    repeaters: Mapping[Cell, str]

    def of(self, cell: Cell, what: str) -> frozenset[Cell]:
        """The sources at the "input" or the "flank" of the part in a cell."""
        port = self.circuit.power if what == "input" else self.circuit.flank
        return self.through(source for source, _ in port.of(self.circuit.index[cell]))

    def through(self, sources: Iterable[int]) -> frozenset[Cell]:
        """Those of the sources that are no repeaters of routes, and what these repeaters hear."""
        found: set[Cell] = set()
        waiting, seen = list(sources), set()
        while waiting:
            source = waiting.pop()
            if source in seen:
                continue
            seen.add(source)
            if self.circuit.cells[source] in self.repeaters:
                waiting += [behind for behind, _ in self.circuit.power.of(source)]
            else:
                found.add(self.circuit.cells[source])
        return frozenset(found)


def _repeater_faults(
    sources: _Sources, repeaters: Mapping[Cell, str], drivers: Mapping[str, frozenset[Cell]]
) -> Iterator[str]:
    """What is wrong with repeaters that routing put in."""
    for cell, net in repeaters.items():
        if cell not in sources.circuit.index:
            continue
        if sources.of(cell, "input") != drivers[net]:
            yield f"The repeater at {cell_text(cell)} of the net {net} hears another thing than its driver."
        if sources.of(cell, "flank"):
            yield f"The repeater at {cell_text(cell)} of the net {net} can be locked."


def _drivers(instance: Instance, port: str, known: Mapping[Tile, Alone]) -> frozenset[Cell]:
    own = known[instance.tile].drives[port]
    return frozenset(instance.cell(cell) for kind, cell in own if kind == "cell" and isinstance(cell, tuple))


def _meant(
    item: tuple[str, Cell | str],
    instance: Instance,
    net_at: Mapping[tuple[str, str], str],
    drivers: Mapping[str, frozenset[Cell]],
) -> frozenset[Cell]:
    kind, what = item
    if kind == "cell" and isinstance(what, tuple):
        return frozenset((instance.cell(what),))
    net = net_at.get((instance.name, str(what)))
    return drivers[net] if net is not None else frozenset()
