"""What one needs to build a plan by hand: steps, check-points run on the half-built plan, what to ask if it fails.

A check-point says what the hand does, and what a cell laid since the last one then shows; it leaves all as it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

from tickwright.diagnosis import Conversation, Leading
from tickwright.engine.reference import Simulation
from tickwright.engine.running import rules_for
from tickwright.kinds import is_a
from tickwright.measurement import find_trigger
from tickwright.measurement.observe import settle
from tickwright.measurement.press import press_stimuli
from tickwright.plan.build_order import BuildGroup, build_groups, fillings
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.recording import Moment, Recording, record
from tickwright.rules import RuleSet
from tickwright.space import Cell

__all__ = ["MOST_QUESTIONS", "Asking", "Check", "Guide", "gather_guide", "questions_tree"]

SEEN_STEPS = 6  # what is shown for less time, nobody sees
UNDONE_AFTER_STEPS = 60  # a lever is flipped back so long after it was flipped, an item taken away
LONGEST_STEPS = 1_200  # of a check-point; what works for longer is not waited for
MANY_PARTS = 120  # of more than these there is one check-point a layer at most
MOST_QUESTIONS = 10
DEEPEST = 3
_UNDONE = {"flip": "flip", "drop": "take", "put": "take"}


class Check(NamedTuple):
    """A check-point after the group of that number: `trigger` is worked once, and `cell` shows `value`.

    It does so from `first` to `last` steps after the act, 0 where it goes dark; `moment` is in between, in the run of
    `plan`, which holds what is laid so far. `undone` is the act that puts the hand's own back, "" for none.
    """

    after: int
    trigger: str
    act: str
    cell: Cell
    value: int
    first: int
    last: int
    undone: str
    plan: Plan
    moment: Moment


class Asking(NamedTuple):
    """A question about a build that does something else, its cells, and where each answer leads.

    `then` is empty where no further question was worked out; `leading` is what is likeliest so far.
    """

    question: str
    kind: str
    cells: tuple[Cell, ...]
    answers: tuple[str, ...]
    then: dict[str, Asking]
    leading: tuple[Leading, ...]
    done: bool


@dataclass(frozen=True, slots=True)
class Guide:
    """Groups of equal parts in the order in which to lay them, check-points between them, what goes into containers."""

    groups: tuple[BuildGroup, ...]
    checks: tuple[Check, ...]
    fillings: tuple[tuple[Cell, Any], ...]
    asking: Asking | None = None


def gather_guide(plan: Plan, rules: RuleSet | str | None = None, questions: int = 0) -> Guide:
    """Work out how to build a plan; with `questions`, so many of what to ask if the build does something else.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", v = "lever", w = "wire", L = "lamp"}
    ... layer = [{rows = "####"}, {rows = "vwwL"}, {rows = "...#"}]
    ... triggers = {throw = [0, 0, 1]}
    ... outputs = {lamp = [3, 0, 1]}''')
    >>> [(check.act, check.cell, check.value) for check in gather_guide(plan).checks]
    [('flip', (3, 0, 1), 15)]
    """
    ruleset = rules_for(plan, rules)
    groups = build_groups(plan)
    asking = questions_tree(plan, ruleset, questions) if questions and plan.outputs and plan.triggers else None
    return Guide(tuple(groups), tuple(_checks(plan, ruleset, groups)), tuple(fillings(plan)), asking)


# --- check-points ----------------------------------------------------------------------------------------------------


def _checks(plan: Plan, rules: RuleSet, groups: Sequence[BuildGroup]) -> Iterator[Check]:
    laid: dict[Cell, Any] = {}
    fresh: set[Cell] = set()
    for number, group in enumerate(groups):
        cells = {cell: plan.cells[cell]._replace(items=0) for cell in group.cells}
        laid |= cells
        hands = set(plan.triggers.values())  # what one's own hand works shows nothing
        fresh |= {cell for cell, part in cells.items() if part.behaviour != "still" and cell not in hands}
        ends_layer = number + 1 == len(groups) or groups[number + 1].layer != group.layer
        if number + 1 == len(groups) or not fresh or (len(plan.cells) > MANY_PARTS and not ends_layer):
            continue  # once all is laid, the first press is the check-point
        half = Plan(
            dict(laid),
            {name: cell for name, cell in plan.triggers.items() if cell in laid},
            {name: cell for name, cell in plan.outputs.items() if cell in laid},
            title=plan.title,
            rules=plan.rules,
            size=plan.size,
        )
        found = next((check for name in half.triggers if (check := _check(half, rules, name, number, fresh))), None)
        if found is not None:
            fresh.clear()
            yield found


def _check(half: Plan, rules: RuleSet, name: str, after: int, fresh: Collection[Cell]) -> Check | None:
    """What working the trigger shows at cells laid lately; None if nothing, or if the build is not then as before."""
    setup = Setup(half, rules)
    trigger = find_trigger(setup, name)
    rest, settled = settle(Simulation(setup))
    if not settled:
        return None
    at = max(rest, 1)
    acts = press_stimuli(trigger, at)
    undone = _UNDONE.get(acts[0].verb, "")
    if undone:
        acts = (*acts, Stimulus(at + UNDONE_AFTER_STEPS, trigger.cell, undone))
    run = record(half, acts, at + LONGEST_STEPS, rules)
    if not run.rested or run.findings or not _as_before(run, at):
        return None
    until = at + UNDONE_AFTER_STEPS if undone else run.trace.steps
    seen = [span for cell in fresh if (span := _longest_span(run, cell, at, until)) is not None]
    if not seen:
        return None
    cell, value, first, last = max(seen, key=lambda span: (_worth(half, span[0]), span[1] > 0, span[2], span[0]))
    moment = run.moment((first + last) // 2)
    return Check(after, name, acts[0].verb, cell, value, first - at, last - at, undone, half, moment)


def _as_before(run: Recording, at: int) -> bool:
    """Whether at the end of a run all stands and shows what it did before the act."""
    before, after = run.moment(at - 1), run.moment(run.trace.steps - 1)
    return before.stands == after.stands and before.values == after.values


def _longest_span(run: Recording, cell: Cell, at: int, until: int) -> tuple[Cell, int, int, int] | None:
    """The longest time after the act for which the cell shows one other value than before: what, from when, to when."""
    before = run.moment(at - 1).values.get(cell, 0)
    changes = [change for change in run.shown.get(cell, ()) if at <= change[0] < until]
    spans = [
        (end - step, value, step, end)
        for (step, value), (end, _) in pairwise([*changes, (until, 0)])
        if value != before
    ]
    long, value, first, last = max(spans, default=(0, 0, 0, 0))
    return (cell, value, first, last) if long >= SEEN_STEPS else None


def _worth(half: Plan, cell: Cell) -> int:
    """How well a cell serves to look at: a lamp best, then what has a level, then what is on or off."""
    part = half.cells[cell]
    return 3 if part.behaviour == "lamp" else 2 if is_a(part.kind, "wire", "comparator") else 1


# --- what to ask if the build does something else --------------------------------------------------------------------


def questions_tree(plan: Plan, rules: RuleSet | str | None = None, most: int = MOST_QUESTIONS) -> Asking:
    """The questions of `diagnose --ask` for a build of this plan: the first, and what is asked after each answer.

    At most so many questions are worked out, those nearest the first; the likeliest answers of each come first.
    """
    talk = Conversation(plan, rules)
    waiting: list[tuple[str, ...]] = [()]
    found: dict[tuple[str, ...], Asking] = {}
    while waiting and len(found) < most:
        said = waiting.pop(0)
        for answer in said:
            talk.answer(answer)
        found[said] = _asked(talk)
        if len(said) < DEEPEST and talk.question is not None and talk.question.kind != "mended":
            waiting += [(*said, answer) for answer in talk.round.answers]
        for _ in said:
            talk.take_back()
    for said, asked in sorted(found.items(), key=lambda item: -len(item[0])):
        if said:
            found[said[:-1]].then[said[-1]] = asked
    return found[()]


def _asked(talk: Conversation) -> Asking:
    now, question = talk.round, talk.question
    return Asking(
        now.question or "",
        question.kind if question is not None else "",
        question.cells if question is not None else (),
        now.answers,
        {},
        now.leading[:3],
        now.done,
    )
