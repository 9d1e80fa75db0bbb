"""`tickwright discover`: the smallest layout in a box that does something, by trying them all."""

from __future__ import annotations

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
    Certificate,
    Search,
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
        typer.Option("--kinds", metavar="KIND,...", help="What may stand; a part's text is that way only."),
    ] = ",".join(KINDS_TRIED),
    minutes: Annotated[
        float | None, typer.Option("--minutes", metavar="M", min=0.001, help="Stop after so long, to go on later.")
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="FILE", help="The certificate; one that is not done is gone on with."),
    ] = None,
    workers: Annotated[
        int | None, typer.Option("--workers", metavar="N", min=1, help="So many processes; one for each core.")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="Work on the cluster of a dask scheduler.")
    ] = None,
    rules: RulesName = None,
    as_json: AsJson = False,
) -> None:
    """Find the smallest layout in a box that does something, by trying all layouts of its kinds of parts.

    What is found is proved within the alphabet that the certificate names, and replayed on the reference engine in all
    turns, mirror images and orders. What works in some of these only is listed apart. Nothing found and proved: exit
    code 1. Stopped before the proof: exit code 130, and the same command goes on.
    """
    size = _size(box)
    wanted = ask(behaviour, size, [kind for kind in kinds.split(",") if kind.strip()], load_rules(rules or "standard"))
    goal = into or Path(f"{'-'.join(behaviour.lower().split())}-{size_text(size)}.json")
    check_writable(goal)
    if goal.exists():
        search = resumed(goal.read_bytes(), wanted, str(goal))
    else:
        for there in sorted(goal.parent.glob(f"{goal.stem}-[0-9].toml")):
            raise UsageError(f'"{there}" is there already: name another certificate, or take the plan away first.')
        search = Search(wanted)
    saved = time.monotonic()
    with stoppable() as tell:

        def progress(search: Search) -> bool:
            nonlocal saved
            if time.monotonic() - saved > SAVE_SECONDS and search.done:
                write_whole(goal, encoded(certify(search)))
                saved = time.monotonic()
            counts, left = search.counts, len(search.shares) - len(search.done)
            best = search.robust[0].parts if search.robust else "none yet"
            return tell(
                f"{size_text(size)}: {counts.valid:,} layouts, {counts.run:,} run, {left:,} of {len(search.shares):,} "
                f"shares left; fewest parts: {best}"
            )

        done = go_on(search, workers, cluster, None if minutes is None else 60 * minutes, progress)
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
        "proved": made.proved,
        "parts": made.parts,
        "winners": [
            {
                "file": str(file), "parts": one.parts, "order_sensitive": one.order_sensitive,
                "works_in": one.works_in, "of": one.of,
            }
            for one, file in zip(made.winners, files, strict=True)
        ],
        "counts": made.counts,
        "certificate": str(goal),
        "seconds": made.seconds,
    }  # fmt: skip


def _show(made: Certificate, goal: Path, files: list[Path]) -> None:
    box = size_text(made.box)
    known = "proved" if made.proved else "not proved: stopped before all layouts were tried"
    if made.parts is not None:
        print(f'"{made.behaviour}" in {box} takes {made.parts} parts ({known}).')
    elif made.proved:
        print(f'Nothing in {box} does "{made.behaviour}" in all turns and orders (proved).')
    else:
        print(f'Nothing in {box} does "{made.behaviour}" so far ({known}).')
    print(f"Wanted: {made.meaning}.")
    print(f"Parts: {', '.join(made.kinds)}; one of them is pressed. Rule set: {made.rules}.")
    if made.winners:
        rows = [
            (str(file), str(one.parts), "all" if not one.order_sensitive else f"{one.works_in} of {one.of}")
            for one, file in zip(made.winners, files, strict=True)
        ]
        print_table("Found", ("plan", "parts", "works in turns and orders"), rows)
    counts = made.counts
    print(
        f"{counts['valid']:,} layouts can stand, {counts['canonical']:,} of them are no mirror image of another; in "
        f"{counts['live']:,} every part may matter; {counts['run']:,} were run, {counts['restless']:,} never rest."
    )
    print(f"Certificate: {goal} ({made.seconds:g} s). Times assume a world at its full 20 steps a second.")
    if not made.proved:
        print("The same command goes on from here.")
