"""And-inverter graphs: what a network's covers come down to, equal parts shared."""

from __future__ import annotations

from tickwright.netlist.network import Network

FALSE, TRUE = 0, 1
MOST_SPLIT = 8  # inputs of a cover up to which its whole truth table is looked at


class Aig:
    """Nodes are ANDs of two literals; a literal is twice the node's number, plus one where it is negated.

    Node 0 is the constant 0; `first[node]` and `second[node]` are its literals, or -1 for an input.
    """

    def __init__(self) -> None:
        self.first, self.second = [-1], [-1]
        self._known: dict[tuple[int, int], int] = {}

    def input(self) -> int:
        """A new input's literal."""
        self.first.append(-1)
        self.second.append(-1)
        return 2 * (len(self.first) - 1)

    def both(self, a: int, b: int) -> int:
        """The literal of a AND b.

        >>> graph = Aig()
        >>> a, b = graph.input(), graph.input()
        >>> graph.both(a, b) == graph.both(b, a), graph.both(a, a ^ 1), graph.both(a, TRUE) == a
        (True, 0, True)
        """
        if a > b:
            a, b = b, a
        if a == FALSE or a == b ^ 1:
            return FALSE
        if a in (TRUE, b):
            return b
        found = self._known.get((a, b))
        if found is None:
            self.first.append(a)
            self.second.append(b)
            found = self._known[a, b] = 2 * (len(self.first) - 1)
        return found

    def all_of(self, literals: list[int]) -> int:
        """The literal of the AND of all, balanced; TRUE for none."""
        waiting = sorted(dict.fromkeys(literals))
        while len(waiting) > 1:
            waiting = [
                self.both(waiting[i], waiting[i + 1]) if i + 1 < len(waiting) else waiting[i]
                for i in range(0, len(waiting), 2)
            ]
        return waiting[0] if waiting else TRUE

    def xnor(self, a: int, b: int) -> int:
        """The literal of a XNOR b, of four NORs; what is negated in a or b is negated behind instead."""
        flip = (a ^ b) & 1
        a, b = a & ~1, b & ~1
        if a == b or FALSE in (a, b):
            return (TRUE if a == b else (a | b) ^ 1) ^ flip
        neither = self.both(a ^ 1, b ^ 1)
        return self.both(self.both(a ^ 1, neither ^ 1) ^ 1, self.both(b ^ 1, neither ^ 1) ^ 1) ^ flip

    def size(self) -> int:
        """How many nodes there are."""
        return len(self.first)

    def forget(self, size: int) -> None:
        """Take back all nodes from number `size` on."""
        for a, b in zip(self.first[size:], self.second[size:], strict=True):
            self._known.pop((a, b), None)
        del self.first[size:], self.second[size:]

    def is_input(self, node: int) -> bool:
        """Whether the node is an input (the constant is none)."""
        return node > 0 and self.first[node] < 0


def aig_of(network: Network) -> tuple[Aig, dict[str, int]]:
    """The graph of a network, and the literal of each of its signals; latch outputs are inputs of the graph."""
    graph = Aig()
    literal = {name: graph.input() for name in (*network.inputs, *(latch.output for latch in network.latches))}
    for name in network.order:
        cover = network.covers[name]
        inputs = [literal[signal] for signal in cover.inputs]
        flip = 0 if cover.value else 1
        size = graph.size()
        products = _of_products(graph, inputs, merged(cover.rows))
        if 2 <= len(inputs) <= MOST_SPLIT:
            cost = graph.size() - size
            graph.forget(size)
            split = _split(graph, inputs, _table(cover.rows, len(inputs)))
            if graph.size() - size > cost:
                graph.forget(size)
                products = _of_products(graph, inputs, merged(cover.rows))
            else:
                products = split
        literal[name] = products ^ flip
    return graph, literal


def _of_products(graph: Aig, inputs: list[int], rows: tuple[str, ...]) -> int:
    """The literal of a sum of products."""
    products = [
        graph.all_of([lit ^ (wanted == "0") for lit, wanted in zip(inputs, row, strict=True) if wanted != "-"])
        for row in rows
    ]
    return graph.all_of([product ^ 1 for product in products]) ^ 1


