"""Dossiers: of every example a page of what `tickwright measure --full` works out, from runs, and a list of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tickwright import load
from tickwright.dossier import Answer, gather
from tickwright.durations import time_text
from tickwright.publish import dossier_tables, expectation_lines, hold_text, press_text

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
WORKERS = 2
MEASURES = ("press", "kind", "delay", "hold", "pulses", "minimum trigger", "recovery")

TEXT = """\
# Dossiers of the examples

What `tickwright measure --full` works out for each circuit in [examples.md](examples.md), under its own rules: a page
each. Every figure comes from a run. Delay and steps count from the press; 1 tick is 2 steps, 1 second is 20. Nothing is
left out; a section that is missing, such as *Levels at the comparators*, has nothing to show for that circuit.

| dossier | circuit | parts |
|---|---|---|
"""
FOOT = """
One press at a time, from rest, unless a table says otherwise; 1 tick is 2 steps, 1 second is 20. Words are explained in
the [glossary](../glossary.md). [All dossiers](../dossiers.md)"""


def page() -> str:
    """The list of all dossiers."""
    return TEXT + "\n".join(map(row, sorted(EXAMPLES.glob("*.toml"))))


def row(path: Path) -> str:
    """The row of one example in the list."""
    plan = load(path)
    return f"| [{path.stem}](dossiers/{path.stem}.md) | {plan.title} | {len(plan.cells)} |"


def pages() -> dict[str, str]:
    """A page for each example, by its name."""
    paths = sorted(EXAMPLES.glob("*.toml"))
    with ProcessPoolExecutor(WORKERS) as pool:
        return {f"{path.stem}.md": text for path, text in zip(paths, pool.map(dossier, paths), strict=True)}


def dossier(path: Path) -> str:
    """What is known of one example."""
    known = gather(load(path))
    title = known.plan.title or path.stem
    lines = [f"# {title}", "", f"[{path.name}](../../examples/{path.name}), rules `{known.rules}`.", "", "## One press"]
    lines += markdown(MEASURES, map(measures, known.answers))
    for table in dossier_tables(known):
        lines += ["", f"## {table.title}", *markdown(table.heads, table.rows)]
        lines += [line for note in table.notes for line in ("", note)]
    lines += [line for text in expectation_lines(known) for line in ("", text)]
    return "\n".join([*lines, FOOT])


def markdown(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """A Markdown table after an empty line."""
    lines = [f"| {' | '.join(text.replace('|', '-') for text in row)} |" for row in (heads, *rows)]
    return ["", lines[0], "|---" * len(heads) + "|", *lines[1:]]


def measures(answer: Answer) -> tuple[str, ...]:
    """The row of one answer in the first table."""
    found = answer.measured
    count = "for ever" if found.kind == "clock" else str(len(found.pulses))
    least = time_text(found.minimum_trigger_steps)
    if found.checked_up_to_steps is not None:
        least += f", of up to {found.checked_up_to_steps} steps"
    times = time_text(found.delay_steps), hold_text(found)
    return press_text(found), found.kind_text, *times, count, least, time_text(answer.recovery_steps)
