"""Measure a plan: what one press of a trigger does to an output, and the shortest trigger that it needs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tickwright.arguments import checked
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError, near
from tickwright.findings import Finding
from tickwright.looks import look_of
from tickwright.measurement.observe import MOST_STEPS, Observation, Runs, observe
from tickwright.measurement.press import Trigger, find_trigger, press_stimuli, takes_length
from tickwright.measurement.pulses import Pulse
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell

SCANNED_STEPS = 200
LONGEST_SCAN_STEPS = 400
MOST_PULSES = 1000


@dataclass(frozen=True, slots=True)
class Measurement:
    """One press of `trigger` and what `output` did, in steps from the press.

    `rest` is what the output shows before the press: of one that is "on" at rest delay, hold and pulses are those of
    its absence. `hold_steps` is from the first on to the last off, None if it never ends (then the last pulse has no
    duration) or never began. `kind`: "one-shot" (one pulse), "train" (several, then off), "latched" (on for good),
    "clock" (pulses for ever), "none"; "undecided" if a day of world time did not tell. `minimum_trigger_steps` is the
    least T such that every trigger length from T on gives exactly one pulse, whose hold is constant or, from some
    length on, grows as the length does; checked for all lengths up to `checked_up_to_steps`, None meaning all there
    are, since from some length on everything is at rest before the end of the trigger. `margin_steps` is by how much
    the trigger is longer.
    """

    trigger: str
    output: str
    rest: str
    trigger_length_steps: int | None
    delay_steps: int | None
    hold_steps: int | None
    pulses: tuple[Pulse, ...]
    ends: bool
    kind: str
    minimum_trigger_steps: int | None
    margin_steps: int | None
    checked_up_to_steps: int | None
    pressed_at_step: int
    settled: bool
    rest_steps: int | None
    lowest_level: int | None

    def _repr_html_(self) -> str | None:
        """What a notebook shows."""
        return look_of(self)

    @property
    def kind_text(self) -> str:
        """The kind in words, with whether the output is on at rest, so that times are those of its absence."""
        text = f"train of {len(self.pulses)}" if self.kind == "train" else self.kind
        return text if self.rest == "off" else f"{text}, on at rest"

    def as_data(self) -> dict[str, Any]:
        """The measurement as JSON shows it."""
        data = {name: getattr(self, name) for name in self.__slots__}
        data["pulses"] = [list(pulse) for pulse in self.pulses]
        return data


@checked
def measure(
    plan: Plan,
    trigger: str | None = None,
    output: str | None = None,
    length_steps: int | None = None,
    rules: RuleSet | str | None = None,
    order: str = "canonical",
) -> list[Measurement]:
    """Press each trigger (or the one named) once and measure each output (or the one named).

    With `length_steps` a button of that length takes the trigger's place. Raises UsageError if the plan has no such
    trigger or output.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> [(m.delay_steps, m.hold_steps, m.kind, m.minimum_trigger_steps) for m in measure(plan)]
    [(0, 24, 'one-shot', 1)]
    """
    return measure_with_findings(plan, trigger, output, length_steps, rules, order)[0]


def measure_with_findings(
    plan: Plan,
    trigger: str | None = None,
    output: str | None = None,
    length_steps: int | None = None,
    rules: RuleSet | str | None = None,
    order: str = "canonical",
    minimum: bool = True,
    runs: Runs | None = None,
    also: Mapping[str, Cell] | None = None,
) -> tuple[list[Measurement], tuple[Finding, ...]]:
    """As `measure`, with what the runs of the presses found; without `minimum`, no minimum trigger is sought.

    `runs` and `also` as for `observe`.
    """
    runs = runs or Runs()
    ruleset = rules_for(plan, rules)
    validate(plan, ruleset)
    if length_steps is not None and not 1 <= length_steps <= MOST_STEPS:
        raise UsageError(f"A trigger of {length_steps} steps cannot be measured: use 1 to {MOST_STEPS:,} steps.")
    names = _chosen("trigger", trigger, plan.triggers)
    outputs = _chosen("output", output, plan.outputs)
    results: list[Measurement] = []
    findings: dict[Finding, None] = {}
    setup = Setup(plan, ruleset, order)
    for name in names:
        place = find_trigger(setup, name)
        seen = observe(setup, place, length_steps, runs=runs, also=also)
        findings.update(dict.fromkeys(seen.findings))
        scan = scan_lengths(setup, place, outputs, runs) if minimum and takes_length(place) else {}
        own = length_steps if length_steps is not None else place.length_steps
        results += [_measured(name, one, own, seen, scan.get(one)) for one in outputs]
    return results, tuple(findings)


def _chosen(what: str, wanted: str | None, table: Any) -> list[str]:
    if not table:
        raise UsageError(f"The plan names no {what}: add one under [{what}s], such as {what} = [x, y, z].")
    if wanted is None:
        return list(table)
    if wanted not in table:
        raise UsageError(f'The plan has no {what} "{wanted}".{near(wanted, table)}')
    return [wanted]


def _measured(
    trigger: str, output: str, length: int | None, seen: Observation, scan: tuple[int | None, int | None] | None
) -> Measurement:
    found = seen.pulses(output)
    kind = kind_of(seen, output)
    if kind == "clock" and len(found) > 1:
        found = [pulse for pulse in found if pulse.duration is not None][:MOST_PULSES]
        found[-1] = found[-1]._replace(duration=None)
    ends = kind in ("one-shot", "train", "none")
    minimum, checked = scan or (None, None)
    levels = [value for step, value in seen.changes[output] if value > 0 and step >= 0]
    return Measurement(
        trigger=trigger,
        output=output,
        rest=seen.rest(output),
        trigger_length_steps=length,
        delay_steps=found[0].start if found else None,
        hold_steps=hold_of(found) if ends else None,
        pulses=tuple(found[:MOST_PULSES]),
        ends=ends,
        kind=kind,
        minimum_trigger_steps=minimum,
        margin_steps=length - minimum if length is not None and minimum is not None else None,
        checked_up_to_steps=checked,
        pressed_at_step=seen.pressed_at,
        settled=seen.settled,
        rest_steps=seen.rest_steps,
        lowest_level=min(levels, default=None),
    )


def hold_of(found: list[Pulse]) -> int | None:
    """From the first on to the last off; None if there is no pulse or the last never ends."""
    if not found or found[-1].duration is None:
        return None
    return found[-1].start + found[-1].duration - found[0].start


def kind_of(seen: Observation, output: str) -> str:
    """The kind of answer that an output gave: one-shot, train, latched, clock, none, or undecided."""
    if not seen.decided:
        return "undecided"
    if seen.toggles_for_ever(output):
        return "clock"
    found = seen.pulses(output)
    if not found:
        return "none"
    if found[-1].duration is None:
        return "latched"
    return "one-shot" if len(found) == 1 else "train"


# --- the shortest trigger ----------------------------------------------------------------------------------------


def scan_lengths(
    setup: Setup,
    trigger: Trigger,
    outputs: list[str],
    runs: Runs | None = None,
) -> dict[str, tuple[int | None, int | None]]:
    """For each output the minimum trigger and how far it was checked (None: for every length).

    That is the least T such that every length from T on gives exactly one pulse, whose hold is constant or, from some
    length on, grows as the length does. Once everything is at rest while the trigger is still held, a longer trigger
    changes nothing but when it ends; so lengths are scanned from there down, until one of them fails. The first two
    tell which it is: an output that only the longest satisfies has no minimum. Hold is not monotone below the minimum:
    nothing is skipped. `runs` as for `observe`.
    """
    runs = runs or Runs()
    still = steps_to_rest_while_held(setup, trigger, runs)
    top = SCANNED_STEPS if still is None else still + 2
    regular = {output: _Regular() for output in outputs}
    alive = list(outputs)
    for length in range(top, 0, -1):
        if not alive:
            break
        seen = observe(setup, trigger, length, runs=runs)
        for output in list(alive):
            hold = hold_of(seen.pulses(output)) if kind_of(seen, output) == "one-shot" else None
            if not regular[output].shorter(length, hold):
                alive.remove(output)
    checked = top if still is None else None
    return {output: (None if regular[output].least == top else regular[output].least, checked) for output in outputs}


@dataclass(slots=True)
class _Regular:
    """Holds at lengths that grow shorter by a step each: `least` is the last up to which they are regular.

    That is, growing as the length at first, and constant from some length down.
    """

    least: int | None = None
    hold_steps: int = 0
    constant: bool = False

    def shorter(self, length: int, hold: int | None) -> bool:
        """Take the hold at the next shorter length, None if it gives no single pulse; whether it is regular still."""
        if hold is None:
            return False
        if self.least is not None:
            less = self.hold_steps - hold
            if less != 0 and (less != 1 or self.constant):
                return False
            self.constant = less == 0
        self.least, self.hold_steps = length, hold
        return True


def steps_to_rest_while_held(setup: Setup, trigger: Trigger, runs: Runs | None = None) -> int | None:
    """How long after the press everything is at rest but for the held trigger; None if not within the longest scan."""
    sim, pressed_at, _ = (runs or Runs()).start(setup, trigger)
    sim.button_steps = {trigger.cell: MOST_STEPS}
    sim.queue_stimuli(press_stimuli(trigger._replace(kind="short-button"), pressed_at))
    sim.advance(pressed_at + 1)
    while True:
        step = sim.next_step()
        if step is None or step - pressed_at >= MOST_STEPS:
            return sim.now - pressed_at
        if step - pressed_at > LONGEST_SCAN_STEPS:
            return None
        sim.step(step)
