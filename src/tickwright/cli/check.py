"""`tickwright check`: hold plans to their expectations."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import Finding, Verdict, check, diagnose, load
from tickwright.cli.show import AsJson, RulesName, print_findings, print_json, working
from tickwright.verify import junit_text


def command(
    plans: Annotated[list[Path], typer.Argument(help="Plan files.", metavar="PLAN...")],
    junit: Annotated[Path | None, typer.Option("--junit", metavar="FILE", help="Write a JUnit XML report.")] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Run every expectation of the plans. Exit code 1 if one fails."""
    checked: dict[str, list[Verdict]] = {}
    noted: dict[str, tuple[Finding, ...]] = {}
    for path in plans:
        with working(f"checking {path}"):
            loaded = load(path)
            checked[str(path)] = check(loaded, rules)
            noted[str(path)] = diagnose(loaded, rules, repairs=False, depth="pressed").findings
    if junit is not None:
        junit.write_text(junit_text(checked), encoding="utf-8")
    verdicts = [(name, verdict) for name, found in checked.items() for verdict in found]
    failed = sum(not verdict.passed for _, verdict in verdicts)
    if as_json:
        results = [{"plan": name, **verdict.as_data()} for name, verdict in verdicts]
        findings = [{"plan": name, **finding.as_data()} for name, found in noted.items() for finding in found]
        print_json({"passed": len(verdicts) - failed, "failed": failed, "results": results, "findings": findings})
    else:
        for name, held in checked.items():
            print(name)
            for v in held:
                mark = "passed" if v.passed else "FAILED"
                expected = "" if v.expected == v.measured else f", expected {v.expected}"
                print(f"  {mark}  {v.trigger} -> {v.output}: {v.key} {v.measured}{expected}")
            print_findings(noted[name], indent="  ")
        print(f"{len(verdicts) - failed} passed, {failed} failed. Times assume a world at its full 20 steps a second.")
    if failed:
        raise typer.Exit(1)
