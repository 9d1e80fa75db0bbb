"""Evidence: what is known of one plan while its findings are gathered, each thing worked out once, when asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, TypeVar

from tickwright.diagnosis.paths import Hop, Loop, hops, hops_to, loops, reached
from tickwright.engine.reference import Simulation
from tickwright.findings import Finding
from tickwright.kinds import PASSING, kinds_with
from tickwright.measurement.measuring import kind_of
from tickwright.measurement.observe import MOST_STEPS, Observation, Runs, observe
from tickwright.measurement.press import find_trigger, takes_length
from tickwright.measurement.pulses import Pulse, pulses
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.rules.geometry import Geometry
from tickwright.rules.layout import Stand
from tickwright.space import Cell

IDLE_STEPS = 800
SPARE_STEPS = 600
MOST_WATCHED = 200_000  # cells watched times triggers pressed
UNWATCHED = kinds_with("still", "source")
MOST_TOLD = 1_000  # pulses of what goes on for ever
ALONE = ("output-unreached",)
CARRIED = (
    "container-never-fills", "container-never-drains", "piston-blocked", "piston-cannot-pull", "cell-left-behind",
    "part-broke", "item-lost",
)  # fmt: skip
Changes = list[tuple[int, int]]
Found = TypeVar("Found")


class Evidence:
    """A plan under a rule set, read and run: its geometry, its hops and loops, and a run of each press.

    In every run each cell that can change is watched. `triggers` are those that are pressed: the one named, or all that
    take a press, as many as there is room to watch (`complete` says whether that is all).
    """

    def __init__(
        self,
        setup: Setup,
        trigger: str | None = None,
        length_steps: int | None = None,
        most_steps: int = MOST_STEPS,
    ) -> None:
        self.setup = setup
        plan = setup.plan
        self.plan = plan
        self.rules = setup.rules
        can = [name for name, cell in plan.triggers.items() if _takes_press(plan, cell)]
        self.trigger = trigger
        self.length_steps = length_steps
        self.most_steps = most_steps
        self.watched = {
            str(cell): cell
            for cell, part in plan.cells.items()
            if part.kind not in UNWATCHED or cell in plan.outputs.values()
        } | {str(cell): cell for cell in plan.outputs.values()}
        names = [trigger] if trigger is not None else can[: max(1, MOST_WATCHED // max(1, len(self.watched)))]
        self.triggers = {name: find_trigger(setup, name) for name in names}
        self.complete = len(self.triggers) == len(can)
        self._presses: dict[str, Observation] = {}
        self._runs = Runs()
        self._worked_out: dict[Callable[[Evidence], Any], Any] = {}

    def once(self, work_out: Callable[[Evidence], Found]) -> Found:
        """What a function finds in this evidence, worked out when it is asked for the first time."""
        if work_out not in self._worked_out:
            self._worked_out[work_out] = work_out(self)
        found: Found = self._worked_out[work_out]
        return found

    def of(self, plan: Plan) -> Evidence:
        """The evidence of another plan, pressed in the same way, and run three times as long at most."""
        longest = max((seen.seen_steps for seen in self._presses.values()), default=0)
        return Evidence(
            Setup(plan, self.rules), self.trigger, self.length_steps, min(self.most_steps, 3 * longest + SPARE_STEPS)
        )

    def of_all_triggers(self) -> Evidence:
        """The evidence of the same plan with every trigger pressed as it is."""
        return Evidence(self.setup, None, None, self.most_steps)

    @cached_property
    def geometry(self) -> Geometry:
        """The geometry of the plan as laid."""
        return Geometry({cell: Stand(part) for cell, part in self.plan.cells.items()}, self.rules)

    @cached_property
    def hops(self) -> list[Hop]:
        """Who drives whom."""
        return hops(self.geometry)

    @cached_property
    def into(self) -> dict[Cell, list[Hop]]:
        """The hops that end at each part."""
        found: dict[Cell, list[Hop]] = {}
        for hop in self.hops:
            found.setdefault(hop.target, []).append(hop)
        return found

    @cached_property
    def out_of(self) -> dict[Cell, list[Hop]]:
        """The hops that begin at each part, those to outputs that only hear included."""
        found: dict[Cell, list[Hop]] = {}
        for hop in (*self.hops, *(hop for cell in self.plain_outputs for hop in self.output_hops[cell])):
            found.setdefault(hop.source, []).append(hop)
        return found

    @cached_property
    def plain_outputs(self) -> tuple[Cell, ...]:
        """The cells of outputs that are wires or blocks: they hear, but do not act."""
        cells = dict.fromkeys(self.plan.outputs.values())
        return tuple(cell for cell in cells if self.geometry.is_wire(cell) or self.geometry.kind(cell) in PASSING)

    @cached_property
    def output_hops(self) -> dict[Cell, list[Hop]]:
        """The hops that end at each output, by its cell."""
        cells = dict.fromkeys(self.plan.outputs.values())
        plain = set(self.plain_outputs)
        return {cell: hops_to(self.geometry, cell) if cell in plain else self.into.get(cell, []) for cell in cells}

    @cached_property
    def loops(self) -> list[Loop]:
        """The loops of repeaters and comparators."""
        return loops(self.rules, self.geometry, self.hops)

    def press(self, trigger: str) -> Observation:
        """What one press of the trigger does to every watched cell, named by its coordinates."""
        if trigger not in self._presses:
            laid = replace(self.plan, outputs=self.watched)
            place = self.triggers[trigger]
            self._presses[trigger] = observe(
                Setup(laid, self.rules),
                place,
                self.length_steps if takes_length(place) else None,
                most_steps=self.most_steps,
                runs=self._runs,
            )
        return self._presses[trigger]

    def changes(self, trigger: str, cell: Cell) -> Changes:
        """What the cell shows after a press, from (-1, value before it); a cell that is not watched never changes."""
        return self.press(trigger).changes.get(str(cell), [(-1, 0)])

    def pulses(self, trigger: str, cell: Cell) -> list[Pulse]:
        """The cell's pulses after a press, in steps from it."""
        return pulses(self.changes(trigger, cell))

    def kind(self, trigger: str, output: str) -> str:
        """The kind of answer that an output gives to a press."""
        return kind_of(self.press(trigger), str(self.plan.outputs[output]))

    def answers(self) -> dict[tuple[str, str], str]:
        """The kind of answer of every output to every trigger."""
        return {(name, output): self.kind(name, output) for name in self.triggers for output in self.plan.outputs}

    def outcomes(self) -> dict[tuple[str, str], object]:
        """What every press does to every output: kind, pulses, every level it shows; to compare with another's."""
        found: dict[tuple[str, str], object] = {}
        for name in self.triggers:
            seen = self.press(name)
            for output, cell in self.plan.outputs.items():
                key = str(cell)
                told = seen.changes[key] if seen.returns_to is None else seen.pulses(key)[:MOST_TOLD]
                found[name, output] = (self.kind(name, output), seen.changes[key][0][1], tuple(told))
        return found

    def concerned(self, code: str, cells: Sequence[Cell]) -> set[str]:
        """The outputs that what a finding is about may change: those at its cells, and those that they lead to.

        Of an output that nothing reaches that is this output alone, of a loop that a trigger is too short for what the
        loop leads to. What pistons and items carry on may come anywhere: then all outputs are.
        """
        if code in CARRIED:
            return set(self.plan.outputs)
        starts = set(
            cells[:1]
            if code in ALONE or code == "never-powered"
            else cells[1:]
            if code == "trigger-too-short"
            else cells
        )
        every = [*self.hops, *(hop for found in self.output_hops.values() for hop in found)]
        starts |= {hop.target for hop in every if code not in ALONE and not starts.isdisjoint(hop.wires)}
        led_to = starts if code in ALONE else reached(self.out_of, starts)
        return {name for name, cell in self.plan.outputs.items() if cell in led_to}

    @cached_property
    def idle(self) -> tuple[dict[Cell, Changes], list[Finding]]:
        """What every watched cell shows in the first 800 steps if nothing is pressed, and what the engine notes."""
        samples: list[tuple[int, list[int]]] = []
        sim = Simulation(self.setup, watch=self.watched, sample=lambda step, values: samples.append((step, values)))
        sim.advance(IDLE_STEPS)
        found: dict[Cell, Changes] = {cell: [(-1, samples[0][1][n])] for n, cell in enumerate(self.watched.values())}
        for step, values in samples[1:]:
            for changes, value in zip(found.values(), values, strict=True):
                if value != changes[-1][1]:
                    changes.append((step, value))
        return found, list(sim.notes.findings())

    def noted(self) -> list[Finding]:
        """What the engine noted in the runs; steps count from the start of the world."""
        if not self.triggers:
            return self.idle[1]
        return list(dict.fromkeys(finding for name in self.triggers for finding in self.press(name).findings))

    def steps_of(self, trigger: str | None, offsets: Iterable[int]) -> tuple[int, ...]:
        """Steps from a press as steps from the start of the world."""
        pressed_at = self.press(trigger).pressed_at if trigger is not None else 0
        return tuple(pressed_at + offset for offset in offsets)

    def runs(self) -> list[tuple[str | None, dict[Cell, Changes]]]:
        """What every watched cell shows in every run: one for each trigger, or the idle one if there is none."""
        if not self.triggers:
            return [(None, self.idle[0])]
        return [(name, {cell: self.changes(name, cell) for cell in self.watched.values()}) for name in self.triggers]


def _takes_press(plan: Plan, cell: Cell) -> bool:
    part = plan.cells.get(cell)
    return default_act(part.kind if part else None) is not None
