"""Circuits as the arrays of the compiled code, and the state that a run starts with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from tickwright.engine.circuit import KIND, NOWHERE, Circuit, Ports
from tickwright.engine.fast import arrays as a
from tickwright.kinds import CONTAINERS, HEARING, PLATES
from tickwright.rules.ruleset import RuleSet
from tickwright.space import VECTORS, Cell, zyx

_HEARS = np.array([name in HEARING for name in KIND])
_PLATES = np.array([name in PLATES for name in KIND])


class Packed(NamedTuple):
    """The circuit arrays of a World: m[actor * ROW + ...] and e[...]."""

    m: a.Ints
    e: a.Ints


def classes_of(rules: RuleSet) -> list[int]:
    """All priorities that anything is scheduled with, the one that acts first first."""
    own, other = rules.repeater, rules.comparator
    return sorted({own.priority_ahead, own.priority_off, own.priority_on, other.priority_ahead, other.priority, 0})


def pack(
    circuit: Circuit,
    watched: Sequence[Cell],
    rows: int | None = None,
    torch_rows: Mapping[int, int] | None = None,
    presses: Mapping[Cell, int] | None = None,
) -> Packed:
    """The circuit in the layout of the compiled code, with probes for the watched cells.

    `rows` leaves room for actors to come; `torch_rows` says which row of World.torch is whose (by default they are
    numbered in order); `presses` gives single buttons a press length of their own, in steps.
    """
    n = circuit.n
    rules = circuit.rules
    part = np.zeros((rows or n, a.ROW), np.int32)
    part[:, [a.READS, a.ABOVE, a.BELOW, a.FALL]] = NOWHERE
    pool = _Pool()

    classes = classes_of(rules)
    by_priority = np.zeros(256, np.int32)
    for number, priority in enumerate(classes):
        by_priority[priority + 128] = number
    part[:n, a.CODE] = circuit.kind
    part[:n, a.DELAY] = circuit.delay
    part[:n, a.CLASS_OFF] = by_priority[circuit.priority[:, 0].astype(np.int32) + 128]
    part[:n, a.CLASS_ON] = by_priority[circuit.priority[:, 1].astype(np.int32) + 128]
    for column, ports in ((a.POWER, circuit.power), (a.FLANK, circuit.flank)):
        pool.add(part, column, ports.start, _edges(ports))
    pool.add(part, a.NOTIFIED, circuit.notified.start, circuit.notified.item)
    pool.add(part, a.LIVE, circuit.live.start, circuit.live.item)
    part[:n, a.READS] = np.where(circuit.reads >= 0, circuit.reads, circuit.goal)
    part[:n, a.TRAITS] = (
        circuit.difference * a.DIFFERENCE
        + circuit.directly * a.DIRECTLY
        + circuit.out * a.OUT
        + circuit.back * a.BACK
        + _HEARS[circuit.kind] * a.HEARS
    )
    part[:n, a.RANK] = circuit.rank
    pool.add(part, a.RECOUNT, circuit.recount_notified.start, circuit.recount_notified.item)
    pool.add(part, a.WAKES, circuit.wakes.start, circuit.wakes.item)
    part[:n, a.LAID], part[:n, a.STOCK] = circuit.laid, circuit.stock
    part[:n, a.CAPACITY] = circuit.capacity
    part[:n, a.COUNTS] = circuit.counts
    part[:n, a.ABOVE], part[:n, a.BELOW], part[:n, a.FALL] = circuit.above, circuit.below, circuit.fall
    for cell, steps in (presses or {}).items():
        if cell in circuit.index and circuit.index[cell] < n:
            part[circuit.index[cell], a.DELAY] = steps
    _lesser(circuit, part, torch_rows)
    _probes(circuit, watched, part, pool)
    pool.place(a.ORDER, np.argsort(circuit.rank).astype(np.int32))
    _rule(circuit, classes, pool)
    return Packed(part.ravel(), pool.array())


def _lesser(circuit: Circuit, part: a.Ints, torch_rows: Mapping[int, int] | None) -> None:
    """What only few actors have."""
    kinds = circuit.kind
    for actor in np.flatnonzero(circuit.fall >= 0):
        front = int(actor)
        cell = circuit.cells[front]
        if kinds[front] == KIND["ejector"]:
            dx, dy, dz = VECTORS[str(circuit.geometry.parts[cell].facing)]
            cell = (cell[0] + dx, cell[1] + dy, cell[2] + dz)
        part[front, a.FRONT] = circuit.cells[circuit.fall[front]] == cell
    for row, actor in enumerate(np.flatnonzero(kinds == KIND["torch"])):
        part[actor, a.TORCH] = row if torch_rows is None else torch_rows[int(actor)]
    for name in PLATES:
        part[: circuit.n, a.LOOK_EVERY][kinds == KIND[name]] = circuit.rules.look_every(name)


class _Pool:
    """The array `e`, into which lists are laid one after the other behind its header."""

    def __init__(self) -> None:
        self.header: a.Ints = np.zeros(a.HEADER, np.int32)
        self._pieces = [self.header]
        self._length = a.HEADER

    def add(self, part: a.Ints, column: int, start: a.Ints, values: a.Ints) -> None:
        """Lay down the lists of all actors; `column` and the next of the table get where each begins and ends."""
        n = len(start) - 1
        begin, _ = self.append(values)
        part[:n, column] = start[:-1] + begin
        part[:n, column + 1] = start[1:] + begin

    def append(self, values: a.Ints) -> tuple[int, int]:
        """Lay down one list; where it begins and ends."""
        begin = self._length
        self._pieces.append(values)
        self._length += len(values)
        return begin, self._length

    def place(self, entry: int, values: a.Ints) -> int:
        """Lay down a list that the header says where to find; where it ends."""
        self.header[entry], end = self.append(values)
        return end

    def array(self) -> a.Ints:
        """All of it."""
        return np.concatenate(self._pieces).astype(np.int32)


def _edges(ports: Ports) -> a.Ints:
    return (ports.source << 8) | (ports.loss.astype(np.int32) << 4) | ports.most.astype(np.int32)


def _probes(circuit: Circuit, watched: Sequence[Cell], part: a.Ints, pool: _Pool) -> None:
    probe = np.full((len(watched), 3), NOWHERE, np.int32)
    minds: dict[int, list[int]] = {}  # the probes that an actor changes
    for number, cell in enumerate(watched):
        kind = circuit.geometry.kind(cell)
        heard: tuple[tuple[int, int, int], ...] = ()
        if kind in CONTAINERS:
            probe[number, a.PROBE_COUNT] = circuit.index[cell]
            minds.setdefault(circuit.index[cell], []).append(number)
        elif kind is not None and kind != "insulator":
            heard = circuit.hears(cell)
        row = np.array([source << 8 | loss << 4 | most for source, loss, most in heard], np.int32)
        probe[number, a.PROBE_EDGE], probe[number, a.PROBE_EDGE_END] = pool.append(row)
        for source, _, _ in heard:
            minds.setdefault(source, []).append(number)
    for actor, numbers in minds.items():
        part[actor, a.PROBE], part[actor, a.PROBE_END] = pool.append(np.array(numbers, np.int32))
    pool.place(a.PROBES, probe.ravel())
    pool.header[a.PROBE_TOTAL] = len(watched)


def _rule(circuit: Circuit, classes: list[int], pool: _Pool) -> None:
    rules = circuit.rules
    plates = sorted(np.flatnonzero(_PLATES[circuit.kind]), key=lambda actor: zyx(circuit.cells[actor]))
    hoppers = np.flatnonzero(circuit.kind == KIND["hopper"])
    values = {
        a.TOP: rules.wire.top_level,
        a.SENSOR_PULSE: rules.sensor.pulse,
        a.BURN_COUNT: rules.torch.burnout_count,
        a.BURN_WINDOW: rules.torch.burnout_window,
        a.BURN_REST: rules.torch.burnout_rest,
        a.CLASS_STRETCH: classes.index(rules.repeater.priority_off),
        a.CLASS_COUNT: len(classes),
        a.COOLDOWN: rules.hopper.cooldown,
        a.FIRST_WAIT: rules.hopper.first_wait,
        a.ITEM_REST: rules.item.rest,
        a.ITEM_VANISH: rules.item.vanish,
        a.ACTORS: circuit.n,
        a.TORCH_TOTAL: int(np.count_nonzero(circuit.kind == KIND["torch"])),
        a.EJECTOR_TOTAL: int(np.count_nonzero(circuit.kind == KIND["ejector"])),
        a.HAS_MATTER: bool(np.any(circuit.capacity))
        or bool(np.any(circuit.counts))
        or bool(np.any(circuit.fall != NOWHERE)),
    }
    for key, value in values.items():
        pool.header[key] = value
    pool.header[a.PLATES_END] = pool.place(a.PLATES, np.array(plates, np.int32))
    pool.header[a.HOPPERS_END] = pool.place(a.HOPPERS, hoppers.astype(np.int32))
