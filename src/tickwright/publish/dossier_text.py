"""A dossier as tables of text, one for each thing known: what the terminal, the pages and the sheets show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.durations import STEPS_PER_SECOND, time_text
from tickwright.publish.sentences import answer as sentence
from tickwright.publish.sentences import least_text, main_result, promises_passed, promises_text

if TYPE_CHECKING:
    from tickwright.dossier import Answer, Dossier
    from tickwright.measurement import ByItself, Lap, LengthRow, LevelRow, Measurement
    from tickwright.plan.model import Plan
    from tickwright.recording import ChartRun

    TimedRow = LengthRow | LevelRow

NONE = "-"
MOST_LAP_COLUMNS = 12


class Table(NamedTuple):
    """One table: `rows` are as wide as `heads`; `notes` are sentences that stand below it."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()


def dossier_tables(known: Dossier, rate: float = STEPS_PER_SECOND) -> list[Table]:
    """Everything in a dossier but the first measures and the findings, as tables; those with nothing in them left out.

    Seconds are those of a world of `rate` steps a second.
    """
    made = [
        Table(title, heads, tuple(rows), tuple(notes))
        for title, heads, rows, notes in (
            (
                "By itself, from the start",
                ("output", "kind", "first on", "on", "off", "all as before after"),
                (_by_itself(found, rate) for found in known.by_itself),
                (),
            ),
            (
                "A second press",
                ("press", "during the hold", "steps after the first", "recovery"),
                (_second_press(answer, rate) for answer in known.answers),
                _no_recovery(known),
            ),
            (
                "Phase of the press",
                ("press", "phases", "kinds", "delay", "hold"),
                (_phases(answer, rate) for answer in known.answers),
                (),
            ),
            (
                "Trigger lengths",
                ("press", "trigger length", "kind", "delay", "hold", "pulses"),
                (row for answer in known.answers for row in _lengths(answer, rate)),
                _thrown(known),
            ),
            (
                "Trigger levels",
                ("press", "level", "trigger length", "kind", "delay", "hold"),
                (row for answer in known.answers for row in _levels(answer, rate)),
                (),
            ),
            (
                "Hold behind more cells of wire",
                ("press", "cells", "hold"),
                (row for answer in known.answers for row in _distances(answer, rate)),
                (),
            ),
            (
                "Levels at the comparators",
                ("press", "cell", "part", "level at step from the press"),
                ((name, *_lap(lap)) for name, laps in known.laps.items() for lap in laps if len(lap.levels) > 1),
                (),
            ),
            (
                "Order of telling, turns and mirror images",
                ("press", "verdict", "what"),
                _orders(known),
                (),
            ),
            ("Neighbours", ("copies", "least pitch", "at one less"), _neighbours(known), ()),
            (
                "Rule sets",
                ("rules", "press", "kind", "hold", "minimum trigger"),
                _rule_sets(known, rate),
                _parts(known),
            ),
        )
    ]
    return [table for table in made if table.rows]


def parts_text(number: int) -> str:
    """How many parts there are.

    >>> parts_text(1), parts_text(19)
    ('1 part', '19 parts')
    """
    return f"{number} part" if number == 1 else f"{number} parts"


def press_text(found: Measurement) -> str:
    """A press and the output that is looked at."""
    return f"{found.trigger} -> {found.output}"


def hold_text(found: Measurement, rate: float = STEPS_PER_SECOND) -> str:
    """The hold, or what there is instead of one."""
    if found.kind == "undecided":
        return "undecided"
    return time_text(found.hold_steps, rate) if found.ends else "never ends"


def answer_of(known: Dossier, charts: Iterable[ChartRun]) -> dict[str, Any]:
    """The answer as a sentence, whether promises are kept, what the minimum trigger gives and a second press does.

    `charts` are the runs of the plan's charts, whose claims are promises, too.

    "answer" is the sentence in three pieces, the middle one its figure; all are empty if nothing is measured.
    """
    plan = known.plan
    main = main_result(plan, [found.measured for found in known.answers])
    kept = promises_text(promises_passed(known.expectations, [run.verdict for run in charts]))
    if main is None:
        return {"answer": ["", "", ""], "kept": kept, "more": ""}
    of_main = next(found for found in known.answers if found.measured is main)
    least = next((row for row in of_main.lengths if row.length_steps == main.minimum_trigger_steps), None)
    more = [least_text(plan, main, least.hold_steps if least else None)]
    again = {
        "extends": "Another press before it is out makes it longer.",
        "restarts": "Another press before it is out starts it anew.",
        "ignored": "Another press before it is out changes nothing.",
    }
    more.append(again.get(of_main.retrigger.verdict or "", ""))
    return {"answer": list(sentence(plan, main)), "kept": kept, "more": " ".join(filter(None, more))}


