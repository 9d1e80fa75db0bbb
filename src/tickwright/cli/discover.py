"""`tickwright discover`: the smallest layout in a box that does something, by trying them all."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Annotated, Any

import typer

from tickwright import load_rules
from tickwright.cli.files import check_writable, write_whole
from tickwright.cli.show import AsJson, RulesName, print_json, print_table, stoppable
from tickwright.design import (
    BEHAVIOURS,
    KINDS_TRIED,
    Annealing,
    Certificate,
    Search,
    anneal,
    ask,
    certify,
    encoded,
    go_on,
    resumed,
    size_text,
)
from tickwright.errors import UsageError

SAVE_SECONDS = 5.0


def command(
    behaviour: Annotated[str, typer.Argument(metavar="BEHAVIOUR", help=f"What it is to do: {BEHAVIOURS}.")],
    box: Annotated[str, typer.Option("--box", metavar="XxYxZ", help="The box, such as 3x2x2.")],
    kinds: Annotated[
        str,
        typer.Option(
            "--kinds",
            metavar="KIND,...",
            help="Which parts to try; a part's text, such as short-button on=down, is tried that way only.",
        ),
    ] = ",".join(KINDS_TRIED),
    out: Annotated[
        str | None, typer.Option("--out", metavar="KIND,...", help="Kinds that may be the output; any, if not given.")
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", metavar="M", min=0.001, help="Stop after so many minutes, to go on later."),
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="FILE", help="The certificate to write; one that is not done is continued."),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", metavar="N", min=1, help="How many processes; one for each core if not given."),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="Work on the cluster of a dask scheduler.")
    ] = None,
    annealing: Annotated[
        bool, typer.Option("--anneal", help="Search without proof: larger boxes, pistons and hoppers, too.")
    ] = False,
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="With --anneal: another search.")] = 1,
    tries: Annotated[
        int, typer.Option("--tries", metavar="N", min=1, help="With --anneal: how many layouts to try.")
    ] = 100_000,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find the smallest layout in a box that does what you ask, by trying every layout of some kinds of parts.

    What is found is proved within the alphabet that the certificate names, and replayed on the reference engine in all
    turns, mirror images and orders. What works in some of these only is listed apart. Nothing found and proved: exit
    code 1. Stopped before the proof: exit code 130, and the same command goes on.

    --anneal tries layouts at random and changes them little by little. What it finds is held to the same, and is no
    proof: there may be a smaller one. Equal seeds find the same; Ctrl-C keeps what was found.
    """
    size = _size(box)
    ruleset = load_rules(rules or "standard")
    wanted = ask(behaviour, size, _listed(kinds), ruleset, _listed(out or ""), annealing)
    goal = into or Path(f"{'-'.join(re.findall('[a-z0-9]+', behaviour.lower()))}-{size_text(size)}.json")
    check_writable(goal)
    seconds = None if minutes is None else 60 * minutes
    if annealing:
        _check_free(goal, goal.exists())
        by_trial = Annealing(wanted, seed, tries)
        done = _annealed(by_trial, seconds)
        made = certify(by_trial)
    else:
        search = resumed(goal.read_bytes(), wanted, str(goal)) if goal.exists() else Search(wanted)
        if not goal.exists():
            _check_free(goal, False)
        done = _searched(search, goal, workers, cluster, seconds)
        made = certify(search)
    write_whole(goal, encoded(made))
    files = _write_winners(goal, made)
    if as_json:
        print_json(_data(made, goal, files))
    else:
        _show(made, goal, files)
    if not done:
        raise typer.Exit(130)
    if made.parts is None:
        raise typer.Exit(1)


def _check_free(goal: Path, taken: bool) -> None:
    """Refuse to write over what is there."""
    for there in [goal] * taken + sorted(goal.parent.glob(f"{goal.stem}-[0-9]*.toml")):
        raise UsageError(f'"{there}" is there already: name another certificate, or take it away first.')


def _searched(search: Search, goal: Path, workers: int | None, cluster: str | None, seconds: float | None) -> bool:
    """Search with proof, and keep from time to time what is done; whether all is done."""
    saved = time.monotonic()
    with stoppable() as tell:

        def progress(search: Search) -> bool:
            nonlocal saved
            if time.monotonic() - saved > SAVE_SECONDS and search.done:
                write_whole(goal, encoded(certify(search)))
                saved = time.monotonic()
            counts, left = search.counts, len(search.shares) - len(search.done)
            best = min((one.parts for one in search.robust), default="none yet")
            return tell(
                f"{size_text(search.question.size)}: {counts.valid:,} layouts, {counts.run:,} run, {left:,} of "
                f"{len(search.shares):,} shares left; fewest parts: {best}"
            )

        return go_on(search, workers, cluster, seconds, progress)


