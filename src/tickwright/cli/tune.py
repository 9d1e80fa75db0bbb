"""`tickwright tune`: the smallest changes to a plan that bring its hold to the one wanted."""

from __future__ import annotations

from glob import escape
from pathlib import Path
from typing import Annotated

import typer

from tickwright import load, parse_duration
from tickwright.cli.files import refuse_what_is_there, write_whole
from tickwright.cli.show import AsJson, RulesName, print_json, print_table, stoppable
from tickwright.design import KnobRow, Tuned, Tuning, tune
from tickwright.durations import time_text
from tickwright.plan import dumps


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    hold: Annotated[str, typer.Option("--hold", metavar="DURATION", help="The hold that is wanted.")],
    within: Annotated[
        str | None, typer.Option("--within", metavar="DURATION", help="How far off will do; not at all if not given.")
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
    """Find the smallest changes that bring a plan to a hold, and what each of its knobs does; every one is run.

    Ctrl-C ends the search and shows what was found. The exit code is 1 if nothing within what was asked was found.
    """
    wanted = parse_duration(hold)
    slack = parse_duration(within) if within is not None else 0
    if save is not None:
        refuse_what_is_there(save, f"{escape(plan.stem)}-tuned-*.toml")
    loaded = load(plan)
    with stoppable() as tell:

        def progress(done: int, of: int) -> None:
            if tell(f"tuning {plan}: {done:,} of {of:,}"):
                raise KeyboardInterrupt  # which ends the search

        found = tune(loaded, wanted, trigger, output, slack, rules, runs, progress)
    files = [_saved(save, plan, number, one) for number, one in enumerate(found.found, 1)] if save is not None else []
    if as_json:
        document = {"plan": str(plan), **found.as_data()}
        for data, file in zip(document["tuned"], files, strict=False):
            data["file"] = str(file)
        print_json(document)
    else:
        _show(found, files)
    if not any(abs(one.error_steps) <= slack for one in found.found):
        raise typer.Exit(1)


def _saved(folder: Path, plan: Path, number: int, one: Tuned) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    goal = folder / f"{plan.stem}-tuned-{number}.toml"
    write_whole(goal, dumps(one.plan))
    return goal


def _show(found: Tuning, files: list[Path]) -> None:
    before = found.before
    now = time_text(before.hold_steps) if before.ends else f"no end ({before.kind})"
    print(f"{before.trigger} -> {before.output}: the hold is {now}, wanted {time_text(found.wanted_steps)}.")
    if before.ends and before.hold_steps == found.wanted_steps:
        print("It holds that already: nothing need be changed.")
    rows = [
        (
            "\n".join(one.changes),
            str(one.cells_touched),
            time_text(one.hold_steps),
            f"{one.error_steps:+} steps" if one.error_steps else "exact",
            time_text(one.minimum_trigger_steps) + (", longer than the press" if one.sure is False else ""),
            *([str(files[number])] if files else []),
        )
        for number, one in enumerate(found.found)
    ]
    heads = ("changes", "cells", "hold", "error", "minimum trigger", *(["file"] if files else []))
    if rows:
        print_table("Changes, fewest cells first", heads, rows)
    if rows and all(abs(one.error_steps) > found.within_steps for one in found.found):
        hold = f'--hold "{found.wanted_steps} steps"'
        print(f"No change that was tried reaches it: that is the nearest. tickwright choose {hold} makes one anew.")
    print(f"{found.runs:,} changed plans were run." + ("" if found.finished else " The search was cut short."))
    if found.knob_table:
        print_table("Knobs", ("part", "setting", "value -> hold"), [_knob(row) for row in found.knob_table])
    print("Times assume a world at its full 20 steps a second.")


def _knob(row: KnobRow) -> tuple[str, str, str]:
    holds = [
        f"{value}{'*' if value == row.knob.value else ''} -> {time_text(hold) if hold is not None else kind}"
        for value, hold, kind in row.holds
    ]
    return f"{row.knob.part.kind} at {row.knob.cell}", f"{row.knob.setting} (* as laid)", "\n".join(holds)
