"""Mapping: a network as gates that tiles can be: inverters, NOR and NAND of two and three, flip-flops.

Each AND node, in either polarity, is covered by the cheapest gate over a cut of at most three leaves (area flow, then
counted anew with the fan-outs that came of it; Mishchenko, Chatterjee and Brayton 2007, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import NamedTuple

from tickwright.netlist.aig import FALSE, TRUE, Aig, aig_of
from tickwright.netlist.network import Network

COST = {"not": 1.0, "nor2": 1.35, "nor3": 1.75, "nand2": 2.1, "nand3": 3.2}
MOST_CUTS = 24
ROUNDS = 5
MOST_PASSES = 6
ZERO, ONE = "zero", "one"


class Gate(NamedTuple):
    """A gate: its kind ("not", "nor2", ..., "re", "fe", "al", "zero", "one"), its output's signal, its inputs'.

    A latch hears its data and then its clock.
    """

    kind: str
    output: str
    inputs: tuple[str, ...]


class Mapped(NamedTuple):
    """A network as gates; `outputs` gives for each output the signal that it shows."""

    gates: tuple[Gate, ...]
    outputs: Mapping[str, str]


class _Match(NamedTuple):
    kind: str
    leaves: tuple[int, ...]  # literals


def map_network(network: Network, cost: Mapping[str, float] = COST) -> Mapped:
    r"""The network as gates; signals of inputs and latches keep their names, others are named after what they are.

    >>> from tickwright.netlist.blif import parse_blif
    >>> mapped = map_network(parse_blif(".inputs a b\n.outputs y\n.names a b y\n00 1"))
    >>> mapped.gates
    (Gate(kind='nor2', output='y', inputs=('a', 'b')),)
    """
    graph, literal = aig_of(network)
    roots = [literal[name] for name in network.outputs]
    for latch in network.latches:
        roots += [literal[latch.data], literal[latch.clock]]
    matches = _best(graph, roots, cost)
    names = _named(network, literal)
    used = _used(graph, matches, roots)
    gates = []
    for lit in used:
        match = matches.get(lit)
        if match is not None:
            gates.append(Gate(match.kind, names(lit), tuple(names(leaf) for leaf in match.leaves)))
        elif lit in (FALSE, TRUE):
            gates.append(Gate(ONE if lit == TRUE else ZERO, names(lit), ()))
    gates += [
        Gate(latch.kind, latch.output, (names(literal[latch.data]), names(literal[latch.clock])))
        for latch in network.latches
    ]
    return Mapped(tuple(gates), {name: names(literal[name]) for name in network.outputs})


class _Namer:
    """Gives each literal a name: that of an input or latch, of an output or other signal that it is, or a number."""

    def __init__(self, known: dict[int, str], taken: set[str]) -> None:
        self.known, self.taken = known, taken

    def __call__(self, literal: int) -> str:
        if literal not in self.known:
            base = f"not-{self.known[literal ^ 1]}" if literal ^ 1 in self.known else f"n{literal}"
            name, number = base, 2
            while name in self.taken:
                name, number = f"{base}-{number}", number + 1
            self.taken.add(name)
            self.known[literal] = name
        return self.known[literal]


def _named(network: Network, literal: Mapping[str, int]) -> _Namer:
    known: dict[int, str] = {FALSE: "always-0", TRUE: "always-1"}
    sources = (*network.inputs, *(latch.output for latch in network.latches))
    for name in (*sources, *network.outputs, *network.order):
        known.setdefault(literal[name], name)
    return _Namer(known, set(literal) | set(known.values()))


def _best(graph: Aig, roots: list[int], cost: Mapping[str, float]) -> dict[int, _Match]:
    """The gate that makes each literal: the cheapest of several starts, each bettered gate by gate."""
    candidates = _candidates(graph)
    fanout = _fanouts(graph, roots)
    starts = []
    for _ in range(ROUNDS):
        matches = _cheapest(graph, candidates, fanout, cost)
        starts.append(matches)
        count: dict[int, float] = {}
        used = _used(graph, matches, roots)
        for lit in used:
            for leaf in matches[lit].leaves if lit in matches else ():
                count[leaf] = count.get(leaf, 0) + 1
        for lit in roots:
            count[lit] = count.get(lit, 0) + 1
        fanout = {lit: (2 * count.get(lit, 0.6) + old) / 3 for lit, old in fanout.items()}
    # As the graph lies: each node a NOR of its literals, or the NAND of what they negate.
    for kind in ("nor2", "nand2"):
        plain = dict(starts[0])
        for lit, matches_of in candidates.items():
            node = lit >> 1
            own = {graph.first[node] >> 1, graph.second[node] >> 1}
            found = [m for m in matches_of if m.kind == kind and {leaf >> 1 for leaf in m.leaves} == own]
            plain[lit] = found[0] if found else _Match("not", (lit ^ 1,))
        starts.append(plain)
    bettered = [_bettered(graph, start, candidates, roots, cost) for start in starts]
    return min(bettered, key=lambda found: _area(graph, found, roots, cost))


def _area(graph: Aig, matches: Mapping[int, _Match], roots: list[int], cost: Mapping[str, float]) -> float:
    return sum(cost[matches[lit].kind] for lit in _used(graph, matches, roots) if lit in matches)


def _bettered(
    graph: Aig,
    start: Mapping[int, _Match],
    candidates: Mapping[int, list[_Match]],
    roots: list[int],
    cost: Mapping[str, float],
) -> dict[int, _Match]:
    """The matches after every change of one gate that makes the whole cheaper, until there is none."""
    matches = dict(start)
    area = _area(graph, matches, roots, cost)
    for _ in range(MOST_PASSES):
        before = area
        for lit in _used(graph, matches, roots):
            if lit not in matches:
                continue
            kept = matches[lit]
            ways = list(candidates.get(lit, ()))
            if matches.get(lit ^ 1, _Match("", ())).kind != "not":
                ways.append(_Match("not", (lit ^ 1,)))
            for way in ways:
                matches[lit] = way
                now = _area(graph, matches, roots, cost)
                if now < area - 1e-9:
                    area, kept = now, way
            matches[lit] = kept
        if area >= before - 1e-9:
            break
    return matches


def _fanouts(graph: Aig, roots: list[int]) -> dict[int, float]:
    count = dict.fromkeys(range(2 * len(graph.first)), 0.5)
    for node in range(1, len(graph.first)):
        if not graph.is_input(node):
            for lit in (graph.first[node], graph.second[node]):
                count[lit] += 1
                count[lit ^ 1] += 0.5
    for lit in roots:
        count[lit] += 1
    return count


def _candidates(graph: Aig) -> dict[int, list[_Match]]:
    """For each literal of each AND node the gates that make it, but for the inverter."""
    cuts: list[list[tuple[int, ...]]] = [[()]]
    found: dict[int, list[_Match]] = {}
    for node in range(1, len(graph.first)):
        if graph.is_input(node):
            cuts.append([(node,)])
            continue
        a, b = graph.first[node] >> 1, graph.second[node] >> 1
        unions = {tuple(sorted({*one, *other})) for one, other in product(cuts[a], cuts[b])}
        kept = sorted((union for union in unions if len(union) <= 3), key=lambda cut: (len(cut), cut))[:MOST_CUTS]
        cuts.append([(node,), *kept])
        found[2 * node], found[2 * node + 1] = [], []
        for cut in kept:
            if len(cut) > 1:
                _match(found, node, cut, _function(graph, node, cut))
    return found


def _match(found: dict[int, list[_Match]], node: int, cut: tuple[int, ...], table: int) -> None:
    """Note a NOR and a NAND if the node, or its complement, holds in one case of the leaves only."""
    every = (1 << (1 << len(cut))) - 1
    for literal, here in ((2 * node, table), (2 * node + 1, table ^ every)):
        if here.bit_count() == 1:
            case = here.bit_length() - 1
            true = tuple(2 * leaf + (case >> place & 1 ^ 1) for place, leaf in enumerate(cut))
            found[literal].append(_Match(f"nor{len(cut)}", tuple(lit ^ 1 for lit in true)))
            found[literal ^ 1].append(_Match(f"nand{len(cut)}", true))


def _function(graph: Aig, node: int, cut: tuple[int, ...]) -> int:
    """The truth table of a node over the leaves of a cut: bit v for the leaves' values v, the first in its bit 0."""
    size = 1 << len(cut)
    every = (1 << size) - 1
    known = {0: 0}
    for place, leaf in enumerate(cut):
        known[leaf] = sum(1 << v for v in range(size) if v >> place & 1)

    def of(here: int) -> int:
        if here not in known:
            a, b = graph.first[here], graph.second[here]
            known[here] = (of(a >> 1) ^ (every if a & 1 else 0)) & (of(b >> 1) ^ (every if b & 1 else 0))
        return known[here]

    return of(node)


