"""Charts of runs as drawings: levels over time, trigger length against hold, and how a level fades lap by lap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, STEPS_PER_TICK, duration_text, seconds_number, ticks_text
from tickwright.engine.trace import Changes
from tickwright.errors import UsageError
from tickwright.kinds import PARTS
from tickwright.measurement import Lap, LengthRow, pulses
from tickwright.publish.canvas import Drawing, Group, Mark, lines_of, rectangle, shortened, words
from tickwright.publish.drawing import LARGE, SMALL, TEXT, scale_of_levels
from tickwright.publish.letters import text_width
from tickwright.publish.tokens import HIGHEST_LEVEL, THEMES, TOKENS, Colours, Theme, level_colour, level_ink

if TYPE_CHECKING:
    from tickwright.recording import Recording

WIDTH = 860.0
LEFT, RIGHT = 150.0, 24.0  # beside the time axis: the names; and a little room
BAR, LANE = 24.0, 40.0  # pixels: the height of level 15 in a lane, and of a lane
BAND_HIGH, GHOST_HIGH = 22.0, 22.0  # what a lane takes more above and below for bands and ghosts
STRIP = 22.0
MOST_PULSES = 12  # shown of what never rests
LEAD_STEPS = 4  # shown before the press
FULL_SPEED = f"Times assume a world at its full {STEPS_PER_SECOND} steps a second."


LEVELLED = tuple(row.name for row in PARTS.values() if row.shows_level or row.shows_passed or row.slots)


class Band(NamedTuple):
    """What is wanted of a lane from `start` to `stop` (in steps after the press), in words.

    `missing` says how much of it is missing, from the step `missing_from` on; a `ghost` is what could be instead.
    """

    start: int
    stop: int
    text: str
    missing: str = ""
    missing_from: int | None = None
    ghost: bool = False


class Axis(NamedTuple):
    """Where steps lie: `start` at x = `left`, `stop` at x = `right`."""

    start: int
    stop: int
    left: float = LEFT
    right: float = WIDTH - RIGHT

    def x(self, step: float) -> float:
        """Where a step begins, in pixels."""
        return self.left + (step - self.start) / (self.stop - self.start) * (self.right - self.left)


class Places(NamedTuple):
    """Where things lie on a timing chart: the axis of its steps, and where the bars of each lane begin, in pixels."""

    axis: Axis
    tops: Mapping[tuple[str, str], float]  # (what the design is called, lane) -> y of its bars
    bottom: float


def places_of(recordings: Mapping[str, Recording], bands: Mapping[str, Sequence[Band]] | None = None) -> Places:
    """Where `timing_chart` draws the lanes of these runs with these bands."""
    zeros = {name: recording.pressed_at_step or 0 for name, recording in recordings.items()}
    ends = {name: _shown_until(recording) - zeros[name] for name, recording in recordings.items()}
    axis = Axis(-max(min(zero, LEAD_STEPS) for zero in zeros.values()), max(ends.values()))
    tops: dict[tuple[str, str], float] = {}
    y = 66.0
    for name, recording in recordings.items():
        y += 20 * (len(recordings) > 1)
        for lane in recording.trace.names:
            over = (bands or {}).get(lane, ())
            y += BAND_HIGH * bool(over)
            tops[name, lane] = y
            y += LANE + GHOST_HIGH * any(band.ghost for band in over)
    return Places(axis, tops, y)


def timing_chart(
    recordings: Mapping[str, Recording],
    theme: Theme = "light",
    bands: Mapping[str, Sequence[Band]] | None = None,
    idle: int = 0,
) -> Drawing:
    """The levels of triggers and outputs over time, those of several designs on one clock that begins at the press.

    `recordings` maps what each design is called to its run. A bar's height and colour are the level, which is written
    on it where it fits; a lit output is amber, with how long it stays on. `bands` are what is promised (or wanted) of
    a lane, by its name, in steps after the press. `idle` says how many names were left out because nothing changes
    there. Raises UsageError if there is nothing to draw.
    """
    if not any(recording.trace.names for recording in recordings.values()):
        raise UsageError("There is nothing to chart: the plan names neither a trigger nor an output.")
    colours = THEMES[theme]
    axis, tops, bottom = places_of(recordings, bands)
    title = "Timing: " + " | ".join(recordings)
    groups = [Group((_chart_title(title, colours),))]
    body: list[Group] = []
    left_out = 0
    for name, recording in recordings.items():
        for number, lane in enumerate(recording.trace.names):
            y, over = tops[name, lane], bands_within((bands or {}).get(lane, ()), axis)
            if len(recordings) > 1 and not number:
                top = y - 20 - BAND_HIGH * bool(over)
                shown = shortened(name, TEXT, WIDTH - 24, bold=True)
                paper = rectangle(8, top - 8, text_width(shown, TEXT, bold=True) + 8, 18, colours["panel"])
                body.append(Group((paper, words(12, top + 1, shown, TEXT, colours["ink"], bold=True))))
            changes = changes_within(recording.trace.changes[lane], recording.pressed_at_step or 0, axis)
            marks, missed = lane_marks(changes, axis, y, colours, amber=is_lit(recording, lane), bands=over)
            head = words(12, y + BAR / 2, shortened(lane, TEXT, LEFT - 20, bold=True), TEXT, colours["ink"], bold=True)
            role = "output" if lane in recording.plan.outputs else "trigger"
            told = "".join(f"; {band.text}" + (f", {band.missing}" if band.missing else "") for band in over)
            body.append(Group((head, *marks), f"{lane}, {role}: {_told(changes)}{told}"))
            left_out += missed
    y = bottom
    groups.append(Group(tuple(_grid(axis, 52, y - 8, colours))))
    groups += body
    pressed = [recording.pressed_at_step is not None for recording in recordings.values()]
    zero = "the press" if all(pressed) else "the press, or the start where nothing is pressed" if any(pressed) else ""
    notes = [f"0 is {zero or 'the start; nothing is pressed'}. {FULL_SPEED}"]
    notes += [f"{name}: goes on after what is shown." for name, one in recordings.items() if not one.rested]
    if idle:
        notes.append(f"{idle} other triggers and outputs are left out: nothing changes there.")
    if left_out:
        notes.append(f"{left_out} durations do not fit beside their pulses and are left out.")
    foot, height = _foot(notes, y + 8, colours, scale=False)
    groups.append(Group(tuple(foot)))
    described = " ".join(f"{group.label}." for group in body if group.label)
    return Drawing(WIDTH, height, colours["panel"], title, described, tuple(groups))


def bands_within(bands: Sequence[Band], axis: Axis) -> list[Band]:
    """What of the bands lies on the axis."""
    return [
        band._replace(start=max(band.start, axis.start), stop=min(band.stop, axis.stop))
        for band in bands
        if band.start < axis.stop and band.stop > axis.start
    ]


def _chart_title(title: str, colours: Colours) -> Mark:
    return words(12, 18, shortened(title, LARGE, WIDTH - 24, bold=True), LARGE, colours["ink"], bold=True)


def is_lit(recording: Recording, name: str) -> bool:
    """Whether what a name shows is light rather than a level: an output that is on or off."""
    cell = recording.plan.outputs.get(name)
    part = recording.plan.cells.get(cell) if cell is not None else None
    return part is not None and part.kind not in LEVELLED


def _shown_until(recording: Recording) -> int:
    """The end of the run; of one that does not come to rest, no more than the first pulses of its busiest lane."""
    if recording.rested:
        return recording.trace.steps
    starts = [[pulse.start for pulse in pulses(changes)] for changes in recording.trace.changes.values()]
    ends = [begun[MOST_PULSES] for begun in starts if len(begun) > MOST_PULSES]
    return min([recording.trace.steps, *ends])


def changes_within(changes: Changes, zero: int, axis: Axis) -> list[tuple[int, int]]:
    """The changes within the axis, counted from the step `zero`, with the value at its start."""
    moved = [(step - zero, value) for step, value in changes]
    first = [value for step, value in moved if step <= axis.start] or [moved[0][1]]
    return [(axis.start, first[-1]), *((step, value) for step, value in moved if axis.start < step < axis.stop)]


def _stretches(changes: Sequence[tuple[int, int]], stop: int) -> Iterator[tuple[int, int, int]]:
    """(first step, step after the last, value) of each stretch of one value."""
    for (step, value), (after, _) in pairwise([*changes, (stop, 0)]):
        yield step, after, value


def lane_marks(
    changes: Sequence[tuple[int, int]],
    axis: Axis,
    y: float,
    colours: Colours,
    *,
    amber: bool = False,
    bands: Sequence[Band] = (),
) -> tuple[list[Mark], int]:
    """One lane whose bars stand on y + BAR, with the bands behind it; and how many durations had no room."""
    base = y + BAR
    highest = max(HIGHEST_LEVEL, *(value for _, value in changes))
    marks = [mark for band in bands if not band.ghost for mark in _band(band, axis, y, colours)]
    marks.append(Mark("line", ((axis.x(axis.start), base), (axis.x(axis.stop), base)), stroke=colours["line"], width=1))
    whole = amber or {value for _, value in changes} <= {0, HIGHEST_LEVEL}
    texts: list[Mark] = []
    for start, stop, value in _stretches(changes, axis.stop):
        if not value:
            continue
        left, right = axis.x(start), axis.x(stop)
        top = y if amber else base - value / highest * BAR
        if amber:
            marks.append(rectangle(left, top, right - left, BAR, colours["amber"], colours["amberedge"], 1.2))
            continue
        fill = level_colour(colours, value) if highest == HIGHEST_LEVEL else colours["items"]
        marks.append(rectangle(left, top, max(right - left - 1, 0.5), base - top, fill))
        if not whole and text_width(str(value), SMALL, bold=True) + 2 <= right - left:
            inside = base - top >= SMALL + 2
            ink = level_ink(colours, value) if inside and highest == HIGHEST_LEVEL else colours["onitems"]
            at = (base + top) / 2 if inside else top - 7
            texts.append(
                words(
                    (left + right) / 2, at, str(value), SMALL, ink if inside else colours["ink"], "middle", bold=inside
                )
            )
    missed = 0
    if whole:
        ink = colours["amberink"] if amber else level_ink(colours, HIGHEST_LEVEL)
        texts, missed = _durations(changes, axis, y + BAR / 2, colours, ink)
    marks += texts
    for band in bands:
        if band.missing:
            marks += _missing(band, axis, y, colours)
        if band.ghost:
            marks += _ghost(band, axis, base, colours)
    return marks, missed


def _band(band: Band, axis: Axis, y: float, colours: Colours) -> Iterator[Mark]:
    """A bracket over a lane from the band's start to its stop, a tint behind the bar, and its text on the bracket."""
    left, right, top = axis.x(band.start), axis.x(band.stop), y - 10
    yield rectangle(left, y - 5, right - left, BAR + 10, colours["wanted"])
    text = shortened(band.text, SMALL, axis.right - axis.left)
    wide = text_width(text, SMALL) + 12
    soft = colours["soft"]
    for end in (left, right):
        yield Mark("line", ((end, top - 5), (end, y + BAR)), stroke=soft, width=1)
    middle = min(max((left + right) / 2, axis.left + wide / 2), axis.right - wide / 2)
    if wide < right - left:
        yield Mark("line", ((left, top), (middle - wide / 2, top)), stroke=soft, width=1)
        yield Mark("line", ((middle + wide / 2, top), (right, top)), stroke=soft, width=1)
        yield words(middle, top, text, SMALL, soft, "middle")
    else:
        yield Mark("line", ((left, top), (right, top)), stroke=soft, width=1)
        yield words(middle, top - 9, text, SMALL, soft, "middle")


