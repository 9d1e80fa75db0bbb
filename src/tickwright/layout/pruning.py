"""Pruning a routed layout: wires that it does not need are taken out, and the blocks that carried only them.

Routes are laid one after another and may touch themselves: such a net has a ring of wires, and one of them can go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from tickwright.engine import circuit_of
from tickwright.layout.hearing import Laid, hearing_faults
from tickwright.layout.model import Instance, Layout, Net
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.rules.geometry import Geometry
from tickwright.space import DIRECTIONS, OPPOSITE, Cell, beside

SHORT = 3  # cells of a net whose ends may touch without it


def without_needless(layout: Layout, nets: Mapping[str, Net], rules: Sequence[RuleSet]) -> Layout:
    """The layout without the wires and blocks that acceptance does not miss; as it is if it is not done.

    Levels on the way may change: only for layouts in which every input asks whether there is any level at all.
    """
    if not layout.done:
        return layout
    trial = _Trial(layout, nets, rules)
    while gone := trial.taken(_spare_wires(trial.layout, nets, rules[0])):
        ours = {cell for one in layout.instances.values() for cell, _ in one.cells()}
        below = {beside(cell, "down") for cell in gone} - ours
        trial.taken([cell for cell in below if trial.layout.plan.cells.get(beside(cell, "up")) is None])
    return trial.layout


class _Trial:
    """A layout from which cells are taken as long as acceptance holds."""

    def __init__(self, layout: Layout, nets: Mapping[str, Net], rules: Sequence[RuleSet]) -> None:
        self.layout, self.nets, self.rules = layout, nets, rules
        self.instances: list[Instance] = list(layout.instances.values())

    def taken(self, cells: Sequence[Cell]) -> list[Cell]:
        """Those of the cells that could go; all at once if that is accepted, else half by half."""
        if not cells:
            return []
        less = self._without(cells)
        if self._accepted(less):
            self.layout = less
            return list(cells)
        if len(cells) == 1:
            return []
        half = len(cells) // 2
        return self.taken(cells[:half]) + self.taken(cells[half:])

    def _without(self, cells: Iterable[Cell]) -> Layout:
        gone = set(cells)
        plan = Plan({cell: part for cell, part in self.layout.plan.cells.items() if cell not in gone})
        kept = {net: tuple(cell for cell in own if cell not in gone) for net, own in self.layout.cells.items()}
        return replace(self.layout, plan=plan, cells=kept)

    def _accepted(self, layout: Layout) -> bool:
        laid = Laid(layout.plan, self.instances, self.nets, layout.repeaters)
        return not any(hearing_faults(laid, one, 1) for one in self.rules)


def _spare_wires(layout: Layout, nets: Mapping[str, Net], rules: RuleSet) -> list[Cell]:
    """Wires without which what is left of their net still hangs together, and still lies at each of its ports and
    repeaters.
    """
    geometry = circuit_of(Setup(layout.plan, rules)).geometry
    found = []
    for name, cells in layout.cells.items():
        pins = (nets[name].driver, *nets[name].sinks)
        ports = [layout.instances[pin.instance].port(pin.port).cell for pin in pins]
        needed = [{beside(port, side) for side in DIRECTIONS} for port in ports]
        left = {cell for cell in cells if layout.plan.cells[cell].behaviour == "wire"}
        for cell in set(cells) - left:
            facing = str(layout.plan.cells[cell].facing)
            needed += [{beside(cell, facing)}, {beside(cell, OPPOSITE[facing])}]
        for cell in sorted(left):
            near = _joined(geometry, cell) & left
            alone = len(cells) > SHORT and any(one & left == {cell} for one in needed)
            if not alone and (not near or near <= _reached(geometry, min(near), left - {cell})):
                left.remove(cell)
                found.append(cell)
    return found


def _joined(geometry: Geometry, wire: Cell) -> set[Cell]:
    """The wires that level flows to or from."""
    return {*geometry.outflows(wire), *geometry.inflows(wire)}


def _reached(geometry: Geometry, first: Cell, wires: set[Cell]) -> set[Cell]:
    seen, waiting = {first}, [first]
    for here in waiting:
        for after in _joined(geometry, here) & wires - seen:
            seen.add(after)
            waiting.append(after)
    return seen
