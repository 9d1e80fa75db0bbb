"""Mistakes: every single error that a builder may make with a plan, with how easily one makes it and where to look.

How easily is an order from common practice, no source: 10 for what happens all the time, 1 for what hardly does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from tickwright.errors import TickwrightError
from tickwright.kinds import PARTS, PASSING, Part, a_kind, kinds_with, support_cell
from tickwright.plan.cells import with_changes
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import BUILT_IN, RuleSet, load_rules
from tickwright.space import DIRECTIONS, HORIZONTAL, OPPOSITE, Cell, beside, zyx

Changes = tuple[tuple[Cell, Part | None], ...]


class Kind(NamedTuple):
    """One sort of mistake: how easily one makes it (1 to 10), and its title."""

    ease: int
    title: str


KINDS = {
    "wrong-delay": Kind(10, "a repeater with another delay"),
    "wrong-mode": Kind(9, "a comparator in the other mode"),
    "wrong-facing": Kind(8, "a part that faces another way"),
    "wrong-part": Kind(7, "a part that looks much alike"),
    "wire-missing": Kind(7, "a gap in a wire"),
    "wrong-count": Kind(6, "another number of items"),
    "part-missing": Kind(5, "a part left out"),
    "extra-wire": Kind(5, "a wire too many"),
    "wrong-rules": Kind(4, "a world with other rules"),
    "slow-world": Kind(4, "a world that does not run at full speed"),
    "stray-block": Kind(3, "a block that stands there"),
    "stray-power-block": Kind(2, "a power-block that stands there"),
}
STILL = kinds_with("still", "lamp", "source")


class Mistake(NamedTuple):
    """One thing built otherwise than the plan says: `changes` are the cells with what stands there instead.

    `rules` is the rule set of the world if that is what is wrong; `text` says what is, `look` where to look for it.
    """

    kind: str
    cell: Cell | None
    text: str
    look: str
    ease: int
    changes: Changes = ()
    rules: str | None = None

    def as_data(self) -> dict[str, object]:
        """The mistake as JSON shows it."""
        return {
            "kind": self.kind,
            "cell": list(self.cell) if self.cell else None,
            "text": self.text,
            "look": self.look,
            "ease": self.ease,
            "changes": [{"cell": list(cell), "part": str(part) if part else None} for cell, part in self.changes],
            "rules": self.rules,
        }


def built_with(plan: Plan, mistakes: Iterable[Mistake]) -> Plan:
    """The plan as built with these mistakes; what is left out is left out."""
    changes = {cell: part for mistake in mistakes for cell, part in mistake.changes}
    return replace(plan, cells=with_changes(plan.cells, changes))


def single_mistakes(setup: Setup) -> list[Mistake]:
    """Every single mistake that can be made with the plan, those made most easily first, then in (z, y, x) order.

    Left out is what cannot stand (a part without support) and what a builder would see at once: a trigger or an output
    that is not there, a block left out under what stands on it. The slow world is not among them: it changes no step.
    """
    found = [*mistakes_of_parts(setup.plan), *strays(setup)]
    made = []
    for mistake in found:
        try:
            validate(built_with(setup.plan, [mistake]), setup.rules)
        except TickwrightError:
            continue
        made.append(mistake)
    for name in BUILT_IN:
        if name != setup.rules.name:
            text = f"the world runs under the rules {name}, not {setup.rules.name}"
            made.append(
                _mistake("wrong-rules", None, text, "the rules of the world: compare a small circuit", (), name)
            )
    made.sort(key=lambda one: (-one.ease, zyx(one.cell) if one.cell else (-1, 0, 0)))
    return made


def _mistake(
    kind: str, cell: Cell | None, text: str, look: str, changes: Changes, rules: str | None = None, harder: int = 0
) -> Mistake:
    return Mistake(kind, cell, text, look, max(KINDS[kind].ease - harder, 1), changes, rules)


# --- wrong parts -------------------------------------------------------------------------------------------------


def mistakes_of_parts(plan: Plan) -> Iterator[Mistake]:
    """What may be wrong with each part, whether the rest then stands or not."""
    bearing = {support for cell, part in plan.cells.items() if (support := support_cell(part, cell)) is not None}
    named = {*plan.triggers.values(), *plan.outputs.values()}
    for cell in sorted(plan.cells, key=zyx):
        part = plan.cells[cell]
        yield from _wrong_arguments(cell, part)
        yield from _wrong_facing(cell, part)
        yield from _wrong_part(cell, part, cell in plan.outputs.values())
        if cell in named or cell in bearing or (part.behaviour == "still" and part.kind not in PASSING):
            continue
        kind = "wire-missing" if part.behaviour == "wire" else "part-missing"
        harder = 2 if part.kind in PASSING else 0
        text = f"the {part.kind} at {cell} is missing"
        yield _mistake(kind, cell, text, f"{cell}: {a_kind(part.kind)} belongs there", ((cell, None),), harder=harder)


def _wrong_arguments(cell: Cell, part: Part) -> Iterator[Mistake]:
    for argument in PARTS[part.kind].arguments:
        right = getattr(part, argument.name)
        look = f"the {part.kind} at {cell}: it belongs on {_value(argument.name, right)}"
        for value in _other_values(argument.name, right, argument.choices):
            kind = {"delay": "wrong-delay", "mode": "wrong-mode"}.get(argument.name, "wrong-count")
            harder = abs(value - right) - 1 if argument.name == "delay" else 0
            shown, wanted = _value(argument.name, value), _value(argument.name, right)
            text = f"the {part.kind} at {cell} has {shown} instead of {wanted}"
            if argument.name == "thrown":
                text = f"the {part.kind} at {cell} is {'not ' * right}thrown and should {'not ' * value}be"
            other = part._replace(**{argument.name: value})  # type: ignore[arg-type]
            changes = ((cell, other),)
            yield _mistake(kind, cell, text, look, changes, harder=harder)


def _other_values(name: str, right: int, choices: tuple) -> Iterator[int]:  # type: ignore[type-arg]
    """The values that one may set instead; of items one more or less, a stack more or less, twice, half, none."""
    if name != "items":
        yield from (choice for choice in choices if choice != right)
        return
    near = (right - 1, right + 1, right - 64, right + 64, right * 2, right // 2, 0)
    yield from (value for value in dict.fromkeys(near) if value != right and value in choices)


def _value(name: str, value: object) -> str:
    if name == "delay":
        return "1 tick" if value == 1 else f"{value} ticks"
    if name == "items":
        return "1 item" if value == 1 else f"{value} items"
    if name == "thrown":
        return "the lever thrown" if value else "the lever not thrown"
    return f"{name} {value}"


def _wrong_facing(cell: Cell, part: Part) -> Iterator[Mistake]:
    for side in PARTS[part.kind].directions:
        if side == part.facing:
            continue
        harder = 0 if side == OPPOSITE[str(part.facing)] and PARTS[part.kind].direction == "" else 2
        text = f"the {part.kind} at {cell} faces {side} instead of {part.facing}"
        look = f"the {part.kind} at {cell}: it belongs facing {part.facing}"
        yield _mistake("wrong-facing", cell, text, look, ((cell, part._replace(facing=side)),), harder=harder)


def _wrong_part(cell: Cell, part: Part, is_output: bool) -> Iterator[Mistake]:
    kind = PARTS[part.kind]
    for other in () if is_output and kind.seen_at_once else kind.confused_with:
        harder = 3 if kind.seen_at_once else 0
        text = f"at {cell} is {a_kind(other)} instead of {a_kind(part.kind)}"
        look = f"{cell}: {a_kind(part.kind)} belongs there"
        yield _mistake("wrong-part", cell, text, look, ((cell, part._replace(kind=other)),), harder=harder)


# --- strays ------------------------------------------------------------------------------------------------------


def strays(setup: Setup) -> Iterator[Mistake]:
    """Wires, blocks and power-blocks in empty cells beside what acts: anywhere else they do nothing."""
    plan = setup.plan
    lively = [cell for cell, part in plan.cells.items() if PARTS[part.kind].behaviour not in ("still", "source")]
    beside_them = {beside(cell, side) for cell in lively for side in DIRECTIONS} - set(plan.cells)
    named = {*plan.triggers.values(), *plan.outputs.values()}
    for cell in sorted(beside_them - named, key=zyx):
        under = plan.cells.get(beside(cell, "down"))
        if under is not None and setup.rules.carries.get(under.kind, False) and _beside(plan, cell):
            text = f"a wire too many lies at {cell}"
            yield _mistake("extra-wire", cell, text, f"{cell}: nothing belongs there", ((cell, Part("wire")),))
        for kind in ("block", "power-block"):
            text = f"{a_kind(kind)} stands at {cell}, where nothing belongs"
            look = f"{cell}: nothing belongs there"
            yield _mistake(f"stray-{kind}", cell, text, look, ((cell, Part(kind)),))


def _beside(plan: Plan, cell: Cell) -> bool:
    """Whether anything that a wire could join or power lies beside the cell."""
    near = (plan.cells.get(beside(cell, side)) for side in HORIZONTAL)
    return any(part is not None and (part.behaviour != "still" or part.kind in PASSING) for part in near)


def world_rules(rules: RuleSet, made: Iterable[Mistake]) -> RuleSet:
    """The rule set of the world that was built in."""
    return next((load_rules(one.rules) for one in made if one.rules is not None), rules)
