"""What a second press does to a design, at many moments of its hold; on the fast engine where there is one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tickwright.durations import time_text
from tickwright.engine.interface import is_installed
from tickwright.measurement import Observation, Runs, Trigger, retrigger
from tickwright.measurement.measuring import kind_of
from tickwright.measurement.observe import FirstPress
from tickwright.measurement.press import press_stimuli
from tickwright.measurement.pulses import Pulse, pulses
from tickwright.measurement.second_press import effect_of
from tickwright.plan.setup import Setup

__all__ = ["NOT_TRIED", "Answered", "answer_to_second_press"]

NOT_TRIED = "not tried"
LONG_STEPS = 1_500  # more steps in which something happens after a press: the fast engine, or none, tries others
FEW_PRESSES = 6
AT_THE_ENDS = 80  # so many moments of a long hold are tried at its beginning, and at its end
AT_ONCE = 100  # presses in one batch
MOST_PRESSES, FEWEST_PRESSES = 400, 60
A_TICK = 2  # steps
OUT_WITHIN = 10  # steps after a second press, within which an output that restarts is at rest
MOST_STEPS = 6_000_000  # of all runs of a long hold together
Seen = Iterator[tuple[int, list[Pulse], str]]  # offset of a second press, the output's pulses, and their kind


class Answered(NamedTuple):
    """The effect of a second press, where it is the same at all moments tried; else what one of them had, and when.

    `effect` is one of ignored, extends, restarts, mixed, or NOT_TRIED; or a sentence, of an effect that is not the one
    wanted. `tried` of the `moments` steps from the trigger's own release to the end of the hold were tried.
    """

    effect: str
    tried: int
    moments: int


def answer_to_second_press(setup: Setup, trigger: Trigger, output: str, alone: Observation, wanted: str) -> Answered:
    """What a second press during the hold does; only until one moment is not as `wanted`, unless that is "any"."""
    first = alone.pulses(output)
    if trigger.length_steps is None or not first:
        return Answered(NOT_TRIED, 0, 0)
    hold = first[-1].start + (first[-1].duration or 0) - first[0].start
    offsets = range(trigger.length_steps, hold)
    fast = is_installed("fast")
    if wanted == "restarts":
        return _restarts(setup, trigger, output, alone, fast)
    if alone.active_steps > LONG_STEPS and not fast:
        return Answered(NOT_TRIED, 0, len(offsets))
    few = _few(offsets) if wanted != "any" else []
    for number, (offset, after, kind) in enumerate(_after(setup, trigger, output, alone, few, fast), 1):
        effect = effect_of(first, after, kind)
        if effect != wanted:
            return Answered(f"{effect}, {time_text(offset)} after the first", number, len(offsets))
    if fast:
        return _most(setup, trigger, output, alone, offsets)
    found = retrigger(setup, trigger, [output], alone)[output]
    return Answered(str(found.verdict), len(found.presses), len(offsets))


def _few(offsets: range) -> list[int]:
    """A few offsets, evenly spread, that most often tell enough."""
    return [offsets[len(offsets) * part // FEW_PRESSES] for part in range(FEW_PRESSES)] if offsets else []


def _restarts(setup: Setup, trigger: Trigger, output: str, alone: Observation, fast: bool) -> Answered:
    """Whether a press at every step of the hold, from a tick after it began on, puts the output out and begins anew."""
    first, *others = alone.pulses(output)
    begin = max(trigger.length_steps or 0, first.start) + A_TICK
    offsets = range(begin, first.start + (first.duration or 0))
    if others or not offsets:
        return Answered(NOT_TRIED, 0, 0)
    for offset, after, _ in _after(setup, trigger, output, alone, offsets, fast):
        if len(after) != 2 or after[0].start != first.start or after[1] != (first.start + offset, first.duration):
            return Answered(f"another, {time_text(offset)} after the first", offset - begin + 1, len(offsets))
        if after[0].start + (after[0].duration or 0) > offset + OUT_WITHIN:
            return Answered(f"slow to put it out, {time_text(offset)} after the first", offset - begin, len(offsets))
    return Answered("restarts", len(offsets), len(offsets))


def moments_tried(offsets: range, most: int) -> Iterator[int]:
    """All moments, if they are so few; else those at both ends, and others evenly between.

    >>> list(moments_tried(range(20, 26), 10)), len(list(moments_tried(range(20, 5_000), 400)))
    ([20, 21, 22, 23, 24, 25], 400)
    """
    if len(offsets) <= most:
        yield from offsets
        return
    ends = min(AT_THE_ENDS, most // 3)
    between = most - 2 * ends
    yield from offsets[:ends]
    inner = offsets[ends:-ends]
    yield from (inner[len(inner) * number // between] for number in range(between))
    yield from offsets[-ends:]


def _after(
    setup: Setup, trigger: Trigger, output: str, alone: Observation, offsets: Sequence[int], fast: bool
) -> Seen:  # fmt: skip
    """What a second press at each of these offsets gives; on the fast engine or on the reference engine."""
    if fast:
        yield from _after_fast(setup, trigger, output, alone, offsets)
        return
    press = FirstPress(setup, trigger, Runs())
    for offset in offsets:
        press.advance(offset)
        seen = press.again(offset)
        yield offset, seen.pulses(output), kind_of(seen, output)


def _after_fast(setup: Setup, trigger: Trigger, output: str, alone: Observation, offsets: Sequence[int]) -> Seen:
    """What a second press at each of these offsets gives, AT_ONCE of them in one batch."""
    from tickwright.engine.native import Simulation, further

    at, away = alone.pressed_at, alone.rest(output) == "on"
    sim = Simulation(setup, watch={output: setup.plan.outputs[output]}, stimuli=press_stimuli(trigger, at))
    sim.advance(at)
    for first in range(0, len(offsets), AT_ONCE):
        some = offsets[first : first + AT_ONCE]
        until = at + 3 * (alone.rest_steps or 0) + some[-1] + 1
        seen = further(sim, [press_stimuli(trigger, at + offset) for offset in some], until)
        for offset, found in zip(some, seen, strict=True):
            shown = {-1: alone.changes[output][0][1]}
            shown |= {step - at: value for step, place, value in found.changes if place == 0 and step >= at}
            after = pulses((step, int((value > 0) != away)) for step, value in shown.items())
            kind = "one-shot" if found.at_rest and len(after) == 1 else "train" if found.at_rest else "undecided"
            yield offset, after, kind


def _most(setup: Setup, trigger: Trigger, output: str, alone: Observation, offsets: range) -> Answered:
    """What a second press does at most moments of the hold, on the fast engine."""
    most = max(FEWEST_PRESSES, min(MOST_PRESSES, MOST_STEPS // (2 * (alone.rest_steps or 0) + 1)))
    first = alone.pulses(output)
    tried = list(moments_tried(offsets, most))
    effects = {effect_of(first, after, kind) for _, after, kind in _after_fast(setup, trigger, output, alone, tried)}
    effect = effects.pop() if len(effects) == 1 else "ignored" if not effects else "mixed"
    return Answered("mixed" if effect == "other" else effect, len(tried), len(offsets))
