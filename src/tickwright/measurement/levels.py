"""Levels and lengths: what every trigger length does, how a level fades lap by lap, how hold falls with distance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from tickwright.durations import STEPS_PER_TICK
from tickwright.kinds import kinds_with
from tickwright.measurement.measuring import SCANNED_STEPS, hold_of, kind_of, steps_to_rest_while_held
from tickwright.measurement.observe import Observation, Runs, observe
from tickwright.measurement.press import Trigger
from tickwright.measurement.pulses import Pulse
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.space import Cell, zyx

MOST_PULSES = 100
MOST_LAPS = 400
MOST_LEVEL_LENGTHS = 16
FADING = kinds_with("wire", "comparator")


class LengthRow(NamedTuple):
    """What a trigger of `length_steps` does to one output; `hold_steps` is None if the hold never ends or began."""

    length_steps: int
    kind: str
    delay_steps: int | None
    hold_steps: int | None
    pulses: tuple[Pulse, ...]

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {**self._asdict(), "pulses": [list(pulse) for pulse in self.pulses]}


def length_map(
    setup: Setup, trigger: Trigger, outputs: Sequence[str], runs: Runs | None = None
) -> dict[str, list[LengthRow]]:
    """For each output a row for every trigger length from 1, up to where all is at rest while the trigger is held.

    From there on a longer trigger only holds longer. If that is never so, or later than 200 steps, the map ends there.
    `runs` as for `observe`.
    """
    runs = runs or Runs()
    still = steps_to_rest_while_held(setup, trigger, runs=runs)
    top = SCANNED_STEPS if still is None else min(still + 1, SCANNED_STEPS)
    rows: dict[str, list[LengthRow]] = {output: [] for output in outputs}
    for length in range(1, top + 1):
        seen = observe(setup, trigger, length, runs=runs)
        for output in outputs:
            kind, delay, hold, found = _answer(seen, output)
            rows[output].append(LengthRow(length, kind, delay, hold, tuple(found[:MOST_PULSES])))
    return rows


class LevelRow(NamedTuple):
    """What a trigger of `length_steps` that gives `level` does to one output; fields as in LengthRow."""

    level: int
    length_steps: int
    kind: str
    delay_steps: int | None
    hold_steps: int | None


def level_map(
    setup: Setup,
    trigger: Trigger,
    outputs: Sequence[str],
    longest_steps: int,
    runs: Runs | None = None,
) -> dict[str, list[LevelRow]]:
    """For each output a row for every trigger level from 1 to 15 and, for each, for lengths up to `longest_steps`.

    Every tick is tried, or where that would be more than 16 lengths, 16 of them evenly apart, the longest included.
    `runs` as for `observe`.
    """
    runs = runs or Runs()
    ticks = max(1, longest_steps // STEPS_PER_TICK)
    count = min(ticks, MOST_LEVEL_LENGTHS)
    lengths = sorted({STEPS_PER_TICK * round(ticks * (index + 1) / count) for index in range(count)})
    rows: dict[str, list[LevelRow]] = {output: [] for output in outputs}
    top = setup.rules.wire.top_level
    for level in range(1, top + 1):
        for length in lengths:
            seen = observe(setup, trigger, length, runs=runs, level=level if level < top else None)
            for output in outputs:
                kind, delay, hold, _ = _answer(seen, output)
                rows[output].append(LevelRow(level, length, kind, delay, hold))
    return rows


def _answer(seen: Observation, output: str) -> tuple[str, int | None, int | None, list[Pulse]]:
    """The kind of what an output did, its delay, its hold if that ends, and the pulses."""
    found, kind = seen.pulses(output), kind_of(seen, output)
    hold = hold_of(found) if kind in ("one-shot", "train") else None
    return kind, found[0].start if found else None, hold, found


class DistanceRow(NamedTuple):
    """The hold behind `wire_cells` more cells of wire, that is, of the output at `threshold`; None if it has none."""

    wire_cells: int
    threshold: int
    hold_steps: int | None
    pulses: int


def holds_against_distance(setup: Setup, seen: Observation, output: str) -> list[DistanceRow]:
    """The output's hold behind ever more cells of wire, each of which takes its loss off the level, down to nothing.

    Only a wire or a comparator has rows: what else may be an output has one level, whatever is laid behind it. What
    never ends has no hold, and so no row.
    """
    part = setup.plan.cells.get(setup.plan.outputs[output])
    if part is None or part.kind not in FADING or kind_of(seen, output) not in ("one-shot", "train"):
        return []
    rows: list[DistanceRow] = []
    for cells in range(setup.rules.wire.top_level):
        threshold = 1 + cells * setup.rules.wire.loss
        found = seen.pulses(output, threshold)
        if not found:
            break
        rows.append(DistanceRow(cells, threshold, hold_of(found), len(found)))
    return rows


class Lap(NamedTuple):
    """What a comparator shows after a press: (steps from the press, level) at each change, from before the press."""

    cell: Cell
    part: str
    levels: tuple[tuple[int, int], ...]

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {"cell": list(self.cell), "part": self.part, "levels": [list(pair) for pair in self.levels]}


def lap_table(setup: Setup, trigger: Trigger, alone: Observation | None = None) -> list[Lap]:
    """The level at each comparator of the plan after one press, change by change until it has faded.

    In (z, y, x) order; at most 400 changes of each. `alone` is the observation of that press, if it is at hand and has
    watched them, as `comparators` names them.
    """
    cells = comparators(setup.plan)
    if not cells:
        return []
    seen = alone or observe(setup, trigger, also=cells)
    return [
        Lap(cell, str(setup.plan.cells[cell]), tuple(seen.changes[name][:MOST_LAPS])) for name, cell in cells.items()
    ]


def comparators(plan: Plan) -> dict[str, Cell]:
    """The comparators of a plan in (z, y, x) order, to watch besides its outputs."""
    return {str(cell): cell for cell in sorted(plan.cells, key=zyx) if plan.cells[cell].behaviour == "comparator"}
