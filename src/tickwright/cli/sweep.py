"""`tickwright sweep`: many runs as one job, kept in a file and gone on with."""

from __future__ import annotations

import csv
import json
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from tickwright import grid, parse_duration, sweep
from tickwright.charts import charts_of
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, named, print_json, print_table, tells_progress, time_cell
from tickwright.errors import UsageError
from tickwright.sweeps import Point, Row, left, recorded

MOST_SHOWN = 40
MEASURED = (
    "kind", "delay_steps", "hold_steps", "ends", "minimum_trigger_steps", "margin_steps", "settled", "rest_steps",
    "lowest_level",
)  # fmt: skip


def command(
    plans: Annotated[
        list[Path] | None, typer.Argument(help="Plan files; none: only read --into.", metavar="[PLAN...]")
    ] = None,
    into: Annotated[
        Path | None, typer.Option("--into", metavar="FILE", help="The SQLite file that keeps the results (needed).")
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="WHERE:NAME=VALUES",
            help='Vary an argument of a part, by cell or name: "3,0,1:delay=1..4", "crate:items=0..320/64"; '
            "may be repeated.",
        ),
    ] = None,
    length: Annotated[
        list[str] | None,
        typer.Option(
            "--length",
            metavar="DURATIONS",
            help='Trigger lengths: "1 s", "10 ticks..30 ticks"; may be repeated.',
        ),
    ] = None,
    trigger: Annotated[
        list[str] | None, typer.Option("--trigger", help="A trigger to press; each in turn if not given.")
    ] = None,
    minimum: Annotated[
        bool, typer.Option("--minimum", help="Seek the minimum trigger at each point: up to 200 presses a point.")
    ] = False,
    do: Annotated[
        list[str] | None,
        typer.Option(
            "--do",
            metavar="STEP:WHO[:ACT]",
            help='Run these acts instead of measuring a press; steps may vary, "20..60/2:press"; may be repeated.',
        ),
    ] = None,
    duration: Annotated[str | None, typer.Option("--for", metavar="DURATION", help="How long to run the acts.")] = None,
    chart: Annotated[
        str | None,
        typer.Option(
            "--chart", metavar="NAME", help="Judge this chart of each plan instead: a column for each of its claims."
        ),
    ] = None,
    rules: Annotated[
        list[str] | None, typer.Option("--rules", metavar="NAME|FILE", help="A rule set; may be repeated.")
    ] = None,
    order: Annotated[
        list[str] | None,
        typer.Option("--order", metavar="canonical|reversed|SEED", help="An order of telling; may be repeated."),
    ] = None,
    workers: Annotated[
        int | None, typer.Option("--workers", metavar="N", help="How many processes; one for each core if not given.")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="The dask.distributed scheduler to run it on.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say how many points are left.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV, times in steps.")] = False,
    as_json: AsJson = False,
) -> None:
    """Measure a press, run acts or judge a chart at every combination of plans, rules, settings, lengths and steps.

    Each result is in the file at once. After Ctrl-C or a crash type the same command again: it goes on from there, and
    does nothing twice.
    """
    if as_csv and as_json:
        raise UsageError("--csv and --json are two forms of one answer: give one of them.")
    if into is None:
        raise UsageError("A sweep keeps its results in a file: give it --into FILE, such as --into holds.sqlite.")
    axes = (settings, length, trigger, minimum, do, duration, chart, rules, order, workers, cluster, dry_run)
    if not plans:
        if any(axes):
            raise UsageError("A sweep needs plans: name one or more plan files before the options.")
        _show(recorded(into), as_csv, as_json, into)
        return
    loaded = {}
    for path in plans:
        loaded[str(path)] = load(path)
        if chart is not None:
            with named(path):
                charts_of(loaded[str(path)])
    points = grid(
        loaded,
        rules or (),
        settings or (),
        trigger or (),
        length or (),
        minimum,
        do or (),
        parse_duration(duration) if duration is not None else None,
        order or ("canonical",),
        chart,
    )
    if dry_run:
        _show_plan(points, into, as_json)
        return
    begun: list[tuple[float, int]] = []
    try:
        rows = sweep(points, into, workers, cluster, _progress(begun))
    except KeyboardInterrupt:
        _clear()
        print(f"{_points(len(left(points, into)))} left; the same command goes on from there.", file=sys.stderr)
        raise
    finally:
        _clear()
    _show(rows, as_csv, as_json, into)


