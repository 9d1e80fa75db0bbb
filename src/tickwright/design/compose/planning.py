"""From a brief to its network, whichever way its outputs are claimed."""

from __future__ import annotations

from tickwright.charts.notation import names_in
from tickwright.design.compose.brief import Brief
from tickwright.design.compose.moments import Solver
from tickwright.design.compose.network import Network
from tickwright.design.compose.refusing import refuse
from tickwright.design.compose.spanning import span_network


def network_of(brief: Brief) -> Network:
    """The network of a brief; raises Refusal where a claim cannot be had."""
    if brief.machines:
        machine = brief.machines[0]
        claim = next((one for one in brief.claims if machine.name in names_in(one)), brief.claims[0])
        raise refuse(claim, f"the machine {machine.name} would have to be built, and machines are not composed yet")
    return span_network(brief, Solver(brief).wanted())
