"""Closing the timing: from the delays that routing gave to the ticks of every column and chain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from tickwright.design.compose.network import Network, Program
from tickwright.design.compose.tiles import set_delays
from tickwright.kinds import Part
from tickwright.layout.model import Layout
from tickwright.plan.model import Plan
from tickwright.space import Cell

Delays = Mapping[tuple[str, str, str], int]


class Misfit(NamedTuple):
    """An input that cannot be made to act when it must: what its column would have to take, and what it can."""

    instance: str
    port: str
    asked: int
    least: int
    most: int


class Closed(NamedTuple):
    """The ticks of each repeater of columns, as (instance, cell of the tile) -> ticks; and what does not fit."""

    ticks: dict[tuple[str, Cell], int]
    misfits: tuple[Misfit, ...]


def close(network: Network, delays: Delays) -> Closed:
    """Set the ticks of all chains and columns so that every input acts when it must."""
    closing = _Closing(network, delays)
    for program in network.programs:
        closing.program(program)
    return Closed(closing.ticks, tuple(closing.misfits))


class _Closing:
    def __init__(self, network: Network, delays: Delays) -> None:
        self.network, self.delays = network, delays
        self.ticks: dict[tuple[str, Cell], int] = {}
        self.misfits: list[Misfit] = []

    def program(self, program: Program) -> None:
        """One trigger: its early output, then tap by tap."""
        network = self.network
        step = program.taps[0].step
        if program.early is not None:
            path = sum(self.delays[way] for way in program.early.lead)
            first = (program.early.on - path - 4) // 2
            if not 1 <= first <= 4:
                self.misfits.append(Misfit(program.front, "early", program.early.on - path, 6, 12))
                first = min(4, max(1, first))
            (gate,), (starter,) = (network.made[program.front].columns[one] for one in ("gate", "starter"))
            second = max(1, 3 - first)
            self.ticks[program.front, gate], self.ticks[program.front, starter] = first, second
            step = 4 + 2 * first + 2 * second
        steps: list[int] = []
        for place, tap in enumerate(program.taps):
            if tap.chain is not None:
                if tap.source:
                    arrival = steps[tap.base] + tap.after_steps + sum(self.delays[way] for way in tap.lead)
                    arrival += tap.fixed_steps
                else:
                    arrival = step + self.delays[program.taps[place - 1].net, tap.chain, "in"]
                count = len(network.made[tap.chain].columns["in"])
                low, high = self._window(program, tap.net)
                goal = min(max(tap.step, low), high) if low <= high else tap.step
                goal = min(max(goal, arrival + 2 * count), arrival + 8 * count)
                goal -= (goal - arrival) % 2
                self._set(tap.chain, "in", goal - arrival)
                step = goal
            steps.append(step)
            self._needs(program, tap.net, step)
        if program.busy is not None:
            self._set(program.busy.memory, "set0", 2)

    def _window(self, program: Program, net: str) -> tuple[int, int]:
        """The steps at which a tap may come so that all its needs can be met."""
        low, high = -(10**9), 10**9
        for need in program.needs[net]:
            count = len(self.network.made[need.instance].columns[need.port])
            leave = need.leave - sum(self.delays[way] for way in need.lead) - self.delays[net, need.instance, need.port]
            low, high = max(low, leave - 8 * count), min(high, leave - 2 * count - need.more)
        return low, high

    def _needs(self, program: Program, net: str, step: int) -> None:
        for need in program.needs[net]:
            leave = need.leave - sum(self.delays[way] for way in need.lead)
            self._set(need.instance, need.port, leave - step - self.delays[net, need.instance, need.port], need.more)

    def _set(self, instance: str, port: str, steps: int, more: int = 0) -> None:
        cells = self.network.made[instance].columns[port]
        least = 2 * len(cells) + more
        ticks = set_delays(steps, len(cells)) if steps >= least else None
        if ticks is None:
            self.misfits.append(Misfit(instance, port, steps, least, 8 * len(cells)))
            ticks = set_delays(min(max(steps - steps % 2, 2 * len(cells)), 8 * len(cells)), len(cells))
        assert ticks is not None
        for cell, delay in zip(cells, ticks, strict=True):
            self.ticks[instance, cell] = delay


def with_ticks(plan: Plan, layout: Layout, ticks: Mapping[tuple[str, Cell], int]) -> dict[Cell, Part]:
    """The cells of the plan with those delays."""
    cells = dict(plan.cells)
    for (instance, cell), delay in ticks.items():
        here = layout.instances[instance].cell(cell)
        cells[here] = cells[here]._replace(delay=delay)
    return cells
