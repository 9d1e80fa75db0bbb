"""The 3D component: the data it is given, and what it draws in real Chromium."""

from __future__ import annotations

import io
import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from browser import chromium, eventually, opened
from conftest import need_tool
from pictures import cells_of
from tickwright import load, loads
from tickwright.errors import UsageError
from tickwright.plan.model import Plan
from tickwright.publish import scene
from tickwright.publish.scene import NumberedStands, inlined, packed_changes, scene_data, three_script
from tickwright.recording import record
from tickwright.rules import load_rules

STANDARD = load_rules("standard")
ROOT = Path(__file__).resolve().parents[2]
KEY = {"#": "block", "w": "wire", "L": "lamp", "o": "insulator"}
PAGE = """<!doctype html><meta charset="utf-8"><title>scene</title>
<style>html, body {{ margin: 0; height: 100% }} #view {{ width: 100%; height: 100% }}</style><div id="view"></div>
<script type="module">
{three}
{own}
const data = {data};
Object.assign(window, {{ unpackChanges, levelOf }});
window.picked = [];
window.view = mountScene(document.getElementById("view"), data, {{
  ...THREE_BUNDLE, theme: "light", numbers: false, onPick: (cell) => window.picked.push(cell),
}});
</script>"""


def drawn(*layers):
    return Plan(cells_of(layers, KEY))


def page_of(data):
    own = inlined("mesh.js", "runs.js", "scene.js")
    return PAGE.format(three=three_script(), own=own, data=json.dumps(data))


@pytest.fixture(scope="module", name="browser")
def browser_fixture():
    with chromium(need_tool("chromium")) as browser:
        yield browser


def test_every_moment_of_a_run_with_pistons_has_its_configuration():
    plan = loads("""format = "tickwright plan 1"
    legend = {"#" = "block", v = "lever", A = "piston east", "-" = "insulator"}
    layer = [{rows = "##"}, {rows = "vA#."}]
    triggers = {throw = [0, 0, 1]}
    outputs = {ram = [1, 0, 1]}""")
    scenes = [stands for _, stands in record(plan).scenes]
    data = scene_data(plan, STANDARD, scenes)
    # By hand: at rest; the arm out and the block on its way from (2, 0, 1) to (3, 0, 1); the block landed.
    assert data["cells"] == [[0, 0, 0], [1, 0, 0], [0, 0, 1], [1, 0, 1], [2, 0, 1], [3, 0, 1]]
    held = [{row[0]: data["parts"][row[2]] for row in rows} for rows in data["configurations"]]
    # All but the first hold only what differs from it.
    assert [sorted(rows) for rows in held] == [[0, 1, 2, 3, 4], [3, 4, 5], [3, 4, 5]]
    assert held[0][4] == {"text": "block", "kind": "block"}
    assert [rows[3]["posture"] for rows in held[1:]] == ["extended", "extended"]
    assert [rows[4]["posture"] for rows in held[1:]] == ["its arm", "its arm"]
    assert [rows[5].get("posture") for rows in held[1:]] == ["on the move", None]


@pytest.mark.parametrize("name", ["shuttle", "shuttle-clock", "drain-timer"])
def test_a_configuration_is_drawn_after_others_as_it_is_alone(name):
    plan = load(ROOT / f"examples/{name}.toml")
    recording = record(plan, steps=400)
    numbered = NumberedStands(recording.plan)
    numbers = [numbered.number(stands) for _, stands in recording.scenes]
    assert numbers[0] == 0
    data = scene_data(recording.plan, STANDARD, numbered.all)
    first = {row[0]: row for row in data["configurations"][0]}
    for rows, stands in zip(data["configurations"][1:], numbered.all[1:], strict=True):
        now = {**first, **{row[0]: row for row in rows}}
        found = {tuple(data["cells"][cell]): row for cell, row in now.items() if len(row) > 1}
        alone = scene_data(recording.plan, STANDARD, [stands])
        expected = {tuple(alone["cells"][row[0]]): row for row in alone["configurations"][0]}
        assert found.keys() == expected.keys()
        for cell, row in found.items():
            assert data["solids"][row[1]] == alone["solids"][expected[cell][1]], cell
            assert data["parts"][row[2]] == alone["parts"][expected[cell][2]], cell


def test_three_comes_with_its_notice_and_without_anything_to_load():
    text = three_script()
    assert "Three.js Authors" in text[:200]
    assert "SPDX-License-Identifier: MIT" in text[:200]
    assert "Permission is hereby granted" in text[:1500]
    assert not any(line.startswith(("import ", "export ")) for line in text.splitlines())


@pytest.mark.parametrize("bundle", [None, "const t = 1;", "export{a as THREE};</script>"])
def test_a_three_of_another_form_is_refused_with_what_to_do(tmp_path, monkeypatch, bundle):
    if bundle is not None:
        folder = tmp_path / "elements" / "scene" / "dist"
        folder.mkdir(parents=True)
        (folder / "index.js").write_text(bundle, encoding="utf-8")
    monkeypatch.setattr(scene, "find_spec", lambda _: SimpleNamespace(submodule_search_locations=[str(tmp_path)]))
    three_script.cache_clear()
    with pytest.raises(UsageError, match="has a form that is not known: install a NiceGUI"):
        three_script()
    three_script.cache_clear()