def _annealed(search: Annealing, seconds: float | None) -> bool:
    """Search without proof; False if it was stopped by Ctrl-C."""
    with stoppable() as tell:

        def progress(search: Annealing) -> bool:
            best = min((one.parts for one in search.robust), default="none yet")
            return tell(f"{search.tried:,} of {search.tries:,} layouts tried; fewest parts: {best}")

        return anneal(search, seconds, progress)


def _listed(text: str) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]


def _size(text: str) -> tuple[int, int, int]:
    words = text.lower().split("x")
    if len(words) != 3 or not all(word.isascii() and word.isdigit() and len(word) < 4 for word in words):
        raise UsageError(f'"{text}" is no box: give --box its cells east, south and up, such as 3x2x2.')
    x, y, z = map(int, words)
    return x, y, z


def _write_winners(goal: Path, made: Certificate) -> list[Path]:
    files = []
    for number, winner in enumerate(made.winners, 1):
        path = goal.with_name(f"{goal.stem}-{number}.toml")
        write_whole(path, winner.plan)
        files.append(path)
    return files


def _data(made: Certificate, goal: Path, files: list[Path]) -> dict[str, Any]:
    return {
        "behaviour": made.behaviour,
        "meaning": made.meaning,
        "box": made.box,
        "kinds": made.kinds,
        "alphabet": made.alphabet,
        "rules": made.rules,
        "outputs": made.outputs or [],
        "without_proof": made.without_proof or None,
        "proved": made.proved,
        "parts": made.parts,
        "winners": [
            {
                "file": str(file), "parts": one.parts, "order_sensitive": one.order_sensitive,
                "works_in": one.works_in, "of": one.of, "hold_steps": one.hold_steps or None,
            }
            for one, file in zip(made.winners, files, strict=True)
        ],
        "counts": made.counts,
        "certificate": str(goal),
        "seconds": made.seconds,
    }  # fmt: skip


def _show(made: Certificate, goal: Path, files: list[Path]) -> None:
    box, counts = size_text(made.box), made.counts
    known = "proved" if made.proved else "not proved: stopped before all layouts were tried"
    if made.without_proof:
        known = "found by trial, no proof: there may be a smaller one"
    if made.parts is not None:
        print(f'"{made.behaviour}" in {box} takes {made.parts} parts ({known}).')
    elif made.proved:
        print(f'Nothing in {box} does "{made.behaviour}" in all turns and orders (proved).')
    elif made.without_proof:
        print(f'Nothing was found in {box} that does "{made.behaviour}". That proves nothing: there may be something.')
    else:
        print(f'Nothing in {box} does "{made.behaviour}" so far ({known}).')
    print(f"Wanted: {made.meaning}.")
    print(f"Parts: {', '.join(made.kinds)}; one of them is pressed. Rule set: {made.rules}.")
    if made.outputs:
        print(f"Output: {' or '.join(made.outputs)}.")
    if made.winners:
        rows = [
            (
                str(file),
                *([f"{one.hold_steps} steps"] if one.hold_steps else []),
                str(one.parts),
                "all" if not one.order_sensitive else f"{one.works_in} of {one.of}",
            )
            for one, file in zip(made.winners, files, strict=True)
        ]
        heads = ("plan", *(["hold"] if made.winners[0].hold_steps else []), "parts", "works in turns and orders")
        print_table("Found", heads, rows)
    if made.without_proof:
        print(f"{counts['run']:,} layouts were run, {counts['restless']:,} of them do not rest.")
    else:
        print(f"{counts['valid']:,} layouts can stand; {counts['canonical']:,} of them are no mirror image of another.")
        print(
            f"In {counts['live']:,} of these every part may matter; {counts['run']:,} were run, "
            f"{counts['restless']:,} of them never rest."
        )
    print(f"Certificate: {goal} ({made.seconds:g} s). Times assume a world at its full 20 steps a second.")
    if not made.proved and not made.without_proof:
        print("The same command goes on from here.")
