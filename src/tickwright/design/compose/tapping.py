"""Taps: how the needs of a program are shared out to the points of its chain."""

from __future__ import annotations

from tickwright.design.compose.network import ROUTE_SLACK, Need, Network, Program, Tap
from tickwright.design.compose.tiles import chain
from tickwright.design.compose.waiting import waiting

LONG = 240  # steps from which on rings that fade make a wait, where a busy flag can feed them


def tap_needs(network: Network, program: Program, needs: list[Need], step: int) -> None:
    """Share out the needs to taps of a chain that begins in `step`: the last moment that serves the most urgent."""

    def latest(need: Need) -> int:
        length = len(network.made[need.instance].columns[need.port])
        slack = (ROUTE_SLACK if length > 1 else 2) + need.more
        return need.leave - 4 * len(need.lead) - 2 * length - slack

    def earliest(need: Need) -> int:
        return need.leave - 8 * len(network.made[need.instance].columns[need.port])

    tap, net = step, program.taps[0].net
    for need in sorted(needs, key=latest):
        if earliest(need) > tap:
            until = max(tap + 8, latest(need) - latest(need) % 2)
            if until - tap > LONG and (waited := waiting(network, program, until)):
                program.taps.append(waited)
                net = waited.net
                program.needs[net] = [need]
                length = len(network.made[need.instance].columns[need.port])
                network.connect(net, need.instance, need.port, max(0, need.leave - until - 2 * length - need.more))
                tap = until
                continue
            name = f"{program.trigger}-chain{len(program.taps)}"
            network.add(name, chain(name, max(1, -(-(until - tap) // 8))))
            network.connect(net, name, "in", min(8, (until - tap) // 4 * 2))
            net = network.net(name, "out")
            program.taps.append(Tap(net, until, name))
            program.needs[net] = []
            tap = until
        length = len(network.made[need.instance].columns[need.port])
        network.connect(net, need.instance, need.port, max(0, need.leave - tap - 2 * length - need.more))
        program.needs[net].append(need)


def column_length(leave: int) -> int:
    """How many repeaters an input's column takes if its pulse must leave it so long after the act.

    >>> column_length(12), column_length(100)
    (1, 3)
    """
    spare = leave - 10
    return 3 if spare >= 24 else 2 if spare >= 12 else 1
