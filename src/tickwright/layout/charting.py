"""A chart of what a placed netlist does: its levers flipped one after another, and what its lamps show of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tickwright.charts import draft_chart
from tickwright.errors import TickwrightError
from tickwright.layout.judging import vectors, walk
from tickwright.netlist import Network
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet

MOST_FLIPS = 16
NAME = "as placed"


def charted(
    plan: Plan, network: Network, names: Mapping[str, str], wait_steps: int, rules: RuleSet, seed: int = 0
) -> Plan:
    """The plan with a chart of its first changes, `wait_steps` apart; as it is where its names cannot stand in a chart.

    They are the first of those that it was judged by: all inputs in Gray order, or a walk through its states.
    """
    play, _ = walk(network, seed) if network.latches else vectors(network, seed)
    flips = [lever for lever, _ in play if lever][:MOST_FLIPS]
    hand = [f"{number * wait_steps}:{names[lever]}:flip" for number, lever in enumerate(flips)]
    if not hand or not plan.triggers:
        return plan
    try:
        drafted = draft_chart(plan, hand, len(hand) * wait_steps, NAME, rules)
    except TickwrightError:
        return plan
    return replace(plan, charts=(drafted.chart,))
