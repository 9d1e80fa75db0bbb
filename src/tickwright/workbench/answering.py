"""The answer in words and bands: the sentence, broken and kept promises, what is wanted of each lane."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.durations import duration_text
from tickwright.publish import Answer, answer, least_text, main_result, promises_passed, promises_text

if TYPE_CHECKING:
    from tickwright import ChartVerdict, Expectation, Measurement, Plan, Verdict

SHOWN_BROKEN = 2


class Judged(NamedTuple):
    """What is known of a plan: its measures, its promises kept or broken, and the hold after a minimum trigger.

    `trouble` is why its charts cannot be held against it, "" if they can.
    """

    answers: tuple[Measurement, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    charts: tuple[ChartVerdict, ...] = ()
    least_hold_steps: int | None = None
    trouble: str = ""


class Told(NamedTuple):
    """The head of the page: the sentence, what is broken, what is kept, and what the minimum trigger gives."""

    sentence: Answer
    broken: tuple[str, ...]
    kept: str
    least: str


def told(plan: Plan, judged: Judged, whole: bool) -> Told | None:
    """The head of the page for a plan; None if nothing is measured. Only of one that is `whole` all is known."""
    main = main_result(plan, judged.answers)
    if main is None:
        return None
    least = least_text(plan, main, judged.least_hold_steps) if whole else ""
    several = len({one.minimum_trigger_steps for one in judged.answers}) > 1
    if least and several:
        least = f"{main.output}: {least}"
    passed = promises_passed(judged.verdicts, judged.charts)
    broken = list(_broken(plan, judged))
    kept = sum(passed)
    said = f"{kept} of {len(passed)} promises kept." if kept < len(passed) else promises_text(passed)
    if len(broken) > SHOWN_BROKEN:
        broken = [*broken[:SHOWN_BROKEN], f"{len(broken) - SHOWN_BROKEN} more are broken."]
    return Told(answer(plan, main), tuple(broken), said, least)


def _broken(plan: Plan, judged: Judged) -> Iterable[str]:
    found = {(one.trigger, one.output): one for one in judged.answers}
    for verdict in judged.verdicts:
        if verdict.passed:
            continue
        what = verdict.key.replace("_", " ")
        wish = f"“{verdict.output}: {what} {verdict.expected}”"
        by = _short_of(plan, verdict, found.get((verdict.trigger, verdict.output)))
        yield f"{by} for {wish}." if by else f"{verdict.output}: {what} is {verdict.measured}, not {verdict.expected}."
    for chart in judged.charts:
        for claim in chart.claims:
            if not claim.passed:
                yield f"“{claim.claim}” is broken{f': {claim.detail}' if claim.detail else ''}".rstrip(".") + "."
    if judged.trouble:
        yield judged.trouble


def _short_of(plan: Plan, verdict: Verdict, found: Measurement | None) -> str:
    if verdict.key != "hold" or found is None or found.hold_steps is None:
        return ""
    wish = _hold_wish(plan, verdict.trigger, verdict.output)
    if wish is None or wish.hold_steps is None:
        return ""
    by = wish.hold_steps - found.hold_steps
    return f"Too {'short' if by > 0 else 'long'} by {duration_text(abs(by))}"


def _hold_wish(plan: Plan, trigger: str, output: str) -> Expectation | None:
    wishes = [one for one in plan.expectations if (one.trigger, one.output) == (trigger, output)]
    return next((one for one in wishes if one.hold_steps is not None), None)


def wanted_bands(plan: Plan, judged: Judged, trigger: str) -> dict[str, list[dict[str, Any]]]:
    """What is wanted of each output after one press of the trigger, as the time line shows it: steps from the press."""
    bands: dict[str, list[dict[str, Any]]] = {}
    for found in judged.answers:
        wish = _hold_wish(plan, trigger, found.output)
        if found.trigger != trigger or wish is None or wish.hold_steps is None or found.rest == "on":
            continue
        delays = [one.delay_steps for one in plan.expectations if (one.trigger, one.output) == (trigger, found.output)]
        delay = next((steps for steps in delays if steps is not None), found.delay_steps or 0)
        end = delay + wish.hold_steps
        text = f"wanted: {duration_text(wish.hold_steps)} from {trigger}"
        text += f" + {duration_text(delay)}" if delay else ""
        band: dict[str, Any] = {"from": delay, "to": end, "text": text}
        seen = (found.delay_steps or 0) + found.hold_steps if found.hold_steps is not None else None
        if found.kind == "none":
            band |= {"missing": "never on", "missing_from": delay}
        elif seen is not None and seen < end - wish.within_steps:
            band |= {"missing": f"{duration_text(end - seen)} short", "missing_from": seen}
        bands[found.output] = [band]
    return bands


class Tried(NamedTuple):
    """A part that may stand in a cell, and what it would do: its words, and the pulses of each output."""

    part: str
    said: str
    hold: str
    detail: str
    pulses: Mapping[str, Sequence[Sequence[int | None]]]
    own: bool

    def ghost_text(self, output: str) -> str:
        """What the ghost of an output says: the part, and how long that output would be on."""
        spans = self.pulses[output]
        name = self.part.split(" on=")[0]
        if not spans:
            return f"with {name}: never on"
        begin, (end, length) = spans[0][0] or 0, spans[-1]
        if length is None:
            return f"with {name}: it never ends"
        text = duration_text((end or 0) + length - begin)
        return f"with {name}: {text}" if len(spans) == 1 else f"with {name}: {len(spans)} times in {text}"


def tried(plan: Plan, part: str, own: bool, before: Judged, after: Judged) -> Tried:
    """What a plan with that part in place of another would do, against what it does (`plan` is the one with it)."""
    main = main_result(plan, after.answers)
    if main is None:
        return Tried(part, "nothing", "", "Nothing is measured.", {}, own)
    old = next((one for one in before.answers if (one.trigger, one.output) == (main.trigger, main.output)), None)
    hold = _hold(main)
    was = _hold(old) if old is not None else ""
    lines = [f"{main.output} {was} → {hold}" if was != hold else f"{main.output} {hold}, as now"]
    if old is not None and old.delay_steps != main.delay_steps and main.delay_steps is not None:
        lines.append(f"delay {duration_text(old.delay_steps or 0)} → {duration_text(main.delay_steps)}")
    elif old is not None and main.delay_steps is not None:
        lines.append("same delay")
    passed = promises_passed(after.verdicts, after.charts)
    if passed:
        kept = sum(passed)
        lines.append(f"all {kept} promises kept" if kept == len(passed) else f"{kept} of {len(passed)} promises kept")
    pulses = {
        one.output: [list(pulse) for pulse in one.pulses]
        for one in after.answers
        if one.trigger == main.trigger and one.rest == "off"
    }
    return Tried(part, hold, hold, "; ".join(lines), pulses, own)


def _hold(found: Measurement) -> str:
    if found.kind in ("none", "undecided"):
        return {"none": "nothing", "undecided": "undecided"}[found.kind]
    if not found.ends:
        return "for good" if found.kind == "latched" else "without end"
    text = duration_text(found.hold_steps or 0)
    return f"{len(found.pulses)} pulses in {text}" if found.kind == "train" else text
