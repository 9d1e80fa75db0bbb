"""The files that the page makes of a plan: the same functions as the command line calls, and how each is looked at."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from tickwright import Plan, RuleSet
from tickwright.plan import priced_bill
from tickwright.publish import bill_csv, isometric_drawing, layer_drawing, levels_csv, png_bytes, svg_text, vcd_text
from tickwright.recording import record

if TYPE_CHECKING:
    from tickwright.publish import Drawing, Theme
    from tickwright.recording import Recording

SHOWN_AS = Literal["picture", "text", "film", "page", "none"]
FILMS = ("gif", "mp4", "vtt")
LEAD_STEPS = 20  # of a film before the press


class Look(NamedTuple):
    """What is asked for: a layer (None: the whole), the theme, and the script of the hand (empty: one press).

    With `allow_flashing` a film is not slowed where it flashes.
    """

    layer: int | None = None
    theme: Theme = "light"
    acts: tuple[str, ...] = ()
    allow_flashing: bool = False


class Filmed(NamedTuple):
    """What is made of a film, and what was done about flashing, "" for nothing."""

    content: str | bytes
    note: str


class Format(NamedTuple):
    """A sort of file: what it is called, its suffix and media type, how a page shows it, and what makes it."""

    title: str
    suffix: str
    media_type: str
    shown_as: SHOWN_AS
    make: Callable[[Plan, RuleSet, Look], str | bytes | Filmed]


def _drawing(plan: Plan, rules: RuleSet, look: Look) -> Drawing:
    if look.layer is None:
        return isometric_drawing(plan, rules, None, look.theme)
    return layer_drawing(plan, rules, look.layer, None, look.theme)


def _recording(plan: Plan, rules: RuleSet, acts: Sequence[str]) -> Recording:
    return record(plan, acts or None, None, rules)


def _film(word: str) -> Callable[[Plan, RuleSet, Look], Filmed]:
    def make(plan: Plan, rules: RuleSet, look: Look) -> Filmed:
        from tickwright.publish import gif_bytes, make_film, mp4_bytes, vtt_text

        run = record(plan, look.acts or None, None, rules, before_steps=LEAD_STEPS)
        film = make_film([run], theme=look.theme, allow_flashing=look.allow_flashing)
        if word == "vtt":
            return Filmed(vtt_text(film.captions), film.note)
        return Filmed((gif_bytes if word == "gif" else mp4_bytes)(film.shots), film.note)

    return make


def _sheet(plan: Plan, rules: RuleSet, _: Look) -> bytes:
    from tickwright.material import gather_material
    from tickwright.publish import pdf_bytes

    return pdf_bytes(gather_material(plan, rules))


def _page(plan: Plan, rules: RuleSet, _: Look) -> str:
    from tickwright.material import gather_material
    from tickwright.publish import Design, interactive_sheet

    found = gather_material(plan, rules)
    return interactive_sheet(
        [Design(found.dossier, found.presses, found.bill, found.unrecorded, found.diagnosis.findings)]
    )


def whole_sheet(plan: Plan, rules: RuleSet, theme: Theme) -> dict[str, bytes]:
    """All files of the sheet of a plan, by name."""
    from tickwright.material import gather_material
    from tickwright.publish import Style, make_sheet

    made = make_sheet(gather_material(plan, rules), Style(theme=theme))
    return {file.name: data.encode("utf-8") if isinstance(data, str) else data for file, data in made}


FORMATS: dict[str, Format] = {
    "sheet": Format("Sheet to print (PDF)", "-sheet.pdf", "application/pdf", "page", _sheet),
    "page": Format("Interactive page (HTML)", "-page.html", "text/html; charset=utf-8", "page", _page),
    "svg": Format("Picture (SVG)", ".svg", "image/svg+xml", "picture", lambda *asked: svg_text(_drawing(*asked))),
    "png": Format("Picture (PNG)", ".png", "image/png", "picture", lambda *asked: png_bytes(_drawing(*asked))),
    "vcd": Format(
        "Waveforms of a run (VCD)",
        ".vcd",
        "text/plain; charset=utf-8",
        "text",
        lambda plan, rules, look: vcd_text(_recording(plan, rules, look.acts).trace),
    ),
    "csv": Format(
        "Levels of a run (CSV)",
        ".csv",
        "text/csv; charset=utf-8",
        "text",
        lambda plan, rules, look: levels_csv(_recording(plan, rules, look.acts).trace),
    ),
    "bill": Format(
        "Bill of parts (CSV)",
        "-bill.csv",
        "text/csv; charset=utf-8",
        "text",
        lambda plan, _rules, _look: bill_csv(priced_bill(plan)),
    ),
    "gif": Format("Film of a run (GIF)", ".gif", "image/gif", "picture", _film("gif")),
    "mp4": Format("Film of a run (MP4)", ".mp4", "video/mp4", "film", _film("mp4")),
    "vtt": Format("Captions of the film (WebVTT)", ".vtt", "text/vtt; charset=utf-8", "text", _film("vtt")),
}
