"""Files made of a plan or of a run of it: one table of formats, for the command line and the page alike.

A new format is one row of FORMATS. Nothing is written here: a row makes the content of its file.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal, NamedTuple

from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.measurement import Trigger, find_trigger, lap_table, length_map, measure
from tickwright.plan.bill import Bill, Prices, priced_bill
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.publish import (
    Drawing,
    Theme,
    bill_csv,
    claims_drawing,
    isometric_drawing,
    lap_chart,
    layer_drawing,
    length_chart,
    levels_csv,
    png_bytes,
    run_bands,
    svg_text,
    timing_chart,
    vcd_text,
)
from tickwright.recording import ChartRun, Recording, record, record_chart, record_charts
from tickwright.rules import RuleSet

if TYPE_CHECKING:
    from tickwright.publish import Film

__all__ = ["FORMATS", "Export", "Format", "Look", "Pace"]

LEAD_STEPS = 20  # of a film before the press
Shown = Literal["picture", "text", "film", "page", "none"]


class Look(NamedTuple):
    """How a picture is to look: which layer (None: the whole plan), at which step of the run (None: as laid)."""

    layer: int | None = None
    theme: Theme = "light"
    corner: str = "south-east"
    apart: float = 0.0
    at_step: int | None = None


class Pace(NamedTuple):
    """How fast a film is to run: `speed` times a full world, `slow` times slower round edges; and a deliberate risk."""

    speed: float = 1.0
    slow: float = 4.0
    allow_flashing: bool = False


@dataclass(frozen=True)
class Export:
    """What is to be made of a plan; what is run, is run once, when a format asks for it.

    Without acts the first trigger is pressed once, at rest; without `steps` a run ends a second after all rests.
    """

    plan: Plan
    rules: RuleSet | str | None = None
    order: str = "canonical"
    acts: Sequence[str] | None = None
    steps: int | None = None
    prices: Prices | None = None
    look: Look = field(default_factory=Look)
    pace: Pace = field(default_factory=Pace)
    name: str = ""
    """What a chart calls a plan that has no title."""
    progress: Callable[[int, int], None] | None = None

    @cached_property
    def ruleset(self) -> RuleSet:
        """The rules that are asked for, or the plan's own."""
        return rules_for(self.plan, self.rules)

    @cached_property
    def recording(self) -> Recording:
        """The run that is asked for: levels of every cell, and what stood where."""
        return record(self.plan, self.acts, self.steps, self.ruleset, self.order)

    @cached_property
    def film(self) -> Film:
        """The film of that run, from a second before the press; if none is asked for, of the plan's first chart."""
        from tickwright.publish import make_film

        speed, slow, allow = self.pace
        look = (speed, slow, self.look.theme, self.look.corner, allow, self.progress)
        if self.chart is not None:
            return make_film([self.chart.recording], *look, [run_bands(self.chart)])
        run = record(self.plan, self.acts, self.steps, self.ruleset, self.order, before_steps=LEAD_STEPS)
        return make_film([run], *look)

    @cached_property
    def chart(self) -> ChartRun | None:
        """The run of the plan's first chart; None if it has none, or another run is asked for."""
        if not self.plan.charts or self.acts is not None or self.steps is not None:
            return None
        return record_chart(self.plan, None, self.ruleset, self.order)

    @property
    def note(self) -> str:
        """What was done about the flashing of the film, if one was made; "" for nothing."""
        return self.film.note if "film" in vars(self) else ""

    @property
    def title(self) -> str:
        """What a chart calls the plan."""
        return self.plan.title or self.name

    @property
    def bill(self) -> Bill:
        """The bill of parts at the prices asked for."""
        return priced_bill(self.plan, self.prices)

    def trigger(self) -> Trigger:
        """The first trigger of the plan."""
        if not self.plan.triggers:
            raise UsageError("The plan names no trigger: add one under [triggers], such as press = [x, y, z].")
        return find_trigger(Setup(self.plan, self.ruleset), next(iter(self.plan.triggers)))

    def drawing(self) -> Drawing:
        """A layer or the whole, as laid or at a moment of the run."""
        look = self.look
        moment = self.recording.moment(look.at_step) if look.at_step is not None else None
        if look.layer is not None:
            return layer_drawing(self.plan, self.ruleset, look.layer, moment, look.theme)
        return isometric_drawing(self.plan, self.ruleset, moment, look.theme, look.corner, look.apart)


class Format(NamedTuple):
    """A format: its word, the suffix of its file and its media type; what it is, briefly and in a sentence; how a page
    shows it; what makes its content. With `our_letters` the fonts that come with Tickwright draw the text in it.
    """

    word: str
    suffix: str
    media_type: str
    title: str
    help: str
    shown_as: Shown
    make: Callable[[Export], str | bytes]
    our_letters: bool = False

    @property
    def is_filmed(self) -> bool:
        """Whether a film is made for it, and how that flashes is looked at."""
        return self.word in _FILMED

    @property
    def extra(self) -> str | None:
        """The extra that it needs; None if the default makes it."""
        return "film" if self.is_filmed else "workbench" if self.word == "html" else None


def _pdf(asked: Export) -> bytes:
    from tickwright.material import gather_material
    from tickwright.publish import pdf_bytes

    return pdf_bytes(gather_material(asked.plan, asked.ruleset, asked.prices))