def _show_plan(points: Sequence[Point], into: Path, as_json: bool) -> None:
    total = len({point.key for point in points})
    todo = len(left(points, into))
    if as_json:
        print_json({"into": str(into), "points": total, "done": total - todo, "left": todo})
        return
    print(f"{_points(total)}, {total - todo:,} in {into} already, {todo:,} left to do.")


def _progress(begun: list[tuple[float, int]]) -> Callable[[int, int], None] | None:
    if not tells_progress():
        return None

    def tell(done: int, total: int) -> None:
        begun.append((time.monotonic(), done))
        (start, before), (now, _) = begun[0], begun[-1]
        rate = (done - before) / (now - start) if now > start else 0.0
        rest = f", {rate:,.0f} a second, {(total - done) / rate:,.0f} s left" if rate else ""
        print(f"\r{done:,} of {total:,} points{rest} (Ctrl-C keeps them)\033[K", end="", file=sys.stderr, flush=True)

    return tell


def _clear() -> None:
    if tells_progress():
        print("\r\033[K", end="", file=sys.stderr, flush=True)


def _show(rows: Sequence[Row], as_csv: bool, as_json: bool, into: Path) -> None:
    if as_json:
        print_json({"into": str(into), "results": [row.as_data() for row in rows]})
    elif as_csv:
        _print_csv(rows)
    else:
        _print_rows(rows, into)


def _names(rows: Sequence[Row]) -> list[str]:
    """What was set in any row, in the order of first mention."""
    return list(dict.fromkeys(name for row in rows for name in row.settings))


def _print_csv(rows: Sequence[Row]) -> None:
    """One line for each output of each point; a run's changes are JSON."""
    names = _names(rows)
    heads = ["plan", "rules", *names, "order", "trigger", "length_steps", "acts", "steps", "output"]
    writer = csv.writer(sys.stdout, lineterminator="\n")
    claims = _claims(rows)
    charted = ["chart", *claims] if claims or any(row.chart is not None for row in rows) else []
    writer.writerow([*heads, *MEASURED, "pulses", "changes", "error", *charted])
    for row in rows:
        point: list[object] = [row.plan, row.rules, *(row.settings.get(name) for name in names), row.order, row.trigger]
        point += [row.length_steps, "; ".join(row.acts), row.steps]
        if row.error is not None:
            writer.writerow(
                [*point, None, *(None for _ in MEASURED), None, None, row.error, *([row.chart] if charted else [])]
            )
        for result in row.results:
            measured = [result[name] for name in MEASURED]
            writer.writerow([*point, result["output"], *measured, len(result["pulses"]), None, None])
        if row.claims:
            passed = _passed(row)
            told = [("passed" if passed[claim] else "failed") if claim in passed else None for claim in claims]
            writer.writerow([*point, None, *(None for _ in MEASURED), None, None, None, row.chart, *told])
        for output, changes in row.outputs.items():
            writer.writerow([*point, output, *(None for _ in MEASURED), None, json.dumps(changes), None])


def _claims(rows: Sequence[Row]) -> list[str]:
    """The claims of the charts of all rows, in the order of first mention."""
    return list(dict.fromkeys(claim["claim"] for row in rows for claim in row.claims))


def _passed(row: Row) -> dict[str, bool]:
    """Whether each claim of a row's chart is kept; one that stands there twice is if both are."""
    return {
        one["claim"]: all(other["passed"] for other in row.claims if other["claim"] == one["claim"])
        for one in row.claims
    }


