"""`tickwright prove`: hold a claim against everything a hand can do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import Proof, load_rules, parse_duration, prove, prove_chart
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, Order, RulesName, named, print_json, stoppable
from tickwright.cli.style import print_wrapped
from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.verify import CLAIMS


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    claim: Annotated[
        str | None, typer.Option("--claim", metavar="|".join(CLAIMS), help="What is to be proved; or give --chart.")
    ] = None,
    chart: Annotated[
        str | None,
        typer.Option("--chart", metavar="NAME", help="Prove this chart of the plan, after every sequence of presses."),
    ] = None,
    output: Annotated[
        str | None, typer.Option("--output", help="The output that it is about; the first if not given.")
    ] = None,
    trigger: Annotated[
        list[str] | None, typer.Option("--trigger", help="A trigger that the hand presses; all if not given.")
    ] = None,
    within: Annotated[
        str | None,
        typer.Option(
            "--within",
            metavar="DURATION",
            help="The longest time: holds, from press to output; settles, to rest; never-sticks, to off for good.",
        ),
    ] = None,
    at_least: Annotated[
        str | None,
        typer.Option(
            "--at-least", metavar="DURATION", help="holds: it stays on at least this long after the last press."
        ),
    ] = None,
    at_most: Annotated[
        str | None,
        typer.Option("--at-most", metavar="DURATION", help="holds: it is off from this long after the last press on."),
    ] = None,
    hands: Annotated[str, typer.Option("--hands", metavar="any|N", help="How many presses at most.")] = "any",
    grid: Annotated[
        str, typer.Option("--grid", metavar="DURATION", help="The hand presses only at multiples of this.")
    ] = "1 step",
    states: Annotated[int, typer.Option("--states", metavar="N", help="Explore at most so many states.")] = 100_000,
    rules: RulesName = None,
    order: Order = "canonical",
    as_json: AsJson = False,
) -> None:
    """Prove or refute a claim for any presses at any step; if refuted, with the fewest presses that show it, for `run`.

    Exit code 0 if proved, 1 if refuted or undecided. Ctrl-C stops the search and says what was explored.
    """
    loaded = load(plan)
    steps = parse_duration(grid)
    if steps < 1:
        raise UsageError(f'A grid of "{grid}" has no steps: use 1 step or more.')
    _check_choice(claim, chart, (output, within, at_least, at_most))
    with stoppable() as tell:

        def progress(explored: int, seen: int) -> bool:
            return tell(f"{explored:,} states explored, {seen - explored:,} waiting")

        if chart is not None:
            with named(plan):
                proof = prove_chart(loaded, chart, hands, steps, states, trigger or (), rules, order, progress)
        else:
            proof = prove(
                loaded,
                str(claim),
                output,
                _steps(within),
                _steps(at_least),
                _steps(at_most),
                hands=hands,
                grid_steps=steps,
                states=states,
                triggers=trigger or (),
                rules=rules,
                order=order,
                progress=progress,
            )
    if as_json:
        name = load_rules(rules or loaded.rules, plan.parent).name
        print_json({"plan": str(plan), "rules": name, **proof.as_data()})
    else:
        _show(plan, proof, rules, order)
    if proof.verdict != "proved":
        raise typer.Exit(1)


def _check_choice(claim: str | None, chart: str | None, limits: tuple[str | None, ...]) -> None:
    """Refuse a claim and a chart at once, neither of them, and limits beside a chart."""
    if (claim is None) == (chart is None):
        raise UsageError("Say what is to be proved: either --claim or --chart NAME.")
    if chart is not None and any(limit is not None for limit in limits):
        raise UsageError(
            "A chart says itself what its outputs do: leave out --output, --within, --at-least, --at-most."
        )


def _steps(text: str | None) -> int | None:
    return parse_duration(text) if text is not None else None


def _show(plan: Path, proof: Proof, rules: str | None, order: str) -> None:
    print_wrapped(f"{proof.verdict}: {proof.detail}.")
    print_wrapped(f"Claim: {proof.claim}.")
    print_wrapped(f"For: {proof.bound}.")
    if proof.left_out:
        print_wrapped(f"Not part of it, as it cannot be stated for any presses: {', '.join(proof.left_out)}.")
    rate = f"{proof.states / proof.seconds:,.0f} a second" if proof.seconds > 0 else "at once"
    print_wrapped(f"Explored {proof.states:,} states with {proof.edges:,} moves, {rate}.")
    if proof.worst_steps is not None:
        print(f"Longest: {time_text(proof.worst_steps)}.")
    if proof.verdict == "refuted":
        acts = "".join(f" --do {act}" for act in proof.counterexample)
        more = (f" --rules {rules}" if rules else "") + (f" --order {order}" if order != "canonical" else "")
        print(f'Replay: tickwright run {plan}{acts} --for "{proof.replay_steps} steps"{more}')
