"""The hand: what the builder does and when, as a script of acts such as "20:press" or "5:3,0,1:place=wire"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import chain
from typing import NamedTuple

from tickwright.arguments import checked
from tickwright.errors import PartError, UsageError, near
from tickwright.kinds import OPEN_CELL_ACTS, PARTS, PISTONS, STANDS, Part, a_kind, parse_part
from tickwright.plan.cells import different_parts
from tickwright.plan.model import Plan
from tickwright.space import Cell, cell_text

USUAL = "usual"
BUILDING = ("place", "clear")  # acts that any cell takes
NUMBERED = ("drop", "put", "take")
MOST_ITEMS = 10**6
FARTHEST = 10**6
_CELL = re.compile(r"\s*(-?[0-9]{1,7})\s*,\s*(-?[0-9]{1,7})\s*,\s*(-?[0-9]{1,7})\s*")


class Stimulus(NamedTuple):
    """One action of the hand at `step`: `verb` on what is in `cell`, with a number of items or a part where it asks.

    The verb USUAL stands for the usual act of the part in the cell when it comes to it, or was there at the start.
    """

    step: int
    cell: Cell
    verb: str
    number: int = 1
    part: Part | None = None

    def __str__(self) -> str:
        x, y, z = self.cell
        more = f"={self.part}" if self.part else f"={self.number}" if self.verb in NUMBERED and self.number != 1 else ""
        verb = "" if self.verb == USUAL else f":{self.verb}{more}"
        return f"{self.step}:{x},{y},{z}{verb}"


@checked
def parse_script(plan: Plan, texts: Iterable[str]) -> tuple[Stimulus, ...]:
    """Read acts `STEP:WHO[:ACT]` in the order given; WHO is a trigger's name or x,y,z.

    The result is in order of steps, acts of the same step as given. Raises UsageError for a text that cannot be read,
    and for an act that no part which can ever be in that cell takes.
    """
    raw = [_split(plan, text) for text in texts]
    placed: dict[Cell, set[str]] = {}
    cleared = {cell for _, cell, verb, _, _ in raw if verb == "clear"}
    for _, cell, verb, value, text in raw:
        if verb == "place":
            placed.setdefault(cell, set()).add(_part(value, text).kind)
    kinds = [*(part.kind for part in different_parts(plan.cells)), *chain.from_iterable(placed.values())]
    world = _World(plan, placed, cleared, not set(PISTONS).isdisjoint(kinds))
    acts = [_act(world, step, cell, verb, value, text) for step, cell, verb, value, text in raw]
    return tuple(sorted(acts, key=lambda act: act.step))


class _World(NamedTuple):
    """The plan, and what a script builds: kinds of part that are placed in a cell, and cells that are cleared."""

    plan: Plan
    placed: dict[Cell, set[str]]
    cleared: set[Cell]
    moves: bool  # whether there are pistons

    def kinds(self, cell: Cell) -> set[str]:
        """The kinds of part that may ever be in the cell, those that pistons move left out."""
        here = self.plan.cells.get(cell)
        return self.placed.get(cell, set()) | ({here.kind} if here else set())

    def may_open(self, cell: Cell) -> bool:
        """Whether the cell is open, or may come to be when the hand has built something or a piston moves."""
        built = bool(self.placed or self.cleared)
        breaks = built and not STANDS.isdisjoint(self.kinds(cell))
        return cell not in self.plan.cells or cell in self.cleared or self.moves or breaks


def default_act(kind: str | None) -> str | None:
    """The act a press means for a part of that kind, or for an open cell (None); None if it takes none."""
    acts = PARTS[kind].acts if kind is not None else OPEN_CELL_ACTS
    return acts[0] if acts else None


def _split(plan: Plan, text: str) -> tuple[int, Cell, str | None, str | None, str]:
    pieces = text.split(":", 2)
    if len(pieces) < 2:
        raise UsageError(f'"{text}" is no act of the hand: write STEP:WHO or STEP:WHO:ACT, such as "20:press".')
    when, who = pieces[0].strip(), pieces[1].strip()
    if not (when.isascii() and when.isdigit() and len(when) <= 12):
        raise UsageError(f'The step "{when}" in "{text}" is not a whole number from 0: write, say, "20:{who}".')
    act = pieces[2].strip() if len(pieces) == 3 else None
    verb, equals, value = (act or "").partition("=")
    if act is not None and not verb:
        raise UsageError(f'"{text}" names no act after the last colon: leave the colon out for the usual act.')
    return int(when), _who(plan, who, text), verb or None, value if equals else None, text


def _who(plan: Plan, who: str, text: str) -> Cell:
    if who in plan.triggers:
        return plan.triggers[who]
    match = _CELL.fullmatch(who)
    if match is not None:
        x, y, z = (int(number) for number in match.groups())
        if max(abs(x), abs(y), abs(z)) > FARTHEST:
            raise UsageError(f'The cell {who} in "{text}" is farther than {FARTHEST:,} cells away.')
        return (x, y, z)
    known = near(who, plan.triggers) if plan.triggers else " The plan names no triggers: give a cell as x,y,z."
    raise UsageError(f'"{who}" in "{text}" is neither a trigger of the plan nor a cell x,y,z.{known}')


def _part(value: str | None, text: str) -> Part:
    if not value:
        raise UsageError(f'"{text}" places no part: write place=PART, such as "5:3,0,1:place=repeater east delay=2".')
    try:
        return parse_part(value)
    except PartError as error:
        raise UsageError(f'In "{text}": {error}') from None


def _act(world: _World, step: int, cell: Cell, verb: str | None, value: str | None, text: str) -> Stimulus:
    if verb is None:
        here = world.plan.cells.get(cell)
        if here is not None and not any(map(default_act, world.kinds(cell))):
            raise UsageError(f'The {here.kind} at {cell_text(cell)} has no usual act: say which in "{text}".')
        return Stimulus(step, cell, USUAL)
    if verb == "place":
        return Stimulus(step, cell, verb, part=_part(value, text))
    if value is not None and verb not in NUMBERED:
        raise UsageError(f'"{verb}" in "{text}" takes no number.')
    number = 1
    if value is not None:
        if not (value.isascii() and value.isdigit() and len(value) <= 7 and 1 <= int(value) <= MOST_ITEMS):
            raise UsageError(f'The number "{value}" in "{text}" must be a whole number from 1 to {MOST_ITEMS:,}.')
        number = int(value)
    if verb != "clear":
        _refuse_impossible(world, cell, verb, text)
    return Stimulus(step, cell, verb, number)


def _refuse_impossible(world: _World, cell: Cell, verb: str, text: str) -> None:
    """An act that no part which can ever be in this cell takes is an error of usage, not a finding."""
    here = world.plan.cells.get(cell)
    allowed = {act for kind in world.kinds(cell) for act in PARTS[kind].acts}
    if world.may_open(cell):
        allowed.update(OPEN_CELL_ACTS)
    if verb in allowed:
        return
    every = sorted({act for kind in PARTS.values() for act in kind.acts}.union(BUILDING))
    if verb not in every:
        raise UsageError(f'There is no act "{verb}" (in "{text}").{near(verb, every)}')
    what = a_kind(here.kind if here else "open cell").capitalize()
    can = sorted(allowed.union(BUILDING))
    raise UsageError(f'{what} at {cell_text(cell)} cannot take "{verb}" (in "{text}"): it takes {", ".join(can)}.')
