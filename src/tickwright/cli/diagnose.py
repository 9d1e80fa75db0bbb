"""`tickwright diagnose`: what is wrong with a plan, what mends it, and what mistakes in building it would do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tickwright import diagnose, parse_duration
from tickwright.cli.asking import converse
from tickwright.cli.files import check_writable
from tickwright.cli.inputs import load, save
from tickwright.cli.show import AsJson, RulesName, named, print_findings, print_json, stoppable
from tickwright.diagnosis import SYMPTOMS, TOLERANCE_STEPS, Causes, Mended, WhatIf, find_causes, mend, what_if
from tickwright.durations import time_text
from tickwright.errors import UsageError

MOST_SHOWN = 10


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    trigger: Annotated[str | None, typer.Option("--trigger", help="One trigger; all if not given.")] = None,
    mistakes: Annotated[
        bool, typer.Option("--what-if", help="What every single mistake in building it would do, by symptom.")
    ] = False,
    observed: Annotated[
        list[str] | None,
        typer.Option(
            "--observed",
            metavar="TEXT",
            help='What the build does, such as "hold 8.5 s", "bell: never on", or clauses as in a chart, '
            '"bell: 3 pulses of 0.2 s every 1 s from press"; may be repeated.',
        ),
    ] = None,
    tolerance: Annotated[
        str | None,
        typer.Option(
            "--tolerance", metavar="DURATION", help="How far an observed time may be off; 0.2 s if not given."
        ),
    ] = None,
    pairs: Annotated[bool, typer.Option("--pairs", help="With --observed: also every two mistakes at once.")] = False,
    mended: Annotated[
        Path | None, typer.Option("--mend", metavar="FILE", help="Do the repairs, and write the mended plan to FILE.")
    ] = None,
    only: Annotated[
        list[str] | None, typer.Option("--only", metavar="CODE", help="With --mend: only these findings; repeatable.")
    ] = None,
    ask: Annotated[
        bool, typer.Option("--ask", help="Find what is wrong with a build by questions: look, press, answer.")
    ] = False,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            metavar="TEXT",
            help='With --ask: the answer to the next question, such as "2,0,1 3,0,1", "on for 4.3 s", "repeater east", '
            '"yes", "don\'t know", or "back"; may be repeated.',
        ),
    ] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find what is wrong with a plan and what mends it: each repair was tried in a run of the edited plan.

    With --observed, find what is wrong with the build instead: every single mistake in building it is run and compared.
    With --ask it asks you instead, one question after another, until a look has confirmed what is wrong. Ctrl-C stops
    and keeps what was found.
    """
    _refuse_what_is_not_meant(mistakes, trigger, observed, tolerance, pairs, mended, only)
    _refuse_with_asking(ask, answer, bool(mistakes or trigger or observed or pairs or mended))
    loaded = load(plan)
    if ask:
        with named(plan):
            converse(plan, loaded, rules, answer or [], as_json)
        return
    if observed:
        steps = TOLERANCE_STEPS if tolerance is None else parse_duration(tolerance)
        with stoppable() as tell, named(plan):
            explained = find_causes(loaded, observed, steps, pairs, rules, tell)
        if as_json:
            print_json({"plan": str(plan), **explained.as_data()})
        else:
            _show_causes(explained)
        return
    if mistakes:
        with stoppable() as tell:
            tried = what_if(loaded, rules, trigger, tell)
        if as_json:
            print_json({"plan": str(plan), **tried.as_data()})
        else:
            _show_what_if(tried)
        return
    if mended is not None:
        with stoppable() as tell, named(plan):
            result = mend(loaded, rules, trigger, only or (), tell)
        if result.done:
            save(result.plan, mended)
        if as_json:
            print_json({"plan": str(plan), "written": str(mended) if result.done else None, **result.as_data()})
        else:
            _show_mended(result, mended)
        return
    with stoppable() as tell, named(plan):
        found = diagnose(loaded, rules, trigger, progress=tell)
    if as_json:
        print_json({"plan": str(plan), **found.as_data()})
        return
    print_findings(found.findings, at_length=True)
    count = len(found.findings)
    print(f"{count} finding{'' if count == 1 else 's'}." if count else "Nothing found.", end="")
    if not count and (loaded.expectations or loaded.charts):
        print(f" To see whether it keeps its promises: tickwright check {plan}", end="")
    print(" Stopped before all was looked at." if found.stopped else "")
    if count:
        print("tickwright explain CODE tells a finding at length, with an example.")


