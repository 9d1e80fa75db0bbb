"""From a mapped netlist to instances and nets: a tile for each gate, input and output, a net for each signal heard."""

from __future__ import annotations

from typing import NamedTuple

from tickwright.layout.model import Instance, Net, Pin
from tickwright.layout.tiles import gate_tile
from tickwright.netlist import Mapped, Network

LATCHES = ("re", "fe", "al")
INPUT_PORTS = ("a", "b", "c")
LEVER, LAMP = (0, 0, 1), (0, 0, 0)
LINE_LEVER, LINE_IN, LINE_OUT = (0, 0, 1), (1, 0, 1), (1, 0, 1)  # cells of the tiles of lines


class Wanted(NamedTuple):
    """What is to be laid; `inputs` and `outputs` name the instances of the netlist's inputs and outputs."""

    instances: tuple[Instance, ...]
    nets: dict[str, Net]
    inputs: dict[str, str]
    outputs: dict[str, str]


def wanted(network: Network, mapped: Mapped, lines: bool = False) -> Wanted:
    """The instances and nets of a mapped network, inputs as levers and outputs as lamps, or both as bare lines."""
    instances: list[Instance] = []
    drivers: dict[str, Pin] = {}
    sinks: dict[str, list[Pin]] = {}
    inputs, outputs = {}, {}
    for name in network.inputs:
        inputs[name] = f"in {name}"
        instances.append(Instance(inputs[name], gate_tile("line-in" if lines else "lever")))
        drivers[name] = Pin(inputs[name], "out")
    for gate in mapped.gates:
        if gate.kind == "zero":
            continue
        name = f"gate {gate.output}"
        instances.append(Instance(name, gate_tile(gate.kind)))
        drivers[gate.output] = Pin(name, "q" if gate.kind in LATCHES else "out")
        ports = ("d", "clock") if gate.kind in LATCHES else INPUT_PORTS
        for port, signal in zip(ports, gate.inputs, strict=False):
            sinks.setdefault(signal, []).append(Pin(name, port))
    for name in network.outputs:
        outputs[name] = f"out {name}"
        instances.append(Instance(outputs[name], gate_tile("line-out" if lines else "lamp")))
        sinks.setdefault(mapped.outputs[name], []).append(Pin(outputs[name], "in"))
    nets = {name: Net(driver, tuple(sinks[name])) for name, driver in drivers.items() if name in sinks}
    return Wanted(tuple(instances), nets, inputs, outputs)
