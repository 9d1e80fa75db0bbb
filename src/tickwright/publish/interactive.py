"""The interactive sheet: one HTML file with everything in it, that works from disk and asks for nothing else."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from tickwright.diagnosis import Explained
from tickwright.dossier import Dossier
from tickwright.durations import ticks_text, time_text
from tickwright.errors import UsageError
from tickwright.findings import Finding, told_once
from tickwright.kinds import PARTS
from tickwright.plan.bill import Bill, items_text
from tickwright.plan.build_order import build_order
from tickwright.publish.against import against_text, short_names
from tickwright.publish.canvas import svg_text, told_apart
from tickwright.publish.claim_bands import claims_drawing
from tickwright.publish.dossier_text import (
    Table,
    answer_of,
    dossier_tables,
    expectation_lines,
    hold_text,
    missing_lines,
    parts_text,
    press_text,
)
from tickwright.publish.scene import (
    WEB_FOLDER,
    NumberedStands,
    inlined,
    packed_changes,
    scene_data,
    three_script,
)
from tickwright.publish.sentences import promises_passed, reasons_data
from tickwright.publish.tokens import THEMES, Theme, css_variables, font_face, level_colour, luminance
from tickwright.recording import ChartRun, Press
from tickwright.space import Cell

MODULES = ("mesh.js", "scene.js", "runs.js", "flash.js", "lanes.js", "pane.js", "panels.js", "sheet.js")
MOST_RUN_BYTES = 400_000  # of all runs of a design, as they stand in the page
PAGE_PIXELS = 1024 * 768  # the page for which the area of flashing is given


class Design(NamedTuple):
    """What a sheet shows of one plan: all that is known, presses recorded whole, the bill.

    `left_out` are the (trigger, length in steps) pairs that were not recorded for want of room; `findings` are those of
    the diagnosis, which know their repairs; `charts` are the runs of the plan's charts; `why` tells why
    it holds as it does, None if that was not worked out.
    """

    dossier: Dossier
    presses: Sequence[Press]
    bill: Bill
    left_out: Sequence[tuple[str, int]] = ()
    findings: Sequence[Finding] = ()
    charts: Sequence[ChartRun] = ()
    why: Explained | None = None


def interactive_sheet(designs: Sequence[Design], title: str | None = None) -> str:
    """The text of an HTML file that shows designs: alone, or two side by side on one clock.

    3D view, layers, playback of each recorded press, cells, build steps, dossier, findings, bill. It holds its own
    script and asks for nothing else: its policy forbids every request. Without a title it is called after its designs.
    """
    if not designs:
        raise UsageError("A sheet needs at least one plan.")
    called = title or _all_titles([_title(design.dossier) for design in designs])
    script = f"{three_script()}\n{inlined(*MODULES)}\n{START}"
    style = _style()
    policy = (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src data:; font-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    filled = {
        "policy": policy,
        "title": html.escape(called),
        "style": style,
        "data": script_json(_sheet_data(called, designs)),
        "script": script,
    }
    page = (WEB_FOLDER / "sheet.html").read_text(encoding="utf-8")
    return re.sub(r"<!--(\w+)-->", lambda found: filled[found[1]], page)


START = """const sheet = JSON.parse(document.getElementById("data").textContent);
startSheet(sheet, THREE_BUNDLE).then(() => { document.documentElement.dataset.ready = "yes"; });
"""


def script_json(data: Any) -> str:
    r"""JSON that may stand in a script element whatever texts it holds: "<" never appears.

    >>> script_json({"title": "</script>"})
    '{"title":"\\u003c/script>"}'
    """
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _style() -> str:
    """The style sheet, with the colours of both themes as variables."""
    colours = (
        f"{font_face(embedded=True)}\n:root{{color-scheme:light;{css_variables('light')}}}\n"
        f':root[data-theme="dark"]{{color-scheme:dark;{css_variables("dark")}}}\n'
    )
    return colours + (WEB_FOLDER / "sheet.css").read_text(encoding="utf-8")


def _title(dossier: Dossier) -> str:
    return dossier.plan.title or "A plan without a title"


def _all_titles(titles: Sequence[str]) -> str:
    if len(titles) > 2:
        return f"{titles[0]}, and {len(titles) - 1} more"
    return " and ".join(dict.fromkeys(titles))


def _sheet_data(title: str, designs: Sequence[Design]) -> dict[str, Any]:
    from tickwright.publish.flash import DARK, LEAST_CHANGE, MOST_FLASHES, SLOWDOWNS, SMALL_AREA

    made = [_design_data(design, number) for number, design in enumerate(designs)]
    if len(made) > 1:
        for one, name in zip(made, told_apart([design.dossier.plan.title for design in designs]), strict=True):
            one["title"] = name
    told = None
    if len(made) == 2:
        this, that = designs
        names = short_names((made[0]["title"], made[1]["title"]))
        told = against_text(names, (this.dossier, that.dossier), (this.bill, that.bill))
    return {
        "title": title,
        "against": told or "",
        "designs": made,
        "kinds": {kind.name: kind.help for kind in PARTS.values()},
        "limits": {
            "most": MOST_FLASHES,
            "least": LEAST_CHANGE,
            "dark": DARK,
            "area": round(SMALL_AREA * PAGE_PIXELS),
            "slowdowns": list(SLOWDOWNS),
            "luminance": [round(luminance(level_colour(THEMES["light"], level)), 4) for level in range(16)],
        },
    }


def _design_data(design: Design, number: int) -> dict[str, Any]:
    dossier, plan = design.dossier, design.dossier.plan
    configurations = NumberedStands(plan)
    for press in design.presses:
        for _, stands in press.recording.scenes:
            configurations.number(stands)
    rules = design.presses[0].recording.rules if design.presses else None
    if rules is None:
        raise UsageError(f'The plan "{_title(dossier)}" has no trigger to press: name one under [triggers].')
    scene = scene_data(plan, rules, configurations.all)
    cells = {(x, y, z): number for number, (x, y, z) in enumerate(scene["cells"])}
    runs, dropped = _runs(design.presses, cells, configurations)
    wide, deep, high = plan.size
    return {
        "title": _title(dossier),
        "rules": dossier.rules,
        **answer_of(dossier, design.charts),
        "broken": not all(promises_passed(dossier.expectations, [run.verdict for run in design.charts])),
        "lamps": [name for name, cell in plan.outputs.items() if _is_lamp(dossier, cell)],
        "size_text": f"{parts_text(len(plan.cells))} in a box of {wide} × {deep} × {high} cells (x, y, z).",
        "scene": scene,
        "runs": runs,
        "build": [
            {
                "layer": step.layer,
                "part": str(step.part),
                "cells": [cells[cell] for cell in step.cells],
                "hint": step.hint,
            }
            for step in build_order(plan)
        ],
        "expectations": [*expectation_lines(dossier), *missing_lines(plan)],
        "charts": [_chart_data(run, f"chart-{number}-{at}") for at, run in enumerate(design.charts)],
        "tables": [table._asdict() for table in (_measures(dossier), *dossier_tables(dossier)) if table.rows],
        "why": reasons_data(design.why),
        "findings": [finding.as_data() for finding in told_once(dossier.findings, design.findings)],
        "bill": [
            *([line.kind, line.number, str(line.price), str(line.cost)] for line in design.bill.lines),
            *([["items", items_text(design.bill.items), "", ""]] if design.bill.items else []),
            ["all", design.bill.number, "", str(design.bill.total)],
        ],
        "left_out": [f"{trigger} for {ticks_text(length)}" for trigger, length in (*design.left_out, *dropped)],
    }


def _chart_data(run: ChartRun, name: str) -> dict[str, Any]:
    """A chart as the one picture of it in both looks, and its claims about outputs."""
    claims = [{"claim": one.claim, "passed": one.passed, "detail": one.detail} for one in run.verdict.claims]
    looks: tuple[Theme, ...] = ("light", "dark")
    pictures: dict[str, str] = {look: svg_text(claims_drawing(run, look), f"{name}-{look}") for look in looks}
    return {"name": run.verdict.chart, "claims": claims, **pictures}


def _is_lamp(dossier: Dossier, cell: Cell) -> bool:
    plan = dossier.plan
    part = plan.cells.get(cell)
    return part is not None and PARTS[part.kind].behaviour == "lamp"


def _measures(dossier: Dossier) -> Table:
    """What one press comes to, for each output."""
    rows = (
        (press_text(found), found.kind_text, time_text(found.delay_steps), hold_text(found),
         time_text(found.minimum_trigger_steps), time_text(found.margin_steps))
        for found in (answer.measured for answer in dossier.answers)
    )  # fmt: skip
    return Table("One press", ("press", "kind", "delay", "hold", "minimum trigger", "margin"), tuple(rows))


def _runs(
    presses: Sequence[Press], cells: dict[Cell, int], configurations: NumberedStands
) -> tuple[list[dict[str, Any]], list[tuple[str, int]]]:
    """Each press as data, as many as the page has room for; and what was left out for that."""
    runs: list[dict[str, Any]] = []
    dropped: list[tuple[str, int]] = []
    size = 0
    for press in sorted(presses, key=lambda press: not press.own):
        recording = press.recording
        changes = packed_changes({cells[cell]: changes for cell, changes in recording.shown.items()})
        if runs and size + len(changes) > MOST_RUN_BYTES:
            dropped.append((press.trigger, press.length_steps or 0))
            continue
        size += len(changes)
        runs.append(
            {
                "trigger": press.trigger,
                "length_steps": press.length_steps,
                "own": press.own,
                "steps": recording.trace.steps,
                "pressed_at": recording.pressed_at_step or 0,
                "rested": recording.rested,
                "configurations": [[step, configurations.number(stands)] for step, stands in recording.scenes],
                "changes": changes,
                "findings": [finding.as_data() for finding in recording.findings],
            }
        )
    triggers = list(dict.fromkeys(press.trigger for press in presses))
    runs.sort(key=lambda run: (triggers.index(run["trigger"]), not run["own"], run["length_steps"] or 0))
    return runs, dropped
