"""`tickwright run`: simulate a plan and show what its outputs do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import diagnose, parse_duration, run
from tickwright.cli.files import write_whole
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, Order, RulesName, print_findings, print_json, print_lanes, working
from tickwright.errors import UsageError
from tickwright.publish import vcd_text
from tickwright.space import Cell


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    do: Annotated[
        list[str] | None,
        typer.Option("--do", metavar="STEP:WHO[:ACT]", help='An act of the hand, such as "20:press"; may be repeated.'),
    ] = None,
    duration: Annotated[str, typer.Option("--for", metavar="DURATION", help="How long to simulate.")] = "10 s",
    engine: Annotated[
        str | None,
        typer.Option("--engine", metavar="reference|fast", help="Which engine; if not given, the one done sooner."),
    ] = None,
    rules: RulesName = None,
    order: Order = "canonical",
    watch: Annotated[
        list[str] | None,
        typer.Option("--watch", metavar="X,Y,Z", help="Another cell to watch, besides the outputs; may be repeated."),
    ] = None,
    vcd: Annotated[
        Path | None, typer.Option("--vcd", metavar="FILE", help="Write the waveforms as a VCD file.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Simulate a plan step by step: what is pressed when, and what its outputs show."""
    loaded = load(plan)
    steps = parse_duration(duration)
    watched = {**loaded.outputs, **{text: _cell(text) for text in watch or ()}}
    with working(f"running {plan}"):
        result = run(loaded, do or [], steps, rules, order, engine, watched)
        findings = (*result.findings, *diagnose(loaded, rules, repairs=False, depth="laid").findings)
    if vcd is not None:
        write_whole(vcd, vcd_text(result.trace))
    if as_json:
        print_json(
            {
                "plan": str(plan),
                "rules": result.rules,
                "engine": result.engine,
                "steps": steps,
                "outputs": {name: [list(pair) for pair in pairs] for name, pairs in result.trace.changes.items()},
                "findings": [finding.as_data() for finding in findings],
            }
        )
        return
    print_lanes(result.trace)
    print_findings(findings)


def _cell(text: str) -> Cell:
    pieces = text.split(",")
    try:
        x, y, z = (int(piece) for piece in pieces)
    except ValueError:
        raise UsageError(f'"{text}" is no cell to watch: write --watch x,y,z, such as 3,0,1.') from None
    return (x, y, z)
