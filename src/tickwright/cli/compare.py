"""`tickwright compare`: plans side by side."""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from tickwright import Plan, compare, parse_duration, why
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, RulesName, Span, named, print_json, print_spans, working
from tickwright.cli.style import styled, window_width, wrapped
from tickwright.design import tell_apart
from tickwright.diagnosis import LONGEST_CONTRASTED_STEPS, contrast
from tickwright.durations import duration_text, ticks_text
from tickwright.errors import UsageError
from tickwright.plan import load_prices
from tickwright.verify import SORT_KEYS, Compared, sorted_rows

TIMES = " x "  # as every terminal shows it
HEADS = (
    "plan", "kind", "delay", "hold", "error", "minimum trigger", "margin", "recovery", "parts", "price", "box",
    "pitch x", "pitch y", "rule sets", "proof", "claims kept",
)  # fmt: skip


def command(
    plans: Annotated[list[Path], typer.Argument(help="Plan files.", metavar="PLAN...")],
    hold: Annotated[str | None, typer.Option("--hold", metavar="DURATION", help="The hold that is wanted.")] = None,
    trigger: Annotated[str | None, typer.Option("--trigger", help="The trigger; the first if not given.")] = None,
    output: Annotated[str | None, typer.Option("--output", help="The output; the first if not given.")] = None,
    sort: Annotated[
        str | None, typer.Option("--sort", metavar="KEY", help=f"Sort by one of: {', '.join(SORT_KEYS)}.")
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    claim: Annotated[
        str | None,
        typer.Option(
            "--prove", metavar="CLAIM", help="Prove a claim of each plan, too: settles, never-sticks or expectations."
        ),
    ] = None,
    states: Annotated[
        int, typer.Option("--states", metavar="N", help="Explore at most so many states for each proof.")
    ] = 100_000,
    rules: RulesName = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV, times in steps.")] = False,
    as_markdown: Annotated[bool, typer.Option("--markdown", help="Print a Markdown table, times in steps.")] = False,
    as_json: AsJson = False,
) -> None:
    """Compare plans: hold and its error, minimum trigger, recovery, cost, size, pitch, rule sets and proof.

    Pitch is that of plain copies side by side; rule sets: whether kind and hold are the same under all built-in ones.
    """
    if as_csv + as_markdown + as_json > 1:
        raise UsageError("--csv, --markdown and --json are three forms of one answer: give one of them.")
    wanted = parse_duration(hold) if hold is not None else None
    table = load_prices(prices) if prices is not None else None
    loaded = {str(path): load(path) for path in plans}
    rows: list[Compared] = []
    with working(f"comparing {len(plans)} plans"):
        try:
            for name, plan in loaded.items():
                with named(Path(name)):
                    rows += compare({name: plan}, wanted, trigger, output, sort, rules, table, claim, states)
        except KeyboardInterrupt:
            if not rows:
                raise
    if sort is not None:
        rows = sorted_rows(rows, sort)
    cells = [_cells(row) for row in rows]
    if as_json:
        print_json({"wanted_hold_steps": wanted, "claim": claim, "results": [row.as_data() for row in rows]})
    elif as_csv:
        csv.writer(sys.stdout, lineterminator="\n").writerows([HEADS, *cells])
    elif as_markdown:
        for row in (HEADS, ("---",) * len(HEADS), *cells):
            print("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |")
    else:
        _show(rows, wanted, _reasons(rows, loaded, rules))


def _show(rows: list[Compared], wanted: int | None, reasons: Sequence[str]) -> None:
    """What differs and what is the same, the plans as columns; what is better in a row has a + before it."""
    names = short_names([row.plan for row in rows])
    print(styled(wrapped(_sentence(rows, names)), "bold"))
    for line in reasons:
        print(wrapped(f"  {line}", "    "))
    table = [(head, [one(row) for row in rows], better) for head, one, better in _PROPERTIES]
    own = any(row.price != row.parts for row in rows)  # whether prices are the user's
    kept = [line for line in table if set(line[1]) != {"-"} and (own or line[0] != "price")]
    differ = [line for line in kept if len(set(line[1])) > 1]
    same = [f"{head} {texts[0]}" for head, texts, _ in kept if len(set(texts)) == 1]
    if wanted is None:
        differ = [line for line in differ if line[0] != "error"]
    heads = max((len(head) for head, _, _ in differ), default=12) + 2
    widths = [max(len(name), *(len(texts[i]) for _, texts, _ in differ), 1) + 4 for i, name in enumerate(names)]
    for first, last in _fitting(widths, window_width() - heads):
        print(
            "\n"
            f"{'What differs':{heads}}" + "".join(f"  {names[i]:{widths[i] - 2}}" for i in range(first, last)).rstrip()
        )
        for head, texts, better in differ:
            best = better(rows) if better is not None else frozenset()
            cells = [
                styled(f"+ {texts[i]:{widths[i] - 2}}", "good") if i in best else f"  {texts[i]:{widths[i] - 2}}"
                for i in range(first, last)
            ]
            print((f"{head:{heads}}" + "".join(cells)).rstrip())
    if same and len(rows) > 1:
        print(f"\n{styled('The same', 'bold')}")
        print(wrapped(f"  {'; '.join(same)}", "  "))
    spans = [(names[i], row.delay_steps, row.hold_steps) for i, row in enumerate(rows)]
    known = [Span(name, delay, hold) for name, delay, hold in spans if delay is not None and hold is not None]
    if known:
        print()
        print_spans(known)
    print("\n+ better. Times assume a world at its full 20 steps a second.")


def _reasons(rows: list[Compared], loaded: dict[str, Plan], rules: str | None) -> Sequence[str]:
    """Why two plans differ as they do, by both runs; nothing for more plans, and where a hold is long."""
    holds = [row.hold_steps for row in rows]
    if len(rows) != 2 or any(hold is None or hold > LONGEST_CONTRASTED_STEPS for hold in holds):
        return ()
    names = short_names([row.plan for row in rows])
    told = [why(loaded[row.plan], row.trigger, row.output, rules) for row in rows]
    return contrast(told[0], told[1], (f'"{names[0]}"', f'"{names[1]}"'))[1:]


def short_names(paths: list[str]) -> list[str]:
    """What plans are called in a table: the names of their files, or their paths where two share one.

    >>> short_names(["a/loop.toml", "b/lamp.toml"]), short_names(["a/loop.toml", "b/loop.toml"])
    (['loop', 'lamp'], ['a/loop.toml', 'b/loop.toml'])
    """
    stems = [Path(path).stem for path in paths]
    return stems if len(set(stems)) == len(stems) else paths


def _sentence(rows: list[Compared], names: list[str]) -> str:
    """The holds, then what a pair differs in, in words."""
    holds = [_hold(row) for row in rows]
    if len(set(holds)) == 1 and len(rows) > 1:
        text = f"{'Both' if len(rows) == 2 else f'All {len(rows)}'} hold {holds[0]}."
    else:
        text = "; ".join(f"{name} holds {hold}" for name, hold in zip(names, holds, strict=True)) + "."
    if len(rows) != 2:
        return text
    smaller, larger = (0, 1) if rows[0].parts <= rows[1].parts else (1, 0)
    return f"{text} {names[smaller]} against {names[larger]}: {tell_apart(rows[smaller], rows[larger]).text}."


def _fitting(widths: list[int], room: int) -> Iterator[tuple[int, int]]:
    """Columns in groups, each of which fits the room."""
    first = 0
    while first < len(widths):
        last = first + 1
        while last < len(widths) and sum(widths[first : last + 1]) <= room:
            last += 1
        yield first, last
        first = last


def _least(read: Callable[[Compared], float | None]) -> Callable[[list[Compared]], frozenset[int]]:
    """Which rows have the least of a figure."""

    def best(rows: list[Compared]) -> frozenset[int]:
        found = {i: value for i, row in enumerate(rows) if (value := read(row)) is not None}
        return frozenset(i for i, value in found.items() if value == min(found.values()))

    return best


def _hold(row: Compared) -> str:
    return row.kind if row.hold_steps is None else duration_text(row.hold_steps)


def _time(steps: int | None) -> str:
    return "-" if steps is None else f"{duration_text(steps)}, {ticks_text(steps)}"


def _cell_count(cells: int | None) -> str:
    return "-" if cells is None else f"every {cells} cells"


def _kept(row: Compared) -> str:
    """How many claims of its charts the plan keeps."""
    return "-" if row.claims is None else f"{row.claims_kept} of {row.claims}"


_PROPERTIES: tuple[
    tuple[str, Callable[[Compared], str], Callable[[list[Compared]], frozenset[int]] | None], ...
] = (
    ("kind", lambda row: row.kind, None),
    ("hold", lambda row: "-" if row.hold_steps is None else _time(row.hold_steps), None),
    ("error", lambda row: _time(row.error_steps), _least(lambda row: abs(row.error_steps or 0))),
    ("delay", lambda row: _time(row.delay_steps), _least(lambda row: row.delay_steps)),
    ("minimum trigger", lambda row: _time(row.minimum_trigger_steps), _least(lambda row: row.minimum_trigger_steps)),
    ("to spare", lambda row: _time(row.margin_steps), _least(lambda row: -(row.margin_steps or 0))),
    ("ready again", lambda row: "at once" if row.recovery_steps == 0 else _time(row.recovery_steps),
     _least(lambda row: row.recovery_steps)),
    ("parts", lambda row: str(row.parts), _least(lambda row: row.parts)),
    ("price", lambda row: f"{row.price:g}", _least(lambda row: row.price)),
    ("box", lambda row: f"{TIMES.join(map(str, row.box))}, {row.cells} cells", _least(lambda row: row.cells)),
    ("copies, west-east", lambda row: _cell_count(row.pitch_x_cells), _least(lambda row: row.pitch_x_cells)),
    ("copies, north-south", lambda row: _cell_count(row.pitch_y_cells), _least(lambda row: row.pitch_y_cells)),
    ("rule sets", lambda row: row.rule_sets, None),
    ("proof", lambda row: "-" if row.proof is None else f"{row.proof}, {row.proof_states} states", None),
    ("claims kept", _kept, None),
)  # fmt: skip


def _cells(row: Compared) -> tuple[str, ...]:
    steps = (
        row.delay_steps,
        row.hold_steps,
        row.error_steps,
        row.minimum_trigger_steps,
        row.margin_steps,
        row.recovery_steps,
    )
    shown = ["-" if number is None else str(number) for number in steps]
    pitches = ["-" if cells is None else str(cells) for cells in (row.pitch_x_cells, row.pitch_y_cells)]
    proof = "-" if row.proof is None else f"{row.proof} ({row.proof_states} states)"
    box = " x ".join(map(str, row.box))
    return (
        row.plan,
        row.kind,
        *shown,
        str(row.parts),
        f"{row.price:g}",
        box,
        *pitches,
        row.rule_sets,
        proof,
        _kept(row),
    )
