"""`tickwright diagnose`: what is wrong with a plan, and what mends it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import diagnose, load
from tickwright.cli.show import AsJson, RulesName, print_findings, print_json, stoppable


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    trigger: Annotated[str | None, typer.Option("--trigger", help="One trigger; all if not given.")] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find what is wrong with a plan and what mends it: each repair was tried in a run of the edited plan.

    Ctrl-C stops and keeps what was found.
    """
    loaded = load(plan)
    with stoppable() as tell:
        found = diagnose(loaded, rules, trigger, progress=tell)
    if as_json:
        print_json({"plan": str(plan), **found.as_data()})
        return
    print_findings(found.findings, at_length=True)
    count = len(found.findings)
    print(f"{count} finding{'' if count == 1 else 's'}." if count else "Nothing found.", end="")
    print(" Stopped before all was looked at." if found.stopped else "")
    if count:
        print("tickwright explain CODE tells a finding at length, with an example.")
