"""`tickwright export`: one file made of a plan or of a run of it."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from tickwright import parse_duration
from tickwright.cli.files import check_folder, check_writable, is_folder, output_path, write_whole
from tickwright.cli.inputs import load
from tickwright.cli.settings import STANDARD
from tickwright.cli.show import AsJson, Order, RulesName, print_json, working
from tickwright.errors import UsageError
from tickwright.exporting import FORMATS, Export, Format, Look, Pace
from tickwright.extras import need_extra
from tickwright.plan import load_prices
from tickwright.publish import CORNERS, font_note


def _with_formats(command: Callable[..., None]) -> Callable[..., None]:
    """Give the command an option for each format, after its arguments."""
    signature = inspect.signature(command, eval_str=True)
    own = [parameter for parameter in signature.parameters.values() if parameter.kind is not parameter.VAR_KEYWORD]
    flags = [
        inspect.Parameter(
            form.word,
            inspect.Parameter.KEYWORD_ONLY,
            default=False,
            annotation=Annotated[bool, typer.Option(f"--{form.word}", help=form.help)],
        )
        for form in FORMATS.values()
    ]
    first, *rest = [parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY) for parameter in own]
    vars(command)["__signature__"] = signature.replace(parameters=[first, *flags, *rest])
    return command


@_with_formats
def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.")],
    to: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            parser=output_path,
            help="Where to: a file, a folder (with / at its end it is made), or - for standard output; if not given, "
            "where you are, named after the plan.",
        ),
    ] = None,
    do: Annotated[
        list[str] | None,
        typer.Option(
            "--do",
            metavar="STEP:WHO[:ACT]",
            help="An act of the hand; may be repeated. Without any the first trigger is pressed once, at rest.",
        ),
    ] = None,
    duration: Annotated[
        str | None,
        typer.Option("--for", metavar="DURATION", help="How long to run; until a second after all rests if not given."),
    ] = None,
    layer: Annotated[
        int | None, typer.Option("--layer", metavar="Z", help="Picture: this layer from above, north up.")
    ] = None,
    corner: Annotated[
        str, typer.Option("--corner", help=f"Picture: from above which corner, {', '.join(CORNERS)}.")
    ] = "south-east",
    apart: Annotated[
        float, typer.Option("--apart", metavar="CELLS", help="Picture: how far the layers are lifted off each other.")
    ] = 0.0,
    at: Annotated[
        str | None,
        typer.Option(
            "--at", metavar="DURATION", help="Picture: the levels at this time of the run; as laid if not given."
        ),
    ] = None,
    dark: Annotated[bool, typer.Option("--dark", help="Picture: light on dark.")] = False,
    speed: Annotated[
        float, typer.Option("--speed", help="Film: how many times as fast as a world at full speed.")
    ] = 1.0,
    slow: Annotated[
        float, typer.Option("--slow", help="Film: how many times slower round an output's first on and last off.")
    ] = 4.0,
    allow_flashing: Annotated[
        bool,
        typer.Option(
            "--allow-flashing",
            help="Film: do not slow down what flashes more than WCAG 2.2 SC 2.3.1 allows. It can set off seizures.",
        ),
    ] = False,
    rules: RulesName = None,
    order: Order = "canonical",
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be written, and write nothing.")] = False,
    as_json: AsJson = False,
    **chosen: bool,
) -> None:
    """Write one file made of a plan: choose its format. An older file of that name is replaced."""
    wanted = [form for form in FORMATS.values() if chosen[form.word]] or _told_by(to)
    if len(wanted) != 1:
        words = ", ".join(f"--{word}" for word in FORMATS)
        raise UsageError(f"Give one format to export to, and only one: {words}; or a file whose name ends like one.")
    (form,) = wanted
    if form.extra is not None:
        need_extra(form.extra)
    loaded = load(plan)
    name = ("plan" if plan == STANDARD else plan.stem) + form.suffix
    goal = Path(name) if to is None else to / name if is_folder(to) else to
    if goal.exists() and goal.samefile(plan):
        raise UsageError(f'"{goal}" is the plan itself: write to another file with -o.')
    if to is not None and is_folder(to):
        check_folder(to, [name])
    else:
        check_writable(goal)
    size, notes = None, []
    if allow_flashing:
        print(
            "Warning: --allow-flashing leaves in what flashes: it can set off seizures. Warn those who watch.",
            file=sys.stderr,
        )
    if not dry_run:
        with working(f"exporting {plan}") as progress:
            asked = Export(
                loaded,
                rules,
                order,
                do,
                parse_duration(duration) if duration is not None else None,
                load_prices(prices) if prices is not None else None,
                Look(
                    layer,
                    "dark" if dark else "light",
                    corner,
                    apart,
                    parse_duration(at) if at is not None else None,
                ),
                Pace(speed, slow, allow_flashing),
                plan.stem,
                progress,
            )
            if to is not None and is_folder(to):
                to.mkdir(parents=True, exist_ok=True)
            size = write_whole(goal, form.make(asked))
        notes = [asked.note] if asked.note else []
        if form.our_letters and (note := font_note(loaded.title)):
            notes.append(f"{plan}: {note}")
    if as_json:
        print_json(
            {
                "plan": str(plan),
                "dry_run": dry_run,
                "written": [{"file": str(goal), "format": form.word, "bytes": size}],
                "notes": notes,
            }
        )
    else:
        print(f"{goal} would be written." if dry_run else f"{goal}: {size:,} bytes")
        for note in notes:
            print(note)


def _told_by(to: Path | None) -> list[Format]:
    """The format that the name of a file tells by its end; the longest such end counts."""
    if to is None or is_folder(to):
        return []
    fitting = [form for form in FORMATS.values() if to.name.endswith(form.suffix)]
    return sorted(fitting, key=lambda form: len(form.suffix))[-1:]
