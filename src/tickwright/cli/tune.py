"""`tickwright tune`: the smallest changes to a plan that bring its hold to the one wanted."""

from __future__ import annotations

from glob import escape
from pathlib import Path
from typing import Annotated

import typer

from tickwright import Plan, parse_duration
from tickwright.cli.files import refuse_what_is_there, write_whole
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, RulesName, named, print_json, print_table, stoppable
from tickwright.design import (
    KNOBS_COST,
    NO_HOLD,
    ChartTuning,
    KnobRow,
    Tuned,
    TunedToChart,
    Tuning,
    error_text,
    holds_texts,
    tune,
    tune_to_chart,
)
from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.plan import dumps


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    hold: Annotated[
        str | None, typer.Option("--hold", metavar="DURATION", help="The hold that is wanted; or give --chart.")
    ] = None,
    chart: Annotated[
        str | None, typer.Option("--chart", metavar="NAME", help="The chart of the plan that is to be kept.")
    ] = None,
    within: Annotated[
        str | None,
        typer.Option("--within", metavar="DURATION", help="By how much the hold may be off; 0 if not given."),
    ] = None,
    trigger: Annotated[str | None, typer.Option("--trigger", help="The trigger; the first if not given.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="The output; the first if not given.")] = None,
    runs: Annotated[int, typer.Option("--runs", metavar="N", min=1, help="Run at most so many changed plans.")] = 3_000,
    save: Annotated[
        Path | None, typer.Option("--save", metavar="DIR", help="Write the changed plans into this folder.")
    ] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find the smallest changes that bring a plan to a hold or a chart, and what its knobs do; every one is run.

    Ctrl-C ends the search and shows what was found. The exit code is 1 if nothing within what was asked was found.
    """
    if (hold is None) == (chart is None):
        raise UsageError("Say what the plan is tuned to: give either --hold DURATION or --chart NAME, not both.")
    if chart is not None and (within, trigger, output) != (None,) * 3:
        raise UsageError("A chart names its own triggers, outputs and give or take: leave out the options for these.")
    wanted = parse_duration(hold) if hold is not None else 0
    slack = parse_duration(within) if within is not None else 0
    if save is not None:
        refuse_what_is_there(save, f"{escape(plan.stem)}-tuned-*.toml")
    loaded = load(plan)
    with stoppable() as tell:

        def progress(done: int, of: int) -> None:
            if tell(f"tuning {plan}: {done:,} of {of:,}"):
                raise KeyboardInterrupt  # which ends the search

        if chart is not None:
            with named(plan):
                kept = tune_to_chart(loaded, chart, rules, runs, progress)
        else:
            found = tune(loaded, wanted, trigger, output, slack, rules, runs, progress)
    if chart is not None:
        _finish_chart(kept, plan, save, as_json)
        return
    made = enumerate(found.found, 1) if save is not None else ()
    files = [_saved(save or plan, plan, number, one.plan) for number, one in made]
    if as_json:
        document = {"plan": str(plan), **found.as_data()}
        for data, file in zip(document["tuned"], files, strict=False):
            data["file"] = str(file)
        print_json(document)
    else:
        _show(found, files)
    if not any(abs(one.error_steps) <= slack for one in found.found):
        raise typer.Exit(1)


def _finish_chart(found: ChartTuning, plan: Path, save: Path | None, as_json: bool) -> None:
    """Write and show what tuning to a chart found; the exit code is 1 if nothing keeps it."""
    made = enumerate(found.found, 1) if save is not None else ()
    files = [_saved(save or plan, plan, number, one.plan) for number, one in made]
    if as_json:
        document = {"plan": str(plan), **found.as_data()}
        for data, file in zip(document["tuned"], files, strict=False):
            data["file"] = str(file)
        print_json(document)
    else:
        for claim in found.before:
            print(
                f"{'kept  ' if claim.passed else 'FAILED'}  {claim.claim}"
                + (f": {claim.detail}" if not claim.passed else "")
            )
        for number, one in enumerate(found.found):
            failed = "; ".join(claim.detail for claim in one.claims if not claim.passed)
            _tell(number, failed or "all claims kept", one, files)
        if found.found and not found.found[0].passed:
            print("No change that was tried keeps the chart: that is the nearest.")
        print(f"{found.runs:,} changed plans were run." + ("" if found.finished else " The search was cut short."))
    if not any(one.passed for one in found.found):
        raise typer.Exit(1)


def _saved(folder: Path, plan: Path, number: int, one: Plan) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    goal = folder / f"{plan.stem}-tuned-{number}.toml"
    write_whole(goal, dumps(one))
    return goal


def _tell(number: int, what: str, one: Tuned | TunedToChart, files: list[Path]) -> None:
    """One way to change the plan: what it does then, what is to be done, and what that costs."""
    if number == 0:
        print("Changes, fewest cells first:")
    cells = f"{one.cells_touched} cell{'s' if one.cells_touched != 1 else ''} touched"
    print(f"{number + 1}. {what}; {cells}" if one.changes else f"{number + 1}. as it is: {what}")
    for change in one.changes:
        print(f"     {change}")
    print(f"   cost: {one.cost}")
    if files:
        print(f"   written to {files[number]}")


def _show(found: Tuning, files: list[Path]) -> None:
    before = found.before
    now = f"the hold is {time_text(before.hold_steps)}"
    if before.hold_steps is None or not before.ends:
        now = f"there is no hold now ({NO_HOLD.get(before.kind, before.kind)})"
    print(f"{before.trigger} -> {before.output}: {now}, wanted {time_text(found.wanted_steps)}.")
    if before.ends and before.hold_steps == found.wanted_steps:
        print("It holds that already: nothing need be changed.")
    for number, one in enumerate(found.found):
        error = error_text(one.error_steps)
        sure = f"; sure only of presses from {time_text(one.minimum_trigger_steps)} on" if one.sure is False else ""
        _tell(number, f"the hold is {time_text(one.hold_steps)}, {error}{sure}", one, files)
    if found.found and all(abs(one.error_steps) > found.within_steps for one in found.found):
        hold = f'--hold "{found.wanted_steps} steps"'
        print(f"No change that was tried reaches it: that is the nearest. tickwright choose {hold} makes one anew.")
    if not found.found and before.hold_steps != found.wanted_steps:
        print("No change that was tried gives one pulse that ends.")
    print(f"{found.runs:,} changed plans were run." + ("" if found.finished else " The search was cut short."))
    if found.knob_table:
        print_table(
            "Knobs",
            ("part", "setting", "value: hold, and delay if it alters"),
            [_knob(row) for row in found.knob_table],
        )
        print(KNOBS_COST)
    print("Times assume a world at its full 20 steps a second.")


def _knob(row: KnobRow) -> tuple[str, str, str]:
    return f"{row.knob.part.kind} at {row.knob.cell}", row.setting_text, "\n".join(holds_texts(row))
