"""Labels of an exact layout: a netlist as sources (levers and torches) and the signals that are ORs of them.

A wire is the OR of the torches and levers that it hears; a torch is the NOT of what powers its block. So a NOR is a
torch on a block that hears several, and a NAND is several torches on one wire.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from tickwright.netlist import Mapped, Network

# ("lever", number of the input), ("torch", number of the label that its block has) or ("latch", number of the latch)
Source = tuple[str, int]
EXACT_COST = {"not": 1.0, "nor2": 1.0, "nor3": 1.1, "nand2": 1.6, "nand3": 2.3}
MOST_CASES = 4096
EDGED = ("re", "fe")


class Need(NamedTuple):
    """One of the things that a signal must hear: any of these sources, or a wire with any of these labels."""

    sources: frozenset[Source]
    labels: frozenset[int]


class LatchLabels(NamedTuple):
    """The labels of a flip-flop: what it gives, its data, and what the locks of its master and of its slave hear."""

    own: int
    data: int
    lock: int
    hold: int


class Labels(NamedTuple):
    """Signals by number: `table[label]` its truth table; `depth[label]` its order.

    `lever[input]` is the label of an input, `output[name]` that of an output; `torch[label]` the label of the torch on
    a block with that label, only for those that the netlist asks for. `may[a][b]`: what has label a may touch what has
    label b: it is never on alone, and comes before it, so that nothing feeds back. `needs[label]`: a signal that hears
    only what may touch it, and something of each need, is on in every case in which it should be.
    """

    table: tuple[int, ...]
    depth: tuple[int, ...]
    lever: tuple[int, ...]
    output: Mapping[str, int]
    torch: Mapping[int, int]
    may: tuple[tuple[bool, ...], ...]
    needs: tuple[tuple[Need, ...], ...]
    latches: tuple[LatchLabels, ...] = ()


class _Making:
    """Collects labels: equal sets of sources are one label."""

    def __init__(self, free: int) -> None:
        self.cases = 1 << free
        self.known: dict[frozenset[Source], int] = {}
        self.table: list[int] = []
        self.depth: list[int] = []
        self.torch: dict[int, int] = {}

    def label(self, sources: frozenset[Source], table: int, depth: int) -> int:
        number = self.known.setdefault(sources, len(self.known))
        if number == len(self.table):
            self.table.append(table)
            self.depth.append(depth)
        return number

    def any_of(self, labels: list[int]) -> int:
        """The label of the OR of labels."""
        names = list(self.known)
        sources = frozenset(source for label in labels for source in names[label])
        table = 0
        for label in labels:
            table |= self.table[label]
        return self.label(sources, table, max(self.depth[label] for label in labels))

    def inverse(self, label: int) -> int:
        """The label of a torch on a block with that label."""
        every = (1 << self.cases) - 1
        made = self.label(frozenset((("torch", label),)), every ^ self.table[label], self.depth[label] + 1)
        self.torch[label] = made
        return made

    def may(self) -> tuple[tuple[bool, ...], ...]:
        """Which label may touch which."""
        n = len(self.table)
        return tuple(
            tuple(a == b or (self.table[a] & ~self.table[b] == 0 and self.depth[a] <= self.depth[b]) for b in range(n))
            for a in range(n)
        )

    def needs(self, label: int, may: tuple[tuple[bool, ...], ...], source: Mapping[Source, int]) -> tuple[Need, ...]:
        """What a signal with that label must hear, for its cases; those that another implies are left out."""
        table = self.table[label]
        able = {one: self.table[own] for one, own in source.items() if may[own][label]}
        wires = {own: self.table[own] for own in range(len(self.table)) if may[own][label]}
        found: set[Need] = set()
        for case in range(self.cases):
            if table >> case & 1:
                found.add(
                    Need(
                        frozenset(one for one, own in able.items() if own >> case & 1),
                        frozenset(own for own, values in wires.items() if values >> case & 1),
                    )
                )
        return tuple(
            sorted(
                (
                    a
                    for a in found
                    if not any(b != a and b.sources <= a.sources and b.labels <= a.labels for b in found)
                ),
                key=lambda need: (sorted(need.sources), sorted(need.labels)),
            )
        )


def labels_of(network: Network, mapped: Mapped) -> Labels | None:
    """The labels of a mapped netlist; None where it has constants, latches that are open for a while, or too many
    inputs and latches to be laid exactly. What a latch gives is free like an input.
    """
    kinds = {gate.kind for gate in mapped.gates}
    free = (*network.inputs, *(one.output for one in network.latches))
    if kinds & {"zero", "one", "al"} or 1 << len(free) > MOST_CASES:
        return None
    making = _Making(len(free))
    signal: dict[str, int] = {}
    source: dict[Source, int] = {}
    for place, name in enumerate(free):
        table = sum(1 << case for case in range(making.cases) if case >> place & 1)
        number = place - len(network.inputs)
        one = ("lever", place) if number < 0 else ("latch", number)
        source[one] = signal[name] = making.label(frozenset((one,)), table, 0)
    edged = {gate.output: gate for gate in mapped.gates if gate.kind in EDGED}
    for gate in mapped.gates:
        if gate.output in edged:
            continue
        inputs = [signal[name] for name in gate.inputs]
        if gate.kind == "or":
            signal[gate.output] = making.any_of(inputs)
        elif gate.kind.startswith("nand"):
            signal[gate.output] = making.any_of([making.inverse(label) for label in inputs])
        else:
            signal[gate.output] = making.inverse(making.any_of(inputs))
    latches = []
    for latch in network.latches:
        data, clock = (signal[name] for name in edged[latch.output].inputs)
        pair = (clock, making.inverse(clock))
        latches.append(LatchLabels(signal[latch.output], data, *(pair if latch.kind == "re" else pair[::-1])))
    may = making.may()
    output = {name: signal[mapped.outputs[name]] for name in network.outputs}
    lever = tuple(signal[name] for name in network.inputs)
    source |= {("torch", block): label for block, label in making.torch.items()}
    needs = tuple(making.needs(label, may, source) for label in range(len(making.table)))
    tables, depths = tuple(making.table), tuple(making.depth)
    return Labels(tables, depths, lever, output, making.torch, may, needs, tuple(latches))
