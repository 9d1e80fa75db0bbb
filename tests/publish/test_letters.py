"""Letters of titles: what our own fonts show, what the fonts of the machine show, and what is said of the rest."""

from __future__ import annotations

import io
import json
import os
import re
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest
import typst
from PIL import Image, ImageChops

from browser import chromium, opened
from conftest import need_tool
from tickwright import gather, load
from tickwright.material import Material, gather_material
from tickwright.plan import priced_bill
from tickwright.publish import Design, font_note, interactive_sheet, isometric_drawing, pdf_bytes, png_bytes, sheet_data
from tickwright.publish.canvas import Drawing, Group, words
from tickwright.publish.raster import fonts, letters_without_font, needs_other_fonts
from tickwright.recording import record_presses

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
FERRY, PLACE = "渡", "場"  # of the Japanese for ferry landing
NOWHERE = "\U0010fffd"  # for private use, in the last plane: no font of a system has it


@cache
def small() -> Material:
    return gather_material(load(EXAMPLES / "edge-detector.toml"))


def titled(title: str) -> Material:
    return replace(small(), plan=replace(small().plan, title=title))


def need_font(letters: str) -> None:
    """Skip the test where no font has these letters, or fail where TICKWRIGHT_REQUIRE_TOOLS is set."""
    lacking = letters_without_font(letters)
    if not lacking:
        return
    reason = f"no font of this machine has {' '.join(lacking)}"
    if os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail(f"{reason}, and TICKWRIGHT_REQUIRE_TOOLS says one must", pytrace=False)
    pytest.skip(reason)


def picture(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data)).convert("L")


def differ(one: bytes, other: bytes) -> bool:
    """Whether two pictures of one size show different things."""
    assert picture(one).size == picture(other).size
    return ImageChops.difference(picture(one), picture(other)).getbbox() is not None


def all_differ(shown: list[bytes]) -> bool:
    return all(differ(one, other) for number, one in enumerate(shown) for other in shown[:number])


def test_letters_that_our_fonts_lack_are_known():
    assert not needs_other_fonts(json.dumps(sheet_data(small()), ensure_ascii=False))
    assert not needs_other_fonts('"Fähre" <i> Паром Λ Bến đò')
    assert needs_other_fonts("渡し船")
    assert needs_other_fonts("עברית")


def test_what_no_font_has_is_told_with_what_to_do():
    assert letters_without_font(f"Gangway {NOWHERE}, Λ {NOWHERE}") == NOWHERE
    assert font_note("Fähre Паром Λ") == ""
    note = font_note(f"Gangway {NOWHERE}")
    assert note.startswith(f"no font of this machine has {NOWHERE}, which the title holds: ")
    assert "Install fonts that have them" in note
    many = "".join(map(chr, range(0x10FF00, 0x10FF20)))
    assert f"has {' '.join(many[:10])} and more, which" in font_note(many)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize(
    ("letter", "base"),
    [("\u1ebf", "e"), ("e\u0302\u0301", "e"), ("o\u0323\u0304", "o"), ("x\u0323\u0302", "x"), ("\u1ea3", "a")],
)
def test_marks_stand_over_their_letters_and_not_beside_them(letter, base, bold):
    def ink(text: str) -> tuple[int, int, int, int]:
        marks = (words(20, 30, text, 20, "#000000", bold=bold),)
        box = ImageChops.invert(picture(png_bytes(Drawing(80, 60, "#ffffff", "", "", (Group(marks),))))).getbbox()
        assert box
        return box

    left, top, right, bottom = ink(letter)
    alone = ink(base)
    assert bottom - top > 1.05 * (alone[3] - alone[1])  # the marks are there
    assert right - left < 1.3 * (alone[2] - alone[0])


def first_page(title: str) -> bytes:
    """The first page of the sheet of a plan with that title, as pixels; fonts as `pdf_bytes` takes them."""
    data = json.dumps(sheet_data(titled(title)), ensure_ascii=False)
    template = files("tickwright.publish").joinpath("templates", "sheet.typ").read_bytes()
    made = typst.compile(template, format="png", ppi=60, sys_inputs={"sheet": data}, font_paths=fonts(True))
    return made[0] if isinstance(made, list) else made


def families(pdf: bytes) -> set[bytes]:
    """The names of the fonts that a PDF brings along, without the tag of the subset and the cut."""
    return {re.sub(rb"-.*", b"", name) for name in re.findall(rb"/FontName/[A-Z]{6}\+([\w-]+)", pdf)}


def test_a_title_in_other_letters_shows_in_all_that_we_set():
    need_font(FERRY + PLACE)
    assert all_differ([first_page(letter) for letter in (FERRY, PLACE, NOWHERE)])
    pictures = [png_bytes(isometric_drawing(titled(title).plan, small().rules)) for title in (FERRY, PLACE, NOWHERE)]
    assert all_differ(pictures)
    # Beside letters whose marks our first font sets askew, too.
    mixed = [png_bytes(isometric_drawing(titled(f"Bến {one}").plan, small().rules)) for one in (FERRY, PLACE, NOWHERE)]
    assert all_differ(mixed)
    theirs, lacking = pdf_bytes(titled(FERRY)), pdf_bytes(titled(NOWHERE))
    assert families(lacking) >= {b"InterTabular"}
    assert families(theirs) > families(lacking)
    assert pdf_bytes(titled(FERRY)) == theirs
    assert "may look different where they are made on another" in font_note(FERRY)


def test_a_title_in_other_letters_shows_in_a_browser(tmp_path):
    need_font(FERRY + PLACE)
    plan = small().plan
    known = gather(plan, most_active_steps=1)
    presses, left_out = record_presses(plan, [answer.measured for answer in known.answers])
    with chromium(need_tool("chromium")) as browser:
        shown = []
        for number, title in enumerate((FERRY, PLACE, NOWHERE)):
            file = tmp_path / f"{number}.html"
            design = Design(known, presses, priced_bill(plan), left_out)
            file.write_text(interactive_sheet([design], title), encoding="utf-8")
            with opened(browser, file, viewport={"width": 900, "height": 700}) as seen:
                seen.page.wait_for_selector("html[data-ready]")
                shown.append(seen.page.screenshot(clip={"x": 0, "y": 0, "width": 300, "height": 45}))
        assert all_differ(shown)