def _print_rows(rows: Sequence[Row], into: Path) -> None:
    charted = [row for row in rows if row.chart is not None]
    others = [row for row in rows if row.chart is None]
    if charted:
        _print_claims(charted, into)
    if others or not charted:
        _print_measured(others, into)
    refused = [row for row in others if row.error is not None]
    if refused:
        print(f"Refused by the rules: {_points(len(refused))}, the first: {refused[0].error}")
    print("Times assume a world at its full 20 steps a second.")


def _print_claims(rows: Sequence[Row], into: Path) -> None:
    """The points at which charts were judged: a column for each claim, and below what each of them claims."""
    names, claims = _names(rows), _claims(rows)
    lines = []
    for row in rows:
        passed = _passed(row)
        kept = ["error" if row.error is not None else _told(passed.get(claim)) for claim in claims]
        point = [row.plan, row.rules, *(row.settings.get(name, "-") for name in names), row.order, str(row.chart)]
        lines.append([*point, *kept])
    heads = ["plan", "rules", *names, "order", "chart"]
    shown = [column for column in range(len(heads)) if heads[column] == "chart" or _varies(lines, column)]
    shown += range(len(heads), len(heads) + len(claims))
    heads += [f"claim {number}" for number in range(1, len(claims) + 1)]
    table = [[line[column] for column in shown] for line in lines[:MOST_SHOWN]]
    print_table(f"{_points(len(rows))} in {into}", [heads[column] for column in shown], table)
    if len(lines) > MOST_SHOWN:
        print(f"... and {len(lines) - MOST_SHOWN:,} more lines: --csv or --json gives them all.")
    for number, claim in enumerate(claims, 1):
        print(f"claim {number}: {claim}")
    kept_all = sum(row.error is None and all(_passed(row).values()) for row in rows)
    print(f"All claims are kept at {kept_all:,} of {_points(len(rows))}.")
    unjudged = [row for row in rows if row.error is not None]
    if unjudged:
        print(f"Not judged: {_points(len(unjudged))}, the first: {unjudged[0].error}")


def _told(passed: bool | None) -> str:
    return "-" if passed is None else "kept" if passed else "FAILED"


def _print_measured(rows: Sequence[Row], into: Path) -> None:
    names = _names(rows)
    lines = [line for row in rows for line in _lines(row, names)]
    heads = ["plan", "rules", *names, "order", "stimulus", "length", "output", "kind", "delay", "hold"]
    always = ("stimulus", "output", "kind", "delay", "hold")
    shown = [column for column, head in enumerate(heads) if head in always or _varies(lines, column)]
    table = [[line[column] for column in shown] for line in lines[:MOST_SHOWN]]
    print_table(f"{_points(len(rows))} in {into}", [heads[column] for column in shown], table)
    if len(lines) > MOST_SHOWN:
        print(f"... and {len(lines) - MOST_SHOWN:,} more lines: --csv or --json gives them all.")


def _points(number: int) -> str:
    return f"{number:,} point" + ("" if number == 1 else "s")


def _varies(lines: Sequence[Sequence[str]], column: int) -> bool:
    return len({line[column] for line in lines}) > 1


def _lines(row: Row, names: Sequence[str]) -> list[list[str]]:
    """A row as lines of the table, one for each output."""
    stimulus = row.trigger or "; ".join(row.acts) or "hands off"
    length = time_cell(row.length_steps)
    point = [row.plan, row.rules, *(row.settings.get(name, "-") for name in names), row.order, stimulus, length]
    if row.error is not None:
        return [[*point, "-", "refused", "-", "-"]]
    lines = [[*point, result["output"], *_measured(result)] for result in row.results]
    return lines + [[*point, name, f"{len(changes) - 1} changes", "-", "-"] for name, changes in row.outputs.items()]


def _measured(result: dict[str, Any]) -> list[str]:
    kind = f"train of {len(result['pulses'])}" if result["kind"] == "train" else result["kind"]
    hold = time_cell(result["hold_steps"]) if result["ends"] else "never ends"
    return [kind, time_cell(result["delay_steps"]), hold]
