"""Captions: what is to be said when, from the run itself, as WebVTT (W3C) and SRT that match the film."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import duration_text
from tickwright.measurement.pulses import Pulse, pulses
from tickwright.plan.hand import USUAL, Stimulus, default_act
from tickwright.publish.canvas import told_apart
from tickwright.publish.film.clock import Schedule, clock_zero, departures
from tickwright.space import cell_text

if TYPE_CHECKING:
    from tickwright.recording import Recording

SHORTEST_SECONDS = 1.0
MOST_PULSES_TOLD = 3
READ_PER_SECOND = 20  # characters of a caption file, at most
MOST_LATE_SECONDS = 1.5  # that a caption of a file comes after what it tells of, while the one before is read
DONE = {
    "press": "is pressed", "flip": "is flipped", "on": "is switched on", "off": "is switched off",
    "drop": "gets an item", "put": "gets an item", "take": "is emptied", "tread": "is stepped on", "leave": "is left",
    "clear": "is cleared",
}  # fmt: skip


class Caption(NamedTuple):
    """A caption: the step of the clock that it tells of, when it stands in the film, its lines and the step of each."""

    step: int
    begin: float
    end: float
    lines: tuple[str, ...]
    steps: tuple[int, ...] = ()

    @property
    def text(self) -> str:
        """The lines as one sentence after another."""
        return " ".join(self.lines)


def told_steps(recordings: Sequence[Recording]) -> set[int]:
    """The steps of the clock at which there is something to tell."""
    return {step for run in recordings for step, _ in _events(run)}


def captions(recordings: Sequence[Recording], clock: Schedule) -> list[Caption]:
    """The captions of a film, in order; none overlap, and each stands a second at least where there is room for it.

    What comes too soon after another is told together with it; what several designs do alike is told once.
    """
    told: dict[tuple[int, str], list[str]] = {}  # (step of the clock, sentence) -> names of the designs
    for name, run in zip(told_apart([run.plan.title for run in recordings]), recordings, strict=True):
        for step, text in _events(run):
            if step < clock.first_step:
                continue  # it was before the film begins
            told.setdefault((step, text), []).append(name)
    cues: list[tuple[int, float, list[tuple[str, int]]]] = []
    for step, pairs in groupby(sorted(told, key=lambda pair: pair[0]), key=lambda pair: pair[0]):
        lines = [(_mark(told[pair], len(recordings)) + pair[1], step) for pair in pairs]
        begin = clock.at(step)
        if cues and begin - cues[-1][1] < SHORTEST_SECONDS:
            cues[-1][2].extend(lines)
        else:
            cues.append((step, begin, lines))
    ends = [begin for _, begin, _ in cues[1:]] + [clock.seconds]
    return [
        Caption(step, begin, end, *map(tuple, zip(*lines, strict=True)))
        for (step, begin, lines), end in zip(cues, ends, strict=True)
    ]


def _mark(names: Sequence[str], designs: int) -> str:
    if designs == 1:
        return ""
    if len(names) == designs:
        return "Both: " if designs == 2 else "All: "
    return f"{', '.join(names)}: "


def _events(run: Recording) -> Iterator[tuple[int, str]]:
    """(step of the clock, sentence) for what is worth telling of one run."""
    zero = clock_zero(run)
    for stimulus in run.stimuli:
        names = [name for name, cell in run.plan.triggers.items() if cell == stimulus.cell]
        yield (
            stimulus.step - zero,
            f"{names[0] if names else cell_text(stimulus.cell)} {_done(run, stimulus)}.",
        )
    for name, cell in run.plan.triggers.items():
        if name not in run.plan.outputs and any(stimulus.cell == cell for stimulus in run.stimuli):
            for pulse in pulses(run.trace.changes_of(name))[:MOST_PULSES_TOLD]:
                if pulse.duration is not None:
                    yield (
                        pulse.start + pulse.duration - zero,
                        f"{name} is off again after {duration_text(pulse.duration)}.",
                    )
    for name in run.plan.outputs:
        yield from _output(run, name)
    yield run.trace.steps - 1 - zero, "all is at rest." if run.rested else "it goes on; the film ends."


def _done(run: Recording, stimulus: Stimulus) -> str:
    """What the hand did, in words; the usual act is that of what stood in the cell then."""
    verb = stimulus.verb
    if verb == USUAL:
        stand = run.moment(stimulus.step).stands.get(stimulus.cell)
        verb = default_act(stand.part.kind if stand is not None else None) or verb
    if stimulus.part is not None:
        return f"becomes a {stimulus.part}"
    return DONE.get(verb, verb)


def _output(run: Recording, name: str) -> Iterator[tuple[int, str]]:
    zero = clock_zero(run)
    rests_on, train = departures(run, name)
    came = [pulse for pulse in pulses(run.trace.changes_of(name)) if rests_on and pulse.start < zero]
    if came:
        yield came[-1].start - zero, f"{name} comes on."
    leaves, returns = ("goes off", "is on again") if rests_on else ("comes on", "goes off")
    of = f" of {len(train)}" if run.rested else ""
    for number, pulse in enumerate(train, 1):
        if number > MOST_PULSES_TOLD and not run.rested:
            yield pulse.start - zero, f"{name} goes on so: it {leaves} {len(train)} times in this run."
            return
        if MOST_PULSES_TOLD < number < len(train):
            continue
        time = f" for the {_ordinal(number)} time{of}" if len(train) > 1 else ""
        delay = (
            f", {duration_text(pulse.start - zero)} after the press"
            if number == 1 and run.stimuli and pulse.start >= zero
            else ""
        )
        yield pulse.start - zero, f"{name} {leaves}{time}{delay}."
        if pulse.duration is not None:
            yield pulse.start + pulse.duration - zero, f"{name} {returns}{_after(train, number, run.rested, rests_on)}."


def _after(train: Sequence[Pulse], number: int, rested: bool, rests_on: bool) -> str:
    pulse = train[number - 1]
    lasted = pulse.duration or 0
    if len(train) == 1:
        return f": it {'was off for' if rests_on else 'held'} {duration_text(lasted)}"
    if number < len(train) or not rested:
        return f" after {duration_text(lasted)}"
    span = duration_text(pulse.start + lasted - train[0].start)
    return f": from first {'off to last on' if rests_on else 'on to last off'} {span}"


def _ordinal(number: int) -> str:
    """A number as its place in a row.

    >>> _ordinal(1), _ordinal(12), _ordinal(23)
    ('1st', '12th', '23rd')
    """
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def readable(cues: Sequence[Caption]) -> list[Caption]:
    """The captions as a file tells them: no quicker than people read, and not long after what they tell of.

    Of many lines at once the first are told, as far as there is time; the storyboard and the outline have them all.

    >>> long = "edge comes on for the 1st time of 2."
    >>> [(one.begin, one.end, len(one.lines)) for one in readable([Caption(0, 0.0, 1.0, (long, long, long))])]
    []
    >>> readable([Caption(0, 0.0, 2.0, (long, long, long))])[0].lines
    ('edge comes on for the 1st time of 2.',)
    """
    told: list[Caption] = []
    free = 0.0
    for number, cue in enumerate(cues):
        begin = max(cue.begin, free)
        latest = cue.end if number == len(cues) - 1 else min(cue.end + MOST_LATE_SECONDS, cues[-1].end)
        lines: tuple[str, ...] = ()
        for line in cue.lines:
            if len(" ".join([*lines, line])) <= (latest - begin) * READ_PER_SECOND:
                lines = (*lines, line)
        if lines:
            free = max(cue.end, begin + len(" ".join(lines)) / READ_PER_SECOND)
            told.append(cue._replace(begin=begin, end=free, lines=lines, steps=cue.steps[: len(lines)]))
    return told


def vtt_text(cues: Sequence[Caption]) -> str:
    """The captions as a WebVTT file, `readable`: hours always written, three decimals, starts that never fall.

    >>> print(vtt_text([Caption(0, 0.0, 1.5, ("a < b",))]), end="")
    WEBVTT
    <BLANKLINE>
    1
    00:00:00.000 --> 00:00:01.500
    a &lt; b
    """
    blocks = []
    for number, cue in enumerate(readable(cues), 1):
        lines = [_plain(line).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") for line in cue.lines]
        blocks.append("\n".join([f"{number}", f"{stamp(cue.begin)} --> {stamp(cue.end)}", *lines]))
    return "\n\n".join(["WEBVTT", *blocks]) + "\n"


def srt_text(cues: Sequence[Caption]) -> str:
    """The captions as an SRT file, `readable`, whose times have a comma before the milliseconds."""
    blocks = []
    for number, cue in enumerate(readable(cues), 1):
        times = f"{stamp(cue.begin)} --> {stamp(cue.end)}".replace(".", ",")
        blocks.append("\n".join([f"{number}", times, *map(_plain, cue.lines)]))
    return "\n\n".join(blocks) + "\n"


def stamp(second: float) -> str:
    """A time as hh:mm:ss.ttt.

    >>> stamp(3723.0405)
    '01:02:03.040'
    """
    thousandths = int(second * 1000 + 1e-6)
    minutes, rest = divmod(thousandths, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{rest // 1000:02}.{rest % 1000:03}"


def _plain(line: str) -> str:
    """A line that is one line: what breaks lines, and the arrow of the formats, cannot come from a title."""
    return " ".join(line.split()).replace("-->", "->")
