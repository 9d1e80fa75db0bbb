"""Further presses of a run, all offsets in one batch of the fast engine, as timelines from time 0."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tickwright.charts.playing import Stage
from tickwright.charts.timeline import Timeline, wave_of
from tickwright.engine.interface import is_installed
from tickwright.plan.hand import BUILDING, Stimulus


class Timed(NamedTuple):
    """An act at a step from time 0, with its words."""

    step: int
    words: str
    act: Stimulus


class Ended(NamedTuple):
    """A run with further acts: what it showed, the last step in which anything happened, and whether it rests.

    Steps count from time 0; `rests` says that nothing was left to happen before the limit that the run had.
    """

    timeline: Timeline
    last_step: int
    rests: bool


class Copies:
    """The run from a stage with these acts, in copies of which further acts are tried."""

    def __init__(self, stage: Stage, acts: Sequence[Timed]) -> None:
        from tickwright.engine.native import Simulation

        self.stage = stage
        self.acts = sorted(acts, key=lambda act: act.step)
        watch = {**dict(zip(stage.names, stage.plan.outputs.values(), strict=True)), **stage.triggers}
        script = [self._placed(act) for act in self.acts]
        self.sim = Simulation(stage.setup, watch, script)
        self.sim.advance(stage.zero_step)

    @staticmethod
    def are_possible(acts: Sequence[Timed]) -> bool:
        """Whether the fast engine is there, and the acts are such as it tells the effect of."""
        return is_installed("fast") and not any(act.act.verb in BUILDING for act in acts)

    def _placed(self, act: Timed) -> Stimulus:
        return act.act._replace(step=self.stage.zero_step + act.step)

    def run(self, jobs: Sequence[Sequence[Timed]], limits: Sequence[int]) -> list[Ended]:
        """What comes of each list of further acts, run to rest or to before its limit; lists ascend by first acts."""
        from tickwright.engine.native import further

        zero = self.stage.zero_step
        stimuli = [[self._placed(act) for act in job] for job in jobs]
        ended = []
        for job, limit, found in zip(jobs, limits, further(self.sim, stimuli, zero + max(limits)), strict=True):
            acts = sorted([*self.acts, *job], key=lambda act: act.step)
            last = found.last_step - zero
            rests = found.at_rest and last < limit
            rows = [(step - zero, place, value) for step, place, value in found.changes if step - zero < limit]
            ended.append(Ended(self._timeline(rows, acts, limit), last if rests else limit - 1, rests))
        return ended

    def _timeline(self, rows: Sequence[tuple[int, int, int]], acts: Sequence[Timed], steps: int) -> Timeline:
        from tickwright.engine.native import WORKED

        stage, outputs = self.stage, len(self.stage.names)
        shown: list[dict[int, int]] = [{0: before} for before in stage.before]  # value at the end of each step
        triggers = list(stage.triggers)
        toggles: dict[str, list[tuple[int, int]]] = {name: [] for name in triggers}
        on = dict(stage.triggers_before)
        worked: dict[str, list[int]] = {name: [] for name in triggers}
        released: dict[str, list[int]] = {name: [] for name in triggers}
        coming = iter(acts)
        for step, place, value in rows:
            if place < 0:
                act = next(coming)
                for name, cell in stage.triggers.items():
                    if value and cell == act.act.cell:
                        (worked if value == WORKED else released)[name].append(step)
            elif place < outputs:
                shown[place][step] = value
            elif (value > 0) != on[name := triggers[place - outputs]]:
                on[name] = value > 0
                toggles[name].append((step, int(value > 0)))
                if not value and self.stage.is_button(name):
                    released[name].append(step)
        first = acts[0].step if acts else 0
        levels = {name: _changes(values) for name, values in zip(stage.names, shown, strict=True)}
        waves = {
            name: wave_of(levels[name], before > 0) for name, before in zip(stage.names, stage.before, strict=True)
        }
        return Timeline(
            steps,
            waves,
            {name: wave_of(toggles[name], stage.triggers_before[name]) for name in triggers},
            {name: tuple(times) for name, times in worked.items()},
            {name: tuple(times) for name, times in released.items()},
            {name: wave.at(first - 1) for name, wave in waves.items()},
            levels,
        )


def _changes(values: dict[int, int]) -> tuple[tuple[int, int], ...]:
    pairs: list[tuple[int, int]] = []
    for step, value in values.items():
        if not pairs or value != pairs[-1][1]:
            pairs.append((step, value))
    return tuple(pairs)
