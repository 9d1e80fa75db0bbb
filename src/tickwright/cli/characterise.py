"""`tickwright characterise`: what a module with ports does in time, measured at its ports."""

from __future__ import annotations

from typing import Annotated

import typer

from tickwright import load_rules
from tickwright.cli.show import AsJson, print_json, print_table, stoppable
from tickwright.layout import Characteristics, characterise, named_tile


def command(
    module: Annotated[str, typer.Argument(help="The module: a plan file with [ports], or tile:NAME of our shelf.")],
    rules: Annotated[
        list[str] | None,
        typer.Option(
            "--rules",
            metavar="NAME|FILE",
            help="A rule set to try it under; may be repeated [standard and older-wire].",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Measure a module with ports: delays, least pulses, set-up and hold times, levels at its ports.

    A lever is put before each input. It is worked from every state, under each rule set, and in ten orders in which
    parts may be told of a change. The worst of all is shown.
    """
    tile = named_tile(module)
    rulesets = [load_rules(name) for name in rules] if rules else None
    with stoppable() as tell:
        found = characterise(tile, rulesets, tell)
    if as_json:
        print_json({"module": module, **found.as_data()})
        return
    _show(module, found)


def _show(module: str, found: Characteristics) -> None:
    print(f"{module}: {found.states} states, under the rules {' and '.join(found.rules)}, in ten orders of telling")
    heads = ("input", "needs level", "least pulse", "least gap", "its port says")
    needs = [
        (
            one.name,
            *map(_or_none, (one.needs_level, one.least_pulse_steps, one.least_gap_steps)),
            f"need = {one.says_level}{' (too low)' if (one.needs_level or 0) > one.says_level else ''}",
        )
        for one in found.inputs
    ]
    print_table("What inputs need (times in steps)", heads, needs)
    gives = [
        (
            one.name,
            _or_none(one.gives_level),
            f"gives = {one.says_level}{' (too high)' if (one.gives_level or 15) < one.says_level else ''}",
        )
        for one in found.outputs
    ]
    print_table("What outputs give", ("output", "gives level", "its port says"), gives)
    arcs = [
        (f"{one.input} {one.edge}", f"{one.output} {one.to}", str(one.least_steps), str(one.most_steps))
        for one in found.arcs
    ]
    print_table("Delays in steps", ("after", "goes", "least", "most"), arcs)
    for sample in found.samples:
        span = f"{sample.setup_steps} before it until {sample.hold_steps} after it"
        print(
            f"{sample.data} is taken when {sample.clock} goes {sample.edge}, and must not change in the steps {span}."
        )
    for name, output in found.hazards:
        print(f"{output} may flicker when {name} changes, and end as it was.")
    for one in found.comparators:
        print(f"comparator at {one.cell}: rear at most {one.rear_level}, flank at most {one.flank_level}")


def _or_none(number: int | None) -> str:
    return "-" if number is None else str(number)
