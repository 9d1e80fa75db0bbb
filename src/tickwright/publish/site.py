"""A shelf of circuits as a site of files: a page of cards, a page for each circuit with its downloads, no requests."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING
from urllib.parse import quote

from tickwright.plan.files import dumps
from tickwright.publish.canvas import Drawing, svg_text
from tickwright.publish.chart import FULL_SPEED, timing_chart
from tickwright.publish.dossier_text import answer_of, parts_text
from tickwright.publish.flat import flat_drawing, lit_step
from tickwright.publish.isometric import isometric_drawing
from tickwright.publish.quiz import main_answer, main_sentences
from tickwright.publish.scene import WEB_FOLDER
from tickwright.publish.sheet import SheetFile, Style, sheet_files
from tickwright.publish.tokens import FONT_FILES, FONT_FOLDER, Theme, css_variables, font_face

if TYPE_CHECKING:
    from tickwright.material import Material

_ENDINGS: Mapping[Theme, str] = {"light": ".svg", "dark": "-dark.svg"}
_FIRST = ("build.html", "sheet.html", "sheet.pdf")  # what most people come for


def site_files(names: Sequence[str]) -> list[SheetFile]:
    """The files of a site of plans of these names, beside their sheets."""
    made = [
        SheetFile("index.html", "the page of cards"),
        SheetFile("style.css", "the looks of the pages"),
        *(SheetFile(f"{font}.woff2", "letters of the pages") for font in FONT_FILES),
    ]
    for name in names:
        made += [
            SheetFile(f"{name}/index.html", f"the page of {name}"),
            *(SheetFile(f"{name}/card{ending}", f"the picture on the card of {name}") for ending in _ENDINGS.values()),
            *(SheetFile(f"{name}/whole{ending}", f"the picture on the page of {name}") for ending in _ENDINGS.values()),
            *(SheetFile(f"{name}/run{ending}", f"the chart of {name}", certain=False) for ending in _ENDINGS.values()),
            SheetFile(f"{name}/{name}.toml", f"the plan {name}"),
        ]
    return made


def make_site(
    materials: Mapping[str, Material], style: Style, title: str = "Circuits", more: Sequence[SheetFile] = ()
) -> Iterator[tuple[SheetFile, str | bytes]]:
    """Make the pages of a site one after another; the sheet of each plan lies in the folder of its name.

    Every address in them is relative, so that the site works on any host of files, and from disk. `more` are files
    beside the page of cards that it links to.
    """
    content: dict[str, str | bytes] = {"index.html": _cards(materials, title, more), "style.css": _style()}
    content |= {f"{font}.woff2": (FONT_FOLDER / f"{font}.woff2").read_bytes() for font in FONT_FILES}
    for name, material in materials.items():
        pictures = dict(_pictures(material))
        content[f"{name}/index.html"] = _page(name, material, style, with_chart="run.svg" in pictures)
        content[f"{name}/{name}.toml"] = dumps(material.plan)
        content |= {f"{name}/{file}": svg_text(drawing) for file, drawing in pictures.items()}
    for file in site_files(list(materials)):
        if file.name in content:
            yield file, content[file.name]


def _style() -> str:
    light, dark = css_variables("light"), css_variables("dark")
    return (
        f"{font_face(embedded=False, folder='.')}\n:root{{color-scheme:light dark;{light}}}\n"
        f"@media (prefers-color-scheme: dark) {{ :root{{{dark}}} }}\n"
        + (WEB_FOLDER / "site.css").read_text(encoding="utf-8")
    )


def _html(title: str, body: str, up: str = "") -> str:
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer"><link rel="icon" href="data:,">'
        f'<title>{escape(title)}</title><link rel="stylesheet" href="{up}style.css"></head>\n'
        f"<body>{body}</body></html>\n"
    )


def _named(material: Material) -> str:
    return material.plan.title or "Untitled plan"


def _answer(material: Material) -> str:
    before, figure, after = (escape(text) for text in answer_of(material.dossier, material.charts)["answer"])
    return f'{before}<span class="figure">{figure}</span>{after}'


def _size(material: Material) -> str:
    wide, deep, high = material.plan.size
    return f"{parts_text(material.bill.number)}, {wide} × {deep} × {high} cells"


def _cards(materials: Mapping[str, Material], title: str, more: Sequence[SheetFile]) -> str:
    cards = "".join(
        f'<li><a href="{quote(name)}/index.html">{_shown(f"{quote(name)}/card", "")}'
        f"<strong>{escape(_named(material))}</strong>{_answer(material)}"
        f'<br><span class="soft">{_size(material)}</span></a></li>\n'
        for name, material in materials.items()
    )
    links = "".join(f'<li><a href="{quote(file.name)}">{escape(file.what)}</a></li>' for file in more)
    rest = f"<h2>All of them together</h2><ul>{links}</ul>" if links else ""
    return _html(
        title,
        f'<h1>{escape(title)}</h1>\n<ul class="cards">\n{cards}</ul>{rest}<p class="soft">{FULL_SPEED}</p>',
    )


def _page(name: str, material: Material, style: Style, *, with_chart: bool) -> str:
    told = answer_of(material.dossier, material.charts)
    why = "".join(f"<li>{escape(one.text)}</li>" for one in main_sentences(material)[1:])
    files = {file.name: file.what for file in sheet_files(material.plan, style) if file.certain}
    named = [*(one for one in _FIRST if one in files), *(one for one in files if one not in _FIRST)]
    downloads = "".join(f'<li><a href="{quote(one)}">{escape(files[one])}</a></li>' for one in named)
    chart = f"<figure>{_shown('run', 'Levels over time after one press')}</figure>" if with_chart else ""
    body = (
        f'<p><a href="../index.html">All circuits</a></p><h1>{escape(_named(material))}</h1>'
        f'<p class="answer">{_answer(material)}</p><p>{escape(told["kept"])} {escape(told["more"])}</p>'
        f'<p class="soft">{_size(material)}, rules {escape(material.rules.name)}</p>'
        f"<figure>{_shown('whole', 'Its layers, lifted off each other')}</figure>{chart}"
        + (f"<h2>Why</h2><ul>{why}</ul>" if why else "")
        + f'<h2>Take it with you</h2><ul><li><a href="{quote(name)}.toml" download>the plan file</a></li>'
        f"{downloads}</ul>"
        f'<p class="soft">{FULL_SPEED}</p>'
    )
    return _html(_named(material), body, "../")


def _shown(stem: str, words: str) -> str:
    """A picture in the colours that the reader's system asks for."""
    return (
        f'<picture><source srcset="{stem}{_ENDINGS["dark"]}" media="(prefers-color-scheme: dark)">'
        f'<img src="{stem}{_ENDINGS["light"]}" alt="{escape(words)}"></picture>'
    )


def _pictures(material: Material) -> Iterator[tuple[str, Drawing]]:
    """The pictures of one circuit: the flat view that shows most, the layers lifted, and one press, if there is one."""
    plan, rules, known = material.plan, material.rules, main_answer(material)
    own = [press for press in material.presses if press.own and press.recording.trace.names]
    named = [press for press in own if known is not None and press.trigger == known.measured.trigger]
    run = next((press.recording for press in [*named, *own]), None)
    step = lit_step(run, known.measured) if run is not None and known is not None else 0
    for theme, ending in _ENDINGS.items():
        yield f"card{ending}", flat_drawing(plan, rules, run, step, theme)[0]
        moment = run.moment(step) if run is not None else None
        yield f"whole{ending}", isometric_drawing(plan, rules, moment, theme, apart=None, bare=True)
        if run is not None:
            yield f"run{ending}", timing_chart({_named(material): run}, theme)