def _missing(band: Band, axis: Axis, y: float, colours: Colours) -> Iterator[Mark]:
    """What is missing of a band, hatched in red, with its amount in words."""
    start, stop = band.missing_from if band.missing_from is not None else band.start, band.stop
    left, right, bad = axis.x(start), axis.x(stop), colours["bad"]
    yield rectangle(left, y, right - left, BAR, colours["wanted"], bad, 1.2)
    apart = TOKENS["hatch"]["apart_px"]
    x = left - BAR + apart
    while x < right:
        low, high = max(x, left), min(x + BAR, right)
        yield Mark("line", ((low, y + BAR - (low - x)), (high, y + BAR - (high - x))), stroke=bad, width=1)
        x += apart
    wide = text_width(band.missing, SMALL, bold=True)
    at = right + 8 if right + 8 + wide < axis.right + RIGHT else left - 8 - wide
    yield words(at, y + BAR / 2, band.missing, SMALL, bad, bold=True)


def _ghost(band: Band, axis: Axis, base: float, colours: Colours) -> Iterator[Mark]:
    """What could be: a dashed bar below the lane, with its text."""
    left, right, top = axis.x(band.start), axis.x(band.stop), base + 6
    corners = ((left, top), (right, top), (right, top + 14), (left, top + 14))
    yield Mark("area", corners, fill="none", stroke=colours["accent"], width=1.4, dashed=True)
    yield words((left + right) / 2, top + 7, band.text, SMALL, colours["accent"], "middle", bold=True)


