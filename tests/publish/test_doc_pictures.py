"""The pictures in docs/ and README.md are those that runs make now."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from golden import hold_to
from tickwright import load
from tickwright.kinds import PARTS, Part
from tickwright.measurement import find_trigger, lap_table, length_map, measure
from tickwright.plan.setup import Setup
from tickwright.publish import (
    Drawing,
    isometric_drawing,
    lap_chart,
    layer_drawing,
    legend_drawing,
    length_chart,
    svg_text,
    timing_chart,
)
from tickwright.recording import Recording, record
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "docs" / "pictures"


@cache
def run_of(name: str) -> Recording:
    return record(load(ROOT / "examples" / f"{name}.toml"))


def loop(form: str) -> Drawing:
    recording = run_of("stacked-loop-3")
    plan, rules = recording.plan, recording.rules
    setup = Setup(plan, rules)
    press = find_trigger(setup, "press")
    if form == "chart":
        return timing_chart({plan.title: recording})
    if form == "laps":
        return lap_chart("press", lap_table(setup, press))
    if form == "lengths":
        least = {one.output: one.minimum_trigger_steps for one in measure(plan, "press", rules=rules)}
        return length_chart("press", length_map(setup, press, list(plan.outputs)), press.length_steps, least)
    if form == "apart":
        return isometric_drawing(plan, rules, recording.moment(18), "dark", apart=1.5)
    return isometric_drawing(plan, rules, recording.moment(18))


def shuttle_layer() -> Drawing:
    recording = run_of("shuttle")
    moving = next(step for step, stands in recording.scenes if any(one.posture == "moving" for one in stands.values()))
    return layer_drawing(recording.plan, recording.rules, 1, recording.moment(moving))


def bell() -> Drawing:
    plan = load(ROOT / "docs" / "tutorial" / "bell.toml")
    return isometric_drawing(plan, load_rules(), record(plan).moment(18))


def legend() -> Drawing:
    parts = []
    for kind in PARTS.values():
        facing = kind.default_direction or ("east" if "east" in kind.directions else None)
        parts.append(Part(kind.name, facing))
        parts += [Part(kind.name, facing, mode="difference")] if kind.name == "comparator" else []
    return legend_drawing(parts, load_rules())


DRAWN = {
    "stacked-loop-3.svg": lambda: loop(""),
    "stacked-loop-3-apart.svg": lambda: loop("apart"),
    "stacked-loop-3-chart.svg": lambda: loop("chart"),
    "stacked-loop-3-lengths.svg": lambda: loop("lengths"),
    "stacked-loop-3-laps.svg": lambda: loop("laps"),
    "shuttle-layer-1.svg": shuttle_layer,
    "legend.svg": legend,
    "tutorial-bell.svg": bell,
}


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_is_what_a_run_makes_now(name):
    hold_to(PICTURES / name, svg_text(DRAWN[name]()))


def test_every_picture_is_shown_and_has_words():
    pages = [*(ROOT / "docs").glob("*.md"), ROOT / "README.md"]
    shown = [
        pair
        for page in pages
        for pair in re.findall(r"!\[(.*?)\]\((?:docs/)?pictures/(.*?)\)", page.read_text("utf-8"))
    ]
    of_charts = {"chart-kept.svg", "chart-failed.svg"}  # held to runs by test_claim_bands.py
    of_boxes = {path.name for path in PICTURES.glob("atlas-*.svg")}  # held to their certificates by test_atlas.py
    assert {name for _, name in shown if name.endswith(".svg")} == set(DRAWN) | of_charts | of_boxes
    assert {name for _, name in shown} == {path.name for path in PICTURES.iterdir() if path.suffix != ".new"}
    assert all(words for words, _ in shown)


def test_the_page_lists_the_files_of_a_sheet(call, monkeypatch):
    monkeypatch.chdir(ROOT)
    command, listed = re.findall(r"```\n\$ tickwright (.*)\n([^`]*)```", (ROOT / "docs/sheets.md").read_text("utf-8"))[
        0
    ]
    assert call(*command.split())[:2] == (0, listed)


def test_the_page_tells_every_key_of_a_template():
    page = (ROOT / "docs/sheets.md").read_text("utf-8").split("### A template of your own")[1]
    template = (ROOT / "src/tickwright/publish/templates/sheet.typ").read_text("utf-8")
    used = set(re.findall(r"sheet\.([a-z_]+)", template)) - {"inputs", "typ"}
    assert used
    assert {key for key in used if f"`{key}`" not in page} == set()
