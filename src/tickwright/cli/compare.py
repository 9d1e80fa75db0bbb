"""`tickwright compare`: plans side by side."""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import Annotated

import typer

from tickwright import compare, load, parse_duration
from tickwright.cli.show import AsJson, RulesName, print_json, print_table, working
from tickwright.errors import UsageError
from tickwright.plan import load_prices
from tickwright.verify import SORT_KEYS, Compared

HEADS = (
    "plan", "kind", "delay", "hold", "error", "minimum trigger", "margin", "recovery", "parts", "price", "box",
    "pitch x", "pitch y", "rule sets", "proof",
)  # fmt: skip


def command(
    plans: Annotated[list[Path], typer.Argument(help="Plan files.", metavar="PLAN...")],
    hold: Annotated[str | None, typer.Option("--hold", metavar="DURATION", help="The hold that is wanted.")] = None,
    trigger: Annotated[str | None, typer.Option("--trigger", help="The trigger; the first if not given.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="The output; the first if not given.")] = None,
    sort: Annotated[
        str | None, typer.Option("--sort", metavar="KEY", help=f"Sort by one of: {', '.join(SORT_KEYS)}.")
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    claim: Annotated[
        str | None,
        typer.Option(
            "--prove", metavar="CLAIM", help="Prove a claim of each plan, too: settles, never-sticks or expectations."
        ),
    ] = None,
    states: Annotated[
        int, typer.Option("--states", metavar="N", help="Explore at most so many states for each proof.")
    ] = 100_000,
    rules: RulesName = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV, times in steps.")] = False,
    as_markdown: Annotated[bool, typer.Option("--markdown", help="Print a Markdown table, times in steps.")] = False,
    as_json: AsJson = False,
) -> None:
    """Compare plans: hold and its error, minimum trigger, recovery, cost, size, pitch, rule sets and proof.

    Pitch is that of plain copies side by side; rule sets: whether kind and hold are the same under all built-in ones.
    """
    if as_csv + as_markdown + as_json > 1:
        raise UsageError("--csv, --markdown and --json are three forms of one answer: give one of them.")
    wanted = parse_duration(hold) if hold is not None else None
    table = load_prices(prices) if prices is not None else None
    with working(f"comparing {len(plans)} plans"):
        rows = compare(
            {str(path): load(path) for path in plans}, wanted, trigger, output, sort, rules, table, claim, states
        )
    cells = [_cells(row) for row in rows]
    if as_json:
        print_json({"wanted_hold_steps": wanted, "claim": claim, "results": [row.as_data() for row in rows]})
    elif as_csv:
        csv.writer(sys.stdout, lineterminator="\n").writerows([HEADS, *cells])
    elif as_markdown:
        for row in (HEADS, ("---",) * len(HEADS), *cells):
            print("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |")
    else:
        print_table("Plans side by side, times in steps of 0.05 s", HEADS, cells)


def _cells(row: Compared) -> tuple[str, ...]:
    steps = (
        row.delay_steps,
        row.hold_steps,
        row.error_steps,
        row.minimum_trigger_steps,
        row.margin_steps,
        row.recovery_steps,
    )
    shown = ["-" if number is None else str(number) for number in steps]
    pitches = ["-" if cells is None else str(cells) for cells in (row.pitch_x_cells, row.pitch_y_cells)]
    proof = "-" if row.proof is None else f"{row.proof} ({row.proof_states} states)"
    box = " x ".join(map(str, row.box))
    return (row.plan, row.kind, *shown, str(row.parts), f"{row.price:g}", box, *pitches, row.rule_sets, proof)