def _durations(
    changes: Sequence[tuple[int, int]], axis: Axis, y: float, colours: Colours, ink: str
) -> tuple[list[Mark], int]:
    """How long each pulse lasts: in its bar where that fits, else beside it where there is room."""
    marks: list[Mark] = []
    missed, free = 0, axis.x(axis.start)
    found = pulses(changes)
    for number, pulse in enumerate(found, 1):
        left = axis.x(pulse.start)
        right = axis.x(axis.stop if pulse.duration is None else pulse.start + pulse.duration)
        text = "still on" if pulse.duration is None else duration_text(pulse.duration)
        wide = text_width(text, SMALL, bold=True)
        room = axis.x(found[number].start if number < len(found) else axis.stop) - right
        if wide + 8 <= right - left:
            marks.append(words((left + right) / 2, y, text, SMALL, ink, "middle", bold=True))
            free = right
        elif wide + 8 <= room and right >= free:
            marks.append(words(right + 4, y, text, SMALL, colours["ink"], bold=True))
            free = right + 4 + wide
        else:
            missed += 1
    return marks, missed


def _told(changes: Sequence[tuple[int, int]]) -> str:
    """The pulses of a lane in words."""
    found = pulses(changes)
    if changes[0][1] and len(changes) == 1:
        return "on all the time"
    ends = next((step for step, value in changes if not value), None)
    first = [f"on from the start until {duration_text(ends)}"] if changes[0][1] and ends is not None else []
    if not found and not first:
        return "no pulse"
    texts = [
        f"on at {duration_text(pulse.start)} "
        + ("and still on at the end" if pulse.duration is None else f"for {duration_text(pulse.duration)}")
        for pulse in found[:5]
    ]
    more = f", and {len(found) - 5} more pulses" if len(found) > 5 else ""
    return ", ".join([*first, *texts]) + more


