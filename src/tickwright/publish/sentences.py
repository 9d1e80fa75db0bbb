"""The answer in a sentence: what one press does, what the least press gives, and whether promises are kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, duration_text
from tickwright.kinds import is_a
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan

if TYPE_CHECKING:
    from tickwright.charts import ChartVerdict
    from tickwright.diagnosis import Explained
    from tickwright.measurement import Measurement
    from tickwright.verify import Verdict

_ACT = {"flip": "flip", "drop": "drop", "tread": "tread"}  # what one says for an act of the hand


class Answer(NamedTuple):
    """A sentence about one press, with the figure that it is about set apart (empty if it has none)."""

    before: str
    figure: str
    after: str

    def __str__(self) -> str:
        return self.before + self.figure + self.after


def main_result(plan: Plan, results: Sequence[Measurement]) -> Measurement | None:
    """The measurement to speak of first: the first that lights a lamp, else the first that does anything."""
    acting = [found for found in results if found.kind != "none"]
    lit = [found for found in acting if is_a(_kind(plan, plan.outputs.get(found.output)), "lamp")]
    return next(iter([*lit, *acting, *results]), None)


def answer(plan: Plan, found: Measurement, rate: float = STEPS_PER_SECOND) -> Answer:
    """What one press of the measured trigger does to the measured output.

    >>> from tickwright import loads, measure
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", L = "lamp"}
    ... layer = [{rows = "#"}, {rows = "bL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [1, 0, 1]}''')
    >>> str(answer(plan, measure(plan)[0]))
    'One press lights the lamp for 1.2 s, at once.'
    """
    pressed = _kind(plan, plan.triggers.get(found.trigger))
    act = f"One {_ACT.get(str(default_act(pressed)), 'press') if pressed else 'press'}"
    if len(plan.triggers) > 1:
        act += f" of {found.trigger}"
    low = act[0].lower() + act[1:]
    name, lamp = f"the {found.output}", is_a(_kind(plan, plan.outputs.get(found.output)), "lamp")
    verb, on = ("lights", name) if lamp else ("sets", f"{name} on")
    if found.rest == "on":  # measured by its absence
        verb, on = ("puts", f"{name} out") if lamp else ("sets", f"{name} off")
    delay = "at once"
    if found.delay_steps:
        delay = f"{duration_text(found.delay_steps, rate)} after it"
    match found.kind:
        case "none":
            return Answer(f"{act} does nothing to {name}.", "", "")
        case "latched":
            return Answer(f"{act} {verb} {on} ", "for good", f", {delay}.")
        case "clock":
            return Answer(f"After {low} {name} goes on and off ", "without end", ".")
        case "train":
            count = f"{len(found.pulses)} times"
            within = duration_text(found.hold_steps or 0, rate)
            return Answer(f"{act} {verb} {on} ", count, f" within {within}, first {delay}.")
        case "undecided":
            return Answer(f"What {low} does to {name} is undecided: a day of world time did not tell.", "", "")
    return Answer(f"{act} {verb} {on} for ", duration_text(found.hold_steps or 0, rate), f", {delay}.")


def least_text(plan: Plan, found: Measurement, least_hold_steps: int | None, rate: float = STEPS_PER_SECOND) -> str:
    """What the minimum trigger is and what it gives; "" if there is none.

    `least_hold_steps` is the hold after a trigger just so long.
    """
    least, own = found.minimum_trigger_steps, found.trigger_length_steps
    if least is None:
        return ""
    thing = _kind(plan, plan.triggers.get(found.trigger))
    if is_a(thing, "lever"):
        return _least_of_lever(found, least_hold_steps, rate)
    short = "button" if thing.endswith("button") else thing or "trigger"
    gives = f"; this {short} gives {duration_text(own, rate)}" if own is not None else ""
    if least_hold_steps is None or least_hold_steps == found.hold_steps:
        if own is not None and own < least:
            return f"A press must last {duration_text(least, rate)}{gives}."
        return f"Any press of {duration_text(least, rate)} or more will do{gives}."
    hold = duration_text(least_hold_steps, rate)
    text = f"A press of {duration_text(least, rate)} already gives {hold}"
    whole = duration_text(found.hold_steps or 0, rate)
    return f"{text}; this {short}, {duration_text(own, rate)} long, gives {whole}." if own is not None else f"{text}."


def _least_of_lever(found: Measurement, least_hold_steps: int | None, rate: float) -> str:
    """The same of a lever, which stays on until it is flipped back."""
    least = duration_text(found.minimum_trigger_steps or 0, rate)
    if least_hold_steps is None or least_hold_steps == found.hold_steps:
        return f"The lever must be on for at least {least}."
    return f"The lever on for {least} already gives {duration_text(least_hold_steps, rate)}."


def promises_passed(verdicts: Iterable[Verdict], charts: Iterable[ChartVerdict] = ()) -> list[bool]:
    """Whether each promise of a plan is kept: its expectations, then every claim of its charts.

    >>> from tickwright.verify import Verdict
    >>> promises_passed([Verdict("press", "lamp", "hold", "5.4 s", "5.4 s", True)])
    [True]
    """
    return [one.passed for one in verdicts] + [claim.passed for chart in charts for claim in chart.claims]


def promises_text(passed: Iterable[bool]) -> str:
    """How many promises are kept, in a sentence; "" if there are none.

    >>> promises_text([True, False, True]), promises_text([True] * 9), promises_text([True] * 2)
    ('1 of 3 promises is broken.', 'All 9 promises are kept.', 'Both promises are kept.')
    """
    kept = list(passed)
    broken = len(kept) - sum(kept)
    if not kept:
        return ""
    if broken:
        return f"{broken} of {len(kept)} promises {'is' if broken == 1 else 'are'} broken."
    few = {1: "The promise is kept.", 2: "Both promises are kept."}
    return few.get(len(kept), f"All {len(kept)} promises are kept.")


def reasons_data(explained: Explained | None) -> list[dict[str, Any]]:
    """Why each output holds as it does: for each trigger and output a head and its sentences, as pages tell them.

    Of each sentence the text, the cells that it speaks of, when that is (in steps from the press) and how many seconds
    it takes to read.
    """
    from tickwright.publish.film.clock import reading_seconds

    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for one in explained.sentences if explained is not None else ():
        told = {"text": one.text, "cells": [list(cell) for cell in one.cells], "steps": list(one.steps)}
        found.setdefault((one.trigger, one.output), []).append({**told, "seconds": reading_seconds(one.text)})
    return [
        {"head": f"{trigger} → {output}", "trigger": trigger, "sentences": sentences}
        for (trigger, output), sentences in found.items()
    ]


def _kind(plan: Plan, cell: tuple[int, int, int] | None) -> str:
    part = plan.cells.get(cell) if cell is not None else None
    return part.kind if part is not None else ""
