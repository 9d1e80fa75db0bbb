"""Sheets: every example's is made whole; the PDF is the same each time, looks as looked at, takes texts as texts."""

from __future__ import annotations

import io
import json
import re
import tomllib
import xml.etree.ElementTree as ET
from dataclasses import replace
from decimal import Decimal
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest
import typst
from PIL import Image

from golden import hold_page_to
from pictures import cells_of
from printed import groups_on_page_1, groups_to_lay, words_of_page_1
from tickwright import load
from tickwright.errors import UsageError
from tickwright.material import Material, gather_material
from tickwright.plan import Plan, repeat
from tickwright.publish import Style, make_sheet, make_together, pdf_bytes, sheet_data, sheet_files
from tickwright.publish.canvas import svg_text
from tickwright.publish.raster import fonts
from tickwright.publish.sheet import filmed
from tickwright.publish.sheet_pictures import Pictures, sheet_charts
from tickwright.recording import Press, record

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parents[1] / "examples"
NASTY = '"Fähre" <script>alert(1)</script> & #panic("no") *b* $x$ @ref Паром Λ'


@cache
def material(name: str) -> Material:
    return gather_material(load(EXAMPLES / f"{name}.toml"))


def promises_in(file):
    """How many promises are written in a plan file: what each expectation wants, and each claim of its charts."""
    written = tomllib.loads(file.read_text(encoding="utf-8"))
    wishes = [key for one in written.get("expect", ()) for key in one if key not in ("trigger", "output", "within")]
    return len(wishes) + sum(len(chart["shows"]) for chart in written.get("chart", ()))


@pytest.mark.parametrize("name", sorted(path.stem for path in EXAMPLES.glob("*.toml")))
def test_the_sheet_of_every_example_is_made_whole(name, need_tool):
    style = Style()
    gathered = material(name)
    made = dict(make_sheet(gathered, style))
    files = sheet_files(gathered.plan, style)
    assert [file for file in files if file.certain] == [file for file in made if file.certain]
    assert set(made) <= set(files)
    for file, content in made.items():
        assert content, file.name
        if file.name.endswith(".svg"):
            ET.fromstring(content)
    pdf = next(content for file, content in made.items() if file.name == "sheet.pdf")
    assert pdf.startswith(b"%PDF-")
    assert groups_on_page_1(pdf, need_tool("pdftotext")) == groups_to_lay(gathered.plan)
    verdict = sheet_data(gathered)["verdict"]
    assert verdict["good"], verdict
    number = promises_in(EXAMPLES / f"{name}.toml")
    kept = {1: "The promise is kept.", 2: "Both promises are kept."}.get(number, f"All {number} promises are kept.")
    assert verdict["head"] == f"It does what it promises: {kept}"
    assert sheet_data(gathered)["kept"] == kept
    material.cache_clear()


def small() -> Material:
    return material("edge-detector")


def size(pdf: bytes) -> tuple[float, float]:
    """Width and height of the first page."""
    found = re.search(rb"/MediaBox ?\[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
    assert found
    return float(found[1]), float(found[2])


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_pdf_is_the_same_to_the_byte(paper):
    again = gather_material(load(EXAMPLES / "edge-detector.toml"))
    assert pdf_bytes(small(), paper) == pdf_bytes(again, paper)


def test_paper_is_as_large_as_asked_for():
    # A4 is 210 by 297 mm (ISO 216), letter 8.5 by 11 inches; a point is 1/72 inch.
    assert size(pdf_bytes(small(), "a4")) == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.01)
    assert size(pdf_bytes(small(), "letter")) == pytest.approx((8.5 * 72, 11 * 72), abs=0.01)
    with pytest.raises(UsageError, match='There is no paper "a3": use a4 or letter'):
        pdf_bytes(small(), "a3")


def pages_of(gathered):
    """The pages of a sheet as PNG."""
    data = json.dumps(sheet_data(gathered))
    template = files("tickwright.publish").joinpath("templates", "sheet.typ").read_bytes()
    return typst.compile(template, format="png", ppi=48, sys_inputs={"sheet": data}, font_paths=fonts(False))


