"""What stands where, as the geometry sees it: parts at rest, pistons at work, arms, and cells on the move."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from tickwright.kinds import PARTS, PISTONS, Behaviour, Part
from tickwright.rules.ruleset import RuleSet
from tickwright.space import Cell, taxicab_ball

Posture = Literal["rest", "out", "back", "moving", "arm"]


class Stand(NamedTuple):
    """A part in a cell and its posture.

    "rest": as placed; "out": an extended piston; "back": a piston that has just gone back and does not act yet;
    "moving": a part on its way into this cell, inert; "arm": the arm of the extended piston `part`.
    """

    part: Part
    posture: Posture = "rest"

    @property
    def inert(self) -> bool:
        """Whether nothing conducts, gives, hears or carries here: a cell on the move, or an arm."""
        return self.posture in ("moving", "arm")

    @property
    def seen_part(self) -> Part:
        """The part as a change-sensor sees it: how many items it was placed with, or whether thrown, is no matter."""
        return self.part._replace(items=0, thrown=False)


class Layout:
    """Answers the plain questions about a cell: what kind stands there, does it conduct, does it carry.

    `kinds` maps each cell that holds an active part to its kind (arms and cells on the move are left out).
    """

    def __init__(self, stands: Mapping[Cell, Stand], rules: RuleSet) -> None:
        self.rules = rules
        self.stands = stands
        self.parts = {cell: stand.part for cell, stand in stands.items() if not stand.inert}
        self.strong: dict[Cell, frozenset[Cell]] = {}  # what powers a conducting cell strongly, once worked out
        self._conducting = {cell for cell, part in self.parts.items() if rules.conducts.get(part.kind, False)}
        self._wires = {cell for cell, part in self.parts.items() if PARTS[part.kind].behaviour == "wire"}

    def kind(self, cell: Cell) -> str | None:
        """The kind of the active part in the cell; None if it is empty or inert."""
        part = self.parts.get(cell)
        return part.kind if part is not None else None

    def behaviour(self, cell: Cell) -> Behaviour | None:
        """What the active part in the cell does in an engine; None if it is empty or inert."""
        part = self.parts.get(cell)
        return PARTS[part.kind].behaviour if part is not None else None

    def is_wire(self, cell: Cell) -> bool:
        """Whether an active wire lies in the cell."""
        return cell in self._wires

    def conducts(self, cell: Cell) -> bool:
        """Whether the cell passes power on and cuts the wires that climb past it."""
        return cell in self._conducting

    def carries(self, cell: Cell, side: str) -> bool:
        """Whether something may stand on (or be fixed to) that side of the cell.

        A piston carries only at rest, and never on its face.
        """
        part = self.parts.get(cell)
        if part is None or not self.rules.carries.get(part.kind, False):
            return False
        if part.kind in PISTONS:
            return self.stands[cell].posture == "rest" and part.facing != side
        return True


NEAR = {radius: taxicab_ball(radius) for radius in range(5)}


def around(cells: set[Cell], radius: int) -> set[Cell]:
    """All cells within `radius` (taxicab, 0 to 4) of any of `cells`."""
    return {(x + dx, y + dy, z + dz) for x, y, z in cells for dx, dy, dz in NEAR[radius]}
