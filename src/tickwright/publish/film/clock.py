"""The clock of a film: which step of which run is seen when, slower round the edges that matter.

Several designs share one clock: its step 0 is the press of each, or the start of a run in which nothing is pressed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import TYPE_CHECKING

from tickwright.durations import STEPS_PER_SECOND
from tickwright.errors import UsageError
from tickwright.measurement.pulses import Pulse, pulses

if TYPE_CHECKING:
    from tickwright.recording import Recording

BEFORE_STEPS = 10  # what is seen before the press
AFTER_SECONDS = 1.5  # how long the last picture stays
ROUND_STEPS = (3, 5)  # how far before and after an edge that matters the film is slow
SLOWEST, FASTEST = 0.01, 1000.0
CHARACTERS_PER_SECOND = 17  # that people read
LEAST_SECONDS = 1.2  # that a sentence stands, however short


def reading_seconds(text: str) -> float:
    """How long a sentence must stand to be read.

    >>> reading_seconds("A turn costs two levels."), reading_seconds("Off.")
    (1.411764705882353, 1.2)
    """
    return max(LEAST_SECONDS, len(text) / CHARACTERS_PER_SECOND)


@dataclass(frozen=True, slots=True)
class Schedule:
    """When each step of the common clock is seen: `begins[i]` seconds into the film for step `first_step` + i.

    `shots` are the clock's steps at which a new picture comes, the first of all included; `seconds` is how long the
    film lasts.
    """

    first_step: int
    begins: tuple[float, ...]
    shots: tuple[int, ...]
    seconds: float

    def at(self, step: int) -> float:
        """The second of the film at which a step of the clock begins; of steps outside it, the nearest."""
        return self.begins[min(max(step - self.first_step, 0), len(self.begins) - 1)]

    def pace(self, step: int) -> float:
        """How many seconds of the world go by in a second of the film, from a step of the clock to the next."""
        at = min(max(step - self.first_step, 0), len(self.begins) - 2)
        lasts = self.begins[at + 1] - self.begins[at] if at >= 0 else 0.0
        return 1 / (STEPS_PER_SECOND * lasts) if lasts else 1.0

    def shot_at(self, second: float) -> int:
        """The shot that is seen at that second of the film."""
        return self.shots[max(0, bisect_right([self.at(step) for step in self.shots], second + 1e-9) - 1)]

    def showing(self, steps: Iterable[int]) -> Schedule:
        """The same clock with a picture at each of these steps, too, those before it begins left out."""
        return replace(self, shots=tuple(sorted({*self.shots, *(step for step in steps if step >= self.first_step)})))

    def slower(self, times: int) -> Schedule:
        """The same pictures, that many times slower; the last stays as long as it did."""
        begins = tuple(begin * times for begin in self.begins)
        return Schedule(self.first_step, begins, self.shots, begins[-1] + self.seconds - self.begins[-1])


def schedule(recordings: Sequence[Recording], speed: float = 1.0, slow: float = 4.0) -> Schedule:
    """Lay out the film of these runs: `speed` times as fast as a full world, `slow` times slower round edges.

    The edges that matter are each output's first on and last off. Raises UsageError for speeds that no one can watch.
    """
    for name, value in (("--speed", speed), ("--slow", slow)):
        if not SLOWEST <= value <= FASTEST:
            raise UsageError(f"A film cannot be made with {name} {value:g}: use {SLOWEST:g} to {FASTEST:g}.")
    first = min(max(-BEFORE_STEPS, -clock_zero(run)) for run in recordings)
    last = max(run.trace.steps - clock_zero(run) for run in recordings) - 1
    edges = {edge for run in recordings for edge in edges_of(run)}
    before, after = ROUND_STEPS
    near = {step for edge in edges for step in range(edge - before, edge + after + 1)}
    one = 1 / (STEPS_PER_SECOND * speed)
    lengths = [one * (slow if step in near else 1.0) for step in range(first, last)]
    begins = tuple(accumulate(lengths, initial=0.0))
    shots = sorted({first, *(step for run in recordings for step in changes_of(run) if first < step <= last)})
    return Schedule(first, begins, tuple(shots), begins[-1] + AFTER_SECONDS)


def pace_text(pace: float) -> str:
    """How fast the world goes in a film, in words; `pace` is as `Schedule.pace` gives it.

    >>> pace_text(1.0), pace_text(0.25), pace_text(20.0), pace_text(0.4)
    ('at the speed of the world', '4 times slower', '20 times faster', '2.5 times slower')
    """
    if abs(pace - 1) < 0.005:
        return "at the speed of the world"
    return f"{1 / pace:.3g} times slower" if pace < 1 else f"{pace:.3g} times faster"


def clock_zero(run: Recording) -> int:
    """The step of the run that is step 0 of the common clock: its press, if there is one."""
    return run.pressed_at_step or 0


def departures(run: Recording, name: str) -> tuple[bool, list[Pulse]]:
    """Whether an output is on at rest, just before the press, and its pulses: if it is, its absences from then on.

    What goes on without end has no rest and counts as off.
    """
    changes, pressed = run.trace.changes_of(name), run.pressed_at_step
    if not pressed or not run.rested or not run.trace.value_at(name, pressed - 1):
        return False, pulses(changes)
    return True, pulses([(pressed - 1, 0), *((step, int(not value)) for step, value in changes if step >= pressed)])


def edges_of(run: Recording) -> list[int]:
    """The steps of the clock at which an output first leaves its rest and at which it is last back."""
    edges: list[int] = []
    for name in run.plan.outputs:
        train = departures(run, name)[1]
        if train:
            edges.append(train[0].start - clock_zero(run))
            if train[-1].duration is not None:
                edges.append(train[-1].start + train[-1].duration - clock_zero(run))
    return edges


def changes_of(run: Recording) -> set[int]:
    """The steps of the clock at which anything in the run looks different from the step before."""
    steps = {step for changes in run.shown.values() for step, _ in changes[1:]} | {step for step, _ in run.scenes[1:]}
    return {step - clock_zero(run) for step in steps}