def missing_lines(plan: Plan) -> list[str]:
    """What a plan without triggers or outputs keeps from being known, and what to do; nothing for all others."""
    lines = []
    if not plan.triggers:
        lines.append(
            "The plan names no trigger, so nothing is pressed and no press is measured: it is shown as it runs by "
            "itself from the start of the world. To have presses measured, name one under [triggers]."
        )
    if not plan.outputs:
        lines.append(
            "The plan names no output, so nothing is measured: runs are shown, but no figure is told. To have holds "
            "measured, name one under [outputs]."
        )
    return lines


def expectation_lines(known: Dossier) -> list[str]:
    """How many expectations passed, and each that failed; nothing if the plan has none."""
    if not known.expectations:
        return []
    failed = [verdict for verdict in known.expectations if not verdict.passed]
    lines = [f"Expectations: {len(known.expectations) - len(failed)} passed, {len(failed)} failed."]
    for one in failed:
        said = f"{one.key} {one.measured}, expected {one.expected}"
        lines.append(f"  FAILED  {one.trigger} -> {one.output}: {said}")
    return lines


def _span(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first} to {last}"


def _by_itself(found: ByItself, rate: float) -> tuple[str, ...]:
    spans = [
        NONE if pair is None else " to ".join(time_text(steps, rate) for steps in sorted(set(pair)))
        for pair in (found.on_steps, found.off_steps)
    ]
    first, period = (time_text(steps, rate) for steps in (found.first_on_step, found.period_steps))
    return found.output, found.kind, first, *spans, period


def _second_press(answer: Answer, rate: float) -> tuple[str, ...]:
    found = answer.retrigger
    runs = []
    for effect, group in groupby(found.presses, lambda press: press.effect):
        run = list(group)
        runs.append(f"{effect} at {_span(run[0].offset, run[-1].offset)}")
    text = found.reason or ", ".join(runs) or "the trigger ignores presses for longer than the hold"
    if found.every_steps > 1:
        text += f" (one offset of {found.every_steps} was tried)"
    return press_text(answer.measured), found.verdict or NONE, text, time_text(answer.recovery_steps, rate)


def _no_recovery(known: Dossier) -> Iterator[str]:
    """Why some output has no recovery."""
    if "recovery" in known.left_out:
        yield "Recovery was not tried: it takes many presses, and one keeps this circuit busy for long."
    elif any(answer.recovery_steps is None for answer in known.answers):
        yield "No recovery: a press gives no single pulse that ends, or the circuit never comes to rest after it."


def _phases(answer: Answer, rate: float) -> tuple[str, ...]:
    found = answer.phase
    text = found.reason or f"period of {found.period_steps} steps, {len(found.rows)} phases tried"
    if found.every_steps > 1:
        text += f", every {found.every_steps} steps"
    bounds = [
        NONE if pair is None else " to ".join(time_text(steps, rate) for steps in sorted(set(pair)))
        for pair in (found.delays, found.holds)
    ]
    return press_text(answer.measured), text, ", ".join(sorted({row.kind for row in found.rows})), *bounds


def _lengths(answer: Answer, rate: float) -> Iterator[tuple[str, ...]]:
    for run in _alike(answer.lengths):
        first, last = run[0], run[-1]
        span = _span(first.length_steps, last.length_steps)
        if last is answer.lengths[-1] and answer.measured.checked_up_to_steps is None:
            span = f"{first.length_steps} and more"
        delay = time_text(first.delay_steps, rate)
        yield press_text(answer.measured), f"{span} steps", last.kind, delay, _hold(first, last, rate), _pulses(last)


def _thrown(known: Dossier) -> Iterator[str]:
    """What a length of press means where the trigger is a lever that is on at first."""
    for name in dict.fromkeys(answer.measured.trigger for answer in known.answers):
        part = known.plan.cells.get(known.plan.triggers[name])
        if part is not None and part.behaviour == "lever" and part.thrown:
            yield (
                f"{name} is a lever that is on until it is thrown. The button that stands in its place here, and for "
                "the levels, gives power only while it is pressed."
            )


def _levels(answer: Answer, rate: float) -> Iterator[tuple[str, ...]]:
    """By level and length, levels that do the same together."""
    by_level = {
        level: [row._replace(level=0) for row in rows]
        for level, rows in groupby(answer.trigger_levels, lambda row: row.level)
    }
    for levels in _bands(by_level):
        for run in _alike(by_level[levels[0]]):
            first, last = run[0], run[-1]
            yield (
                press_text(answer.measured),
                _span(levels[0], levels[-1]),
                f"{_span(first.length_steps, last.length_steps)} steps",
                last.kind,
                time_text(first.delay_steps, rate),
                _hold(first, last, rate),
            )


