"""Films that say why: one caption at a time, long enough to be read; the world stands still meanwhile if it must."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from PIL import Image

from tickwright.errors import UsageError
from tickwright.publish.film.clock import AFTER_SECONDS, Schedule, reading_seconds, schedule
from tickwright.publish.film.encode import Shot
from tickwright.publish.film.frames import Stage, Told, frame_drawing
from tickwright.publish.film.making import LOOKED_AT, MOST_SHOTS, Film, filled_up, film_scale
from tickwright.publish.film.painting import Painter
from tickwright.publish.film.telling import Caption
from tickwright.publish.flash import SLOWDOWNS, flashing, frame_luminances
from tickwright.publish.tokens import Theme
from tickwright.space import Cell

if TYPE_CHECKING:
    from tickwright.recording import Recording


class Cue(NamedTuple):
    """What to say from a step of the clock on, and the cells that it speaks of."""

    step: int
    text: str
    cells: tuple[Cell, ...] = ()


class Scene(NamedTuple):
    """One picture of the film: when it comes, the step of the world, the cue said, whether the world stands still."""

    begin: float
    step: int
    cue: int | None
    still: bool


def scenes(clock: Schedule, cues: Sequence[Cue]) -> tuple[list[Scene], Schedule]:
    """The pictures of a film with these cues in the order of their steps, and its clock with the pauses in it.

    Each cue stands until the next, for as long as it takes to read; where the world is quicker it waits at the cue's
    step.
    """
    first, last = clock.first_step, clock.first_step + len(clock.begins) - 1
    steps = [min(max(cue.step, first), last) for cue in cues]
    pauses: list[float] = []
    for number, step in enumerate(steps):
        runs_for = (clock.at(steps[number + 1]) if number + 1 < len(cues) else clock.seconds) - clock.at(step)
        pauses.append(max(0.0, reading_seconds(cues[number].text) - runs_for))
    waits = [0.0] * len(clock.begins)
    for step, pause in zip(steps, pauses, strict=True):
        if step < last:
            waits[step + 1 - first] += pause
    begins = tuple(begin + wait for begin, wait in zip(clock.begins, accumulate(waits), strict=True))
    end = sum(pause for step, pause in zip(steps, pauses, strict=True) if step == last)
    paused = Schedule(first, begins, clock.shots, begins[-1] + end + AFTER_SECONDS)
    made: list[Scene] = []
    told: int | None = None
    for step in sorted({*clock.shots, *steps}):
        here = [number for number, at in enumerate(steps) if at == step]
        begin = paused.at(step)
        if not here:
            made.append(Scene(begin, step, told, still=False))
        for number in here:
            told = number
            made.append(Scene(begin, step, number, still=pauses[number] > 0))
            begin += pauses[number] if number != here[-1] else 0.0
    return made, paused


def spoken_film(
    recording: Recording,
    cues: Sequence[Cue],
    theme: Theme = "light",
    progress: Callable[[int, int], None] | None = None,
    speed: float = 1.0,
    slow: float = 2.0,
) -> Film:
    """The film of one run with what is to be said of it, lit in the picture as it is said.

    What would flash more than three times a second over too large an area (WCAG 2.2, SC 2.3.1) runs slower; the time to
    read stays. Raises UsageError for what cannot be a film.
    """
    plain = schedule([recording], speed, slow)
    ordered = sorted(cues, key=lambda cue: cue.step)
    for slowed in SLOWDOWNS:
        clock = plain if slowed == 1 else plain.slower(slowed)
        made, paused = scenes(clock, ordered)
        if len(made) > MOST_SHOTS:
            raise UsageError(
                f"The film would have {len(made):,} pictures; {MOST_SHOTS:,} is the most. Run for less time."
            )
        if slowed == 1:
            captions = _captions(made, paused, ordered)
            stage = Stage((recording,), paused, captions, theme, "south-east")
            pictures = _pictures(stage, made, ordered, progress)
            looks = np.array([frame_luminances(np.asarray(one)[::LOOKED_AT, ::LOOKED_AT]).ravel() for one in pictures])
        found = flashing(looks, [scene.begin for scene in made])
        if found.safe:
            break
    else:
        raise UsageError("The film would flash too much, however slow: that can set off seizures. Show still pictures.")
    if slowed != 1:
        stage = Stage((recording,), paused, _captions(made, paused, ordered), theme, "south-east")
        pictures = _pictures(stage, made, ordered, None)  # for they tell the pace
    begins = [*(scene.begin for scene in made), paused.seconds]
    shots = tuple(Shot(one, end - begin) for one, (begin, end) in zip(pictures, pairwise(begins), strict=True))
    note = "" if slowed == 1 else f"The film of the lesson runs {slowed} times slower: it would flash too much."
    return Film(shots, paused, _captions(made, paused, ordered), found, slowed, note)


def _captions(made: Sequence[Scene], clock: Schedule, cues: Sequence[Cue]) -> tuple[Caption, ...]:
    first = {scene.cue: scene for scene in reversed(made) if scene.cue is not None}
    begins = [first[number].begin for number in range(len(cues))] + [clock.seconds]
    return tuple(
        Caption(cue.step, begin, end, (cue.text,), (cue.step,))
        for cue, (begin, end) in zip(cues, pairwise(begins), strict=True)
    )


def _pictures(
    stage: Stage, made: Sequence[Scene], cues: Sequence[Cue], progress: Callable[[int, int], None] | None
) -> list[Image.Image]:
    first = frame_drawing(stage, made[0].step)
    painter = Painter(stage, film_scale(first.width, first.height))
    pictures = []
    for scene in made:
        cue = cues[scene.cue] if scene.cue is not None else Cue(scene.step, "")
        pictures.append(painter.picture(scene.step, Told(cue.text, cue.cells, scene.still)))
        if progress is not None:
            progress(len(pictures), len(made))
    return filled_up(pictures)
