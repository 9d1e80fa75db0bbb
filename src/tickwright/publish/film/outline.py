"""The outline of a talk: what to say of a plan and show, in order, from its dossier; plain text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import fill
from typing import TYPE_CHECKING

from tickwright.durations import time_text
from tickwright.plan.bill import items_text
from tickwright.publish.dossier_text import hold_text, missing_lines, parts_text

if TYPE_CHECKING:
    from tickwright.dossier import Answer, Dossier
    from tickwright.measurement import ByItself
    from tickwright.plan.bill import Bill
    from tickwright.publish.film.telling import Caption

WIDTH = 100


def talk_outline(known: Dossier, bill: Bill, cues: Sequence[Caption] = ()) -> str:
    """The outline as text: what it is for, its figures, what it takes, how to build and show it, what goes wrong.

    `cues` are the captions of the film, if there is one: what to say while it runs.
    """
    plan = known.plan
    wide, deep, high = plan.size
    said = [f"{cue.begin:.1f} s: {cue.text}" for cue in cues]
    sections = [
        ("What it does", _does(known)),
        ("What it takes", [
            f"{parts_text(bill.number)}: {', '.join(f'{line.number} {line.kind}' for line in bill.lines)}"
            + (f"; {items_text(bill.items)} items." if bill.items else "."),
            f"Room: {wide} cells from west to east, {deep} from north to south, {high} high.",
        ]),
        ("Build it", [f"From the ground up, layer 0 to {high - 1}; turn each part as the layer sheet shows."]),
        ("Press it", said or ["Show one run from before the press until all is at rest."]) if plan.triggers
        else ("Let it run", said or ["Show it from the start of the world; nothing is pressed."]),
        ("What can go wrong", list(_wrong(known)) or ["Nothing was found in the runs of its dossier."]),
        ("Say at the end", [
            "All times assume a world at its full 20 steps a second; a slow world stretches them.",
            "Figures come from runs under the rules " + known.rules + ".",
            "Warn people before showing anything that blinks more than three times a second (WCAG 2.2, SC 2.3.1).",
        ]),
    ]  # fmt: skip
    lines = [plan.title or "Untitled plan", "=" * min(len(plan.title or "Untitled plan"), WIDTH), ""]
    for number, (title, points) in enumerate(sections, 1):
        lines.append(f"{number}. {title}")
        lines += [fill(point, WIDTH, initial_indent="   - ", subsequent_indent="     ") for point in points]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _does(known: Dossier) -> list[str]:
    told = [_figures(answer) for answer in known.answers]
    return [*told, *(_alone(found) for found in known.by_itself), *missing_lines(known.plan)]


def _alone(found: ByItself) -> str:
    """What an output does while nothing is pressed."""
    if found.kind == "none":
        return f"By itself {found.output} never comes on."
    start = (
        f"comes on {time_text(found.first_on_step)} after the start" if found.first_on_step else "is on at the start"
    )
    text = f"By itself {found.output} {start}"
    if found.on_steps is None:
        return f"{text} and stays on." if found.kind == "latched" else f"{text}; whether it ends is undecided."
    on, off = (
        " to ".join(time_text(steps) for steps in sorted(set(pair))) for pair in (found.on_steps, found.off_steps or ())
    )
    return f"{text} and holds {on}." if found.kind != "clock" else f"{text}, then goes on: on {on}, off {off}."


def _figures(answer: Answer) -> str:
    found = answer.measured
    if found.kind == "none":
        return f"{found.trigger} does nothing to {found.output}."
    count = f", in {len(found.pulses)} pulses" if found.kind == "train" else ""
    goes, holds = ("comes on", "holds") if found.rest == "off" else ("goes off", "stays so for")
    text = f"{found.trigger}: {found.output} {goes} after {time_text(found.delay_steps)}"
    text += f" and {holds} {hold_text(found)}{count}." if found.ends else f" and {hold_text(found)} ({found.kind})."
    if found.minimum_trigger_steps is not None:
        text += f" The trigger must last {time_text(found.minimum_trigger_steps)} at least."
    if answer.recovery_steps:
        over = "goes off" if found.rest == "off" else "is on again"
        text += f" Ready again {time_text(answer.recovery_steps)} after it {over}."
    return text


def _wrong(known: Dossier) -> Iterator[str]:
    for answer in known.answers:
        short = [row for row in answer.lengths if row.kind != answer.measured.kind]
        if short:
            first, last = short[0].length_steps, short[-1].length_steps
            lengths = f"{first} steps" if first == last else f"{first} to {last} steps"
            kinds = " or ".join(sorted({row.kind for row in short}))
            yield f"A trigger of {lengths} may make of {answer.measured.output} a {kinds} instead."
    for order in known.order:
        if order.sensitive:
            yield f"{order.trigger}: turned, mirrored or in another order of telling it does something else."
    for verdict in known.neighbours:
        if verdict.pitch_cells is not None and verdict.touching:
            how = f"{verdict.axis}, mirrored" if verdict.mirrored else verdict.axis
            yield f"Along {how}: copies closer than {verdict.pitch_cells} cells disturb each other."
    for part in known.rule_sets.partings:
        if part.step is not None:
            yield f"{part.trigger}: under {part.rules_b} the first difference from {part.rules_a} is at {part.cell}."
    for finding in known.findings:
        yield finding.message