def _refuse_what_is_not_meant(
    mistakes: bool,
    trigger: str | None,
    observed: list[str] | None,
    tolerance: str | None,
    pairs: bool,
    mended: Path | None,
    only: list[str] | None,
) -> None:
    """Refuse options that do not go together: none is passed over in silence."""
    if observed and (mistakes or trigger is not None or mended is not None):
        raise UsageError(
            "--observed goes without --what-if, --mend and --trigger: name a trigger within it, such as "
            '"press -> lamp: hold 2 s".'
        )
    if mistakes and mended is not None:
        raise UsageError("--what-if mends nothing: give it without --mend.")
    for name, given in (("--pairs", pairs), ("--tolerance", tolerance is not None)):
        if given and not observed:
            raise UsageError(f"{name} goes with --observed: say what the build does.")
    if only and mended is None:
        raise UsageError("--only goes with --mend: say which file to write.")
    if mended is not None:
        check_writable(mended)


def _refuse_with_asking(ask: bool, answer: list[str] | None, others: bool) -> None:
    if answer and not ask:
        raise UsageError("--answer goes with --ask: it answers what --ask asks.")
    if ask and others:
        raise UsageError("--ask goes alone, with --answer, --rules and --json: what was seen is told in answers.")


def _show_mended(result: Mended, path: Path) -> None:
    for finding in result.done:
        print(f"{finding.code}: {finding.repair.text if finding.repair else ''}")
    print(f"{path}: written, repairs done: {len(result.done)}." if result.done else "No repair to do: nothing written.")
    if result.left:
        print("Left:")
        print_findings(result.left, indent="  ")
    if result.stopped:
        print("Stopped before all was looked at.")


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


def _show_causes(explained: Causes) -> None:
    for seen in explained.observed:
        print(f"Observed: {seen.text}")
    causes = explained.causes
    within = time_text(explained.tolerance_steps)
    verb = "explains" if len(causes) == 1 else "explain"
    print(f"{explained.tried:,} builds were run; {len(causes)} {verb} it, times within {within}.")
    if explained.as_planned:
        print("The plan as it is does that, too, within this tolerance: it may be built as planned.")
    elif not causes:
        print("No mistake that was tried does that. Try --pairs or a larger --tolerance, or observe another output.")
    for number, cause in enumerate(causes[:MOST_SHOWN], 1):
        part = f"{cause.misfit:.0%}" if cause.misfit >= 0.01 else "less than 1%"
        fit = "fits exactly" if cause.misfit == 0 else f"off by {part} of the tolerance"
        print(f"  {number}. {cause.text} ({fit})")
        if cause.others:
            print(f"     or {len(cause.others)} more of its sort, which show the same everywhere")
        print(f"     look at {cause.look}")
    if len(causes) > MOST_SHOWN:
        print(f"  and {len(causes) - MOST_SHOWN} more (--json has all).")
    _show_proposal(explained)
    if explained.stopped:
        print("Stopped before all builds were tried.")


def _show_proposal(explained: Causes) -> None:
    proposal = explained.proposal
    tied = sum(cause.rank[:2] == explained.causes[0].rank[:2] for cause in explained.causes)
    if tied > 1:
        print(
            f"The first {tied} fit equally well: what was observed does not tell them apart. They stand in the order of"
        )
        print("how easily one makes them.")
    if proposal is None:
        return
    what = f"press the trigger {proposal.trigger} and watch" if proposal.act == "watch" else "look at"
    print(f"To tell them apart, {what} {proposal.place} ({proposal.part} in the plan).")
    for text, numbers in proposal.groups:
        shown = ", ".join(str(number + 1) for number in numbers[:MOST_SHOWN])
        more = f" and {len(numbers) - MOST_SHOWN} more" if len(numbers) > MOST_SHOWN else ""
        print(f"  {text}: {shown}{more}")
    place = f"{proposal.trigger} -> {proposal.place}" if proposal.trigger else proposal.place
    print(f'Add what you see: --observed "{place}: ..."')