def _table(rows: tuple[str, ...], inputs: int) -> int:
    """The truth table of rows: bit v for the inputs' values v, the first input in its bit 0."""
    size = 1 << inputs
    ones = [sum(1 << v for v in range(size) if v >> place & 1) for place in range(inputs)]
    every = (1 << size) - 1
    found = 0
    for row in rows:
        product = every
        for one, wanted in zip(ones, row, strict=True):
            product &= one if wanted == "1" else ~one if wanted == "0" else every
        found |= product
    return found & every


def _halves(table: int, place: int, inputs: int) -> tuple[int, int]:
    """The truth tables, over all inputs still, with one input at 0 and at 1."""
    size = 1 << inputs
    one = sum(1 << v for v in range(size) if v >> place & 1)
    shift = 1 << place
    high = table & one
    low = table & ~one
    return low | low << shift, high | high >> shift


def _split(graph: Aig, inputs: list[int], table: int) -> int:
    """The literal of a truth table, split by inputs: XOR, AND and OR first, then pairs that matter by XOR, then any."""
    n = len(inputs)
    every = (1 << (1 << n)) - 1
    if table in (0, every):
        return TRUE if table else FALSE
    halves = [_halves(table, place, n) for place in range(n)]
    latest_first = sorted(zip(inputs, halves, strict=True), reverse=True)
    for lit, (low, high) in latest_first:
        if low == every ^ high:
            return graph.xnor(lit, _split(graph, inputs, low)) ^ 1
    for lit, (low, high) in zip(inputs, halves, strict=True):
        if low == high:
            continue
        for here, other, own in ((low, high, lit), (high, low, lit ^ 1)):
            if here == 0:
                return graph.both(own, _split(graph, inputs, other))
            if here == every:
                return graph.both(own, _split(graph, inputs, other) ^ 1) ^ 1
    by_age = sorted(range(n), key=inputs.__getitem__)
    for place, a in enumerate(by_age):
        for b in by_age[place + 1 :]:
            (low, high) = halves[a]
            if low == high or halves[b][0] == halves[b][1]:
                continue
            (none, second), (first, both) = _halves(low, b, n), _halves(high, b, n)
            if second == first:
                differ = graph.xnor(inputs[a], inputs[b]) ^ 1
                inner = _split(graph, inputs, second)
                if none == 0 and both == every:
                    neither = graph.both(inputs[a] ^ 1, inputs[b] ^ 1)
                    return graph.both(neither ^ 1, graph.both(differ, inner ^ 1) ^ 1)
                same = _mux(graph, inputs[a], _split(graph, inputs, both), _split(graph, inputs, none))
                return _mux(graph, differ, inner, same)
    place = max(range(n), key=lambda p: (halves[p][0] ^ halves[p][1]).bit_count())
    low, high = halves[place]
    return _mux(graph, inputs[place], _split(graph, inputs, high), _split(graph, inputs, low))


def _mux(graph: Aig, chooser: int, one: int, other: int) -> int:
    return graph.both(graph.both(chooser, one) ^ 1, graph.both(chooser ^ 1, other) ^ 1) ^ 1


def merged(rows: tuple[str, ...]) -> tuple[str, ...]:
    """Rows of a cover with those joined that differ in one place only, as long as there are any; the rest as it is.

    >>> merged(("01", "11", "10"))
    ('-1', '1-')
    """
    left = list(dict.fromkeys(rows))
    primes: dict[str, None] = {}
    while left:
        joined: dict[str, None] = {}
        used: set[str] = set()
        known = set(left)
        for row in left:
            for place, wanted in enumerate(row):
                other = f"{row[:place]}1{row[place + 1 :]}"
                if wanted == "0" and other in known:
                    joined[f"{row[:place]}-{row[place + 1 :]}"] = None
                    used |= {row, other}
        primes.update({row: None for row in left if row not in used})
        left = list(joined)
    return _enough(list(primes), rows)


def _enough(primes: list[str], rows: tuple[str, ...]) -> tuple[str, ...]:
    """As few of the joined rows as cover all the given ones, chosen greedily."""

    def covers(prime: str, row: str) -> bool:
        return all(a in ("-", b) for a, b in zip(prime, row, strict=True))

    missing = set(rows)
    chosen = []
    while missing:
        best = max(primes, key=lambda prime: (sum(covers(prime, row) for row in missing), prime.count("-"), prime))
        chosen.append(best)
        missing = {row for row in missing if not covers(best, row)}
    return tuple(sorted(chosen))
