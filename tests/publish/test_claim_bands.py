"""What charts want as bands over the lanes, and the drawn charts of docs/charts.md, which runs make now."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from golden import hold_to
from tickwright import load
from tickwright.charts import ClaimVerdict
from tickwright.material import gather_material
from tickwright.publish import bands_of_claims, claims_drawing, run_bands, sheet_data, svg_text
from tickwright.publish.film import schedule
from tickwright.publish.film.frames import Stage, frame_drawing
from tickwright.publish.sheet import interactive
from tickwright.recording import record_chart

ROOT = Path(__file__).resolve().parents[2]


def drawn(plan):
    return svg_text(claims_drawing(record_chart(plan)))


def test_the_drawn_charts_of_the_page(failing):
    hold_to(ROOT / "docs/pictures/chart-kept.svg", drawn(load(ROOT / "examples/gate-and-bell.toml")))
    hold_to(ROOT / "docs/pictures/chart-failed.svg", drawn(failing))


def bands(wanted, seen, passed=False):
    claim = ClaimVerdict("lamp", "lamp: ...", passed, tuple(wanted), tuple(seen))
    return [(one.start, one.stop, one.text, one.missing) for one in bands_of_claims([claim], 100).get("lamp", [])]


def test_bands_tell_the_difference():
    assert bands([(0, 20)], [(0, 20)], True) == [(0, 20, "wanted 1 s", "")]
    assert bands([(0, 20)], []) == [(0, 20, "wanted 1 s", "missing")]
    assert bands([(10, 30)], [(4, 30)]) == [(10, 30, "wanted 1 s, begins 0.3 s early", "")]
    assert bands([(10, 30)], [(10, 20)]) == [(10, 30, "wanted 1 s", "0.5 s short")]
    assert bands([(10, 30)], [(10, None)]) == [(10, 30, "wanted 1 s, too long", "")]
    assert bands([(10, None)], [(10, 60)]) == [(10, 100, "wanted for good", "2 s short")]


@pytest.fixture(name="failing", scope="module")
def a_gate_that_goes_too_soon():
    plan = load(ROOT / "examples/gate-and-bell.toml")
    longer = tuple(text.replace("for 1.4 s", "for 2 s") for text in plan.charts[0].shows)
    return replace(plan, charts=(replace(plan.charts[0], shows=longer),))


def test_sheet_and_page_show_the_same_picture_of_a_chart(failing):
    run = record_chart(failing)
    material = replace(gather_material(replace(failing, charts=())), plan=failing, charts=(run,))
    data = sheet_data(material)
    assert data["charts"][0]["svg"] == svg_text(claims_drawing(run))
    assert [(row["claim"].partition(":")[0], row["passed"]) for row in data["charts"][0]["claims"]] == [
        ("gate", False),
        ("bell", True),
    ]
    assert data["charts"][1]["claims"] == []
    page = interactive([material])
    told = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page)[1])
    chart = told["designs"][0]["charts"][0]
    assert "0.6 s short" in chart["light"]
    assert "0.6 s short" in chart["dark"]
    assert chart["claims"][0]["detail"].endswith("off at 1.9 s instead of 2.5 s, 12 steps early")


def test_a_film_has_the_bands_behind_its_lanes(failing):
    run = record_chart(failing)
    clock = schedule([run.recording])
    stage = Stage((run.recording,), clock, (), "light", "south-east", (run_bands(run),))
    texts = [mark.text for group in frame_drawing(stage, 38).groups for mark in group.marks if mark.form == "text"]
    assert {"wanted 2 s", "0.6 s short", "wanted 0.3 s"} <= set(texts)
    bare = frame_drawing(stage._replace(bands=()), 38)
    assert frame_drawing(stage, 38).height == bare.height + 2 * 22  # room for the brackets of two lanes