def test_pages_are_as_they_were_looked_at():
    pages = pages_of(material("stacked-loop-3"))
    assert len(pages) >= 4
    for number, page in enumerate(pages, 1):
        hold_page_to(HERE / "golden" / "sheet" / f"stacked-loop-3-page-{number}.png", page)


def loops_in_a_row(name, number, apart):
    """An example so many times from north to south, its names those of the first."""
    row = repeat(load(EXAMPLES / f"{name}.toml"), "y", number, apart)
    first = [dict([*names.items()][:1]) for names in (row.triggers, row.outputs)]
    return replace(row, triggers=first[0], outputs=first[1], expectations=(), charts=())


def quay_lights():
    """Six lines of 27 cells beside each other, two layers: 324 parts."""
    line = "brww" + "rw" * 11 + "L"
    legend = {"#": "block", "b": "short-button", "r": "repeater east", "w": "wire", "L": "lamp"}
    rows = "/".join([line, "." * len(line)] * 6)
    floor = "/".join(["#" * len(line), "." * len(line)] * 6)
    return Plan(cells_of([floor, rows], legend), {"press": (0, 0, 1)}, {"lamp": (26, 0, 1)}, title="Quay lights")


def page_count(pdf):
    """How many pages a PDF has."""
    return len(re.findall(rb"/Type ?/Page\b", pdf))


@cache
def large(kind):
    """What is known of a plan of about 300 parts."""
    return gather_material(quay_lights() if kind == "wide" else loops_in_a_row("stacked-loop-4", 13, 2))


@pytest.mark.parametrize("kind", ["wide", "tall"])
def test_page_1_of_300_parts_is_enough_to_build_from_and_12_pages_are_all(kind, need_tool):
    plan = large(kind).plan
    assert len(plan.cells) >= 299
    pdf = pdf_bytes(large(kind))
    assert groups_on_page_1(pdf, need_tool("pdftotext")) == groups_to_lay(plan)
    assert page_count(pdf) <= 12


def test_page_1_of_a_placed_plan_shows_all_layers_and_its_places_are_told_overleaf(need_tool):
    plan = load(EXAMPLES / "netlists" / "lfsr4.toml")
    assert len(plan.cells) == 394
    pdf = pdf_bytes(gather_material(plan))
    page = words_of_page_1(pdf, need_tool("pdftotext"))
    assert [f"Layer {z}" in page for z in range(6)] == [True] * 6
    assert "105 × block" in page
    assert "Check as you go" in page
    assert page_count(pdf) <= 12


def test_many_pairs_make_at_most_12_pages_and_what_is_left_out_is_told():
    """The figures of one loop thirteen times over: 26 triggers, 117 promises, as of thirteen loops in one plan."""
    one = material("stacked-loop-3")
    own = [press for press in one.presses if press.own]
    presses = [press._replace(trigger=f"press-{number}") for number in range(13) for press in own]
    known = replace(one.dossier, answers=one.dossier.answers * 26, expectations=(one.dossier.expectations * 117)[:117])
    gathered = replace(one, dossier=known, presses=tuple(presses))
    data = sheet_data(gathered)
    assert len(data["charts"]) <= 8
    assert data["charts_note"].endswith("press-7-chart.svg to press-12-chart.svg.")
    assert len(data["promises"]) == 24
    assert data["promises_note"] == "And 93 more promises: tickwright check tells them all."
    assert len(data["measures"]["rows"]) == 24
    assert data["measures_note"].startswith(f"And {len(known.answers) - 24} more rows")
    assert page_count(pdf_bytes(gathered)) <= 12


def test_a_chart_of_many_lanes_leaves_out_those_at_which_nothing_changes():
    row = repeat(load(EXAMPLES / "edge-detector.toml"), "y", 6, 4)
    press = Press("press", None, True, record(row, trigger="press"))
    chart = sheet_charts(replace(small(), plan=row, presses=(press,), charts=()))["press-chart"]
    # Six copies have 18 names; one press changes its own three.
    assert "15 other triggers and outputs are left out: nothing changes there." in svg_text(chart)


