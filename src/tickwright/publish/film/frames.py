"""The pictures of a film: each design at one moment, their lanes below with the present marked, and the caption."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, ticks_text
from tickwright.publish.canvas import Drawing, Group, Mark, lines_of, scaled, shifted, shortened, told_apart, words
from tickwright.publish.chart import BAND_HIGH, BAR, Axis, Band, bands_within, changes_within, is_lit, lane_marks
from tickwright.publish.drawing import SMALL, TEXT
from tickwright.publish.film.clock import Schedule, clock_zero, pace_text
from tickwright.publish.film.telling import Caption
from tickwright.publish.isometric import Memo, isometric_drawing
from tickwright.publish.letters import text_width
from tickwright.publish.tokens import THEMES, Theme
from tickwright.space import Cell

if TYPE_CHECKING:
    from tickwright.recording import Recording

WIDEST = 1280.0  # pixels of a row of designs, unless one alone is wider
READABLE = 960.0  # pixels across: in a wider film lanes and captions are as much larger, so that they stay readable
MARGIN = 12.0
CLOCK = 22.0  # how high the line is that says what time it is
LANE, LANE_NAME = BAR + 8, 150.0
CAPTION_LINES = 3
CAPTION_LINE = 19.0
HALO = 5.0  # how wide the ground is that sets off the line of the present


class Stage(NamedTuple):
    """What stays the same from picture to picture: the runs, their clock, the captions and the look.

    `bands` are what is wanted of the lanes of each run, by name, in steps of its clock.
    """

    recordings: tuple[Recording, ...]
    clock: Schedule
    captions: tuple[Caption, ...]
    theme: Theme
    corner: str
    bands: tuple[Mapping[str, Sequence[Band]], ...] = ()

    def wanted(self, number: int, name: str) -> Sequence[Band]:
        """The bands of a lane of the `number`-th run, from 0."""
        return self.bands[number].get(name, ()) if number < len(self.bands) else ()


class Told(NamedTuple):
    """What is said of a picture instead of what happens: the caption, the cells that it speaks of, if time stands."""

    text: str
    lit: tuple[Cell, ...] = ()
    still: bool = False


def frame_drawing(stage: Stage, step: int, memos: Sequence[Memo] | None = None, told: Told | None = None) -> Drawing:
    """The picture of the film at a step of the clock; `memos`, one a run, keep what pictures have in common."""
    colours = THEMES[stage.theme]
    groups: list[Group] = []
    left = top = row_high = width = 0.0
    for number in range(len(stage.recordings)):
        lit = told.lit if told is not None else ()
        picture = _picture(stage, number, step, memos[number] if memos is not None else None, lit)
        if left and left + picture.width > WIDEST:
            left, top, row_high = 0.0, top + row_high, 0.0
        groups += [shifted(group, left, top) for group in picture.groups] if left or top else picture.groups
        left, row_high = left + picture.width, max(row_high, picture.height)
        width = max(width, left)
    top += row_high
    zoom = max(1.0, width / READABLE)
    wide = width / zoom
    lanes, high = _lanes(stage, step, 0.0, wide, told is not None and told.still)
    high += MARGIN
    lines = lines_of(told.text if told is not None else _said(stage, step), TEXT, wide - 2 * MARGIN)
    if len(lines) > CAPTION_LINES:
        lines = [*lines[: CAPTION_LINES - 1], shortened(f"{lines[CAPTION_LINES - 1]} …", TEXT, wide - 2 * MARGIN)]
    said = [words(MARGIN, high + row * CAPTION_LINE, text, TEXT, colours["ink"]) for row, text in enumerate(lines)]
    high += CAPTION_LINES * CAPTION_LINE
    below = [*(Group((mark,)) for mark in lanes), Group(tuple(said))]
    groups += [shifted(scaled(group, zoom), 0.0, top) for group in below]
    top += high * zoom
    title = " and ".join(_names(stage))
    description = f"{_clock_text(stage, step)}. {' '.join(lines)}"
    return Drawing(width, top, colours["panel"], title, description, tuple(groups))


def _said(stage: Stage, step: int) -> str:
    """The caption of the moment: what was told last, one sentence; of several at once the first, and how many more."""
    told = [one for one in stage.captions if one.step <= step]
    if not told:
        return ""
    last = max((at for at in told[-1].steps if at <= step), default=None)
    now = [line for line, at in zip(told[-1].lines, told[-1].steps, strict=False) if at == last]
    more = f" And {len(now) - 1} more." if len(now) > 1 else ""
    return f"{now[0]}{more}" if now else told[-1].text


def _picture(stage: Stage, number: int, step: int, memo: Memo | None, lit: Sequence[Cell] = ()) -> Drawing:
    """One design at a step of the clock; of several each is called by the number that its lanes bear."""
    run = stage.recordings[number]
    plan = run.plan
    if len(stage.recordings) > 1:
        plan = replace(plan, title=f"{number + 1}: {_names(stage)[number]}")
    moment = run.moment(min(max(step + clock_zero(run), 0), run.trace.steps - 1))
    return isometric_drawing(plan, run.rules, moment, stage.theme, stage.corner, memo=memo, marked=lit, dated=False)


def _names(stage: Stage) -> list[str]:
    return told_apart([run.plan.title for run in stage.recordings])


def _lane_names(run: Recording) -> list[str]:
    """The triggers and outputs that do anything in the run; all of them where none does."""
    names = list(dict.fromkeys((*run.plan.triggers, *run.plan.outputs)))
    return [name for name in names if len(run.trace.changes_of(name)) > 1] or names


def _clock_text(stage: Stage, step: int) -> str:
    when = "before" if step < 0 else "after"
    zero = "press" if any(run.pressed_at_step is not None for run in stage.recordings) else "start"
    return f"{abs(step) / STEPS_PER_SECOND:.2f} s ({ticks_text(abs(step))}) {when} the {zero}"


def _lanes(stage: Stage, step: int, top: float, width: float, still: bool = False) -> tuple[list[Mark], float]:
    """A lane for each trigger and output as a chart has it, the present step marked; and where they end."""
    colours, clock = THEMES[stage.theme], stage.clock
    left, right = MARGIN + LANE_NAME, width - MARGIN
    axis = Axis(clock.first_step, clock.first_step + max(len(clock.begins) - 1, 1), left, right)
    pace = "the world stands still while you read" if still else pace_text(clock.pace(step))
    text = shortened(f"{_clock_text(stage, step)}; {pace}", SMALL, width - 2 * MARGIN)
    marks = [words(MARGIN, top + CLOCK / 2, text, SMALL, colours["ink"])]
    y = top + CLOCK
    for number, run in enumerate(stage.recordings):
        mark = f"{number + 1} " if len(stage.recordings) > 1 else ""
        for name in _lane_names(run):
            bands = bands_within(stage.wanted(number, name), axis)
            y += BAND_HIGH * bool(bands)
            text = shortened(mark + name, SMALL, LANE_NAME - 8)
            marks.append(words(left - 8, y + BAR / 2, text, SMALL, colours["ink"], "end"))
            changes = changes_within(run.trace.changes_of(name), clock_zero(run), axis)
            marks += lane_marks(changes, axis, y, colours, amber=is_lit(run, name), bands=bands)[0]
            y += LANE
    now = axis.x(min(max(step, axis.start), axis.stop))
    pieces = list(_clear_of(marks, now, top + CLOCK - 2, y))
    for name, thick in (("panel", HALO), ("accent", 2.5)):
        marks += [Mark("line", ((now, a), (now, b)), stroke=colours[name], width=thick) for a, b in pieces]
    return marks, y


def _clear_of(marks: Sequence[Mark], x: float, top: float, bottom: float) -> Iterator[tuple[float, float]]:
    """From where to where an upright line at x is drawn so that it covers no lettering."""
    words_there = sorted(
        (mark.points[0][1] - mark.radius * 0.6, mark.points[0][1] + mark.radius * 0.6)
        for mark in marks
        if mark.form == "text" and _stands_at(mark, x)
    )
    for begin, end in words_there:
        if begin > top:
            yield top, min(begin, bottom)
        top = max(top, end)
    if top < bottom:
        yield top, bottom


def _stands_at(text: Mark, x: float) -> bool:
    """Whether a line at x, with its halo, would meet the lettering."""
    wide = text_width(text.text, text.radius, bold=text.bold)
    left = text.points[0][0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    return left - HALO / 2 < x < left + wide + HALO / 2
