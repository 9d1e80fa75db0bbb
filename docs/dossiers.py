"""The page docs/dossiers.md: of every example what `tickwright measure --full` works out, from runs made for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import groupby
from pathlib import Path

from tickwright import load
from tickwright.dossier import Answer, Dossier, gather
from tickwright.durations import seconds_text, ticks_text
from tickwright.measure import Lap, LengthRow, Measurement
from tickwright.measure.retrigger import SecondPress
from tickwright.verify.orders import OrderVerdict
from tickwright.verify.rulesets import RulesPart

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
MOST_ACTIVE_STEPS = 200
MOST_LEVELS = 16
WORKERS = 2

TEXT = f"""\
# Dossiers of the examples

What `tickwright measure --full` works out for each circuit in [examples.md](examples.md), under its own rules. Every
figure comes from a run. Delay and steps count from the press; 1 tick is 2 steps, 1 second is 20.

Where after a press something happens in more than {MOST_ACTIVE_STEPS:,} steps, what takes many presses is not run for
this page, and the section says so. The command itself leaves nothing out.
"""


def page() -> str:
    """The page: the text, and a section for each example."""
    with ProcessPoolExecutor(WORKERS) as pool:
        return "\n".join([TEXT, *pool.map(section, sorted(EXAMPLES.glob("*.toml")))])


def section(path: Path) -> str:
    """What is known of one example."""
    known = gather(load(path), most_active_steps=MOST_ACTIVE_STEPS)
    lines = [f"## {path.stem}", "", f"[{path.name}](../examples/{path.name}), rules `{known.rules}`."]
    if known.left_out:
        why = f"after a press something happens in more than {MOST_ACTIVE_STEPS:,} steps"
        lines += ["", f"Not run, for {why}: {', '.join(known.left_out)}."]
    lines += table("press → output|kind|delay|hold|pulses|minimum trigger|recovery", map(measures, known.answers))
    lines += second_presses(known)
    lines += table(
        "press → output|phases|kinds|delay|hold", (moments(one) for one in known.answers if not one.measured.settled)
    )
    lines += table(
        "press → output|trigger length in steps|kind|delay|hold|pulses",
        (row for answer in known.answers for row in lengths(answer)),
    )
    lines += table(
        "press → output|more cells of wire|hold",
        (row for answer in known.answers for row in distances(answer)),
    )
    lines += table(
        "press|comparator at|level at step",
        (
            (name, f"{lap.cell}", levels(lap))
            for name, laps in known.laps.items()
            for lap in laps
            if len(lap.levels) > 1
        ),
    )
    lines += table("press|order, turns and mirror images", ((one.trigger, order(one)) for one in known.order))
    lines += table("copies side by side|least pitch|what meets at one less", neighbours(known))
    lines += table("rules|press → output|kind|hold|minimum trigger", rule_sets(known))
    lines += [text for parting in known.rule_sets.partings for text in ("", parts(parting))]
    failed = sum(not verdict.passed for verdict in known.expectations)
    lines += ["", f"Expectations: {len(known.expectations) - failed} passed, {failed} failed.", ""]
    return "\n".join(lines)


def table(heads: str, rows: Iterable[Sequence[str]]) -> list[str]:
    """A Markdown table after an empty line; nothing if it has no rows."""
    lines = [f"| {' | '.join(text.replace('|', '-') for text in row)} |" for row in rows]
    return ["", f"| {heads.replace('|', ' | ')} |", "|---" * len(heads.split("|")) + "|", *lines] if lines else []


def named(found: Measurement) -> str:
    """A press and the output that is looked at."""
    return f"{found.trigger} → {found.output}"


def time(steps: int | None) -> str:
    """A time in seconds and ticks, or a dash."""
    return "–" if steps is None else f"{seconds_text(steps)} ({ticks_text(steps)})"


def held(found: Measurement) -> str:
    """The hold, or what there is instead of one."""
    return time(found.hold_steps) if found.ends else "never ends" if found.kind != "undecided" else "undecided"


def measures(answer: Answer) -> tuple[str, ...]:
    """The row of one answer in the first table."""
    found = answer.measured
    count = "for ever" if found.kind == "clock" else str(len(found.pulses))
    least = time(found.minimum_trigger_steps)
    if found.checked_up_to_steps is not None:
        least += f", of up to {found.checked_up_to_steps} steps"
    return named(found), found.kind, time(found.delay_steps), held(found), count, least, time(answer.recovery_steps)


def second_presses(known: Dossier) -> list[str]:
    """What second presses do during the hold of the first."""
    rows = []
    for answer in known.answers:
        found = answer.retrigger
        text = (
            found.reason or ", ".join(in_spans(found.presses)) or "the trigger ignores presses for longer than the hold"
        )
        if found.every_steps > 1:
            text += f" (every {found.every_steps} steps were tried)"
        rows.append((named(answer.measured), found.verdict or "–", text))
    return table("press → output|a second press|steps after the first", rows)


def moments(answer: Answer) -> tuple[str, ...]:
    """What a press does at the moments of a circuit that is not at rest before it."""
    found = answer.phase
    text = found.reason or f"period of {found.period_steps} steps, {len(found.rows)} phases tried"
    if found.every_steps > 1:
        text += f", every {found.every_steps} steps"
    bounds = [
        "–" if pair is None else " to ".join(time(steps) for steps in sorted(set(pair)))
        for pair in (found.delays, found.holds)
    ]
    return named(answer.measured), text, ", ".join(sorted({row.kind for row in found.rows})), *bounds


def in_spans(presses: Iterable[SecondPress]) -> Iterator[str]:
    """Presses that follow on one another with the same effect as one: the effect and the span of their offsets."""
    for effect, group in groupby(presses, lambda press: press.effect):
        run = list(group)
        yield f"{effect} at {span(run[0].offset, run[-1].offset)}"


def span(first: int, last: int) -> str:
    """From the first to the last, in words."""
    return f"{first}" if first == last else f"{first} to {last}"


def lengths(answer: Answer) -> Iterator[tuple[str, ...]]:
    """The map of trigger lengths, those together that are alike or hold longer by what they are longer."""
    for _, group in groupby(together(answer.lengths), lambda pair: pair[0]):
        run = [row for _, row in group]
        first, last = run[0], run[-1]
        text = span(first.length_steps, last.length_steps)
        if last is answer.lengths[-1] and answer.measured.checked_up_to_steps is None:
            text = f"{first.length_steps} and more"
        hold = time(first.hold_steps)
        if first.hold_steps != last.hold_steps and first.hold_steps is not None:
            excess = first.hold_steps - first.length_steps
            hold = f"length {'-' if excess < 0 else '+'} {abs(excess)} steps"
        pulses = "–" if first.kind in ("clock", "undecided") else str(len(first.pulses))
        yield named(answer.measured), text, first.kind, time(first.delay_steps), hold, pulses


def together(rows: Sequence[LengthRow]) -> Iterator[tuple[int, LengthRow]]:
    """Each row with the number of the run it belongs to: in one, either the hold or hold - length stays the same."""
    number, start = 0, 0
    for index, row in enumerate(rows):
        run = rows[start : index + 1]
        facts = {(one.kind, one.delay_steps, len(one.pulses), one.hold_steps is None) for one in run}
        holds = {one.hold_steps for one in run}
        excess = {(one.hold_steps or 0) - one.length_steps for one in run}
        if len(facts) > 1 or (len(holds) > 1 and len(excess) > 1):
            number, start = number + 1, index
        yield number, row


def distances(answer: Answer) -> Iterator[tuple[str, ...]]:
    """The hold behind more wire."""
    for hold, group in groupby(answer.distances, lambda row: row.hold_steps):
        run = list(group)
        yield named(answer.measured), span(run[0].wire_cells, run[-1].wire_cells), time(hold)


def levels(lap: Lap) -> str:
    """What a comparator shows, change by change."""
    more = ", …" if len(lap.levels) > MOST_LEVELS + 1 else ""
    return ", ".join(f"{level} at {step}" for step, level in lap.levels[1 : MOST_LEVELS + 1]) + more


def order(verdict: OrderVerdict) -> str:
    """Whether the telling order matters."""
    if not verdict.sensitive:
        return f"the same in all {len(verdict.variants)}"
    first = verdict.partings[0]
    number = len({parting.variant for parting in verdict.partings})
    return f"**differs** in {number} of {len(verdict.variants)}, first {first.variant}: {first.output}"


def neighbours(known: Dossier) -> Iterator[tuple[str, ...]]:
    """How close copies may stand."""
    for verdict in known.neighbours:
        pitch = "–" if verdict.pitch_cells is None else f"{verdict.pitch_cells} cells"
        text = verdict.reason or "; ".join(str(touch) for touch in verdict.touching[:1]) or "nothing"
        yield f"along {verdict.axis}" + (", mirrored" if verdict.mirrored else ""), pitch, text


def rule_sets(known: Dossier) -> Iterator[tuple[str, ...]]:
    """The measures under each rule set."""
    for one in known.rule_sets.sets:
        if one.refused:
            yield one.rules, "refused", " ".join(one.refused.split()), "–", "–"
        for found in one.results:
            yield one.rules, named(found), found.kind, held(found), time(found.minimum_trigger_steps)


def parts(parting: RulesPart) -> str:
    """Where two rule sets part."""
    pair = f"`{parting.rules_a}` and `{parting.rules_b}`"
    if parting.step is None:
        return f"{parting.trigger}: {pair} show the same in every cell, for {parting.compared_steps:,} steps."
    after = parting.step - parting.pressed_at_step
    values = f"{parting.value_a} and {parting.value_b}"
    return f"{parting.trigger}: {pair} part {after} steps from the press at {parting.cell}, {parting.part}: {values}."