def _grid(axis: Axis, top: float, bottom: float, colours: Colours) -> Iterator[Mark]:
    """Thin lines at round times, with the seconds above them."""
    last = -1.0
    for step in marks_at(axis.start, axis.stop, (WIDTH - LEFT - RIGHT) / 70):
        x = axis.x(step)
        yield Mark("line", ((x, top), (x, bottom)), stroke=colours["line" if step == 0 else "grid"], width=1)
        seconds = duration_text(step)
        half = text_width(seconds, SMALL) / 2
        if x - half > last and x + half < WIDTH:
            yield words(x, top - 10, seconds, SMALL, colours["soft"], "middle")
            last = x + half + 6


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
    groups = [Group((_chart_title(title, colours),))]
    y, body = 92.0, []
    for lap in moving:
        changes = [(axis.start, lap.levels[0][1]), *((step, value) for step, value in lap.levels[1:])]
        marks = [words(12, y + STRIP / 2, f"{lap.cell}", SMALL, colours["ink"], bold=True)]
        for start, stop, value in _stretches(changes, axis.stop):
            left, right = axis.x(start), axis.x(stop)
            fill = level_colour(colours, value)
            high = value / HIGHEST_LEVEL * STRIP
            marks.append(rectangle(left, y + STRIP - high, max(right - left - 1, 0.5), high, fill))
            if value and text_width(str(value), SMALL, bold=True) + 2 <= right - left:
                inside = high >= SMALL + 1
                at, ink = (
                    (y + STRIP - high / 2, level_ink(colours, value))
                    if inside
                    else (y + STRIP - high - 7, colours["ink"])
                )
                marks.append(words((left + right) / 2, at, str(value), SMALL, ink, "middle", bold=inside))
        levels = ", ".join(f"{value} at {duration_text(step)}" for step, value in lap.levels[1:])
        body.append(Group(tuple(marks), f"{lap.part} at {lap.cell}: {levels}"))
        y += STRIP + 8
    groups.append(Group(tuple(_grid(axis, 66, y, colours))))
    turns = [step for step, value in moving[0].levels[1:] if value]
    groups.append(Group(tuple(_turns(turns, axis, colours))))
    groups += body
    notes = [f"0 is the press. {FULL_SPEED}", f"A turn begins with each new level at {moving[0].cell}."]
    foot, height = _foot(notes, y + 16, colours)
    groups.append(Group(tuple(foot)))
    return Drawing(WIDTH, height, colours["panel"], title, " ".join(f"{g.label}." for g in body), tuple(groups))


