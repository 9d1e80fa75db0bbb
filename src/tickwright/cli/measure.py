"""`tickwright measure`: what one press does, in exact figures."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tickwright import Finding, Measurement, Plan, diagnose, load_rules, parse_duration
from tickwright.cli.inputs import load
from tickwright.cli.show import (
    AsJson,
    Order,
    RulesName,
    print_findings,
    print_json,
    print_lanes,
    print_table,
    time_cell,
    working,
)
from tickwright.cli.style import styled
from tickwright.durations import STEPS_PER_SECOND
from tickwright.errors import UsageError
from tickwright.measurement import find_trigger, measure_with_findings, observe
from tickwright.plan import Setup

if TYPE_CHECKING:
    from tickwright.dossier import Dossier


MOST_SHOWN = 20_000


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    trigger: Annotated[str | None, typer.Option("--trigger", help="One trigger; all if not given.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="One output; all if not given.")] = None,
    length: Annotated[
        str | None,
        typer.Option("--length", metavar="DURATION", help="Put a button of this length in the trigger's place."),
    ] = None,
    rate: Annotated[
        float, typer.Option("--rate", metavar="STEPS_PER_SECOND", help="Show seconds of a slower world.")
    ] = STEPS_PER_SECOND,
    rules: RulesName = None,
    order: Order = "canonical",
    full: Annotated[
        bool,
        typer.Option(
            "--full",
            help="Everything known: second press, recovery, phase, lengths, levels, order, neighbours, rule sets.",
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Press once and measure: delay, hold, pulses, kind, and the shortest trigger that is sure to work."""
    if not 0.01 <= rate <= 1000:
        raise UsageError(f"A world of {rate:g} steps a second cannot be shown: give --rate 0.01 to 1000.")
    loaded = load(plan)
    steps = parse_duration(length) if length is not None else None
    known: Dossier | None = None
    results: list[Measurement]
    findings: tuple[Finding, ...]
    if full:
        if length is not None or order != "canonical":
            raise UsageError("--full tries every length and order by itself: leave out --length and --order.")
        with working(f"measuring {plan}"):
            results, findings = [], ()
            if (loaded.triggers and loaded.outputs) or trigger or output:
                results, noted = measure_with_findings(loaded, trigger, output, None, rules)
                findings = tuple(noted)
            with suppress(KeyboardInterrupt):  # what was measured is told
                from tickwright.dossier import gather

                known = gather(loaded, rules, trigger, output)
                findings = known.findings
    else:
        with working(f"measuring {plan}"):
            results, noted = measure_with_findings(loaded, trigger, output, steps, rules, order)
            findings = tuple(noted)
            with suppress(KeyboardInterrupt):  # what was measured is told
                findings = diagnose(
                    loaded, rules, trigger, repairs=False, depth="pressed", length_steps=steps, noted=noted
                ).findings
    if as_json:
        name = load_rules(rules or loaded.rules, plan.parent).name
        document: dict[str, Any] = {
            "plan": str(plan),
            "rules": name,
            "steps_per_second": rate,
            "results": [result.as_data() for result in results],
        }
        document.update(known.as_data() if known else {})
        document["findings"] = [finding.as_data() for finding in findings]
        for data in document["results"]:
            _add_seconds(data, rate)
        print_json(document)
        return
    _tell(loaded, results, steps, rules, order, rate)
    heads = ("trigger", "output", "kind", "delay", "hold", "minimum trigger", "margin")
    if results:
        print_table(loaded.title or str(plan), heads, [row(result, rate) for result in results])
    print(f"Times assume a world at its full {STEPS_PER_SECOND} steps a second." if rate == STEPS_PER_SECOND
          else f"Seconds are those of a world at {rate:g} steps a second.")  # fmt: skip
    if known is not None:
        from tickwright.publish import dossier_tables, expectation_lines, missing_lines

        for line in missing_lines(loaded):
            print(line)
        for table in dossier_tables(known, rate):
            print_table(table.title, table.heads, table.rows)
            for note in table.notes:
                print(note)
        for line in expectation_lines(known):
            print(line)
    print_findings(findings)


def _tell(
    plan: Plan, results: Sequence[Measurement], length: int | None, rules: str | None, order: str, rate: float
) -> None:
    """The answer in a sentence, what the minimum trigger gives, and the lanes of the press."""
    from tickwright.publish import answer, least_text, main_result

    main = main_result(plan, results)
    if main is None:
        return
    said = answer(plan, main, rate)
    print(styled(said.before, "bold") + styled(said.figure, "answer") + styled(said.after, "bold"))
    least = main.minimum_trigger_steps
    if least is not None and length is None:
        (found,) = measure_with_findings(plan, main.trigger, main.output, least, rules, order)[0]
        text = least_text(plan, main, found.hold_steps, rate)
        several = len({one.minimum_trigger_steps for one in results}) > 1
        print(f"{main.output}: {text}" if several else text)
    setup = Setup(plan, load_rules(rules or plan.rules), order)
    seen = observe(setup, find_trigger(setup, main.trigger), length)
    if seen.rest_steps is not None:
        print()
        outputs = [one.output for one in results if one.trigger == main.trigger]
        print_lanes(seen.trace(min(seen.rest_steps + 2, MOST_SHOWN)), list(dict.fromkeys(outputs)))
        print()


def row(result: Measurement, rate: float) -> tuple[str, ...]:
    """A measurement as a row of a table."""
    hold = "never ends" if not result.ends else time_cell(result.hold_steps, rate)
    return (
        result.trigger,
        result.output,
        result.kind_text,
        time_cell(result.delay_steps, rate),
        hold,
        time_cell(result.minimum_trigger_steps, rate),
        time_cell(result.margin_steps, rate),
    )


def _add_seconds(data: dict[str, Any], rate: float) -> None:
    for name in ("delay", "hold"):
        steps = data[f"{name}_steps"]
        data[f"{name}_seconds"] = None if steps is None else steps / rate