def _cheapest(
    graph: Aig, candidates: Mapping[int, list[_Match]], fanout: Mapping[int, float], cost: Mapping[str, float]
) -> dict[int, _Match]:
    """The cheapest gate for each literal, a leaf's cost shared among those that hear it."""
    flow: dict[int, float] = {FALSE: 0.0, TRUE: 0.0}
    chosen: dict[int, _Match] = {}
    for node in range(1, len(graph.first)):
        both = (2 * node, 2 * node + 1)
        for lit in both:
            flow[lit] = 0.0 if graph.is_input(node) and not lit & 1 else float("inf")
            for match in candidates.get(lit, ()):
                total = cost[match.kind] + sum(flow[leaf] / max(fanout[leaf], 1.0) for leaf in match.leaves)
                if total < flow[lit]:
                    flow[lit], chosen[lit] = total, match
        for lit in both:
            other = flow[lit ^ 1] / max(fanout[lit ^ 1], 1.0) + cost["not"]
            if other < flow[lit] and chosen.get(lit ^ 1, _Match("", ())).kind != "not":
                flow[lit], chosen[lit] = other, _Match("not", (lit ^ 1,))
    return chosen


def _used(graph: Aig, matches: Mapping[int, _Match], roots: list[int]) -> list[int]:
    """The literals that the roots need, leaves first."""
    done: dict[int, None] = {}

    def need(first: int) -> None:
        waiting = [(first, False)]
        while waiting:
            lit, ready = waiting.pop()
            if ready:
                done[lit] = None
            elif lit not in done:
                waiting.append((lit, True))
                if lit in matches and not (graph.is_input(lit >> 1) and not lit & 1):
                    waiting += [(leaf, False) for leaf in matches[lit].leaves]

    for lit in roots:
        need(lit)
    return list(done)
