"""What is asked: a behaviour, a box, an alphabet and a rule set; and a layout replayed in all turns and orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from tickwright.design.discovery.alphabet import SEARCHED, TRIGGERS, UNPROVED, alphabet
from tickwright.design.discovery.behaviours import Behaviour, parse_behaviour
from tickwright.engine.interface import Job
from tickwright.engine.native.batch import Batch
from tickwright.engine.native.layouts import MOST_CELLS, Box, Pattern
from tickwright.engine.reference import Simulation
from tickwright.errors import UsageError, near
from tickwright.kinds import Part
from tickwright.plan.hand import Stimulus
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules import RuleSet
from tickwright.space import Cell
from tickwright.verify.copies import oriented
from tickwright.verify.orders import ORDERS, ORIENTATIONS

START_STEPS = 200  # a layout that does not rest by then is left out
MOST_CELLS_UNPROVED = 400
BUDGET_EVENTS = 4000  # one that goes on for longer has no behaviour
TURNS = ((0, False), *ORIENTATIONS)


@dataclass(frozen=True)
class Question:
    """A behaviour that some cell is to show, in a box, with these entries of the alphabet."""

    behaviour: Behaviour
    size: tuple[int, int, int]
    entries: tuple[str, ...]
    rules: RuleSet
    outputs: tuple[str, ...] = ()  # kinds of parts that may be the output; any, if none are given
    unproved: bool = False  # to be searched without proof: parts may move and hold items

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The alphabet."""
        return alphabet(self.entries, UNPROVED if self.unproved else SEARCHED)

    @cached_property
    def box(self) -> Box:
        """What the library goes through."""
        wanted = self.behaviour
        return Box(
            self.size, self.parts, self.rules, wanted.button, wanted.lever, START_STEPS, wanted.watch_steps,
            BUDGET_EVENTS,
        )  # fmt: skip

    def script(self, cells: Mapping[Cell, Part]) -> tuple[Stimulus, ...]:
        """What the hand does to the trigger of a layout."""
        trigger, part = next((cell, part) for cell, part in cells.items() if part.behaviour in TRIGGERS)
        acts = self.behaviour.button if part.behaviour == "button" else self.behaviour.lever
        return tuple(act._replace(step=act.step + START_STEPS, cell=trigger) for act in acts)

    def plan(self, options: Sequence[int], place: int) -> Plan:
        """The layout as a plan with the trigger `press` and the output `out`."""
        cells = self.box.layout(options)
        trigger = next(cell for cell, part in cells.items() if part.behaviour in TRIGGERS)
        out = self.box.cells()[place]
        title = f"{self.behaviour.text}, {len(cells)} parts in {size_text(self.size)}"
        return Plan(cells, triggers={"press": trigger}, outputs={"out": out}, title=title)

    def may_be_output(self, options: Sequence[int], place: int) -> bool:
        """Whether the cell's part is of a kind that may be the output."""
        return not self.outputs or self.parts[options[place] - 1].kind in self.outputs

    def is_robust(self, plan: Plan, verdict: int) -> bool:
        """Whether it does so in all turns and orders, on the fast engine; at once False where one does not."""
        turns = (oriented(plan, *turn) for turn in TURNS)
        shown = (self.behaviour.shown(self._pattern(turned, order)) for turned in turns for order in ORDERS)
        return all(one == verdict for one in shown)

    def _pattern(self, plan: Plan, order: str) -> Pattern:
        batch = Batch()
        layout = batch.add_plan(Setup(plan, self.rules, order))
        acts = self.script(plan.cells)
        presses = tuple(act.number if act.verb == "press" else 0 for act in acts)
        steps = START_STEPS + self.behaviour.watch_steps
        (seen,) = batch.changes([Job(layout, acts, presses)], steps, BUDGET_EVENTS)
        return pattern_of(list(zip(seen.steps, seen.values, strict=True)), not seen.ended)

    def replayed(self, plan: Plan, verdict: int) -> tuple[int, int]:
        """In how many turns and orders the reference engine sees it do so, and of how many."""
        good = 0
        for turn in TURNS:
            turned = oriented(plan, *turn)
            good += sum(self.behaviour.shown(self._seen(turned, order)) == verdict for order in ORDERS)
        return good, len(TURNS) * len(ORDERS)

    def _seen(self, plan: Plan, order: str) -> Pattern:
        """What the reference engine sees."""
        levels: list[tuple[int, int]] = []
        sim = Simulation(
            Setup(plan, self.rules, order), plan.outputs, lambda step, values: levels.append((step, values[0]))
        )
        for act in self.script(plan.cells):
            sim.advance(act.step)
            sim.button_steps = {act.cell: act.number} if act.verb == "press" and act.number else {}
            sim.queue_stimuli([act])
            sim.advance(act.step + 1)
        finished = sim.advance(START_STEPS + self.behaviour.watch_steps, BUDGET_EVENTS)
        return pattern_of(levels, not finished or sim.next_step() is not None)


def pattern_of(changes: Sequence[tuple[int, int]], goes_on: bool) -> Pattern:
    """The pattern of a trace, given as (step, level), from the first act on."""
    on, rests_on, edges = False, False, []
    for step, level in changes:
        if (level > 0) == on:
            continue
        on = not on
        if step < START_STEPS:
            rests_on = on
        else:
            edges.append(step - START_STEPS)
    return Pattern(tuple(edges), rests_on, goes_on, False)


def ask(
    behaviour: str,
    size: tuple[int, int, int],
    entries: Sequence[str],
    rules: RuleSet,
    outputs: Sequence[str] = (),
    unproved: bool = False,
) -> Question:
    """A question, checked. Raises UsageError where it cannot be asked."""
    most = MOST_CELLS_UNPROVED if unproved else MOST_CELLS
    if min(size) < 1 or size[0] * size[1] * size[2] > most:
        larger = "" if unproved else f" With --anneal, without proof, up to {MOST_CELLS_UNPROVED}."
        raise UsageError(f"A box of {size_text(size)} cannot be searched: it may have 1 to {most} cells.{larger}")
    wanted = parse_behaviour(behaviour, again=unproved)
    if unproved and wanted.is_table:
        raise UsageError(f'"{behaviour}" is a table, which only a search with proof fills: name one behaviour.')
    made = Question(wanted, size, tuple(entries), rules, tuple(outputs), unproved)
    kinds = [part.kind for part in made.parts]  # raises for kinds that cannot be searched
    for kind in outputs:
        if kind not in kinds:
            raise UsageError(f'"{kind}" is to be the output, but is none of --kinds.{near(kind, kinds)}')
    return made


def size_text(size: Sequence[int]) -> str:
    """A box as it is written, "3x2x2"."""
    return "x".join(map(str, size))
