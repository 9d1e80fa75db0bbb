"""What may be changed in a plan to change its hold: settings, parts, slices of the whole, the trigger's press."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from tickwright.design.pulse_formers import PulseFormer, former_for, lay_former
from tickwright.design.sketch import Sketch
from tickwright.durations import duration_text
from tickwright.errors import PlanError
from tickwright.kinds import BUTTONS, CONTAINERS, PARTS, Part, kinds_with, parse_part, part_text, support_cell
from tickwright.plan.cells import with_changes
from tickwright.plan.edits import AXES
from tickwright.plan.hand import default_act
from tickwright.plan.limits import check_limits
from tickwright.plan.model import Plan
from tickwright.plan.validate import problems
from tickwright.rules import RuleSet
from tickwright.space import Cell, cell_text, zyx
from tickwright.verify.copies import oriented

DELAYS = (1, 2, 3, 4)
MODES = ("threshold", "difference")
FRONT = "lay parts at the trigger"  # how every change of the press by a front begins
SLICES = ("column", "row", "layer")  # what a slice across x, y or z is called
PRESSED = kinds_with("button", "lever", "plate")


class Change(NamedTuple):
    """A changed plan: what was done in words, and how far cells of the first plan were shifted in it."""

    plan: Plan
    text: str
    shift: Cell = (0, 0, 0)


class Knob(NamedTuple):
    """A setting that can be turned without moving anything: of the part in `cell`, from `value` to one of `values`."""

    cell: Cell
    part: Part
    setting: str
    value: int
    values: tuple[int, ...]

    def turned_to(self, plan: Plan, value: int) -> Plan:
        """The plan with the knob at that value."""
        part = self.part._replace(delay=value) if self.setting == "delay" else self.part._replace(items=value)
        return replace(plan, cells=with_changes(plan.cells, {self.cell: part}))

    def text(self, value: int) -> str:
        """The turn in words."""
        at = f"the {self.part.kind} at {cell_text(self.cell)}"
        if self.setting == "delay":
            return f"set {at} to {value} tick{'s' if value != 1 else ''} instead of {self.value}"
        return f"put {value} item{'s' if value != 1 else ''} into {at} instead of {self.value}"


def knobs(plan: Plan, rules: RuleSet) -> Iterator[Knob]:
    """Every knob of a plan, in (z, y, x) order: delays of repeaters, items in containers.

    Of items the values are some only, from none to all that fit, those beside the present number among them.
    """
    for cell in sorted(plan.cells, key=zyx):
        part = plan.cells[cell]
        if part.behaviour == "repeater":
            yield Knob(cell, part, "delay", part.delay, DELAYS)
        elif part.kind in CONTAINERS:
            most, now = rules.capacity(part.kind), part.items
            some = {0, 1, now // 2, now - 1, now, now + 1, 2 * now, most // 4, most // 2, most}
            yield Knob(cell, part, "items", now, tuple(sorted(count for count in some if 0 <= count <= most)))


def turns(plan: Plan, rules: RuleSet) -> Iterator[Change]:
    """The plan with one knob at another value."""
    for knob in knobs(plan, rules):
        for value in knob.values:
            if value != knob.value:
                yield Change(knob.turned_to(plan, value), knob.text(value))


def choices_at(plan: Plan, rules: RuleSet, cell: Cell) -> list[Part]:
    """What may stand in a cell instead, the part that is there at its place: settings, modes, triggers of other kinds.

    Each can be built where it stands. Empty if there is nothing to choose.

    >>> from tickwright.rules import load_rules
    >>> plan = Plan({(0, 0, 0): parse_part("block"), (0, 0, 1): parse_part("repeater east delay=2")})
    >>> [str(part) for part in choices_at(plan, load_rules("standard"), (0, 0, 1))][1:]
    ['repeater east delay=2', 'repeater east delay=3', 'repeater east delay=4', 'comparator east']
    """
    part = plan.cells.get(cell)
    if part is None:
        return []
    found: list[Part] = []
    if part.kind in PRESSED:
        for kind in PRESSED:
            other = part if kind == part.kind else parse_part(kind)
            if other.facing is not None and part.facing is not None:
                other = other._replace(facing=part.facing)
            found.append(other)
    elif part.behaviour == "comparator":
        found = [part._replace(mode=mode) for mode in MODES]
        found += [parse_part(f"repeater {part.facing}")] if cell not in plan.outputs.values() else []
    else:
        for knob in knobs(plan, rules):
            if knob.cell == cell:
                found = [knob.turned_to(plan, value).cells[cell] for value in knob.values]
        if part.behaviour == "repeater":
            found.append(parse_part(f"comparator {part.facing}"))
    known = set(problems(plan, rules))
    fitting = [
        one
        for one in dict.fromkeys(found)
        if one == part or not set(problems(replace(plan, cells=with_changes(plan.cells, {cell: one})), rules)) - known
    ]
    return fitting if len(fitting) > 1 else []


def swaps(plan: Plan) -> Iterator[Change]:
    """The plan with one part of the signal's way swapped for another that passes the level the same way.

    A wire that goes straight for a comparator or a repeater and back; a repeater for a comparator and back.
    """
    named = {*plan.triggers.values(), *plan.outputs.values()}
    for cell in sorted(plan.cells, key=zyx):
        part = plan.cells[cell]
        if cell in named:
            continue
        if part.behaviour == "wire":
            instead = [
                part_text(Part(kind, facing)) for kind in ("comparator", "repeater") for facing in _ways(plan, cell)
            ]
        elif part.behaviour == "comparator":
            instead = ["wire", f"repeater {part.facing}"]
        elif part.behaviour == "repeater":
            instead = ["wire", f"comparator {part.facing}"]
        else:
            continue
        for text in instead:
            what = f"put a {_facing_text(text)} in place of the {part.kind} at {cell_text(cell)}"
            yield Change(_with(plan, cell, text), what)


def _facing_text(text: str) -> str:
    kind, _, facing = text.partition(" ")
    return f"{kind} that leads {facing}" if facing else kind


def other_triggers(plan: Plan, rules: RuleSet, trigger: str) -> Iterator[Change]:
    """The plan with another kind of trigger that is worked alike, such as a button that stays down longer."""
    cell = plan.triggers[trigger]
    part = plan.cells.get(cell)
    if part is None or part.kind not in PRESSED:
        return
    for other in choices_at(plan, rules, cell):
        if other.kind != part.kind and default_act(other.kind) == default_act(part.kind):
            what = f"use a {other.kind}{_down(other, rules)} for {trigger} instead of a {part.kind}{_down(part, rules)}"
            yield Change(replace(plan, cells=with_changes(plan.cells, {cell: other})), what)


def _down(part: Part, rules: RuleSet) -> str:
    return f" (down for {duration_text(rules.button_steps(part.kind))})" if part.kind in BUTTONS else ""


def _ways(plan: Plan, cell: Cell) -> list[str]:
    """The ways in which a signal may pass straight through the cell: where something stands before and behind it."""
    x, y, z = cell
    ways: list[str] = []
    for one, other, pair in (
        ((x - 1, y, z), (x + 1, y, z), ("east", "west")),
        ((x, y - 1, z), (x, y + 1, z), ("south", "north")),
    ):
        if one in plan.cells and other in plan.cells:
            ways += pair
    return ways


def _with(plan: Plan, cell: Cell, text: str) -> Plan:
    return replace(plan, cells=with_changes(plan.cells, {cell: parse_part(text)}))


def slices(plan: Plan) -> Iterator[Change]:
    """The plan longer by one slice, a copy of the one beside it, or shorter by one: at each place along each axis.

    So a loop grows or shrinks, whatever its shape: its two rows get another part each. Slices that hold a trigger or
    an output are not doubled, nor taken out.
    """
    for axis, place in slice_places(plan):
        yield longer(plan, axis, place)
        if plan.size[axis] > 1:
            what = f"take out the {SLICES[axis]} {AXES[axis]} = {place} and close the gap"
            yield Change(_shorter(plan, axis, place), what)


def slice_places(plan: Plan) -> Iterator[tuple[int, int]]:
    """The slices that may be doubled or taken out, each as the number of its axis and its place there."""
    named = {*plan.triggers.values(), *plan.outputs.values()}
    for axis in range(3):
        taken = {cell[axis] for cell in named}
        filled = {cell[axis] for cell in plan.cells}
        yield from ((axis, place) for place in range(plan.size[axis]) if place in filled - taken)


def longer(plan: Plan, axis: int, place: int, times: int = 1) -> Change:
    """The plan with so many copies of a slice beside it; all behind moves on."""
    more = plan
    for _ in range(times):
        more = _longer(more, axis, place)
    copies = "a copy" if times == 1 else f"{times} copies"
    return Change(more, f"lay {copies} of the {SLICES[axis]} {AXES[axis]} = {place} beside it")


def _longer(plan: Plan, axis: int, place: int) -> Plan:
    cells = {(_moved(cell, axis, 1) if cell[axis] > place else cell): part for cell, part in plan.cells.items()}
    cells.update({_moved(cell, axis, 1): part for cell, part in plan.cells.items() if cell[axis] == place})
    return _relaid(plan, cells, axis, place, 1)


def _shorter(plan: Plan, axis: int, place: int) -> Plan:
    kept = {cell: part for cell, part in plan.cells.items() if cell[axis] != place}
    cells = {(_moved(cell, axis, -1) if cell[axis] > place else cell): part for cell, part in kept.items()}
    return _relaid(plan, cells, axis, place, -1)


def _relaid(plan: Plan, cells: Mapping[Cell, Part], axis: int, place: int, by: int) -> Plan:
    def moved(cell: Cell) -> Cell:
        return _moved(cell, axis, by) if cell[axis] > place else cell

    size = list(plan.size)
    size[axis] += by
    return check_limits(
        replace(
            plan,
            cells=cells,
            triggers={name: moved(cell) for name, cell in plan.triggers.items()},
            outputs={name: moved(cell) for name, cell in plan.outputs.items()},
            size=(size[0], size[1], size[2]),
        )
    )


def _moved(cell: Cell, axis: int, by: int) -> Cell:
    shift = [by if here == axis else 0 for here in range(3)]
    return (cell[0] + shift[0], cell[1] + shift[1], cell[2] + shift[2])


def presses(plan: Plan, trigger: str, press_steps: int | None, pulse_steps: int) -> Iterator[Change]:
    """The plan with a front that makes of the trigger's press a pulse of that length, in every direction it fits.

    The trigger's cell becomes a wire, the front's end; the trigger stands at its beginning.
    """
    cell = plan.triggers[trigger]
    part = plan.cells.get(cell)
    former = former_for(press_steps, pulse_steps)
    if part is None or part.kind not in PRESSED or former is None or former.shape == "plain":
        return
    sketch = Sketch()
    kind = part.kind if PARTS[part.kind].support == "facing" else part_text(part)
    press = lay_former(sketch, former, kind, into_block=False)
    sketch.put((0, 0, 1), "wire")
    alone = sketch.plan("", press, {"end": (0, 0, 1)})
    for mirrored in (False, True):
        for turns_ in range(4):
            laid = oriented(alone, turns_, mirrored)
            end = laid.outputs["end"]
            offset = (cell[0] - end[0], cell[1] - end[1], cell[2] - end[2])
            joined = _joined(plan, laid, offset, cell, trigger)
            if joined is not None:
                yield Change(joined[0], _press_text(trigger, former), joined[1])


def _press_text(trigger: str, former: PulseFormer) -> str:
    """What a front makes of the press, and by what."""
    was = f"a press of {duration_text(former.trigger_steps)}" if former.trigger_steps is not None else "what stays on"
    by = {
        "short": "a comparator that the delayed press turns off again",
        "stretch": "a repeater with a delay longer than the press",
        "taps": "the press and a delayed copy of it, one after the other on one wire",
    }[former.shape]
    pulse = duration_text(former.pulse_steps)
    return f"{FRONT} {trigger} that turn {was} into a pulse of {pulse}: {by}"


def _joined(plan: Plan, former: Plan, offset: Cell, end: Cell, trigger: str) -> tuple[Plan, Cell] | None:
    """The plan with the front laid at the offset, and by how much all was shifted; None if it does not fit."""

    def placed(cell: Cell) -> Cell:
        return (cell[0] + offset[0], cell[1] + offset[1], cell[2] + offset[2])

    cells = {cell: part for cell, part in plan.cells.items() if cell != end}
    coming = {placed(cell): part for cell, part in former.cells.items()}
    floor = support_cell(coming[end], end)
    for cell, part in coming.items():
        if cell in cells and not (cell == floor or cells[cell] == part):
            return None
        cells.setdefault(cell, part)
    x, y, z = (max(0, -min(cell[axis] for cell in cells)) for axis in range(3))

    def shifted(cell: Cell) -> Cell:
        return (cell[0] + x, cell[1] + y, cell[2] + z)

    names = {**plan.triggers, trigger: placed(next(iter(former.triggers.values())))}
    try:
        whole = check_limits(
            replace(
                plan,
                cells={shifted(cell): part for cell, part in cells.items()},
                triggers={name: shifted(cell) for name, cell in names.items()},
                outputs={name: shifted(cell) for name, cell in plan.outputs.items()},
                size=shifted(plan.size),
            )
        )
    except PlanError:
        return None
    return whole, (x, y, z)
