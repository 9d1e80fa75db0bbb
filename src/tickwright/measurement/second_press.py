"""Retrigger: what a second press does while the output still holds from the first, at every offset."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from tickwright.kinds import a_kind
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import FirstPress, Observation, Runs, observe
from tickwright.measurement.press import Trigger
from tickwright.measurement.pulses import Pulse
from tickwright.plan.setup import Setup

MOST_OFFSETS = 400


class SecondPress(NamedTuple):
    """A second press `offset` steps after the first: the output's pulses, counted from the first press.

    `effect`: "ignored" (the pulses are those of the first press alone), "extends" (still one pulse, that ends later),
    "restarts" (the output goes off and comes on again, to end later than alone), or "other".
    """

    offset: int
    effect: str
    pulses: tuple[Pulse, ...]


class Retrigger(NamedTuple):
    """What second presses do during the first hold, in the terms of one-shots.

    `verdict` is the one effect of all offsets, "mixed" if they differ or one is "other"; None if the question has no
    sense, and then `reason` says why. `busy_steps` is how long the trigger itself ignores presses: offsets below are
    not tried, for the circuit never hears of them; if that outlasts the hold the verdict is "ignored" and the map
    empty. `every_steps` is 1 if every offset was tried; of a long hold only every so many.
    """

    verdict: str | None
    reason: str | None
    busy_steps: int | None
    every_steps: int
    presses: tuple[SecondPress, ...]

    def as_data(self) -> dict[str, Any]:
        """The map as JSON shows it."""
        return {
            "verdict": self.verdict,
            "reason": self.reason,
            "busy_steps": self.busy_steps,
            "every_steps": self.every_steps,
            "map": [
                {"offset": press.offset, "effect": press.effect, "pulses": [list(pulse) for pulse in press.pulses]}
                for press in self.presses
            ],
        }


def retrigger(
    setup: Setup,
    trigger: Trigger,
    outputs: Sequence[str],
    alone: Observation | None = None,
    runs: Runs | None = None,
) -> dict[str, Retrigger]:
    """For each output what a second press does at every offset below the hold of the first.

    There the answer to the second press would begin within the hold, since both have the delay of the circuit.
    `alone` is the observation of the first press alone, if it is at hand; `runs` as for `observe`.
    """
    runs = runs or Runs()
    first = alone or observe(setup, trigger, runs=runs)
    out: dict[str, Retrigger] = {}
    wanted: dict[str, tuple[range, int]] = {}
    for output in outputs:
        reason = _senseless(first, trigger, output)
        if reason is not None:
            out[output] = Retrigger(None, reason, trigger.length_steps, 1, ())
            continue
        hold = hold_of(first.pulses(output)) or 0
        begin = trigger.length_steps or 1
        stride = max(1, -(-(hold - begin) // MOST_OFFSETS))
        wanted[output] = (range(begin, hold, stride), stride)
    seen: dict[int, Observation] = {}
    press = FirstPress(setup, trigger, runs)
    for offset in sorted({offset for offsets, _ in wanted.values() for offset in offsets}):
        press.advance(offset)
        seen[offset] = press.again(offset)
    for output, (offsets, stride) in wanted.items():
        presses = tuple(_second(first, seen[offset], output, offset) for offset in offsets)
        effects = {press.effect for press in presses} or {"ignored"}
        verdict = effects.pop() if len(effects) == 1 else "mixed"
        out[output] = Retrigger("mixed" if verdict == "other" else verdict, None, trigger.length_steps, stride, presses)
    return {output: out[output] for output in outputs}


def _senseless(first: Observation, trigger: Trigger, output: str) -> str | None:
    """Why there is no second press during a first hold."""
    if trigger.length_steps is None:
        return f"The trigger is {a_kind(trigger.kind or 'open cell')}, which does not let go by itself."
    kind = kind_of(first, output)
    if kind == "none":
        return "The output never comes on."
    if kind not in ("one-shot", "train"):
        return f"The hold never ends ({kind})." if kind != "undecided" else "Whether the hold ends is undecided."
    return None


def _second(first: Observation, seen: Observation, output: str, offset: int) -> SecondPress:
    before, after = first.pulses(output), seen.pulses(output)
    return SecondPress(offset, effect_of(before, after, kind_of(seen, output)), tuple(after[:100]))


def effect_of(before: Sequence[Pulse], after: Sequence[Pulse], kind: str) -> str:
    """The effect that turned the pulses `before` into those `after`, which are of that kind.

    >>> effect_of([Pulse(2, 10)], [Pulse(2, 16)], "one-shot"), effect_of([Pulse(2, 10)], [Pulse(2, 7)], "one-shot")
    ('extends', 'other')
    """
    if kind not in ("one-shot", "train"):
        return "other"
    if list(before) == list(after):
        return "ignored"
    if not after or after[0].start != before[0].start or _end(after) <= _end(before):
        return "other"
    return "extends" if len(after) == 1 else "restarts"


def _end(train: Sequence[Pulse]) -> int:
    return train[-1].start + (train[-1].duration or 0)
