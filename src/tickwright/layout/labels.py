"""Labels of an exact layout: a netlist as sources (levers and torches) and the signals that are ORs of them.

A wire is the OR of the torches and levers that it hears; a torch is the NOT of what powers its block. So a NOR is a
torch on a block that hears several, and a NAND is several torches on one wire.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from tickwright.netlist import Mapped, Network

Source = tuple[str, int]  # ("lever", number of the input) or ("torch", number of the label that its block has)
EXACT_COST = {"not": 1.0, "nor2": 1.0, "nor3": 1.1, "nand2": 1.6, "nand3": 2.3}
MOST_CASES = 4096


class Labels(NamedTuple):
    """Signals by number: `sources[label]` whose OR it is; `table[label]` its truth table; `depth[label]` its order.

    `lever[input]` is the label of an input, `output[name]` that of an output; `torch[label]` the label of the torch on
    a block with that label, only for those that the netlist asks for. `may[a][b]`: what has label a may touch what has
    label b: it is never on alone, and comes before it, so that nothing feeds back.
    """

    sources: tuple[frozenset[Source], ...]
    table: tuple[int, ...]
    depth: tuple[int, ...]
    lever: tuple[int, ...]
    output: Mapping[str, int]
    torch: Mapping[int, int]
    may: tuple[tuple[bool, ...], ...]


class _Making:
    """Collects labels: equal sets of sources are one label."""

    def __init__(self, network: Network) -> None:
        self.cases = 1 << len(network.inputs)
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


def labels_of(network: Network, mapped: Mapped) -> Labels | None:
    """The labels of a mapped netlist; None where it has latches, constants or too many inputs to be laid exactly."""
    kinds = {gate.kind for gate in mapped.gates}
    if network.latches or kinds & {"zero", "one"} or 1 << len(network.inputs) > MOST_CASES:
        return None
    making = _Making(network)
    signal: dict[str, int] = {}
    for place, name in enumerate(network.inputs):
        table = sum(1 << case for case in range(making.cases) if case >> place & 1)
        signal[name] = making.label(frozenset((("lever", place),)), table, 0)
    for gate in mapped.gates:
        inputs = [signal[name] for name in gate.inputs]
        if gate.kind.startswith("nand"):
            signal[gate.output] = making.any_of([making.inverse(label) for label in inputs])
        else:
            signal[gate.output] = making.inverse(making.any_of(inputs))
    n = len(making.table)
    may = tuple(
        tuple(
            making.table[a] & ~making.table[b] == 0 and (a == b or (making.depth[a] <= making.depth[b] and a != b))
            for b in range(n)
        )
        for a in range(n)
    )
    output = {name: signal[mapped.outputs[name]] for name in network.outputs}
    lever = tuple(signal[name] for name in network.inputs)
    return Labels(tuple(making.known), tuple(making.table), tuple(making.depth), lever, output, making.torch, may)
