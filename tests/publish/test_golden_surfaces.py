"""Pictures of what is no sheet: films, slides, cards of a site, a claim not kept, a section, as they were looked at."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from golden import hold_page_to, hold_to
from tickwright.material import gather_material
from tickwright.plan import load, loads
from tickwright.publish import Style, make_site, svg_text
from tickwright.publish.claim_bands import claims_drawing
from tickwright.publish.drawing import section_drawing
from tickwright.publish.film import captions, schedule
from tickwright.publish.film.frames import Stage, Told, frame_drawing
from tickwright.publish.lesson import slides, slides_pdf
from tickwright.recording import record, record_charts
from tickwright.rules import load_rules

GOLDEN = Path(__file__).resolve().parent / "golden"
EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "flat-loop-2.toml"
SLIDE = "What goes round"


@pytest.fixture(scope="module", name="material")
def gathered():
    return gather_material(load(EXAMPLE))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_frame_of_a_film_is_as_it_was_looked_at(theme):
    run = record(load(EXAMPLE))
    clock = schedule([run])
    stage = Stage((run,), clock, tuple(captions([run], clock)), theme, "south-east")
    said = Told("Two comparators feed one another in a ring.", ((3, 0, 1), (3, 1, 1)), True)
    drawing = frame_drawing(stage, 30, told=said if theme == "dark" else None)
    hold_to(GOLDEN / f"film-frame-{theme}.svg", svg_text(drawing))


def test_a_slide_of_a_lesson_is_as_it_was_looked_at(material, need_tool):
    made = slides([material])
    number = str([slide.head for slide in made].index(SLIDE) + 1)
    asked = [need_tool("pdftoppm"), "-png", "-r", "36", "-f", number, "-l", number, "-"]
    done = subprocess.run(asked, input=slides_pdf(made, "A lesson"), check=True, capture_output=True)
    hold_page_to(GOLDEN / "lesson-slide.png", done.stdout)


def test_the_page_of_cards_is_as_it_was_looked_at(material):
    made = dict(make_site({"bell": material}, Style()))
    texts = {file.name: text for file, text in made.items() if isinstance(text, str)}
    hold_to(GOLDEN / "site-index.html", texts["index.html"])
    hold_to(GOLDEN / "site-card-dark.svg", texts["bell/card-dark.svg"])


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_chart_with_a_claim_that_is_not_kept_is_as_it_was_looked_at(theme):
    text = EXAMPLE.read_text(encoding="utf-8")
    kept, wanted = (f"lamp: on from press + 0.1 s for {hold}" for hold in ("2.6 s", "3.2 s"))
    assert text.count(kept) == 1
    (run,) = record_charts(loads(text.replace(kept, wanted)), load_rules())
    hold_to(GOLDEN / f"claims-not-kept-{theme}.svg", svg_text(claims_drawing(run, theme)))


def test_a_section_is_as_it_was_looked_at():
    plan = load(EXAMPLE.with_name("stacked-loop-4.toml"))
    drawing = section_drawing(plan, load_rules(), "y", 0, record(plan).moment(40), theme="dark")
    hold_to(GOLDEN / "section-dark.svg", svg_text(drawing))
