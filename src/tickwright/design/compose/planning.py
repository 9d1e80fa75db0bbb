"""From a brief to its network, whichever way its outputs are claimed."""

from __future__ import annotations

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.lowering import lowered
from tickwright.design.compose.machining import Machining
from tickwright.design.compose.network import Network
from tickwright.design.compose.spanning import span_network


def network_of(brief: Brief) -> Network:
    """The network of a brief; raises Refusal where a claim cannot be had."""
    low = lowered(brief)
    network = Network()
    machining = Machining(low, network)
    machining.build()
    span_network(low, network, machining)
    machining.finish()
    return network