def test_changes_come_out_as_they_went_in(browser, tmp_path):
    shown = {0: ((0, 0), (3, 15), (300, 0)), 200: ((0, 7), (3, 1727)), 5: ((70_000, 3),)}
    (tmp_path / "page.html").write_text(page_of(scene_data(drawn("#"), STANDARD)), encoding="utf-8")
    with opened(browser, tmp_path / "page.html") as seen:
        entries = seen.page.evaluate(
            "async (text) => (await unpackChanges(text)).map((e) => [e.step, [...e.cells], [...e.values]])",
            packed_changes(shown),
        )
    assert entries == [
        [0, [0, 200], [0, 7]],
        [3, [0, 200], [15, 1727]],
        [300, [0], [0]],
        [70_000, [5], [3]],
    ]


def test_the_view_reads_containers_as_the_rules_do(browser, tmp_path):
    """Source: rules.md, Items: 0 if empty, else floor(1 + 14 × items ÷ (slots × 64))."""
    (tmp_path / "page.html").write_text(page_of(scene_data(drawn("#"), STANDARD)), encoding="utf-8")
    counts = [0, 1, 22, 23, 45, 46, 160, 319, 320]
    with opened(browser, tmp_path / "page.html") as seen:
        found = seen.page.evaluate("(counts) => counts.map((count) => levelOf(count, 320, 15))", counts)
    assert found == [0, 1, 1, 2, 2, 3, 8, 14, 15]


def colours(page):
    """How many pixels have each colour, of a screenshot."""
    from PIL import Image

    with Image.open(io.BytesIO(page.screenshot())) as picture:
        counts = picture.convert("RGB").getcolors(10_000_000)
    return {"#{:02x}{:02x}{:02x}".format(*colour): count for count, colour in counts}


def test_the_scene_draws_levels_picks_cells_and_hides_what_cannot_be_seen(browser, tmp_path):
    # A lamp in the west and an insulator in the east, side by side.
    data = scene_data(drawn("Lo"), STANDARD)
    (tmp_path / "page.html").write_text(page_of(data), encoding="utf-8")
    amber, off = data["palette"]["light"]["amber"], data["palette"]["light"]["level-0"]
    with opened(browser, tmp_path / "page.html", viewport={"width": 600, "height": 300}) as seen:
        page = seen.page
        page.evaluate("view.lookFrom('above')")
        # The lamp's disc, seen from above.
        dark = eventually(lambda: colours(page), lambda found: found.get(off, 0) > 4_000)
        assert amber not in dark
        page.evaluate("view.setLevels([15, 0])")
        lit = eventually(lambda: colours(page), lambda found: found.get(amber, 0) > 4_000)
        assert lit[off] < dark[off] - 3_000  # the disc and its cross

        # The plan is 2 cells wide, so the middle of the west cell is left of the middle of the page.
        page.mouse.click(200, 150)
        page.mouse.click(400, 150)
        page.mouse.click(5, 5)
        assert page.evaluate("picked") == [0, 1, None]

        # Keys: the first cell, its neighbour in the east, nothing farther, and back.
        page.evaluate("picked.length = 0")
        page.focus("canvas")
        for key in ("ArrowRight", "ArrowRight", "ArrowRight", "ArrowLeft"):
            page.keyboard.press(key)
        assert page.evaluate("picked") == [0, 1, 1, 0]

        before = page.evaluate("view.stance()")
        page.keyboard.press("Shift+ArrowLeft")
        assert page.evaluate("view.stance()")["around"] != before["around"]
        assert seen.complaints == []


def test_an_untouched_view_shows_all_in_its_new_room(browser, tmp_path):
    (tmp_path / "page.html").write_text(page_of(scene_data(drawn("L" * 12), STANDARD)), encoding="utf-8")
    with opened(browser, tmp_path / "page.html", viewport={"width": 900, "height": 300}) as seen:
        page = seen.page

        def zoom():
            return page.evaluate("view.stance().zoom")

        wide = zoom()
        page.set_viewport_size({"width": 300, "height": 300})
        narrow = eventually(zoom, lambda now: now != wide)
        assert narrow < wide
        page.evaluate("view.zoom(2)")
        page.set_viewport_size({"width": 900, "height": 300})
        eventually(lambda: page.evaluate("view.canvas.clientWidth"), lambda width: width == 900)
        assert zoom() == 2 * narrow  # what somebody has set stays


def test_sides_between_full_cells_are_not_drawn(browser, tmp_path):
    # Two blocks side by side show 10 of 12 sides; a cube of 3 x 3 x 3 its 54 outer ones. A side is two triangles.
    cube = drawn(*["###/###/###"] * 3)
    for name, plan, sides in (("pair", drawn("##"), 10), ("cube", cube, 54), ("apart", drawn("#.#"), 12)):
        file = tmp_path / f"{name}.html"
        file.write_text(page_of(scene_data(plan, STANDARD)), encoding="utf-8")
        with opened(browser, file) as seen:
            assert seen.page.evaluate("view.triangles()") == 2 * sides, name
            if name == "cube":
                seen.page.evaluate("view.setLayer(0)")  # cut open: the lowest layer alone, all its top to be seen
                assert seen.page.evaluate("view.triangles()") == 2 * (9 + 9 + 12)
            assert seen.complaints == []
