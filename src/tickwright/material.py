"""What sheets are made from, gathered by runs once: dossier, recorded presses, findings, mistakes, bill."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from tickwright.design import KnobRow, knob_table
from tickwright.diagnosis import Diagnosis, Explained, WhatIf, diagnose, what_if, why
from tickwright.dossier import Dossier, gather
from tickwright.engine.running import rules_for
from tickwright.guiding import Guide, gather_guide
from tickwright.kinds import support_cell
from tickwright.measurement import Measurement, measure
from tickwright.plan.bill import Bill, Prices, priced_bill
from tickwright.plan.model import Plan
from tickwright.recording import ChartRun, Press, record_charts, record_presses
from tickwright.rules import RuleSet

__all__ = ["MOST_ACTIVE_STEPS", "Material", "gather_material"]

MOST_ACTIVE_STEPS = 200
MOST_MISTAKES = 150
MOST_PARTS_TO_ALTER = 120


class Checkpoint(NamedTuple):
    """What a press does to an output once the parts up to a layer are laid."""

    layer: int
    measured: Measurement


@dataclass(frozen=True, slots=True)
class Material:
    """All that is known of one plan for its sheets.

    `unrecorded` are the (trigger, length in steps) pairs left out of `presses` for want of room. `mistakes` is None for
    a plan of more than 120 parts, for one that a press keeps busy for long, and for one of which no press is measured;
    of others at most 150 mistakes are
    tried, those made most easily first. `knobs` maps each (trigger, output) to what the settings of parts do to its
    hold; it is empty for the same plans. `charts` are the runs of the plan's charts, with what becomes of all
    their claims, those about further presses, too. `priced` says that the bill goes by the user's prices.
    """

    plan: Plan
    rules: RuleSet
    dossier: Dossier
    presses: tuple[Press, ...]
    unrecorded: tuple[tuple[str, int], ...]
    diagnosis: Diagnosis
    mistakes: WhatIf | None
    knobs: dict[tuple[str, str], tuple[KnobRow, ...]]
    bill: Bill
    priced: bool
    checkpoints: tuple[Checkpoint, ...] = ()
    charts: tuple[ChartRun, ...] = ()
    guide: Guide = field(default_factory=lambda: Guide((), (), ()))
    why: Explained | None = None


def gather_material(
    plan: Plan,
    rules: RuleSet | str | None = None,
    prices: Prices | None = None,
    questions: int = 0,
    reasons: bool = False,
) -> Material:
    """Run all that the sheets of a plan show.

    With `questions` the guided build gets so many of what to ask where it does something else; not of the plans of
    which no mistakes are tried. Why it holds is told with `reasons`, and of all plans that are not long at work. Where
    one press keeps the circuit busy in more than 200 steps, what takes many presses is left out, as the dossier says,
    and ties are not looked for. Raises what `gather` raises, and PlanError for prices that lack a part.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> material = gather_material(plan)
    >>> material.bill.number, [press.trigger for press in material.presses if press.own]
    (3, ['press'])
    """
    ruleset = rules_for(plan, rules)
    bill = priced_bill(plan, prices)
    known = gather(plan, ruleset, most_active_steps=MOST_ACTIVE_STEPS)
    presses, unrecorded = record_presses(plan, [answer.measured for answer in known.answers], ruleset)
    charts = record_charts(plan, ruleset)
    found = diagnose(plan, ruleset, depth="pressed" if known.left_out else "all")
    mistakes, knobs = None, {}
    if len(plan.cells) <= MOST_PARTS_TO_ALTER and not known.left_out and known.answers:
        tried = iter(range(MOST_MISTAKES))
        mistakes = what_if(plan, ruleset, progress=lambda _: next(tried, None) is None)
        pairs = [(answer.measured.trigger, answer.measured.output) for answer in known.answers]
        knobs = {pair: knob_table(plan, ruleset, *pair) for pair in pairs}
    explained = None
    if plan.triggers and plan.outputs and (reasons or not known.left_out):
        explained = why(plan, rules=ruleset)
    guide = gather_guide(plan, ruleset, questions if mistakes is not None else 0)
    return Material(
        plan=plan,
        rules=ruleset,
        dossier=known,
        presses=tuple(presses),
        unrecorded=tuple(unrecorded),
        diagnosis=found,
        mistakes=mistakes,
        knobs=knobs,
        bill=bill,
        priced=prices is not None,
        checkpoints=tuple(_checkpoints(plan, ruleset)) if mistakes is not None else (),
        charts=tuple(charts),
        guide=guide,
        why=explained,
    )


def _checkpoints(plan: Plan, rules: RuleSet) -> Iterator[Checkpoint]:
    """What the first press does to the outputs that are there, after each layer but the last that changes it."""
    last: tuple[str, int | None] | None = None
    highest = max((cell[2] for cell in plan.cells), default=0)
    for layer in range(highest):
        cells = {cell: part for cell, part in plan.cells.items() if cell[2] <= layer}
        supports = {cell: support_cell(part, cell) for cell, part in cells.items()}
        cells = {cell: part for cell, part in cells.items() if supports[cell] is None or supports[cell] in cells}
        triggers = {name: cell for name, cell in plan.triggers.items() if cell in cells}
        outputs = {name: cell for name, cell in plan.outputs.items() if cell in cells}
        if not triggers or not outputs:
            continue
        part_of = Plan(cells, triggers, outputs, title=plan.title, rules=plan.rules, size=plan.size)
        found = measure(part_of, next(iter(triggers)), next(iter(outputs)), rules=rules)[0]
        seen = (found.kind, found.hold_steps)
        if found.kind in ("one-shot", "latched") and seen != last:
            last = seen
            yield Checkpoint(layer, found)
