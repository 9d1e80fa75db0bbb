"""Repetition found in a netlist: slices that do the same, each handing one signal on to the next, as in an adder."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations
from typing import NamedTuple

from tickwright.netlist import Network
from tickwright.netlist.network import Cover

MOST_OWN, MOST_OUTPUTS = 4, 4  # inputs and outputs of a slice, but for the signal that is handed on
FEWEST = 3  # slices
COMES, LEAVES = "comes", "leaves"


class Slice(NamedTuple):
    """One slice: the signal handed to it, its own inputs and outputs, and the signal that it hands on.

    The first slice is handed an input of the netlist or nothing; what the last one hands on is an output or nothing.
    """

    comes: str | None
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    leaves: str | None


class Repetition(NamedTuple):
    """The netlist of one cell (its first input is what comes in, its last output what leaves), and the slices."""

    cell: Network
    slices: tuple[Slice, ...]


def repetition(network: Network) -> Repetition | None:
    """The slices of a netlist without latches; None where it is not a row of slices that do the same."""
    if network.latches or set(network.inputs) & set(network.outputs):
        return None
    raw = _raw_slices(network)
    if len(raw) < FEWEST:
        return None
    model = raw[1]
    if model.leaves is None or len(model.inputs) > MOST_OWN or len(model.outputs) > MOST_OUTPUTS:
        return None
    tables = _tables(network, (str(model.comes), *model.inputs), (*model.outputs, model.leaves))
    slices = _matching(network, raw, tables, len(model.inputs))
    return Repetition(_cell(tables, len(model.inputs)), slices) if slices else None


def slices_like(network: Network, tables: Sequence[int], own: int) -> tuple[Slice, ...]:
    """The netlist as slices that do what these tables say, one or more; none where it is no such row.

    The tables are those of a slice's outputs and, last, of what it hands on: bit v for the values v of what is handed
    to it and of its `own` inputs.
    """
    if network.latches or set(network.inputs) & set(network.outputs):
        return ()
    whole = [Slice(None, network.inputs, network.outputs, None)]
    return _matching(network, _raw_slices(network), tables, own) or _matching(network, whole, tables, own)


def _matching(network: Network, raw: Sequence[Slice], tables: Sequence[int], own: int) -> tuple[Slice, ...]:
    """The slices with their signals in the order of the tables; none unless all do what those say."""
    slices = [_matched(network, one, tables, own, number) for number, one in enumerate(raw)]
    found = tuple(one for one in slices if one is not None)
    return found if len(found) == len(slices) else ()


def _raw_slices(network: Network) -> list[Slice]:
    """The slices between signals through which alone all that lies before them is heard."""
    support: dict[str, frozenset[str]] = {name: frozenset((name,)) for name in network.inputs}
    for name in network.order:
        support[name] = frozenset().union(*(support[one] for one in network.covers[name].inputs))
    cuts = []
    for name in network.order:
        before = {one for one in network.order if support[one] <= support[name]}
        hidden = (before | support[name]) - {name}
        whole = len(support[name]) == len(network.inputs)
        if not whole and not any(
            hidden & set(network.covers[one].inputs) for one in network.order if one not in before
        ):
            cuts.append((name, support[name], before))
    cuts.sort(key=lambda cut: (len(cut[1]), len(cut[2])))
    chain: list[tuple[str, frozenset[str], set[str]]] = []
    for cut in cuts:
        if not chain or cut[1] > chain[-1][1]:
            chain.append(cut)
    found: list[Slice] = []
    comes: str | None = None
    seen, done = frozenset[str](), set[str]()
    ends: list[tuple[str | None, frozenset[str], set[str]]] = [*chain]
    ends.append((None, frozenset(network.inputs), set(network.order)))
    for leaves, inputs, before in ends:
        own = tuple(one for one in network.inputs if one in inputs - seen)
        outputs = tuple(one for one in network.outputs if one in before - done and one != leaves)
        found.append(Slice(comes, own, outputs, leaves))
        comes, seen, done = leaves, inputs, before
    return found


def _tables(network: Network, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> list[int]:
    """The truth table of each output over these signals, taken as if they were free: bit v for their values v."""
    cases = 1 << len(inputs)
    given = dict.fromkeys(network.inputs, 0) | {
        name: sum(1 << case for case in range(cases) if case >> place & 1) for place, name in enumerate(inputs)
    }
    values: dict[str, int] = {"": (1 << cases) - 1, **given}
    for name in network.order:
        if name not in given:
            values[name] = network.covers[name].of(values)
    return [values[name] for name in outputs]


def _matched(network: Network, raw: Slice, tables: Sequence[int], own: int, number: int) -> Slice | None:
    """The slice with its signals in the cell's order, if it does what the cell does."""
    outputs = raw.outputs if raw.leaves is None else (*raw.outputs, raw.leaves)
    if len(outputs) != len(tables):
        return None
    for comes, inputs in _orders(raw, own, number):
        heard = inputs if comes is None else (comes, *inputs)
        found = dict(zip(outputs, _tables(network, heard, outputs), strict=True))
        wanted = [_without_first(table, own) for table in tables] if comes is None else tables
        for order in permutations(outputs):
            if raw.leaves is not None and order[-1] != raw.leaves:
                continue
            if all(found[name] == table for name, table in zip(order, wanted, strict=True)):
                return Slice(comes, inputs, order[:-1], order[-1])
    return None


def _orders(raw: Slice, own: int, number: int) -> Iterator[tuple[str | None, tuple[str, ...]]]:
    """(what comes in, the slice's inputs) in every order; in the first slice an input may come in, or nothing."""
    if number and len(raw.inputs) == own:
        yield from ((raw.comes, order) for order in permutations(raw.inputs))
    elif not number and len(raw.inputs) == own:
        yield from ((None, order) for order in permutations(raw.inputs))
    elif not number and len(raw.inputs) == own + 1:
        yield from ((order[0], order[1:]) for order in permutations(raw.inputs))


def _without_first(table: int, own: int) -> int:
    """A table over what comes in and `own` inputs, where nothing comes in."""
    return sum(1 << case for case in range(1 << own) if table >> 2 * case & 1)


def _cell(tables: list[int], own: int) -> Network:
    """A netlist with these truth tables."""
    inputs = (COMES, *(f"i{place}" for place in range(own)))
    names = (*(f"o{place}" for place in range(len(tables) - 1)), LEAVES)
    covers: Mapping[str, Cover] = {
        name: Cover(
            inputs,
            tuple(
                "".join(str(case >> place & 1) for place in range(own + 1))
                for case in range(2 << own)
                if table >> case & 1
            ),
            True,
        )
        for name, table in zip(names, tables, strict=True)
    }
    return Network("cell", inputs, names, covers, (), names)
