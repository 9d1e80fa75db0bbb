"""`tickwright diagnose`: what is wrong with a plan, what mends it, and what mistakes in building it would do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import diagnose, load
from tickwright.cli.show import AsJson, RulesName, print_findings, print_json, stoppable
from tickwright.diagnose import SYMPTOMS, WhatIf, what_if


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    trigger: Annotated[str | None, typer.Option("--trigger", help="One trigger; all if not given.")] = None,
    mistakes: Annotated[
        bool, typer.Option("--what-if", help="What every single mistake in building it would do, by symptom.")
    ] = False,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find what is wrong with a plan and what mends it: each repair was tried in a run of the edited plan.

    Ctrl-C stops and keeps what was found.
    """
    loaded = load(plan)
    if mistakes:
        with stoppable() as tell:
            tried = what_if(loaded, rules, trigger, tell)
        if as_json:
            print_json({"plan": str(plan), **tried.as_data()})
        else:
            _show_what_if(tried)
        return
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


def _show_what_if(tried: WhatIf) -> None:
    for pair, own in tried.own.items():
        print(f"{pair[0]} -> {pair[1]}, as planned: {own.text}")
        for name, group in tried.groups(pair).items():
            print(f"  {SYMPTOMS[name]}: {len(group)} of {len(tried.consequences)} mistakes")
            if name != "as-planned":
                for one in group:
                    print(f"    {one.mistake.text}: {one.answers[pair].text}")
        print()
    print(
        "Each mistake was built into the plan by itself, and run. Times assume a world at its full 20 steps a second;"
    )
    print("a slower one makes every time longer by the same factor.")
    if tried.stopped:
        print("Stopped before all mistakes were tried.")
