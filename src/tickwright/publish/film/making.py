"""Make a film: pictures of every moment, judged for flashing before anyone sees them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from PIL import Image

from tickwright.errors import UsageError
from tickwright.publish.chart import Band
from tickwright.publish.film.clock import Schedule, schedule
from tickwright.publish.film.encode import Shot
from tickwright.publish.film.frames import Stage, frame_drawing
from tickwright.publish.film.painting import Painter
from tickwright.publish.film.telling import Caption, captions, told_steps
from tickwright.publish.flash import Flashing, flashing, frame_luminances, safe_slowdown
from tickwright.publish.tokens import Theme

if TYPE_CHECKING:
    from tickwright.recording import Recording

MOST_SHOTS = 3_000
LOOKED_AT = 4  # of so many pixels each way one is looked at for flashing
LONGEST = 1920  # pixels of the longer side of a picture
LEAST_WIDE = 960  # pixels across a picture, if that makes it no longer


class Film(NamedTuple):
    """A film: its shots in order, its clock and captions, what its pictures do, and what was done about it.

    `flashing` is that of the film as it is; `slowed` how many times slower it runs than asked for, 1 if not; `note`
    says why, or warns; empty if there is nothing to say.
    """

    shots: tuple[Shot, ...]
    clock: Schedule
    captions: tuple[Caption, ...]
    flashing: Flashing
    slowed: int
    note: str


def make_film(
    recordings: Sequence[Recording],
    speed: float = 1.0,
    slow: float = 4.0,
    theme: Theme = "light",
    corner: str = "south-east",
    allow_flashing: bool = False,
    progress: Callable[[int, int], None] | None = None,
    bands: Sequence[Mapping[str, Sequence[Band]]] = (),
) -> Film:
    """The film of one run, or of several on one clock, in one frame; `bands` are what is wanted of each run's lanes.

    What would flash more than three times a second over too large an area (WCAG 2.2, SC 2.3.1, judged on the very
    pictures) is slowed until it does not, unless `allow_flashing`. `progress(done, all)` is told of pictures drawn.
    Raises UsageError for what cannot be a film.
    """
    if not recordings:
        raise UsageError("A film shows at least one run: name a plan.")
    clock = schedule(recordings, speed, slow)
    clock = clock.showing(told_steps(recordings))
    if len(clock.shots) > MOST_SHOTS:
        raise UsageError(
            f"The film would have {len(clock.shots):,} pictures; {MOST_SHOTS:,} is the most. Run for less time (--for)."
        )
    said = tuple(captions(recordings, clock))
    stage = Stage(tuple(recordings), clock, said, theme, corner, tuple(bands))
    pictures = _pictures(stage, progress)
    looks = np.array([frame_luminances(np.asarray(one)[::LOOKED_AT, ::LOOKED_AT]).ravel() for one in pictures])
    times = [clock.at(step) for step in clock.shots]
    found = flashing(looks, times)
    slowed, note = 1, ""
    if not found.safe:
        what = (
            f"{found.most_flashes} flashes within a second over {found.failing_share:.0%} of the picture, more than "
            "WCAG 2.2 SC 2.3.1 allows: that can set off seizures"
        )
        if allow_flashing:
            note = f"Warning: the film has {what}. Tell people before they watch it."
        else:
            slowed = safe_slowdown(looks, times) or 0
            if not slowed:
                raise UsageError(f"The film would have {what}, however slow. Show less of the run, or still pictures.")
            clock = clock.slower(slowed)
            said = tuple(captions(recordings, clock))
            pictures = _pictures(stage._replace(clock=clock, captions=said), None)  # for they tell the pace
            found = flashing(looks, [clock.at(step) for step in clock.shots])
            note = f"The film runs {slowed} times slower than asked for: it would have {what}."
    begins = [*(clock.at(step) for step in clock.shots), clock.seconds]
    shots = tuple(Shot(one, end - begin) for one, (begin, end) in zip(pictures, pairwise(begins), strict=True))
    return Film(shots, clock, said, found, slowed, note)


def _pictures(stage: Stage, progress: Callable[[int, int], None] | None) -> list[Image.Image]:
    """The picture of each shot, all of one size."""
    made: list[Image.Image] = []
    first = frame_drawing(stage, stage.clock.shots[0])
    painter = Painter(stage, film_scale(first.width, first.height))
    for step in stage.clock.shots:
        made.append(painter.picture(step))
        if progress is not None:
            progress(len(made), len(stage.clock.shots))
    return filled_up(made)


def film_scale(wide: float, high: float) -> float:
    """How much larger the pictures of a film are than their drawing: wide enough for a wall, no longer than allowed.

    >>> film_scale(640.0, 480.0), film_scale(2400.0, 1000.0)
    (1.5, 0.8)
    """
    return min(LONGEST / max(wide, high), max(1.0, LEAST_WIDE / wide))


def filled_up(made: Sequence[Image.Image]) -> list[Image.Image]:
    """Pictures as large as the largest of them, on the ground of the first."""
    wide, high = (max(one.size[side] for one in made) for side in (0, 1))
    ground = made[0].getpixel((0, 0))
    return [_filled_up(one, wide, high, ground) for one in made]


def _filled_up(picture: Image.Image, wide: int, high: int, ground: object) -> Image.Image:
    if picture.size == (wide, high):
        return picture
    whole = Image.new("RGB", (wide, high), ground)  # type: ignore[arg-type]
    whole.paste(picture, (0, 0))
    return whole
