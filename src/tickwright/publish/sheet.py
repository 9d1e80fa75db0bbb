"""The whole sheet of a plan as files: pictures, charts, pages, tables and, if asked for, films."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from tickwright.extras import without_extra
from tickwright.plan.model import Plan
from tickwright.publish.canvas import svg_text, told_apart
from tickwright.publish.chart import Band, timing_chart
from tickwright.publish.claim_bands import run_bands
from tickwright.publish.guide import guided_page
from tickwright.publish.isometric import CORNERS
from tickwright.publish.legend import legend_drawing
from tickwright.publish.model import glb_bytes
from tickwright.publish.pdf import pdf_bytes
from tickwright.publish.sheet_pictures import UNPRESSED, Pictures
from tickwright.publish.tables import bill_csv, levels_csv
from tickwright.publish.tokens import Theme
from tickwright.publish.waveform import vcd_text

if TYPE_CHECKING:
    from tickwright.material import Material
    from tickwright.publish.film import Film
    from tickwright.recording import Recording

FILMED_STEPS = 600  # from the press, of what never rests
Progress = Callable[[int, int], None]


class Style(NamedTuple):
    """How sheets are to look: the paper of the PDF, its template (None: ours), the colours, whether with films."""

    paper: str = "a4"
    template: str | None = None
    theme: Theme = "light"
    film: bool = False


class SheetFile(NamedTuple):
    """One file of a sheet: its name and what it is; not `certain` is one that is left out if it would be empty."""

    name: str
    what: str
    certain: bool = True


def sheet_files(plan: Plan, style: Style) -> list[SheetFile]:
    """The files that the sheet of a plan has, known without a run; no interactive page without its extra."""
    files = [
        SheetFile("sheet.pdf", "the sheet to print"),
        *_pages("sheet.html", "the interactive page"),
        SheetFile("build.html", "the guided build, for a phone"),
        *(SheetFile(f"picture-{corner}.svg", f"the whole from above the {corner} corner") for corner in CORNERS),
        *(SheetFile(f"layer-{z}.svg", f"layer {z} from above") for z in range(plan.size[2])),
        SheetFile("legend.svg", "what each part is drawn as"),
    ]
    for name in plan.triggers:
        files += [
            SheetFile(f"{name}-chart.svg", f"levels over time after {name}"),
            SheetFile(f"{name}-lengths.svg", f"lengths of {name} and their holds", certain=False),
            SheetFile(f"{name}-laps.svg", f"levels at the comparators after {name}", certain=False),
        ]
    if not plan.triggers:
        files.append(SheetFile(f"{UNPRESSED}-chart.svg", "levels over time from the start", bool(plan.outputs)))
    which = "after the first press" if plan.triggers else "from the start"
    files += [
        SheetFile(f"claims-{number}.svg", f'the chart "{chart.name}" with what was seen')
        for number, chart in enumerate(plan.charts, 1)
    ]
    files += [
        SheetFile("bill.csv", "the bill of parts"),
        SheetFile("levels.csv", f"levels of triggers and outputs {which}"),
        SheetFile("levels.vcd", "the same as waveforms"),
        SheetFile("model.glb", "a model for 3D programs, with that run"),
        SheetFile("outline.txt", "the outline of a talk"),
    ]
    if style.film:
        filmed = "a film of the first press" if plan.triggers else "a film of a run from the start"
        files += film_files("film", f'a film of the chart "{plan.charts[0].name}"' if plan.charts else filmed)
    return files


def _pages(name: str, what: str) -> list[SheetFile]:
    """The interactive page, where there is what shows it in 3D."""
    return [] if without_extra("workbench") else [SheetFile(name, what)]


def film_files(stem: str, what: str) -> list[SheetFile]:
    """The files of a film."""
    return [
        SheetFile(f"{stem}.mp4", what),
        SheetFile(f"{stem}.gif", "the same film"),
        SheetFile(f"{stem}.vtt", "its captions as WebVTT"),
        SheetFile(f"{stem}.srt", "its captions as SRT"),
        SheetFile(f"{stem}-storyboard.html", "a still and its caption for each thing that happens"),
    ]


def make_sheet(
    material: Material, style: Style, progress: Progress | None = None, notes: list[str] | None = None
) -> Iterator[tuple[SheetFile, str | bytes]]:
    """Make the files of a sheet one after another, those left out that would be empty.

    `progress(done, all)` is told of the pictures of the film; what was done about its flashing is added to `notes`.
    """
    maker = _Maker(material, style, progress, [] if notes is None else notes)
    for file in sheet_files(material.plan, style):
        content = maker.content(file.name)
        if content is not None:
            yield file, content


class _Maker:
    """Makes files by name; what several of them need is made once."""

    def __init__(self, material: Material, style: Style, progress: Progress | None, notes: list[str]) -> None:
        self.material = material
        self.style = style
        self.progress = progress
        self.notes = notes
        self.pictures = Pictures(material, style.theme)

    @cached_property
    def film(self) -> Film:
        if self.material.charts:
            run = self.material.charts[0]
            return _film([run.recording], self.style, self.progress, self.notes, [run_bands(run)])
        own = next(press.recording for press in self.material.presses if press.own)
        return _film([own], self.style, self.progress, self.notes)

    def content(self, name: str) -> str | bytes | None:
        """What is in the file of that name; None if it would be empty."""
        stem, _, suffix = name.rpartition(".")
        if suffix == "svg":
            return self._picture(stem)
        if stem in ("film", "film-storyboard"):
            return film_content(self.film, self.material.plan.title, suffix)
        return self._page(name)

    def _picture(self, stem: str) -> str | None:
        plan, rules, theme = self.material.plan, self.material.rules, self.style.theme
        kind, _, which = stem.partition("-")
        if stem == "legend":
            return svg_text(legend_drawing(plan.cells.values(), rules, theme))
        if kind == "picture" and which in CORNERS:
            return self.pictures.whole(which).svg
        if kind == "layer" and which.isdigit():
            return self.pictures.layer(int(which)).svg
        chart = self.pictures.charts.get(stem)
        return chart.svg if chart is not None else None

    def _page(self, name: str) -> str | bytes:
        material = self.material
        own = next(press.recording for press in material.presses if press.own)
        if name == "sheet.pdf":
            light = self.pictures if self.style.theme == "light" else None
            return pdf_bytes(material, self.style.paper, self.style.template, light)
        if name == "sheet.html":
            return interactive([material])
        if name == "build.html":
            return guided_page(material)
        if name == "bill.csv":
            return bill_csv(material.bill)
        if name == "levels.csv":
            return levels_csv(own.trace)
        if name == "levels.vcd":
            return vcd_text(own.trace)
        if name == "model.glb":
            return glb_bytes(own)
        from tickwright.publish.film import talk_outline

        return talk_outline(material.dossier, material.bill, self.film.captions if self.style.film else ())


def filmed(run: Recording) -> Recording:
    """What the film of a sheet shows of a run: of what never rests half a minute from the press."""
    return run if run.rested else run.until((run.pressed_at_step or 0) + FILMED_STEPS)


def _film(
    runs: Iterable[Recording],
    style: Style,
    progress: Progress | None,
    notes: list[str],
    bands: Sequence[Mapping[str, Sequence[Band]]] = (),
) -> Film:
    """The film of runs, with what is wanted of each, and what is to be told of it."""
    from tickwright.publish.film import make_film

    film = make_film([filmed(run) for run in runs], theme=style.theme, progress=progress, bands=bands)
    notes += [film.note] if film.note else []
    return film


def film_content(film: Film, title: str, suffix: str) -> str | bytes:
    """What is in the file of a film with that suffix; "html" is its storyboard."""
    from tickwright.publish.film import gif_bytes, mp4_bytes, srt_text, storyboard_page, vtt_text

    if suffix == "html":
        return storyboard_page(film, title)
    if suffix in ("vtt", "srt"):
        return (vtt_text if suffix == "vtt" else srt_text)(film.captions)
    return (gif_bytes if suffix == "gif" else mp4_bytes)(film.shots)


def interactive(materials: Sequence[Material]) -> str:
    """The interactive page of one design, or of two side by side."""
    from tickwright.publish.interactive import Design, interactive_sheet

    return interactive_sheet(
        [
            Design(one.dossier, one.presses, one.bill, one.unrecorded, one.diagnosis.findings, one.charts, one.why)
            for one in materials
        ]
    )


def together_files(count: int, film: bool) -> list[SheetFile]:
    """The files that several plans share."""
    films = film_files("together", "a film of all designs on one clock") if film else []
    pair = _pages("together.html", "both on one interactive page, in step") if count == 2 else []
    return [SheetFile("together-chart.svg", "all designs on one clock"), *pair, *films]


def make_together(
    materials: Sequence[Material], style: Style, progress: Progress | None = None, notes: list[str] | None = None
) -> Iterator[tuple[SheetFile, str | bytes]]:
    """Make the files that several plans share: the first press of each on one clock; for two an interactive page.

    `progress` and `notes` as for `make_sheet`.
    """
    chart, *others = together_files(len(materials), style.film)
    names = told_apart([one.plan.title for one in materials])
    own = (next(press.recording for press in one.presses if press.own) for one in materials)
    runs = dict(zip(names, own, strict=True))
    if any(run.trace.names for run in runs.values()):
        yield chart, svg_text(timing_chart(runs, style.theme))
    film = None
    for file in others:
        if file.name == "together.html":
            yield file, interactive(materials)
            continue
        film = film or _film(runs.values(), style, progress, [] if notes is None else notes)
        yield file, film_content(film, " and ".join(runs), file.name.rpartition(".")[2])


def lesson_files(count: int) -> list[SheetFile]:
    """The files of a lesson about so many plans; films only where their extra is installed."""
    made = [SheetFile("lesson.pdf", "the slides of the lesson"), SheetFile("lesson.txt", "its outline, with minutes")]
    if without_extra("film"):
        return made
    for number in range(1, count + 1):
        stem = "lesson" if count == 1 else f"lesson-{number}"
        made += [
            SheetFile(
                f"{stem}.mp4", "a film that says why" if count == 1 else f"a film of plan {number} that says why"
            ),
            SheetFile(f"{stem}.vtt", "its captions as WebVTT"),
            SheetFile(f"{stem}.srt", "its captions as SRT"),
        ]
    return made


def make_lesson(
    materials: Sequence[Material], style: Style, progress: Progress | None = None, notes: list[str] | None = None
) -> Iterator[tuple[SheetFile, str | bytes]]:
    """Make the files of a lesson about these plans; those of films without which there is nothing to show left out.

    `progress` and `notes` as for `make_sheet`.
    """
    from tickwright.publish.film import mp4_bytes, spoken_film, srt_text, vtt_text
    from tickwright.publish.lesson import cues_of, film_speed, filmed_run, outline_text, slides, slides_pdf

    slide_file, outline_file, *film_rows = lesson_files(len(materials))
    films: list[Film | None] = []
    for material in materials if film_rows else ():
        run = filmed_run(material)
        cues = cues_of(material, filmed(run)) if run is not None else []
        if run is None or not cues:
            films.append(None)
            continue
        film = spoken_film(filmed(run), cues, style.theme, progress, film_speed(run))
        films.append(film)
        if film.note and notes is not None:
            notes.append(film.note)
    seconds = [film.clock.seconds if film is not None else 0.0 for film in films]
    title = "Lesson: " + ", ".join(told_apart([one.plan.title or "Untitled plan" for one in materials]))
    yield slide_file, slides_pdf(slides(materials, seconds), title)
    yield outline_file, outline_text(materials, [film.captions if film is not None else () for film in films], seconds)
    for number, made in enumerate(films):
        if made is not None:
            mp4, vtt, srt = film_rows[3 * number : 3 * number + 3]
            yield from ((mp4, mp4_bytes(made.shots)), (vtt, vtt_text(made.captions)), (srt, srt_text(made.captions)))
