"""Mapping: the gates compute what the network says, judged by an evaluator of gates written here."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest
from tests.netlist.texts import adder, netlist

from tickwright.netlist import map_network, parse_blif


def gates_agree(network, mapped):
    """Whether the gates give every output and latch input of the network, in all cases of up to 12 sources."""
    sources = [*network.inputs, *(latch.output for latch in network.latches)]
    cases = 1 << len(sources)
    given = {name: sum(1 << v for v in range(cases) if v >> place & 1) for place, name in enumerate(sources)}
    wanted = network.values(given, cases)
    every = cases and (1 << cases) - 1
    seen = dict(given)
    for gate in mapped.gates:
        heard = [seen[name] for name in gate.inputs if name in seen]
        if gate.kind in ("one", "zero"):
            seen[gate.output] = every if gate.kind == "one" else 0
        elif gate.kind.startswith("nand"):
            together = every
            for value in heard:
                together &= value
            seen[gate.output] = every ^ together
        elif gate.kind not in ("re", "fe", "al"):
            together = 0
            for value in heard:
                together |= value
            seen[gate.output] = every ^ together
    latches = {gate.output: gate for gate in mapped.gates if gate.kind in ("re", "fe", "al")}
    right = all(seen[signal] == wanted[name] for name, signal in mapped.outputs.items())
    return right and all(seen[latches[one.output].inputs[0]] == wanted[one.data] for one in network.latches)


@pytest.mark.parametrize("name", ["c17.blif", "s27.blif"])
def test_benchmarks_are_mapped_right(name):
    network = netlist(name)
    assert gates_agree(network, map_network(network))


def test_c17_stays_six_nands():
    assert Counter(gate.kind for gate in map_network(netlist("c17.blif")).gates) == {"nand2": 6}


def test_a_four_bit_adder_shares_its_exclusive_ors():
    network = parse_blif(adder(4))
    mapped = map_network(network)
    assert gates_agree(network, mapped)
    assert len(mapped.gates) <= 36  # nine NORs for each full adder, five for the half adder (textbook)


@pytest.mark.parametrize("seed", range(12))
def test_random_networks_are_mapped_right(seed):
    random = Random(seed)
    known = [f"i{k}" for k in range(random.randint(2, 6))]
    lines = [".inputs " + " ".join(known), ".outputs o0 o1 o2"]
    for number in range(6):
        inputs = random.sample(known, min(len(known), random.randint(1, 4)))
        name = f"o{number - 3}" if number >= 3 else f"m{number}"
        value = random.choice("01")
        lines.append(f".names {' '.join(inputs)} {name}")
        lines += [f"{''.join(random.choice('01-') for _ in inputs)} {value}" for _ in range(random.randint(0, 6))]
        known.append(name)
    network = parse_blif("\n".join(lines))
    assert gates_agree(network, map_network(network))
