"""`tickwright compose`: from a timing chart to a proved contraption."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import Composed, compose, load_brief
from tickwright.cli.show import AsJson, print_json, stoppable
from tickwright.cli.style import print_wrapped, styled, verdict_mark
from tickwright.errors import UsageError
from tickwright.plan import save
from tickwright.publish import promises_passed, promises_text


def command(
    brief: Annotated[Path, typer.Argument(help="The brief file.")],
    save_in: Annotated[Path, typer.Option("--save", metavar="DIR", help="The folder in which the plan is saved.")],
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="Another seed gives another layout.")] = 0,
    minutes: Annotated[
        float | None, typer.Option("--minutes", metavar="M", help="Stop after so many minutes; 3 if not given.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compose a plan that keeps the chart of a brief, to the step, and prove it for every sequence of acts.

    Exit code 0 if it was composed; 1 if not, with the claim and what to write instead. What could not be laid in the
    time is saved as the best attempt. Ctrl-C stops it and keeps that, too.
    """
    if minutes is not None and not 0 < minutes <= 10_000:
        raise UsageError(f"--minutes {minutes:g} is no time to compose in: use more than 0, up to 10,000.")
    if seed < 0:
        raise UsageError(f"--seed {seed} is below 0: use a whole number from 0.")
    if save_in.exists() and not save_in.is_dir():
        raise UsageError(f'"{save_in}" is a file: give --save a folder.')
    found, stopped = composed(brief, seed, minutes)
    file = None
    if found.plan is not None:
        save_in.mkdir(parents=True, exist_ok=True)
        file = str(save_in / f"{brief.stem}.toml")
        if Path(file).resolve() == brief.resolve():
            file = str(save_in / f"{brief.stem}-composed.toml")
        save(found.plan, file)
    if as_json:
        print_json(found.as_data(file))
    else:
        _show(found, file, stopped)
    if stopped:
        raise typer.Exit(130)
    if not found.composed:
        raise typer.Exit(1)


def composed(file: Path, seed: int = 0, minutes: float | None = None) -> tuple[Composed, bool]:
    """What came of composing the brief in a file, progress shown; whether Ctrl-C ended it."""
    brief = load_brief(file)
    stopped = False
    with stoppable() as tell:

        def progress(text: str) -> bool:
            nonlocal stopped
            stopped = tell(text) or stopped
            return stopped

        return compose(brief, seed, minutes, progress), stopped


def _answer(found: Composed) -> str:
    """In a sentence whether the brief is kept, and whether that is proved."""
    passed = promises_passed((), found.verdicts)
    told = styled(promises_text(passed), "good" if all(passed) else "bad")
    proof = found.proof.verdict if found.proof is not None else ""
    proved = {"proved": " Proved, for what is said below.", "refuted": " The proof found presses that break it."}
    return told + proved.get(proof, "")


def _show(found: Composed, file: str | None, stopped: bool) -> None:
    if found.plan is None:
        print("Stopped before it was composed." if stopped else "It cannot be composed.")
        if found.claim:
            print(f"  {found.claim}")
        if found.why:
            print(f"    {found.why}.")
        for one in found.relax:
            print(f"    Instead: {one.instead} ({one.amount_steps} steps from what was asked)")
        return
    x, y, z = found.plan.size
    if not found.verdicts:
        print("Stopped before it was composed." if stopped else "It was not composed.")
        print(f"  {found.why}.")
        size = f"{len(found.plan.cells):,} parts in {x} x {y} x {z} cells"
        print(f"  {file}: the best attempt, {size}. It does not work yet.")
        return
    print(_answer(found))
    print(f"{file}: {len(found.plan.cells):,} parts in {x} x {y} x {z} cells, {found.seconds:.0f} s.")
    for chart in found.verdicts:
        print(f"  {chart.chart}")
        for claim in chart.claims:
            print_wrapped(f"    {verdict_mark(claim.passed)} {claim.claim}")
            if claim.detail:
                print_wrapped(f"      {claim.detail}")
    if not found.composed and found.why and found.claim is None:
        print(f"  Not composed: {found.why}.")
    proof = found.proof
    if proof is not None:
        print_wrapped(f"  {proof.verdict}: {proof.states:,} states. {proof.detail}".rstrip())
        print_wrapped(f"    For: {proof.bound}.")
        if proof.counterexample and file:
            acts = "".join(f" --do {act}" for act in proof.counterexample)
            print(f'    Replay: tickwright run {file}{acts} --for "{proof.replay_steps} steps"')
    print("Times assume a world at its full 20 steps a second.")
