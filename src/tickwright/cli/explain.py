"""`tickwright explain`: what a finding means, why it happens and what helps, shown on a small circuit."""

from __future__ import annotations

from typing import Annotated

import typer

from tickwright.cli.show import AsJson, print_findings, print_json, print_lanes, print_table, working
from tickwright.diagnosis import CODES, Explanation, explain


def command(
    code: Annotated[str | None, typer.Argument(help="The code of a finding; all are listed if not given.")] = None,
    as_json: AsJson = False,
) -> None:
    """Explain a finding at length, with a circuit that has it, one that has not, and the repair; or list them all."""
    if code is None:
        if as_json:
            print_json([entry._asdict() for entry in CODES.values()])
            return
        rows = [(entry.code, entry.severity, entry.title) for entry in CODES.values()]
        print_table("Findings", ("code", "severity", "what it says"), rows)
        print("tickwright explain CODE tells one at length, with an example.")
        return
    with working(f"running the example of {code}"):
        told = explain(code)
    if as_json:
        print_json(told.as_data())
        return
    _show(told)


def _show(told: Explanation) -> None:
    entry = told.entry
    print(f"{entry.title} ({entry.code}, {entry.severity})\n")
    print(f"Why: {entry.cause}\n")
    print(f"What helps: {entry.helps}\n")
    print("A small circuit that has it:\n")
    print("\n".join(f"    {line}" if line else "" for line in told.text.rstrip().splitlines()))
    done = ", ".join(told.hand) or "nothing is done"
    print(f"\nRun under {told.rules}; the hand: {done}.")
    print_lanes(told.trace, indent="  ")
    print()
    print_findings([told.finding], at_length=True)
    if told.repaired is not None:
        print("\nRepaired so, it does this:")
        print_lanes(told.repaired, indent="  ")
    print(f"\nA near twin that has not: {told.twin_differs}.")
    print_lanes(told.twin, indent="  ")
