"""Sheets of plans that name no trigger or no output: all that can be said is, and what is missing is told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from browser import chromium, opened
from conftest import need_tool
from tickwright import gather, load
from tickwright.kinds import parse_part
from tickwright.material import gather_material
from tickwright.plan import save
from tickwright.publish import Style, dossier_tables, make_sheet, make_together, sheet_data, sheet_files

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def ring(*, outputs=True, triggers=False):
    """The ring of three torches without its lever: it runs by itself."""
    plan = load(EXAMPLES / "torch-clock.toml")
    cells = dict(plan.cells)
    if not triggers:
        del cells[plan.triggers["run"]]
    return replace(
        plan,
        cells=cells,
        triggers=plan.triggers if triggers else {},
        outputs=plan.outputs if outputs else {},
        expectations=(),
        charts=(),
    )


def test_a_clock_without_a_trigger_is_told_with_its_period():
    # An odd ring of n inverters of one tick each has a period of 2 n ticks: the ring-oscillator formula T = 2 N t.
    (found,) = gather(ring()).by_itself
    assert (found.output, found.kind) == ("beat", "clock")
    assert found.period_steps == 2 * 3 * 2
    assert found.on_steps == found.off_steps == (6, 6)
    (table,) = dossier_tables(gather(ring()))
    assert table.title == "By itself, from the start"
    assert table.rows == (("beat", "clock", "0 s (0 ticks)", "0.3 s (3 ticks)", "0.3 s (3 ticks)", "0.6 s (6 ticks)"),)


@pytest.mark.parametrize(
    ("kind", "cells", "first"),
    [
        ("latched", {(0, 0, 0): "power-block", (1, 0, 0): "lamp"}, 0),
        ("none", {(0, 0, 0): "block", (1, 0, 0): "lamp"}, None),
        ("latched", {(0, 0, 0): "block", (0, 0, 1): "torch", (1, 0, 1): "lamp"}, 0),
    ],
)
def test_what_else_an_output_may_do_by_itself(kind, cells, first):
    plan = replace(ring(), cells={cell: parse_part(text) for cell, text in cells.items()}, outputs={"lamp": max(cells)})
    (found,) = gather(plan).by_itself
    assert (found.kind, found.first_on_step, found.period_steps) == (kind, first, None)


@pytest.mark.parametrize(("outputs", "triggers"), [(True, False), (False, False), (False, True)])
def test_the_sheet_is_made_and_says_what_is_missing(outputs, triggers):
    plan = ring(outputs=outputs, triggers=triggers)
    gathered = gather_material(plan)
    made = {file.name: content for file, content in make_sheet(gathered, Style())}
    certain = {file.name for file in sheet_files(plan, Style()) if file.certain}
    assert certain <= set(made)
    data = sheet_data(gathered)
    lines = " ".join(data["verdict"]["lines"])
    for name, there in (("output", outputs), ("trigger", triggers)):
        assert (f"The plan names no {name}" in lines) is not there
        assert (f"The plan names no {name}" in " ".join(made["outline.txt"].split())) is not there
    assert data["charts_head"] == ("What a press does" if triggers else "What it does by itself")
    assert len(data["charts"]) == (outputs or triggers)
    assert "no press is measured to tell it by" in data["findings_note"]
    assert ("run-chart.svg" in made) is (outputs or triggers)  # the trigger is called run, and so is a run without one
    if outputs:
        assert "0 is the start; nothing is pressed." in made["run-chart.svg"]
        assert "then goes on: on 0.3 s (3 ticks), off 0.3 s (3 ticks)" in " ".join(made["outline.txt"].split())


def test_a_clock_stands_beside_what_is_pressed():
    pressed = gather_material(load(EXAMPLES / "edge-detector.toml"))
    made = {file.name: content for file, content in make_together([gather_material(ring()), pressed], Style())}
    assert "0 is the press, or the start where nothing is pressed." in made["together-chart.svg"]
    nameless = gather_material(ring(outputs=False))
    made = {file.name for file, _ in make_together([nameless, nameless], Style())}
    assert made == {"together.html"}


def test_the_command_tells_it_too(call, tmp_path):
    save(ring(), tmp_path / "ring.toml")
    code, out, _ = call("sheet", tmp_path / "ring.toml", "-o", tmp_path / "out", "--json")
    (note,) = json.loads(out)["notes"]
    assert code == 0
    assert "To have presses measured, name one under [triggers]." in note
    code, out, _ = call("measure", tmp_path / "ring.toml", "--full", "--json")
    assert code == 0
    assert json.loads(out)["by_itself"][0]["period_steps"] == 12
    code, _, err = call("measure", tmp_path / "ring.toml")
    assert code == 2
    assert "The plan names no trigger: add one under [triggers]" in err


def test_the_interactive_page_runs_it_from_the_start(tmp_path):
    file = tmp_path / "sheet.html"
    made = {file.name: content for file, content in make_sheet(gather_material(ring()), Style())}
    file.write_text(made["sheet.html"], encoding="utf-8")
    with chromium(need_tool("chromium")) as browser, opened(browser, file) as seen:
        page = seen.page
        page.wait_for_selector("html[data-ready]")
        assert page.locator("figure select").first.inner_text().strip() == "nothing"
        page.evaluate("""() => {
            const time = document.getElementById("time");
            time.value = "16";
            time.dispatchEvent(new Event("input"));
        }""")
        assert page.locator("#clock").inner_text() == "0.8 s from the start (8 ticks)"
        assert page.locator(".shown li").all_inner_texts() == ["beat 15"]
        assert seen.complaints == []
