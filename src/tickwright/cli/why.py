"""`tickwright why`: why an output holds as long as it does, read off a run."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Annotated

import typer

from tickwright import why
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, RulesName, print_json, working


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    trigger: Annotated[str | None, typer.Option("--trigger", help="One trigger; all if not given.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="One output; all if not given.")] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Tell why an output holds as long as it does: what the time is made of, and what a shorter press would do.

    Every sentence is read off one press from rest, every number in it can be derived again from another run, and what
    one tick more would do was tried.
    """
    with working(f"explaining {plan}"):
        explained = why(load(plan), trigger, output, rules)
    if as_json:
        print_json({"plan": str(plan), **explained.as_data()})
        return
    for (pressed, shown), told in groupby(explained.sentences, key=lambda one: (one.trigger, one.output)):
        print(f"{pressed} -> {shown}")
        for sentence in told:
            print(f"  {sentence.text}")
    print("Times assume a world at its full 20 steps a second.")
