"""From a brief to its network, whichever way its outputs are claimed."""

from __future__ import annotations

from tickwright.design.compose.brief import Brief
from tickwright.design.compose.dividing import span_part
from tickwright.design.compose.machining import machine_network
from tickwright.design.compose.moments import Solver
from tickwright.design.compose.network import Network
from tickwright.design.compose.spanning import span_network


def network_of(brief: Brief) -> Network:
    """The network of a brief; raises Refusal where a claim cannot be had."""
    spans = span_part(brief)
    network = span_network(spans, Solver(spans).wanted())
    machine_network(brief, network)
    return network
