"""`tickwright chart`: write the chart of what a plan does now."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from tickwright import draft_chart, parse_duration
from tickwright.cli.inputs import load
from tickwright.cli.settings import STANDARD
from tickwright.cli.show import AsJson, RulesName, print_findings, print_json, print_lanes, working
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.plan import chart_text, save


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    do: Annotated[
        list[str] | None,
        typer.Option(
            "--do",
            metavar="STEP:WHO[:ACT]",
            help="An act of the hand, steps from time 0; may be repeated. By itself each trigger is worked once.",
        ),
    ] = None,
    duration: Annotated[
        str | None, typer.Option("--for", metavar="DURATION", help="How long to watch; until all rests if not given.")
    ] = None,
    add: Annotated[
        str | None, typer.Option("--add", metavar="NAME", help="Put the chart into the plan file under this name.")
    ] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Write the chart of what a plan does now: what the hand does, and what each output shows because of it."""
    if add is not None and plan == STANDARD:
        raise UsageError("--add changes a plan file: give it one instead of standard input.")
    loaded = load(plan)
    if add is not None and any(chart.name == add for chart in loaded.charts):
        raise UsageError(f'The plan has a chart "{add}" already: take another name, or remove that one first.')
    if add is not None and (not add.strip() or not add.isprintable()):
        raise UsageError("The name after --add is empty or cannot be printed: give the chart a name of letters.")
    steps = parse_duration(duration) if duration is not None else None
    if steps == 0:
        raise UsageError("A run of no time cannot be charted: give --for at least one step.")
    with working(f"running {plan}"):
        drafted = draft_chart(loaded, do or None, steps, add or "now", rules)
    chart = drafted.chart
    text = chart_text(chart)
    if add is not None:
        save(replace(loaded, charts=(*loaded.charts, chart)), plan)
    if as_json:
        told = {
            "name": chart.name,
            "starts": "at rest" if chart.at_rest else "at step 0",
            "hand": list(chart.hand or ()),
            "watch": duration_text(chart.watch_steps or 0),
            "shows": list(chart.shows),
        }
        findings = [finding.as_data() for finding in drafted.findings]
        print_json({"plan": str(plan), "chart": told, "text": text, "findings": findings})
        return
    print_lanes(drafted.played.timeline.trace())
    print()
    print(text, end="")
    print_findings(drafted.findings)
    if add is not None:
        print(f'Added to {plan} as "{add}".')
