"""The printed sheet of a plan: its data as one JSON document, and the PDF that a typst template makes of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import cached_property
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.findings import Finding, told_once
from tickwright.plan.bill import Bill
from tickwright.publish.building import BuildStep, build_order
from tickwright.publish.canvas import Drawing, svg_text
from tickwright.publish.chart import FULL_SPEED, lap_chart, length_chart, timing_chart
from tickwright.publish.dossier_text import (
    dossier_tables,
    expectation_lines,
    hold_text,
    missing_lines,
    parts_text,
    press_text,
)
from tickwright.publish.drawing import layer_drawing, windows
from tickwright.publish.isometric import isometric_drawing
from tickwright.publish.legend import legend_rows, symbol_drawing
from tickwright.publish.raster import fonts, needs_other_fonts
from tickwright.publish.tokens import Theme

if TYPE_CHECKING:
    from tickwright.diagnosis import WhatIf
    from tickwright.material import Material

PAPERS = {"a4": "a4", "letter": "us-letter"}
MOST_ROWS = 8  # of one symptom
MOST_ACROSS, MOST_DOWN = 24, 30  # cells of a layer in one picture: more are too small to be read on paper
UNPRESSED = "run"  # what the files are called that show a run in which nothing is pressed


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
    return {
        "paper": PAPERS[paper],
        "title": plan.title or "Untitled plan",
        "subtitle": f"{parts_text(material.bill.number)}, {' × '.join(map(str, plan.size))} cells (x × y × z), "
        f"rules {rules.name}",
        "footer": f"{plan.title or 'Untitled plan'}. {FULL_SPEED}",
        "verdict": _verdict(material),
        "picture": drawn.whole("south-east")._asdict(),
        "measures": {"heads": _MEASURES, "rows": [_measures(answer) for answer in known.answers]},
        "layers": [piece._asdict() for z in range(plan.size[2]) for piece in drawn.pieces(z)],
        "legend": [
            {"part": row.text, "help": row.help, "svg": svg_text(row.symbol)}
            for row in legend_rows(plan.cells.values(), rules)
        ],
        "build_note": "From the ground up, each part after what it stands on. x grows east, y grows south, z grows up.",
        "build": list(_build(material)),
        "bill_note": "Prices are your own." if material.priced else "Without a price table each part costs 1.",
        "bill": _bill(material.bill),
        "charts_head": "What a press does" if plan.triggers else "What it does by itself",
        "charts": [chart._asdict() for chart in drawn.charts.values()],
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
        "tables": [table._asdict() for table in dossier_tables(known)],
        "cautions": _CAUTIONS,
    }


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


def sheet_charts(material: Material, theme: str = "light") -> dict[str, Drawing]:
    """The charts that there is something to show on: of every press as it is, its lengths and its laps, by name."""
    made: dict[str, Drawing] = {}
    known = material.dossier
    look: Any = theme
    for press in material.presses:
        if not press.own:
            continue
        if not press.recording.trace.names:
            continue
        name = press.trigger or UNPRESSED
        made[f"{name}-chart"] = timing_chart({material.plan.title or "Untitled plan": press.recording}, look)
        answers = [answer for answer in known.answers if answer.measured.trigger == name]
        rows = {answer.measured.output: answer.lengths for answer in answers if answer.lengths}
        if any(row.hold_steps is not None for found in rows.values() for row in found):
            least = {answer.measured.output: answer.measured.minimum_trigger_steps for answer in answers}
            made[f"{name}-lengths"] = length_chart(name, rows, press.length_steps, least, look)
        if any(len(lap.levels) > 1 for lap in known.laps.get(name, ())):
            made[f"{name}-laps"] = lap_chart(name, known.laps[name], look)
    return made


class Picture(NamedTuple):
    """A drawing as the text of an SVG file, and the same in words."""

    svg: str
    alt: str


class Pictures:
    """The pictures of a plan and the charts of its presses in one theme, each drawn once, when it is first wanted."""

    def __init__(self, material: Material, theme: Theme = "light") -> None:
        self._material = material
        self._theme = theme
        self._made: dict[str | int, Picture] = {}

    def whole(self, corner: str) -> Picture:
        """The whole plan from above a corner."""
        plan, rules = self._material.plan, self._material.rules
        return self._kept(corner, lambda: isometric_drawing(plan, rules, theme=self._theme, corner=corner))

    def layer(self, z: int) -> Picture:
        """One layer from above."""
        plan, rules = self._material.plan, self._material.rules
        return self._kept(z, lambda: layer_drawing(plan, rules, z, theme=self._theme))

    def pieces(self, z: int) -> list[Picture]:
        """One layer from above in as many pictures as it takes for a page to show every cell large enough."""
        plan, rules = self._material.plan, self._material.rules
        shown = windows(plan, MOST_ACROSS, MOST_DOWN)
        if len(shown) == 1:
            return [self.layer(z)]
        return [_picture(layer_drawing(plan, rules, z, theme=self._theme, window=window)) for window in shown]

    @cached_property
    def charts(self) -> dict[str, Picture]:
        """The charts by name, as `sheet_charts` makes them."""
        return {name: _picture(chart) for name, chart in sheet_charts(self._material, self._theme).items()}

    def _kept(self, key: str | int, draw: Callable[[], Drawing]) -> Picture:
        if key not in self._made:
            self._made[key] = _picture(draw())
        return self._made[key]


def _picture(drawing: Drawing) -> Picture:
    return Picture(svg_text(drawing), f"{drawing.title}. {drawing.description}")


def _verdict(material: Material) -> dict[str, Any]:
    """Whether the plan does what it promises, and what else a builder must know at once."""
    known = material.dossier
    failed = [verdict for verdict in known.expectations if not verdict.passed]
    count = len(known.expectations)
    errors = [finding for finding in _findings(material) if finding.severity == "error"]
    if failed:
        head = f"It does not do what it promises: {len(failed)} of {count} expectations fail."
    elif count:
        head = f"It does what it promises: all {count} expectations hold."
    else:
        head = "It promises nothing: the plan has no expectations."
    lines = [line.strip() for line in (*expectation_lines(known)[1:], *missing_lines(material.plan))]
    lines += [f"Error: {finding.message}" for finding in errors]
    if known.order:
        sensitive = [verdict.trigger for verdict in known.order if verdict.sensitive]
        lines.append(
            f"Turned or moved it may behave differently, after: {', '.join(sensitive)}."
            if sensitive
            else "It does the same however it is turned or moved, in every order of telling that was tried."
        )
    if known.left_out:
        what = ", ".join(known.left_out)
        lines.append(f"Not tried, since one press keeps it busy for long: {what}. tickwright measure --full tries it.")
    return {"good": not failed and not errors, "head": head, "lines": lines}


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