def _bands(by_level: dict[int, list[LevelRow]]) -> list[list[int]]:
    bands: list[list[int]] = []
    for level, rows in by_level.items():
        if bands and by_level[bands[-1][-1]] == rows:
            bands[-1].append(level)
        else:
            bands.append([level])
    return bands


def _alike(rows: Iterable[TimedRow]) -> Iterator[list[TimedRow]]:
    """Rows in runs in which either the hold or what it is longer than the trigger stays the same."""
    run: list[TimedRow] = []
    for row in rows:
        together = [*run, row]
        facts = {(one.kind, one.delay_steps, _pulses(one), one.hold_steps is None) for one in together}
        holds = {one.hold_steps for one in together}
        excess = {(one.hold_steps or 0) - one.length_steps for one in together}
        if len(facts) == 1 and (len(holds) == 1 or len(excess) == 1):
            run = together
        else:
            yield run
            run = [row]
    if run:
        yield run


def _pulses(row: TimedRow) -> str:
    from tickwright.measurement import LengthRow

    return str(len(row.pulses)) if isinstance(row, LengthRow) and row.kind not in ("clock", "undecided") else NONE


def _hold(first: TimedRow, last: TimedRow, rate: float) -> str:
    if last.hold_steps is None or first.hold_steps == last.hold_steps:
        return time_text(last.hold_steps, rate)
    excess = last.hold_steps - last.length_steps
    if excess == 0:
        return "as long as the trigger"
    return f"length {'-' if excess < 0 else '+'} {abs(excess)} steps"


def _distances(answer: Answer, rate: float) -> Iterator[tuple[str, ...]]:
    for hold, group in groupby(answer.distances, lambda row: row.hold_steps):
        run = list(group)
        yield press_text(answer.measured), _span(run[0].wire_cells, run[-1].wire_cells), time_text(hold, rate)


def _lap(lap: Lap) -> tuple[str, ...]:
    texts = [f"{level} at {step}" for step, level in lap.levels[1 : MOST_LAP_COLUMNS + 1]]
    more = ", ..." if len(lap.levels) > MOST_LAP_COLUMNS + 1 else ""
    return str(lap.cell), lap.part, ", ".join(texts) + more


def _orders(known: Dossier) -> Iterator[tuple[str, ...]]:
    for verdict in known.order:
        text = f"the same in {len(verdict.variants)} orders and turns"
        if verdict.sensitive:
            first = verdict.partings[0]
            number = len({parting.variant for parting in verdict.partings})
            text = f"differs in {number} of {len(verdict.variants)}: {first.variant}, {first.output}"
            if first.step is not None:
                text += f" shows {first.value} instead of {first.canonical_value} at step {first.step} from the press"
        yield verdict.trigger, "order-sensitive" if verdict.sensitive else "not sensitive", text


def _neighbours(known: Dossier) -> Iterator[tuple[str, ...]]:
    for verdict in known.neighbours:
        pitch = NONE if verdict.pitch_cells is None else f"{verdict.pitch_cells} cells"
        text = verdict.reason or "; ".join(str(touch) for touch in verdict.touching[:2]) or "nothing"
        yield f"along {verdict.axis}" + (", mirrored" if verdict.mirrored else ""), pitch, text


def _rule_sets(known: Dossier, rate: float) -> Iterator[tuple[str, ...]]:
    for one in known.rule_sets.sets:
        if one.refused:
            yield one.rules, "refused", " ".join(one.refused.split()), NONE, NONE
        for found in one.results:
            least = time_text(found.minimum_trigger_steps, rate)
            yield one.rules, press_text(found), found.kind_text, hold_text(found, rate), least


def _parts(known: Dossier) -> Iterator[str]:
    """Where each pair of rule sets parts."""
    for parting in known.rule_sets.partings:
        pair = f"{parting.rules_a} and {parting.rules_b}"
        if parting.step is None:
            yield f"{parting.trigger}: {pair} show the same in every cell, for {parting.compared_steps} steps."
        else:
            after = parting.step - parting.pressed_at_step
            values = f"{parting.value_a} and {parting.value_b}"
            where = f"at {parting.cell}, {parting.part}"
            when = f"{after} steps after the press" if after >= 0 else f"{-after} steps before the press"
            yield f"{parting.trigger}: {pair} first differ {when}, {where}: {values}."
