"""Figures derived anew: from another run, on any engine, never from the trace that they were told by."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable
from typing import Any

from tickwright.diagnosis.reasons.sentences import Figure, Sentence
from tickwright.engine import run
from tickwright.kinds import Part
from tickwright.measurement import find_trigger, measure
from tickwright.measurement.observe import Runs
from tickwright.measurement.press import press_stimuli
from tickwright.plan.edits import place
from tickwright.plan.setup import Setup
from tickwright.space import Cell


class Derivation:
    """One press of a trigger, run by the engine named and watched at the cells that figures speak of."""

    def __init__(self, setup: Setup, trigger: str, pressed_at: int, steps: int, engine: str | None = None) -> None:
        self.setup = setup
        self.plan, self.rules, self.trigger, self.at = setup.plan, setup.rules, trigger, pressed_at
        self._steps, self._engine = steps, engine
        self._runs = Runs()
        self._changes: dict[Cell, tuple[tuple[int, int], ...]] = {}

    def watch(self, cells: Iterable[Cell]) -> None:
        """Run once for all these cells."""
        wanted = {cell for cell in cells if cell not in self._changes}
        if not wanted:
            return
        named = {f"c{number}": cell for number, cell in enumerate(sorted(wanted))}
        stimuli = press_stimuli(find_trigger(self.setup, self.trigger), self.at)
        trace = run(self.plan, stimuli, self._steps, self.rules, engine=self._engine, watch=named).trace
        for name, cell in named.items():
            self._changes[cell] = trace.changes[name]

    def value(self, figure: Figure) -> int:
        """The figure's value as this run has it. Raises KeyError for a figure of a sort that is not known."""
        return int(_DERIVE[figure.of[0]](self, *figure.of[1:]))

    def changes(self, cell: Cell) -> list[tuple[int, int]]:
        """The cell's changes from the press on, in steps from it."""
        self.watch([cell])
        return [(step - self.at, value) for step, value in self._changes[cell] if step >= max(self.at, 1)]

    def shown(self, cell: Cell, step: int) -> int:
        """What the cell shows at the end of a step, counted from the press."""
        self.watch([cell])
        changes = self._changes[cell]
        return changes[bisect_right(changes, step + self.at, key=lambda change: change[0]) - 1][1]


def cells_of(sentences: Iterable[Sentence]) -> set[Cell]:
    """Every cell that the figures of sentences are derived from."""
    found: set[Cell] = set()

    def walk(value: Any) -> None:
        if isinstance(value, Figure):
            walk(value.of)
        elif isinstance(value, tuple):
            if len(value) == 3 and all(isinstance(one, int) for one in value):
                found.add(value)
            else:
                for one in value:
                    walk(one)

    for sentence in sentences:
        for figure in sentence.figures:
            walk(figure.of)
    return found


def _span(run_: Derivation, first: Cell, one: int, second: Cell, other: int) -> int:
    return run_.changes(second)[other][0] - run_.changes(first)[one][0]


def _since_press(run_: Derivation, cell: Cell, number: int) -> int:
    return run_.changes(cell)[number][0]


def _drop(run_: Derivation, first: Cell, one: int, second: Cell, other: int) -> int:
    return run_.shown(first, one) - run_.shown(second, other)


def _moved(run_: Derivation, cell: Cell, first: int, last: int) -> int:
    return abs(run_.shown(cell, last) - run_.shown(cell, first))


def _changes(run_: Derivation, cell: Cell, first: int, last: int, every: int) -> int:
    return len(run_.changes(cell)[first : last + 1 : every])


def _pressed(run_: Derivation, output: str, length: int) -> Any:
    return measure(run_.plan, run_.trigger, output, length, run_.rules)[0]


def _hold(run_: Derivation, output: str, length: int) -> int:
    return int(_pressed(run_, output, length).hold_steps)


def _pulses(run_: Derivation, output: str, length: int) -> int:
    return len(_pressed(run_, output, length).pulses)


def _least(run_: Derivation, output: str) -> int:
    return int(measure(run_.plan, run_.trigger, output, rules=run_.rules)[0].minimum_trigger_steps or 0)


def _edited(run_: Derivation, cell: Cell, part: Part, output: str) -> int:
    changed = place(run_.plan, cell, part)
    one = measure(changed, run_.trigger, output, rules=run_.rules)[0].hold_steps
    other = measure(run_.plan, run_.trigger, output, rules=run_.rules)[0].hold_steps
    return abs(int(one or 0) - int(other or 0))


_DERIVE: dict[str, Callable[..., int]] = {
    "span": _span,
    "since press": _since_press,
    "level": Derivation.shown,
    "drop": _drop,
    "moved": _moved,
    "changes": _changes,
    "cells": lambda _, number: number,
    "length": lambda _, steps: steps,
    "least": _least,
    "pulses": _pulses,
    "hold": _hold,
    "edit": _edited,
    "sum": lambda run_, figures: sum(run_.value(figure) for figure in figures),
}
