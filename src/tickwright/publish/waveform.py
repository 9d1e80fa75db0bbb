"""Waveforms of a trace: lanes of text that fit a window, and VCD files (IEEE Std 1364-2005, 18.2)."""

from __future__ import annotations

import io
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import count, groupby, pairwise
from typing import NamedTuple

from tickwright.durations import STEPS_PER_SECOND, duration_text, seconds_number, ticks_text
from tickwright.engine.trace import Changes, Trace
from tickwright.errors import UsageError

NARROWEST = 40  # columns of the window
MOST_COLUMNS_PER_STEP = 4
MARKS_APART = 8  # columns, at least
HIGHEST_LEVEL = 15

TIMESCALE = (1, "ms")  # the standard allows 1, 10 or 100 of a unit, so a step is a number of these
TIME_PER_STEP = 1000 // STEPS_PER_SECOND


class _Signs(NamedTuple):
    heights: str  # from off to the highest value
    busy: str
    line: str
    mark: str
    cut: str


_BLOCKS = _Signs("▁▂▃▄▅▆▇", "▒", "─", "┬", "…")
_ASCII = _Signs("_.-=+*#", "X", "-", "+", "~")


class _Scale(NamedTuple):
    """How the steps `start` to `stop` - 1 are laid on columns; of the two ratios one is 1."""

    start: int
    stop: int
    steps_per_column: int
    columns_per_step: int

    def column(self, step: int) -> int:
        return (step - self.start) // self.steps_per_column * self.columns_per_step

    @property
    def columns(self) -> int:
        return self.column(self.stop - 1) + self.columns_per_step


