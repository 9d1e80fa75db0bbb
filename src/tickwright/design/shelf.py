"""The shelf of folded loops: small rings that a long search found, for every tick of hold from 2 to 12 s that it could.

Each line of folded.txt is a hold in steps, what shows it, the size along x, y, z, the cells from (0, 0, 0) with x going
first, and which of them shows the hold. `-` is a wire, `#` a block, `L` a lamp, `> < ^ v` are comparators that face
east, west, north, south, and a digit is a short button, on the cell that its place in `BUTTON_ON` says.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache, partial
from pathlib import Path
from typing import NamedTuple

from tickwright.design.recipes import Goal, Recipe
from tickwright.design.sketch import PRESS
from tickwright.kinds import Part, parse_part
from tickwright.plan import Plan
from tickwright.space import Cell

__all__ = ["FILE", "NAME", "Shelved", "shelf", "shelved", "written"]

FILE = Path(__file__).with_name("folded.txt")

NAME = "folded loop"
TRIGGER, TRIGGER_STEPS = "short-button", 20
BUTTON_ON = ("north", "east", "south", "west", "up", "down")
PARTS = {
    "-": "wire", "#": "block", "L": "lamp", ">": "comparator east", "<": "comparator west", "^": "comparator north",
    "v": "comparator south",
}  # fmt: skip


class Shelved(NamedTuple):
    """One ring: its hold, its output, its size and its cells as folded.txt has them, the place of the output there."""

    hold_steps: int
    output: str
    size: Cell
    cells: str
    watched: int

    def plan(self) -> Plan:
        """The ring as a plan."""
        wide, deep, _ = self.size
        at = [(n % wide, n // wide % deep, n // (wide * deep)) for n in range(len(self.cells))]
        laid = {cell: _part(letter) for cell, letter in zip(at, self.cells, strict=True) if letter != "."}
        press = next(cell for cell, letter in zip(at, self.cells, strict=True) if letter.isdigit())
        return Plan(laid, {PRESS: press}, {self.output: at[self.watched]}, title=NAME.capitalize())

    @property
    def line(self) -> str:
        """Its line in folded.txt."""
        size = "x".join(map(str, self.size))
        return f"{self.hold_steps} {self.output} {size} {self.cells} {self.watched}"

    @property
    def comparators(self) -> int:
        """How many comparators it has."""
        return sum(self.cells.count(letter) for letter in "><^v")


@lru_cache(maxsize=1)
def shelf() -> tuple[Shelved, ...]:
    """All rings of the shelf, the shortest hold first."""
    text = FILE.read_text(encoding="utf-8")
    found = []
    for line in text.splitlines():
        hold, output, size, cells, watched = line.split()
        x, y, z = map(int, size.split("x"))
        found.append(Shelved(int(hold), output, (x, y, z), cells, int(watched)))
    return tuple(found)


def written(plan: Plan, hold_steps: int) -> Shelved:
    """A cropped plan of a ring that holds so long, as the shelf keeps it.

    >>> one = shelf()[0]
    >>> written(one.plan(), one.hold_steps) == one
    True
    """
    letters = {parse_part(text): letter for letter, text in PARTS.items()}
    letters |= {parse_part(f"{TRIGGER} on={way}"): str(number) for number, way in enumerate(BUTTON_ON)}
    wide, deep, high = plan.size
    at = [(x, y, z) for z in range(high) for y in range(deep) for x in range(wide)]
    cells = "".join(letters[plan.cells[cell]] if cell in plan.cells else "." for cell in at)
    ((output, watched),) = plan.outputs.items()
    return Shelved(hold_steps, output, plan.size, cells, at.index(watched))


def shelved(goal: Goal) -> Iterator[Recipe]:
    """The rings that meet a goal."""
    if (goal.trigger, goal.trigger_steps) != (TRIGGER, TRIGGER_STEPS):
        return
    for one in shelf():
        if goal.meets(one.hold_steps) and one.output in goal.outputs:
            yield Recipe(NAME, {"comparators": one.comparators}, one.output, one.hold_steps, partial(Shelved.plan, one))


def _part(letter: str) -> Part:
    return parse_part(f"{TRIGGER} on={BUTTON_ON[int(letter)]}" if letter.isdigit() else PARTS[letter])
