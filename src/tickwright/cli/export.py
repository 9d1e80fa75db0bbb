"""`tickwright export`: one file made of a plan or of a run of it. A new format is one row of FORMATS."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from tickwright import Plan, RuleSet, load, load_rules, measure, parse_duration
from tickwright.charts import run_chart
from tickwright.cli.files import check_writable, write_whole
from tickwright.cli.show import AsJson, Order, RulesName, print_json, working
from tickwright.errors import UsageError
from tickwright.measurement import Trigger, find_trigger, lap_table, length_map
from tickwright.plan import load_prices, priced_bill
from tickwright.publish import (
    CORNERS,
    Drawing,
    Theme,
    bands_of_claims,
    bill_csv,
    font_note,
    isometric_drawing,
    lap_chart,
    layer_drawing,
    length_chart,
    levels_csv,
    png_bytes,
    svg_text,
    timing_chart,
    vcd_text,
)
from tickwright.recording import Recording, record

if TYPE_CHECKING:
    from tickwright.publish import Film

FILM_LEAD_STEPS = 20  # what is run before the press
SHOWN_BY_OUR_FONTS = ("pdf", "png", "gif", "mp4")  # other formats leave the letters to whoever shows them
MOST_ACTIVE_STEPS = 200  # of one press, for the interactive page to try many presses


class Look(NamedTuple):
    """How a picture is to look: which layer (None: the whole plan), at which time of the run, and how dark."""

    layer: int | None
    corner: str
    apart: float
    at: str | None
    dark: bool


class Pace(NamedTuple):
    """How fast a film is to run: `speed` times a full world, `slow` times slower round edges; and a deliberate risk."""

    speed: float
    slow: float
    allow_flashing: bool


@dataclass(frozen=True)
class Job:
    """What is to be exported: the plan as loaded and the options as given; `recording` is run once, when asked for."""

    path: Path
    plan: Plan
    do: list[str] | None
    duration: str | None
    rules: str | None
    order: str
    prices: Path | None
    look: Look
    pace: Pace
    progress: Callable[[int, int], None]

    @cached_property
    def recording(self) -> Recording:
        """The run that `--do` and `--for` ask for: levels of every cell, and what stood where."""
        steps = parse_duration(self.duration) if self.duration is not None else None
        return record(self.plan, self.do, steps, self.rules, self.order)

    @cached_property
    def film(self) -> Film:
        """The film of the run that `--do` and `--for` ask for, from a second before the press."""
        from tickwright.publish import make_film

        steps = parse_duration(self.duration) if self.duration is not None else None
        run = record(self.plan, self.do, steps, self.rules, self.order, before_steps=FILM_LEAD_STEPS)
        theme: Theme = "dark" if self.look.dark else "light"
        return make_film([run], *self.pace[:2], theme, self.look.corner, self.pace.allow_flashing, self.progress)

    @property
    def ruleset(self) -> RuleSet:
        """The rules that the options or the plan ask for."""
        return load_rules(self.rules or self.plan.rules, self.path.parent)

    @property
    def theme(self) -> Theme:
        """The colours of a picture."""
        return "dark" if self.look.dark else "light"

    def trigger(self) -> Trigger:
        """The first trigger of the plan."""
        if not self.plan.triggers:
            raise UsageError("The plan names no trigger: add one under [triggers], such as press = [x, y, z].")
        return find_trigger(self.plan, self.ruleset, next(iter(self.plan.triggers)))

    def drawing(self) -> Drawing:
        """The picture that the options ask for: a layer or the whole, as laid or at a moment of the run."""
        look = self.look
        moment = self.recording.moment(parse_duration(look.at)) if look.at is not None else None
        if look.layer is not None:
            return layer_drawing(self.plan, self.ruleset, look.layer, moment, self.theme)
        return isometric_drawing(self.plan, self.ruleset, moment, self.theme, look.corner, look.apart)


class Format(NamedTuple):
    """A format: the word of its option, the suffix of its file, what it is, and what makes its content."""

    word: str
    suffix: str
    help: str
    make: Callable[[Job], str | bytes]


def _bill(job: Job) -> str:
    return bill_csv(priced_bill(job.plan, load_prices(job.prices) if job.prices is not None else None))


def _model(job: Job) -> bytes:
    from tickwright.publish import glb_bytes

    return glb_bytes(job.recording)


def _pdf(job: Job) -> bytes:
    from tickwright.material import gather_material
    from tickwright.publish import pdf_bytes

    prices = load_prices(job.prices) if job.prices is not None else None
    return pdf_bytes(gather_material(job.plan, job.rules, prices))


def _interactive(job: Job) -> str:
    from tickwright import diagnose, gather
    from tickwright.publish import Design, interactive_sheet
    from tickwright.recording import record_presses

    known = gather(job.plan, job.rules, most_active_steps=MOST_ACTIVE_STEPS)
    presses, left_out = record_presses(job.plan, [answer.measured for answer in known.answers], job.rules)
    found = diagnose(job.plan, job.ruleset, depth="pressed" if known.left_out else "all").findings
    prices = load_prices(job.prices) if job.prices is not None else None
    return interactive_sheet([Design(known, presses, priced_bill(job.plan, prices), left_out, found)])


def _film(word: str) -> Callable[[Job], str | bytes]:
    """What makes the film, or its captions, in that format."""

    def make(job: Job) -> str | bytes:
        from tickwright.publish import gif_bytes, mp4_bytes, srt_text, vtt_text  # slow to load

        if word in ("vtt", "srt"):
            return (vtt_text if word == "vtt" else srt_text)(job.film.captions)
        return (gif_bytes if word == "gif" else mp4_bytes)(job.film.shots)

    return make


def _verilog(job: Job) -> str:
    from tickwright.engine import circuit_of
    from tickwright.publish import verilog_text

    run = job.recording
    circuit = circuit_of(run.plan, run.rules, job.order)
    return verilog_text(
        circuit, {**run.plan.triggers, **run.plan.outputs}, run.stimuli, run.trace.steps, run.plan.title
    )


def _timing(job: Job) -> str:
    if job.plan.charts and job.do is None and job.duration is None:
        return _claims(job)
    return svg_text(timing_chart({job.plan.title or job.path.stem: job.recording}, job.theme))


def _claims(job: Job) -> str:
    """The run of the plan's first chart, with what is wanted of each output as bands."""
    found = run_chart(job.plan, rules=job.ruleset, order=job.order)
    played = found.played
    run = record(job.plan, played.script, played.zero_step + played.timeline.steps, job.rules, job.order)
    later = played.zero_step - (run.pressed_at_step or 0)
    bands = bands_of_claims(found.claims, played.timeline.steps, later)
    title = f"{job.plan.title or job.path.stem}: {found.chart}"
    return svg_text(timing_chart({title: run}, job.theme, bands))


