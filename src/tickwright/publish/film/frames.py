"""The pictures of a film: each design at one moment, their lanes below with the present marked, and the caption."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, ticks_text
from tickwright.measurement.pulses import pulses
from tickwright.publish.canvas import Drawing, Group, Mark, lines_of, rectangle, shifted, shortened, told_apart, words
from tickwright.publish.drawing import SMALL, TEXT
from tickwright.publish.film.clock import Schedule, clock_zero
from tickwright.publish.film.telling import Caption
from tickwright.publish.isometric import isometric_drawing
from tickwright.publish.tokens import THEMES, Theme, level_colour

if TYPE_CHECKING:
    from tickwright.recording import Recording

WIDEST = 1280.0  # pixels of a row of designs, unless one alone is wider
MARGIN = 12.0
LANE, LANE_NAME = 22.0, 150.0
CAPTION_LINES = 3
CAPTION_LINE = 19.0


class Stage(NamedTuple):
    """What stays the same from picture to picture: the runs, their clock, the captions and the look."""

    recordings: tuple[Recording, ...]
    clock: Schedule
    captions: tuple[Caption, ...]
    theme: Theme
    corner: str


def frame_drawing(stage: Stage, step: int) -> Drawing:
    """The picture of the film at a step of the clock."""
    colours = THEMES[stage.theme]
    groups: list[Group] = []
    left = top = row_high = width = 0.0
    for number in range(len(stage.recordings)):
        picture = _picture(stage, number, step)
        if left and left + picture.width > WIDEST:
            left, top, row_high = 0.0, top + row_high, 0.0
        groups += [shifted(group, left, top) for group in picture.groups]
        left, row_high = left + picture.width, max(row_high, picture.height)
        width = max(width, left)
    top += row_high
    lanes = list(_lanes(stage, step, top, width))
    top += LANE * (1 + sum(len(_lane_names(run)) for run in stage.recordings)) + MARGIN
    said = [one for one in stage.captions if one.step <= step]
    lines = lines_of(said[-1].text, TEXT, width - 2 * MARGIN) if said else []
    if len(lines) > CAPTION_LINES:
        lines = [*lines[: CAPTION_LINES - 1], shortened(f"{lines[CAPTION_LINES - 1]} …", TEXT, width - 2 * MARGIN)]
    lanes += [words(MARGIN, top + row * CAPTION_LINE, text, TEXT, colours["ink"]) for row, text in enumerate(lines)]
    top += CAPTION_LINES * CAPTION_LINE
    groups.append(Group(tuple(lanes)))
    title = " and ".join(_names(stage))
    description = f"{_clock_text(stage, step)}. {' '.join(lines)}"
    return Drawing(width, top, colours["panel"], title, description, tuple(groups))


def _picture(stage: Stage, number: int, step: int) -> Drawing:
    """One design at a step of the clock; of several each is called by the number that its lanes bear."""
    run = stage.recordings[number]
    plan = run.plan
    if len(stage.recordings) > 1:
        plan = replace(plan, title=f"{number + 1}: {_names(stage)[number]}")
    moment = run.moment(min(max(step + clock_zero(run), 0), run.trace.steps - 1))
    return isometric_drawing(plan, run.rules, moment, stage.theme, stage.corner)


def _names(stage: Stage) -> list[str]:
    return told_apart([run.plan.title for run in stage.recordings])


def _lane_names(run: Recording) -> list[str]:
    return list(dict.fromkeys((*run.plan.triggers, *run.plan.outputs)))


def _clock_text(stage: Stage, step: int) -> str:
    when = "before" if step < 0 else "after"
    zero = "press" if any(run.pressed_at_step is not None for run in stage.recordings) else "start"
    return f"{abs(step) / STEPS_PER_SECOND:.2f} s ({ticks_text(abs(step))}) {when} the {zero}"


def _lanes(stage: Stage, step: int, top: float, width: float) -> Iterator[Mark]:
    """A lane for each trigger and output, filled where it is on; a line through all at the present step."""
    colours, clock = THEMES[stage.theme], stage.clock
    left, right = MARGIN + LANE_NAME, width - MARGIN
    steps = max(len(clock.begins) - 1, 1)

    def place(at: int) -> float:
        return left + (right - left) * min(max(at - clock.first_step, 0), steps) / steps

    yield words(
        MARGIN, top + LANE / 2, shortened(_clock_text(stage, step), SMALL, width - 2 * MARGIN), SMALL, colours["ink"]
    )
    y = top + LANE
    for number, run in enumerate(stage.recordings, 1):
        mark = f"{number} " if len(stage.recordings) > 1 else ""
        for name in _lane_names(run):
            text = shortened(mark + name, SMALL, LANE_NAME - 8)
            yield words(left - 8, y + LANE / 2, text, SMALL, colours["ink"], "end")
            yield rectangle(left, y + 3, right - left, LANE - 6, colours["panel"], colours["edge"])
            for start, end in _on(run, name):
                begin = place(start)
                yield rectangle(
                    begin, y + 3, max(place(end) - begin, 1), LANE - 6, level_colour(colours, 15), colours["edge"]
                )
            y += LANE
    now = place(step)
    yield Mark("line", ((now, top + LANE - 2), (now, y + 2)), stroke=colours["accent"], width=2.5)


def _on(run: Recording, name: str) -> Iterator[tuple[int, int]]:
    """From when to when, in steps of the clock, a name is on."""
    zero, changes = clock_zero(run), run.trace.changes_of(name)
    if changes[0][1]:  # on from the start: no pulse, but shown all the same
        changes = ((-1, 0), *changes)
    for pulse in pulses(changes):
        end = run.trace.steps if pulse.duration is None else pulse.start + pulse.duration
        yield pulse.start - zero, end - zero