def test_page_1_of_a_large_plan_is_as_it_was_looked_at():
    hold_page_to(HERE / "golden" / "sheet" / "thirteen-loops-page-1.png", pages_of(large("tall"))[0])


def test_a_title_of_any_letters_shows_as_it_is_and_injects_nothing():
    named = replace(small().plan, title=NASTY)
    gathered = replace(small(), plan=named)
    pdf = pdf_bytes(gathered)
    # The title stands in the metadata of the file, which is plain XML.
    assert "&quot;Fähre&quot; &lt;script&gt;".encode() in pdf or '"Fähre" &lt;script&gt;'.encode() in pdf
    assert b"#panic(" in pdf
    assert "Паром Λ".encode() in pdf
    assert sheet_data(gathered)["title"] == NASTY


def test_the_sheet_tells_what_it_was_made_from():
    data = sheet_data(material("stacked-loop-3"))
    steps = [step for layer in data["build"] for step in layer["steps"]]
    assert [step["number"] for step in steps] == list(range(1, len(steps) + 1))
    assert ("2 × comparator east", "x 3 to 4, y 0", "output to the east, back to the west") in [
        (step["part"], step["place"], step["hint"]) for step in steps
    ]
    assert data["bill"]["rows"][-1] == ["total", "19", "", "19"]
    assert ["press -> lamp", "one-shot", "0.1 s (1 tick)", "5.4 s (54 ticks)", "0.15 s (1.5 ticks)"] in [
        row[:5] for row in data["measures"]["rows"]
    ]
    assert [layer["z"] for layer in data["groups"]] == [0, 1, 2, 3]
    assert {row["part"] for row in data["take"]} >= {"comparator ≥", "wire", "lamp"}
    assert data["answer"] == ["One press lights the lamp for ", "5.4 s", ", 0.1 s after it."]
    assert data["checks"][-1] == ["when all is laid", "One press lights the lamp for 5.4 s, 0.1 s after it."]
    said = [
        *data["answer"],
        data["kept"],
        data["more"],
        *(row["text"] for one in data["groups"] for row in one["rows"]),
    ]
    assert "none" not in " ".join([*said, *(text for row in data["checks"] for text in row)])
    knobs = [["repeater at (1, 0, 1)", "delay 1", "1 to 4: 5.4 s (54 ticks)"]]  # later, not longer: fact 2 of rules.md
    assert data["knobs"][0] == {"head": "press → lamp", "rows": knobs}
    (lamp, _) = data["mistakes"]
    assert lamp["head"] == "press → lamp"
    assert any("wire" in row[0] for group in lamp["groups"] for row in group["rows"])


def test_prices_are_the_users_and_failures_are_not_hidden():
    plan = load(EXAMPLES / "edge-detector.toml")
    dear = gather_material(plan, prices=dict.fromkeys(plan.bill(), Decimal("0.5")))
    assert sheet_data(dear)["bill"]["rows"][-1] == ["total", str(len(plan.cells)), "", f"{len(plan.cells) / 2}"]
    assert sheet_data(dear)["bill_note"] == "Prices are your own."
    (wish, *_) = plan.expectations
    broken = gather_material(replace(plan, expectations=(replace(wish, hold_steps=7, within_steps=0),)))
    verdict = sheet_data(broken)["verdict"]
    assert not verdict["good"]
    assert verdict["head"].startswith("It does not do what it promises: 1 of ")
    assert any("FAILED" in line and "hold" in line for line in verdict["lines"])


def test_a_template_of_ones_own_takes_the_place_of_ours():
    own = "#set document(date: none)\n#let s = json(bytes(sys.inputs.sheet))\n#s.title"
    assert pdf_bytes(small(), template=own).startswith(b"%PDF-")
    with pytest.raises(UsageError, match=r"cannot be set: .*unclosed"):
        pdf_bytes(small(), template="#let x = (")


