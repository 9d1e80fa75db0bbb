"""The printed sheet of a plan: its data as one JSON document, and the PDF that a typst template makes of it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING, Any

from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.findings import Finding, told_once
from tickwright.kinds import PARTS, Part
from tickwright.plan.bill import Bill
from tickwright.plan.build_order import BuildStep, build_groups, build_order, cells_text, fillings
from tickwright.publish.boxes import Box, boxes_of, modules_of, own_parts
from tickwright.publish.canvas import svg_text
from tickwright.publish.chart import FULL_SPEED
from tickwright.publish.dossier_text import (
    answer_of,
    dossier_tables,
    expectation_lines,
    hold_text,
    missing_lines,
    parts_text,
    press_text,
)
from tickwright.publish.legend import symbol_drawing
from tickwright.publish.raster import fonts, needs_other_fonts
from tickwright.publish.sentences import answer, main_result, promises_passed, promises_text
from tickwright.publish.sheet_limits import (
    MOST_ANSWERS,
    MOST_PROMISES,
    MOST_REASONED,
    answered,
    broken_first,
    charts_shown,
    rest_note,
    shortened,
)
from tickwright.publish.sheet_pictures import LOW, MIDDLE, ROOMY, Pictures
from tickwright.publish.tokens import THEMES
from tickwright.space import cell_text

if TYPE_CHECKING:
    from tickwright.diagnosis import WhatIf
    from tickwright.material import Material

STACK = 64
PAPERS = {"a4": "a4", "letter": "us-letter"}
MOST_ROWS = 4  # of one symptom


def pdf_bytes(
    material: Material, paper: str = "a4", template: str | None = None, pictures: Pictures | None = None
) -> bytes:
    """The sheet of a plan as PDF, the same to the byte for the same material.

    `paper` is "a4" or "letter"; `template` is the text of a typst template that takes the place of ours, and reads the
    data of `sheet_data` from `sys.inputs.sheet`. Letters outside Latin, Greek and Cyrillic are shown with the fonts of
    the machine. `pictures` as for `sheet_data`. Raises UsageError for other paper and for a template that typst
    refuses.
    """
    import typst

    data = json.dumps(sheet_data(material, paper, pictures), ensure_ascii=False)
    own = files("tickwright.publish").joinpath("templates", "sheet.typ").read_bytes()
    try:
        made = typst.compile(
            own if template is None else template.encode(),
            format="pdf",
            sys_inputs={"sheet": data},
            font_paths=fonts(needs_other_fonts(data)),
        )
    except typst.TypstError as error:
        raise UsageError(f"The template of the sheet cannot be set: {' '.join(str(error).split())}") from None
    return bytes(made)


def sheet_data(material: Material, paper: str = "a4", pictures: Pictures | None = None) -> dict[str, Any]:
    """All that a sheet shows as plain lists, strings and numbers, pictures as SVG text (see docs/sheets.md).

    `pictures` are those of the same material in light colours, if at hand.
    """
    if paper not in PAPERS:
        raise UsageError(f'There is no paper "{paper}": use {" or ".join(PAPERS)}.')
    plan, rules, known = material.plan, material.rules, material.dossier
    drawn = pictures or Pictures(material)
    told = replace(known, answers=answered(known.answers))
    charts, charts_note = charts_shown(drawn.charts)
    reasons = list(_why(material))
    return {
        "paper": PAPERS[paper],
        "title": plan.title or "Untitled plan",
        "subtitle": f"{parts_text(material.bill.number)}, {' × '.join(map(str, plan.size))} cells (x × y × z), "
        f"rules {rules.name}",
        "footer": f"{plan.title or 'Untitled plan'}. {FULL_SPEED}",
        "verdict": _verdict(material),
        **answer_of(material.dossier, material.charts),
        "lifted": drawn.lifted(ROOMY)._asdict(),
        "lifted_middle": drawn.lifted(MIDDLE)._asdict(),
        "lifted_low": drawn.lifted(LOW)._asdict(),
        "section": drawn.section._asdict(),
        "section_note": drawn.section_note,
        "rows": plan.size[1],
        "take": list(_take(material)),
        "groups": list(_groups(material, drawn)),
        "modules": list(_modules(material)),
        "fill": [
            {"text": f"{part.items} items into the {part.kind}", "at": cell_text(cell), "cell": list(cell)}
            for cell, part in fillings(plan)
        ],
        "checks": list(_checks(material)),
        "promises": [
            [
                verdict.output,
                _BOUND.sub("", verdict.key).replace("_", " "),
                verdict.expected,
                verdict.measured,
                verdict.passed,
            ]
            for verdict in broken_first(known.expectations)
        ],
        "promises_note": rest_note(len(known.expectations), MOST_PROMISES, "promises", "check"),
        "measures": {"heads": _MEASURES, "rows": [_measures(answer) for answer in told.answers[:MOST_ANSWERS]]},
        "measures_note": rest_note(len(told.answers), MOST_ANSWERS, "rows", "measure"),
        "build_note": "From the ground up, each part after what it stands on. x grows east, y grows south, z grows up.",
        "build": list(_build(material)),
        "bill_note": "Prices are your own." if material.priced else "Without a price table each part costs 1.",
        "bill": _bill(material.bill),
        "charts_head": "What a press does" if plan.triggers else "What it does by itself",
        "charts": [{**chart._asdict(), "claims": _claims(material, name)} for name, chart in charts.items()],
        "charts_note": charts_note,
        "why": reasons[:MOST_REASONED],
        "why_note": rest_note(len(reasons), MOST_REASONED, "outputs", "why"),
        "knobs": list(_knobs(material)),
        "findings": [
            {
                "severity": finding.severity,
                "message": finding.message,
                "repair": finding.repair.text if finding.repair else None,
            }
            for finding in _findings(material)
        ],
        "findings_note": _findings_note(material),
        "mistakes": list(_mistakes(material.mistakes)) if material.mistakes is not None else [],
        "tables": [shortened(table) for table in dossier_tables(told)],
        "cautions": _CAUTIONS,
        "colours": {role: THEMES["print"][role] for role in ("ink", "soft", "line", "accent", "good", "bad", "block")},
    }


_BOUND = re.compile("_(at_most|at_least|within)$")  # that is said with the figure
_MEASURES = ("press → output", "kind", "delay", "hold", "minimum trigger", "recovery")
_SLOWER = "A slower one makes each longer by the same factor."
_RUNS = (
    "Every figure comes from a run of the plan under the rules named on the first page: common practice written down, "
)
_FLASHING = "A light that blinks more than three times in any one second can harm people who are sensitive to it "
_CAUTIONS = (
    f"{FULL_SPEED} {_SLOWER}",
    f"{_RUNS}not measured in any particular program.",
    f"{_FLASHING}(WCAG 2.2, success criterion 2.3.1): look before you show such a circuit.",
)


def _take(material: Material) -> Iterator[dict[str, Any]]:
    """What to take along: each part as it is placed, how many, and in stacks of 64 where it takes more than one."""
    counts: dict[Part, int] = {}
    for part in material.plan.cells.values():
        bare = part._replace(facing=facing_to_show(part), items=0)
        counts[bare] = counts.get(bare, 0) + 1
    for part, number in sorted(counts.items(), key=lambda item: (-item[1], str(item[0]))):
        stacks, rest = divmod(number, STACK)
        text = f"{stacks} × {STACK}{f' + {rest}' if rest else ''}" if stacks else ""
        svg = svg_text(symbol_drawing(part, material.rules, "print"))
        yield {"part": spoken(part), "number": number, "stacks": text, "svg": svg}
    items = sum(part.items for part in material.plan.cells.values())
    if items:
        stacks, rest = divmod(items, STACK)
        yield {"part": "items", "number": items, "stacks": f"{stacks} × {STACK} + {rest}" if stacks else "", "svg": ""}


def facing_to_show(part: Part) -> str | None:
    """The way in which a part is shown where its way does not matter."""
    kind = PARTS[part.kind]
    return "east" if kind.direction == "" else kind.default_direction


def spoken(part: Part) -> str:
    """A part as one says it, without its way.

    >>> from tickwright.kinds import parse_part
    >>> spoken(parse_part("comparator east mode=difference")), spoken(parse_part("repeater north delay=2"))
    ('comparator −', 'repeater, 2 ticks')
    """
    if part.behaviour == "comparator":
        return f"comparator {'−' if part.mode == 'difference' else '≥'}"
    if part.behaviour == "repeater":
        return f"repeater, {part.delay} tick{'s' if part.delay > 1 else ''}"
    if part.counts > 1:
        return f"{part.kind}, by {part.counts}"
    return f"{part.kind}, on" if part.thrown else part.kind


def _groups(material: Material, drawn: Pictures) -> Iterator[dict[str, Any]]:
    """The layers from below: the picture of each and its parts to tick off, equal ones together."""
    plan = material.plan
    one_row = plan.size[1] == 1
    boxes = boxes_of(plan)
    layers = {z: list(groups) for z, groups in groupby(build_groups(own_parts(plan)), key=lambda group: group.layer)}
    for z in sorted({*layers, *(cell[2] for box in boxes for cell in box.cells)}):
        rows = [_module_row(box, z, one_row=one_row) for box in boxes if box.layer(z)]
        for _, part, cells in layers.get(z, ()):
            facing = part.facing if part.facing != PARTS[part.kind].default_direction else None
            way = f" {'fixed to the ' if PARTS[part.kind].support == 'facing' else ''}{facing}" if facing else ""
            count = f"{len(cells)} × " if len(cells) > 1 else ""
            rows.append(
                {
                    "text": f"{count}{spoken(part)}{way}",
                    "kind": spoken(part),
                    "number": len(cells),
                    "at": cells_text(cells, z, one_row=one_row),
                    "part": str(part),
                    "cells": [list(cell) for cell in cells],
                }
            )
        pieces = [piece._asdict() for piece in drawn.strips(z)]
        counts: dict[str, int] = {}
        for row in rows:
            counts[row["kind"]] = counts.get(row["kind"], 0) + row["number"]
        kinds = [f"{number} × {kind}" if number > 1 else kind for kind, number in counts.items()]
        yield {"z": z, "map": drawn.map(z)._asdict(), "pictures": pieces, "rows": rows, "kinds": kinds}


def _module_row(box: Box, z: int, *, one_row: bool) -> dict[str, Any]:
    """The line of a list that stands for a layer of a module."""
    cells = sorted((x, y, z) for x, y in box.layer(z))
    way = f", {box.way}" if box.way else ""
    text = f"{box.use.name}: layer {z - box.use.at[2]} of {box.use.plan}{way}"
    return {
        "text": text,
        "kind": text,
        "number": 1,
        "at": cells_text(cells, z, one_row=one_row),
        "part": f"module {box.use.plan}",
        "cells": [list(cell) for cell in cells],
    }


def _modules(material: Material) -> Iterator[dict[str, Any]]:
    """Each module once, as it is drawn in its own file, and where it lies."""
    for file, inside, boxes in modules_of(material.plan):
        own = replace(material, plan=inside)
        uses = [
            f"{box.use.name}: its cell 0, 0, 0 lies at {cell_text(box.use.at)}{f', {box.way}' if box.way else ''}."
            for box in boxes
        ]
        yield {"title": inside.title or file, "file": file, "uses": uses, "groups": list(_groups(own, Pictures(own)))}


def _checks(material: Material) -> Iterator[list[str]]:
    """What to see on the way: what a press does once a layer is laid, and at the end."""
    for layer, found in material.checkpoints:
        yield [f"after layer {layer}", f"{answer(material.plan, found)}"]
    main = main_result(material.plan, [found.measured for found in material.dossier.answers])
    if main is not None:
        yield ["when all is laid", f"{answer(material.plan, main)}"]


def _claims(material: Material, name: str) -> list[dict[str, Any]]:
    """What a chart of that name claims of outputs, and whether it is kept; nothing for the chart of a press."""
    word, _, number = name.partition("-")
    if word != "claims" or not number.isdigit() or int(number) > len(material.charts):
        return []
    claims = material.charts[int(number) - 1].verdict.claims
    return [{"claim": one.claim, "passed": one.passed, "detail": one.detail} for one in claims]


def _verdict(material: Material) -> dict[str, Any]:
    """Whether the plan does what it promises, and what else a builder must know at once."""
    known = material.dossier
    passed = promises_passed(known.expectations, [run.verdict for run in material.charts])
    errors = [finding for finding in _findings(material) if finding.severity == "error"]
    head = "It promises nothing: the plan has no expectations and no charts."
    if passed:
        head = f"It {'does' if all(passed) else 'does not do'} what it promises: {promises_text(passed)}"
    lines = [line.strip() for line in (*expectation_lines(known)[1:], *missing_lines(material.plan))]
    lines += [f"Error: {finding.message}" for finding in errors]
    if known.order:
        sensitive = [verdict.trigger for verdict in known.order if verdict.sensitive]
        lines.append(
            f"Turned or moved it may behave differently, after: {', '.join(sensitive)}."
            if sensitive
            else "It does the same wherever it stands and however it is turned."
        )
    if known.left_out:
        what = ", ".join(known.left_out)
        lines.append(f"Not tried, since one press keeps it busy for long: {what}. tickwright measure --full tries it.")
    return {"good": all(passed) and not errors, "head": head, "lines": lines}


def _findings(material: Material) -> list[Finding]:
    """What was found, with its repair where the diagnosis knows one."""
    return told_once(material.dossier.findings, material.diagnosis.findings)


def _measures(answer: Any) -> list[str]:
    found = answer.measured
    least = "-" if found.minimum_trigger_steps is None else time_text(found.minimum_trigger_steps)
    again = "-" if answer.recovery_steps is None else time_text(answer.recovery_steps)
    return [press_text(found), found.kind_text, time_text(found.delay_steps), hold_text(found), least, again]


def _build(material: Material) -> Iterator[dict[str, Any]]:
    """The steps to build in, by layer, numbered throughout."""
    numbered = enumerate(build_order(material.plan), 1)
    for z, steps in groupby(numbered, key=lambda pair: pair[1].layer):
        rows = [
            {
                "number": number,
                "part": f"{len(step.cells)} × {step.part}" if len(step.cells) > 1 else str(step.part),
                "place": place_text(step),
                "hint": step.hint,
                "svg": svg_text(symbol_drawing(step.part, material.rules)),
            }
            for number, step in steps
        ]
        yield {"z": z, "steps": rows}


def place_text(step: BuildStep) -> str:
    """Where the cells of a step lie.

    >>> from tickwright.kinds import parse_part
    >>> place_text(BuildStep(1, parse_part("wire"), ((2, 0, 1), (3, 0, 1)), ""))
    'x 2 to 3, y 0'
    """
    (first, y, _), (last, *_) = step.cells[0], step.cells[-1]
    return f"x {first}, y {y}" if first == last else f"x {first} to {last}, y {y}"


def _bill(bill: Bill) -> dict[str, Any]:
    return {"heads": ["part", "number", "price", "cost"], "rows": [list(row) for row in bill.rows()]}


def _why(material: Material) -> Iterator[dict[str, Any]]:
    """For each press and output why it holds as it does, in sentences."""
    told = material.why.sentences if material.why is not None else ()
    answering = {(one.measured.trigger, one.measured.output) for one in answered(material.dossier.answers)}
    for pair, some in groupby(told, key=lambda one: (one.trigger, one.output)):
        if pair in answering or not answering:
            yield {"head": " → ".join(pair), "lines": [one.text for one in some]}


def _knobs(material: Material) -> Iterator[dict[str, Any]]:
    """For each press and output what each setting does to the hold, values with the same hold as one."""
    for (trigger, output), rows in material.knobs.items():
        shown = []
        for row in rows:
            texts = []
            for hold, group in groupby(row.holds, key=lambda one: time_text(one[1]) if one[1] is not None else one[2]):
                values = [value for value, *_ in group]
                span = f"{values[0]}" if len(values) == 1 else f"{values[0]} to {values[-1]}"
                texts.append(f"{span}: {hold}")
            where = ", ".join(map(str, row.knob.cell))
            shown.append(
                [f"{row.knob.part.kind} at ({where})", f"{row.knob.setting} {row.knob.value}", "; ".join(texts)]
            )
        if shown:
            yield {"head": f"{trigger} → {output}", "rows": shown}


def _findings_note(material: Material) -> str:
    note = "" if _findings(material) else "Nothing was found wrong with the plan itself. "
    if material.mistakes is None:
        if not material.dossier.answers:
            return f"{note}What mistakes in building it would do was not tried: no press is measured to tell it by."
        return f"{note}What mistakes in building it would do was not tried: the plan is too large, or too long at work."
    tried = len(material.mistakes.consequences)
    most = ", those made most easily" if material.mistakes.stopped else ""
    return f"{note}Below is what {tried} single mistakes in building it{most} would do; each was built and run."


def _mistakes(tried: WhatIf) -> Iterator[dict[str, Any]]:
    """For each press and output what mistakes would do, by what one would see."""
    from tickwright.diagnosis import SYMPTOMS

    for pair, own in tried.own.items():
        groups = []
        for name, found in tried.groups(pair).items():
            shown = [] if name == "as-planned" else found[:MOST_ROWS]
            rest = len(found) - len(shown)
            groups.append(
                {
                    "head": f"{SYMPTOMS[name]}: {len(found)} of {len(tried.consequences)} mistakes",
                    "rows": [[one.mistake.text, one.answers[pair].text] for one in shown],
                    "more": f"and {rest} more." if shown and rest else "",
                }
            )
        yield {"head": f"{pair[0]} → {pair[1]}", "own": f"As planned: {own.text}", "groups": groups}
