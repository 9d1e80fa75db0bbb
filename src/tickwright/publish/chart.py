"""Charts of runs as drawings: levels over time, trigger length against hold, and how a level fades lap by lap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, STEPS_PER_TICK, seconds_text, ticks_text
from tickwright.engine.trace import Changes
from tickwright.errors import UsageError
from tickwright.measurement import Lap, LengthRow, pulses
from tickwright.publish.canvas import Drawing, Group, Mark, lines_of, rectangle, shortened, text_width, words
from tickwright.publish.drawing import LARGE, SMALL, TEXT, Colours, Theme, scale_of_levels
from tickwright.publish.palette import HIGHEST_LEVEL, THEMES, level_colour, over

if TYPE_CHECKING:
    from tickwright.recording import Recording

WIDTH = 960.0
LEFT, RIGHT = 190.0, 24.0  # beside the time axis: the names; and a little room
BAR, LANE = 34.0, 66.0  # pixels: the height of level 15 in a lane, and of a lane with its durations
STRIP = 26.0
MOST_PULSES = 12  # shown of what never rests
LEAD_STEPS = 4  # shown before the press
FULL_SPEED = f"Times assume a world at its full {STEPS_PER_SECOND} steps a second."


class Axis(NamedTuple):
    """Where steps lie: `start` at x = LEFT, `stop` at the right edge of the chart."""

    start: int
    stop: int

    def x(self, step: float) -> float:
        """Where a step begins, in pixels."""
        return LEFT + (step - self.start) / (self.stop - self.start) * (WIDTH - LEFT - RIGHT)


def timing_chart(recordings: Mapping[str, Recording], theme: Theme = "light") -> Drawing:
    """The levels of triggers and outputs over time, those of several designs on one clock that begins at the press.

    `recordings` maps what each design is called to its run. A bar's height and colour are the level, which is written
    on it where it fits; above each pulse stands how long it lasts. Raises UsageError if there is nothing to draw.
    """
    if not any(recording.trace.names for recording in recordings.values()):
        raise UsageError("There is nothing to chart: the plan names neither a trigger nor an output.")
    colours = THEMES[theme]
    zeros = {name: recording.pressed_at_step or 0 for name, recording in recordings.items()}
    ends = {name: _shown_until(recording) - zeros[name] for name, recording in recordings.items()}
    axis = Axis(-max(min(zero, LEAD_STEPS) for zero in zeros.values()), max(ends.values()))
    title = "Timing: " + " | ".join(recordings)
    groups = [Group((words(12, 20, shortened(title, LARGE, WIDTH - 24), LARGE, colours["ink"], bold=True),))]
    body: list[Group] = []
    y = 86.0
    left_out = 0
    for name, recording in recordings.items():
        if len(recordings) > 1:
            shown = shortened(name, TEXT, WIDTH - 24)
            paper = rectangle(8, y - 8, text_width(shown, TEXT) + 8, 16, colours["ground"])
            body.append(Group((paper, words(12, y, shown, TEXT, colours["ink"], bold=True))))
            y += 16
        for lane in recording.trace.names:
            changes = _from_press(recording.trace.changes[lane], zeros[name], axis)
            role = "output" if lane in recording.plan.outputs else "trigger"
            marks, missed = _lane(changes, axis, y, colours)
            head = _lane_head(lane, role, changes, y, colours)
            body.append(Group((*head, *marks), f"{lane}, {role}: {_told(changes)}"))
            left_out += missed
            y += LANE
    groups.append(Group(tuple(_grid(axis, 66, y - 8, colours))))
    groups += body
    pressed = [recording.pressed_at_step is not None for recording in recordings.values()]
    zero = "the press" if all(pressed) else "the press, or the start where nothing is pressed" if any(pressed) else ""
    notes = [f"0 is {zero or 'the start; nothing is pressed'}. {FULL_SPEED}"]
    notes += [f"{name}: goes on after what is shown." for name, one in recordings.items() if not one.rested]
    if left_out:
        notes.append(f"{left_out} durations do not fit above their pulses and are left out.")
    foot, height = _foot(notes, y + 8, colours)
    groups.append(Group(tuple(foot)))
    described = " ".join(f"{group.label}." for group in body if group.label)
    return Drawing(WIDTH, height, colours["ground"], title, described, tuple(groups))


def _shown_until(recording: Recording) -> int:
    """The end of the run; of one that does not come to rest, no more than the first pulses of its busiest lane."""
    if recording.rested:
        return recording.trace.steps
    starts = [[pulse.start for pulse in pulses(changes)] for changes in recording.trace.changes.values()]
    ends = [begun[MOST_PULSES] for begun in starts if len(begun) > MOST_PULSES]
    return min([recording.trace.steps, *ends])


def _from_press(changes: Changes, zero: int, axis: Axis) -> list[tuple[int, int]]:
    """The changes within the axis, counted from the press, with the value at its start."""
    moved = [(step - zero, value) for step, value in changes]
    first = [value for step, value in moved if step <= axis.start] or [moved[0][1]]
    return [(axis.start, first[-1]), *((step, value) for step, value in moved if axis.start < step < axis.stop)]


def _stretches(changes: Sequence[tuple[int, int]], stop: int) -> Iterator[tuple[int, int, int]]:
    """(first step, step after the last, value) of each stretch of one value."""
    for (step, value), (after, _) in pairwise([*changes, (stop, 0)]):
        yield step, after, value


def _lane_head(name: str, role: str, changes: Sequence[tuple[int, int]], y: float, colours: Colours) -> Iterator[Mark]:
    yield words(12, y + 28, shortened(name, TEXT, LEFT - 40), TEXT, colours["ink"], bold=True)
    on = next((step for step, value in changes if value and step > changes[0][0]), None)
    about = role if on is None else f"{role}, on at {seconds_text(on)}"
    yield words(12, y + 44, shortened(about, SMALL, LEFT - 24), SMALL, colours["ink"])


def _lane(changes: Sequence[tuple[int, int]], axis: Axis, y: float, colours: Colours) -> tuple[list[Mark], int]:
    """One lane, its durations above it; and how many of these had no room."""
    base = y + 18 + BAR
    highest = max(HIGHEST_LEVEL, *(value for _, value in changes))
    marks = [Mark("line", ((axis.x(axis.start), base), (axis.x(axis.stop), base)), stroke=colours["edge"], width=1)]
    outline: list[tuple[float, float]] = []
    only_full = {value for _, value in changes} <= {0, HIGHEST_LEVEL}
    texts = []
    for start, stop, value in _stretches(changes, axis.stop):
        left, right = axis.x(start), axis.x(stop)
        top = base - value / highest * BAR
        outline += [(left, top), (right, top)]
        if value:
            fill = level_colour(value) if highest == HIGHEST_LEVEL else colours["left"]
            marks.append(rectangle(left, top, right - left, base - top, fill))
            if not only_full and text_width(str(value), SMALL) + 2 <= right - left:
                inside = base - top >= SMALL + 3
                ink = over(fill) if inside else colours["ink"]
                texts.append(
                    words((left + right) / 2, base - 8 if inside else top - 7, str(value), SMALL, ink, "middle")
                )
    marks.append(Mark("line", tuple(outline), stroke=colours["ink"], width=1.5))
    durations, missed = _durations(changes, axis, y + 9, colours)
    return [*marks, *texts, *durations], missed


def _durations(changes: Sequence[tuple[int, int]], axis: Axis, y: float, colours: Colours) -> tuple[list[Mark], int]:
    """Above each pulse a line as long as it is with its duration, where that fits."""
    marks: list[Mark] = []
    missed, free = 0, axis.x(axis.start)
    ink = colours["ink"]
    found = pulses(changes)
    for number, pulse in enumerate(found, 1):
        left = axis.x(pulse.start)
        right = axis.x(axis.stop if pulse.duration is None else pulse.start + pulse.duration)
        if pulse.duration is None:
            text = "still on"
        else:
            text = f"{seconds_text(pulse.duration)}, {ticks_text(pulse.duration)}"
            if text_width(text, SMALL) + 12 > right - left:
                text = seconds_text(pulse.duration)
        wide = text_width(text, SMALL)
        room = axis.x(found[number].start if number < len(found) else axis.stop) - left
        inside = wide + 12 <= right - left
        if not inside and (wide + 2 > room or left < free):
            missed += 1
            continue
        marks += [Mark("line", ((end, y - 4), (end, y + 4)), stroke=ink, width=1) for end in (left, right)]
        if inside:
            middle = (left + right) / 2
            beside = ((left, middle - wide / 2 - 3), (middle + wide / 2 + 3, right))
            marks += [Mark("line", ((one, y), (other, y)), stroke=ink, width=1) for one, other in beside]
            marks.append(words(middle, y, text, SMALL, ink, "middle"))
            free = right
        else:
            marks.append(Mark("line", ((left, y), (right, y)), stroke=ink, width=1))
            start = min(right + 3, axis.x(axis.stop) - wide)
            marks.append(words(start, y, text, SMALL, ink))
            free = start + wide
    return marks, missed


def _told(changes: Sequence[tuple[int, int]]) -> str:
    """The pulses of a lane in words."""
    found = pulses(changes)
    if not found:
        return "on all the time" if changes[0][1] and len(changes) == 1 else "no pulse"
    texts = [
        f"on at {seconds_text(pulse.start)} "
        + ("and still on at the end" if pulse.duration is None else f"for {seconds_text(pulse.duration)}")
        for pulse in found[:5]
    ]
    more = f", and {len(found) - 5} more pulses" if len(found) > 5 else ""
    return ", ".join(texts) + more


def _grid(axis: Axis, top: float, bottom: float, colours: Colours) -> Iterator[Mark]:
    """Lines at round times, seconds above and ticks below them."""
    ink = colours["ink"]
    yield words(12, top - 20, "seconds", SMALL, ink)
    yield words(12, top - 6, "ticks", SMALL, ink)
    last = -1.0
    for step in marks_at(axis.start, axis.stop, (WIDTH - LEFT - RIGHT) / 70):
        x = axis.x(step)
        yield Mark("line", ((x, top), (x, bottom)), stroke=colours["ink" if step == 0 else "faint"], width=1)
        seconds, ticks = seconds_text(step).removesuffix(" s"), ticks_text(step).split()[0]
        if x - text_width(seconds, SMALL) / 2 > last and x + text_width(ticks, SMALL) / 2 < WIDTH:
            yield words(x, top - 20, seconds, SMALL, ink, "middle")
            yield words(x, top - 6, ticks, SMALL, ink, "middle")
            last = x + max(text_width(seconds, SMALL), text_width(ticks, SMALL)) / 2 + 6


def marks_at(start: int, stop: int, most: float) -> range:
    """Steps for the marks of an axis: at most so many, as near as round numbers of ticks or seconds allow.

    >>> list(marks_at(0, 100, 6)), list(marks_at(-4, 9, 20))[:3]
    ([0, 20, 40, 60, 80, 100], [-4, -3, -2])
    """
    bases = chain((1,), (base * 10**power for power in range(12) for base in (2, 4, 10, 20)))
    apart = next(base for base in bases if (stop - start) / base <= most)
    return range(-(-start // apart) * apart, stop + 1, apart)


def _foot(notes: Iterable[str], y: float, colours: Colours, scale: bool = True) -> tuple[list[Mark], float]:
    """The notes below a chart and the scale of levels; and where that ends."""
    marks = [
        words(12, y + row * 16, line, SMALL, colours["ink"])
        for row, line in enumerate(line for note in notes for line in lines_of(note, SMALL, WIDTH - 24))
    ]
    y += 16 * len(marks)
    if scale:
        marks += scale_of_levels(12, y, colours)
        y += 26
    return marks, y + 4


def lap_chart(trigger: str, laps: Sequence[Lap], theme: Theme = "light") -> Drawing:
    """The level at each comparator over time after one press: turn by turn it falls, until nothing is left to go round.

    They stand in the order in which the level reaches them; those that show nothing are left out. Raises UsageError if
    none is left.
    """
    moving = sorted((lap for lap in laps if len(lap.levels) > 1), key=lambda lap: lap.levels[1][0])
    if not moving:
        raise UsageError("There is no level to follow: after the press no comparator of the plan shows another level.")
    colours = THEMES[theme]
    last = max(lap.levels[-1][0] for lap in moving)
    axis = Axis(-LEAD_STEPS, last + max(LEAD_STEPS, last // 20))
    title = f"Levels at the comparators after {trigger}, turn by turn"
    groups = [Group((words(12, 20, shortened(title, LARGE, WIDTH - 24), LARGE, colours["ink"], bold=True),))]
    y, body = 92.0, []
    for lap in moving:
        changes = [(axis.start, lap.levels[0][1]), *((step, value) for step, value in lap.levels[1:])]
        marks = [words(12, y + 8, f"{lap.cell}", SMALL, colours["ink"], bold=True)]
        marks.append(words(12, y + 21, shortened(lap.part, SMALL, LEFT - 20), SMALL, colours["ink"]))
        for start, stop, value in _stretches(changes, axis.stop):
            left, right = axis.x(start), axis.x(stop)
            fill = level_colour(value) if value else colours["paper"]
            marks.append(rectangle(left, y, right - left, STRIP, fill, colours["edge"]))
            if value and text_width(str(value), SMALL) + 3 <= right - left:
                marks.append(words((left + right) / 2, y + STRIP / 2, str(value), SMALL, over(fill), "middle"))
        levels = ", ".join(f"{value} at {seconds_text(step)}" for step, value in lap.levels[1:])
        body.append(Group(tuple(marks), f"{lap.part} at {lap.cell}: {levels}"))
        y += STRIP + 8
    groups.append(Group(tuple(_grid(axis, 66, y, colours))))
    turns = [step for step, value in moving[0].levels[1:] if value]
    groups.append(Group(tuple(_turns(turns, axis, colours))))
    groups += body
    notes = [f"0 is the press. {FULL_SPEED}", f"A turn begins with each new level at {moving[0].cell}."]
    foot, height = _foot(notes, y + 16, colours)
    groups.append(Group(tuple(foot)))
    return Drawing(WIDTH, height, colours["ground"], title, " ".join(f"{g.label}." for g in body), tuple(groups))


def _turns(turns: Sequence[int], axis: Axis, colours: Colours) -> Iterator[Mark]:
    """The number of each turn above where it begins, as far as they fit."""
    yield words(12, 80, "turn", SMALL, colours["ink"])
    free = 0.0
    for number, step in enumerate(turns, 1):
        x, text = axis.x(step), str(number)
        if x >= free:
            yield words(x, 80, text, SMALL, colours["name"], bold=True)
            free = x + text_width(text, SMALL) + 3


PANEL = 190.0


def length_chart(
    trigger: str,
    rows: Mapping[str, Sequence[LengthRow]],
    own_steps: int | None = None,
    minimum_steps: Mapping[str, int | None] | None = None,
    theme: Theme = "light",
) -> Drawing:
    """Trigger length against hold: a panel for each output that has a hold, a mark for each length that was tried.

    A dot is one pulse, a cross several, a triangle at the upper edge what never ends, a ring on the axis nothing at
    all. `own_steps` is the length of the trigger itself, `minimum_steps` the least that is sure to work. Raises
    UsageError if there is no hold to chart.
    """
    held = {output: found for output, found in rows.items() if any(row.hold_steps is not None for row in found)}
    if not held:
        raise UsageError(f'No length of the trigger "{trigger}" gives a hold that ends: there is nothing to chart.')
    colours = THEMES[theme]
    title = f"How long the trigger {trigger} lasts, and how long it holds"
    groups = [Group((words(12, 20, shortened(title, LARGE, WIDTH - 24), LARGE, colours["ink"], bold=True),))]
    y = 44.0
    told = [f"{output}: {_holds(found)}." for output, found in rows.items()]
    for output, found in held.items():
        least = (minimum_steps or {}).get(output)
        groups.append(Group(tuple(_panel(output, found, own_steps, least, y, colours)), f"{output}: {_holds(found)}"))
        y += PANEL + 50
    notes = [
        *(f"{output}: {_holds(found)}." for output, found in rows.items() if output not in held),
        "Dot: one pulse. Cross: several pulses. Triangle at the top: never ends. Ring on the axis: no pulse.",
        "Hold is from the first on to the last off. " + FULL_SPEED,
    ]
    foot, height = _foot(notes, y, colours, scale=False)
    groups.append(Group(tuple(foot)))
    return Drawing(WIDTH, height, colours["ground"], title, " ".join(told), tuple(groups))


def _panel(
    output: str, rows: Sequence[LengthRow], own: int | None, least: int | None, y: float, colours: Colours
) -> Iterator[Mark]:
    ink, base = colours["ink"], y + PANEL - 10
    axis = Axis(0, max(row.length_steps for row in rows) + 1)
    highest = max([row.hold_steps or 0 for row in rows] + [STEPS_PER_TICK])
    unit = (PANEL - 40) / highest
    yield words(12, y + 30, shortened(output, TEXT, LEFT - 70), TEXT, ink, bold=True)
    yield words(12, y + 48, "hold in seconds", SMALL, ink)
    for step in marks_at(0, highest, 5):
        level = base - step * unit
        yield Mark("line", ((axis.x(0), level), (axis.x(axis.stop), level)), stroke=colours["faint"], width=1)
        yield words(LEFT - 8, level, seconds_text(step).removesuffix(" s"), SMALL, ink, "end")
    for step in marks_at(0, axis.stop, 12):
        yield Mark("line", ((axis.x(step), base), (axis.x(step), base + 4)), stroke=ink, width=1)
        yield words(axis.x(step), base + 13, ticks_text(step).split()[0], SMALL, ink, "middle")
    yield words(12, base + 13, "trigger in ticks", SMALL, ink)
    yield Mark("line", ((axis.x(0), y + 6), (axis.x(0), base), (axis.x(axis.stop), base)), stroke=ink, width=1)
    labels = []
    for row, (length, text) in enumerate(((own, "this trigger"), (least, "minimum trigger"))):
        if length is not None and length <= axis.stop:
            x = axis.x(length)
            yield Mark("line", ((x, y + 14), (x, base)), stroke=colours["name"], width=1.5, dashed=True)
            label = f"{text} {ticks_text(length)}"
            wide = text_width(label, SMALL)
            left = min(x + 4, WIDTH - wide - 4)
            labels.append(rectangle(left - 2, y - 3 + row * 14, wide + 4, 14, colours["ground"]))
            labels.append(words(left, y + 4 + row * 14, label, SMALL, colours["name"]))
    yield from labels
    for found in rows:
        yield from _length_mark(axis.x(found.length_steps), found, base, y + 30, unit, colours)


def _length_mark(x: float, row: LengthRow, base: float, top: float, unit: float, colours: Colours) -> Iterator[Mark]:
    ink, size = colours["ink"], 3.0
    if row.hold_steps is None:
        if row.pulses:
            yield Mark("area", ((x - 4, top + 4), (x + 4, top + 4), (x, top - 4)), fill=colours["name"])
        else:
            yield Mark("circle", ((x, base),), size, fill=colours["ground"], stroke=ink, width=1)
        return
    y = base - row.hold_steps * unit
    if len(row.pulses) == 1:
        yield Mark("circle", ((x, y),), size, fill=ink)
    else:
        for dx in (-1, 1):
            yield Mark("line", ((x - size * dx, y - size), (x + size * dx, y + size)), stroke=ink, width=1.5)


def _holds(rows: Sequence[LengthRow]) -> str:
    """What lengths do, in words: runs of lengths that give the same kind of answer."""
    texts = []
    for kind, group in groupby(rows, lambda row: row.kind):
        alike = list(group)
        first, last = alike[0].length_steps, alike[-1].length_steps
        holds = [row.hold_steps for row in alike if row.hold_steps is not None]
        hold = f", hold {seconds_text(min(holds))} to {seconds_text(max(holds))}" if holds else ""
        texts.append(
            f"{first} to {last} steps give {kind}{hold}" if first != last else f"{first} steps give {kind}{hold}"
        )
    return "; ".join(texts[:12]) + ("; and so on" if len(texts) > 12 else "")