def _turns(turns: Sequence[int], axis: Axis, colours: Colours) -> Iterator[Mark]:
    """The number of each turn above where it begins, as far as they fit."""
    yield words(12, 80, "turn", SMALL, colours["ink"])
    free = 0.0
    for number, step in enumerate(turns, 1):
        x, text = axis.x(step), str(number)
        if x >= free:
            yield words(x, 80, text, SMALL, colours["ink"], bold=True)
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
    groups = [Group((_chart_title(title, colours),))]
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
    return Drawing(WIDTH, height, colours["panel"], title, " ".join(told), tuple(groups))


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
        yield Mark("line", ((axis.x(0), level), (axis.x(axis.stop), level)), stroke=colours["grid"], width=1)
        yield words(LEFT - 8, level, seconds_number(step), SMALL, ink, "end")
    for step in marks_at(0, axis.stop, 12):
        yield Mark("line", ((axis.x(step), base), (axis.x(step), base + 4)), stroke=ink, width=1)
        yield words(axis.x(step), base + 13, ticks_text(step).split()[0], SMALL, ink, "middle")
    yield words(12, base + 13, "trigger in ticks", SMALL, ink)
    yield Mark("line", ((axis.x(0), y + 6), (axis.x(0), base), (axis.x(axis.stop), base)), stroke=ink, width=1)
    labels = []
    for row, (length, text) in enumerate(((own, "this trigger"), (least, "minimum trigger"))):
        if length is not None and length <= axis.stop:
            x = axis.x(length)
            yield Mark("line", ((x, y + 14), (x, base)), stroke=colours["soft"], width=1.5)
            label = f"{text} {ticks_text(length)}"
            wide = text_width(label, SMALL)
            left = min(x + 4, WIDTH - wide - 4)
            labels.append(rectangle(left - 2, y - 3 + row * 14, wide + 4, 14, colours["panel"]))
            labels.append(words(left, y + 4 + row * 14, label, SMALL, colours["ink"]))
    yield from labels
    for found in rows:
        yield from _length_mark(axis.x(found.length_steps), found, base, y + 30, unit, colours)


def _length_mark(x: float, row: LengthRow, base: float, top: float, unit: float, colours: Colours) -> Iterator[Mark]:
    ink, size = colours["ink"], 3.0
    if row.hold_steps is None:
        if row.pulses:
            yield Mark("area", ((x - 4, top + 4), (x + 4, top + 4), (x, top - 4)), fill=colours["ink"])
        else:
            yield Mark("circle", ((x, base),), size, fill=colours["panel"], stroke=ink, width=1)
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
        hold = f", hold {duration_text(min(holds))} to {duration_text(max(holds))}" if holds else ""
        texts.append(
            f"{first} to {last} steps give {kind}{hold}" if first != last else f"{first} steps give {kind}{hold}"
        )
    return "; ".join(texts[:12]) + ("; and so on" if len(texts) > 12 else "")
