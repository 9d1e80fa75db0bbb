"""`tickwright check`: hold plans to their expectations."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import typer

from tickwright import ChartVerdict, Finding, Measurement, Plan, Verdict, check, check_charts, diagnose, measure
from tickwright.charts import wanted_trace
from tickwright.cli.files import write_whole
from tickwright.cli.inputs import load
from tickwright.cli.show import (
    AsJson,
    RulesName,
    Span,
    named,
    print_findings,
    print_json,
    print_lanes,
    print_spans,
    working,
)
from tickwright.cli.style import print_wrapped, styled, verdict_mark
from tickwright.durations import duration_text
from tickwright.errors import UsageError
from tickwright.publish import answer, promises_passed, promises_text
from tickwright.verify import junit_text

WORDS = {"level_at_least": "level", "settles_within": "settles in", "minimum_trigger_at_most": "minimum trigger"}


class Checked(NamedTuple):
    """What came of checking one plan."""

    plan: Plan
    verdicts: list[Verdict]
    charts: list[ChartVerdict]
    findings: tuple[Finding, ...]
    missed: dict[tuple[str, str], Measurement]  # what is seen of each hold that is not kept, by trigger and output


def command(
    plans: Annotated[list[Path], typer.Argument(help="Plan files.", metavar="PLAN...")],
    junit: Annotated[Path | None, typer.Option("--junit", metavar="FILE", help="Write a JUnit XML report.")] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Run every expectation and every chart of the plans. Exit code 1 if one fails."""
    checked: dict[str, Checked] = {}
    without: list[str] = []
    with suppress(KeyboardInterrupt):  # the plans before are told
        for path in plans:
            with working(f"checking {path}"):
                loaded = load(path)
                if not loaded.expectations and not loaded.charts:
                    without.append(str(path))
                    continue
                with named(path):
                    verdicts = check(loaded, rules) if loaded.expectations else []
                    charts = check_charts(loaded, rules)
                noted = diagnose(loaded, rules, repairs=False, depth="pressed").findings
                missed = {} if as_json else _missed_holds(loaded, verdicts, rules)
                checked[str(path)] = Checked(loaded, verdicts, charts, noted, missed)
    if without and not checked:
        names = " and ".join(without)
        raise UsageError(
            f"{names} expects nothing: add an [[expect]] with a trigger, an output and, say, hold; or a [[chart]], "
            f"which tickwright chart {without[0]} --add NAME writes."
        )
    if junit is not None:
        held = {name: one.verdicts for name, one in checked.items()}
        drawn = {name: one.charts for name, one in checked.items()}
        write_whole(junit, junit_text(held, drawn))
    results = [passed for one in checked.values() for passed in promises_passed(one.verdicts, one.charts)]
    if as_json:
        print_json(_document(checked, without, results))
    else:
        broken = sum(not one for one in results)
        print(styled(promises_text(results), "bad" if broken else "good") + _contrast(checked))
        for name, one in checked.items():
            _show(name, one)
        for name in without:
            print(f"{name}\n  expects nothing: it has no [[expect]] and no [[chart]].")
        passed = sum(results)
        print(f"{passed} passed, {len(results) - passed} failed. Times assume a world at its full 20 steps a second.")
    if not all(results):
        raise typer.Exit(1)


def _missed_holds(plan: Plan, verdicts: list[Verdict], rules: str | None) -> dict[tuple[str, str], Measurement]:
    pairs = [(one.trigger, one.output) for one in verdicts if one.key == "hold" and not one.passed]
    return {(trigger, output): measure(plan, trigger, output, rules=rules)[0] for trigger, output in pairs}


def _wanted_steps(plan: Plan, pair: tuple[str, str]) -> int | None:
    """The hold that a plan promises of a trigger and an output."""
    holds = (one.hold_steps for one in plan.expectations if (one.trigger, one.output) == pair)
    return next((hold for hold in holds if hold is not None), None)


def _contrast(checked: dict[str, Checked]) -> str:
    """Of one plan with one hold that is not kept: what a press does, and what it should; "" of others."""
    if len(checked) != 1:
        return ""
    (one,) = checked.values()
    if len(one.missed) != 1:
        return ""
    ((pair, found),) = one.missed.items()
    wanted, said = _wanted_steps(one.plan, pair), answer(one.plan, found)
    if wanted is None or found.kind != "one-shot":
        return ""
    return f" {said.before}{styled(said.figure, 'answer')}, not {duration_text(wanted)}."


def _show_hold(plan: Plan, pair: tuple[str, str], found: Measurement) -> None:
    """A hold that is wanted, and what is seen of it, as bars on one scale; and by how much it is missed."""
    hold_steps = _wanted_steps(plan, pair)
    if hold_steps is None or found.hold_steps is None or found.delay_steps is None:
        return
    begin, by = found.delay_steps, hold_steps - found.hold_steps
    wanted = Span("    wanted", begin, hold_steps, wanted=True)
    print_spans([wanted, Span("    seen", begin, found.hold_steps, max(by, 0))])
    what = "short" if by > 0 else "long"
    print(f"    {styled(f'{duration_text(abs(by))} too {what}', 'bad')}")


def _document(checked: dict[str, Checked], without: list[str], results: list[bool]) -> dict[str, Any]:
    found: dict[str, list[dict[str, Any]]] = {"results": [], "charts": [], "findings": []}
    for name, one in checked.items():
        found["results"] += [{"plan": name, **verdict.as_data()} for verdict in one.verdicts]
        found["charts"] += [{"plan": name, **chart.as_data()} for chart in one.charts]
        found["findings"] += [{"plan": name, **finding.as_data()} for finding in one.findings]
    return {"passed": sum(results), "failed": len(results) - sum(results), **found, "without": without}


def _seen(verdict: Verdict) -> str:
    """What was seen, and what was expected; only that where it says it all, such as "at least 15"."""
    if verdict.expected in (verdict.measured, f"at least {verdict.measured}", f"at most {verdict.measured}"):
        return verdict.expected
    return f"{verdict.measured}, expected {verdict.expected}"


def _show(name: str, one: Checked) -> None:
    print(name)
    for v in sorted(one.verdicts, key=lambda verdict: verdict.passed):  # what is broken first
        what = "" if v.key == "never" else f"{WORDS.get(v.key, v.key)} "  # what was seen says "never" itself
        print_wrapped(f"  {verdict_mark(v.passed)} {v.trigger} -> {v.output}: {what}{_seen(v)}")
        if v.key == "hold" and not v.passed:
            _show_hold(one.plan, (v.trigger, v.output), one.missed[v.trigger, v.output])
    for chart in one.charts:
        print(f"  {chart.chart}")
        for claim in chart.claims:
            follows = f" (follows {claim.follows})" if claim.follows else ""
            print_wrapped(f"    {verdict_mark(claim.passed)} {claim.claim}{follows}")
            if claim.detail and not claim.passed:
                print(f"      {claim.detail}")
        for line in chart.played.waiting:
            print(f'    not done: "{line}": its moment never came')
        if not chart.passed:
            print_lanes(wanted_trace(chart.played.timeline, chart.claims), indent="    ")
        if not chart.passed and chart.played.script:
            acts = "".join(f" --do {act}" for act in chart.played.script)
            steps = chart.played.zero_step + chart.played.timeline.steps
            print(f'    Replay: tickwright run {name}{acts} --for "{steps} steps"')
    print_findings(one.findings, indent="  ")
