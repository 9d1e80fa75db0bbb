"""From a Circuit to the arrays of the lane kernel, and what lanes cannot hold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tickwright.engine.circuit import KIND, Circuit, Ports
from tickwright.engine.lanes import columns
from tickwright.kinds import CONTAINERS
from tickwright.plan.model import Plan
from tickwright.rules.ruleset import RuleSet
from tickwright.space import Cell, cell_text

KINDS = {
    "repeater": columns.REPEATER,
    "comparator": columns.COMPARATOR,
    "torch": columns.TORCH,
    "lamp": columns.LAMP,
    "change-sensor": columns.SENSOR,
    "short-button": columns.BUTTON,
    "long-button": columns.BUTTON,
    "lever": columns.LEVER,
    "wire": columns.LIVE_WIRE,
}
HEARING = (columns.REPEATER, columns.COMPARATOR, columns.TORCH, columns.LAMP)
Edge = tuple[int, int, int]  # source, loss, most
HELD = (*KINDS, "block", "insulator", "power-block", "crate")


def refusal(plan: Plan, rules: RuleSet) -> str | None:
    """Why lanes cannot hold a plan, in a sentence; None if they can.

    What holds items or moves would differ in more than its level from lane to lane. A crate that nothing fills only
    shows its level.
    """
    for cell, part in plan.cells.items():
        if part.kind not in HELD:
            return f"The {part.kind} at {cell_text(cell)} holds, feels or moves things, which lanes cannot tell apart"
    delays = [rules.torch.burnout_rest, rules.sensor.pulse, rules.button.long, rules.button.short, rules.lamp.off_delay]
    delays += [rules.comparator.delay, rules.torch.delay, rules.sensor.delay, 4 * rules.repeater.steps_per_delay]
    if max(delays) >= columns.SLOTS:
        return f"A delay of {max(delays)} steps, under these rules, is longer than lanes can wait, {columns.SLOTS - 1}"
    return None


class Packed(NamedTuple):
    """A circuit for the kernel, room for the state of 64 lanes of it, and what is watched."""

    parts: npt.NDArray[np.int32]  # `p` of the kernel
    lists: npt.NDArray[np.int32]  # `x`
    words: npt.NDArray[np.uint64]  # `w`
    numbers: npt.NDArray[np.int64]  # `n`
    probes: tuple[str, ...]  # probes[probe]: its name
    constant: dict[str, int]  # the watched names that never change: containers show their count


def pack(circuit: Circuit, watched: Mapping[str, Cell]) -> Packed:
    """Lay out a circuit and what is watched."""
    count, rules = circuit.n, circuit.rules
    codes = {code: KINDS.get(name, columns.NOTHING) for name, code in KIND.items()}
    kind = [codes[int(code)] for code in circuit.kind]
    classes = _classes(circuit)
    probes, constant = _probes(circuit, watched)
    probes_of: list[list[int]] = [[] for _ in range(count)]
    for probe, found in enumerate(probes.values()):
        for source, _, _ in found:
            probes_of[source].append(probe)
    torches = [actor for actor in range(count) if kind[actor] == columns.TORCH]
    lists = _Lists(kind)
    parts = np.zeros((count, columns.COLUMNS), np.int32)
    parts[:, columns.KIND_OF], parts[:, columns.DELAY] = kind, circuit.delay
    parts[:, columns.DIFFERENCE], parts[:, columns.DIRECTLY] = circuit.difference, circuit.directly
    parts[torches, columns.TORCH_ROW] = range(len(torches))
    for actor in range(count):
        part = parts[actor]
        part[columns.CLASS_OFF], part[columns.CLASS_ON] = (classes[int(one)] for one in circuit.priority[actor])
        part[columns.FILL] = _fill(circuit, actor)
        for column, ports in ((columns.POWER, circuit.power), (columns.FLANK, circuit.flank)):
            part[column : column + 2] = lists.edges(_edges(ports, actor))
        part[columns.NOTIFIED : columns.NOTIFIED_END + 1] = lists.add(
            [n for pair in _notified(circuit, actor) for n in pair]
        )
        part[columns.LIVE : columns.LIVE_END + 1] = lists.add(circuit.live.of(actor))
        part[columns.PROBES : columns.PROBES_END + 1] = lists.add(probes_of[actor])
    order = [int(actor) for actor in np.argsort(circuit.rank) if kind[actor] in HEARING]
    order_at, order_end = lists.add(order)
    starts = [lists.edges(found)[0] for found in probes.values()]
    shows = lists.add([*starts, lists.end])[0]
    longest = max([rules.sensor.pulse, rules.torch.burnout_rest, *map(int, circuit.delay)])
    header = (
        rules.wire.top_level, rules.sensor.pulse, rules.torch.burnout_count, rules.torch.burnout_window,
        rules.torch.burnout_rest, classes[rules.repeater.priority_off], classes[0], len(classes), longest,
        count, len(probes), shows, order_at, order_end,
    )  # fmt: skip
    lists.items[: len(header)] = header
    words, numbers = _state(circuit, len(probes), len(torches))
    return Packed(parts, np.array(lists.items, np.int32), words, numbers, tuple(probes), constant)


def _state(circuit: Circuit, probes: int, torches: int) -> tuple[npt.NDArray[np.uint64], npt.NDArray[np.int64]]:
    """The words and numbers of 64 lanes before their first run."""
    count, entries = circuit.n, 64 * circuit.n
    live_at = columns.ACTOR_WORDS + 8 * count
    probe_at = live_at + int(np.diff(circuit.live.start).max(initial=0))
    entry_words = probe_at + 5 * probes
    words = np.zeros(entry_words + entries, np.uint64)
    words[columns.ACTOR_WORDS + columns.LAID : live_at : 8] = circuit.laid
    offs_at = columns.ENTRIES + 3 * entries
    numbers = np.zeros(offs_at + torches * 64 * (1 + circuit.rules.torch.burnout_count), np.int64)
    numbers[columns.HEAD : columns.ENTRIES] = -1
    numbers[columns.LIVE_AT], numbers[columns.PROBE_AT], numbers[columns.ENTRY_WORDS] = live_at, probe_at, entry_words
    numbers[columns.ENTRY_AT], numbers[columns.OFFS_AT] = columns.ENTRIES, offs_at
    numbers[columns.BUTTON_AT], numbers[columns.OFFS_END] = -1, len(numbers)
    return words, numbers


class _Lists:
    """The lists that follow one another in `x`."""

    def __init__(self, kind: Sequence[int]) -> None:
        self.items = [0] * columns.HEADER
        self._analog = [code in (columns.COMPARATOR, columns.LIVE_WIRE) for code in kind]

    @property
    def end(self) -> int:
        """Where the next list begins."""
        return len(self.items)

    def add(self, items: Iterable[int]) -> tuple[int, int]:
        """Add a list; where it begins and ends."""
        start = len(self.items)
        self.items += items
        return start, len(self.items)

    def edges(self, found: Iterable[Edge]) -> tuple[int, int]:
        """Add a list of edges."""
        return self.add(
            source << 16 | self._analog[source] << 8 | loss << 4 | min(most, 15) for source, loss, most in found
        )


def _edges(ports: Ports, actor: int) -> list[Edge]:
    here = slice(int(ports.start[actor]), int(ports.start[actor + 1]))
    columns = (ports.source[here].tolist(), ports.loss[here].tolist(), ports.most[here].tolist())
    return list(zip(*columns, strict=True))


def _probes(circuit: Circuit, watched: Mapping[str, Cell]) -> tuple[dict[str, list[Edge]], dict[str, int]]:
    """What the watched names hear, and those that always show the same."""
    constant: dict[str, int] = {}
    shows: dict[str, list[Edge]] = {}
    for name, cell in watched.items():
        kind = circuit.geometry.kind(cell)
        if kind in (None, "insulator"):
            constant[name] = 0
        elif kind in CONTAINERS:
            constant[name] = int(circuit.stock[circuit.index[cell]])
        else:
            shows[name] = list(circuit.hears(cell))
    return shows, constant


def _notified(circuit: Circuit, actor: int) -> list[tuple[int, int]]:
    """Who is told of a change of the actor, and of those of the live wires that hear it, in order."""
    entries = [(listener, -1) for listener in circuit.notified.of(actor)]
    for via, wire in enumerate(circuit.live.of(actor)):
        entries += [(sensor, via) for sensor in circuit.notified.of(wire)]
    return sorted(entries, key=lambda entry: (int(circuit.rank[entry[0]]), entry[1]))


def _classes(circuit: Circuit) -> dict[int, int]:
    """The priorities that occur, lowest number first, as classes 0, 1, ..."""
    used = sorted({0, circuit.rules.repeater.priority_off, *(int(one) for pair in circuit.priority for one in pair)})
    return {priority: number for number, priority in enumerate(used)}


def _fill(circuit: Circuit, actor: int) -> int:
    """The level of the container that a comparator reads; -1 if it reads none."""
    container = int(circuit.reads[actor])
    if container < 0:
        return -1
    kind = str(circuit.geometry.kind(circuit.cells[container]))
    return circuit.rules.fill_level(kind, int(circuit.stock[container]))