def _lengths(job: Job) -> str:
    trigger, outputs = job.trigger(), list(job.plan.outputs)
    rows = length_map(job.plan, job.ruleset, trigger, outputs)
    found = measure(job.plan, trigger.name, rules=job.ruleset)
    minimum = {one.output: one.minimum_trigger_steps for one in found}
    return svg_text(length_chart(trigger.name, rows, trigger.length_steps, minimum, job.theme))


def _laps(job: Job) -> str:
    trigger = job.trigger()
    return svg_text(lap_chart(trigger.name, lap_table(job.plan, job.ruleset, trigger), job.theme))


FORMATS = (
    Format("svg", ".svg", "A picture of the plan, or of one layer.", lambda job: svg_text(job.drawing())),
    Format("png", ".png", "The same picture in pixels.", lambda job: png_bytes(job.drawing())),
    Format("pdf", ".pdf", "The sheet to print, on A4; for other paper see tickwright sheet.", _pdf),
    Format("chart", "-chart.svg", "The levels of triggers and outputs over time, with durations.", _timing),
    Format("lengths", "-lengths.svg", "A chart of every length of the first trigger and its hold.", _lengths),
    Format("laps", "-laps.svg", "A chart of the levels at each comparator, turn by turn.", _laps),
    Format(
        "vcd", ".vcd", "The levels of triggers and outputs as waveforms.", lambda job: vcd_text(job.recording.trace)
    ),
    Format(
        "csv", ".csv", "The same levels as a table, a row for each change.", lambda job: levels_csv(job.recording.trace)
    ),
    Format("gif", ".gif", "A film of the run.", _film("gif")),
    Format("mp4", ".mp4", "The same film as MP4.", _film("mp4")),
    Format("vtt", ".vtt", "Captions that match the film, as WebVTT.", _film("vtt")),
    Format("srt", ".srt", "The same captions as SRT.", _film("srt")),
    Format("verilog", ".v", "The circuit of a plan without pistons and items as Verilog, with a bench.", _verilog),
    Format("glb", ".glb", "A glTF 2.0 model of the run: a node for each part, levels animated.", _model),
    Format("html", ".html", "An interactive page that works from disk: 3D view, runs, build steps.", _interactive),
    Format("bill", "-bill.csv", "The bill of parts as a table.", _bill),
)


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
        for form in FORMATS
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
            "--output", "-o", metavar="FILE", help="Where to; beside you, named after the plan, if not given."
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
    speed: Annotated[float, typer.Option("--speed", help="Film: so many times as fast as a full world.")] = 1.0,
    slow: Annotated[
        float, typer.Option("--slow", help="Film: so many times slower round an output's first on and last off.")
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
    wanted = [form for form in FORMATS if chosen[form.word]]
    if len(wanted) != 1:
        words = ", ".join(f"--{form.word}" for form in FORMATS)
        raise UsageError(f"Give one format to export to, and only one: {words}.")
    (form,) = wanted
    loaded, look, pace = load(plan), Look(layer, corner, apart, at, dark), Pace(speed, slow, allow_flashing)
    goal = to if to is not None else Path(plan.stem + form.suffix)
    if goal.exists() and goal.samefile(plan):
        raise UsageError(f'"{goal}" is the plan itself: write to another file with -o.')
    check_writable(goal)
    size, notes = None, []
    if allow_flashing:
        print(
            "Warning: --allow-flashing leaves in what flashes: it can set off seizures. Warn those who watch.",
            file=sys.stderr,
        )
    if not dry_run:
        with working(f"exporting {plan}") as progress:
            job = Job(plan, loaded, do, duration, rules, order, prices, look, pace, progress)
            size = write_whole(goal, form.make(job))
        notes = [job.film.note] if "film" in vars(job) and job.film.note else []
        if form.word in SHOWN_BY_OUR_FONTS and (note := font_note(loaded.title)):
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