def test_several_plans_share_a_clock_and_two_a_page():
    one, other = material("edge-detector"), material("pulse-shortener")
    pair = {file.name: content for file, content in make_together([one, other], Style())}
    assert set(pair) == {"together-chart.svg", "together.html"}
    assert one.plan.title in pair["together-chart.svg"]
    assert other.plan.title in pair["together-chart.svg"]
    three = {file.name: content for file, content in make_together([one, other, one], Style())}
    assert set(three) == {"together-chart.svg"}
    assert f"{one.plan.title} (1)" in three["together-chart.svg"]
    assert f"{one.plan.title} (3)" in three["together-chart.svg"]


def test_each_finding_is_told_once_with_its_repair():
    found = sheet_data(material("older-wire-fade"))["findings"]
    assert len({finding["message"] for finding in found}) == len(found) == 2
    assert all(finding["repair"] for finding in found)


def test_the_film_of_what_never_rests_shows_half_a_minute():
    run = next(press.recording for press in material("torch-clock").presses if press.own)
    shown = filmed(run)
    assert shown.trace.steps == run.pressed_at_step + 600  # 30 s at 20 steps a second
    rests = next(press.recording for press in small().presses if press.own)
    assert filmed(rests) is rests


def test_a_layer_too_large_for_paper_comes_in_pieces():
    row = "b" + "rw" * 29 + "L"
    legend = {"#": "block", "b": "short-button", "r": "repeater east", "w": "wire", "L": "lamp"}
    wide = Plan(cells_of(["#" * 60, row], legend), {"press": (0, 0, 1)}, {"lamp": (59, 0, 1)})
    pictures = Pictures(replace(small(), plan=wide))
    assert [piece.alt.split(". ")[0] for piece in pictures.strips(1)] == [
        f"From above, layer 1, x {x} to {x + 29}" for x in (0, 30)
    ]
    assert 'data-cell="0,0,1"' in pictures.layer(1).svg
    assert 'data-cell="59,0,1"' in pictures.layer(1).svg  # the file of the layer stays whole


def test_words_longer_than_a_line_stay_on_the_paper():
    data = json.dumps(sheet_data(replace(small(), plan=replace(small().plan, title="Gangway" * 28))))
    template = files("tickwright.publish").joinpath("templates", "sheet.typ").read_bytes()
    pages = typst.compile(template, format="png", ppi=72, sys_inputs={"sheet": data}, font_paths=fonts(False))
    for data in pages:
        with Image.open(io.BytesIO(data)) as page:
            # The margin is 14 mm; at 72 pixels an inch the last 13 mm of 210 begin at 559.
            assert page.convert("L").crop((559, 0, *page.size)).getextrema()[0] > 250


def test_layers_that_do_not_fit_on_page_1_stay_on_the_paper():
    floors = [
        "/".join("".join("#" if (x * 7 + y * 5 + x * y * (z + 1)) % 3 else "." for x in range(25)) for y in range(21))
        for z in range(11)
    ]
    plan = Plan(cells_of(floors, {"#": "block"}), {}, {"lamp": next(iter(cells_of(floors[:1], {"#": "block"})))})
    data = json.dumps(sheet_data(replace(small(), plan=plan)))
    template = files("tickwright.publish").joinpath("templates", "sheet.typ").read_bytes()
    pages = typst.compile(template, format="png", ppi=72, sys_inputs={"sheet": data}, font_paths=fonts(False))
    assert len(pages) > 6
    with Image.open(io.BytesIO(pages[0])) as first:  # the first layers stand on page 1, down to its last fifth
        assert first.convert("L").crop((0, 500, first.width, 790)).getextrema()[0] < 200
    for data in pages:
        with Image.open(io.BytesIO(data)) as page:
            # The footer's words end above 820 of the 842 pixels down.
            assert page.convert("L").crop((0, 822, *page.size)).getextrema()[0] > 250