def _interactive(asked: Export) -> str:
    from tickwright.diagnosis import diagnose, why
    from tickwright.dossier import gather
    from tickwright.material import MOST_ACTIVE_STEPS
    from tickwright.publish import Design, interactive_sheet
    from tickwright.recording import record_presses

    known = gather(asked.plan, asked.ruleset, most_active_steps=MOST_ACTIVE_STEPS)
    presses, left_out = record_presses(asked.plan, [answer.measured for answer in known.answers], asked.ruleset)
    found = diagnose(asked.plan, asked.ruleset, depth="pressed" if known.left_out else "all").findings
    charts = record_charts(asked.plan, asked.ruleset, asked.order)
    reasons = why(asked.plan, rules=asked.ruleset) if known.answers and not known.left_out else None
    return interactive_sheet([Design(known, presses, asked.bill, left_out, found, charts, reasons)])


def _gif(asked: Export) -> bytes:
    from tickwright.publish import gif_bytes

    return gif_bytes(asked.film.shots)


def _mp4(asked: Export) -> bytes:
    from tickwright.publish import mp4_bytes

    return mp4_bytes(asked.film.shots)


def _vtt(asked: Export) -> str:
    from tickwright.publish import vtt_text

    return vtt_text(asked.film.captions)


def _srt(asked: Export) -> str:
    from tickwright.publish import srt_text

    return srt_text(asked.film.captions)


def _model(asked: Export) -> bytes:
    from tickwright.publish import glb_bytes

    return glb_bytes(asked.recording)


def _verilog(asked: Export) -> str:
    from tickwright.engine.circuit import circuit_of
    from tickwright.publish import verilog_text

    run = asked.recording
    circuit = circuit_of(Setup(run.plan, run.rules, asked.order))
    return verilog_text(
        circuit, {**run.plan.triggers, **run.plan.outputs}, run.stimuli, run.trace.steps, run.plan.title
    )


def _timing(asked: Export) -> str:
    if asked.chart is not None:
        return svg_text(claims_drawing(asked.chart, asked.look.theme))
    return svg_text(timing_chart({asked.title: asked.recording}, asked.look.theme))


def _lengths(asked: Export) -> str:
    trigger, outputs = asked.trigger(), list(asked.plan.outputs)
    rows = length_map(Setup(asked.plan, asked.ruleset), trigger, outputs)
    found = measure(asked.plan, trigger.name, rules=asked.ruleset)
    minimum = {one.output: one.minimum_trigger_steps for one in found}
    return svg_text(length_chart(trigger.name, rows, trigger.length_steps, minimum, asked.look.theme))


def _laps(asked: Export) -> str:
    trigger = asked.trigger()
    return svg_text(lap_chart(trigger.name, lap_table(Setup(asked.plan, asked.ruleset), trigger), asked.look.theme))


_SVG, _TEXT, _CSV = "image/svg+xml", "text/plain; charset=utf-8", "text/csv; charset=utf-8"
_ROWS = (
    Format(
        "svg", ".svg", _SVG, "Picture (SVG)", "A picture of the plan, or of one layer.", "picture",
        lambda asked: svg_text(asked.drawing()),
    ),
    Format(
        "png", ".png", "image/png", "Picture (PNG)", "The same picture in pixels.", "picture",
        lambda asked: png_bytes(asked.drawing()), our_letters=True,
    ),
    Format(
        "pdf", ".pdf", "application/pdf", "Sheet to print (PDF)",
        "The sheet to print, on A4; for other paper see tickwright sheet.", "page", _pdf, our_letters=True,
    ),
    Format(
        "chart", "-chart.svg", _SVG, "Timing chart of a run (SVG)",
        "The levels of triggers and outputs over time, with durations.", "picture", _timing,
    ),
    Format(
        "lengths", "-lengths.svg", _SVG, "Chart of press lengths (SVG)",
        "A chart of every length of the first trigger and its hold.", "picture", _lengths,
    ),
    Format(
        "laps", "-laps.svg", _SVG, "Chart of laps (SVG)",
        "A chart of the levels at each comparator, turn by turn.", "picture", _laps,
    ),
    Format(
        "vcd", ".vcd", _TEXT, "Waveforms of a run (VCD)", "The levels of triggers and outputs as waveforms.", "text",
        lambda asked: vcd_text(asked.recording.trace),
    ),
    Format(
        "csv", ".csv", _CSV, "Levels of a run (CSV)", "The same levels as a table, a row for each change.", "text",
        lambda asked: levels_csv(asked.recording.trace),
    ),
    Format(
        "gif", ".gif", "image/gif", "Film of a run (GIF)", "A film of the run.", "picture", _gif, our_letters=True,
    ),
    Format(
        "mp4", ".mp4", "video/mp4", "Film of a run (MP4)", "The same film as MP4.", "film", _mp4, our_letters=True,
    ),
    Format(
        "vtt", ".vtt", "text/vtt; charset=utf-8", "Captions of the film (WebVTT)",
        "Captions that match the film, as WebVTT.", "text", _vtt,
    ),
    Format("srt", ".srt", _TEXT, "Captions of the film (SRT)", "The same captions as SRT.", "text", _srt),
    Format(
        "verilog", ".v", _TEXT, "Circuit (Verilog)",
        "The circuit of a plan without pistons and items as Verilog, with a bench.", "text", _verilog,
    ),
    Format(
        "glb", ".glb", "model/gltf-binary", "Model of a run (glTF)",
        "A glTF 2.0 model of the run: a node for each part, levels animated.", "none", _model,
    ),
    Format(
        "html", ".html", "text/html; charset=utf-8", "Interactive page (HTML)",
        "An interactive page that works from disk: 3D view, runs, build steps.", "page", _interactive,
    ),
    Format(
        "bill", "-bill.csv", _CSV, "Bill of parts (CSV)", "The bill of parts as a table.", "text",
        lambda asked: bill_csv(asked.bill),
    ),
)  # fmt: skip
_FILMED = ("gif", "mp4", "vtt", "srt")
FORMATS: dict[str, Format] = {form.word: form for form in _ROWS}
"""Every format by its word, in the order of lists and help."""
