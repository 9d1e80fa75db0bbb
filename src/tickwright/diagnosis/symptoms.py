"""Symptoms: what a press of a circuit built with mistakes does, and in what that differs from the plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from tickwright.durations import time_text
from tickwright.measurement.measuring import hold_of, kind_of
from tickwright.measurement.observe import Observation
from tickwright.measurement.pulses import Pulse

Pair = tuple[str, str]

# What may differ, the plainest to see first.
SYMPTOMS = {
    "always-on": "is on before the press and stays on",
    "on-before": "is on before the press",
    "never-on": "never comes on",
    "stays-on": "stays on",
    "for-ever": "pulses for ever",
    "comes-on": "comes on, where it should not",
    "more-pulses": "gives more pulses",
    "fewer-pulses": "gives fewer pulses",
    "longer": "holds longer",
    "shorter": "holds shorter",
    "later": "comes on later",
    "earlier": "comes on earlier",
    "slower": "pulses more slowly",
    "faster": "pulses faster",
    "ends": "goes off, where it should not",
    "undecided": "is not decided within the steps that were run",
    "as-planned": "does what the plan does",
}


class Seen(NamedTuple):
    """What one press did to one output or cell, as far as a builder can see it: kind, times in steps, pulses.

    `kind` is one of a Measurement, or "always-on", or "on-before" for what is on before the press and goes off after:
    then the times and pulses are those of its absence.
    `hold_steps` is None if it never ended or began, `pulses` None if there is no end of them; only what pulses for ever
    has a period.
    """

    kind: str
    delay_steps: int | None
    hold_steps: int | None
    pulses: int | None
    period_steps: int | None = None

    @property
    def text(self) -> str:
        """In words."""
        plain = {
            "none": "never on",
            "latched": "stays on",
            "always-on": "on all the time",
            "undecided": "undecided",
        }
        if self.kind in plain:
            return plain[self.kind]
        if self.kind == "on-before":
            off = "for good" if self.hold_steps is None else f"for {time_text(self.hold_steps)}"
            return f"on before the press, off {off}, delay {time_text(self.delay_steps)}"
        if self.kind == "clock":
            return f"pulses for ever, period {time_text(self.period_steps)}"
        pulses = "" if self.pulses == 1 else f", {self.pulses} pulses"
        return f"hold {time_text(self.hold_steps)}, delay {time_text(self.delay_steps)}{pulses}"


def seen_at(observation: Observation, name: str) -> Seen:
    """What a press did to that output, read off an observation."""
    changes = observation.changes[name]
    kind, found = kind_of(observation, name), observation.pulses(name)
    if kind == "clock":
        return Seen(kind, found[0].start if found else None, None, None, _period(observation, found))
    if changes[0][1] > 0:
        return Seen(
            "on-before" if found else "always-on", found[0].start if found else None, hold_of(found), len(found)
        )
    ends = kind in ("one-shot", "train")
    return Seen(
        kind,
        found[0].start if found else None,
        hold_of(found) if ends else None,
        None if kind == "undecided" else len(found),
    )


def _period(observation: Observation, found: list[Pulse]) -> int | None:
    """The steps from pulse to pulse in the part of the run that comes back for ever, on the average."""
    if observation.returns_to is None:
        return None
    first, last = observation.returns_to
    starts = [pulse.start for pulse in found if first < pulse.start <= last]
    return (last - first) // len(starts) if starts else None


def symptom(own: Seen, now: Seen) -> str:
    """In what an answer differs from the plan's own: a key of SYMPTOMS, the plainest to see.

    >>> symptom(Seen("one-shot", 2, 108, 1), Seen("one-shot", 4, 108, 1))
    'later'
    """
    if now == own:
        return "as-planned"
    plain = {"none": "never-on", "latched": "stays-on", "clock": "for-ever"}
    if now.kind != own.kind and now.kind not in ("one-shot", "train"):
        return plain.get(now.kind, now.kind)
    if own.kind == "none":
        return "comes-on"
    if own.kind in ("latched", "clock", "always-on") and now.kind != own.kind:
        return "ends"
    for wide, before, after in (
        (("more-pulses", "fewer-pulses"), own.pulses, now.pulses),
        (("longer", "shorter"), own.hold_steps, now.hold_steps),
        (("later", "earlier"), own.delay_steps, now.delay_steps),
        (("slower", "faster"), own.period_steps, now.period_steps),
    ):
        if before is not None and after is not None and before != after:
            return wide[0] if after > before else wide[1]
    return "as-planned"


def seen_data(answers: Mapping[Pair, Seen]) -> list[dict[str, Any]]:
    """Answers as JSON shows them."""
    return [{"trigger": trigger, "output": output, **seen._asdict()} for (trigger, output), seen in answers.items()]