def lanes(
    trace: Trace,
    names: Iterable[str] | None = None,
    width: int = 80,
    *,
    start: int = 0,
    stop: int | None = None,
    ascii_only: bool = False,
) -> list[str]:
    """Draw the steps `start` to `stop` - 1 of a run as lines of at most `width` columns, one lane for each name.

    Above the lanes stand seconds and ticks from the start of the run, below them what a column means. All columns
    cover equally many steps, as few as the width allows. A column shows the value at its end; one in which the value
    changed more than once shows a sign of its own instead, so that no pulse is hidden (the value at `start` counts as a
    change). A bar's height is the level out of 15, or the count out of the largest of that name; in ASCII a level is a
    hexadecimal digit. Values above 0 stand
    over their bars where they fit, except in lanes that know only 0 and 15. Raises UsageError for a width below 40, for
    an unknown name and for steps that the run does not have.

    >>> trace = Trace(40, {"lamp": ((0, 0), (4, 15), (20, 0))})
    >>> for line in lanes(trace, width=60, ascii_only=True):
    ...     print(line)
    seconds  0         0.5       1         1.5
    ticks    0         5         10        15
             +---------+---------+---------+---------
    lamp     ____################____________________
    column = 1 step (0.05 s)
    """
    stop = trace.steps if stop is None else stop
    if width < NARROWEST:
        raise UsageError(f"A window of {width} columns is too narrow for a waveform: give it at least {NARROWEST}.")
    if not 0 <= start < stop <= trace.steps:
        raise UsageError(
            f"Steps {start} to {stop} are no part of the run, which has {trace.steps} steps: "
            f"start at 0 or later, stop after the start and at {trace.steps} at the latest."
        )
    signs = _ASCII if ascii_only else _BLOCKS
    names = trace.names if names is None else tuple(names)
    gutter = min(max(map(len, ("seconds", *names))), width // 3) + 2
    scale = _scale(start, stop, width - gutter)
    lines = _ruler(scale, gutter, signs)
    busy = False
    for name in names:
        shown = _shown(trace.changes_of(name), trace.value_at(name, start), scale)
        busy = busy or None in shown
        levels = {value for _, value in trace.changes_of(name)}
        hexadecimal = ascii_only and not levels <= {0, HIGHEST_LEVEL} and max(levels) <= HIGHEST_LEVEL
        numbers, bars = _numbers(shown), _hex_bars(shown, signs) if hexadecimal else _bars(shown, signs)
        lines += [" " * gutter + numbers] if numbers else []
        lines.append(_cut(name, gutter - 2, signs.cut).ljust(gutter) + bars)
    lines.append(_legend(scale))
    if busy:
        lines.append(f"{signs.busy} = several changes within a column")
    return lines


def _scale(start: int, stop: int, room: int) -> _Scale:
    span = stop - start
    if span > room:
        return _Scale(start, stop, -(-span // room), 1)
    return _Scale(start, stop, 1, min(room // span, MOST_COLUMNS_PER_STEP))


def _shown(changes: Changes, first: int, scale: _Scale) -> list[int | None]:
    """For each column the value at its end, or None if it holds several changes; `first` is the value at the start.

    The value at the start counts as a change into the first column: else one that ends within it would not be seen.
    """
    start, stop, steps, wide = scale
    after, end = (bisect_left(changes, step, key=lambda change: change[0]) for step in (start + 1, stop))
    entries = [(start, first), *changes[after:end]]
    shown: list[int | None] = [None] * -(-(stop - start) // steps)
    for (step, value), (until, _) in pairwise([*entries, (stop, 0)]):
        here, beyond = (step - start) // steps, -(-(until - start) // steps)
        shown[here:beyond] = [value] * (beyond - here)
    for column, changed in Counter((step - start) // steps for step, _ in entries).items():
        if changed > 1:
            shown[column] = None
    return [value for value in shown for _ in range(wide)]


def _bars(shown: Sequence[int | None], signs: _Signs) -> str:
    highest = max([HIGHEST_LEVEL, *(value for value in shown if value is not None)])
    ranks = len(signs.heights) - 1  # above off
    return "".join(signs.busy if value is None else signs.heights[-(-value * ranks // highest)] for value in shown)


def _hex_bars(shown: Sequence[int | None], signs: _Signs) -> str:
    """Levels as hexadecimal digits: where no sign has a height."""
    return "".join(signs.busy if value is None else f"{value:x}" if value else signs.heights[0] for value in shown)


def _numbers(shown: Sequence[int | None]) -> str:
    """The values above 0, each over the beginning of its stretch, as far as they fit; "" if none is needed or fits.

    One fits if its stretch is long enough and it touches no other; longer stretches come first, then earlier ones.
    """
    if set(shown) <= {0, HIGHEST_LEVEL, None}:
        return ""
    row = [" "] * len(shown)
    stretches: list[tuple[int, int, str]] = []  # length, first column, number
    column = 0
    for value, same in groupby(shown):
        length = len(list(same))
        stretches.append((length, column, str(value or "")))
        column += length
    for length, column, number in sorted(stretches, key=lambda stretch: -stretch[0]):
        end = column + len(number)
        if len(number) <= length and set(row[max(column - 1, 0) : end + 1]) == {" "}:
            row[column:end] = number
    return "".join(row).rstrip()


def _ruler(scale: _Scale, gutter: int, signs: _Signs) -> list[str]:
    """Three lines: seconds and ticks since the start of the run, and a line with a mark under each of them."""
    apart = max(MARKS_APART, len(_seconds(scale.stop)) + 2, len(_ticks(scale.stop)) + 2)
    interval = next(n for n in _intervals() if n * scale.columns_per_step >= apart * scale.steps_per_column)
    marks = range(-(-scale.start // interval) * interval, scale.stop, interval)
    rows = []
    for title, label in (("seconds", _seconds), ("ticks", _ticks)):
        row = title.ljust(gutter)
        for step in marks:
            text = label(step)
            if scale.column(step) + len(text) <= scale.columns:
                row = row.ljust(gutter + scale.column(step)) + text
        rows.append(row)
    line = [signs.line] * scale.columns
    for step in marks:
        line[scale.column(step)] = signs.mark
    return [*rows, " " * gutter + "".join(line)]


def _intervals() -> Iterator[int]:
    """Steps between marks: one step, then round numbers of ticks and of seconds: 0.1 s, 0.2 s, 0.5 s, 1 s, ..."""
    yield 1
    for power in count():
        yield from (base * 10**power for base in (2, 4, 10))


def _seconds(step: int) -> str:
    return seconds_number(step)


def _ticks(step: int) -> str:
    return ticks_text(step).split()[0]


def _cut(name: str, room: int, sign: str) -> str:
    """The name, or its beginning and end if it is longer than `room`."""
    if len(name) <= room:
        return name
    tail = (room - 1) // 2
    return name[: room - 1 - tail] + sign + name[-tail:]


def _legend(scale: _Scale) -> str:
    if scale.columns_per_step > 1:
        return f"{scale.columns_per_step} columns = 1 step ({duration_text(1)})"
    steps = scale.steps_per_column
    return f"column = {steps} {'step' if steps == 1 else 'steps'} ({duration_text(steps)})"


def vcd_text(trace: Trace) -> str:
    """The trace as the text of a VCD file, the same to the byte for the same trace.

    Time counts milliseconds, 50 a step: what a name shows at the end of step n stands at time 50 * n, and the last
    time is the end of the run. Each name is an unsigned vector, called as `vcd_names` says, of 4 bits, or of as
    many as the largest count it shows takes. Source: IEEE Std 1364-2005, 18.2.

    >>> print(vcd_text(Trace(10, {"lamp": ((0, 0), (4, 15))})))  # doctest: +ELLIPSIS
    $comment ... $end
    ...
    $var reg 4 ! lamp $end
    ...
    #200
    b1111 !
    #500
    <BLANKLINE>
    """
    from vcd import VCDWriter

    called = vcd_names(trace.names)
    renamed = "".join(f"\n\t{short} is {name}" for name, short in called.items() if short != name)
    file = io.StringIO()
    writer = VCDWriter(
        file,
        timescale=TIMESCALE,
        date="",
        comment=f"One step ({duration_text(1)}) is {TIME_PER_STEP} units of time.{renamed}",
        version="tickwright",
    )
    variables = {}
    for name, changes in trace.changes.items():
        bits = max(HIGHEST_LEVEL, *(value for _, value in changes)).bit_length()
        variables[name] = writer.register_var("circuit", called[name], "reg", size=bits, init=changes[0][1])
    later = [(step, name, value) for name, changes in trace.changes.items() for step, value in changes[1:]]
    for step, name, value in sorted(later, key=lambda change: change[0]):
        writer.change(variables[name], step * TIME_PER_STEP, value)
    writer.close(trace.steps * TIME_PER_STEP)
    return file.getvalue()


def vcd_names(names: Iterable[str]) -> dict[str, str]:
    """What each name is called in a VCD file: an identifier of letters, digits and _, none of them twice.

    A name that is one already stays as it is; of the others the first to want a free one gets it.

    >>> vcd_names(["gangway-lamp", "gangway_lamp", "3,0,1"])
    {'gangway-lamp': 'gangway_lamp_2', 'gangway_lamp': 'gangway_lamp', '3,0,1': '_3_0_1'}
    """
    names = list(names)
    taken = {name for name in names if re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name)}
    called = {name: name for name in names}
    for name in names:
        if name in taken:
            continue
        base = re.sub(r"[^A-Za-z0-9_]|^(?=[0-9])", "_", name) or "_"
        free = next(text for text in (base, *map(f"{base}_{{}}".format, range(2, len(names) + 2))) if text not in taken)
        called[name] = free
        taken.add(free)
    return called
