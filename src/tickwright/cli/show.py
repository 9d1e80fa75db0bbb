"""What the commands share in showing things: JSON, tables, times, findings, and a few options."""

from __future__ import annotations

import json
import re
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import typer

from tickwright import Finding, Trace
from tickwright.cli.settings import CALL, answer_stream
from tickwright.cli.stopping import noting_interrupts
from tickwright.cli.style import shows, styled, window_width
from tickwright.durations import STEPS_PER_SECOND, duration_text, ticks_text
from tickwright.errors import PlanError

MOST_MARKS = 7
WIDEST_WORD = 16  # columns: longer ones are broken where a table is too wide
MARKS = (2, 10, 20, 40, 100, 200, 400, 1200, 2400, 6000, 12000, 24000, 72000, 10**9)  # steps
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document on stdout and nothing else.")]
RulesName = Annotated[
    str | None, typer.Option("--rules", metavar="NAME|FILE", help="A rule set instead of the plan's own.")
]
Order = Annotated[
    str, typer.Option("--order", metavar="canonical|reversed|SEED", help="The order in which parts are told.")
]


@contextmanager
def named(path: Path) -> Iterator[None]:
    """Errors in what a plan says name its file."""
    try:
        yield
    except PlanError as error:
        if error.path is None and error.line is not None:
            raise PlanError(error.message, error.line, error.column, str(path)) from None
        raise


@contextmanager
def working(what: str) -> Iterator[Callable[[int, int], None]]:
    """While it lasts, say after each second on a terminal's stderr what is being done and for how long already.

    What it gives may be told of progress: how many are done, of how many.
    """
    progress: list[str] = [""]

    def tell_progress(done: int, of: int) -> None:
        progress[0] = f"{done:,} of {of:,}, "

    with _each_second(lambda took: f"{what}: {progress[0]}{took} (Ctrl-C stops)"):
        yield tell_progress


@contextmanager
def stoppable() -> Iterator[Callable[[str], bool]]:
    """While it lasts, Ctrl-C only notes that the job is to stop; a second one ends the job where it is.

    It gives what the job calls as it goes on, with what a terminal's stderr shows after each second, even while the job
    says nothing new: it is True once the job is to be stopped.
    """
    said = ["working"]
    with noting_interrupts() as stopped:

        def tell(text: str) -> bool:
            said[0] = text
            return stopped()

        def line(took: str) -> str:
            return f"{said[0]}, {took} ({'stopping; Ctrl-C again ends it at once' if stopped() else 'Ctrl-C stops'})"

        with _each_second(line):
            yield tell


def tells_progress() -> bool:
    """Whether somebody is there to be told how far a job is."""
    return sys.stderr.isatty() and not CALL.quiet


@contextmanager
def _each_second(line: Callable[[str], str]) -> Iterator[None]:
    """Show the line of the moment, which is told how long it has been, after each second on a terminal's stderr."""
    if not tells_progress():
        yield
        return
    done = threading.Event()
    begun = time.monotonic()

    def show() -> None:
        while not done.wait(1):
            print(f"\r{line(f'{time.monotonic() - begun:.0f} s')}\033[K", end="", file=sys.stderr, flush=True)

    teller = threading.Thread(target=show, daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()
        print("\r\033[K", end="", file=sys.stderr, flush=True)


def print_json(data: Any) -> None:
    """One JSON document on stdout; of several plans it waits for the others."""
    if CALL.collected is not None:
        CALL.collected.append(data)
    else:
        answer_stream().write(json.dumps(data, ensure_ascii=False, indent=1) + "\n")


_GLUE = "\ue000"  # stands for a space at which a line of a table must not be broken
_WHOLE = re.compile(r"\([^()]{1,16}\)|\S+ -> \S+|\d[\d.]* (?:s|ticks?|steps?|cells?)\b|\d+ at \d+,?")


def print_table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """A table for people; its text is never read as markup."""
    from rich.box import ASCII, SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    print(styled(title, "bold"))
    table = Table(header_style="bold", box=SIMPLE_HEAD if shows("─") else ASCII, pad_edge=False, collapse_padding=True)
    cells = [[_WHOLE.sub(lambda found: found[0].replace(" ", _GLUE), cell) for cell in row] for row in rows]
    for at, head in enumerate(heads):
        longest = max((len(word) for row in cells for word in row[at].split()), default=0)
        table.add_column(head, overflow="fold", min_width=min(longest, WIDEST_WORD))
    for row in cells:
        table.add_row(*(Text(cell) for cell in row))
    console = Console(width=window_width(), color_system="auto" if CALL.colours else None)
    with console.capture() as captured:
        console.print(table)
    print(captured.get().replace(_GLUE, " "), end="")


def print_lanes(trace: Trace, names: Iterable[str] | None = None, indent: str = "") -> None:
    """A trace as lanes that fit the window, in plain characters where the terminal has no others."""
    from tickwright.publish import lanes

    plain = not shows("\u2581\u2592\u2500\u252c")
    for line in lanes(trace, names, window_width() - len(indent), ascii_only=plain):
        print(indent + line)


class Span(NamedTuple):
    """A bar: its name, when it begins and how long it lasts, in steps; how long it is missing after that.

    What is only `wanted` is a bracket instead.
    """

    name: str
    begin: int
    length: int
    missing: int = 0
    wanted: bool = False


def print_spans(spans: Sequence[Span]) -> None:
    """Bars on one scale of seconds, one a line."""
    gutter = max(len(span.name) for span in spans) + 2
    room = window_width() - gutter - 1
    end = max(span.begin + span.length + span.missing for span in spans)
    steps = max(1, -(-end // room))
    marks = next(each for each in MARKS if each * MOST_MARKS >= end)
    ruler = ""
    for at in range(0, end + 1, marks):
        text = duration_text(at)
        if at // steps + len(text) <= room:
            ruler = ruler.ljust(at // steps) + text
    print(" " * gutter + ruler)
    bar, hatch, (left, line, right) = ("█", "╱", "├─┤") if shows("█╱├─┤") else ("#", "/", "|-|")
    for name, begin, length, missing, wanted in spans:
        stop = (begin + length) // steps
        columns = max(1, stop - begin // steps)
        drawn = styled(bar * columns, "lamp")
        if wanted:
            drawn = left + line * (columns - 2) + right if columns > 1 else left
        lacking = hatch * ((begin + length + missing) // steps - stop)
        print(f"{name:{gutter}}" + " " * (begin // steps) + drawn + styled(lacking, "bad"))


def time_cell(steps: int | None, rate: float = STEPS_PER_SECOND) -> str:
    """Steps as a cell of a table: seconds, and ticks below them."""
    return "-" if steps is None else f"{duration_text(steps, rate)}\n{ticks_text(steps)}"


def print_findings(findings: Iterable[Finding], at_length: bool = False, indent: str = "") -> None:
    """Findings, one a line, with the steps at which they came up; `at_length` with code, cells and every edit."""
    for finding in findings:
        steps = ", ".join(str(step) for step in finding.steps[:5]) + (", ..." if len(finding.steps) > 5 else "")
        at = f" [step {steps}]" if steps else ""
        print(f"{indent}{finding.severity}: {finding.message}{at} ({finding.code})")
        repair = finding.repair
        if repair is not None:
            tried = " Tried: it mends this and harms nothing." if repair.verified and at_length else ""
            print(f"{indent}  {repair.text}{tried}")
        for edit in repair.edits if repair is not None and at_length else ():
            print(f"{indent}    {edit}")
